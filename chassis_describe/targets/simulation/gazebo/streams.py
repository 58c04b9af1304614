"""What flows between ROS and Gazebo: the topics of the bridge, each with both names, both types and its direction.

Topics on Gazebo's side are ours: absolute, the robot's namespace in front, so that two robots in one world stay apart. Types:
gazebosim/ros_gz {branch}:ros_gz_bridge/README.md; LaserScan to Range since pull request 736.
"""
from __future__ import annotations

from typing import Literal, NamedTuple

from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.errors import never
from chassis_describe.targets.stack.topics import absolute, camera_topics, sensor_topics

Direction = Literal["GZ_TO_ROS", "ROS_TO_GZ"]


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
    ros, gz = absolute(assembly, sensor_topics(assembly)[facet.frame]), gz_topic(assembly, facet)
    kind = facet.sensor.kind
    if kind == "lidar":
        if facet.sensor.layers > 1:
            return (Stream(ros, f"{gz}/points", "sensor_msgs/msg/PointCloud2", "PointCloudPacked"),)
        return (Stream(ros, gz, "sensor_msgs/msg/LaserScan", "LaserScan"),)
    if kind == "ranger":
        return (Stream(ros, gz, "sensor_msgs/msg/Range", "LaserScan"),)
    if kind == "camera":
        info = absolute(assembly, camera_topics(assembly)[facet.frame].info)
        return (Stream(ros, gz, "sensor_msgs/msg/Image", "Image"), Stream(info, info, "sensor_msgs/msg/CameraInfo", "CameraInfo"))
    if kind == "depth_camera":
        own = camera_topics(assembly)[facet.frame]
        rows = ((own.image, "image", "Image"), (own.depth, "depth_image", "Image"), (own.info, "camera_info", "CameraInfo"))
        return tuple(Stream(absolute(assembly, topic), f"{gz}/{tail}", f"sensor_msgs/msg/{type_}", type_)
                     for topic, tail, type_ in rows)
    if kind == "imu":
        return (Stream(ros, gz, "sensor_msgs/msg/Imu", "IMU"),)
    if kind == "gnss":
        return (Stream(ros, gz, "sensor_msgs/msg/NavSatFix", "NavSat"),)
    if kind == "contact":
        return (Stream(ros, gz, "ros_gz_interfaces/msg/Contacts", "Contacts"),)
    raise never(kind)
