"""Points around solids, from outside: their hull holds the solid. Metres."""
from __future__ import annotations

import math
from typing import Any

import numpy as np

from chassis_describe.errors import never
from chassis_describe.space.pose import Pose
from chassis_describe.space.solids import Box, Cylinder, Hull, Solid, Sphere

#: Corners of a polygon around a circle, and points around a ball.
_FACETS, _BALL = 24, 80


def placed(points: Any, pose: Pose) -> Any:
    """Points (n, 3) of the inner frame of a pose, in its outer frame."""
    return points @ np.array(pose.r).reshape(3, 3).T + np.array(pose.t)


def points_around(solid: Solid, pose: Pose) -> Any:
    """Points (n, 3) whose hull holds a solid, in the outer frame of its pose."""
    if isinstance(solid, Hull):
        return placed(np.array(solid.points), pose)
    if isinstance(solid, Box):
        signs = np.array([(x, y, z) for x in (-0.5, 0.5) for y in (-0.5, 0.5) for z in (-0.5, 0.5)])
        return placed(signs * np.array(solid.size), pose)
    if isinstance(solid, Cylinder):
        angles = np.arange(_FACETS) * (2 * math.pi / _FACETS)
        rim = np.stack([np.cos(angles), np.sin(angles)], axis=1) * solid.radius / math.cos(math.pi / _FACETS)
        return placed(np.concatenate([np.column_stack([rim, np.full(_FACETS, z)]) for z in (-solid.length / 2, solid.length / 2)]),
                       pose)
    if isinstance(solid, Sphere):  # points along a spiral; each point of the ball is within 20 degrees of one of them
        k = np.arange(_BALL) + 0.5
        z, turn = 1 - 2 * k / _BALL, math.pi * (1 + 5**0.5) * k
        flat = np.sqrt(1 - z * z)
        unit = np.stack([flat * np.cos(turn), flat * np.sin(turn), z], axis=1)
        return placed(unit * solid.radius / math.cos(math.radians(20)), pose)
    raise never(solid)
