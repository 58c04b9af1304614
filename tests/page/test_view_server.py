"""The server of `view`: what it lets in, what it writes, and how soon a save is there. Attacks as OWASP's lists have them (from memory)."""
from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from chassis_describe.errors import UsageError
from chassis_describe.page.questions import MOST_BYTES, BadMessage, question
from chassis_describe.page.serve import Viewer

Serve = Callable[..., Any]


def move_of(served: Any, name: str, to: list[str], turn: str | None = None) -> dict[str, Any]:
    return {"of": name, "to": to, "turn": turn, "revision": served.revision}


# ----------------------------------------------------------------------------------------------------------- who may come in
def test_only_who_has_the_address_comes_in(serve: Serve, cart: Path) -> None:
    served = serve(cart)
    assert served.viewer.address.startswith("http://127.0.0.1:")
    assert len(served.where.path.strip("/")) >= 32
    page = served.send("GET", "")
    assert page.status == 200
    assert b"<!DOCTYPE html>" in page.body
    assert "default-src 'none'" in page.headers["content-security-policy"]
    assert "unsafe" not in page.headers["content-security-policy"]
    for path in ("/", "/index.html", "/x" * 20 + "/", served.where.path[:-2] + "/", served.where.path.rstrip("/"), "//events",
                 served.where.path.swapcase()):
        assert served.send("GET", path).status == 404
        assert served.send("POST", path, b"{}", Content_Type="application/json").status == 404
    for path in ("../etc/passwd", "..%2f..%2fetc/passwd", "assets/main.js", "events/../../..", "?x=1", "seedling_cart.yaml", "%2e%2e/"):
        reply = served.send("GET", path)
        assert reply.status == 404
        assert b"root" not in reply.body
    for method in ("PUT", "DELETE", "OPTIONS", "TRACE", "HEAD"):
        assert served.send(method, "").status >= 400


def test_other_hosts_are_refused(serve: Serve, cart: Path) -> None:
    """DNS rebinding: a foreign name that was made to point to this machine."""
    served = serve(cart)
    for host in ("example.org", "127.0.0.1.example.org", "localhost.example.org:80", "10.0.0.1", "0.0.0.0", "", "127.0.0.1:80:80",
                 "localhost@example.org", "[::1].example.org"):
        for method, path in (("GET", ""), ("GET", "events"), ("POST", "ask")):
            assert served.send(method, path, b"{}" if method == "POST" else None, Host=host).status == 403, host


def test_loopback_names_with_any_port_and_their_own_pages_are_let_in(serve: Serve, cart: Path) -> None:
    """A port forwarded by SSH has another number on the other side."""
    served = serve(cart)
    for host in ("localhost", "localhost:9999", "LOCALHOST:1", "127.0.0.1:8888", "[::1]:8888"):
        assert served.send("GET", "", Host=host).status == 200
    body = json.dumps({"do": "undo", "revision": served.revision}).encode()
    for origin, status in (("http://localhost:9999", 409), ("http://127.0.0.1:1", 409), ("null", 403), ("https://example.org", 403),
                           ("http://localhost.example.org", 403), ("http://localhost:9999/", 403), ("file://", 403)):
        assert served.send("POST", "ask", body, Content_Type="application/json", Origin=origin).status == status, origin
    assert served.send("POST", "ask", body, Content_Type="application/json", Sec_Fetch_Site="cross-site").status == 403
    assert served.send("GET", "events", Sec_Fetch_Site="same-site").status == 403


def test_nobody_listens_outside_this_machine(serve: Serve, cart: Path) -> None:
    served = serve(cart)
    others = {str(about[4][0]) for about in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)} - {"127.0.0.1"}
    for address in others:
        if not address.startswith("127."):
            with pytest.raises((ConnectionRefusedError, TimeoutError)):
                socket.create_connection((address, served.where.port), timeout=2).close()


