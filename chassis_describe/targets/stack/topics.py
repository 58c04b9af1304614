"""Names that nodes meet at: frames above the robot's tree and topics, the same in every file that we write.

Frames carry the robot's prefix; topics don't. Several robots have a ROS namespace each: topics are relative to it, and
nodes stand below it in parameter files.
"""
from __future__ import annotations

from collections.abc import Mapping

from chassis_describe.assembly.model import Assembly
from chassis_describe.errors import TargetError
from chassis_describe.facts.sensor_topics import topics_of
from chassis_describe.targets.stack.ros_yaml import Block

MAP_FRAME = "map"  # REP-105; one map for all robots, so without prefix
MAP_TOPIC = "map"  # where map_server publishes, AMCL and the static layer listen
COMMAND_TOPIC = "cmd_vel"
ODOMETRY_TOPIC = "odom"
#: Where the broadcaster publishes when joint_state_publisher adds the joints that nobody measures (our choice).
MEASURED = "measured_joint_states"
FUSED_ODOMETRY_TOPIC = "odometry/filtered"  # robot_localization's default output


def odom_frame(assembly: Assembly) -> str:
    """The odometry frame (REP-105), one for each robot."""
    return f"{assembly.prefix}odom"


def odometry_topic(assembly: Assembly) -> str:
    """Where the odometry arrives that goes with the transform odom to root."""
    return FUSED_ODOMETRY_TOPIC if assembly.layout.ros.odometry == "ekf" else ODOMETRY_TOPIC


def transform_topic(assembly: Assembly) -> str:
    """Where transforms go: ``/tf`` of all, or in a namespace without a prefix, the robot's own ``tf``."""
    ros = assembly.layout.ros
    return "tf" if ros.namespace and not assembly.prefix else "/tf"


def in_namespace(assembly: Assembly) -> str:
    """What ``--ros-args`` of a command takes besides, so that its node lives in the robot's namespace; "" where there is none."""
    space = assembly.layout.ros.namespace
    return f" -r __ns:=/{space}" if space else ""


def with_transforms(assembly: Assembly) -> str:
    """The same for a node that takes or gives transforms: where the robot keeps its own, ``/tf`` is renamed too."""
    own = transform_topic(assembly) != "/tf"
    return in_namespace(assembly) + (" -r /tf:=tf -r /tf_static:=tf_static" if own else "")


def robot_block(document: Block, assembly: Assembly) -> Block:
    """Where the robot's nodes are, and the remarks about them: the whole file, or what is below its namespace."""
    space = assembly.layout.ros.namespace
    for name in space.split("/") if space else ():
        document = document.block(name)
    return document


def node_block(document: Block, assembly: Assembly, *node: str) -> Block:
    """The parameters of a node, below the robot's namespace."""
    return robot_block(document, assembly).parameters(*node)


def sensor_topics(assembly: Assembly) -> Mapping[str, str]:
    """Topic of every sensor by its frame, as `topics_of` has it. Raises TargetError where two were given the same one by hand."""
    topics = topics_of(assembly)
    owners: dict[str, str] = {}
    for facet in assembly.sensors:
        topic = topics[facet.frame].lstrip("/")
        if topic in owners:
            raise TargetError(f"{facet.mark}: {facet.placement} and {owners[topic]} both publish on {topic}; "
                              "give one of them another `topic:`")
        owners[topic] = facet.placement
    return topics
