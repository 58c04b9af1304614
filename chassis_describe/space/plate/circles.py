"""Which circles lie whole in a flat shape, or clear of it: the question of a plate's holes. Metres, plain floats.

The same distances as in ``plate_depth``, for one point at a time: a plate of some hundred holes is done before numpy has
started.
"""
from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from itertools import compress

from chassis_describe.errors import never
from chassis_describe.space.plate.shapes import Disc, Polygon, Rectangle, Shape, Slot, Vec2, core
from chassis_describe.tolerances import SAME_LENGTH

HoleCircle = tuple[float, float, float]  # x, y, radius
#: Circles times corners of a polygon from which on arrays are quicker, their start counted in.
_MANY = 200_000


def depth_at(shape: Shape) -> Callable[[float, float], float]:
    """The signed distance of a point (x, y) to the boundary of the shape, positive inside, as a function."""
    if isinstance(shape, Polygon):
        return _depth_in_polygon(shape)
    if isinstance(shape, Disc):
        (a, b), radius = shape.centre, shape.radius
        return lambda x, y: radius - math.hypot(x - a, y - b)
    if isinstance(shape, Rectangle):
        (a, b), (w, h, r) = shape.centre, core(shape)

        def in_rectangle(x: float, y: float) -> float:
            """By the distance to the core rectangle, whose rounding by r the shape is."""
            p, q = abs(x - a) - w, abs(y - b) - h
            return r - (math.hypot(p, q) if p > 0.0 and q > 0.0 else max(p, q))

        return in_rectangle

    if isinstance(shape, Slot):
        start, end = shape.ends
        half = shape.width / 2
        return lambda x, y: half - math.sqrt(_square_to_segment(x, y, start, end))
    raise never(shape)


def _depth_in_polygon(shape: Polygon) -> Callable[[float, float], float]:
    edges = _edges(shape)

    def in_polygon(x: float, y: float) -> float:
        nearest = math.sqrt(min(_square_to_segment(x, y, a, b) for a, b in edges))
        inside = sum(_below(x, y, a, b) for a, b in edges if min(a[0], b[0]) <= x < max(a[0], b[0])) % 2
        return nearest if inside else -nearest

    return in_polygon


def _edges(shape: Polygon) -> list[tuple[Vec2, Vec2]]:
    return list(zip(shape.points, [*shape.points[1:], shape.points[0]]))


def _square_to_segment(x: float, y: float, start: Vec2, end: Vec2) -> float:
    """The square of the distance of a point to a segment."""
    (ax, ay), (bx, by) = start, end
    dx, dy, u, v = bx - ax, by - ay, x - ax, y - ay
    length2 = dx * dx + dy * dy
    t = min(max((u * dx + v * dy) / length2, 0.0), 1.0) if length2 else 0.0
    p, q = u - t * dx, v - t * dy
    return p * p + q * q


def _below(x: float, y: float, start: Vec2, end: Vec2) -> bool:
    """Whether a point lies below an edge that is not upright."""
    (ax, ay), (bx, by) = start, end
    return ay + (x - ax) / (bx - ax) * (by - ay) > y


def whole_inside(shape: Shape, circles: Sequence[HoleCircle]) -> list[bool]:
    """Whether each circle lies in the shape; one that touches its edge does."""
    if isinstance(shape, Polygon):
        return [inside and not near for inside, near in zip(*_in_and_near(shape, circles))]
    depth = depth_at(shape)
    return [depth(x, y) >= r for x, y, r in circles]


def whole_outside(shape: Shape, circles: Sequence[HoleCircle]) -> list[bool]:
    """Whether each circle is clear of the shape; one that touches its edge is."""
    x0, y0, x1, y1 = shape.bounds
    close = [k for k, (x, y, r) in enumerate(circles) if x0 - r < x < x1 + r and y0 - r < y < y1 + r]
    clear = [True] * len(circles)
    if isinstance(shape, Polygon):
        inside, near = _in_and_near(shape, [circles[k] for k in close])
        for k, a, b in zip(close, inside, near):
            clear[k] = not (a or b)
        return clear
    depth = depth_at(shape)
    for k in close:
        x, y, r = circles[k]
        clear[k] = depth(x, y) <= -r
    return clear


