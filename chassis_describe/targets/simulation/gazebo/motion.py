"""What moves the robot in Gazebo: ros2_control's plugin, or with ``control: none`` the simulator's own systems; and its friction.

ros2_control: ros-controls/gz_ros2_control {branch}:doc/index.rst, gz_ros2_control_plugin.cpp. Systems: gazebosim/gz-sim
{branch}:src/systems/<system>/*.hh. A joint that nothing commands has state interfaces alone: the plugin measures it.
"""
from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, DriveFacet, Joint
from chassis_describe.errors import never
from chassis_describe.facts.sensor_topics import absolute
from chassis_describe.facts.turning import smallest_turn
from chassis_describe.targets.description.described import described_placements, has_system
from chassis_describe.targets.description.joint_control import driven_placements
from chassis_describe.targets.description.ros2_control import driven_wheels, is_controlled
from chassis_describe.targets.simulation.gazebo.streams import Stream
from chassis_describe.targets.stack import distros
from chassis_describe.targets.stack.drive_controllers import controller_name, remappings, speeds
from chassis_describe.targets.stack.topics import COMMAND_TOPIC, ODOMETRY_TOPIC, odom_frame, transform_topic
from chassis_describe.xmltree import child, number

if TYPE_CHECKING:
    from lxml import etree

HARDWARE = "gz_ros2_control/GazeboSimSystem"
#: Gain of a position command: the joint's speed is gain · error · update rate (gz_ros2_control's default).
_STEER_GAIN = 5.0


@kept
def uses_plugin(assembly: Assembly) -> bool:
    """Whether gz_ros2_control has anything to run: controllers of ours, which have a parameter file."""
    return is_controlled(assembly) or bool(driven_placements(assembly))


def own_system(assembly: Assembly) -> str:
    """The simulator's system that drives the wheels where no controller does: its file without ``-system``; ``velocity-control``
    moves the body as a whole where none fits; nothing without a drive."""
    drive = assembly.drive
    if drive is None or is_controlled(assembly):
        return ""
    if drive.kind == "differential" or drive.kind == "skid_steer":
        return "diff-drive"
    if drive.kind == "mecanum":
        return "mecanum-drive" if (len(drive.left), len(drive.right)) == (2, 2) else "velocity-control"
    if drive.kind == "ackermann":
        return "ackermann-steering" if _steers_in_front(drive) else "velocity-control"
    if drive.kind == "omni":
        return "velocity-control"
    raise never(drive.kind)


def _steers_in_front(drive: DriveFacet) -> bool:
    """The system takes two steered wheels ahead of two driven ones, and no others."""
    middle = sum(w.centre[0] for w in drive.wheels) / len(drive.wheels)
    return len(drive.steered) == 2 and len(drive.wheels) == 2 and all(s.point[0] > middle for s in drive.steered)


def measured(assembly: Assembly) -> tuple[Joint, ...]:
    """Joints that no controller of ours moves: swivels, free hinges, wheels that only roll, all that moves without controllers."""
    controlled: set[str] = set()
    if is_controlled(assembly):
        controlled |= {w.joint for w in driven_wheels(assembly)}
        controlled |= {s.moving.joint for s in (assembly.drive.steered if assembly.drive is not None else ())}
    controlled |= {m.joint for moving in driven_placements(assembly).values() for m in moving}
    theirs = {n for _, found, renaming in described_placements(assembly) if has_system(found)
              for n in (renaming.real(j.get("name", "")) for e in found.others if e.tag == "ros2_control" for j in e.iter("joint"))}
    return tuple(j for j in assembly.joints if j.type != "fixed" and j.name not in controlled | theirs)


def measuring_element(assembly: Assembly) -> etree._Element | None:
    """A system of ros2_control that only reads, so that joint_states holds every joint; None where all are commanded."""
    from lxml import etree

    joints = measured(assembly)
    if not joints:
        return None
    system = etree.Element("ros2_control", {"name": f"{assembly.prefix}{assembly.robot}_measured", "type": "system"})
    child(child(system, "hardware"), "plugin").text = HARDWARE
    for joint in joints:
        element = child(system, "joint", [("name", joint.name)])
        if joint.mimic is not None and not distros.has("mimic_by_parameter", assembly.layout.ros.distro):
            element.set("mimic", "false")  # its leader is in no system that moves it
        for name in ("position", "velocity"):
            child(element, "state_interface", [("name", name)])
    return system


