"""A ``<ros2_control>`` element for each placement with motors of its own: a servo head, a lift, a gripper.

A servo head rarely shares the wheels' driver, so each placement is a system by itself. Form and facts: ros2_control
{branch}:hardware_interface/src/component_parser.cpp and doc/joints_userdoc.rst. A follower has no command interface and its
leader is in the same element; Humble takes leader and multiplier from parameters (no offset), later ones from ``<mimic>``.
"""
from __future__ import annotations

from typing import TYPE_CHECKING

from chassis_describe.assembly.model import Assembly, MovingFacet

if TYPE_CHECKING:
    from lxml import etree


def driven_placements(assembly: Assembly) -> dict[str, tuple[MovingFacet, ...]]:
    """By placement what its own motors move, followers too; nothing with ``control: none``. Steering is the drive's."""
    out: dict[str, tuple[MovingFacet, ...]] = {}
    if assembly.layout.ros.control != "ros2_control":
        return out
    for moving in assembly.moving:
        if moving.adjustment.motion == "driven" and not moving.steers:
            out[moving.placement] = (*out.get(moving.placement, ()), moving)
    return out


def commanded(moving: tuple[MovingFacet, ...]) -> tuple[str, ...]:
    """The joints that take commands: those that follow nobody."""
    return tuple(m.joint for m in moving if m.adjustment.follows is None)


def free_joints(assembly: Assembly) -> tuple[MovingFacet, ...]:
    """What moves and is neither commanded nor measured; followers have their leaders."""
    return tuple(m for m in assembly.moving if m.adjustment.motion == "free" and m.adjustment.follows is None)


def joint_zeros(assembly: Assembly) -> dict[str, float]:
    """By joint the value in force (rad, of a slide m), for joint_state_publisher's ``zeros``; followers have leaders."""
    from chassis_describe.xmltree import number

    own = {m.joint: float(number(m.value)) for m in assembly.moving if m.adjustment.follows is None}
    return own | {j.name: float(number(j.value)) for j in assembly.joints
                  if j.described is not None and j.type != "fixed" and j.mimic is None}


def controller_of(placement: str) -> str:
    """The name of a placement's trajectory controller."""
    return f"{placement}_controller"


def joint_control_elements(assembly: Assembly, *, mock: bool = False, plugin: str = "") -> list[etree._Element]:
    """What to append to ``<robot>``, one element for each placement. ``mock``: the mock plugin instead of the real one;
    ``plugin``: another, such as a simulator's."""
    from lxml import etree

    from chassis_describe.targets.description.ros2_control import MOCK_PLUGIN, PLACEHOLDER_PLUGIN, joint_element
    from chassis_describe.xmltree import child, comment

    joints = {joint.name: joint for joint in assembly.joints}
    out = []
    for placement, moving in driven_placements(assembly).items():
        system = etree.Element("ros2_control", {"name": f"{assembly.prefix}{assembly.robot}_{placement}", "type": "system"})
        hardware = child(system, "hardware")
        own = plugin or (MOCK_PLUGIN if mock else assembly.layout.ros.hardware_of.get(placement, PLACEHOLDER_PLUGIN))
        if own == PLACEHOLDER_PLUGIN:
            hardware.append(comment(f"a placeholder, not a plugin; name yours in the layout: ros, hardware_of, {placement}"))
        child(hardware, "plugin").text = own
        for facet in moving:
            joint_element(system, joints[facet.joint], assembly)
        out.append(system)
    return out
