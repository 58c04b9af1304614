"""Boundaries of flat shapes as loops of straight and round pieces, and their moments in closed form. Metres.

A loop runs counter-clockwise. Every arc bulges outward, is split at its extremes in x and y, and shares its end points
(the same floats) with its neighbours, so that each piece is monotone and no gap can open by rounding. Plain floats: most
plates need no more, and numpy takes longer to start than they take altogether.
"""
from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from chassis_describe.errors import never
from chassis_describe.space.plate.shapes import Disc, Polygon, Rectangle, Shape, Slot, Vec2
from chassis_describe.space.pose import cos_sin
from chassis_describe.tolerances import SAME_LENGTH


class Piece(NamedTuple):
    """``start → end``. ``radius`` 0 marks a straight piece, else an arc about ``centre``."""

    start: Vec2
    end: Vec2
    centre: Vec2
    radius: float


Loop = list[Piece]


def loop_of(shape: Shape) -> Loop:
    """The boundary of a shape."""
    if isinstance(shape, Polygon):
        points = list(shape.points)
        if _doubled_area(points) < 0:
            points.reverse()
        return _closed([(p, (0.0, 0.0), 0.0) for p in points])
    if isinstance(shape, Rectangle):
        return _rectangle(shape)
    if isinstance(shape, Disc):
        return _round([(*shape.centre, 0.0, 2 * math.pi)], shape.radius)
    if isinstance(shape, Slot):
        (a, b), t = shape.ends, shape.turn
        return _round([(*a, t + math.pi / 2, t + 3 * math.pi / 2), (*b, t - math.pi / 2, t + math.pi / 2)],
                      shape.width / 2)
    raise never(shape)


def _rectangle(shape: Rectangle) -> Loop:
    x0, y0, x1, y1 = shape.bounds
    r = min(shape.corner, *(s / 2 for s in shape.size))
    if r == 0:
        return loop_of(Polygon(points=((x0, y0), (x1, y0), (x1, y1), (x0, y1))))
    a, b, c, d = x0 + r, x1 - r, y0 + r, y1 - r
    # Where the corners take all of an edge, rounding must not leave a bit of it, or of less than nothing.
    b, d = (a if b - a < SAME_LENGTH else b), (c if d - c < SAME_LENGTH else d)
    points = [(a, y0), (b, y0), (x1, c), (x1, d), (b, y1), (a, y1), (x0, d), (x0, c)]
    none = (0.0, 0.0)
    centres = [none, (b, c), none, (b, d), none, (a, d), none, (a, c)]
    return _closed(list(zip(points, centres, [0.0, r] * 4)))


def _round(arcs: list[tuple[float, float, float, float]], radius: float) -> Loop:
    """Arcs (centre x, y, from angle, to angle) of one radius, joined by straight pieces."""
    corners: list[_Corner] = []
    whole = len(arcs) == 1
    for x, y, start, end in arcs:
        first = math.floor(start / (math.pi / 2) + 1e-9) + 1
        last = math.ceil(end / (math.pi / 2) - 1e-9) - 1
        angles = [start, *(q * math.pi / 2 for q in range(first, last + 1))] + ([] if whole else [end])
        for k, angle in enumerate(angles):
            c, s = cos_sin(angle)
            corners.append(((x + radius * c, y + radius * s), (x, y),
                            radius if whole or k < len(angles) - 1 else 0.0))
    return _closed(corners)


_Corner = tuple[Vec2, Vec2, float]  # where a piece begins, its centre and radius


def _closed(corners: Sequence[_Corner]) -> Loop:
    """Pieces from corner to corner, but those of no length: a corner radius of half the edge leaves such."""
    return [Piece(start, end, centre, radius)
            for (start, centre, radius), (end, _, _) in zip(corners, [*corners[1:], *corners[:1]]) if start != end]


def _doubled_area(points: Sequence[Vec2]) -> float:
    x0, y0 = points[0]
    return math.fsum((x - x0) * (v - y0) - (u - x0) * (y - y0)
                     for (x, y), (u, v) in zip(points, [*points[1:], points[0]]))


