"""A robot_state_publisher of the tests' own, which keeps the real one's rules (ros/robot_state_publisher,
src/robot_state_publisher.cpp): `robot_description` has to be text that urdfdom takes, else the parameter is refused with a reason;
description and fixed frames are latched, one message deep, and all fixed frames are sent again with each description.

    python stand_in.py FILE.urdf [--refuse]     # --refuse: takes its first description alone
"""
from __future__ import annotations

import subprocess
import sys
import tempfile
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import rclpy
from geometry_msgs.msg import TransformStamped
from rcl_interfaces.msg import SetParametersResult
from rclpy.parameter import Parameter
from rclpy.qos import DurabilityPolicy, QoSProfile
from std_msgs.msg import String
from tf2_msgs.msg import TFMessage

LATCHED = QoSProfile(depth=1, durability=DurabilityPolicy.TRANSIENT_LOCAL)


class StandIn:
    def __init__(self, first: str, refuse: bool) -> None:
        self.node = rclpy.create_node("robot_state_publisher")
        self.text = self.node.create_publisher(String, "robot_description", LATCHED)
        self.static = self.node.create_publisher(TFMessage, "tf_static", LATCHED)
        self.merged: dict[str, TransformStamped] = {}
        self.node.declare_parameter("robot_description", first)
        self.publish(first)
        self.refuse = refuse
        self.node.add_on_set_parameters_callback(self.set)

    def set(self, parameters: list[Parameter]) -> SetParametersResult:
        for parameter in parameters:
            if parameter.name == "robot_description":
                if parameter.type_ != Parameter.Type.STRING:
                    return SetParametersResult(successful=False, reason="robot_description must be a string")
                with tempfile.NamedTemporaryFile("w", suffix=".urdf") as file:
                    file.write(parameter.value)
                    file.flush()
                    if self.refuse or subprocess.run(["check_urdf", file.name], capture_output=True).returncode:
                        return SetParametersResult(successful=False, reason="Failed to parse robot_description")
                self.publish(parameter.value)
        return SetParametersResult(successful=True)

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


if __name__ == "__main__":
    rclpy.init()
    stand_in = StandIn(Path(sys.argv[1]).read_text(), "--refuse" in sys.argv)
    rclpy.spin(stand_in.node)
