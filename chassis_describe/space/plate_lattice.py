"""Which points of a lattice carry a hole: those whose whole circle lies in the plate. Metres."""
from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from chassis_describe.space.plate_depth import whole_inside, whole_outside
from chassis_describe.space.plate_shapes import Shape, Vec2
from chassis_describe.tolerances import SAME_LENGTH

_CHUNK = 500_000  # lattice points judged at a time


def holes_of_lattice(outline: Shape, cutouts: Sequence[Shape], origin: Vec2, pitch: float, diameter: float,
                     skip: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Lattice points (i, j), i then j ascending. Circles that touch an edge from inside are whole."""
    x0, y0, x1, y1 = outline.bounds
    r = diameter / 2 - SAME_LENGTH
    columns = np.arange(math.ceil((x0 + r - origin[0]) / pitch), math.floor((x1 - r - origin[0]) / pitch) + 1)
    rows = np.arange(math.ceil((y0 + r - origin[1]) / pitch), math.floor((y1 - r - origin[1]) / pitch) + 1)
    skipped = set(skip)
    found: list[tuple[int, int]] = []
    step = max(1, _CHUNK // max(1, len(rows)))
    for k in range(0, len(columns), step):
        ij = np.stack(np.meshgrid(columns[k:k + step], rows, indexing="ij"), axis=-1).reshape(-1, 2)
        points = np.array(origin) + pitch * ij
        for number, shape in enumerate([outline, *cutouts]):
            keep = whole_inside(shape, points, r) if number == 0 else whole_outside(shape, points, r)
            ij, points = ij[keep], points[keep]
        found += [(i, j) for i, j in ij.tolist()]
    return [h for h in found if h not in skipped] if skipped else found
