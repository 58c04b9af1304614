"""One description on the graph, never two: robot_state_publisher's where it is there, else this node's own.

robot_state_publisher takes a new description as its parameter ``robot_description``: it reads it with urdfdom, publishes it and
sends the fixed frames again, or refuses it (ros/robot_state_publisher, src/robot_state_publisher.cpp, ``onParameterEvent``).
Publishers on ``robot_description`` and ``/tf_static`` are latched, one message deep, as its own are.
"""
from __future__ import annotations

import importlib.util
import time
from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

from rcl_interfaces.msg import Parameter, ParameterType, ParameterValue
from rcl_interfaces.srv import SetParameters
from rclpy.qos import DurabilityPolicy, QoSProfile, ReliabilityPolicy
from std_msgs.msg import String

#: Latched, as robot_state_publisher and tf2's static broadcaster publish.
LATCHED = QoSProfile(depth=1, reliability=ReliabilityPolicy.RELIABLE, durability=DurabilityPolicy.TRANSIENT_LOCAL)
TOPIC = "robot_description"
PUBLISHER = "robot_state_publisher"
#: Seconds between two looks at who is there; for which one that was there all the time is looked for at the start.
LOOK, FIRST_LOOK = 0.25, 1.0
#: Seconds after which the same is asked again, twice as long each time up to the second: one that needs longer than that for an
#: answer would else be asked faster than it answers. A late answer counts.
ANSWER, PATIENCE = 3.0, 24.0
#: What rmw calls a node of which it has heard the endpoints alone so far (rmw_dds_common, graph_cache.cpp).
_UNKNOWN = "_NODE_NAME_UNKNOWN_"


class Content(NamedTuple):
    """What the graph is to hold: the URDF, and the transforms (``geometry_msgs/TransformStamped``) on ``frames_topic``."""

    urdf: str
    transforms: Sequence[Any]
    frames_topic: str


class State(NamedTuple):
    """How the description is on the graph, in words; ``fault``: it is not as it should be."""

    words: str
    fault: bool = False


