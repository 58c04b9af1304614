"""``docs/frames.md``: every frame with its numbers and its play, for people."""
from __future__ import annotations

import math
from collections.abc import Iterable

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.frames import frame_rows
from chassis_describe.facts.looks import DEGREE, looks_of
from chassis_describe.space.pose import Pose
from chassis_describe.targets.names import PageNames
from chassis_describe.targets.package.launch_files import CAUTIONS
from chassis_describe.targets.target import Target
from chassis_describe.words import plain

_HEAD = """\
# Frames of {robot}

Written by chassis_describe from the layout in `layout/`; edit the layout and compile again.

Each frame in its parent: metres, x forward, y left, z up (REP-103); roll, pitch, yaw about fixed axes, degrees.
Quaternions are x y z w. The root is `{root}`. A wheel's row is its place; it turns about its own y.

**Play** is how far the frame can be off against `{base}` because holes are larger than screws: shift in mm, twist in
degrees, worst cases added along the chain of supports. A dash: held by tape or straps, so no figure can be given.

| frame | parent | x | y | z | roll | pitch | yaw | quaternion | play |
|---|---|---|---|---|---|---|---|---|---|
"""
_SENSORS = """
## What sensors put into their messages

| placement | sensor | kind | `frame_id` | it |
|---|---|---|---|---|
"""
_CALIBRATED = """
## Calibrated sensors

Poses in base_link: x y z in metres, roll pitch yaw in degrees.

| frame | as bolted | with the correction | applied |
|---|---|---|---|
"""


def artifacts(assembly: Assembly) -> Iterable[Artifact]:
    """The page, ASCII, one row for each joint in the order of the tree."""
    rows = [_HEAD.format(robot=assembly.robot, root=assembly.root, base=assembly.base)]
    for row in frame_rows(assembly):
        # Rounded to what a workshop can see: a nanometre, a millionth of a degree.
        cells = [f"`{row.child}`", f"`{row.parent}`", *(plain(v, 9) for v in row.pose.t),
                 *(plain(math.degrees(v), 6) for v in row.pose.rpy),
                 " ".join(plain(v, 9) for v in row.pose.quaternion), _play(row.shift_mm, row.twist_deg)]
        rows.append(f"| {' | '.join(cells)} |\n")
    if assembly.sensors:
        rows.append(_SENSORS)
        rows += [f"| {s.placement} | {s.sensor.name} | {s.sensor.kind.replace('_', ' ')} | `{s.message_frame}` | "
                 f"{looks_of(assembly, s).replace(DEGREE, ' deg')} |\n"
                 for s in assembly.sensors]
    calibrated = [s for s in assembly.sensors if s.nominal is not None]
    if calibrated:
        rows.append(_CALIBRATED)
        rows += [f"| `{s.frame}` | {_pose(s.nominal)} | {_pose(s.pose)} | {'no' if s.stale else 'yes'} |\n"
                 for s in calibrated if s.nominal is not None]
    rows.append("\n## Cautions\n\n" + "".join(f"- {caution}\n" for caution in CAUTIONS)
                + "- Tip-over and load figures are static estimates of a rigid model.\n")
    yield Artifact(path="docs/frames.md", data="".join(rows).encode("ascii"))


def _pose(pose: Pose) -> str:
    return (" ".join(plain(v, 9) for v in pose.t) + ", " + " ".join(plain(math.degrees(v), 6) for v in pose.rpy))


def _play(shift_mm: float | None, twist_deg: float | None) -> str:
    return "-" if shift_mm is None or twist_deg is None else f"{plain(shift_mm, 3)} mm, {plain(twist_deg, 2)} deg"


TARGET = Target(artifacts=artifacts, names=PageNames(frames=("frame", "parent", "frame_id")))
