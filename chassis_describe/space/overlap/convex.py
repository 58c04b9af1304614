"""Two convex solids: how wide they are along directions, and how far apart they are. Metres, one common frame.

A solid is carried as its centre, half-segments (rows ``length · unit axis``), discs (unit axis and radius) and a ball
radius: a box is three segments, a cylinder a segment and a disc, a sphere a ball. All are symmetric about their centre,
so the half-width along a unit direction d is Σ|s·d| + Σ r·√(1 − (a·d)²) + ball. A convex hull is carried as its corners.

The distance is Wolfe's: P. Wolfe, "Finding the nearest point in a polytope", Mathematical Programming 11, 1976, run on
the exact support points of the difference of the two solids (as in Gilbert, Johnson, Keerthi, 1988).
"""
from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from chassis_describe.space.pose import Pose
from chassis_describe.space.solids import Box, Cylinder, Hull, Solid, Sphere

Array = npt.NDArray[np.float64]

#: Rounds of the nearest-point search; curved solids take 10 to 40, what is left after 200 is under 1e-9 of the size.
ROUNDS = 200


class Spread(NamedTuple):
    """A solid as centre (3,), half-segments (k, 3), disc axes (m, 3), disc radii (m,) and ball radius; or ``corners`` (n, 3)."""

    centre: Array
    segments: Array
    axes: Array
    radii: Array
    ball: float
    corners: Array = np.zeros((0, 3))


def spread(solid: Solid, pose: Pose) -> Spread:
    """The solid with its centre frame at ``pose``."""
    columns = np.array(pose.r).reshape(3, 3).T  # rows: the solid's axes in the common frame
    centre = np.array(pose.t)
    none, no_radii = np.zeros((0, 3)), np.zeros(0)
    if isinstance(solid, Hull):
        return Spread(centre, none, none, no_radii, 0.0, np.array(solid.points) @ columns + centre)
    if isinstance(solid, Box):
        return Spread(centre, columns * (np.array(solid.size) / 2)[:, None], none, no_radii, 0.0)
    if isinstance(solid, Cylinder):
        return Spread(centre, columns[2:] * (solid.length / 2), columns[2:], np.array([solid.radius]), 0.0)
    assert isinstance(solid, Sphere)
    return Spread(centre, none, none, no_radii, solid.radius)


def half_widths(body: Spread, directions: Array) -> Array:
    """Half-width of the body, which is no hull, along unit directions (n, 3)."""
    out = np.full(len(directions), body.ball)
    if len(body.segments):
        out = out + np.abs(directions @ body.segments.T).sum(axis=1)
    if len(body.axes):
        along = directions @ body.axes.T
        out = out + np.sqrt(np.maximum(0.0, 1.0 - along * along)) @ body.radii
    return out


def bounds_of(body: Spread) -> tuple[Array, Array]:
    """The body's box along the axes: low and high corner (3,)."""
    if len(body.corners):
        return np.asarray(body.corners.min(axis=0)), np.asarray(body.corners.max(axis=0))
    wide = half_widths(body, np.eye(3))
    return body.centre - wide, body.centre + wide


def overlaps_along(a: Spread, b: Spread, directions: Array) -> Array:
    """How far b has to move along each unit direction (n, 3) to leave a; negative where it is already past."""
    out: Array = directions @ (a.centre - b.centre) + half_widths(a, directions) + half_widths(b, directions)
    return out


def support(body: Spread | Array, d: Array) -> Array:
    """A point of the body (its ball left out) that lies furthest along d (any length)."""
    if isinstance(body, np.ndarray):
        return body[int(np.argmax(body @ d))]  # type: ignore[no-any-return]
    if len(body.corners):
        return body.corners[int(np.argmax(body.corners @ d))]  # type: ignore[no-any-return]
    point: Array = body.centre + np.where(body.segments @ d >= 0.0, 1.0, -1.0) @ body.segments
    for axis, radius in zip(body.axes, body.radii):
        across = d - (axis @ d) * axis
        length = float(np.sqrt(across @ across))
        if length > 1e-12 * float(np.sqrt(d @ d)):
            point = point + across * (radius / length)
    return point


def distance(a: Spread | Array, b: Spread) -> tuple[float, Array]:
    """Distance of two convex solids and the unit direction from a to b; 0 (and a zero vector) where they meet.

    ``a`` may be the corners (n, 3) of a polyhedron.
    """
    if isinstance(a, np.ndarray):
        centre, balls, size = a.mean(axis=0), b.ball, float(np.ptp(a, axis=0).sum())
    else:
        centre, balls = a.centre, a.ball + b.ball
        size = _size(a)
    size += _size(b)
    size = size or 1.0
    points: Array = (support(b, centre - b.centre) - support(a, b.centre - centre))[None, :]
    weights = np.ones(1)
    x, ahead = points[0], 0.0  # ahead: how far the difference of the two reaches towards the origin, times |x|
    before, stalled = math.inf, 0
    for _ in range(ROUNDS):
        norm2 = float(x @ x)
        stalled = stalled + 1 if norm2 >= before * (1.0 - 1e-12) else 0
        before = min(before, norm2)
        if norm2 <= (1e-9 * size) ** 2:
            return 0.0, np.zeros(3)
        q = support(b, -x) - support(a, x)
        ahead = float(x @ q)
        if stalled > 2:  # rounding keeps the last digits from getting better
            break
        if norm2 - ahead <= max(1e-10 * norm2, 1e-10 * size * math.sqrt(norm2)):  # within 1e-10 of the distance or size
            break
        if (np.abs(points - q).max(axis=1) < 1e-15 * size).any():
            break
        points, weights = np.vstack([points, q]), np.append(weights, 0.0)
        points, weights = _reduce(points, weights)
        x = weights @ points
    length = float(np.sqrt(x @ x))
    if length - balls <= 0.0 or (ahead <= 0.0 and not balls):
        return 0.0, x / length
    return length - balls, x / length


def _size(body: Spread) -> float:
    around = float(np.ptp(body.corners, axis=0).sum()) if len(body.corners) else 0.0
    return float(np.abs(body.segments).sum() + body.radii.sum()) + around


def _reduce(points: Array, weights: Array) -> tuple[Array, Array]:
    """Wolfe's minor cycle: drop points until the nearest point of the affine hull lies inside the simplex."""
    while True:
        n = len(points)
        system = np.zeros((n + 1, n + 1))
        system[0, 1:] = system[1:, 0] = 1.0
        scale = float((points * points).sum()) or 1.0
        system[1:, 1:] = points @ points.T / scale
        right = np.zeros(n + 1)
        right[0] = 1.0
        try:
            new = np.asarray(np.linalg.solve(system, right)[1:], dtype=np.float64)
        except np.linalg.LinAlgError:
            new = np.asarray(np.linalg.lstsq(system, right, rcond=None)[0][1:], dtype=np.float64)
        if (new > 1e-14).all():
            return points, new
        falling = new <= 1e-14
        steps = weights[falling] / np.maximum(weights[falling] - new[falling], 1e-300)
        step = min(1.0, float(steps.min())) if len(steps) else 1.0
        weights = (1 - step) * weights + step * new
        keep = weights > 1e-14
        if keep.all():
            keep[int(np.argmin(weights))] = False
        points = points[keep]
        weights = weights[keep] / float(weights[keep].sum())
        if len(points) == 1:
            return points, np.ones(1)
