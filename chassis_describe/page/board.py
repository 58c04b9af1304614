"""The newest message of each kind, for every page that is open: a slow one misses what is out of date, never the last."""
from __future__ import annotations

import json
import threading
from typing import Any, NamedTuple

#: In the order in which a page that has just been opened takes them.
KINDS = ("picture", "verdict", "trouble", "history")


class Notice(NamedTuple):
    """One message as it is sent; ``number`` counts up over all kinds."""

    kind: str
    number: int
    text: str


class Board:
    """Messages that replace their predecessors, and waiting for newer ones. For several threads."""

    def __init__(self) -> None:
        self._news = threading.Condition()
        self._last: dict[str, Notice] = {}
        self._number = 0
        self._closed = False

    def post(self, kind: str, value: Any) -> None:
        """Put a value up, as JSON."""
        text = json.dumps(value, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
        with self._news:
            if kind in self._last and self._last[kind].text == text:
                return
            self._number += 1
            self._last[kind] = Notice(kind, self._number, text)
            self._news.notify_all()

    def newer(self, number: int, timeout: float) -> list[Notice] | None:
        """What was put up after message ``number``, in its order; empty after ``timeout`` seconds, None when closed."""
        with self._news:
            self._news.wait_for(lambda: self._closed or self._number > number, timeout)
            if self._closed:
                return None
            found = [n for n in self._last.values() if n.number > number]
        return sorted(found, key=lambda n: (KINDS.index(n.kind), n.number))

    def close(self) -> None:
        """Wake everybody who waits, for good."""
        with self._news:
            self._closed = True
            self._news.notify_all()
