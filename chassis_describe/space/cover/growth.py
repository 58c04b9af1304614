"""Boxes that grow side by side until the limits of a cover stop them; many at once. Metres.

What it takes for allowed is allowed; of a box near the corner of a cutout it may give up a little. Convex shapes only.
"""
from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from chassis_describe.space.cover.limits import core_of
from chassis_describe.space.plate.shapes import Disc, Polygon, Rectangle, Shape, core

Array = Any
_HALVINGS = 14
#: Sides (0: back, 1: left, 2: out, 3: right) that grow together, group by group, and by how much at most.
_FULL = math.inf
_ORDERS = (
    ((2, _FULL), (13, _FULL), (1, _FULL), (3, _FULL)),
    ((13, _FULL), (2, _FULL), (1, _FULL), (3, _FULL)),
    ((13, 0.012), (2, _FULL), (13, _FULL), (1, _FULL), (3, _FULL)),
    ((13, 0.025), (2, _FULL), (13, _FULL), (1, _FULL), (3, _FULL)),
    ((123, _FULL), (2, _FULL), (1, _FULL), (3, _FULL)),
    ((1, _FULL), (2, _FULL), (3, _FULL)),
    ((3, _FULL), (2, _FULL), (1, _FULL)),
    ((20, _FULL), (13, _FULL), (1, _FULL), (3, _FULL)),
    ((13, 0.03), (20, _FULL), (13, _FULL), (1, _FULL), (3, _FULL)),
)


class Growth:
    """The limits, for arrays of boxes at any angles."""

    def __init__(self, outline: Shape, free: Sequence[Shape], past: float, into: float) -> None:
        self._outline, self._past = outline, past
        self._cores = [core for core in (core_of(s, into) for s in free) if core is not None and core[0]]

    def grown(self, seeds: Array, reach: float) -> Array:
        """Rows angle, x0, y0, x1, y1 from rows x, y, direction of the side that is out."""
        x, y, normal = seeds.T
        angle = np.round(normal % (math.pi / 2), 9)
        angle[angle >= math.pi / 2 - 1e-8] = 0.0
        quarter = np.round((normal - angle) / (math.pi / 2)).astype(int) % 4
        c, s = np.cos(angle), np.sin(angle)
        u, v = c * x + s * y, c * y - s * x
        tiny = np.stack([u, v, u, v], axis=1) + np.array([-1e-9, -1e-9, 1e-9, 1e-9])
        # A seed stands just outside of what it must not enter.
        away = 1e-7 * np.stack([np.cos(quarter * math.pi / 2), np.sin(quarter * math.pi / 2)], axis=1)
        tiny = tiny + np.concatenate([away, away], axis=1)
        found = []
        for order in _ORDERS:
            rect = tiny.copy()
            good = self.allows(angle, rect)
            a, rect, q = angle[good], rect[good], quarter[good]
            for sides, limit in (*order, (0, _FULL)):
                self._grow(a, rect, q, [int(d) for d in str(sides)], min(limit, reach))
            found.append(np.concatenate([a[:, None], rect], axis=1))
        boxes = np.concatenate(found)
        boxes = boxes[np.minimum(boxes[:, 3] - boxes[:, 1], boxes[:, 4] - boxes[:, 2]) > 1e-4]
        _, first = np.unique(np.round(boxes / 2e-4).astype(np.int64), axis=0, return_index=True)
        return boxes[np.sort(first)]

    def _grow(self, angle: Array, rect: Array, quarter: Array, sides: list[int], most: float) -> None:
        """Move some sides of each box outward together, as far as allowed."""
        # Column and sign of the side that faces direction 0 (x), 1 (y), 2 (-x), 3 (-y); side 2 is `quarter` itself.
        column, sign = np.array([2, 3, 0, 1]), np.array([1.0, 1.0, -1.0, -1.0])
        step = np.zeros_like(rect)
        for side in sides:
            facing = (quarter + side - 2) % 4
            step[np.arange(len(rect)), column[facing]] = sign[facing]
        low, high = np.zeros(len(rect)), np.full(len(rect), most)
        whole = self.allows(angle, rect + step * most)
        low[whole] = most
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            fits = self.allows(angle, rect + step * middle[:, None])
            low, high = np.where(fits, middle, low), np.where(fits, high, middle)
        rect += step * low[:, None]

    def allows(self, angle: Array, rect: Array) -> Array:
        """Which boxes keep to the limits."""
        c, s = np.cos(angle), np.sin(angle)
        x0, y0, x1, y1 = rect.T
        good = np.ones(len(rect), dtype=bool)
        for u, v in ((x0, y0), (x1, y0), (x0, y1), (x1, y1)):
            good &= self._near(c * u - s * v, s * u + c * v)
        for points, r in self._cores:
            p = np.array(points)
            u, v = c[:, None] * p[:, 0] + s[:, None] * p[:, 1], c[:, None] * p[:, 1] - s[:, None] * p[:, 0]
            gap = np.maximum(np.maximum(x0 - u.max(axis=1), u.min(axis=1) - x1),
                             np.maximum(y0 - v.max(axis=1), v.min(axis=1) - y1))
            if len(points) == 1:
                dx = np.maximum(np.maximum(x0 - u[:, 0], u[:, 0] - x1), 0.0)
                dy = np.maximum(np.maximum(y0 - v[:, 0], v[:, 0] - y1), 0.0)
                gap = np.hypot(dx, dy)
            else:
                for (ax, ay), (bx, by) in zip(points, [*points[1:], points[0]]):
                    length = math.hypot(bx - ax, by - ay)
                    if length > 0:
                        nx, ny = (by - ay) / length, (ax - bx) / length
                        m, n = c * nx + s * ny, c * ny - s * nx
                        least = np.minimum(m * x0, m * x1) + np.minimum(n * y0, n * y1)
                        gap = np.maximum(gap, least - (nx * ax + ny * ay))
            good &= gap >= r + 1e-9
        return good

    def _near(self, x: Array, y: Array) -> Array:
        shape, past = self._outline, self._past - 1e-9
        if isinstance(shape, (Disc, Rectangle)):
            w, h, r = core(shape)
            p, q = np.abs(x - shape.centre[0]) - w, np.abs(y - shape.centre[1]) - h
            return np.hypot(np.maximum(p, 0.0), np.maximum(q, 0.0)) <= r + past
        assert isinstance(shape, Polygon)
        from chassis_describe.space.plate.depth import depth

        return depth(shape, np.stack([x, y], axis=1)) >= -past