def plugins(assembly: Assembly, parameters: str) -> Iterator[etree._Element]:
    """``<gazebo>`` with the plugins of the model. ``parameters``: the address of the controllers' file."""
    from lxml import etree

    place = etree.Element("gazebo")
    if uses_plugin(assembly):
        _manager(place, assembly, parameters)
    system = own_system(assembly)
    if system:
        assert assembly.drive is not None
        _drive(place, assembly, assembly.drive, system)
    if not uses_plugin(assembly) and any(j.type != "fixed" for j in assembly.joints):
        states = _system(place, assembly, "joint-state-publisher")
        _put(states, "topic", absolute(assembly, "joint_states"))
        _put(states, "update_rate", "50")
        for joint in assembly.joints:
            if joint.type != "fixed":
                _put(states, "joint_name", joint.name)
    for joint in positioned(assembly):
        one = _system(place, assembly, "joint-position-controller")
        _put(one, "joint_name", joint.name)
        _put(one, "topic", command_topic(assembly, joint))
        _put(one, "use_velocity_commands", "true")
        _put(one, "cmd_max", number(joint.velocity or 1.0))
        _put(one, "initial_position", number(joint.value))
    if len(place):
        yield place


@kept
def positioned(assembly: Assembly) -> tuple[Joint, ...]:
    """With ``control: none``, joints of motors that the simulator's own position controllers move."""
    if assembly.layout.ros.control == "ros2_control":
        return ()
    joints = {joint.name: joint for joint in assembly.joints}
    return tuple(joints[m.joint] for m in assembly.moving
                 if m.adjustment.motion == "driven" and not m.steers and m.adjustment.follows is None)


def command_topic(assembly: Assembly, joint: Joint) -> str:
    """Where a position for a joint is asked for (rad, m), of the simulator's own controller."""
    return absolute(assembly, f"{joint.name}/command")


def motion_streams(assembly: Assembly) -> Iterator[Stream]:
    """What the bridge carries of driving; with ros2_control the controllers are on ROS's side already."""
    if own_system(assembly):
        command, odometry = absolute(assembly, COMMAND_TOPIC), absolute(assembly, ODOMETRY_TOPIC)
        yield Stream(command, command, distros.text("cmd_vel_type", assembly.layout.ros.distro), "Twist", "ROS_TO_GZ")
        yield Stream(odometry, odometry, "nav_msgs/msg/Odometry", "Odometry")
        if assembly.layout.ros.odometry == "controller":
            yield Stream(absolute(assembly, transform_topic(assembly)), absolute(assembly, "odometry_transform"),
                         "tf2_msgs/msg/TFMessage", "Pose_V")
    if not uses_plugin(assembly) and any(j.type != "fixed" for j in assembly.joints):
        states = absolute(assembly, "joint_states")
        yield Stream(states, states, "sensor_msgs/msg/JointState", "Model")
    for joint in positioned(assembly):
        topic = command_topic(assembly, joint)
        yield Stream(topic, topic, "std_msgs/msg/Float64", "Double", "ROS_TO_GZ")


def started(assembly: Assembly) -> tuple[str, ...]:
    """The controllers that are spawned, the broadcaster first."""
    from chassis_describe.targets.description.joint_control import controller_of
    from chassis_describe.targets.stack.controllers import BROADCASTER

    if not uses_plugin(assembly):
        return ()
    drive = [controller_name(assembly.drive)] if assembly.drive is not None and is_controlled(assembly) else []
    return (BROADCASTER, *drive, *map(controller_of, driven_placements(assembly)))


