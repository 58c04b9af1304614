"""What of a plate crosses what, and the moments that follow: closed forms where nothing crosses, else slabs."""
from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from chassis_describe.space.plate_depth import Array, depth, ranges, whole_inside, whole_outside
from chassis_describe.space.plate_loops import Loop, Moments, disc_moments, loop_moments, loop_of
from chassis_describe.space.plate_shapes import Disc, Polygon, Shape, Slot, Vec2, bounding_circle
from chassis_describe.space.plate_slabs import Curves, curves_of, pieces_of, slab_moments, slabs_of
from chassis_describe.tolerances import SAME_LENGTH


class Regions(NamedTuple):
    """``apart``: cutouts and slots wholly inside the outline, clear of everything; ``crossing``: the others.

    ``holes`` (n, 3) x, y, radius of round holes that are clear of everything; the others are among ``crossing``.
    """

    outline: Shape
    apart: tuple[Shape, ...]
    crossing: tuple[Shape, ...]
    holes: Array


def sort_out(outline: Shape, cutouts: Sequence[Shape], slots: Sequence[Slot],
             holes: Sequence[tuple[float, float, float]], margin: float = SAME_LENGTH) -> Regions:
    """Divide the cutouts by whether they come within ``margin`` of anything. In doubt they count as crossing, which is
    as exact."""
    shapes: list[Shape] = [*cutouts, *slots]
    round_holes = np.array(holes, dtype=float).reshape(-1, 3) * (1.0, 1.0, 0.5)
    free = ~_meeting_each_other(round_holes, margin)
    free &= whole_inside(outline, round_holes[:, :2], round_holes[:, 2] + margin)
    meets = [not _inside(outline, shape, margin) for shape in shapes]
    for k, shape in enumerate(shapes):
        touched = ~whole_outside(shape, round_holes[:, :2], round_holes[:, 2] + margin)
        free &= ~touched
        if np.any(touched):
            meets[k] = True
    bounds = np.array([s.bounds for s in shapes]).reshape(-1, 4)
    for k in range(len(shapes)):
        b = bounds[k]
        with_box = ((bounds[:, 0] <= b[2] + margin) & (bounds[:, 2] >= b[0] - margin)
                    & (bounds[:, 1] <= b[3] + margin) & (bounds[:, 3] >= b[1] - margin))
        with_box[k] = False
        if np.any(with_box):
            meets[k] = True
    crossing: list[Shape] = [s for s, m in zip(shapes, meets) if m]
    crossing += [Disc(radius=r, centre=(x, y)) for x, y, r in round_holes[~free].tolist()]
    return Regions(outline, tuple(s for s, m in zip(shapes, meets) if not m), tuple(crossing), round_holes[free])


def _inside(outline: Shape, shape: Shape, margin: float) -> bool:
    x, y, r = bounding_circle(shape)
    if float(depth(outline, np.array([[x, y]]))[0]) > r + margin:
        return True
    if isinstance(outline, Polygon):
        return False
    # The other outlines are convex: a box inside by its corners is inside.
    x0, y0, x1, y1 = shape.bounds
    return bool(np.all(depth(outline, np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])) > margin))


def _meeting_each_other(holes: Array, margin: float) -> Array:
    """Which round holes touch another one, by cells as wide as the largest hole."""
    met = np.zeros(len(holes), dtype=bool)
    if len(holes) < 2:
        return met
    width = 2 * float(np.max(holes[:, 2])) + margin
    cell = np.floor((holes[:, :2] - holes[:, :2].min(axis=0)) / width).astype(np.int64)
    rows = int(cell[:, 1].max()) + 3
    key = cell[:, 0] * rows + cell[:, 1]
    order = np.argsort(key, kind="stable")
    key = key[order]
    for step in (0, 1, rows - 1, rows, rows + 1):
        low = np.arange(1, len(key) + 1) if step == 0 else np.searchsorted(key, key + step, side="left")
        high = np.searchsorted(key, key + step, side="right")
        for a, b in ranges(low, high):
            i, j = order[a], order[b]
            close = np.hypot(*(holes[i, :2] - holes[j, :2]).T) < holes[i, 2] + holes[j, 2] + margin
            met[i[close]] = True
            met[j[close]] = True
    return met


def middle_of(shape: Shape) -> Vec2:
    """A point near the shape, about which moments keep their digits."""
    x0, y0, x1, y1 = shape.bounds
    return ((x0 + x1) / 2, (y0 + y1) / 2)


def curves_about(outline: Shape, cutouts: Sequence[Shape], origin: Vec2) -> Curves:
    """The boundary pieces of outline and cutouts, in coordinates about ``origin``."""
    return curves_of([_shifted(loop_of(s), origin) for s in (outline, *cutouts)])


def _shifted(loop: Loop, origin: Vec2) -> Loop:
    return Loop(loop.start - origin, loop.end - origin, loop.centre - origin, loop.radius)


def region_moments(regions: Regions) -> tuple[Moments, int]:
    """Moments of the plate about ``middle_of(outline)`` and the number of pieces that it falls into."""
    origin = middle_of(regions.outline)
    pieces = 1
    if regions.crossing:
        curves = curves_about(regions.outline, regions.crossing, origin)
        total, pieces = slab_moments(slabs_of(curves)), pieces_of(slabs_of(curves, SAME_LENGTH))
    else:
        total = loop_moments(loop_of(regions.outline), origin)
    for shape in regions.apart:
        total = total - loop_moments(loop_of(shape), origin)
    if len(regions.holes):
        x, y, r = regions.holes.T
        total = total - disc_moments(x - origin[0], y - origin[1], r)
    return total, pieces
