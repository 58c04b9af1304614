"""What a move does, as a value, and the patch that shows it."""
from __future__ import annotations

import difflib

from chassis_describe.changes.compare import Change
from chassis_describe.values import dataclass


@dataclass(frozen=True, kw_only=True)
class MoveResult:
    """What a move does: the change, who moves along as a mirror image, the file and its new content, the patch."""

    change: Change
    along: tuple[tuple[str, str], ...]
    path: str
    patch: str
    written: bool


def patch(old: bytes, new: bytes, path: str) -> str:
    """A unified diff, as ``patch -p0`` takes it."""
    before, after = (data.decode("utf-8").split("\n") for data in (old, new))

    def lines(parts: list[str]) -> list[str]:
        return [f"{line}\n" for line in parts[:-1]] + ([parts[-1]] if parts[-1] else [])

    out = []
    for line in difflib.unified_diff(lines(before), lines(after), path, path):
        out.append(line if line.endswith("\n") else f"{line}\n\\ No newline at end of file\n")
    return "".join(out)
