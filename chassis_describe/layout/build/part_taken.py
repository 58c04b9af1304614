"""What was read of a part, wherever its keys were written."""
from __future__ import annotations

from typing import Any

from chassis_describe.layout.language.record import Taken
from chassis_describe.source import Mark


class PartTaken:
    """The keys of a part after ``like`` was followed: for each key the mapping that it was written in."""

    __slots__ = ("name", "own", "source")

    def __init__(self, name: str, own: Taken, source: dict[str, Taken]) -> None:
        self.name, self.own, self.source = name, own, source

    def get(self, key: str, default: Any = None) -> Any:
        """The value of a key, wherever it was written; else the language's default, else ``default``."""
        return self.source.get(key, self.own).get(key, default)

    def has(self, key: str) -> bool:
        """Whether a key stands, here or in what this part is like."""
        return key in self.source

    def mark(self, key: str) -> Mark:
        """Where a key stands."""
        return self.source[key].mark(key)
