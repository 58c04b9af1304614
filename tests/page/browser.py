"""A headless Chromium, spoken to over its debugging pipe (Chrome DevTools Protocol, JSON between zero bytes): no library needed."""
from __future__ import annotations

import base64
import itertools
import json
import os
import select
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

NAMES = ("chromium", "chromium-browser", "google-chrome")
_OPTIONS = ("--headless=new", "--no-sandbox", "--remote-debugging-pipe", "--no-first-run", "--no-default-browser-check",
            "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--hide-scrollbars", "--disable-extensions",
            "--disable-background-networking", "--disable-component-update", "--disable-sync", "--mute-audio", "about:blank")
_KEYS = {"ArrowUp": 38, "ArrowDown": 40, "ArrowLeft": 37, "ArrowRight": 39, "Enter": 13, "Escape": 27, "Tab": 9, "Home": 36}
ALT, CTRL, SHIFT = 1, 2, 8
#: The browser reads from 3 and writes to 4, whatever numbers the pipes have here.
_PIPES = ("import fcntl, os, sys\n"
          "for pipe, number in zip([fcntl.fcntl(int(n), fcntl.F_DUPFD, 10) for n in sys.argv[1:3]], (3, 4)): os.dup2(pipe, number)\n"
          "os.execv(sys.argv[3], sys.argv[3:])")


def program() -> str | None:
    """Where a Chromium is."""
    return next((found for name in NAMES if (found := shutil.which(name))), None)


class Page:
    """One tab. ``console``: every message and exception; ``requests``: every address that was asked for."""

    def __init__(self, to: int, back: int) -> None:
        self._to, self._back, self._buffer, self._numbers = to, back, b"", itertools.count(1)
        self.console: list[str] = []
        self.requests: list[str] = []
        target = self._call("Target.createTarget", {"url": "about:blank"}, None)["targetId"]
        self._session = self._call("Target.attachToTarget", {"targetId": target, "flatten": True}, None)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.call(f"{domain}.enable")

    def call(self, method: str, **parameters: Any) -> Any:
        """One command, and its answer."""
        return self._call(method, parameters, self._session)

    def _call(self, method: str, parameters: dict[str, Any], session: str | None) -> Any:
        number = next(self._numbers)
        message = {"id": number, "method": method, "params": parameters, **({"sessionId": session} if session else {})}
        os.write(self._to, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._message(60.0)
            assert answer is not None, f"no answer to {method}"
            if answer.get("id") == number:
                assert "error" not in answer, answer
                return answer["result"]

    def _message(self, seconds: float) -> dict[str, Any] | None:
        end = time.monotonic() + seconds
        while b"\0" not in self._buffer:
            ready, _, _ = select.select([self._back], [], [], max(0.0, end - time.monotonic()))
            if not ready:
                return None
            data = os.read(self._back, 1 << 20)
            assert data, "the browser has gone"
            self._buffer += data
        line, _, self._buffer = self._buffer.partition(b"\0")
        message: dict[str, Any] = json.loads(line)
        self._note(message)
        return message

    def _note(self, message: dict[str, Any]) -> None:
        method, about = message.get("method"), message.get("params", {})
        if method == "Runtime.consoleAPICalled":
            self.console.append(f"{about['type']}: {[a.get('value') for a in about['args']]}")
        elif method == "Runtime.exceptionThrown":
            detail = about["exceptionDetails"]
            self.console.append(f"exception: {detail.get('exception', {}).get('description', detail['text'])}")
        elif method == "Log.entryAdded":
            self.console.append(f"{about['entry']['level']}: {about['entry']['text']} {about['entry'].get('url', '')}")
        elif method == "Network.requestWillBeSent" and not about["request"]["url"].startswith("data:"):  # what it holds itself
            self.requests.append(about["request"]["url"])

    def open(self, address: str, *, offline: bool = False, size: tuple[int, int] = (1280, 900)) -> None:
        """Go there and wait until the page has loaded."""
        self.call("Emulation.setDeviceMetricsOverride", width=size[0], height=size[1], deviceScaleFactor=1, mobile=False)
        self.call("Network.emulateNetworkConditions", offline=offline, latency=0, downloadThroughput=-1, uploadThroughput=-1)
        self.call("Page.navigate", url=address)
        self.until("document.readyState === 'complete' && document.getElementById('robot')?.textContent !== ''")

    def value(self, expression: str) -> Any:
        """What a JavaScript expression comes to."""
        answer = self.call("Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True)
        assert "exceptionDetails" not in answer, answer["exceptionDetails"]
        return answer["result"].get("value")

    def until(self, expression: str, seconds: float = 60.0) -> Any:
        """Wait until an expression is true; its value."""
        end = time.monotonic() + seconds
        while not (found := self.value(expression)):
            assert time.monotonic() < end, f"never: {expression}; console: {self.console}"
            self._message(0.03)
        return found

    def key(self, name: str, modifiers: int = 0) -> None:
        """Press and let go of a key."""
        code = _KEYS.get(name, ord(name.upper()) if len(name) == 1 else 0)
        about = {"key": name, "code": f"Key{name.upper()}" if len(name) == 1 else name, "windowsVirtualKeyCode": code,
                 "modifiers": modifiers}
        typed = {"text": name} if len(name) == 1 and not modifiers & (ALT | CTRL) else {"text": "\r"} if name == "Enter" else {}
        self.call("Input.dispatchKeyEvent", type="keyDown", **about, **typed)
        self.call("Input.dispatchKeyEvent", type="keyUp", **about)

    def click(self, x: float, y: float) -> None:
        """Move there, press and let go."""
        self.call("Input.dispatchMouseEvent", type="mouseMoved", x=x, y=y)
        for kind in ("mousePressed", "mouseReleased"):
            self.call("Input.dispatchMouseEvent", type=kind, x=x, y=y, button="left", clickCount=1)

    def picture(self, path: Path) -> None:
        """A screenshot."""
        path.write_bytes(base64.b64decode(self.call("Page.captureScreenshot", format="png")["data"]))


@contextmanager
def browser(folder: Path) -> Iterator[Page]:
    """A browser with a profile in ``folder``, and its page."""
    found = program()
    assert found is not None
    read, to = os.pipe()
    back, write = os.pipe()

    command = [sys.executable, "-c", _PIPES, str(read), str(write), found, *_OPTIONS, f"--user-data-dir={folder}"]
    process = subprocess.Popen(command, pass_fds=(read, write), stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                               stderr=subprocess.DEVNULL)
    os.close(read)
    os.close(write)
    try:
        yield Page(to, back)
    finally:
        os.close(to)
        os.close(back)
        process.terminate()
        try:
            process.wait(30)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
