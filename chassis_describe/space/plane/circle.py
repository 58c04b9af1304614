"""The least circle around points in the plane. Metres."""
from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

Vec2 = tuple[float, float]
#: A point counts as in a circle when it is further out than its radius by this share of it: rounding.
_SLACK = 1e-12


class EnclosingCircle(NamedTuple):
    """Centre and radius."""

    centre: Vec2
    radius: float

    def holds(self, p: Vec2) -> bool:
        """Whether the point is in it."""
        return math.dist(self.centre, p) <= self.radius * (1 + _SLACK) + 1e-15


def least_circle(points: Iterable[Vec2]) -> EnclosingCircle:
    """The smallest circle that holds every point (Welzl 1991, in its incremental form). Raises ValueError for none.

    The order of the points is taken as it is: the few bolts of a part need no shuffling.
    """
    seen = list(dict.fromkeys(points))
    if not seen:
        raise ValueError("no circle around nothing")
    circle = EnclosingCircle(seen[0], 0.0)
    for i, p in enumerate(seen):
        if circle.holds(p):
            continue
        circle = EnclosingCircle(p, 0.0)
        for j, q in enumerate(seen[:i]):
            if circle.holds(q):
                continue
            circle = _on_two(p, q)
            for r in seen[:j]:
                if not circle.holds(r):
                    circle = _on_three(p, q, r)
    return circle


def _on_two(p: Vec2, q: Vec2) -> EnclosingCircle:
    return EnclosingCircle(((p[0] + q[0]) / 2, (p[1] + q[1]) / 2), math.dist(p, q) / 2)


def _on_three(p: Vec2, q: Vec2, r: Vec2) -> EnclosingCircle:
    """Circumcircle, about p to keep digits; three points in line have the circle of the two furthest."""
    bx, by, cx, cy = q[0] - p[0], q[1] - p[1], r[0] - p[0], r[1] - p[1]
    b, c = bx * bx + by * by, cx * cx + cy * cy
    d = 2 * (bx * cy - by * cx)
    if abs(d) <= 1e-14 * (b + c):
        return max((_on_two(*pair) for pair in ((p, q), (q, r), (p, r))), key=lambda k: k.radius)
    ux, uy = (cy * b - by * c) / d, (bx * c - cx * b) / d
    return EnclosingCircle((p[0] + ux, p[1] + uy), _furthest((p[0] + ux, p[1] + uy), (p, q, r)))


def _furthest(centre: Vec2, points: Sequence[Vec2]) -> float:
    return max(math.dist(centre, p) for p in points)
