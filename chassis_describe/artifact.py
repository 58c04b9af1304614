"""A file that is not on disk yet."""
from __future__ import annotations

from chassis_describe.values import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Artifact:
    """One file of an output: path relative to the output folder (``/`` between its names), and its bytes."""

    path: str
    data: bytes
