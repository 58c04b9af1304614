"""Where each sensor looks, in words: from its axes over the ground, not from what the layout says."""
from __future__ import annotations

import math
from collections.abc import Mapping

from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.facts.kinds_of_sensor import is_cloud, is_scanner
from chassis_describe.space.pose import Vec3

#: The one sign in these words that is not ASCII.
DEGREE = "\N{DEGREE SIGN}"
_OCTANTS = ("forward", "forward and left", "left", "back and left", "back", "back and right", "right", "forward and right")
#: A direction within this of straight up or down has no side (rad): half an octant, our choice.
_STEEP = math.radians(67.5)
#: Less than this is level (rad).
_LEVEL = math.radians(1.0)
#: The z axis this near to level means that the sensor lies on its side (its cosine to the vertical).
_ON_SIDE = 0.5
#: A camera or ranger whose axis points up more steeply than this (rad) looks at the ceiling: a tilting head that looks people
#: in the face stays below it, a board that lies on its back is above (common practice). The same angle downward for the floor.
CEILING = math.radians(60)


def looks(assembly: Assembly) -> Mapping[str, str]:
    """By frame: direction of the sensor's x axis, its attitude where it isn't upright, and its height (mm)."""
    return {facet.frame: looks_of(assembly, facet) for facet in assembly.sensors}


def looks_of(assembly: Assembly, facet: SensorFacet) -> str:
    """``looks back and right, upside down, 107 mm up``."""
    pose = assembly.poses[assembly.root].inverse() @ facet.pose
    ahead, top = (pose.r[0], pose.r[3], pose.r[6]), (pose.r[2], pose.r[5], pose.r[8])
    words = [f"looks {direction(ahead)}"]
    if abs(math.asin(max(-1.0, min(1.0, ahead[2])))) >= _STEEP:
        words.append(f"its top {direction(top)}")
    elif top[2] < -_ON_SIDE:
        words.append("upside down")
    elif top[2] <= _ON_SIDE:
        words.append(f"on its side, its top {direction(top)}")
    where = "above the ground" if assembly.rest is not None else f"above {assembly.root}"
    return ", ".join([*words, f"{pose.t[2] * 1e3:.0f} mm {where}"])


def measures_around(assembly: Assembly, facet: SensorFacet) -> bool:
    """Whether a ranger measures what is around the robot, not the floor below it or the ceiling."""
    up = (assembly.poses[assembly.root].inverse() @ facet.pose).r[6]
    return facet.sensor.looks is None and abs(math.asin(max(-1.0, min(1.0, up)))) <= CEILING


def marks_obstacles(assembly: Assembly, facet: SensorFacet) -> bool:
    """Whether Nav2 takes obstacles from it: lidars, depth cameras, and rangers that measure what is around the robot."""
    return is_scanner(facet) or is_cloud(facet) or (facet.sensor.kind == "ranger" and measures_around(assembly, facet))


def direction(v: Vec3) -> str:
    """A unit vector (x forward, y left, z up) in words: octant, and degrees up or down."""
    up = math.asin(max(-1.0, min(1.0, v[2])))
    if abs(up) >= _STEEP:
        return "up" if up > 0 else "down"
    octant = _OCTANTS[round(math.atan2(v[1], v[0]) / (math.pi / 4)) % 8]
    return octant if abs(up) < _LEVEL else f"{octant}, {abs(math.degrees(up)):.0f}{DEGREE} {'up' if up > 0 else 'down'}"
