"""The surface of a solid as triangles, with the normals that make what is round look round. Metres, about the solid's centre."""
from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from chassis_describe.errors import never
from chassis_describe.space.plate.depth import Array
from chassis_describe.space.solids import Box, Cylinder, Hull, Solid, Sphere


class Surface(NamedTuple):
    """Triangles (n, 3, 3), outward by the right hand, and the unit normal at each of their corners (n, 3, 3): across what is flat
    that of the face, around what is round that of the true surface."""

    triangles: Array
    normals: Array


def surface_of(solid: Solid, around: int) -> Surface:
    """``around``: chords in a full circle, an even number; a ball has half as many from pole to pole.

    Corners are on the true surface, so chords stay inside it: a cylinder's volume is smaller by the factor sin(2π/n)/(2π/n).
    """
    if isinstance(solid, Hull):
        return flat(np.array(solid.points)[np.array(solid.faces)])
    if isinstance(solid, Box):
        return flat(np.array(list(_box_faces())) * (np.array(solid.size) / 2))
    if isinstance(solid, Cylinder):
        return _cylinder(solid.radius, solid.length / 2, around)
    if isinstance(solid, Sphere):
        triangles = _turned(_meridian(solid.radius, around // 2), around)
        return Surface(triangles, triangles / solid.radius)
    raise never(solid)


def flat(triangles: Array) -> Surface:
    """Triangles of a body with flat faces; those without area are left out."""
    normal = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
    length = np.linalg.norm(normal, axis=1, keepdims=True)
    has_area = length[:, 0] > 0
    unit = normal[has_area] / length[has_area]
    return Surface(triangles[has_area], np.repeat(unit[:, None, :], 3, axis=1))


def _cylinder(radius: float, half: float, around: int) -> Surface:
    triangles = _turned([(0.0, -half), (radius, -half), (radius, half), (0.0, half)], around)
    normals = triangles * (1.0, 1.0, 0.0) / radius
    level = np.ptp(triangles[:, :, 2], axis=1) == 0
    normals[level] = np.sign(triangles[level][:, :, 2:]) * (0.0, 0.0, 1.0)
    return Surface(triangles, normals)


def _meridian(radius: float, rings: int) -> list[tuple[float, float]]:
    angles = [-math.pi / 2 + math.pi * k / rings for k in range(rings + 1)]
    return [(radius * math.cos(a) if 0 < k < rings else 0.0, radius * math.sin(a)) for k, a in enumerate(angles)]


def _box_faces() -> Iterator[list[list[float]]]:
    for axis in range(3):
        for sign in (-1.0, 1.0):
            def corner(u: float, v: float, axis: int = axis, sign: float = sign) -> list[float]:
                p = [0.0, 0.0, 0.0]
                p[axis], p[(axis + 1) % 3], p[(axis + 2) % 3] = sign, u * sign, v
                return p

            a, b, c, d = corner(-1, -1), corner(1, -1), corner(1, 1), corner(-1, 1)
            yield [a, b, c]
            yield [a, c, d]


def _turned(profile: list[tuple[float, float]], around: int) -> Array:
    """A profile (radius, z) from below to above, turned about z."""
    angles = np.arange(around + 1) * (2 * math.pi / around)
    x, y = np.cos(angles), np.sin(angles)
    x[-1], y[-1] = x[0], y[0]
    rings = np.array([[[r * a, r * b, z] for a, b in zip(x, y)] for r, z in profile])
    faces = []
    for low, high in zip(rings, rings[1:]):
        a, b, c, d = low[:-1], low[1:], high[1:], high[:-1]
        faces += [np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)]
    found = np.concatenate(faces)
    area = np.linalg.norm(np.cross(found[:, 1] - found[:, 0], found[:, 2] - found[:, 0]), axis=1)
    kept: Array = found[area > 0]
    return kept
