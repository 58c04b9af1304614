"""Who must be told of a change, and why.

What each consumer keeps from its start: robot_state_publisher takes a new ``robot_description`` parameter at run time
and sends the fixed transforms again (ros/robot_state_publisher, src/robot_state_publisher.cpp), together with every one
that it has sent before (ros2/geometry2, tf2_ros/src/static_transform_broadcaster.cpp, ``net_message_``); tf2 listeners never
forget a frame; AMCL and SLAM look up the lidar's pose with its first scan and keep it (navigation2
nav2_amcl/src/amcl_node.cpp ``frame_to_laser_``, slam_toolbox src/slam_toolbox_common.cpp ``lasers_``);
robot_localization looks it up with every message, but in relative mode counts from the first one; Nav2, the
controllers, the filters and who makes a scan of a cloud or depth image read their parameters when they are configured;
controller_manager takes no second description for hardware that is loaded (ros2_control controller_manager.cpp
``robot_description_callback``); a simulator holds the model that it was given.
"""
from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from chassis_describe.assembly.model import Assembly
from chassis_describe.changes.figures import FigureChanges
from chassis_describe.changes.joints import JointChange
from chassis_describe.facts.heights import heights_of
from chassis_describe.facts.kinds_of_sensor import is_scanner
from chassis_describe.facts.looks import marks_obstacles
from chassis_describe.facts.own_cloud import OwnBox, own_clouds
from chassis_describe.facts.sight import arcs_of
from chassis_describe.facts.slam_lidar import depth_for_scan, source_of_scan
from chassis_describe.values import dataclass
from chassis_describe.words import listing

#: Who publishes the description.
PUBLISHER = "robot_state_publisher"


class Restart(NamedTuple):
    """``action``: ``restart``, ``reload`` (takes it while running), ``calibrate``, ``map again`` or ``compile again``."""

    consumer: str
    action: str
    because: str


@dataclass(frozen=True, kw_only=True)
class WhatChanged:
    """What has changed, as a consumer asks for it. ``frames``: old name → new name of those that stayed."""

    old: Assembly
    new: Assembly
    frames: Mapping[str, str]
    moved: Sequence[str]
    added: Sequence[str]
    removed: Sequence[str]
    renamed: Sequence[tuple[str, str]]
    changed: FigureChanges
    joints: Sequence[JointChange] = ()

    @property
    def gone(self) -> list[str]:
        """Frames that there are no more, or under another name."""
        return [*self.removed, *(name for name, _ in self.renamed)]

    @property
    def sent_on(self) -> list[str]:
        """Frames that were fixed and are no more, or move now: robot_state_publisher sends them as fixed until it ends."""
        fixed = {j.child for j in self.new.joints if j.type == "fixed"}
        return [j.child for j in self.old.joints if j.type == "fixed" and j.child not in fixed]

    def affected(self, *kinds: str) -> list[str]:
        """Frames of sensors of those kinds that moved, came, went or were renamed."""
        return sorted(self.touched & _frames(self.old, self.new, kinds))

    @property
    def touched(self) -> set[str]:
        """Frames that moved, came, went or were renamed."""
        return {*self.moved, *self.added, *self.gone, *(name for _, name in self.renamed)}


class Consumer(NamedTuple):
    """Somebody who keeps what it was once told. ``because``: why it must hear of a difference; None: it needn't."""

    name: str
    action: str
    because: Callable[[WhatChanged], str | None]


def _footprint(d: WhatChanged) -> str | None:
    if d.changed.footprint or d.changed.footprint_swept or d.changed.circumscribed_radius or d.changed.inscribed_radius:
        return "the footprint has changed (a running costmap also takes it on its topic `footprint`)"
    return None


def _observers(d: WhatChanged) -> str | None:
    """Nav2 keeps which sensors mark obstacles; its collision monitor stops the robot for one that sends nothing (navigation2
    {branch}:nav2_collision_monitor/src/collision_monitor_node.cpp)."""
    before = {d.frames.get(f.frame, f.frame) for f in d.old.sensors if marks_obstacles(d.old, f)}
    now = {f.frame for f in d.new.sensors if marks_obstacles(d.new, f)}
    if before == now:
        return None
    gone = before - now
    return (f"other sensors mark obstacles: {listing(sorted(before ^ now))}"
            + ("; a source that is gone stops the robot" if gone else ""))


def _courses(d: WhatChanged) -> str | None:
    if d.joints:
        return f"it keeps where joints start and how far they go: {listing([j.joint for j in d.joints])}"
    return None


def _filters(d: WhatChanged) -> str | None:
    """Only scans are filtered by angle, and only those of which the robot blocks something, before or now."""
    scans = {d.frames.get(f.frame, f.frame) for a in (d.old, d.new) for f in a.sensors if is_scanner(f) and arcs_of(a)[f.frame]}
    changed = {frame for frame, lidar in d.changed.lidars.items() if lidar.arcs is not None}
    return "the arcs that the robot blocks have changed" if scans & changed else None


def _cloud_filters(d: WhatChanged) -> str | None:
    """Boxes are in the root frame: they move with what they cut out, whether the sensor moved or not."""
    before = {d.frames.get(frame, frame): cloud.boxes for frame, cloud in own_clouds(d.old).items() if cloud.boxes}
    now = {frame: cloud.boxes for frame, cloud in own_clouds(d.new).items() if cloud.boxes}
    frames = sorted(frame for frame in {*before, *now} if not _alike(before.get(frame, ()), now.get(frame, ())))
    return f"other boxes hold the robot itself in the cloud: {listing(frames)}" if frames else None


