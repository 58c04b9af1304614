"""How high the robot's body stands over the ground: clearance below it and its top. Metres, in the root frame."""
from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from chassis_describe.assembly.model import Assembly
from chassis_describe.layout.model import CircleShape, RectangleShape, Shape
from chassis_describe.space.pose import Pose, Vec3
from chassis_describe.space.solids import Box, Cylinder, Solid


class Heights(NamedTuple):
    """Lowest point of everything but wheels and casters (never below 0), and the highest point of everything."""

    clearance: float
    top: float


def heights(assembly: Assembly) -> Heights:
    """Over the ground that the root stands on."""
    rolling = {w.placement for w in assembly.wheels} | {c.placement for c in assembly.casters}
    base_in_root = assembly.poses[assembly.root].inverse()
    lowest, highest = math.inf, -math.inf
    for link in assembly.links:
        link_in_root = base_in_root @ assembly.poses[link.name]
        for body in link.bodies:
            low, high = _extent(body.solid, link_in_root @ body.pose)
            highest = max(highest, high)
            if link.owner not in rolling:
                lowest = min(lowest, low)
    for facet in assembly.decks.values():
        deck_in_root = base_in_root @ facet.pose
        for low, high in _plate(facet.deck.outline, facet.deck.thickness, deck_in_root):
            lowest, highest = min(lowest, low), max(highest, high)
    if not math.isfinite(highest):
        return Heights(0.0, 0.0)
    return Heights(max(lowest, 0.0) if math.isfinite(lowest) else 0.0, highest)


def _extent(solid: Solid, pose: Pose) -> tuple[float, float]:
    """Lowest and highest z of a solid: its support along z."""
    x, y, z = pose.r[6:9]  # the z components of the solid's own axes
    if isinstance(solid, Box):
        half = (abs(x) * solid.size[0] + abs(y) * solid.size[1] + abs(z) * solid.size[2]) / 2
    elif isinstance(solid, Cylinder):
        half = abs(z) * solid.length / 2 + solid.radius * math.sqrt(max(0.0, 1.0 - z * z))
    else:
        half = solid.radius
    return pose.t[2] - half, pose.t[2] + half


def _plate(outline: Shape, thickness: float, pose: Pose) -> Iterator[tuple[float, float]]:
    """Lowest and highest z of the outline's points on both faces; a circle as the disc that it is."""
    if isinstance(outline, CircleShape):
        centre = (outline.centre[0], outline.centre[1], -thickness / 2)
        yield _extent(Cylinder(outline.diameter / 2, thickness), Pose(pose.r, pose.point(centre)))
        return
    for point in _points(outline, thickness):
        z = pose.point(point)[2]
        yield z, z


def _points(outline: Shape, thickness: float) -> Iterator[Vec3]:
    """Corners on both faces; rounded corners taken as sharp ones (a standing plate comes out lower by that much)."""
    if isinstance(outline, RectangleShape):
        (w, h), (cx, cy) = outline.size, outline.centre
        flat = [(cx + sx * w / 2, cy + sy * h / 2) for sx in (-1, 1) for sy in (-1, 1)]
    else:
        assert not isinstance(outline, CircleShape)
        flat = list(outline.points)
    for x, y in flat:
        yield (x, y, 0.0)
        yield (x, y, -thickness)
