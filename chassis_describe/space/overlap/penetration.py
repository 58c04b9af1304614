"""How deep two solids stand in one another, and how far apart they are. Metres.

``penetration`` gives the length of the smallest translation that separates two convex solids. That is the smallest
overlap along any direction, and since the nearest point of a convex body's boundary to a point inside it is always a
smooth one, only directions that are normals of smooth boundary points of the difference body matter:

- faces: normals across two edges of the boxes, and the axes of cylinders (box against box: the 15 axes of the
  separating-axis test, Gottschalk, Lin, Manocha, "OBBTree", SIGGRAPH 1996);
- ruled patches: directions square to one edge or axis, a circle each, searched from 128 samples;
- the doubly curved patch of two cylinders, searched from 1500 directions over the sphere.

Convex hulls have too many edges for that: see ``polytope``.

Searches end when steps are below 1e-7 rad, an error of depth below 1e-9 m for parts under a metre. Spheres are closed
form.
"""
from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

import numpy as np

from chassis_describe.space.overlap.convex import Array, Spread, distance, overlaps_along, spread
from chassis_describe.space.overlap.polytope import core_depth
from chassis_describe.space.pose import Pose, Vec3
from chassis_describe.space.solids import Box, Cylinder, Hull, Solid, Sphere, half_extents

_CIRCLE = 128
_SPHERE = 1500


def penetration(a: Solid, pose_a: Pose, b: Solid, pose_b: Pose) -> tuple[float, Vec3]:
    """Depth, and the unit direction in which b moves by the depth to leave a. Not positive where they don't overlap.

    A negative depth is a distance that they are apart at least (exact where one of them is a sphere).
    """
    if isinstance(b, Sphere):
        depth, d = _ball_in(a, pose_a, b, pose_b)
        return depth, d
    if isinstance(a, Sphere):
        depth, d = _ball_in(b, pose_b, a, pose_a)
        return depth, (-d[0], -d[1], -d[2])
    if isinstance(a, Hull) or isinstance(b, Hull):
        return _with_hull(spread(a, pose_a), spread(b, pose_b))
    return convex_penetration(spread(a, pose_a), spread(b, pose_b))


def gap(a: Solid, pose_a: Pose, b: Solid, pose_b: Pose) -> float:
    """Distance of two solids; 0 where they touch or overlap."""
    return distance(spread(a, pose_a), spread(b, pose_b))[0]


def apart_at_least(a: Solid, pose_a: Pose, b: Solid, pose_b: Pose) -> float:
    """A length by which two solids are apart at least, found quickly; not positive where nothing can be said."""
    if isinstance(a, Hull) or isinstance(b, Hull):
        return 0.0
    one, two = spread(a, pose_a), spread(b, pose_b)
    directions = np.vstack([_face_normals(one, two), _unit_rows((two.centre - one.centre)[None, :])])
    return -float(overlaps_along(one, two, directions).min()) if len(directions) else 0.0


def meets(a: Solid, pose_a: Pose, b: Solid, pose_b: Pose, limit: float) -> bool:
    """Whether two solids overlap by more than ``limit``, without the search for the depth of round ones: a cylinder
    that overlaps by less, but obliquely to all axes, may be called meeting."""
    if isinstance(a, (Sphere, Hull)) or isinstance(b, (Sphere, Hull)):
        return penetration(a, pose_a, b, pose_b)[0] > limit
    if isinstance(a, Box) and isinstance(b, Box) and _straight(pose_a) and _straight(pose_b):
        return all(u + v - abs(s - t) > limit for u, v, s, t in zip(half_extents(a, pose_a), half_extents(b, pose_b),
                                                                     pose_a.t, pose_b.t))
    one, two = spread(a, pose_a), spread(b, pose_b)
    if float(overlaps_along(one, two, _face_normals(one, two)).min()) <= limit:
        return False
    return not (len(one.axes) or len(two.axes)) or distance(one, two)[0] == 0.0


def _straight(pose: Pose) -> bool:
    """Whether the axes of the pose lie along the frame's: most parts of a robot are turned by quarters."""
    return all(v in (0.0, 1.0, -1.0) for v in pose.r)


