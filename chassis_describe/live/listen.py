"""What a running robot says of itself: its description and its transforms, heard for some seconds. Nothing is published."""
from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from typing import Any

import rclpy
from rclpy.executors import SingleThreadedExecutor
from rclpy.qos import DurabilityPolicy, QoSProfile, ReliabilityPolicy
from std_msgs.msg import String

from chassis_describe.assembly.model import Assembly
from chassis_describe.changes.measured import rotation_from_quaternion
from chassis_describe.changes.running import Heard, HeardFrame, Silent
from chassis_describe.errors import UsageError
from chassis_describe.live.context import ros_context
from chassis_describe.live.description import TOPIC, transform_message
from chassis_describe.space.pose import Pose
from chassis_describe.targets.stack.topics import transform_topic

NODE = "chassis_describe_match"
#: One message of each publisher is enough, and there may be many publishers.
_LATCHED = QoSProfile(depth=100, reliability=ReliabilityPolicy.RELIABLE, durability=DurabilityPolicy.TRANSIENT_LOCAL)
#: Seconds for which the publishers have to be the same ones before the ear is taken away: who was just found may not be the last.
#: Longer where one of them has not been heard; what is latched comes at once, so after that it has said nothing. And at most.
_SETTLED, _LATER, _LONGEST = 1.0, 5.0, 10.0
_MOVING = QoSProfile(depth=100, reliability=ReliabilityPolicy.RELIABLE)


class _Latched:
    """A latched topic: who publishes there, and how many of them have been heard."""

    def __init__(self, node: Any, kind: Any, topic: str, hear: Callable[[Any], None]) -> None:
        self._node, self._kind, self._hear = node, kind, hear
        self.topic = node.resolve_topic_name(topic)
        self._from: set[object] = set()
        node.create_subscription(kind, topic, self._take, _LATCHED)

    def _take(self, message: Any, about: Any) -> None:
        gid = about.get("publisher_gid")  # rclpy 9; before it each message counts for a publisher
        self._from.add(len(self._from) if gid is None else gid["data"])
        self._hear(message)

    def publishers(self) -> dict[bytes, str]:
        """Those that reach a latched subscription: by their endpoints the names of their nodes."""
        package, name = self._kind.__module__.split(".")[0], self._kind.__name__
        return {bytes(p.endpoint_gid): f"{p.node_namespace.rstrip('/')}/{p.node_name}"
                for p in self._node.get_publishers_info_by_topic(self.topic)
                if p.qos_profile.durability == DurabilityPolicy.TRANSIENT_LOCAL
                and p.qos_profile.reliability == ReliabilityPolicy.RELIABLE and p.topic_type == f"{package}/msg/{name}"}

    def silent(self, names: dict[bytes, str]) -> Silent | None:
        """None where each of these publishers has been heard."""
        return Silent(self.topic, tuple(sorted(names.values())), len(self._from)) if len(names) > len(self._from) else None


def listen(assembly: Assembly, seconds: float, ros_arguments: Sequence[str] = ()) -> Heard:
    """Listen in the layout's namespace, or in the one that ROS gives: for so many seconds, and longer where publishers are known
    that have not been heard, or were found just now. Raises UsageError without tf2_msgs."""
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

    context = ros_context(ros_arguments)
    try:
        node = rclpy.create_node(NODE, namespace=assembly.layout.ros.namespace or None, context=context)
        executor = SingleThreadedExecutor(context=context)
        executor.add_node(node)
        topic = transform_topic(assembly)
        latched = (_Latched(node, String, TOPIC, lambda m: texts.setdefault(m.data)),
                   _Latched(node, kind, f"{topic}_static", lambda m: hear(m, static=True)))
        node.create_subscription(kind, topic, lambda m: hear(m, static=False), _MOVING)
        end = changed = time.monotonic()
        end += seconds
        known: object = None
        silent: tuple[Silent, ...] = ()
        while context.ok():
            executor.spin_once(timeout_sec=0.1)
            names = [t.publishers() for t in latched]
            there = (*(n.keys() for n in names), sorted(node.get_node_names()))
            silent = tuple(s for t, n in zip(latched, names) if (s := t.silent(n)) is not None)
            now = time.monotonic()
            if there != known:
                known, changed = there, now
            late = now - end
            if late >= 0.0 and (late >= _LONGEST or now - changed >= (_LATER if silent else _SETTLED)):
                break
        executor.shutdown()
        node.destroy_node()
    finally:
        rclpy.try_shutdown(context=context)
    return Heard(descriptions=tuple(texts), frames=(*frames, *moving.values()), silent=silent)


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
