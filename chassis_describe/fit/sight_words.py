"""Angles, distances and places as the findings about sight write them."""
from __future__ import annotations

import math
from collections.abc import Iterable

from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.source import Mark
from chassis_describe.words import plain


def degrees(radians: float, digits: int = 1) -> str:
    """``12.5°``."""
    return f"{plain(math.degrees(radians), digits)}°"


def span(start: float, end: float) -> str:
    """``-12.5° … 4°``."""
    return f"{degrees(start)} … {degrees(end)}"


def metres(distance: float) -> str:
    """``1.71 m``; under a metre in millimetres."""
    return f"{plain(distance, 2)} m" if distance >= 1 else f"{distance * 1e3:.0f} mm"


def percent(share: float) -> str:
    """``12.5 %``."""
    return f"{plain(100 * share, 1)} %"


def marks_of(assembly: Assembly, facet: SensorFacet, owners: Iterable[str] = ()) -> list[Mark]:
    """The sensor's placement first, then the decks and placements named."""
    marks = [facet.mark]
    for name in owners:
        mark = assembly.decks[name].deck.mark if name in assembly.decks else assembly.parts[name].mark
        if mark not in marks:
            marks.append(mark)
    return marks
