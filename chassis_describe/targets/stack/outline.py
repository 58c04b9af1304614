"""The robot's outline as Nav2 takes it: a string of points, a flat list, or a radius for round robots."""
from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from chassis_describe.assembly.model import Assembly
from chassis_describe.space.plane.hull import inner_radius, outer_radius
from chassis_describe.targets.stack.ros_yaml import double

Point = tuple[float, float]

#: A robot is taken as round when its outline's corners are at most this much further from the base than its edges
#: (a costmap cell is about that; our choice).
ROUND = 1.05
#: Nav2 draws a radius as a 16-gon **inside** the circle (navigation2 jazzy:nav2_costmap_2d/src/footprint.cpp,
#: makeFootprintFromRadius; the same in humble, kilted and lyrical).
_INNER = math.cos(math.pi / 16)


class Radii(NamedTuple):
    """Of the outline about the base frame's origin, metres: to the nearest edge, to the furthest corner."""

    inscribed: float
    circumscribed: float


def radii(assembly: Assembly) -> Radii:
    """Both radii of the outline to drive by; only for a robot that stands on the ground."""
    from chassis_describe.facts.swept_outline import driving_outline

    outline = driving_outline(assembly)
    return Radii(inner_radius(outline), outer_radius(outline))


def robot_radius(assembly: Assembly) -> float | None:
    """The radius to give Nav2 for a round robot, so that even its inner 16-gon holds the outline; None when not round.

    Rounded up to 1 mm.
    """
    from chassis_describe.facts.swept_outline import driving_hull

    hull = driving_hull(assembly)  # the outline itself has corners that stand out
    inner, outer = inner_radius(hull), outer_radius(hull)
    if inner <= 0.0 or outer > ROUND * inner:
        return None
    return millimetres_up(outer / _INNER)


def footprint_text(points: Sequence[Point]) -> str:
    """``[[x, y], ...]`` on one line: Nav2's parser takes no line breaks, and closes the outline by itself."""
    return "[" + ", ".join(f"[{double(x)}, {double(y)}]" for x, y in points) + "]"


def polygon_points(points: Sequence[Point], form: str) -> str | tuple[float, ...]:
    """The outline for the collision monitor, which wants at least four points; ``form``: ``list`` or ``string``."""
    corners = list(points)
    if len(corners) == 3:  # an extra point in the middle of the longest edge changes nothing but the count
        edges = [(math.dist(corners[k], corners[(k + 1) % 3]), k) for k in range(3)]
        k = max(edges)[1]
        (ax, ay), (bx, by) = corners[k], corners[(k + 1) % 3]
        corners.insert(k + 1, ((ax + bx) / 2, (ay + by) / 2))
    if form == "string":
        return footprint_text(corners)
    return tuple(float(value) for point in corners for value in point)


def millimetres_up(value: float) -> float:
    """Rounded up to a whole millimetre; what is within a nanometre of one stays."""
    return math.ceil(value * 1e3 - 1e-6) / 1e3
