"""The remark at the head of every generated parameter file."""
from __future__ import annotations

from collections.abc import Sequence

from chassis_describe.assembly.model import Assembly
from chassis_describe.targets.stack.ros_yaml import Block


def header(assembly: Assembly, path: str, consumer: str, lines: Sequence[str]) -> Block:
    """A document that begins by saying whose it is, for which distro, and what to do with it."""
    block = Block()
    block.note(f"{path.rpartition('/')[2]}: {consumer} for {assembly.robot}, ROS 2 {assembly.layout.ros.distro}.",
               "Computed from the layout by chassis_describe; changes belong there, this file is written anew.",
               "It holds what the geometry decides. Speeds, zones and tuning are yours and stay in your own files:",
               "nodes take several parameter files, the later ones win.", *lines)
    if assembly.layout.ros.namespace:
        block.note("")
    return block
