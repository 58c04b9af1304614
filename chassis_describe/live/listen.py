"""What a running robot says of itself: its description and its transforms, heard for some seconds. Nothing is published."""
from __future__ import annotations

import math
import time
from collections.abc import Sequence
from typing import Any

import rclpy
from rclpy.executors import SingleThreadedExecutor
from rclpy.qos import DurabilityPolicy, QoSProfile, ReliabilityPolicy
from std_msgs.msg import String

from chassis_describe.assembly.model import Assembly
from chassis_describe.changes.measured import rotation_from_quaternion
from chassis_describe.changes.running import Heard, HeardFrame
from chassis_describe.errors import UsageError
from chassis_describe.live.description import TOPIC, transform_message
from chassis_describe.space.pose import Pose
from chassis_describe.targets.stack.topics import transform_topic

NODE = "chassis_describe_match"
#: One message of each publisher is enough, and there may be many publishers.
_LATCHED = QoSProfile(depth=100, reliability=ReliabilityPolicy.RELIABLE, durability=DurabilityPolicy.TRANSIENT_LOCAL)
#: Seconds more for a description that is known to be published and has not come yet.
_LATER = 5.0
_MOVING = QoSProfile(depth=100, reliability=ReliabilityPolicy.RELIABLE)


def listen(assembly: Assembly, seconds: float, ros_arguments: Sequence[str] = ()) -> Heard:
    """Listen in the layout's namespace, or in the one that ROS gives. Raises UsageError without tf2_msgs."""
    kind = transform_message()
    if kind is None:
        raise UsageError("match --running needs the package tf2_msgs, which comes with a ROS installation: source it")
    texts: dict[str, None] = {}
    frames: dict[HeardFrame, None] = {}
    moving: dict[tuple[str, str], HeardFrame] = {}

    def hear(message: Any, *, static: bool) -> None:
        for t in message.transforms:
            pose = _pose(t.transform)
            if pose is not None:
                item = HeardFrame(t.header.frame_id.lstrip("/"), t.child_frame_id.lstrip("/"), pose, static)
                if static:
                    frames[item] = None
                else:
                    moving[item.child, item.parent] = item  # where it was last

    context = rclpy.Context()
    rclpy.init(args=["--ros-args", *ros_arguments] if ros_arguments else [], context=context)
    try:
        node = rclpy.create_node(NODE, namespace=assembly.layout.ros.namespace or None, context=context)
        executor = SingleThreadedExecutor(context=context)
        executor.add_node(node)
        topic = transform_topic(assembly)
        node.create_subscription(String, TOPIC, lambda m: texts.setdefault(m.data), _LATCHED)
        node.create_subscription(kind, f"{topic}_static", lambda m: hear(m, static=True), _LATCHED)
        node.create_subscription(kind, topic, lambda m: hear(m, static=False), _MOVING)
        end = time.monotonic() + seconds
        while context.ok():
            late = time.monotonic() - end
            if late >= 0.0 and (late >= _LATER or texts or not node.count_publishers(node.resolve_topic_name(TOPIC))):
                break
            executor.spin_once(timeout_sec=0.1)
        executor.shutdown()
        node.destroy_node()
    finally:
        rclpy.try_shutdown(context=context)
    return Heard(descriptions=tuple(texts), frames=(*frames, *moving.values()))


def _pose(transform: Any) -> Pose | None:
    """None for what is no pose: not finite, or a quaternion that is none; tf2 refuses it too."""
    v, q = transform.translation, transform.rotation
    numbers = (q.x, q.y, q.z, q.w)
    if not all(map(math.isfinite, (v.x, v.y, v.z, *numbers))):
        return None
    try:
        return Pose(rotation_from_quaternion(numbers), (v.x, v.y, v.z))
    except ValueError:
        return None
