"""What keeps a plate file from being taken: everything that is wrong with it, in words."""
from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple


class Problem(NamedTuple):
    """One thing that is wrong, and what to do about it."""

    message: str
    hint: str


class NoPlate(Exception):
    """A file that is no plate; ``problems`` holds all of them."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("; ".join(p.message for p in problems))


def no_plate(message: str, hint: str) -> NoPlate:
    """A file with one problem."""
    return NoPlate([Problem(message, hint)])
