"""What docs/bringup.md says of what no sensor sees. No file of its own."""
from __future__ import annotations

from collections.abc import Collection, Iterator

from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.coverage import BEARINGS, DISTANCES, coverage_of, measures
from chassis_describe.facts.coverage_words import JUDGED_AT, coverage_words
from chassis_describe.facts.looks import DEGREE
from chassis_describe.targets.names import Names
from chassis_describe.targets.target import Target, nothing

_PAGE = """\
## What no sensor sees

Half a metre outside the outline: {words}.
Heights over the ground, in mm, that some lidar, depth camera or ranger sees of a thin upright obstacle, at distances from the
outline; a dash where it sees nothing of it. What the robot itself hides is counted. `check --json` has every 5 deg.

| bearing | {heads} |
|---|{rules}
"""
_NONE = """\
## What no sensor sees

Anything: this robot has no lidar, depth camera or ranger.
"""
#: Bearings of the page's table (degrees): an octant each.
_SHOWN = range(0, 360, 45)


def _page(assembly: Assembly, paths: Collection[str]) -> Iterator[str]:
    coverage = coverage_of(assembly)
    if coverage is None:
        return
    if not measures(assembly):
        yield _NONE
        return
    words = coverage_words(coverage, assembly.layout.limits["blind_height_mm"] * 1e-3).replace(DEGREE, " deg")
    assert JUDGED_AT in DISTANCES
    rows = [_PAGE.format(words=words, heads=" | ".join(f"at {away} m" for away in DISTANCES), rules="---|" * len(DISTANCES))]
    for bearing in _SHOWN:
        at = BEARINGS.index(bearing)
        cells = [_cell(low[at], high[at]) for low, high in zip(coverage.lowest, coverage.highest)]
        rows.append(f"| {bearing} deg | {' | '.join(cells)} |\n")
    yield "".join(rows)


def _cell(low: float | None, high: float | None) -> str:
    """``158``, ``12 to 260``."""
    if low is None or high is None:
        return "-"
    start, end = f"{low * 1e3:.0f}", f"{high * 1e3:.0f}"
    return start if start == end else f"{start} to {end}"


TARGET = Target(artifacts=nothing, names=Names(), page=_page)
