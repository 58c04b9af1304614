"""Which closed curves in a plane are round holes or slots: what a mesh, which knows neither, makes of them.

Corners of a meshed circle lie on it (exporters divide the curve itself), so the circle through them has the hole's centre and
diameter, where their mean or the area would be off. Metres or any other unit; numpy inside.
"""
from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

Vec2 = tuple[float, float]

#: Corners this near to a circle or a slot lie on it, as a share of its width, and at least in units of the curve's own size.
ON_CURVE = 0.01
#: A circle has no straight edge that subtends more than this (rad): with it a five-sided one still counts, a D does not.
WIDEST = math.radians(75.0)
#: Curves of fewer corners may be meant as a polygon, such as the pocket of a nut.
COARSE = 8
#: A corner whose neighbours lie in a straight line with it, within this angle (rad), is none.
STRAIGHT = 1e-4


class RoundHole(NamedTuple):
    """A circle: its centre, its diameter, and of how many corners it is."""

    at: Vec2
    diameter: float
    corners: int


class SlotHole(NamedTuple):
    """Two half circles joined by straight edges: its middle, overall length, width, and the direction of its length (rad, in
    [0, π))."""

    at: Vec2
    length: float
    width: float
    turn: float


def rim(curve: Sequence[Sequence[float]]) -> RoundHole | SlotHole | None:
    """What a closed curve is the rim of: (n, 2) corners in order, either way round, the first not repeated. None: of neither."""
    corners = _without_straight(curve)
    if len(corners) < 5:
        return None
    return _circle(corners) or _slot(corners)


def fitted_circle(points: Any) -> tuple[Vec2, float, float]:
    """Centre, radius and largest distance from it of the circle through the points (n, 2), n >= 3, by least squares.

    Kåsa's algebraic fit, exact for points on a circle; about their mean, so that far-off coordinates lose no digits.
    """
    import numpy as np

    middle = points.mean(axis=0)
    near = points - middle
    rows = np.column_stack([2.0 * near, np.ones(len(near))])
    (x, y, rest), *_ = np.linalg.lstsq(rows, (near ** 2).sum(axis=1), rcond=None)
    radius = math.sqrt(max(rest + x * x + y * y, 0.0))
    off = float(np.abs(np.hypot(near[:, 0] - x, near[:, 1] - y) - radius).max())
    return (float(middle[0] + x), float(middle[1] + y)), radius, off


def _without_straight(curve: Sequence[Sequence[float]]) -> Any:
    import numpy as np

    points = np.asarray(curve, dtype=float).reshape(-1, 2)
    points = points[np.any(points != np.roll(points, 1, axis=0), axis=1)]
    if len(points) < 3:
        return points
    before, after = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    return points[np.abs(cross) > STRAIGHT * np.hypot(*before.T) * np.hypot(*after.T)]


def _circle(corners: Any) -> RoundHole | None:
    import numpy as np

    centre, radius, off = fitted_circle(corners)
    if off > ON_CURVE * 2 * radius:
        return None
    angles = np.sort(np.arctan2(corners[:, 1] - centre[1], corners[:, 0] - centre[0]))
    gaps = np.diff(np.append(angles, angles[0] + 2 * math.pi))
    return RoundHole(centre, 2 * radius, len(corners)) if gaps.max() <= WIDEST else None


def _slot(corners: Any) -> SlotHole | None:
    """By its two longest edges, which are parallel; all else lies on the half circles about their ends."""
    import numpy as np

    edges = np.roll(corners, -1, axis=0) - corners
    lengths = np.hypot(edges[:, 0], edges[:, 1])
    first, second = sorted(np.argsort(lengths)[-2:])
    along, other = edges[first] / lengths[first], edges[second] / lengths[second]
    if abs(along[0] * other[1] - along[1] * other[0]) > ON_CURVE:
        return None
    across = np.array([-along[1], along[0]])
    width = abs(float((corners[second] - corners[first]) @ across))
    ends = corners[first + 1:second + 1], np.concatenate([corners[second + 1:], corners[:first + 1]])
    if width <= 0.0 or min(map(len, ends)) < 4:
        return None
    (a, r, off_a), (b, s, off_b) = map(fitted_circle, ends)
    if max(off_a, off_b, abs(r - width / 2), abs(s - width / 2)) > ON_CURVE * width:
        return None
    straight = np.subtract(b, a)
    if abs(float(straight @ across)) > ON_CURVE * width:
        return None
    return SlotHole(((a[0] + b[0]) / 2, (a[1] + b[1]) / 2), float(np.hypot(*straight)) + width, width,
                    math.atan2(along[1], along[0]) % math.pi)
