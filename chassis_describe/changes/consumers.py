"""Who must be told of a change, and why.

What each consumer keeps from its start: robot_state_publisher takes a new ``robot_description`` parameter at run time
and sends the fixed transforms again (ros/robot_state_publisher, src/robot_state_publisher.cpp); tf2 listeners never
forget a frame; AMCL and SLAM look up the lidar's pose with its first scan and keep it (navigation2
nav2_amcl/src/amcl_node.cpp ``frame_to_laser_``, slam_toolbox src/slam_toolbox_common.cpp ``lasers_``);
robot_localization looks it up with every message, but in relative mode counts from the first one; Nav2, the
controllers and the laser filter read their parameters when they are configured; a simulator holds the model that it
was given.
"""
from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from chassis_describe.assembly.model import Assembly


class Restart(NamedTuple):
    """``action``: ``restart``, ``reload`` (takes it while running), ``calibrate``, ``map again`` or ``compile again``."""

    consumer: str
    action: str
    because: str


def restarts(old: Assembly, new: Assembly, *, frames: Mapping[str, str], moved: Sequence[str], added: Sequence[str],
             removed: Sequence[str], renamed: Sequence[tuple[str, str]],
             changed: Mapping[str, tuple[Any, Any]]) -> tuple[Restart, ...]:
    """Every consumer that holds something which has changed. ``frames``: old name → new name of those that stayed."""
    out: list[Restart] = []
    if not (moved or added or removed or renamed or changed):
        return ()
    out.append(Restart("robot_state_publisher", "reload", "the description has changed"))
    gone = [*removed, *(name for name, _ in renamed)]
    if gone:
        out.append(Restart("every tf2 listener", "restart", f"listeners never forget a frame: {_some(gone)}"))
    if {"footprint", "circumscribed_radius", "inscribed_radius"} & changed.keys():
        out.append(Restart("Nav2 costmaps and collision monitor", "restart", "the footprint has changed (a running costmap "
                           "also takes it on its topic `footprint`)"))
    affected = {*moved, *added, *gone, *(name for _, name in renamed)}
    lidars = _frames(old, new, ("lidar",)) & affected
    if lidars:
        out.append(Restart("SLAM and localization", "restart",
                           f"they keep where the lidar was at its first scan: {_some(sorted(lidars))}"))
    heights = _scan_heights(old, new, frames)
    if heights:
        out.append(Restart("maps", "map again", f"the lidar scans another height, which shows other things: {heights}"))
    if any(key.endswith(".arcs") for key in changed):
        out.append(Restart("laser filter", "restart", "the arcs that the robot blocks have changed"))
    if {"wheel_separation", "wheel_radius"} & changed.keys() or _wheel_names(old) != _wheel_names(new):
        out.append(Restart("drive controller", "restart", "wheel geometry or names have changed"))
    topics = [key.removesuffix(".topic") for key, (was, now) in changed.items() if key.endswith(".topic") and was and now]
    if topics:
        out.append(Restart("subscribers", "restart", f"another topic: {_some(topics)}"))
    settings = [key.removeprefix("ros.") for key in changed if key.startswith("ros.")]
    if settings:
        out.append(Restart("what was compiled", "compile again", f"other settings under `ros`: {_some(settings)}"))
    imus = _frames(old, new, ("imu", "gnss")) & affected
    if imus:
        out.append(Restart("robot_localization", "restart", f"in relative mode it counts from the first message, which "
                           f"was of the old mounting: {_some(sorted(imus))}"))
    out.append(Restart("simulator", "restart", "it holds the old model"))
    sensors = {s.message_frame for s in new.sensors if s.sensor.kind in ("lidar", "camera", "depth_camera", "imu")}
    out += [Restart(frame, "calibrate", "what was calibrated with the old mounting no longer holds")
            for frame in sorted(sensors & {*moved, *added})]
    return tuple(out)


def _scan_heights(old: Assembly, new: Assembly, frames: Mapping[str, str]) -> str:
    """Lidars that scan at another height over the ground, in words; a millimetre is the play of the screws."""
    words = []
    before = {frames.get(s.frame, s.frame): old.poses[old.root].inverse() @ s.pose for s in old.sensors
              if s.sensor.kind == "lidar"}
    for sensor in new.sensors:
        was = before.get(sensor.frame)
        if was is not None and sensor.sensor.kind == "lidar":
            now = new.poses[new.root].inverse() @ sensor.pose
            if abs(now.t[2] - was.t[2]) >= 1e-3:
                words.append(f"{sensor.frame} {was.t[2] * 1e3:.0f} mm before, {now.t[2] * 1e3:.0f} mm now")
    return _some(words)


def _frames(old: Assembly, new: Assembly, kinds: tuple[str, ...]) -> set[str]:
    return {frame for assembly in (old, new) for s in assembly.sensors if s.sensor.kind in kinds
            for frame in (s.frame, s.message_frame)}


def _wheel_names(assembly: Assembly) -> tuple[tuple[str, ...], ...]:
    drive = assembly.drive
    return () if drive is None else (tuple(w.joint for w in drive.left), tuple(w.joint for w in drive.right))


def _some(names: Sequence[str], most: int = 4) -> str:
    shown = ", ".join(names[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"
