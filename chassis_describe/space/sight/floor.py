"""Where instruments see the floor: scan planes, images and cones against a level plane. Metres, radians; trigonometry.

Every pose is that of the eye in a frame whose z points up and whose floor is z = 0. Distances ``along`` the floor are
from the point straight below the eye, distances ``away`` from the eye itself. Nothing stands in the way here.
"""
from __future__ import annotations

import math
from typing import NamedTuple

from chassis_describe.space.pose import Pose, Vec3, unit


class FloorPoint(NamedTuple):
    """The nearest floor point that an instrument sees; ``direction`` to it is a unit vector in the eye's axes."""

    along: float
    away: float
    direction: Vec3


def lean(eye: Pose) -> float:
    """Angle between the eye's z axis and the vertical, up or down: 0 for a level scan plane, hung or standing."""
    r = eye.r
    return math.atan2(math.hypot(r[2], r[5]), abs(r[8]))


def _seen(eye: Pose, direction: Vec3) -> FloorPoint | None:
    """The floor in a direction of the eye's axes."""
    x, y, z = eye.vector(direction)
    height = eye.t[2]
    if height <= 0.0 or z > -1e-9:
        return None
    return FloorPoint(height * math.hypot(x, y) / -z, height / -z, direction)


def plane_on_floor(eye: Pose, view: float) -> FloorPoint | None:
    """Where the beams of a flat scan (in the eye's x-y plane, ``view`` wide about x) first meet the floor: in the
    steepest direction h / tan(lean) away along the floor."""
    half = min(view, 2 * math.pi) / 2
    a = steepest_beam(eye)
    if abs(a) > half:
        a = half if math.cos(half - a) >= math.cos(half + a) else -half
    return _seen(eye, (math.cos(a), math.sin(a), 0.0))


def steepest_beam(eye: Pose) -> float:
    """The angle in the scan plane whose beam points down most steeply."""
    return math.atan2(-eye.r[7], -eye.r[6])


def floor_arc(eye: Pose, reach: float) -> float:
    """Half of the angle about the steepest beam under which a scan plane meets the floor within reach; 0: nowhere.

    The beam an angle u off the steepest sinks by sin(lean)·cos(u).
    """
    sink = math.hypot(eye.r[6], eye.r[7])
    height = eye.t[2]
    if height <= 0.0 or sink < 1e-9 or height >= reach * sink:
        return 0.0
    return math.acos(height / (reach * sink))


def image_on_floor(eye: Pose, fov: float, aspect: float) -> FloorPoint | None:
    """The nearest floor point in a pinhole image (x out of it; ``fov`` horizontal, ``aspect`` height over width).

    For a camera that is only tilted, h / tan(tilt + V/2). In general the steepest direction of the view: down
    itself, or on one of its four faces, the steepest line of that face or one of its edges.
    """
    y, z = math.tan(fov / 2), math.tan(fov / 2) * aspect
    down = (-eye.r[6], -eye.r[7], -eye.r[8])
    if down[0] > 0 and abs(down[1]) <= down[0] * y and abs(down[2]) <= down[0] * z:
        return _seen(eye, down)
    corners = [(1.0, y, z), (1.0, -y, z), (1.0, -y, -z), (1.0, y, -z)]
    found = [_seen(eye, unit(c)) for c in corners]
    for a, b in zip(corners, corners[1:] + corners[:1]):
        n = unit(_cross(a, b))
        k = _dot(down, n)
        steepest = (down[0] - k * n[0], down[1] - k * n[1], down[2] - k * n[2])
        if _dot(_cross(a, steepest), n) > 0 and _dot(_cross(steepest, b), n) > 0:
            found.append(_seen(eye, unit(steepest)))
    return min((p for p in found if p is not None), default=None, key=lambda p: p.along)


def cone_on_floor(eye: Pose, half_angle: float) -> FloorPoint | None:
    """The nearest floor point in a cone about x: h / tan(depression of the axis + half angle)."""
    down = (-eye.r[6], -eye.r[7], -eye.r[8])
    aside = math.hypot(down[1], down[2])
    off = math.atan2(aside, down[0])  # from the axis to straight down
    if off <= half_angle:
        return _seen(eye, down)
    # Straight up, every direction of the rim is as low as any other.
    y, z = (down[1] / aside, down[2] / aside) if aside > 0.0 else (1.0, 0.0)
    return _seen(eye, (math.cos(half_angle), math.sin(half_angle) * y, math.sin(half_angle) * z))


def _dot(a: Vec3, b: Vec3) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def _cross(a: Vec3, b: Vec3) -> Vec3:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])
