"""Names that nodes meet at: frames above the robot's tree and topics, the same in every file that we write.

Frames carry the robot's prefix; topics don't. Several robots have a ROS namespace each: topics are relative to it, and
nodes stand below it in parameter files.
"""
from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from typing import NamedTuple

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.errors import TargetError
from chassis_describe.facts.kinds_of_sensor import is_cloud, is_scanner
from chassis_describe.facts.slam_lidar import source_of_scan
from chassis_describe.targets.stack.ros_yaml import Block

MAP_FRAME = "map"  # REP-105; one map for all robots, so without prefix
COMMAND_TOPIC = "cmd_vel"
ODOMETRY_TOPIC = "odom"
#: Where the broadcaster publishes when joint_state_publisher adds the joints that nobody measures (our choice).
MEASURED = "measured_joint_states"
FUSED_ODOMETRY_TOPIC = "odometry/filtered"  # robot_localization's default output

# Last resorts where neither part nor placement says: REP-138 (scan), REP-145 (imu/data); the others are ours.
_DEFAULTS = {"lidar": "scan", "depth_camera": "depth", "camera": "image", "ranger": "range", "imu": "imu/data",
             "gnss": "fix", "contact": "contact"}


def odom_frame(assembly: Assembly) -> str:
    """The odometry frame (REP-105), one for each robot."""
    return f"{assembly.prefix}odom"


def odometry_topic(assembly: Assembly) -> str:
    """Where the odometry arrives that goes with the transform odom to root."""
    return FUSED_ODOMETRY_TOPIC if assembly.layout.ros.odometry == "ekf" else ODOMETRY_TOPIC


@kept
def sensor_topics(assembly: Assembly) -> Mapping[str, str]:
    """Topic of every sensor by its frame. A depth camera's is that of its point cloud.

    Where several sensors would share a topic that the part or we proposed, the placement's name goes before it (and
    the sensor's, where the placement alone doesn't tell them apart). Raises TargetError when two were given the same topic by hand.
    """
    wanted = {facet.frame: _wanted(facet) for facet in assembly.sensors}
    shared = Counter(wanted.values())
    topics: dict[str, str] = {}
    for facet in assembly.sensors:
        topic = wanted[facet.frame]
        if shared[topic] > 1 and not _by_hand(assembly, facet):
            several = sum(other.placement == facet.placement and wanted[other.frame] == topic
                          for other in assembly.sensors) > 1
            stem = f"{facet.placement}/{facet.sensor.name}" if several else facet.placement
            topic = f"/{stem}{topic}" if topic.startswith("/") else f"{stem}/{topic}"
        topics[facet.frame] = topic
    owners: dict[str, str] = {}
    for facet in assembly.sensors:
        topic = topics[facet.frame].lstrip("/")
        if topic in owners:
            raise TargetError(f"{facet.mark}: {facet.placement} and {owners[topic]} both publish on {topic}; "
                              "give one of them another `topic:`")
        owners[topic] = facet.placement
    return topics


class CameraTopics(NamedTuple):
    """ROS topics of a camera, as the layout counts them (relative ones without a slash). ``cloud``: of a depth camera."""

    image: str
    info: str
    depth: str = ""
    cloud: str = ""


@kept
def camera_topics(assembly: Assembly) -> dict[str, CameraTopics]:
    """By frame of each camera and depth camera. A camera's info stands beside its image, as image_transport looks for it; a
    depth camera's streams are below one name, as Gazebo's rgbd camera has them."""
    topics = sensor_topics(assembly)
    taken = set(topics.values())
    out: dict[str, CameraTopics] = {}
    for facet in assembly.sensors:
        topic = topics[facet.frame]
        above = topic.rpartition("/")[0]
        if facet.sensor.kind == "camera":
            info = next(name for name in (f"{above}/camera_info" if above else "camera_info", f"{topic}/camera_info")
                        if name not in taken)
            out[facet.frame] = CameraTopics(topic, info)
            taken.add(info)
        elif facet.sensor.kind == "depth_camera":
            stem = above if above.strip("/") else facet.placement
            if f"{stem}/camera_info" in taken:
                stem = f"{stem}/{facet.frame}"
            out[facet.frame] = CameraTopics(f"{stem}/image", f"{stem}/camera_info", f"{stem}/depth_image", topic)
            taken.update(out[facet.frame])
    return out


