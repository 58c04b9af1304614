"""The ``<ros2_control>`` element of the description: the wheel joints that a hardware plugin drives and reads.

Form: ros2_control master:hardware_interface/src/component_parser.cpp and doc/mock_components_userdoc.rst (the same in
humble, jazzy, kilted): a direct child of ``<robot>``; every joint in it exists in the URDF and is not fixed.
"""
from __future__ import annotations

from typing import TYPE_CHECKING

from chassis_describe.assembly.model import Assembly, WheelFacet
from chassis_describe.errors import TargetError

if TYPE_CHECKING:
    from lxml import etree

MOCK_PLUGIN = "mock_components/GenericSystem"
#: Stands where the layout names no plugin: controller_manager refuses it by this name, which says what is missing.
PLACEHOLDER_PLUGIN = "placeholder/NameYourHardwarePlugin"


def is_controlled(assembly: Assembly) -> bool:
    """Whether ros2_control is to move this robot."""
    return assembly.drive is not None and assembly.layout.ros.control == "ros2_control"


def ros2_control_elements(assembly: Assembly, *, mock: bool = False) -> list[etree._Element]:
    """What to append to ``<robot>``; nothing without a drive or with ``control: none``.

    ``mock``: the mock plugin instead of the real one. It integrates positions from velocities, as a base needs.
    Raises TargetError where the drive is none that the controllers know.
    """
    if not is_controlled(assembly):
        return []
    from lxml import etree

    from chassis_describe.xmltree import child, comment, number

    check_drive(assembly)
    system = etree.Element("ros2_control", {"name": f"{assembly.prefix}{assembly.robot}_drive", "type": "system"})
    hardware = child(system, "hardware")
    plugin = MOCK_PLUGIN if mock else assembly.layout.ros.hardware or PLACEHOLDER_PLUGIN
    if plugin == PLACEHOLDER_PLUGIN:
        hardware.append(comment("a placeholder, not a plugin; name yours in the layout under ros, hardware"))
    child(hardware, "plugin").text = plugin
    if mock:
        child(hardware, "param", [("name", "calculate_dynamics")]).text = "true"
    for wheel in driven_wheels(assembly):
        joint = child(system, "joint", [("name", wheel.joint)])
        command = child(joint, "command_interface", [("name", "velocity")])
        if wheel.motor is not None:
            child(command, "param", [("name", "min")]).text = number(-wheel.motor.speed)
            child(command, "param", [("name", "max")]).text = number(wheel.motor.speed)
        child(joint, "state_interface", [("name", "position")])
        child(joint, "state_interface", [("name", "velocity")])
    return [system]


def driven_wheels(assembly: Assembly) -> tuple[WheelFacet, ...]:
    """Left ones, then right ones, front to rear."""
    return () if assembly.drive is None else (*assembly.drive.left, *assembly.drive.right)


def passive_wheels(assembly: Assembly) -> tuple[WheelFacet, ...]:
    """Wheels on a movable joint that no drive turns; nobody measures them."""
    driven = {wheel.placement for wheel in driven_wheels(assembly)}
    return tuple(wheel for wheel in assembly.wheels if wheel.placement not in driven)


def check_drive(assembly: Assembly) -> None:
    """Raises TargetError for wheels that no controller takes."""
    drive = assembly.drive
    assert drive is not None
    left, right = len(drive.left), len(drive.right)
    if drive.kind == "mecanum" and (left, right) != (2, 2):
        raise TargetError(f"{_mark(assembly)}: mecanum_drive_controller takes two wheels a side, not {left} on the "
                          f"left and {right} on the right; `ros: {{control: none}}` leaves the controllers out")
    if left != right or left == 0:
        raise TargetError(f"{_mark(assembly)}: diff_drive_controller takes as many wheels on the left as on the right, "
                          f"not {left} and {right}; `ros: {{control: none}}` leaves the controllers out")


def _mark(assembly: Assembly) -> str:
    drive = assembly.layout.drive
    return str(drive.mark if drive is not None else assembly.layout.mark)
