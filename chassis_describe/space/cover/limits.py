"""How far boxes of a cover may stray: a little past the outline, hardly at all into what must stay free. Metres.

numpy is imported only for shapes with hollows or many corners.
"""
from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

from chassis_describe.space.plane.clip import split
from chassis_describe.space.plate.shapes import Disc, Polygon, Rectangle, Shape, Vec2, core
from chassis_describe.space.pose import cos_sin

Array = Any
Rect = tuple[float, float, float, float]  # x low, y low, x high, y high, in a frame turned about z
Judge = Callable[[Rect], bool]
_FEW = 64  # polygons with more corners are judged by halving, not as convex cores


class Limits:
    """Judges boxes of a frame turned by ``angle`` against an outline (``past`` it at most) and free cutouts."""

    def __init__(self, outline: Shape, free: Sequence[Shape], angle: float, past: float, into: float) -> None:
        self.past, self.into = past, into
        self.step = min(past, into)
        self._turn = cos_sin(angle)
        self._judges = [*(self._clear_of(shape) for shape in free), self._near(outline)]

    def allows(self, rects: Sequence[Rect]) -> bool:
        """Whether every box stays within the limits."""
        return all(judge(r) for r in rects for judge in self._judges)

    def _turned(self, points: Sequence[Vec2]) -> list[Vec2]:
        """Points of the plate frame in the turned frame."""
        c, s = self._turn
        return [(c * x + s * y, c * y - s * x) for x, y in points]

    def _to_plate(self) -> Array:
        """Rows in the turned frame times this: rows in the plate frame."""
        import numpy as np

        c, s = self._turn
        return np.array([[c, s], [-s, c]])

    def _near(self, outline: Shape) -> Judge:
        """The distance to a convex shape is greatest at a corner of the box; else all of it must be looked at."""
        past = self.past
        if isinstance(outline, (Disc, Rectangle)):
            w, h, r = core(outline)
            (x, y), (c, s) = outline.centre, self._turn

            def close(rect: Rect) -> bool:
                x0, y0, x1, y1 = rect
                for u, v in ((x0, y0), (x1, y0), (x0, y1), (x1, y1)):
                    p, q = abs(c * u - s * v - x) - w, abs(s * u + c * v - y) - h
                    if math.hypot(max(p, 0.0), max(q, 0.0)) > r + past:
                        return False
                return True

            return close

        assert isinstance(outline, Polygon)
        if len(outline.points) > _FEW or not is_convex(outline):
            return self._raster(outline)
        edges = _edges(self._turned(outline.points))

        def corners_close(rect: Rect) -> bool:
            x0, y0, x1, y1 = rect
            return all(_reaches(edges, x, y, past) for x in (x0, x1) for y in (y0, y1))

        return corners_close

    def _raster(self, outline: Polygon) -> Judge:
        """For outlines with hollows or many corners: squares that may hold points beyond the limit, counted.

        With sides of a quarter of the limit they cost less than a fifth of it, and serve any number of boxes."""
        import numpy as np

        from chassis_describe.space.plate.depth import inside_polygon, near_polygon

        side = self.past / 4
        points = np.array(self._turned(outline.points))
        low = points.min(axis=0) - 2 * self.past
        nx, ny = (np.ceil((points.max(axis=0) + 2 * self.past - low) / side).astype(int)).tolist()
        middles = low + side * (np.stack(np.meshgrid(np.arange(nx), np.arange(ny), indexing="ij"), -1) + 0.5)
        middles = middles.reshape(-1, 2) @ self._to_plate()
        beyond = ~(inside_polygon(outline, middles) | near_polygon(outline, middles, self.past - side / math.sqrt(2)))
        counts = np.zeros((nx + 1, ny + 1), dtype=np.int64)
        counts[1:, 1:] = beyond.reshape(nx, ny).cumsum(axis=0).cumsum(axis=1)
        (x, y), sums = low.tolist(), counts.tolist()

        def close(rect: Rect) -> bool:
            i, j = int((rect[0] - x) / side), int((rect[1] - y) / side)
            k, m = int((rect[2] - x) / side) + 1, int((rect[3] - y) / side) + 1
            if i < 0 or j < 0 or k > nx or m > ny:
                return False
            return bool(sums[k][m] - sums[i][m] - sums[k][j] + sums[i][j] == 0)

        return close

    def _clear_of(self, shape: Shape) -> Judge:
        core = core_of(shape, self.into)
        if core is None:
            return lambda rect: self._stays(rect, shape, self.into)
        points, r = core
        if not points:
            return lambda rect: True
        points = self._turned(points)
        xs, ys = [x for x, _ in points], [y for _, y in points]
        a, b, c, d = min(xs) - r, min(ys) - r, max(xs) + r, max(ys) + r
        lines, edges = _edge_lines(points), _edges(points)

        def clear(rect: Rect) -> bool:
            x0, y0, x1, y1 = rect
            if x0 >= c or x1 <= a or y0 >= d or y1 <= b:
                return True
            # The widest gap seen along x, y, or square to one of the core's edges: convex shapes apart show one …
            off: float = max([x0 - c + r, a + r - x1, y0 - d + r, b + r - y1,
                       *(nx * (x0 if nx > 0 else x1) + ny * (y0 if ny > 0 else y1) - offset
                         for nx, ny, offset in lines)])
            if off >= r or off < 0:
                return bool(off >= r)
            # … but between two corners the distance is longer.
            return (all(math.hypot(max(x0 - u, 0.0, u - x1), max(y0 - v, 0.0, v - y1)) >= r for u, v in points)
                    and not any(_reaches(edges, x, y, r) for x in (x0, x1) for y in (y0, y1)))

        return clear

    def _stays(self, rect: Rect, shape: Shape, limit: float) -> bool:
        """Whether the depth in a shape stays within the limit all over the box.

        It changes by at most 1 m per metre: squares are halved until their middle decides; where it is within 0.02 mm
        of the limit, it counts as over."""
        import numpy as np

        from chassis_describe.space.plate.depth import depth

        x0, y0, x1, y1 = rect
        side = max(min(x1 - x0, y1 - y0), 1e-6)
        nx, ny = (max(1, math.ceil((b - a) / side)) for a, b in ((x0, x1), (y0, y1)))
        half = np.array([(x1 - x0) / nx / 2, (y1 - y0) / ny / 2])
        cells = np.stack(np.meshgrid(x0 + half[0] * (2 * np.arange(nx) + 1), y0 + half[1] * (2 * np.arange(ny) + 1)),
                         axis=-1).reshape(-1, 2)
        quarter = np.array([(-1, -1), (-1, 1), (1, -1), (1, 1)])
        to_plate = self._to_plate()
        while len(cells):
            value = depth(shape, cells @ to_plate)
            if np.any(value > limit):
                return False
            reach = float(np.hypot(*half))
            cells = cells[value > limit - reach]
            if reach < 2e-5:
                return not len(cells)
            half = half / 2
            cells = (cells[:, None] + quarter * half).reshape(-1, 2)
        return True


