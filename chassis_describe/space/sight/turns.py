"""Intervals on the circle. Radians, counter-clockwise."""
from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

#: The whole circle, as start and width.
FULL = (-math.pi, 2 * math.pi)
#: Intervals with less than this between them touch.
_GAP = 1e-12


def united(intervals: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """Intervals (start, width) on the circle, those that overlap or touch joined; starts in [-π, π)."""
    rows = sorted((wrapped(start), width) for start, width in intervals if width > 0)
    out: list[list[float]] = []
    for start, width in rows:
        if out and start <= out[-1][0] + out[-1][1] + _GAP:
            out[-1][1] = max(out[-1][1], start + width - out[-1][0])
        else:
            out.append([start, width])
    # The last may reach round to the first.
    while len(out) > 1 and out[-1][0] + out[-1][1] >= out[0][0] + 2 * math.pi - _GAP:
        start, width = out.pop(0)
        out[-1][1] = max(out[-1][1], start + 2 * math.pi + width - out[-1][0])
    if out and any(width >= 2 * math.pi - _GAP for _, width in out):
        return [FULL]
    return [(start, width) for start, width in out]


def wrapped(angle: float) -> float:
    """The angle in [-π, π)."""
    turned = math.fmod(angle + math.pi, 2 * math.pi)
    return turned - math.pi if turned >= 0 else turned + math.pi


class TurnPiece(NamedTuple):
    """From ``start`` to ``end``, -π ≤ start < end ≤ π, with who is in it."""

    start: float
    end: float
    owners: tuple[int, ...]


def pieces(intervals: Iterable[tuple[float, float, int]], view: float = 2 * math.pi, pad: float = 0.0) -> list[TurnPiece]:
    """What intervals (start, width, owner) cover of a view of that width about 0, in order.

    Each is cut to the view, widened by ``pad`` on both sides and cut again; those that overlap or touch are joined and
    name all their owners. What runs over ±π is in two pieces.
    """
    half = min(view, 2 * math.pi) / 2
    rows: list[tuple[float, float, int]] = []
    for start, width, owner in intervals:
        for low, high in _cut(start, width, half):
            rows += [(a, b, owner) for a, b in _cut(low - pad, high - low + 2 * pad, half)]
    out: list[tuple[float, float, set[int]]] = []
    for low, high, owner in sorted(rows):
        if out and low <= out[-1][1] + _GAP:
            start, end, owners = out[-1]
            out[-1] = (start, max(end, high), owners | {owner})
        else:
            out.append((low, high, {owner}))
    return [TurnPiece(a, b, tuple(sorted(owners))) for a, b, owners in out]


def _cut(start: float, width: float, half: float) -> list[tuple[float, float]]:
    """The parts of an interval that are within ±half, none wider than π to either side of the seam."""
    if width >= 2 * math.pi - _GAP:
        return [(-half, half)]
    start = wrapped(start)
    both = ((start, start + width), (start - 2 * math.pi, start + width - 2 * math.pi))
    return [(max(a, -half), min(b, half)) for a, b in both if min(b, half) > max(a, -half)]


def total(found: Sequence[TurnPiece]) -> float:
    """The angle that pieces cover together (rad)."""
    return math.fsum(p.end - p.start for p in found)