def _in_and_near(polygon: Polygon, circles: Sequence[HoleCircle]) -> tuple[list[bool], list[bool]]:
    """Whether the middle of each circle lies in the polygon, and whether its edge cuts the circle."""
    if len(circles) * len(polygon.points) > _MANY:
        return _in_and_near_by_arrays(polygon, circles)
    order = sorted(range(len(circles)), key=lambda k: circles[k][0])
    xs = [circles[k][0] for k in order]
    reach = max((r for _, _, r in circles), default=0.0)
    inside, near = [False] * len(circles), [False] * len(circles)
    for a, b in _edges(polygon):
        low, high = min(a[0], b[0]), max(a[0], b[0])
        for k in order[bisect_left(xs, low):bisect_left(xs, high)]:
            if _below(*circles[k][:2], a, b):
                inside[k] = not inside[k]
        bottom, top = min(a[1], b[1]), max(a[1], b[1])
        for k in order[bisect_left(xs, low - reach):bisect_right(xs, high + reach)]:
            x, y, r = circles[k]
            if bottom - r < y < top + r and not near[k] and _square_to_segment(x, y, a, b) < r * r:
                near[k] = True
    return inside, near


def _in_and_near_by_arrays(polygon: Polygon, circles: Sequence[HoleCircle]) -> tuple[list[bool], list[bool]]:
    import numpy as np

    from chassis_describe.space.plate.depth import inside_polygon, near_polygon

    rows = np.array(circles, dtype=float).reshape(-1, 3)
    return inside_polygon(polygon, rows[:, :2]).tolist(), near_polygon(polygon, rows[:, :2], rows[:, 2]).tolist()


def meeting(circles: Sequence[HoleCircle], margin: float) -> list[bool]:
    """Which circles come within ``margin`` of another one, by cells as wide as the largest."""
    met = [False] * len(circles)
    if len(circles) < 2:
        return met
    width = 2 * max(r for _, _, r in circles) + margin
    left, low = min(c[0] for c in circles), min(c[1] for c in circles)
    column = int((max(c[1] for c in circles) - low) / width) + 3  # from a cell's number to its right neighbour's
    cells: dict[int, list[int]] = {}
    for k, (x, y, _) in enumerate(circles):
        cells.setdefault(int((x - left) / width) * column + int((y - low) / width), []).append(k)
    for number, own in cells.items():
        near = own[:]
        for step in (1, column - 1, column, column + 1):
            if number + step in cells:
                near += cells[number + step]
        if len(near) > 1:
            for count, a in enumerate(own, start=1):
                x, y, r = circles[a]
                for b in near[count:]:
                    u, v, s = circles[b]
                    if math.hypot(u - x, v - y) < r + s + margin:
                        met[a] = met[b] = True
    return met


def holes_of_lattice(outline: Shape, cutouts: Sequence[Shape], origin: Vec2, pitch: float, diameter: float,
                     skip: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Lattice points (i, j), i then j ascending. Circles that touch an edge from inside are whole."""
    x0, y0, x1, y1 = outline.bounds
    r = diameter / 2 - SAME_LENGTH
    columns = range(math.ceil((x0 + r - origin[0]) / pitch), math.floor((x1 - r - origin[0]) / pitch) + 1)
    rows = range(math.ceil((y0 + r - origin[1]) / pitch), math.floor((y1 - r - origin[1]) / pitch) + 1)
    skipped = set(skip)
    holes = [(i, j) for i in columns for j in rows if (i, j) not in skipped]
    circles: list[HoleCircle] = [(origin[0] + pitch * i, origin[1] + pitch * j, r) for i, j in holes]
    for number, shape in enumerate([outline, *cutouts]):
        whole = whole_inside(shape, circles) if number == 0 else whole_outside(shape, circles)
        holes, circles = list(compress(holes, whole)), list(compress(circles, whole))
    return holes
