"""What flows between ROS and Gazebo: the topics of the bridge, each with both names, both types and its direction.

Topics on Gazebo's side are ours: absolute, the robot's namespace in front, so that two robots in one world stay apart. Types:
gazebosim/ros_gz {branch}:ros_gz_bridge/README.md; LaserScan to Range since pull request 736.
"""
from __future__ import annotations

from typing import Literal, NamedTuple

from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.facts.sensor_topics import SensorTopic, absolute, camera_topics, published_by_sensors
from chassis_describe.targets.stack.topics import sensor_topics

Direction = Literal["GZ_TO_ROS", "ROS_TO_GZ"]


#: What Gazebo calls the measurement of each kind of sensor; a ranger is a narrow lidar there.
_GZ_TYPES = {"lidar": "LaserScan", "ranger": "LaserScan", "camera": "Image", "imu": "IMU", "gnss": "NavSat"}


class Stream(NamedTuple):
    """One topic: names from the root on both sides, the message of ROS and that of Gazebo (without its package)."""

    ros_topic: str
    gz_topic: str
    ros_type: str
    gz_type: str
    direction: Direction = "GZ_TO_ROS"


def gz_topic(assembly: Assembly, facet: SensorFacet) -> str:
    """What stands in the sensor's ``<topic>``."""
    if facet.sensor.kind == "depth_camera":
        return absolute(assembly, camera_topics(assembly)[facet.frame].image).rpartition("/")[0]
    return absolute(assembly, sensor_topics(assembly)[facet.frame])


def sensor_streams(assembly: Assembly, facet: SensorFacet) -> tuple[Stream, ...]:
    """What the bridge carries of one sensor. A depth camera's cloud is not among it: Gazebo gives its points in the camera's body
    axes under the name of the optical frame, so the launch file makes the cloud from the depth image instead."""
    if facet.sensor.kind == "contact":  # a driver's button; the simulator tells what touches what
        topic = absolute(assembly, sensor_topics(assembly)[facet.frame])
        return (Stream(topic, gz_topic(assembly, facet), "ros_gz_interfaces/msg/Contacts", "Contacts"),)
    made = [one for one in published_by_sensors(assembly)[facet.frame]
            if facet.sensor.kind != "depth_camera" or one.role != "measurement"]
    return tuple(Stream(absolute(assembly, one.topic), *_in_gazebo(assembly, facet, one)) for one in made)


def _in_gazebo(assembly: Assembly, facet: SensorFacet, one: SensorTopic) -> tuple[str, str, str]:
    """Name in Gazebo, the message of ROS, that of Gazebo."""
    gz, kind = gz_topic(assembly, facet), facet.sensor.kind
    if kind == "depth_camera":
        tails = {"image": "image", "depth": "depth_image", "info": "camera_info"}
        return f"{gz}/{tails[one.role]}", one.type, one.type.rpartition("/")[2]
    if kind == "lidar" and facet.sensor.layers > 1:
        return f"{gz}/points", one.type, "PointCloudPacked"
    if one.role == "info":
        return absolute(assembly, one.topic), one.type, "CameraInfo"
    return gz, one.type, _GZ_TYPES[kind]
