"""Whether a list of corners makes a simple polygon: one that a saw could follow."""
from __future__ import annotations

from collections.abc import Sequence

Vec2 = tuple[float, float]
#: Up to this many corners all pairs of edges are compared here; beyond, shapely's sweep is faster than its import.
FEW = 64


def fault_of_polygon(points: Sequence[Vec2]) -> tuple[str, int] | None:
    """What is wrong with a polygon and at which corner, or None. Metres."""
    n = len(points)
    for k in range(n):
        if points[k] == points[k - 1]:
            return "two corners in the same place", k
    if all(_turn(points[k - 2], points[k - 1], points[k]) == 0 for k in range(n)):
        return "the corners lie in one line", 0
    for k in range(n):
        p, q, u = points[k - 2], points[k - 1], points[k]
        if _turn(p, q, u) == 0 and (q[0] - p[0]) * (u[0] - q[0]) + (q[1] - p[1]) * (u[1] - q[1]) < 0:
            return "the outline runs back over itself", (k - 1) % n
    if n > FEW:
        from shapely.geometry import LinearRing  # only for long outlines: keeps start-up short

        if not LinearRing(points).is_simple:
            return "the outline crosses itself", 0
    for a in range(n if n <= FEW else 0):
        for b in range(a + 2, n):
            if a == 0 and b == n - 1:
                continue
            if _cross(points[a], points[(a + 1) % n], points[b], points[(b + 1) % n]):
                return f"the outline crosses itself: edge {a + 1} and edge {b + 1}", b
    return None


def _cross(p: Vec2, q: Vec2, u: Vec2, v: Vec2) -> bool:
    """Whether segments pq and uv touch (sign of triangle areas; touching counts)."""
    d1, d2, d3, d4 = _turn(u, v, p), _turn(u, v, q), _turn(p, q, u), _turn(p, q, v)
    if d1 * d2 < 0 and d3 * d4 < 0:
        return True
    return any(d == 0 and _between(a, b, c) for d, a, b, c in
               ((d1, u, v, p), (d2, u, v, q), (d3, p, q, u), (d4, p, q, v)))


def _turn(a: Vec2, b: Vec2, c: Vec2) -> int:
    """Which way c lies of the line ab: 1 left, -1 right, 0 on it."""
    left, right = (b[0] - a[0]) * (c[1] - a[1]), (b[1] - a[1]) * (c[0] - a[0])
    if abs(left - right) <= 1e-12 * (abs(left) + abs(right)):
        return 0
    return 1 if left > right else -1


def _between(a: Vec2, b: Vec2, c: Vec2) -> bool:
    return min(a[0], b[0]) <= c[0] <= max(a[0], b[0]) and min(a[1], b[1]) <= c[1] <= max(a[1], b[1])