def scan_topics(assembly: Assembly) -> Mapping[str, str]:
    """By frame, the topic that the consumers of a 2D scan take: the filtered one where the robot blocks beams."""
    from chassis_describe.targets.stack.sectors import blocked_sectors

    blocked = blocked_sectors(assembly)
    topics = sensor_topics(assembly)
    return {facet.frame: filtered(topics[facet.frame]) if blocked.get(facet.frame) else topics[facet.frame]
            for facet in assembly.sensors if is_scanner(facet)}


def made_scan_topic(assembly: Assembly) -> str:
    """Where the scan goes that is made of a cloud or depth image: ``scan``, or below the sensor's name where a sensor has that
    already."""
    facet = source_of_scan(assembly)
    if facet is None or "scan" not in {topic.lstrip("/") for topic in sensor_topics(assembly).values()}:
        return "scan"
    return f"{source_name(assembly, facet)}/scan"


def filtered(topic: str) -> str:
    """Where the laser filter publishes: ``scan`` becomes ``scan_filtered``, the filter node's own default."""
    return f"{topic}_filtered"


def absolute(assembly: Assembly, topic: str) -> str:
    """The topic from the root, the robot's namespace before it."""
    space = assembly.layout.ros.namespace
    return topic if topic.startswith("/") else f"/{space}/{topic}" if space else f"/{topic}"


def transform_topic(assembly: Assembly) -> str:
    """Where transforms go: ``/tf`` of all, or in a namespace without a prefix, the robot's own ``tf``."""
    ros = assembly.layout.ros
    return "tf" if ros.namespace and not assembly.prefix else "/tf"


def in_namespace(assembly: Assembly) -> str:
    """What ``--ros-args`` of a command takes besides, so that its node lives in the robot's namespace; "" where there is none."""
    space = assembly.layout.ros.namespace
    return f" -r __ns:=/{space}" if space else ""


def node_block(document: Block, assembly: Assembly, *node: str) -> Block:
    """The parameters of a node, below the robot's namespace."""
    space = assembly.layout.ros.namespace
    return document.parameters(*(space.split("/") if space else ()), *node)


def source_name(assembly: Assembly, facet: SensorFacet) -> str:
    """What the stack calls a sensor: its placement, and its own name where the placement has several."""
    alone = sum(other.placement == facet.placement for other in assembly.sensors) == 1
    return facet.placement if alone else f"{facet.placement}_{facet.sensor.name}"


def cloud_topics(assembly: Assembly) -> Mapping[str, str]:
    """By frame, the topic that the consumers of a cloud take: the filtered one where it holds the robot itself."""
    from chassis_describe.facts.own_cloud import own_clouds

    topics = sensor_topics(assembly)
    return {frame: filtered(topics[frame]) if cloud.boxes else topics[frame] for frame, cloud in own_clouds(assembly).items()}


def _by_hand(assembly: Assembly, facet: SensorFacet) -> bool:
    return facet.sensor.name in assembly.parts[facet.placement].placement.topics


def _wanted(facet: SensorFacet) -> str:
    topic = (facet.topic or _DEFAULTS[facet.sensor.kind]).rstrip("/")
    if is_cloud(facet) and not topic.rsplit("/", 1)[-1].startswith(("points", "cloud")):
        # A camera's topic is the name above its streams, as in Gazebo's rgbd camera: <topic>/points.
        return f"{topic}/points"
    return topic
