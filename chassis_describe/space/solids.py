"""The solids that parts are made of, about their own centre; sizes in metres."""
from __future__ import annotations

import math
from typing import Union

from chassis_describe.errors import never
from chassis_describe.space.pose import Pose, Vec3
from chassis_describe.values import dataclass


@dataclass(frozen=True, slots=True)
class Box:
    """A box by its full edge lengths."""

    size: Vec3

    @property
    def volume(self) -> float:
        """m³."""
        x, y, z = self.size
        return x * y * z

    @property
    def unit_inertia(self) -> Vec3:
        """Principal moments about the centre for 1 kg, m² (Wikipedia, List of moments of inertia: solid cuboid)."""
        x, y, z = self.size
        return ((y * y + z * z) / 12, (x * x + z * z) / 12, (x * x + y * y) / 12)


@dataclass(frozen=True, slots=True)
class Hull(Box):
    """A convex body: corners about the middle of the box around them, planes (outward unit normal, offset), and faces:
    triangles by numbers of corners, counter-clockwise from outside.

    To whoever only knows boxes it is that box, which holds it.
    """

    points: tuple[Vec3, ...] = ()
    planes: tuple[tuple[float, float, float, float], ...] = ()
    faces: tuple[tuple[int, int, int], ...] = ()

    @property
    def edges(self) -> list[tuple[int, int]]:
        """Every side of a face, once."""
        return sorted({(min(a, b), max(a, b)) for f in self.faces for a, b in zip(f, (*f[1:], f[0]))})


@dataclass(frozen=True, slots=True)
class Cylinder:
    """A cylinder about z, centred."""

    radius: float
    length: float

    @property
    def volume(self) -> float:
        """m³."""
        return math.pi * self.radius**2 * self.length

    @property
    def unit_inertia(self) -> Vec3:
        """Principal moments about the centre for 1 kg, m² (same list: solid cylinder)."""
        across = (3 * self.radius**2 + self.length**2) / 12
        return (across, across, self.radius**2 / 2)


@dataclass(frozen=True, slots=True)
class Sphere:
    """A ball."""

    radius: float

    @property
    def volume(self) -> float:
        """m³."""
        return 4 / 3 * math.pi * self.radius**3

    @property
    def unit_inertia(self) -> Vec3:
        """Principal moments about the centre for 1 kg, m² (same list: solid sphere)."""
        i = 2 / 5 * self.radius**2
        return (i, i, i)


Solid = Union[Box, Cylinder, Sphere]


def extents(solid: Solid, pose: Pose) -> tuple[Vec3, Vec3]:
    """The box along the outer axes that a solid fills (m): its low and its high corner."""
    if isinstance(solid, Hull):
        points = [pose.point(p) for p in solid.points]
        low, high = (tuple(end(p[k] for p in points) for k in range(3)) for end in (min, max))
        return low, high  # type: ignore[return-value]
    half = half_extents(solid, pose)
    return (tuple(c - h for c, h in zip(pose.t, half)), tuple(c + h for c, h in zip(pose.t, half)))  # type: ignore[return-value]


def half_extents(solid: Solid, pose: Pose) -> Vec3:
    """How far a solid reaches from its centre along the outer axes, the further of both ways (m)."""
    r = pose.r
    rows = (r[0:3], r[3:6], r[6:9])
    if isinstance(solid, Hull):
        out = tuple(max(abs(sum(c * v for c, v in zip(row, p))) for p in solid.points) for row in rows)
    elif isinstance(solid, Box):
        out = tuple(sum(abs(c) * s / 2 for c, s in zip(row, solid.size)) for row in rows)
    elif isinstance(solid, Cylinder):
        return cylinder_extents(solid.radius, solid.length, (r[2], r[5], r[8]))
    elif isinstance(solid, Sphere):
        out = (solid.radius,) * 3
    else:
        raise never(solid)
    return out  # type: ignore[return-value]


def cylinder_extents(radius: float, length: float, axis: Vec3) -> Vec3:
    """Half the extent of a cylinder about a unit axis along the outer axes (m)."""
    return tuple(abs(a) * length / 2 + radius * math.sqrt(max(1.0 - a * a, 0.0)) for a in axis)  # type: ignore[return-value]
