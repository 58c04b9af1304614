"""The server of ``view``: one page, its stream of news, and, where it may edit, its questions. This machine alone."""
from __future__ import annotations

import contextlib
import json
import socket
import threading
from collections.abc import Callable, Mapping, Sequence
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import PurePath
from typing import Any

from chassis_describe.errors import UsageError
from chassis_describe.page.admission import host_allowed, new_secret, origin_allowed, same_secret, site_allowed
from chassis_describe.page.document import document
from chassis_describe.page.editing import Editing, Refused
from chassis_describe.page.questions import MOST_BYTES, BadMessage, question
from chassis_describe.page.watching import Watching, fault_words

#: Pages that may be open at once, a line to say that we are still there (s), and how long a request may take to arrive (s).
_MOST_PAGES, _STILL_HERE, _PATIENCE = 24, 10.0, 15.0
_HEADERS = {"Cache-Control": "no-store", "X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer",
            "X-Frame-Options": "DENY", "Cross-Origin-Resource-Policy": "same-origin", "Cross-Origin-Opener-Policy": "same-origin"}


class Viewer:
    """A layout on a page. ``address`` holds the secret."""

    def __init__(self, path: str, overlays: Sequence[str] = (), *, edit: bool = False, port: int = 0) -> None:
        self.robot: Watching = Editing(path, overlays) if edit else Watching(path, overlays, edit=False)
        self._secret = new_secret()
        self.robot.start()
        try:
            self._server = _Server(("127.0.0.1", port), self.robot, self._secret, PurePath(path).name)
        except OSError as error:
            self.robot.stop()
            raise UsageError(f"port {port} can't be had: {error.strerror or error}; leave --port out, and a free one is "
                             "taken") from None
        self.address = f"http://127.0.0.1:{self._server.server_address[1]}/{self._secret}/"

    def run(self) -> None:
        """Serve until :meth:`close`, or an interrupt."""
        self._server.serve_forever(poll_interval=0.2)

    def close(self) -> None:
        """Let go of the port and end every page's stream."""
        self.robot.stop()
        self._server.shutdown()
        self._server.server_close()


class _Server(ThreadingHTTPServer):
    daemon_threads = True
    allow_reuse_address = True

    def __init__(self, where: tuple[str, int], robot: Watching, secret: str, title: str) -> None:
        self.robot, self.secret, self.title = robot, secret, title
        self.pages = threading.BoundedSemaphore(_MOST_PAGES)
        super().__init__(where, _Handler)

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A page that has gone is no error, and nothing is printed here."""


class _Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    server_version = "chassis_describe"
    sys_version = ""
    timeout = _PATIENCE
    server: _Server

    def log_message(self, format: str, *args: Any) -> None:  # noqa: A002 - the base class's word
        """Nothing is printed here."""

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:
        """A sentence, whatever was asked; the connection ends."""
        self._send(code, "text/plain; charset=utf-8", f"{message or 'this is not done here'}\n".encode())

    # ------------------------------------------------------------------------------------------------------- questions
    def do_GET(self) -> None:
        """The page, or its stream of news."""
        self._routed({"": self._page, "events": self._events})

    def do_POST(self) -> None:
        """A question of the page."""
        self._routed({"ask": self._ask})

    def _routed(self, routes: Mapping[str, Callable[[], None]]) -> None:
        if not host_allowed(self.headers.get_all("Host", [])):
            self.send_error(403, "this page is for this machine: open it as localhost")
        elif not origin_allowed(self.headers.get_all("Origin", [])):
            self.send_error(403, "another site asked")
        else:
            _, _, rest = self.path.partition("/")
            secret, slash, name = rest.partition("/")
            if not slash or not same_secret(secret, self.server.secret) or name not in routes:
                self.send_error(404, "there is no such page; take the whole address that `chassis_describe view` printed")
            elif name and not site_allowed(self.headers.get_all("Sec-Fetch-Site", [])):
                self.send_error(403, "another site asked")
            else:
                routes[name]()

    def _page(self) -> None:
        page, policy = document(self.server.title, {}, live=True)
        self._send(200, "text/html; charset=utf-8", page, {"Content-Security-Policy": policy})

    def _ask(self) -> None:
        robot = self.server.robot
        length = self.headers.get("Content-Length", "")
        if not isinstance(robot, Editing):
            self.send_error(403, "this page only shows; start it with --edit to move parts")
        elif self.headers.get_content_type() != "application/json":
            self.send_error(415, "questions come as application/json")
        elif not length.isascii() or not length.isdigit() or self.headers.get("Transfer-Encoding"):
            self.send_error(411, "say how long it is")
        elif len(length) > 9 or int(length) > MOST_BYTES:
            self.send_error(413, f"a question has at most {MOST_BYTES} bytes")
        else:
            try:
                answer, code = robot.answer(question(self.rfile.read(int(length)))), 200
            except BadMessage as error:
                answer, code = {"refused": str(error)}, 400
            except Refused as error:
                answer, code = {"refused": str(error)}, 409
            except Exception as error:  # the page goes on, and says so
                answer, code = {"refused": fault_words(error)}, 500
            self._send(code, "application/json", json.dumps(answer, ensure_ascii=False).encode("utf-8", "replace"))

    def _events(self) -> None:
        """News as server-sent events (HTML Living Standard, 9.2), until the page or we go."""
        if not self.server.pages.acquire(blocking=False):
            self.send_error(503, "too many pages are open")
            return
        try:
            self._head(200, "text/event-stream; charset=utf-8", {"Connection": "close"})
            self.wfile.write(b"retry: 400\n\n")
            number = 0
            while (news := self.server.robot.board.newer(number, _STILL_HERE)) is not None:
                text = "".join(f"event: {n.kind}\ndata: {n.text}\n\n" for n in news) or ": still here\n\n"
                self.wfile.write(text.encode("utf-8", "replace"))
                number = max((n.number for n in news), default=number)
        except OSError:
            pass  # the page is gone
        finally:
            self.server.pages.release()
            self.close_connection = True

    # --------------------------------------------------------------------------------------------------------- answers
    def _head(self, code: int, kind: str, more: Mapping[str, str]) -> None:
        self.send_response(code)
        for name, value in {"Content-Type": kind, **_HEADERS, **more}.items():
            self.send_header(name, value)
        self.end_headers()

    def _send(self, code: int, kind: str, body: bytes, more: Mapping[str, str] | None = None) -> None:
        self.close_connection = True  # a body that was not read would be taken for the next request
        self._head(code, kind, {"Content-Length": str(len(body)), "Connection": "close", **(more or {})})
        if self.command != "HEAD":
            self.wfile.write(body)
        if self.command == "POST" and code >= 400:
            self._let_go()

    def _let_go(self) -> None:
        """Take a little of what was still to come, so that the answer arrives before the line is cut (RFC 9112, 9.6)."""
        self.wfile.flush()
        with contextlib.suppress(OSError):
            self.connection.shutdown(socket.SHUT_WR)
            self.connection.settimeout(0.3)
            for _ in range(8):
                if not self.connection.recv(65536):
                    break
