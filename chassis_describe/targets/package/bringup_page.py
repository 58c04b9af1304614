"""docs/bringup.md: which file goes where in whose stack, for people; what was not tried is said.

The head, the table of files and the cautions are here; everything else is what the targets say of themselves.
"""
from __future__ import annotations

from collections.abc import Iterator, Sequence

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly
from chassis_describe.targets.names import PageNames
from chassis_describe.targets.package.launch_files import CAUTIONS
from chassis_describe.targets.package.manifest import package_name
from chassis_describe.targets.target import Target, Written, nothing

PATH = "docs/bringup.md"
ROBOT = "{robot}"  # stands for the robot's name in what targets say

_HEAD = """\
# Bringing {robot} up

Written by chassis_describe for ROS 2 {distro} from the layout in `layout/`. Every file here holds what the geometry
decides; your own parameter files come after it and win.

**Not tried on a robot.** Names and types were taken from the consumers' sources, and the files are read back by YAML
and URDF parsers; nobody has driven this robot with them. Read them before you do.

In the commands `SHARE` stands for `$(ros2 pkg prefix --share {package})`.
"""
_CAUTIONS = (
    "Batteries, lasers and motors: follow their makers' instructions and local rules.",
    "Tip-over and load figures are static estimates of a rigid model.",
)
_TARGET = Target(artifacts=nothing, names=PageNames(frames=("frame_id",), topics=("topic",)))


def bringup(assembly: Assembly, written: Sequence[Written]) -> Written:
    """The page on what the other targets have written."""
    paths = frozenset(file.path for one in written for file in one.files)
    pieces = [_HEAD.format(robot=assembly.robot, distro=assembly.layout.ros.distro, package=package_name(assembly.robot))]
    rows = list(_rows(assembly, written))
    if rows:
        pieces.append("| file | goes to |\n|---|---|\n" + "".join(rows))
    pieces += [piece for one in written for piece in one.target.page(assembly, paths)]
    pieces.append("## Cautions\n\n" + "".join(f"- {caution}\n" for caution in (*CAUTIONS, *_CAUTIONS)))
    return Written(target=_TARGET, files=(Artifact(path=PATH, data="\n".join(pieces).encode("ascii", "replace")),))


def _rows(assembly: Assembly, written: Sequence[Written]) -> Iterator[str]:
    for one in written:
        paths = {file.path for file in one.files}
        for pattern, taker in one.target.takers.items():
            path = pattern.format(robot=assembly.robot)
            if path in paths:
                yield f"| `{path}` | {taker.replace(ROBOT, assembly.robot)} |\n"