def is_convex(shape: Shape) -> bool:
    """Whether the shape has no hollow."""
    if not isinstance(shape, Polygon):
        return True
    sides = [(dx, dy) for _, _, dx, dy in _edges(shape.points)]
    turns = [dx * v - dy * u for (dx, dy), (u, v) in zip(sides, [*sides[1:], sides[0]])]
    return min(turns) >= 0 or max(turns) <= 0


def core_of(shape: Shape, inset: float) -> tuple[list[Vec2], float] | None:
    """What is deeper than ``inset`` in a convex shape: a convex polygon (one point, or none) grown by a radius.

    None for shapes with hollows or many corners.
    """
    if isinstance(shape, Disc):
        r = shape.radius - inset
        return [shape.centre] if r > 0 else [], max(r, 0.0)
    if isinstance(shape, Rectangle):
        (x, y), r = shape.centre, max(shape.corner - inset, 0.0)
        w, h = (s / 2 - inset - r for s in shape.size)
        if min(w, h) + r <= 0:
            return [], 0.0
        w, h = max(w, 0.0), max(h, 0.0)
        return [(x - w, y - h), (x + w, y - h), (x + w, y + h), (x - w, y + h)], r
    if isinstance(shape, Polygon) and len(shape.points) <= _FEW and is_convex(shape):
        return _shrunk(shape, inset), 0.0
    return None


def _shrunk(polygon: Polygon, inset: float) -> list[Vec2]:
    """A convex polygon less a rim: cut by each edge's line moved inward."""
    points: list[Vec2] = list(polygon.points)
    if sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, points[1:] + points[:1])) < 0:
        points.reverse()
    result = points
    for nx, ny, offset in _edge_lines(points):
        result = split(result, nx, ny, offset - inset)[0]
    return result


def _edges(points: Sequence[Vec2]) -> list[tuple[float, float, float, float]]:
    """Begin and direction of each edge of a polygon."""
    return [(ax, ay, bx - ax, by - ay) for (ax, ay), (bx, by) in zip(points, [*points[1:], points[0]])]


def _reaches(edges: list[tuple[float, float, float, float]], x: float, y: float, distance: float) -> bool:
    """Whether a point lies in a polygon or within ``distance`` of it."""
    limit, inside = distance * distance, False
    for ax, ay, dx, dy in edges:
        u, v = x - ax, y - ay
        length2 = dx * dx + dy * dy
        t = min(max((u * dx + v * dy) / length2, 0.0), 1.0) if length2 else 0.0
        p, q = u - t * dx, v - t * dy
        if p * p + q * q <= limit:
            return True
        if (v >= 0) != (v - dy >= 0) and u < v * dx / dy:
            inside = not inside
    return inside


def _edge_lines(points: list[Vec2]) -> list[tuple[float, float, float]]:
    """Outward unit normal and offset of each edge of a convex counter-clockwise polygon."""
    lines = []
    for (ax, ay), (bx, by) in zip(points, points[1:] + points[:1]):
        length = math.hypot(bx - ax, by - ay)
        if length > 0:
            nx, ny = (by - ay) / length, (ax - bx) / length
            lines.append((nx, ny, nx * ax + ny * ay))
    return lines
