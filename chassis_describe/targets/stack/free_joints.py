"""What docs/bringup.md says of joints that nothing commands or measures: joint_state_publisher fills them in.

Parameters: ros/joint_state_publisher, joint_state_publisher/joint_state_publisher/joint_state_publisher.py.
"""
from __future__ import annotations

from collections.abc import Collection, Iterator

from chassis_describe.assembly.model import Assembly
from chassis_describe.targets.description.joint_control import free_joints, joint_zeros
from chassis_describe.targets.names import Names
from chassis_describe.targets.stack.controllers import PATH
from chassis_describe.targets.stack.topics import MEASURED, in_namespace
from chassis_describe.targets.target import Target, nothing

_PAGE = """\
## Joints that nothing measures

Nothing commands or measures {joints}. joint_state_publisher tells
everybody else where they are, at the values of the layout:
"""


def _page(assembly: Assembly, paths: Collection[str]) -> Iterator[str]:
    free = free_joints(assembly)
    if not free:
        return
    zeros = joint_zeros(assembly)
    flags = [f"      -p zeros.{m.joint}:={zeros[m.joint]!r}" for m in free]
    if PATH in paths:
        flags.append(f"      -p source_list:=[{MEASURED}]")
    yield _PAGE.format(joints=", ".join(f"`{m.joint}`" for m in free))
    start = f"    ros2 run joint_state_publisher joint_state_publisher --ros-args{in_namespace(assembly)}"
    yield " \\\n".join([start, *flags]) + "\n"


def _depends(assembly: Assembly) -> Iterator[str]:
    yield "joint_state_publisher"


TARGET = Target(artifacts=nothing, names=Names(), depends=_depends, page=_page)