def shifted(loop: Loop, origin: Vec2) -> Loop:
    """The loop in coordinates about ``origin``."""
    a, b = origin
    return [Piece((x - a, y - b), (u - a, v - b), (cx - a, cy - b), r) for (x, y), (u, v), (cx, cy), r in loop]


def turned(loop: Loop, angle: float) -> Loop:
    """The loop turned counter-clockwise about the origin; its arcs are split anew at their extremes."""
    c, s = cos_sin(angle)
    corners: list[_Corner] = []
    for (x, y), (u, v), (cx, cy), r in loop:
        x, y, u, v = c * x - s * y, s * x + c * y, c * u - s * v, s * u + c * v
        cx, cy = c * cx - s * cy, s * cx + c * cy
        corners.append(((x, y), (cx, cy), r))
        if r == 0:
            continue
        first = math.atan2(y - cy, x - cx)
        sweep = math.atan2((x - cx) * (v - cy) - (y - cy) * (u - cx), (x - cx) * (u - cx) + (y - cy) * (v - cy))
        quarter = math.floor(first / (math.pi / 2) + 1e-9) + 1
        while quarter * math.pi / 2 < first + sweep - 1e-9:
            e, f = cos_sin(quarter * math.pi / 2)
            corners.append(((cx + r * e, cy + r * f), (cx, cy), r))
            quarter += 1
    return _closed(corners)


# -------------------------------------------------------------------------------------------------------------- moments
#: ∫dA, ∫x dA, ∫y dA, ∫x² dA, ∫xy dA, ∫y² dA
Moments = tuple[float, float, float, float, float, float]


def summed(rows: Iterable[Moments]) -> Moments:
    """The sum of moments, exactly rounded; ten thousand holes would cost digits otherwise."""
    columns = list(zip(*rows)) or [(0.0,)] * 6
    return tuple(math.fsum(column) for column in columns)  # type: ignore[return-value]


def loop_moments(loop: Loop, origin: Vec2) -> Moments:
    """Moments of the enclosed area about ``origin``, in closed form.

    The polygon of the end points by Green's theorem (C. Steger, On the Calculation of Arbitrary Moments of Polygons,
    FGBV-96-05, 1996), plus the circular segment between each arc and its chord (sector less triangle).
    """
    pieces = shifted(loop, origin)
    return summed([*(_triangle_moments(*p.start, *p.end) for p in pieces),
                   *(_segment_moments(p) for p in pieces if p.radius > 0)])


def _triangle_moments(x: float, y: float, u: float, v: float) -> Moments:
    """Of the triangle with the origin; negative where it runs clockwise."""
    c = x * v - u * y
    return (c / 2, c * (x + u) / 6, c * (y + v) / 6, c * (x * x + x * u + u * u) / 12,
            c * (x * v + 2 * x * y + 2 * u * v + u * y) / 24, c * (y * y + y * v + v * v) / 12)


def _segment_moments(piece: Piece) -> Moments:
    """Of a circular segment; u points from the arc's centre to its middle, alpha is half its angle."""
    (x, y), r = piece.centre, piece.radius
    p, q = piece.start[0] - x, piece.start[1] - y
    g, h = piece.end[0] - x, piece.end[1] - y
    alpha = math.atan2(p * h - q * g, p * g + q * h) / 2
    s, c = math.sin(alpha), math.cos(alpha)
    middle = math.atan2(q, p) + alpha
    e, f = math.cos(middle), math.sin(middle)
    area = r**2 * (alpha - s * c)
    first = 2 / 3 * r**3 * s**3
    uu = r**4 / 4 * (alpha + s * c) - r**4 * s * c**3 / 2
    vv = r**4 / 4 * (alpha - s * c) - r**4 * s**3 * c / 6
    sx, sy = first * e, first * f
    return (area, area * x + sx, area * y + sy, uu * e * e + vv * f * f + 2 * x * sx + x * x * area,
            (uu - vv) * e * f + x * sy + y * sx + x * y * area, uu * f * f + vv * e * e + 2 * y * sy + y * y * area)


def disc_moments(x: float, y: float, radius: float) -> Moments:
    """Of a full circle with its centre at (x, y)."""
    area = math.pi * radius * radius
    own = area * radius * radius / 4
    return (area, area * x, area * y, own + area * x * x, area * x * y, own + area * y * y)
