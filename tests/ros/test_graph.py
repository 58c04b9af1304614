"""The graph that tests of nodes run in: a message of tf2's type goes from a process of ours to a node of the test."""
from __future__ import annotations

import subprocess
import sys
import time
from typing import Any

TALKER = """
import rclpy
from geometry_msgs.msg import TransformStamped
from rclpy.qos import DurabilityPolicy, QoSProfile
from tf2_msgs.msg import TFMessage
rclpy.init()
node = rclpy.create_node("talker")
publisher = node.create_publisher(TFMessage, "/tf_static", QoSProfile(depth=1, durability=DurabilityPolicy.TRANSIENT_LOCAL))
transform = TransformStamped()
transform.header.frame_id, transform.child_frame_id = "base_link", "laser_frame"
publisher.publish(TFMessage(transforms=[transform]))
rclpy.spin(node)
"""


def test_latched_transforms_reach_a_late_listener(ros_environment: dict[str, str], ros_node: Any) -> None:
    """REP-105's static frames as tf2 publishes them: transient local, so a listener that comes later gets them too."""
    from rclpy.qos import DurabilityPolicy, QoSProfile
    from tf2_msgs.msg import TFMessage

    talker = subprocess.Popen([sys.executable, "-c", TALKER], env=ros_environment)
    try:
        heard: list[Any] = []
        ros_node.create_subscription(TFMessage, "/tf_static", heard.append,
                                     QoSProfile(depth=1, durability=DurabilityPolicy.TRANSIENT_LOCAL))
        until = time.monotonic() + 60
        while not heard and time.monotonic() < until:
            ros_node.spin(0.2)
        assert heard
        assert [t.child_frame_id for t in heard[0].transforms] == ["laser_frame"]
    finally:
        talker.terminate()
        talker.wait()
