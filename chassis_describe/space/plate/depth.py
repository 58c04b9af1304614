"""How deep points lie in flat shapes: exact distance to the boundary, positive inside, negative outside. Metres."""
from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from chassis_describe.errors import never
from chassis_describe.space.plate.shapes import Disc, Polygon, Rectangle, Shape, Slot, core

Array = Any
_CHUNK = 2_000_000  # point-edge pairs worked on at a time: some 100 MB of temporaries


def depth(shape: Shape, points: Array) -> Array:
    """Signed distance of points (n, 2) to the boundary of the shape."""
    if isinstance(shape, Disc):
        return shape.radius - np.hypot(points[:, 0] - shape.centre[0], points[:, 1] - shape.centre[1])
    if isinstance(shape, Rectangle):
        w, h, r = core(shape)
        qx = np.abs(points[:, 0] - shape.centre[0]) - w
        qy = np.abs(points[:, 1] - shape.centre[1]) - h
        # Distance to the core rectangle, whose rounding by r the shape is.
        out = np.hypot(np.maximum(qx, 0.0), np.maximum(qy, 0.0)) + np.minimum(np.maximum(qx, qy), 0.0)
        return r - out
    if isinstance(shape, Slot):
        a, b = shape.ends
        return shape.width / 2 - _to_segments(points, np.array([a]), np.array([b]))
    if isinstance(shape, Polygon):
        start = np.asarray(shape.points, dtype=float)
        end = np.roll(start, -1, axis=0)
        return np.where(inside_polygon(shape, points), 1.0, -1.0) * _to_segments(points, start, end)
    raise never(shape)


def _to_segments(points: Array, start: Array, end: Array) -> Array:
    """Distance of each point to the nearest of the segments."""
    d = end - start
    length2 = np.sum(d * d, axis=1)
    length2[length2 == 0] = 1.0
    result = np.empty(len(points))
    step = max(1, _CHUNK // len(start))
    for k in range(0, len(points), step):
        p = points[k:k + step]
        rx = p[:, 0, None] - start[None, :, 0]
        ry = p[:, 1, None] - start[None, :, 1]
        t = np.clip((rx * d[:, 0] + ry * d[:, 1]) / length2, 0.0, 1.0)
        rx -= t * d[:, 0]
        ry -= t * d[:, 1]
        result[k:k + step] = np.sqrt(np.min(rx * rx + ry * ry, axis=1))
    return result


def inside_polygon(polygon: Polygon, points: Array) -> Array:
    """Whether each point lies in the polygon, by the parity of edges above it; points on edges may go either way."""
    start = np.asarray(polygon.points, dtype=float)
    end = np.roll(start, -1, axis=0)
    order = np.argsort(points[:, 0], kind="stable")
    x = points[order, 0]
    low = np.searchsorted(x, np.minimum(start[:, 0], end[:, 0]), side="left")
    high = np.searchsorted(x, np.maximum(start[:, 0], end[:, 0]), side="left")
    parity = np.zeros(len(points), dtype=bool)
    for edge, which in ranges(low, high):
        p = points[order[which]]
        a, d = start[edge], end[edge] - start[edge]
        above = a[:, 1] + (p[:, 0] - a[:, 0]) / d[:, 0] * d[:, 1] > p[:, 1]
        counts = np.bincount(order[which[above]], minlength=len(points))
        parity ^= (counts & 1).astype(bool)
    return parity


def near_polygon(polygon: Polygon, points: Array, distance: Array | float) -> Array:
    """Whether each point is closer than (its) ``distance`` to the polygon's boundary; quick where points are many."""
    if not len(points):
        return np.zeros(0, dtype=bool)
    distance = np.broadcast_to(np.asarray(distance, dtype=float), (len(points),))
    reach = float(distance.max())
    start = np.asarray(polygon.points, dtype=float)
    end = np.roll(start, -1, axis=0)
    order = np.argsort(points[:, 0], kind="stable")
    x = points[order, 0]
    low = np.searchsorted(x, np.minimum(start[:, 0], end[:, 0]) - reach, side="left")
    high = np.searchsorted(x, np.maximum(start[:, 0], end[:, 0]) + reach, side="right")
    near = np.zeros(len(points), dtype=bool)
    for edge, which in ranges(low, high):
        p = points[order[which]]
        a, d = start[edge], end[edge] - start[edge]
        r = p - a
        t = np.clip(np.sum(r * d, axis=1) / np.maximum(np.sum(d * d, axis=1), 1e-300), 0.0, 1.0)
        r -= t[:, None] * d
        near[order[which[np.hypot(r[:, 0], r[:, 1]) < distance[order[which]]]]] = True
    return near


def ranges(low: Array, high: Array) -> Iterator[tuple[Array, Array]]:
    """Pairs (k, every index from low[k] to high[k]) as two flat arrays, in portions."""
    count = np.maximum(high - low, 0)
    total = np.cumsum(count)
    begin = 0
    while begin < len(low):
        done = total[begin - 1] if begin else 0
        stop = max(begin + 1, int(np.searchsorted(total, done + _CHUNK, side="right")))
        part = count[begin:stop]
        rows = np.repeat(np.arange(begin, stop), part)
        first = np.repeat(np.cumsum(part) - part, part)
        yield rows, np.arange(len(rows)) - first + low[rows]
        begin = stop
