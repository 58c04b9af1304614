"""What the geometry of a robot decides in parameter files, by the names that the values have there. SI, radians."""
from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.kinds_of_sensor import is_scanner
from chassis_describe.facts.sectors import blocked_sectors
from chassis_describe.facts.swept_outline import driving_outline
from chassis_describe.targets.names import nodes
from chassis_describe.targets.stack import controllers
from chassis_describe.targets.stack.drive_controllers import controller_name
from chassis_describe.targets.stack.laser_filter import node_name
from chassis_describe.targets.stack.outline import millimetres_up, radii, robot_radius
from chassis_describe.targets.stack.topics import MAP_FRAME, odom_frame

Point = tuple[float, float]

#: What of a drive controller's parameters the geometry decides, whole names below ``ros__parameters``; ros2_controllers
#: {humble,jazzy,kilted,master}: diff_drive_controller, mecanum_drive_controller, steering_controllers_library with
#: ackermann_ and tricycle_steering_controller, omni_wheel_drive_controller, each its src/*parameter(s).yaml.
#: Multipliers are calibrations, so they are the user's.
OF_THE_DRIVE = frozenset({
    "wheel_separation", "wheel_radius",
    "kinematics.wheels_radius", "kinematics.sum_of_robot_center_projection_on_X_Y_axis",
    "wheelbase", "traction_track_width", "steering_track_width", "traction_wheels_radius", "steering_wheels_radius",
    "front_wheel_track", "rear_wheel_track", "front_wheels_radius", "rear_wheels_radius",
})
#: omni_wheel_drive_controller has its own meaning of `robot_radius` (base to wheel); its parameters have this one beside it.
OMNI_MARK, OMNI_RADIUS = "wheel_offset", "robot_radius"


class Wanted(NamedTuple):
    """``radius``: the circle around the footprint, with Nav2's own 16-gon around everything. ``drive``: by whole name.
    ``sectors``: by the name of a lidar's filter node, lower and upper angles in rising order. ``above``: frames over the
    robot's own tree."""

    namespace: str | None
    footprint: tuple[Point, ...]
    radius: float | None
    drive: Mapping[str, float]
    sectors: Mapping[str, tuple[tuple[float, float], ...]]
    frames: frozenset[str]
    above: frozenset[str]


def wanted(assembly: Assembly) -> Wanted:
    """All of it. A robot without ground has no footprint, one without a drive no wheels to name."""
    outline = tuple((float(x), float(y)) for x, y in driving_outline(assembly))
    radius = None
    if len(outline) >= 3:
        radius = robot_radius(assembly) or millimetres_up(radii(assembly).circumscribed / math.cos(math.pi / 16))
    blocked = blocked_sectors(assembly)
    return Wanted(
        namespace=assembly.layout.ros.namespace or None,
        footprint=outline if len(outline) >= 3 else (),
        radius=radius,
        drive=dict(_drive(assembly)),
        sectors={node_name(assembly, f): tuple((s.lower, s.upper) for s in blocked.get(f.frame, ()))
                 for f in assembly.sensors if is_scanner(f)},
        frames=frozenset(assembly.poses),
        above=frozenset({MAP_FRAME, odom_frame(assembly), "odom", "earth", "utm", "world"}))


def _drive(assembly: Assembly) -> Iterator[tuple[str, float]]:
    """From what is written for the drive's controller itself, so that both always say the same."""
    import yaml

    drive = assembly.drive
    for artifact in controllers.artifacts(assembly) if drive is not None else ():
        for node, parameters in nodes(yaml.load(artifact.data, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))):
            if drive is not None and node.rsplit("/", 1)[-1] == controller_name(drive):
                for name, value in _flat("", parameters):
                    if isinstance(value, float) and (name in OF_THE_DRIVE or (name == OMNI_RADIUS and OMNI_MARK in parameters)):
                        yield name, value


def _flat(above: str, tree: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    for key, value in tree.items():
        if isinstance(value, Mapping):
            yield from _flat(f"{above}{key}.", value)
        else:
            yield f"{above}{key}", value
