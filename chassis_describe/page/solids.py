"""Bodies as the page shows them in space: what they are, how large, where. Millimetres, ground axes."""
from __future__ import annotations

import math
from typing import Any

from chassis_describe.assembly.model import Assembly
from chassis_describe.drawings.robot_views import ground_pose
from chassis_describe.errors import never
from chassis_describe.page.numbers import point, pose_numbers, short
from chassis_describe.space.pose import Vec3
from chassis_describe.space.solids import Box, Cylinder, Hull, Solid, Sphere


def solids_data(assembly: Assembly) -> list[list[Any]]:
    """``[owner, role, kind, size, pose]`` of every body that is to be seen."""
    ground = ground_pose(assembly)
    out = []
    for link in assembly.links:
        pose = ground @ assembly.poses[link.name]
        for body in link.bodies:
            if body.visible:
                kind, size = _shape(body.solid)
                out.append([body.owner, body.role, kind, size, pose_numbers(pose @ body.pose)])
    return out


def _shape(solid: Solid) -> tuple[str, Any]:
    if isinstance(solid, Hull):
        return "hull", [[point([v * 1e3 for v in corner]) for corner in face] for face in hull_faces(solid)]
    if isinstance(solid, Box):
        return "box", point([v * 1e3 for v in solid.size])
    if isinstance(solid, Cylinder):
        return "cylinder", [short(solid.radius * 1e3), short(solid.length * 1e3)]
    if isinstance(solid, Sphere):
        return "sphere", [short(solid.radius * 1e3)]
    raise never(solid)


def hull_faces(hull: Hull) -> list[list[Vec3]]:
    """Each plane's corners in order, counter-clockwise seen from outside."""
    size = max(hull.size)
    faces = []
    for a, b, c, offset in hull.planes:
        on = [p for p in hull.points if abs(a * p[0] + b * p[1] + c * p[2] - offset) < 1e-6 * size]
        if len(on) >= 3:
            faces.append(_around((a, b, c), on))
    return faces


def _around(normal: Vec3, corners: list[Vec3]) -> list[Vec3]:
    middle = [math.fsum(p[k] for p in corners) / len(corners) for k in range(3)]
    out = max(range(3), key=lambda k: abs(normal[k]))
    first, second = (out + 1) % 3, (out + 2) % 3  # the plane seen along its steepest axis
    turn = 1.0 if normal[out] > 0 else -1.0
    return sorted(corners, key=lambda p: turn * math.atan2(p[second] - middle[second], p[first] - middle[first]))
