"""How a hole shows who uses it: filled, hatched, crossed, so that the shape tells and the colour only helps.

Filled blue: a part on the top face. Hatched ochre: a part under the deck. Crossed: a standoff. What is used from both faces is
filled and ringed. Open: free.
"""
from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from chassis_describe.drawings.paper import Circle, Item, Vec2, line
from chassis_describe.drawings.views import User


def hole_marks(centre: Vec2, radius: float, users: Sequence[User], data: tuple[tuple[str, str], ...]) -> Iterable[Item]:
    """The hole as a circle of its true size, and the signs in it."""
    top = any(u.kind == "part" and u.face == "top" for u in users)
    under = any(u.kind == "part" and u.face == "under" for u in users)
    standoff = any(u.kind == "standoff" for u in users)
    pen = "hole-blue" if top else "hole-ochre" if under else "hole-grey" if standoff else "hole"
    yield Circle(centre, radius, pen, "blue" if top else "paper", "hole used" if users else "hole", data)
    if under and top:
        yield Circle(centre, radius + 0.5, "hole-ochre", "", "mark")
    elif under:
        yield from hatch(centre, radius)
    if standoff:
        reach = (radius + 0.7) * math.sqrt(0.5)
        for sign in (1, -1):
            yield line([(centre[0] - reach, centre[1] - sign * reach), (centre[0] + reach, centre[1] + sign * reach)],
                       "hole-grey", kind="mark")


def hatch(centre: Vec2, radius: float) -> Iterable[Item]:
    """Strokes from lower left to upper right."""
    for k in (-0.55, 0.0, 0.55):
        half = math.sqrt(1 - k * k) * radius
        mx, my = centre[0] + k * radius * math.sqrt(0.5), centre[1] + k * radius * math.sqrt(0.5)
        d = half * math.sqrt(0.5)
        yield line([(mx - d, my + d), (mx + d, my - d)], "hole-ochre", kind="mark")


def miss_mark(at: Vec2) -> Item:
    """A bolt that meets no hole: a bold lozenge."""
    r = 1.5
    return line([(at[0], at[1] - r), (at[0] + r, at[1]), (at[0], at[1] + r), (at[0] - r, at[1])], "miss", closed=True, kind="miss")
