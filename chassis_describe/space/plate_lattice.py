"""Which points of a lattice carry a hole: those whose whole circle lies in the plate. Metres."""
from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import compress

from chassis_describe.space.plate_circles import Circle, whole_inside, whole_outside
from chassis_describe.space.plate_shapes import Shape, Vec2
from chassis_describe.tolerances import SAME_LENGTH


def holes_of_lattice(outline: Shape, cutouts: Sequence[Shape], origin: Vec2, pitch: float, diameter: float,
                     skip: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Lattice points (i, j), i then j ascending. Circles that touch an edge from inside are whole."""
    x0, y0, x1, y1 = outline.bounds
    r = diameter / 2 - SAME_LENGTH
    columns = range(math.ceil((x0 + r - origin[0]) / pitch), math.floor((x1 - r - origin[0]) / pitch) + 1)
    rows = range(math.ceil((y0 + r - origin[1]) / pitch), math.floor((y1 - r - origin[1]) / pitch) + 1)
    skipped = set(skip)
    holes = [(i, j) for i in columns for j in rows if (i, j) not in skipped]
    circles: list[Circle] = [(origin[0] + pitch * i, origin[1] + pitch * j, r) for i, j in holes]
    for number, shape in enumerate([outline, *cutouts]):
        whole = whole_inside(shape, circles) if number == 0 else whole_outside(shape, circles)
        holes, circles = list(compress(holes, whole)), list(compress(circles, whole))
    return holes
