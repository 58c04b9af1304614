"""What of a plate crosses what, and the moments that follow: closed forms where nothing crosses, else slabs."""
from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from itertools import compress
from typing import NamedTuple

from chassis_describe.space.plate.circles import HoleCircle, depth_at, meeting, whole_inside, whole_outside
from chassis_describe.space.plate.loops import Moments, disc_moments, loop_moments, loop_of, summed
from chassis_describe.space.plate.shapes import Disc, Polygon, Shape, Slot, Vec2, bounding_circle
from chassis_describe.tolerances import SAME_LENGTH


class Regions(NamedTuple):
    """``apart``: cutouts and slots wholly inside the outline, clear of everything; ``crossing``: the others.

    ``holes``: round holes that are clear of everything; the others are among ``crossing``.
    """

    outline: Shape
    apart: tuple[Shape, ...]
    crossing: tuple[Shape, ...]
    holes: tuple[HoleCircle, ...]


def sort_out(outline: Shape, cutouts: Sequence[Shape], slots: Sequence[Slot],
             holes: Sequence[tuple[float, float, float]], margin: float = SAME_LENGTH) -> Regions:
    """Divide the cutouts by whether they come within ``margin`` of anything. In doubt they count as crossing, which is
    as exact. ``holes``: x, y, diameter."""
    shapes: list[Shape] = [*cutouts, *slots]
    circles: list[HoleCircle] = [(x, y, diameter / 2) for x, y, diameter in holes]
    grown: list[HoleCircle] = [(x, y, r + margin) for x, y, r in circles]
    free = [a and not b for a, b in zip(whole_inside(outline, grown), meeting(circles, margin))]
    in_outline = depth_at(outline)
    meets = [not _inside(outline, in_outline, shape, margin) for shape in shapes]
    order = sorted(range(len(grown)), key=lambda k: grown[k][0])
    xs = [grown[k][0] for k in order]
    reach = max((r for _, _, r in grown), default=0.0)
    for number, shape in enumerate(shapes):
        x0, _, x1, _ = shape.bounds
        close = order[bisect_left(xs, x0 - reach):bisect_right(xs, x1 + reach)]
        for k, clear in zip(close, whole_outside(shape, [grown[k] for k in close])):
            if not clear:
                free[k], meets[number] = False, True
    for k in _boxes_meeting(shapes, margin):
        meets[k] = True
    crossing: list[Shape] = list(compress(shapes, meets))
    crossing += [Disc(radius=r, centre=(x, y)) for (x, y, r), f in zip(circles, free) if not f]
    return Regions(outline, tuple(s for s, m in zip(shapes, meets) if not m), tuple(crossing),
                   tuple(compress(circles, free)))


def _inside(outline: Shape, depth: Callable[[float, float], float], shape: Shape, margin: float) -> bool:
    x, y, r = bounding_circle(shape)
    if depth(x, y) > r + margin:
        return True
    if isinstance(outline, Polygon):
        return False
    # The other outlines are convex: a box inside by its corners is inside.
    x0, y0, x1, y1 = shape.bounds
    return all(depth(x, y) > margin for x in (x0, x1) for y in (y0, y1))


def _boxes_meeting(shapes: Sequence[Shape], margin: float) -> set[int]:
    """Shapes whose bounding box comes within ``margin`` of another's, from left to right."""
    met: set[int] = set()
    boxes = [shape.bounds for shape in shapes]
    begun: list[int] = []
    for k in sorted(range(len(boxes)), key=lambda k: boxes[k][0]):
        x0, y0, _, y1 = boxes[k]
        begun = [m for m in begun if boxes[m][2] >= x0 - margin]
        for m in begun:
            if boxes[m][1] <= y1 + margin and boxes[m][3] >= y0 - margin:
                met |= {k, m}
        begun.append(k)
    return met


def middle_of(shape: Shape) -> Vec2:
    """A point near the shape, about which moments keep their digits."""
    x0, y0, x1, y1 = shape.bounds
    return ((x0 + x1) / 2, (y0 + y1) / 2)


def region_moments(regions: Regions) -> tuple[Moments, int]:
    """Moments of the plate about ``middle_of(outline)`` and the number of pieces that it falls into."""
    origin = middle_of(regions.outline)
    pieces = 1
    if regions.crossing:
        from chassis_describe.space.plate.slabs import curves_about, pieces_of, slab_moments, slabs_of

        curves = curves_about(regions.outline, regions.crossing, origin)
        total, pieces = slab_moments(slabs_of(curves)), pieces_of(slabs_of(curves, SAME_LENGTH))
    else:
        total = loop_moments(loop_of(regions.outline), origin)
    taken = [loop_moments(loop_of(shape), origin) for shape in regions.apart]
    taken += [disc_moments(x - origin[0], y - origin[1], r) for x, y, r in regions.holes]
    area, sx, sy, sxx, sxy, syy = (a - b for a, b in zip(total, summed(taken)))
    return (area, sx, sy, sxx, sxy, syy), pieces
