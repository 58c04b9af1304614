"""A view that is being served, and raw HTTP to talk to it."""
from __future__ import annotations

import http.client
import json
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import urlsplit

import pytest

from chassis_describe.page.serve import Viewer

CONFIG = Path(__file__).resolve().parents[2] / "config"


class Reply(NamedTuple):
    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def data(self) -> Any:
        return json.loads(self.body)


class Served:
    """A viewer in a thread of its own."""

    def __init__(self, path: Path, overlays: tuple[Path, ...] = (), *, edit: bool = True) -> None:
        self.path = path
        self.viewer = Viewer(str(path), [str(o) for o in overlays], edit=edit)
        self.where = urlsplit(self.viewer.address)
        self.thread = threading.Thread(target=self.viewer.run)
        self.thread.start()

    def close(self) -> None:
        self.viewer.close()
        self.thread.join(60)

    def send(self, method: str, path: str, body: bytes | None = None, **headers: str) -> Reply:
        """One request; ``path`` below the secret unless it begins with a slash."""
        connection = http.client.HTTPConnection("127.0.0.1", self.where.port or 0, timeout=60)
        named = {name.replace("_", "-"): value for name, value in headers.items()}
        try:
            connection.putrequest(method, path if path.startswith("/") else self.where.path + path, skip_host="Host" in named)
            if body is not None and "Content-Length" not in named and "Transfer-Encoding" not in named:
                named["Content-Length"] = str(len(body))
            for name, value in named.items():
                connection.putheader(name, value)
            connection.endheaders(body)
            reply = connection.getresponse()
            return Reply(reply.status, {k.lower(): v for k, v in reply.getheaders()}, reply.read())
        finally:
            connection.close()

    def ask(self, **question: Any) -> Reply:
        return self.send("POST", "ask", json.dumps(question).encode(), Content_Type="application/json")

    @property
    def revision(self) -> str:
        shown = self.viewer.robot.shown
        assert shown is not None
        return shown.revision

    def news(self, kind: str, wanted: Callable[[Any], bool] = lambda value: True, seconds: float = 60.0) -> Any:
        """The first message of a kind, from now on or already up, that is as wanted."""
        import time

        number, end = 0, time.monotonic() + seconds
        while time.monotonic() < end:
            for notice in self.viewer.robot.board.newer(number, 1.0) or []:
                number = notice.number
                if notice.kind == kind and wanted(json.loads(notice.text)):
                    return json.loads(notice.text)
        raise AssertionError(f"no such {kind}")


@pytest.fixture
def serve(tmp_path: Path) -> Iterator[Callable[..., Served]]:
    """Start views; they end with the test."""
    open_ones: list[Served] = []

    def start(path: Path, *overlays: Path, edit: bool = True) -> Served:
        open_ones.append(Served(path, overlays, edit=edit))
        return open_ones[-1]

    yield start
    for one in open_ones:
        one.close()


@pytest.fixture
def scout(tmp_path: Path) -> Path:
    """The demo, to be changed."""
    path = tmp_path / "draught_scout.yaml"
    path.write_bytes((CONFIG / "draught_scout.yaml").read_bytes())
    return path


@pytest.fixture
def cart(tmp_path: Path) -> Path:
    """The small demo, which is read and checked in no time."""
    path = tmp_path / "seedling_cart.yaml"
    path.write_bytes((CONFIG / "seedling_cart.yaml").read_bytes())
    return path
