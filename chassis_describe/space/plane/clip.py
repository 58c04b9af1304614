"""A convex polygon cut by a line. Any unit of length."""
from __future__ import annotations

from collections.abc import Sequence

from chassis_describe.space.plane.hull import Vec2


def split(polygon: Sequence[Vec2], nx: float, ny: float, offset: float) -> tuple[list[Vec2], list[Vec2]]:
    """The parts where nx·x + ny·y is at most ``offset``, and at least; in the order of the corners, those on the line in both."""
    within: list[Vec2] = []
    beyond: list[Vec2] = []
    heights = [nx * x + ny * y - offset for x, y in polygon]
    for (p, h), (q, k) in zip(zip(polygon, heights), zip([*polygon[1:], *polygon[:1]], heights[1:] + heights[:1])):
        if h <= 0:
            within.append(p)
        if h >= 0:
            beyond.append(p)
        if (h > 0 > k) or (h < 0 < k):
            t = h / (h - k)
            cut = (p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1]))
            within.append(cut)
            beyond.append(cut)
    return within, beyond
