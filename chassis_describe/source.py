"""Places in a file, and the one family of exceptions that leaves this package.

A :class:`Mark` goes along with everything that is made from a file, down to code that can fail late, so that a
message can say ``robot.yaml:31:5 (placements > lidar > at)`` whoever finds the fault.
"""
from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    pass

#: Where this program's own files lie, the built-in catalogue among them.
PACKAGE = Path(__file__).resolve().parent


def is_built_in(file: str) -> bool:
    """Whether a file is this program's own, that is, of the built-in catalogue."""
    return PACKAGE in Path(file).resolve().parents


def file_as_said(file: str) -> str:
    """The file's name for people: ``built-in catalogue/sensors.yaml`` wherever this program is installed."""
    own = f"{PACKAGE.as_posix()}/"
    return f"built-in {file[len(own):]}" if file.startswith(own) else file


class Mark(NamedTuple):
    """One place: file as the user named it, line and column from 1, and the names that lead there."""

    file: str
    line: int
    column: int
    path: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"

    @property
    def where(self) -> str:
        """The path of names, ``placements > lidar > at``."""
        return " > ".join(self.path)
