"""Boundaries of flat shapes as loops of straight and round pieces, and their moments in closed form. Metres.

A loop runs counter-clockwise. Every arc bulges outward, is split at its extremes in x and y, and shares its end points
(the same floats) with its neighbours, so that each piece is monotone and no gap can open by rounding.
"""
from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from chassis_describe.space.plate_shapes import Disc, Polygon, Rectangle, Shape
from chassis_describe.space.pose import cos_sin
from chassis_describe.tolerances import SAME_LENGTH

Array = Any  # numpy.ndarray; numpy's own generics differ between the versions that we run on


class Loop(NamedTuple):
    """Pieces ``start → end`` ((n, 2) arrays). ``radius`` 0 marks a straight piece, else an arc about ``centre``."""

    start: Array
    end: Array
    centre: Array
    radius: Array


def loop_of(shape: Shape) -> Loop:
    """The boundary of a shape."""
    if isinstance(shape, Polygon):
        points = np.asarray(shape.points, dtype=float)
        if _doubled_area(points) < 0:
            points = points[::-1]
        points = points[np.any(points != np.roll(points, -1, axis=0), axis=1)]
        return Loop(points, np.roll(points, -1, axis=0), np.zeros_like(points), np.zeros(len(points)))
    if isinstance(shape, Rectangle):
        return _rectangle(shape)
    if isinstance(shape, Disc):
        return _round([(*shape.centre, 0.0, 2 * math.pi)], shape.radius)
    a, b = shape.ends
    t = shape.turn
    return _round([(*a, t + math.pi / 2, t + 3 * math.pi / 2), (*b, t - math.pi / 2, t + math.pi / 2)],
                  shape.width / 2)


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
    return _closed(points, centres, [0.0, r] * 4)


def _round(arcs: list[tuple[float, float, float, float]], radius: float) -> Loop:
    """Arcs (centre x, y, from angle, to angle) of one radius, joined by straight pieces."""
    points: list[tuple[float, float]] = []
    centres: list[tuple[float, float]] = []
    radii: list[float] = []
    whole = len(arcs) == 1
    for x, y, start, end in arcs:
        first = math.floor(start / (math.pi / 2) + 1e-9) + 1
        last = math.ceil(end / (math.pi / 2) - 1e-9) - 1
        angles = [start, *(q * math.pi / 2 for q in range(first, last + 1))] + ([] if whole else [end])
        for k, angle in enumerate(angles):
            c, s = cos_sin(angle)
            points.append((x + radius * c, y + radius * s))
            centres.append((x, y))
            radii.append(radius if whole or k < len(angles) - 1 else 0.0)
    return _closed(points, centres, radii)


def _closed(points: list[tuple[float, float]], centres: list[tuple[float, float]], radii: list[float]) -> Loop:
    start = np.array(points)
    end = np.roll(start, -1, axis=0)
    keep = np.any(start != end, axis=1)  # a corner radius of half the edge leaves straight pieces of no length
    return Loop(start[keep], end[keep], np.array(centres)[keep], np.array(radii)[keep])


def _doubled_area(points: Array) -> float:
    x, y = (points - points[0]).T
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def turned(loop: Loop, angle: float) -> Loop:
    """The loop turned counter-clockwise about the origin; its arcs are split anew at their extremes."""
    c, s = cos_sin(angle)
    back = np.array([[c, s], [-s, c]])  # row vectors times the transpose of the rotation
    points, centre = loop.start @ back, loop.centre @ back
    ends = np.roll(points, -1, axis=0)
    rows: list[tuple[tuple[float, float], tuple[float, float], float]] = []
    for (x, y), (u, v), (cx, cy), r in zip(points.tolist(), ends.tolist(), centre.tolist(), loop.radius.tolist()):
        rows.append(((x, y), (cx, cy), r))
        if r == 0:
            continue
        first = math.atan2(y - cy, x - cx)
        sweep = math.atan2((x - cx) * (v - cy) - (y - cy) * (u - cx), (x - cx) * (u - cx) + (y - cy) * (v - cy))
        quarter = math.floor(first / (math.pi / 2) + 1e-9) + 1
        while quarter * math.pi / 2 < first + sweep - 1e-9:
            e, f = cos_sin(quarter * math.pi / 2)
            rows.append(((cx + r * e, cy + r * f), (cx, cy), r))
            quarter += 1
    return _closed([a for a, _, _ in rows], [b for _, b, _ in rows], [r for _, _, r in rows])


# -------------------------------------------------------------------------------------------------------------- moments
#: ∫dA, ∫x dA, ∫y dA, ∫x² dA, ∫xy dA, ∫y² dA
Moments = Array


def loop_moments(loop: Loop, origin: tuple[float, float]) -> Moments:
    """Moments of the enclosed area about ``origin``, in closed form.

    The polygon of the end points by Green's theorem (C. Steger, On the Calculation of Arbitrary Moments of Polygons,
    FGBV-96-05, 1996), plus the circular segment between each arc and its chord (sector less triangle).
    """
    start, end = loop.start - origin, loop.end - origin
    total = _polygon_moments(start, end)
    arcs = loop.radius > 0
    if np.any(arcs):
        total = total + _segment_moments(start[arcs], end[arcs], loop.centre[arcs] - origin, loop.radius[arcs])
    return total


def _polygon_moments(start: Array, end: Array) -> Moments:
    x, y, u, v = start[:, 0], start[:, 1], end[:, 0], end[:, 1]
    c = x * v - u * y
    return np.array([
        np.sum(c) / 2,
        np.sum(c * (x + u)) / 6,
        np.sum(c * (y + v)) / 6,
        np.sum(c * (x * x + x * u + u * u)) / 12,
        np.sum(c * (x * v + 2 * x * y + 2 * u * v + u * y)) / 24,
        np.sum(c * (y * y + y * v + v * v)) / 12,
    ])


def _segment_moments(start: Array, end: Array, centre: Array, radius: Array) -> Moments:
    """Sum over circular segments; u points from the arc's centre to its middle, alpha is half its angle."""
    p, q = start - centre, end - centre
    angle = np.arctan2(p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0], np.sum(p * q, axis=1))
    alpha = angle / 2
    s, c = np.sin(alpha), np.cos(alpha)
    middle = np.arctan2(p[:, 1], p[:, 0]) + alpha
    e, f = np.cos(middle), np.sin(middle)
    r = radius
    area = r**2 * (alpha - s * c)
    first = 2 / 3 * r**3 * s**3
    uu = r**4 / 4 * (alpha + s * c) - r**4 * s * c**3 / 2
    vv = r**4 / 4 * (alpha - s * c) - r**4 * s**3 * c / 6
    x, y = centre[:, 0], centre[:, 1]
    sx, sy = first * e, first * f
    return np.array([
        np.sum(area),
        np.sum(area * x + sx),
        np.sum(area * y + sy),
        np.sum(uu * e * e + vv * f * f + 2 * x * sx + x * x * area),
        np.sum((uu - vv) * e * f + x * sy + y * sx + x * y * area),
        np.sum(uu * f * f + vv * e * e + 2 * y * sy + y * y * area),
    ])


def disc_moments(x: Array, y: Array, radius: Array) -> Moments:
    """Sum over full circles with centres x, y about the origin (arrays)."""
    area = np.pi * radius**2
    own = area * radius**2 / 4
    return np.array([np.sum(area), np.sum(area * x), np.sum(area * y), np.sum(own + area * x * x),
                     np.sum(area * x * y), np.sum(own + area * y * y)])