def test_malformed_and_oversized_messages(serve: Serve, cart: Path) -> None:
    served = serve(cart)
    before = cart.read_bytes()
    good = json.dumps({"do": "write", **move_of(served, "driver", ["2", "-0.5"])}).encode()
    assert served.send("POST", "ask", good).status == 415
    assert served.send("POST", "ask", good, Content_Type="text/plain").status == 415
    assert served.send("POST", "ask", b"x" * (MOST_BYTES + 1), Content_Type="application/json").status == 413
    assert served.send("POST", "ask", b"{}", Content_Type="application/json", Content_Length="99999999999999999999").status == 413
    assert served.send("POST", "ask", b"{}", Content_Type="application/json", Content_Length="-1").status == 411
    assert served.send("POST", "ask", b"2\r\n{}\r\n0\r\n\r\n", Content_Type="application/json", Transfer_Encoding="chunked").status == 411
    for body in (b"", b"{", b"[]", b"null", b"1", b"\xff", b'{"do": "write"}', b'{"do": 1, "revision": ""}', b'{"do": "undo", "do": "undo", '
                 b'"revision": ""}', b"[" * 4000, b'{"do": "delete", "revision": ""}', b'{"do": "undo", "revision": "", "path": "/etc/passwd"}'):
        assert served.send("POST", "ask", body, Content_Type="application/json").status == 400, body
    with socket.create_connection(("127.0.0.1", served.where.port)) as raw:
        raw.sendall(b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" * 40 + b"\r\n\r\n")
        raw.settimeout(60)
        raw.recv(4096)
    assert served.send("GET", "").status == 200
    assert cart.read_bytes() == before


@pytest.mark.parametrize("to", [["1e3", "0"], ["0x1", "0"], ["1", "0", "0"], [1, 0], ["NaN", "0"], ["1" * 30, "0"], "1,0", [" 1", "0"], ["٣", "0"]])
def test_numbers_are_plain(to: Any) -> None:
    with pytest.raises(BadMessage):
        question(json.dumps({"do": "preview", "of": "x", "to": to, "revision": ""}).encode())


# ---------------------------------------------------------------------------------------------------------------- following
def test_a_save_is_shown_and_a_broken_one_keeps_the_last_picture(serve: Serve, cart: Path) -> None:
    served = serve(cart, edit=False)
    first = served.news("picture")
    text = cart.read_text()
    moved = text.replace("at: [2, -0.5], lift: 5", "at: [3, -0.5], lift: 5")
    with cart.open("w") as writer:  # the half that is there meanwhile is nobody's robot
        writer.write(moved[:len(moved) // 2])
        writer.flush()
        time.sleep(0.3)
        assert (served.revision, served.viewer.robot.broken) == (first["revision"], False)
        writer.write(moved[len(moved) // 2:])
    second = served.news("picture", lambda p: p["revision"] != first["revision"])
    driver = next(p for p in second["placements"] if p["name"] == "driver")
    assert driver["detail"] == "[3, -0.5]"
    served.news("verdict", lambda v: v["revision"] == second["revision"])
    cart.write_text(text.replace("lift: 5}", "lyft: 5}", 1))
    trouble = served.news("trouble", bool)
    where = trouble["findings"][0]["where"][0]
    line = next(k for k, row in enumerate(text.splitlines(), 1) if "lift: 5}" in row)
    assert (where["line"], trouble["findings"][0]["code"]) == (line, "unknown-key")
    assert served.news("picture")["revision"] == second["revision"]
    cart.unlink()
    assert "no file" in served.news("trouble", lambda t: t and t["words"])["words"]
    os.replace(_beside(cart, text), cart)  # as editors save: a new file takes the name
    served.news("trouble", lambda t: t is None)
    assert served.news("picture")["revision"] == first["revision"]


def _beside(path: Path, text: str) -> Path:
    other = path.with_suffix(".new")
    other.write_text(text)
    return other


def test_a_file_that_is_broken_from_the_start_is_followed_too(serve: Serve, cart: Path) -> None:
    text = cart.read_text()
    cart.write_text("layout: 1\n")
    served = serve(cart)
    assert served.news("trouble", bool)["findings"]
    assert served.ask(do="undo", revision="").status == 409
    cart.write_text(text)
    assert served.news("picture")["robot"] == "seedling_cart"


def test_what_cannot_be_viewed_is_said(cart: Path) -> None:
    with pytest.raises(UsageError, match="there is no file"):
        Viewer(str(cart.with_name("none.yaml")))
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(UsageError, match="can't be had"):
            Viewer(str(cart), port=taken.getsockname()[1])


def test_the_stream_brings_what_is_up(serve: Serve, cart: Path) -> None:
    served = serve(cart, edit=False)
    with socket.create_connection(("127.0.0.1", served.where.port), timeout=60) as line:
        line.sendall(f"GET {served.where.path}events HTTP/1.1\r\nHost: localhost\r\n\r\n".encode())
        text = b""
        while b"event: verdict" not in text or not text.endswith(b"\n\n"):
            text += line.recv(65536)
    head, _, events = text.partition(b"\r\n\r\n")
    assert b"text/event-stream" in head
    assert events.index(b"event: picture") < events.index(b"event: verdict")
    assert json.loads(events.split(b"event: picture\ndata: ")[1].split(b"\n")[0])["robot"] == "seedling_cart"
    assert served.ask(do="undo", revision="").status == 403  # without --edit nothing is asked


def test_the_command_prints_the_address_and_ends_when_told(cart: Path) -> None:
    """By SIGTERM, which it takes like Ctrl+C: a background job of a script ignores SIGINT."""
    process = subprocess.Popen([sys.executable, "-m", "chassis_describe", "view", str(cart), "--no-browser"], stdout=subprocess.PIPE,
                               stderr=subprocess.PIPE, cwd=Path(__file__).resolve().parents[2])
    assert process.stdout is not None
    address = process.stdout.readline().decode().strip()
    assert urllib.request.urlopen(address, timeout=60).status == 200
    process.send_signal(signal.SIGTERM)
    assert process.wait(60) == 0
    assert process.communicate() == (b"", b"")
