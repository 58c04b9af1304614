"""Convex hulls in the plane and distances to their edges. Points are (x, y) in metres; hulls run counter-clockwise."""
from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

Vec2 = tuple[float, float]


def cross(o: Vec2, a: Vec2, b: Vec2) -> float:
    """Twice the signed area of triangle o, a, b; positive when it turns counter-clockwise."""
    return (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0])


def convex_hull(points: Iterable[Vec2]) -> tuple[Vec2, ...]:
    """Counter-clockwise hull without points in line, starting at the lowest x (Andrew's monotone chain, 1979).

    Fewer than three points come out where all are in line.
    """
    ordered = sorted({(x + 0.0, y + 0.0) for x, y in points})
    if len(ordered) < 3:
        return tuple(ordered)
    lower, upper = _chain(ordered), _chain(ordered[::-1])
    return (*lower[:-1], *upper[:-1])


def _chain(points: Iterable[Vec2]) -> list[Vec2]:
    out: list[Vec2] = []
    for p in points:
        while len(out) > 1 and cross(out[-2], out[-1], p) <= 0:
            out.pop()
        out.append(p)
    return out


def area(polygon: Sequence[Vec2]) -> float:
    """Signed area (m²), positive counter-clockwise (shoelace formula); 0 for fewer than three corners."""
    return 0.0 if len(polygon) < 3 else sum(cross((0.0, 0.0), a, b) for a, b in edges(polygon)) / 2


def edges(polygon: Sequence[Vec2]) -> list[tuple[Vec2, Vec2]]:
    """Edges from each corner to the next; a single one where there are but two points."""
    if len(polygon) < 3:
        return list(zip(polygon, polygon[1:]))
    return list(zip(polygon, (*polygon[1:], polygon[0])))


def edge_distance(a: Vec2, b: Vec2, p: Vec2) -> float:
    """Signed distance (m) of a point from the line a → b, positive on its left: inside a counter-clockwise polygon."""
    return cross(a, b, p) / math.dist(a, b)


def depth(polygon: Sequence[Vec2], p: Vec2) -> float:
    """How deep a point lies in a convex counter-clockwise polygon (m); negative: its distance from the polygon."""
    if not polygon:
        return -math.inf
    if len(polygon) == 1:
        return 0.0 - math.dist(polygon[0], p)
    if len(polygon) > 2:
        inside = min(edge_distance(a, b, p) for a, b in edges(polygon))
        if inside >= 0:
            return inside
    return 0.0 - min(segment_distance(a, b, p) for a, b in edges(polygon))


def segment_distance(a: Vec2, b: Vec2, p: Vec2) -> float:
    """Distance (m) of a point from the stretch a to b."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    long = dx * dx + dy * dy
    s = 0.0 if long == 0 else min(1.0, max(0.0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / long))
    return math.hypot(a[0] + s * dx - p[0], a[1] + s * dy - p[1])


def inner_radius(polygon: Sequence[Vec2], centre: Vec2 = (0.0, 0.0)) -> float:
    """Radius (m) of the largest circle about ``centre`` in a convex polygon; 0 when it is not inside."""
    return max(depth(polygon, centre), 0.0) if len(polygon) > 2 else 0.0


def outer_radius(polygon: Iterable[Vec2], centre: Vec2 = (0.0, 0.0)) -> float:
    """Radius (m) of the smallest circle about ``centre`` that holds every point."""
    return max((math.dist(p, centre) for p in polygon), default=0.0)