def convex_penetration(a: Spread, b: Spread) -> tuple[float, Vec3]:
    """:func:`penetration` of two spreads that are boxes or cylinders."""
    faces = _face_normals(a, b)
    depths = overlaps_along(a, b, faces)
    best = int(np.argmin(depths))
    depth, d = float(depths[best]), faces[best]
    if depth <= 0.0 or not (len(a.axes) or len(b.axes)):
        return depth, _vec(d)
    apart, way = distance(a, b)
    if apart > 0.0:
        return -apart, _vec(way)
    found = [_on_circles(a, b)]
    if len(a.axes) and len(b.axes):
        found.append(_on_sphere(a, b))
    for other, direction in found:
        if other < depth:
            depth, d = other, direction
    return max(depth, 0.0), _vec(d)


def _with_hull(a: Spread, b: Spread) -> tuple[float, Vec3]:
    depth, d = core_depth(a, b)
    if depth > 0.0:
        return depth, _vec(d)
    apart, way = distance(a, b)
    return (-apart, _vec(way)) if apart > 0.0 else (0.0, _vec(d))


def _vec(d: Array) -> Vec3:
    return (float(d[0]), float(d[1]), float(d[2]))


def _unit_rows(rows: Array) -> Array:
    lengths = np.sqrt((rows * rows).sum(axis=1))
    keep = lengths > 1e-9
    out: Array = rows[keep] / lengths[keep, None]
    return out


def _edges(a: Spread, b: Spread) -> Array:
    return _unit_rows(np.vstack([a.segments, b.segments]))


@lru_cache(maxsize=8)
def _pairs_of(n: int) -> tuple[Any, Any]:
    """Both indices of every two of n things."""
    return np.triu_indices(n, 1)


def _face_normals(a: Spread, b: Spread) -> Array:
    edges = _edges(a, b)
    i, j = _pairs_of(len(edges))
    rows = [_across(edges[i], edges[j]), a.axes, b.axes, edges]
    c = b.centre - a.centre
    rows.append(c[None, :] - (edges @ c)[:, None] * edges)  # radial directions: exact for parallel axes
    normals = _unit_rows(np.vstack(rows))
    return np.vstack([normals, -normals])


def _on_circles(a: Spread, b: Spread) -> tuple[float, Array]:
    """Least overlap along directions square to one edge or axis of either."""
    edges = _edges(a, b)
    least = np.argmin(np.abs(edges), axis=1)
    u = _unit_rows(_across(edges, np.eye(3)[least]))
    v = _across(edges, u)
    n = len(edges)

    def value(angles: Array) -> tuple[Array, Array]:  # angles (n, k)
        d = np.cos(angles)[..., None] * u[:, None, :] + np.sin(angles)[..., None] * v[:, None, :]
        return overlaps_along(a, b, d.reshape(-1, 3)).reshape(n, -1), d

    step = 2 * math.pi / _CIRCLE
    values, d = value(np.tile(np.arange(_CIRCLE) * step, (n, 1)))
    lower = (values <= np.roll(values, 1, axis=1)) & (values <= np.roll(values, -1, axis=1))
    order = np.argsort(np.where(lower, values, np.inf), axis=1)[:, :3]
    best, way = math.inf, d[0, 0]
    for column in order.T:
        centre = column * step
        width = step
        while width > 1e-8:
            offsets = np.linspace(-width, width, 17)
            values, d = value(centre[:, None] + offsets[None, :])
            pick = np.argmin(values, axis=1)
            centre = centre + offsets[pick]
            width /= 8
        row = int(np.argmin(values[np.arange(n), pick]))
        if values[row, pick[row]] < best:
            best, way = float(values[row, pick[row]]), d[row, pick[row]]
    return best, way


@lru_cache(maxsize=1)
def _directions() -> Array:
    """Directions spread evenly over the sphere (Fibonacci lattice)."""
    k = np.arange(_SPHERE) + 0.5
    z = 1 - 2 * k / _SPHERE
    turn = math.pi * (1 + math.sqrt(5)) * k
    r = np.sqrt(1 - z * z)
    return np.stack([r * np.cos(turn), r * np.sin(turn), z], axis=1)