class Publication:
    """Keeps one description on the graph. Call :meth:`look` every ``LOOK`` seconds, or oftener.

    ``publisher``: the robot_state_publisher's name, relative to the node's namespace. ``feed``: set its parameter; False where
    it is only given way to. ``told`` hears what has changed.
    """

    def __init__(self, node: Any, *, publisher: str = PUBLISHER, feed: bool = True,
                 told: Callable[[State], None] = lambda state: None) -> None:
        self._node, self._feed, self._told = node, feed, told
        self.publisher = self._full_name(publisher)
        self._client = node.create_client(SetParameters, f"{self.publisher}/set_parameters")
        self.state = State("nothing is published yet")
        self._content: Content | None = None
        self._version = 0
        self._own: dict[str, Any] = {}
        self._own_version = -1
        self._sent: tuple[int, frozenset[bytes]] | None = None
        self._asked: dict[Any, int] = {}  # questions that are not answered yet → the version that they are about
        self._asked_at, self._patience = 0.0, ANSWER
        self._since = time.monotonic()

    @property
    def publishes(self) -> bool:
        """Whether this node publishes the description itself."""
        return bool(self._own)

    def set(self, content: Content) -> None:
        """A new description, which goes out at once, or as soon as it is known who is to publish it."""
        self._content = content
        self._version += 1
        self.look()

    def look(self) -> None:
        """See who is there, and bring the graph up to date."""
        if self._client.service_is_ready():
            self._take_down()
            if self._feed:
                self._send()
            else:
                self._say(State(f"{self.publisher} describes the robot"))
        elif self._content is not None and (time.monotonic() - self._since >= FIRST_LOOK or self._sent is not None):
            self._sent = None
            self._forget(self._version)
            self._publish(self._content)

    def others(self) -> list[str]:
        """Who else publishes a description here: neither this node nor the robot_state_publisher."""
        found = self._node.get_publishers_info_by_topic(self._node.resolve_topic_name(TOPIC))
        names = {_joined(p.node_namespace, p.node_name) for p in found if p.node_name != _UNKNOWN}
        return sorted(names - {self.publisher, self._node.get_fully_qualified_name()})

    def close(self) -> None:
        """Take down what this node publishes."""
        self._take_down()

    # ------------------------------------------------------------------------------------------------- this node's own
    def _publish(self, content: Content) -> None:
        if self._own_version == self._version:
            return
        self._own_version = self._version
        self._latch(TOPIC, String, String(data=content.urdf))
        kind = transform_message()
        if kind is not None:
            for topic in [t for t in self._own if t not in (TOPIC, content.frames_topic)]:
                self._node.destroy_publisher(self._own.pop(topic))
            self._latch(content.frames_topic, kind, kind(transforms=list(content.transforms)))
        alone = f"no {self.publisher} is there, so this node publishes the description"
        self._say(State(f"{alone} and the frames") if kind is not None else State(
            f"{alone}; no transforms, since the package tf2_msgs is not here (it comes with a ROS installation)", True))

    def _latch(self, topic: str, kind: Any, message: Any) -> None:
        if topic not in self._own:
            self._own[topic] = self._node.create_publisher(kind, topic, LATCHED)
        self._own[topic].publish(message)

    def _take_down(self) -> None:
        for publisher in self._own.values():
            self._node.destroy_publisher(publisher)
        self._own, self._own_version = {}, -1

    # ------------------------------------------------------------------------------------------- robot_state_publisher's
    def _send(self) -> None:
        """Set the parameter, unless this one has it: one that was started again has other endpoints."""
        if self._content is None:
            return
        now, wanted = time.monotonic(), (self._version, self._endpoints())
        if self._sent is None or wanted[1] - self._sent[1]:
            self._patience = ANSWER
        elif self._asked:
            if now - self._asked_at < self._patience:
                return
            self._patience = min(2.0 * self._patience, PATIENCE)
            self._say(State(f"{self.publisher} does not answer; it is asked again", True))
        elif wanted == self._sent:
            return
        self._sent, self._asked_at = wanted, now
        value = ParameterValue(type=ParameterType.PARAMETER_STRING, string_value=self._content.urdf)
        future = self._client.call_async(SetParameters.Request(parameters=[Parameter(name=TOPIC, value=value)]))
        self._asked[future] = self._version
        future.add_done_callback(self._answered)

    def _answered(self, future: Any) -> None:
        version = self._asked.pop(future, None)
        if version is None or self._sent is None:
            return
        self._forget(version)
        if version != self._sent[0]:
            return  # of an older one; the newer one is asked about already
        self._patience = ANSWER
        try:
            result = future.result().results[0]
        except Exception as error:  # what a foreign node answers with may be anything
            self._say(State(f"{self.publisher} did not take the description: {error}", True))
            return
        if result.successful:
            self._say(State(f"{self.publisher} has the description"))
        else:
            self._say(State(f"{self.publisher} refuses the description and keeps the one before: "
                            f"{result.reason or 'it gives no reason'}", True))
        self._send()  # another save may have come meanwhile

    def _forget(self, version: int) -> None:
        """No answer about this version, or one before it, matters any more."""
        for future in [f for f, about in self._asked.items() if about <= version]:
            del self._asked[future]
            self._client.remove_pending_request(future)

    def _endpoints(self) -> frozenset[bytes]:
        found = self._node.get_publishers_info_by_topic(self._node.resolve_topic_name(TOPIC))
        return frozenset(bytes(p.endpoint_gid) for p in found if _joined(p.node_namespace, p.node_name) == self.publisher)

    def _full_name(self, name: str) -> str:
        return name if name.startswith("/") else _joined(self._node.get_namespace(), name)

    def _say(self, state: State) -> None:
        changed, self.state = state != self.state, state
        if changed:
            self._told(state)


def transform_message() -> Any:
    """``tf2_msgs/TFMessage``, or None where only wheels are installed: no registry carries it."""
    if importlib.util.find_spec("tf2_msgs") is None:
        return None
    from tf2_msgs.msg import TFMessage

    return TFMessage


def _joined(namespace: str, name: str) -> str:
    return f"{namespace.rstrip('/')}/{name}"
