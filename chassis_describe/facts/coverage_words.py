"""What no sensor sees, in words: sectors around the robot in which obstacles under some height go unseen."""
from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from typing import NamedTuple

from chassis_describe.facts.coverage import BEARINGS, DISTANCES, Coverage
from chassis_describe.facts.looks import DEGREE

#: The distance from the outline at which the words judge (m): near enough to run into, far enough for most cameras.
JUDGED_AT = 0.5
_STEP = BEARINGS[1] - BEARINGS[0]
_SIDES = (("ahead", 0), ("to the left", 90), ("behind", 180), ("to the right", 270))
_CORNERS = ("ahead to the left", "behind to the left", "behind to the right", "ahead to the right")


class BlindSector(NamedTuple):
    """From bearing ``start`` counter-clockwise to ``end`` (degrees, ``end`` 360 and more past forward) nothing under
    ``height`` (m) is seen; None: nothing at all."""

    start: int
    end: int
    height: float | None


def blind_sectors(coverage: Coverage, limit: float) -> tuple[BlindSector, ...]:
    """Where something as high as the limit (m) stands unseen, half a metre outside the outline; counter-clockwise."""
    ring = coverage.lowest[DISTANCES.index(JUDGED_AT)]
    kinds = ["none" if low is None else "high" if low > limit else "" for low in ring]
    first = next((k for k in range(len(ring)) if kinds[k] != kinds[k - 1]), 0)
    order = [(first + k) % len(ring) for k in range(len(ring))]
    sectors: list[BlindSector] = []
    for kind, run in groupby(order, key=lambda k: kinds[k]):
        found = list(run)
        if kind:
            lows = [low for low in (ring[k] for k in found) if low is not None]
            start = BEARINGS[found[0]]
            sectors.append(BlindSector(start, start + _STEP * (len(found) - 1), min(lows) if lows else None))
    return tuple(sorted(sectors))


def sides(sector: BlindSector) -> str:
    """``to the left and behind (45° to 215°)``."""
    if sector.end - sector.start >= 360 - _STEP:
        return "all round"
    names = [name for name, bearing in _SIDES if (bearing - sector.start) % 360 <= sector.end - sector.start]
    if not names:
        names = [_CORNERS[(sector.start + sector.end) // 2 % 360 // 90]]
    where = f"{sector.start}{DEGREE}" if sector.end == sector.start else f"{sector.start}{DEGREE} to {sector.end % 360}{DEGREE}"
    return f"{' and '.join(names) if len(names) < 3 else ', '.join(names[:-1]) + ' and ' + names[-1]} ({where})"


def blind_words(sectors: Iterable[BlindSector]) -> list[str]:
    """``nothing under 96 mm is seen to the left and behind (45° to 215°)``; sectors of one height in one sentence."""
    at: dict[int | None, list[BlindSector]] = {}
    for sector in sectors:
        at.setdefault(None if sector.height is None else round(sector.height * 1e3), []).append(sector)
    return [f"nothing {'at all' if height is None else f'under {height} mm'} is seen {', '.join(map(sides, some))}"
            for height, some in sorted(at.items(), key=lambda item: (item[0] is not None, -(item[0] or 0)))]


def coverage_words(coverage: Coverage, limit: float) -> str:
    """What the robot overlooks, or from which height on it sees everything."""
    words = blind_words(blind_sectors(coverage, limit))
    if words:
        return "; ".join(words)
    lows = [low for low in coverage.lowest[DISTANCES.index(JUDGED_AT)] if low is not None]
    return f"everything from {max(lows) * 1e3:.0f} mm up is seen all round"
