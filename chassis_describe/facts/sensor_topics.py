"""What each sensor publishes: topics, message types, and the frame in the messages. One fact for every file, report and node.

Topics are as the layout counts them: relative ones, without a slash, are below the robot's namespace.
"""
from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Literal, NamedTuple

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.errors import never
from chassis_describe.facts.kinds_of_sensor import is_cloud, is_scanner
from chassis_describe.facts.own_cloud import own_clouds
from chassis_describe.facts.sectors import blocked_sectors
from chassis_describe.facts.slam_lidar import source_of_scan

# Last resorts where neither part nor placement says: REP-138 (scan), REP-145 (imu/data); the others are ours.
_DEFAULTS = {"lidar": "scan", "depth_camera": "depth", "camera": "image", "ranger": "range", "imu": "imu/data",
             "gnss": "fix", "contact": "contact"}


class SensorTopic(NamedTuple):
    """One topic of a sensor. ``role``: what it has beside its measurement; ``type``: of ROS, ``package/msg/Name``; ``frame``:
    ``header.frame_id``, "" where the message has no header."""

    role: Literal["measurement", "image", "info", "depth"]
    topic: str
    type: str
    frame: str


@kept
def published_by_sensors(assembly: Assembly) -> Mapping[str, tuple[SensorTopic, ...]]:
    """By frame of each sensor, what its driver publishes, its measurement first."""
    return {facet.frame: tuple(_published(assembly, facet)) for facet in assembly.sensors}


def _published(assembly: Assembly, facet: SensorFacet) -> Iterator[SensorTopic]:
    kind, topic, frame = facet.sensor.kind, topics_of(assembly)[facet.frame], facet.message_frame
    if kind == "lidar" or kind == "depth_camera":
        name = "sensor_msgs/msg/PointCloud2" if is_cloud(facet) else "sensor_msgs/msg/LaserScan"
        yield SensorTopic("measurement", topic, name, frame)
    elif kind == "camera":
        yield SensorTopic("measurement", topic, "sensor_msgs/msg/Image", frame)
    elif kind == "ranger":
        yield SensorTopic("measurement", topic, "sensor_msgs/msg/Range", frame)
    elif kind == "imu":
        yield SensorTopic("measurement", topic, "sensor_msgs/msg/Imu", frame)
    elif kind == "gnss":
        yield SensorTopic("measurement", topic, "sensor_msgs/msg/NavSatFix", frame)
    elif kind == "contact":
        yield SensorTopic("measurement", topic, "std_msgs/msg/Bool", "")
    else:
        raise never(kind)
    own = camera_topics(assembly).get(facet.frame)
    if own is None:
        return
    if kind == "depth_camera":
        yield SensorTopic("image", own.image, "sensor_msgs/msg/Image", frame)
        yield SensorTopic("depth", own.depth, "sensor_msgs/msg/Image", frame)
    yield SensorTopic("info", own.info, "sensor_msgs/msg/CameraInfo", frame)


@kept
def topics_of(assembly: Assembly) -> Mapping[str, str]:
    """Topic of every sensor by its frame. A depth camera's is that of its point cloud.

    Where several sensors would share a topic that the part or we proposed, the placement's name goes before it (and
    the sensor's, where the placement alone doesn't tell them apart).
    Two that were given the same topic by hand keep it.
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
    topics = topics_of(assembly)
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
    blocked = blocked_sectors(assembly)
    topics = topics_of(assembly)
    return {facet.frame: filtered(topics[facet.frame]) if blocked.get(facet.frame) else topics[facet.frame]
            for facet in assembly.sensors if is_scanner(facet)}


def cloud_topics(assembly: Assembly) -> Mapping[str, str]:
    """By frame, the topic that the consumers of a cloud take: the filtered one where it holds the robot itself."""
    topics = topics_of(assembly)
    return {frame: filtered(topics[frame]) if cloud.boxes else topics[frame] for frame, cloud in own_clouds(assembly).items()}


def made_scan_topic(assembly: Assembly) -> str:
    """Where the scan goes that is made of a cloud or depth image: ``scan``, or below the sensor's name where a sensor has that
    already."""
    facet = source_of_scan(assembly)
    if facet is None or "scan" not in {topic.lstrip("/") for topic in topics_of(assembly).values()}:
        return "scan"
    return f"{source_name(assembly, facet)}/scan"


def filtered(topic: str) -> str:
    """Where the laser filter publishes: ``scan`` becomes ``scan_filtered``, the filter node's own default."""
    return f"{topic}_filtered"


def absolute(assembly: Assembly, topic: str) -> str:
    """The topic from the root, the robot's namespace before it."""
    space = assembly.layout.ros.namespace
    return topic if topic.startswith("/") else f"/{space}/{topic}" if space else f"/{topic}"


def source_name(assembly: Assembly, facet: SensorFacet) -> str:
    """What the stack calls a sensor: its placement, and its own name where the placement has several."""
    alone = sum(other.placement == facet.placement for other in assembly.sensors) == 1
    return facet.placement if alone else f"{facet.placement}_{facet.sensor.name}"


def _by_hand(assembly: Assembly, facet: SensorFacet) -> bool:
    return facet.sensor.name in assembly.parts[facet.placement].placement.topics


def _wanted(facet: SensorFacet) -> str:
    topic = (facet.topic or _DEFAULTS[facet.sensor.kind]).rstrip("/")
    if is_cloud(facet) and not topic.rsplit("/", 1)[-1].startswith(("points", "cloud")):
        # A camera's topic is the name above its streams, as in Gazebo's rgbd camera: <topic>/points.
        return f"{topic}/points"
    return topic
