"""A robot_state_publisher of the tests' own, which keeps the real one's rules (ros/robot_state_publisher 3.3.3,
src/robot_state_publisher.cpp; held against the real one, built with rclcpp 28.1.6): `robot_description` has to be text that urdfdom
takes, else it ends at its start, and later refuses the parameter with a reason; a new description is published after the answer, when
its own parameter event comes back to it; description and fixed frames are latched, one message deep, and each fixed frame that was
ever sent is sent again with each description (ros2/geometry2, tf2_ros/src/static_transform_broadcaster.cpp).

    python stand_in.py FILE.urdf [--refuse]     # --refuse: takes its first description alone
"""
from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import rclpy
from geometry_msgs.msg import TransformStamped
from rcl_interfaces.msg import ParameterEvent, SetParametersResult
from rclpy.parameter import Parameter
from rclpy.qos import DurabilityPolicy, QoSProfile, qos_profile_parameter_events
from rclpy.signals import SignalHandlerOptions
from std_msgs.msg import String
from tf2_msgs.msg import TFMessage

LATCHED = QoSProfile(depth=1, durability=DurabilityPolicy.TRANSIENT_LOCAL)

#: The program itself, where it is: wheels bring it behind a script, whose Python takes seconds to start on a busy machine.
CHECK = shutil.which("check_urdf", path=os.defpath) or "check_urdf"
UNREADABLE = "Unable to initialize urdf::model from robot description"


def fault(urdf: str) -> str | None:
    """Why it takes no such description, in its own words."""
    if not urdf:
        return "Empty URDF is not allowed"
    with tempfile.NamedTemporaryFile("w", suffix=".urdf") as file:
        file.write(urdf)
        file.flush()
        return UNREADABLE if subprocess.run([CHECK, file.name], capture_output=True).returncode else None


class StandIn:
    def __init__(self, first: str, refuse: bool) -> None:
        self.node = rclpy.create_node("robot_state_publisher")
        self.text = self.node.create_publisher(String, "robot_description", LATCHED)
        self.static = self.node.create_publisher(TFMessage, "tf_static", LATCHED)
        self.merged: dict[str, TransformStamped] = {}
        self.node.declare_parameter("robot_description", first)
        if (reason := fault(first)) is not None:
            raise SystemExit(reason)
        self.publish(first)
        self.refuse = refuse
        self.node.add_on_set_parameters_callback(self.set)
        self.node.create_subscription(ParameterEvent, "/parameter_events", self.changed, qos_profile_parameter_events)

    def set(self, parameters: list[Parameter]) -> SetParametersResult:
        for parameter in parameters:
            if parameter.name == "robot_description":
                reason = UNREADABLE if self.refuse else fault(parameter.value)
                if reason is not None:
                    return SetParametersResult(successful=False, reason=reason)
        return SetParametersResult(successful=True)

    def changed(self, event: ParameterEvent) -> None:
        if event.node == self.node.get_fully_qualified_name():
            for parameter in event.changed_parameters:
                if parameter.name == "robot_description":
                    self.publish(parameter.value.string_value)

    def publish(self, urdf: str) -> None:
        self.text.publish(String(data=urdf))
        for joint in ElementTree.fromstring(urdf).findall("joint"):
            if joint.get("type") == "fixed":
                message = TransformStamped()
                message.header.frame_id = joint.find("parent").get("link")  # type: ignore[union-attr, assignment]
                message.child_frame_id = joint.find("child").get("link")  # type: ignore[union-attr, assignment]
                origin = joint.find("origin")
                x, y, z = map(float, (origin.get("xyz") if origin is not None else "0 0 0").split())  # type: ignore[union-attr]
                where = message.transform.translation
                where.x, where.y, where.z = x, y, z  # turns do not matter here
                message.transform.rotation.w = 1.0
                self.merged[message.child_frame_id] = message
        self.static.publish(TFMessage(transforms=list(self.merged.values())))


def main() -> None:
    """Until SIGTERM. rclpy's own way of ending now and then misses the signal; and others are to hear at once that it has gone,
    not when its lease of 20 s is over."""
    ended: list[int] = []
    signal.signal(signal.SIGTERM, lambda number, frame: ended.append(number))
    rclpy.init(signal_handler_options=SignalHandlerOptions.NO)
    stand_in = StandIn(Path(sys.argv[1]).read_text(), "--refuse" in sys.argv)
    while not ended:
        rclpy.spin_once(stand_in.node, timeout_sec=0.2)
    stand_in.node.destroy_node()
    rclpy.shutdown()


if __name__ == "__main__":
    main()
