"""Who must be told of a change, and why.

What each consumer keeps from its start: robot_state_publisher takes a new ``robot_description`` parameter at run time
and sends the fixed transforms again (ros/robot_state_publisher, src/robot_state_publisher.cpp); tf2 listeners never
forget a frame; Nav2, the controllers, the laser filter and robot_localization read their parameters when they are
configured; a simulator holds the model that it was given.
"""
from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from chassis_describe.assembly.model import Assembly


class Restart(NamedTuple):
    """``action``: ``restart``, ``reload`` (takes it while running) or ``calibrate``."""

    consumer: str
    action: str
    because: str


def restarts(old: Assembly, new: Assembly, *, moved: Sequence[str], added: Sequence[str], removed: Sequence[str],
             renamed: Sequence[tuple[str, str]], changed: Mapping[str, tuple[Any, Any]]) -> tuple[Restart, ...]:
    """Every consumer that holds something which has changed."""
    out: list[Restart] = []
    if not (moved or added or removed or renamed or changed):
        return ()
    out.append(Restart("robot_state_publisher", "reload", "the description has changed"))
    gone = [*removed, *(name for name, _ in renamed)]
    if gone:
        out.append(Restart("every tf2 listener", "restart", f"listeners never forget a frame: {_some(gone)}"))
    if {"footprint", "circumscribed_radius", "inscribed_radius"} & changed.keys():
        out.append(Restart("Nav2 costmaps and collision monitor", "restart", "the footprint has changed"))
    affected = {*moved, *added, *gone, *(name for _, name in renamed)}
    lidars = _frames(old, new, ("lidar",)) & affected
    if lidars:
        out.append(Restart("SLAM and localization", "restart", f"they keep where the lidar was: {_some(sorted(lidars))}"))
    if any(key.endswith(".arcs") for key in changed):
        out.append(Restart("laser filter", "restart", "the arcs that the robot blocks have changed"))
    if {"wheel_separation", "wheel_radius"} & changed.keys() or _wheel_names(old) != _wheel_names(new):
        out.append(Restart("drive controller", "restart", "wheel geometry or names have changed"))
    imus = _frames(old, new, ("imu", "gnss")) & affected
    if imus:
        out.append(Restart("robot_localization", "restart", f"it looks up how the sensor is mounted: {_some(sorted(imus))}"))
    out.append(Restart("simulator", "restart", "it holds the old model"))
    sensors = _frames(old, new, ("lidar", "camera", "depth_camera", "imu")) & {*moved, *added}
    out += [Restart(frame, "calibrate", "it has moved: a calibration of its mounting is void")
            for frame in sorted(sensors)]
    return tuple(out)


def _frames(old: Assembly, new: Assembly, kinds: tuple[str, ...]) -> set[str]:
    return {frame for assembly in (old, new) for s in assembly.sensors if s.sensor.kind in kinds
            for frame in (s.frame, s.message_frame)}


def _wheel_names(assembly: Assembly) -> tuple[tuple[str, ...], ...]:
    drive = assembly.drive
    return () if drive is None else (tuple(w.joint for w in drive.left), tuple(w.joint for w in drive.right))


def _some(names: Sequence[str], most: int = 4) -> str:
    shown = ", ".join(names[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"
