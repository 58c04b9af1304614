"""The ``<ros2_control>`` element of the description: the wheel joints that a hardware plugin drives and reads.

Form: ros2_control master:hardware_interface/src/component_parser.cpp and doc/mock_components_userdoc.rst (the same in
humble, jazzy, kilted): a direct child of ``<robot>``; every joint in it exists in the URDF and is not fixed.
"""
from __future__ import annotations

from typing import TYPE_CHECKING

from chassis_describe.assembly.model import Assembly, Joint, WheelFacet
from chassis_describe.errors import TargetError, never

if TYPE_CHECKING:
    from lxml import etree

MOCK_PLUGIN = "mock_components/GenericSystem"
#: Stands where the layout names no plugin: controller_manager refuses it by this name, which says what is missing.
PLACEHOLDER_PLUGIN = "placeholder/NameYourHardwarePlugin"


def is_controlled(assembly: Assembly) -> bool:
    """Whether ros2_control is to move this robot, and its distro has a controller for the drive."""
    return assembly.drive is not None and assembly.layout.ros.control == "ros2_control" and not lacks_controller(assembly)


def lacks_controller(assembly: Assembly) -> bool:
    """Whether the distro has no controller for the drive."""
    from chassis_describe.targets.stack import distros

    drive = assembly.drive
    return drive is not None and drive.kind == "omni" and not distros.has("omni_controller", assembly.layout.ros.distro)


def ros2_control_elements(assembly: Assembly, *, mock: bool = False, plugin: str = "") -> list[etree._Element]:
    """What to append to ``<robot>``; nothing without a drive or with ``control: none``.

    ``mock``: the mock plugin instead of the real one. It integrates positions from velocities, as a base needs. ``plugin``: another
    one, such as a simulator's.
    Raises TargetError where the drive is none that the controllers know.
    """
    if not is_controlled(assembly):
        return []
    from lxml import etree

    from chassis_describe.xmltree import child, comment, number

    check_drive(assembly)
    system = etree.Element("ros2_control", {"name": f"{assembly.prefix}{assembly.robot}_drive", "type": "system"})
    hardware = child(system, "hardware")
    plugin = plugin or (MOCK_PLUGIN if mock else "") or assembly.layout.ros.hardware or PLACEHOLDER_PLUGIN
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
    joints = {joint.name: joint for joint in assembly.joints}
    for steered in assembly.drive.steered if assembly.drive is not None else ():
        joint_element(system, joints[steered.moving.joint], assembly)
    return [system]


def joint_element(system: etree._Element, joint: Joint, assembly: Assembly) -> None:
    """Append a joint that is moved to positions: its command, within its limits, and its state, which starts where it is."""
    from chassis_describe.targets.stack import distros
    from chassis_describe.xmltree import child, comment, number

    element = child(system, "joint", [("name", joint.name)])
    if joint.mimic is None:
        command = child(element, "command_interface", [("name", "position")])
        if joint.lower is not None and joint.upper is not None:
            child(command, "param", [("name", "min")]).text = number(joint.lower)
            child(command, "param", [("name", "max")]).text = number(joint.upper)
    elif distros.has("mimic_by_parameter", assembly.layout.ros.distro):
        child(element, "param", [("name", "mimic")]).text = joint.mimic.joint
        child(element, "param", [("name", "multiplier")]).text = number(joint.mimic.times)
        if joint.mimic.plus:
            element.append(comment("this distro's mock and simulator know no offset; the URDF's mimic has it"))
    state = child(element, "state_interface", [("name", "position")])
    child(state, "param", [("name", "initial_value")]).text = number(joint.value)


def driven_wheels(assembly: Assembly) -> tuple[WheelFacet, ...]:
    """Left ones, then right ones, front to rear; or all around."""
    return () if assembly.drive is None else assembly.drive.wheels


def passive_wheels(assembly: Assembly) -> tuple[WheelFacet, ...]:
    """Wheels on a movable joint that no drive turns; nobody measures them."""
    driven = {wheel.placement for wheel in driven_wheels(assembly)}
    return tuple(wheel for wheel in assembly.wheels if wheel.placement not in driven)


def check_drive(assembly: Assembly) -> None:
    """Raises TargetError for wheels that no controller takes."""
    drive = assembly.drive
    assert drive is not None
    left, right = len(drive.left), len(drive.right)
    if drive.kind == "omni":
        fault = "" if len(drive.around) >= 3 else f"omni_wheel_drive_controller takes three wheels or more, not {len(drive.around)}"
    elif drive.kind == "ackermann":
        fault = "" if (left, right) == (1, 1) and drive.steered else \
            f"the steering controllers take one driven wheel a side, not {left} on the left and {right} on the right"
        if drive.wheel_base <= 0.0:
            fault = "the steering axes stand beside the driven axle: a wheel base of 0 can't steer"
    elif drive.kind == "mecanum":
        fault = "" if (left, right) == (2, 2) else \
            f"mecanum_drive_controller takes two wheels a side, not {left} on the left and {right} on the right"
    elif drive.kind == "differential" or drive.kind == "skid_steer":
        fault = "" if left == right > 0 else \
            f"diff_drive_controller takes as many wheels on the left as on the right, not {left} and {right}"
    else:
        raise never(drive.kind)
    if fault:
        raise TargetError(f"{_mark(assembly)}: {fault}; `ros: {{control: none}}` leaves the controllers out")


def _mark(assembly: Assembly) -> str:
    drive = assembly.layout.drive
    return str(drive.mark if drive is not None else assembly.layout.mark)
