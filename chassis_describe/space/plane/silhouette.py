"""Solids as they are seen along -z of a frame: convex outlines in its x-y plane. Metres."""
from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import Any, NamedTuple

from chassis_describe.errors import never
from chassis_describe.space.plane.hull import Vec2, convex_hull
from chassis_describe.space.pose import Pose
from chassis_describe.space.solids import Box, Cylinder, Hull, Solid, Sphere

#: Chords stand off a tilted circle by this at most (m).
CHORD = 2e-6


class Shadow(NamedTuple):
    """The outline that a solid covers: counter-clockwise ``points``, or a ``circle`` (centre, radius); nearest z ``top``."""

    points: tuple[Vec2, ...]
    circle: tuple[Vec2, float] | None
    low: float
    top: float


def shadow(solid: Solid, pose: Pose) -> Shadow:
    """The outline of a solid whose centre frame is ``pose`` in the frame that one looks along -z of."""
    x, y, z = pose.t
    if isinstance(solid, Box):
        a, b, c = (s / 2 for s in solid.size)
        corners = [pose.point(p) for p in (solid.points if isinstance(solid, Hull) else
                                           [(p * a, q * b, r * c) for p in (-1, 1) for q in (-1, 1) for r in (-1, 1)])]
        zs = [p[2] for p in corners]
        return Shadow(convex_hull((u, v) for u, v, _ in corners), None, min(zs), max(zs))
    if isinstance(solid, Sphere):
        return Shadow((), ((x, y), solid.radius), z - solid.radius, z + solid.radius)
    if not isinstance(solid, Cylinder):
        raise never(solid)
    ax, ay, az = pose.z_axis
    r, half = solid.radius, solid.length / 2
    flat = math.hypot(ax, ay)
    reach = abs(az) * half + r * flat
    if flat < 1e-9:
        return Shadow((), ((x, y), r), z - reach, z + reach)
    ux, uy = ax / flat, ay / flat
    squeeze = abs(az) * r  # half axis of the ends' ellipses along the cylinder's own direction
    count = 1 if squeeze < 1e-9 else max(8, math.ceil(math.pi / math.acos(1 - min(CHORD / r, 1.0)) / 2))
    points: list[Vec2] = []
    for side in (1, -1):
        for k in range(count + 1):
            t = -math.pi / 2 + math.pi * k / count
            along, across = side * (half * flat + squeeze * math.cos(t)), side * r * math.sin(t)
            points.append((x + along * ux - across * uy, y + along * uy + across * ux))
    return Shadow(convex_hull(points), None, z - reach, z + reach)


def area_of(shadows: Sequence[Shadow], chords: int) -> tuple[Any, list[tuple[Vec2, float]]]:
    """What several shadows cover together as a shapely geometry, circles as so many chords, and those circles."""
    from shapely.geometry import Polygon
    from shapely.ops import unary_union

    circles = [s.circle for s in shadows if s.circle is not None]
    faces = [Polygon(s.points) for s in shadows if s.circle is None and len(s.points) > 2]
    faces += [Polygon(_turns(chords) * r + c) for c, r in circles]
    return unary_union(faces), circles


@lru_cache(maxsize=4)
def _turns(chords: int) -> Any:
    """So many points (n, 2) of the unit circle."""
    import numpy as np

    return np.array([(math.cos(2 * math.pi * k / chords), math.sin(2 * math.pi * k / chords)) for k in range(chords)])
