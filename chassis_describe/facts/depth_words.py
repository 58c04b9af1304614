"""What makes a scan out of rows of a depth image wrong, in words."""
from __future__ import annotations

from collections.abc import Iterator
from math import degrees

from chassis_describe.facts.depth_rows import MOST_LEAN, DepthRows
from chassis_describe.words import listing


def unfit_words(rows: DepthRows) -> str:
    """``its rows lean 15 degrees, so the middle one leaves the heights of obstacles downward 0.94 m away``; ASCII."""
    return "; ".join(_unfit(rows))


def _unfit(rows: DepthRows) -> Iterator[str]:
    leaves = "" if rows.leaves is None else (
        f"the middle one leaves the heights of obstacles {'downward' if rows.downward else 'upward'} {rows.leaves:.2f} m away")
    if rows.lean > MOST_LEAN:
        yield f"its rows lean {degrees(rows.lean):.0f} degrees" + (f", so {leaves}" if leaves else ", and are read as level")
    elif leaves:
        yield f"of its rows {leaves}"
    if rows.moved_by:
        yield f"it is moved by {listing(rows.moved_by)}"
    if rows.owners:
        yield f"those rows hold the robot itself ({listing(rows.owners)})"