def _made_scan(d: WhatChanged) -> str | None:
    """Who makes a scan of a cloud or depth image keeps angles, ranges and heights, all worked out from where things are."""
    before, now = source_of_scan(d.old), source_of_scan(d.new)
    if before is None or now is None:
        return None
    if d.frames.get(before.frame, before.frame) != now.frame or {before.frame, now.frame} & d.touched:
        return f"its angles, ranges and heights go with the place of {now.frame}"
    bands = [(heights.clearance, heights.top) for heights in map(heights_of, (d.old, d.new))]
    return "the heights of obstacles have changed" if max(abs(a - b) for a, b in zip(*bands)) >= 1e-3 else None


def _mapping(d: WhatChanged) -> str | None:
    """A scan of a depth image is in the camera's frame; of a cloud it is in the root's, which stays."""
    cameras = {facet.frame for facet in map(depth_for_scan, (d.old, d.new)) if facet is not None}
    frames = sorted({*d.affected("lidar"), *(cameras & d.touched)})
    return f"they keep where the sensor was at its first scan: {listing(frames)}" if frames else None


def _alike(one: Sequence[OwnBox], other: Sequence[OwnBox]) -> bool:
    """Whether the boxes are the same, whatever stands in them is called."""
    return [(b.low, b.high) for b in one] == [(b.low, b.high) for b in other]


def _wheels(d: WhatChanged) -> str | None:
    c = d.changed
    if (c.wheel_separation or c.wheel_radius or c.wheel_base or c.steer_track or c.wheel_circle
            or _wheel_names(d.old) != _wheel_names(d.new)):
        return "wheel geometry or names have changed"
    return None


def _circle(d: WhatChanged) -> str | None:
    return "the smallest circle that it can turn on has changed" if d.changed.turning_radius else None


def _topics(d: WhatChanged) -> str | None:
    frames = dict.fromkeys(name.partition(".")[0] for name in d.changed.topics_of_stayed)
    return f"another topic: {listing(frames)}" if frames else None


def _settings(d: WhatChanged) -> str | None:
    settings = d.changed.settings
    return f"other settings under `ros`: {listing(settings)}" if settings else None


def _meshes(d: WhatChanged) -> str | None:
    return f"it holds the old meshes of {listing(d.changed.meshes)}" if d.changed.meshes else None


def _scans(d: WhatChanged) -> str | None:
    heights = _scan_heights(d.old, d.new, d.frames)
    return f"the lidar scans another height, which shows other things: {listing(heights)}" if heights else None


def _kept(words: str, *kinds: str) -> Callable[[WhatChanged], str | None]:
    """For who keeps where a sensor of some kind was."""
    return lambda d: f"{words}: {listing(d.affected(*kinds))}" if d.affected(*kinds) else None


#: Who must be told, in the order in which they are named. The source of what each one keeps is at the head of this file.
CONSUMERS: tuple[Consumer, ...] = (
    Consumer(PUBLISHER, "reload", lambda d: None if d.sent_on else "the description has changed"),
    Consumer(PUBLISHER, "restart",
             lambda d: f"it goes on sending fixed frames that it sent once: {listing(d.sent_on)}" if d.sent_on else None),
    Consumer("every tf2 listener", "restart",
             lambda d: f"listeners never forget a frame: {listing(d.gone)}" if d.gone else None),
    Consumer("Nav2 costmaps and collision monitor", "restart", _footprint),
    Consumer("Nav2 costmaps and collision monitor", "restart", _observers),
    Consumer("SLAM and localization", "restart", _mapping),
    Consumer("maps", "map again", _scans),
    Consumer("laser filter", "restart", _filters),
    Consumer("cloud filter", "restart", _cloud_filters),
    Consumer("scan from a cloud or depth image", "restart", _made_scan),
    Consumer("drive controller", "restart", _wheels),
    Consumer("controller_manager", "restart", _courses),
    Consumer("Nav2 planner and controller", "restart", _circle),
    Consumer("subscribers", "restart", _topics),
    Consumer("what was compiled", "compile again", _settings),
    Consumer("what was compiled", "compile again", _meshes),
    Consumer("robot_localization", "restart", _kept(
        "in relative mode it counts from the first message, which was of the old mounting", "imu", "gnss")),
    Consumer("simulator", "restart", lambda d: "it holds the old model"),
)


def restarts(difference: WhatChanged) -> tuple[Restart, ...]:
    """Every consumer that holds something which has changed, then what to calibrate anew."""
    d = difference
    if not (d.moved or d.added or d.removed or d.renamed or d.changed or d.joints):
        return ()
    told = [Restart(c.name, c.action, words) for c in CONSUMERS if (words := c.because(d)) is not None]
    sensors = {s.message_frame for s in d.new.sensors if s.sensor.kind in ("lidar", "camera", "depth_camera", "imu")}
    corrected = {s.message_frame for s in d.new.sensors if s.stale}
    lost = sorted((sensors | corrected) & {*d.moved, *d.added})
    told_of = {True: "its correction was measured in another place: calibrate again",
               False: "what was calibrated with the old mounting no longer holds"}
    return (*told, *(Restart(frame, "calibrate", told_of[frame in corrected]) for frame in lost))


def _scan_heights(old: Assembly, new: Assembly, frames: Mapping[str, str]) -> list[str]:
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
    return words


def _frames(old: Assembly, new: Assembly, kinds: tuple[str, ...]) -> set[str]:
    return {frame for assembly in (old, new) for s in assembly.sensors if s.sensor.kind in kinds
            for frame in (s.frame, s.message_frame)}


def _wheel_names(assembly: Assembly) -> tuple[tuple[str, ...], ...]:
    drive = assembly.drive
    if drive is None:
        return ()
    sides = (drive.left, drive.right, drive.around)
    return (*(tuple(w.joint for w in side) for side in sides), tuple(s.moving.joint for s in drive.steered))