def _on_sphere(a: Spread, b: Spread) -> tuple[float, Array]:
    """Least overlap over all directions, by zooming in on the four best that are well apart."""
    directions = _directions()
    values = overlaps_along(a, b, directions)
    starts: list[Array] = []
    for k in np.argsort(values)[:200]:
        if all(float(directions[k] @ s) < math.cos(0.25) for s in starts):
            starts.append(directions[k])
        if len(starts) == 4:
            break
    side = np.linspace(-1.0, 1.0, 7)
    grid = np.stack(np.meshgrid(side, side), axis=-1).reshape(-1, 2)
    outer = np.abs(grid).max(axis=1) > 0.99
    d, widths, here = np.array(starts), np.full(len(starts), 0.08), np.full(len(starts), -math.inf)  # -inf: not looked yet
    best, way = math.inf, starts[0]
    while len(d):
        rows = np.arange(len(d))
        u = _unit_rows(_across(d, np.eye(3)[np.argmin(np.abs(d), axis=1)]))
        v = _across(d, u)
        near = d[:, None] + widths[:, None, None] * (grid @ np.stack([u, v], axis=1))
        near /= np.sqrt((near * near).sum(axis=2))[..., None]
        values = overlaps_along(a, b, near.reshape(-1, 3)).reshape(len(d), -1)
        pick = np.argmin(values, axis=1)
        d, least = near[rows, pick], values[rows, pick]
        if float(least.min()) < best:
            best, way = float(least.min()), d[int(np.argmin(least))]
        # On along the slope while it pays; a level valley is not followed round and round.
        on_rim = outer[pick] & (least < here - 1e-3 * widths * np.abs(here))
        widths = np.where(on_rim, widths, widths / 2.5)
        here = np.where(np.isinf(here), least, np.minimum(here, least))
        going = widths > 1e-8
        d, widths, here = d[going], widths[going], here[going]
    return best, way


def _across(a: Array, b: Array) -> Array:
    """Cross products of rows (n, 3): numpy's own asks much before it multiplies."""
    x, y, z = a.T
    p, q, r = b.T
    return np.stack([y * r - z * q, z * p - x * r, x * q - y * p], axis=1)


def _ball_in(solid: Solid, pose: Pose, ball: Sphere, ball_pose: Pose) -> tuple[float, Vec3]:
    """Depth of a ball in a solid and the direction in which the ball leaves it; negative: the distance."""
    p = pose.inverse().point(ball_pose.t)
    if isinstance(solid, Sphere):
        centre_depth, d = solid.radius - math.sqrt(p[0] ** 2 + p[1] ** 2 + p[2] ** 2), _unit_or(p, (0.0, 0.0, 1.0))
    elif isinstance(solid, Hull):
        centre_depth, d = _in_hull(p, solid)
    elif isinstance(solid, Box):
        centre_depth, d = _in_box(p, solid)
    else:
        assert isinstance(solid, Cylinder)
        rho = math.hypot(p[0], p[1])
        (cr, cz) = (p[0] / rho, p[1] / rho) if rho > 0 else (1.0, 0.0)
        side, end = rho - solid.radius, abs(p[2]) - solid.length / 2
        up = 1.0 if p[2] >= 0 else -1.0
        if side > 0 and end > 0:
            apart = math.hypot(side, end)
            centre_depth, d = -apart, (cr * side / apart, cz * side / apart, up * end / apart)
        elif side >= end:
            centre_depth, d = -side, (cr, cz, 0.0)
        else:
            centre_depth, d = -end, (0.0, 0.0, up)
    return float(centre_depth + ball.radius), pose.vector(d)


def _in_box(p: Vec3, box: Box) -> tuple[float, Vec3]:
    """Depth of a point in a box about its centre (negative: distance), and the shortest way out."""
    past = [abs(x) - s / 2 for x, s in zip(p, box.size)]
    signs = [1.0 if x >= 0 else -1.0 for x in p]
    if max(past) > 0:
        out = [max(0.0, q) for q in past]
        apart = math.sqrt(sum(q * q for q in out))
        return -apart, (signs[0] * out[0] / apart, signs[1] * out[1] / apart, signs[2] * out[2] / apart)
    k = past.index(max(past))
    d = [0.0, 0.0, 0.0]
    d[k] = signs[k]
    return -past[k], (d[0], d[1], d[2])


def _in_hull(p: Vec3, hull: Hull) -> tuple[float, Vec3]:
    """The same for a convex hull: inside, the nearest of its planes; outside, the nearest of its points."""
    planes, point = np.array(hull.planes), np.array(p)
    room = planes[:, 3] - planes[:, :3] @ point
    nearest = int(np.argmin(room))
    if room[nearest] >= 0:
        return float(room[nearest]), _vec(planes[nearest, :3])
    apart, way = distance(np.array(hull.points), spread(Sphere(0.0), Pose(t=p)))
    return -apart, _vec(way)


def _unit_or(p: Vec3, otherwise: Vec3) -> Vec3:
    n = math.sqrt(p[0] ** 2 + p[1] ** 2 + p[2] ** 2)
    return (p[0] / n, p[1] / n, p[2] / n) if n > 0 else otherwise