def _manager(place: etree._Element, assembly: Assembly, parameters: str) -> None:
    ros, distro = assembly.layout.ros, assembly.layout.ros.distro
    plugin = child(place, "plugin", [("filename", "gz_ros2_control-system"),
                                     ("name", "gz_ros2_control::GazeboSimROS2ControlPlugin")])
    _put(plugin, "parameters", parameters)
    if distros.has("gz_description_by_parameter", distro):
        _put(plugin, "robot_param", "robot_description")
        _put(plugin, "robot_param_node", "robot_state_publisher")
    rules = []
    if is_controlled(assembly) and assembly.drive is not None and not distros.has("node_options_args", distro):
        own = absolute(assembly, controller_name(assembly.drive))
        for rule in remappings(assembly):
            private, _, common = rule.partition(":=")
            rules.append(f"{private.replace('~', own)}:={absolute(assembly, common)}")
    if ros.namespace or rules:
        inside = child(plugin, "ros")
        if ros.namespace:
            _put(inside, "namespace", f"/{ros.namespace}")
        for rule in rules:
            _put(inside, "remapping", rule)


def _drive(place: etree._Element, assembly: Assembly, drive: DriveFacet, system: str) -> None:
    plugin = _system(place, assembly, system)
    _put(plugin, "topic", absolute(assembly, COMMAND_TOPIC))
    if system == "velocity-control":
        plugin = _system(place, assembly, "odometry-publisher")
        _put(plugin, "odom_frame", odom_frame(assembly))
        _put(plugin, "robot_base_frame", assembly.root)
        _put(plugin, "dimensions", "2")
    else:
        _wheels(plugin, drive, system)
        _put(plugin, "frame_id", odom_frame(assembly))
        _put(plugin, "child_frame_id", assembly.root)
        top = speeds(assembly)
        if top is not None and system == "diff-drive":
            for name, value in (("linear", top.linear), ("angular", top.angular)):
                _put(plugin, f"max_{name}_velocity", number(value))
                _put(plugin, f"min_{name}_velocity", number(-value))
    _put(plugin, "odom_topic", absolute(assembly, ODOMETRY_TOPIC))
    _put(plugin, "tf_topic", absolute(assembly, "odometry_transform"))
    _put(plugin, "odom_publish_frequency", "50")


def _wheels(plugin: etree._Element, drive: DriveFacet, system: str) -> None:
    if system == "mecanum-drive":
        for side, wheels in (("left", drive.left), ("right", drive.right)):
            for end, wheel in zip(("front", "back"), wheels):
                _put(plugin, f"{end}_{side}_joint", wheel.joint)
        _put(plugin, "wheelbase", number(drive.wheel_base))
    else:
        for side, wheels in (("left", drive.left), ("right", drive.right)):
            for wheel in wheels:
                _put(plugin, f"{side}_joint", wheel.joint)
    if system == "ackermann-steering":
        for side, steered in zip(("left", "right"), drive.steered):
            _put(plugin, f"{side}_steering_joint", steered.moving.joint)
        _put(plugin, "kingpin_width", number(drive.steer_track))
        _put(plugin, "wheel_base", number(drive.wheel_base))
        # It turns at wheel_base / sin(limit) at the least; ours is the circle that the hubs' ends allow.
        _put(plugin, "steering_limit", number(math.asin(min(1.0, drive.wheel_base / max(smallest_turn(drive), drive.wheel_base)))))
        _put(plugin, "steer_p_gain", number(_STEER_GAIN))
    _put(plugin, "wheel_separation", number(drive.wheel_separation))
    _put(plugin, "wheel_radius", number(drive.wheel_radius))


def _system(place: etree._Element, assembly: Assembly, name: str) -> etree._Element:
    return child(place, "plugin", system_attributes(name, assembly.layout.ros.distro))


def system_attributes(name: str, distro: str) -> list[tuple[str, str]]:
    """File and class of a system by its short name, as the release has them."""
    words = {"navsat": "NavSat"}.get(name) or "".join(word.capitalize() for word in name.split("-"))
    return [("filename", f"{distros.text('gz_system_file', distro)}-{name}-system"),
            ("name", f"{distros.text('gz_system_class', distro)}::{words}")]


def _put(parent: etree._Element, tag: str, text: str) -> None:
    child(parent, tag).text = text


