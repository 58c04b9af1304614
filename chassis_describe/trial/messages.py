"""ROS messages made of numbers. Fields as in common_interfaces; stamps are nanoseconds of the simulation."""
from __future__ import annotations

import array
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
from builtin_interfaces.msg import Duration, Time
from geometry_msgs.msg import Quaternion, Twist, Vector3
from nav_msgs.msg import Odometry
from sensor_msgs.msg import CameraInfo, Image, Imu, JointState, LaserScan, PointCloud2, PointField, Range
from std_msgs.msg import Bool, Header

from chassis_describe.assembly.model import SensorFacet
from chassis_describe.facts.usual_sensors import fov_of, rate_of
from chassis_describe.layout.model import ImuNoise
from chassis_describe.space.pose import Pose
from chassis_describe.trial.kinematics import FloorPose, Motion
from chassis_describe.trial.rays import Array
from chassis_describe.trial.sensors import InertialReading, Pinhole, Ranger, Scan

_NANO = 1_000_000_000


def time_of(stamp: int) -> Time:
    """A stamp as a message."""
    return Time(sec=stamp // _NANO, nanosec=stamp % _NANO)


def seconds(duration: Duration) -> float:
    """A duration, or a time, in seconds."""
    return float(duration.sec + duration.nanosec / _NANO)


def header(stamp: int, frame: str) -> Header:
    return Header(stamp=time_of(stamp), frame_id=frame)


def twist(linear: Sequence[float], angular: Sequence[float]) -> Twist:
    return Twist(linear=_vector(linear), angular=_vector(angular))


def odometry(stamp: int, parent: str, child: str, pose: Pose, velocity: Twist,
             variances: tuple[Sequence[float], Sequence[float]] | None = None) -> Odometry:
    """A pose and the velocity in the child's axes; ``variances``: diagonals of pose and twist."""
    message = Odometry(header=header(stamp, parent), child_frame_id=child)
    place = message.pose.pose.position
    place.x, place.y, place.z = pose.t
    message.pose.pose.orientation = _quaternion(pose.quaternion)
    message.twist.twist = velocity
    if variances is not None:
        for held, diagonal in zip((message.pose, message.twist), variances):
            held.covariance = np.diag(diagonal).ravel()
    return message


def wheel_odometry(stamp: int, parent: str, child: str, place: FloorPose, motion: Motion,
                   variances: tuple[Sequence[float], Sequence[float]]) -> Odometry:
    """What a drive controller publishes."""
    return odometry(stamp, parent, child, flat(place), twist((motion.forward, motion.left, 0.0), (0.0, 0.0, motion.turn)),
                    variances)


def flat(place: FloorPose) -> Pose:
    """A place on the ground as a pose."""
    c, s = math.cos(place.yaw), math.sin(place.yaw)
    return Pose((c, -s, 0.0, s, c, 0.0, 0.0, 0.0, 1.0), (place.x, place.y, 0.0))


def joint_states(stamp: int, states: Mapping[str, tuple[float, float]]) -> JointState:
    """Position and velocity by joint."""
    return JointState(header=header(stamp, ""), name=list(states), position=[p for p, _ in states.values()],
                      velocity=[v for _, v in states.values()])


def scan(stamp: int, facet: SensorFacet, eye: Scan, ranges: Array) -> LaserScan:
    """All of one instant, so no time passes between beams."""
    return LaserScan(header=header(stamp, facet.message_frame), angle_min=eye.first,
                     angle_max=eye.first + eye.step * (eye.count - 1), angle_increment=eye.step, time_increment=0.0,
                     scan_time=1.0 / rate_of(facet), range_min=eye.near, range_max=eye.far, ranges=_floats(ranges))


def cloud(stamp: int, frame: str, points: Array) -> PointCloud2:
    """Points (n, 3), or in the order of an image (height, width, 3), where NaN is no point."""
    height, width = points.shape[:2] if points.ndim == 3 else (1, len(points))
    fields = [PointField(name=name, offset=4 * n, datatype=PointField.FLOAT32, count=1) for n, name in enumerate("xyz")]
    return PointCloud2(header=header(stamp, frame), height=height, width=width, fields=fields, is_bigendian=False,
                       point_step=12, row_step=12 * width, data=array.array("B", points.astype("<f4").tobytes()),
                       is_dense=points.ndim == 2)


def distance(stamp: int, facet: SensorFacet, eye: Ranger, found: float) -> Range:
    return Range(header=header(stamp, facet.message_frame), field_of_view=fov_of(facet), min_range=eye.near, max_range=eye.far,
                 range=found, radiation_type=Range.INFRARED if facet.sensor.radiation == "infrared" else Range.ULTRASOUND)


def inertial(stamp: int, facet: SensorFacet, noise: ImuNoise, read: InertialReading, *, attitude: bool) -> Imu:
    """Without ``attitude`` its covariance says that there is none (sensor_msgs/Imu). Variances are those of the noise."""
    message = Imu(header=header(stamp, facet.message_frame), angular_velocity=_vector(read.gyro),
                  linear_acceleration=_vector(read.accel))
    message.angular_velocity_covariance = np.diag([noise.gyro**2] * 3).ravel()
    message.linear_acceleration_covariance = np.diag([noise.accel**2] * 3).ravel()
    if attitude:
        message.orientation = _quaternion(read.attitude)
    else:
        message.orientation_covariance[0] = -1.0
    return message


def pressed(touching: bool) -> Bool:
    return Bool(data=touching)


def camera_info(stamp: int, frame: str, image: Pinhole) -> CameraInfo:
    """A pinhole without distortion."""
    (x, y), f = image.middle, image.focal
    return CameraInfo(header=header(stamp, frame), width=image.width, height=image.height, distortion_model="plumb_bob",
                      d=[0.0] * 5, k=[f, 0.0, x, 0.0, f, y, 0.0, 0.0, 1.0], r=[1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0],
                      p=[f, 0.0, x, 0.0, 0.0, f, y, 0.0, 0.0, 0.0, 1.0, 0.0])


def picture(stamp: int, frame: str, pixels: Array) -> Image:
    """Colours (height, width, 3), 0 to 255."""
    height, width, _ = pixels.shape
    return Image(header=header(stamp, frame), height=height, width=width, encoding="rgb8", is_bigendian=0, step=3 * width,
                 data=array.array("B", np.ascontiguousarray(pixels).tobytes()))


def depths(stamp: int, frame: str, ahead: Array) -> Image:
    """Depths in metres (height, width), NaN where there is none (REP-118)."""
    height, width = ahead.shape
    return Image(header=header(stamp, frame), height=height, width=width, encoding="32FC1", is_bigendian=0, step=4 * width,
                 data=array.array("B", np.ascontiguousarray(ahead, dtype="<f4").tobytes()))


def _vector(values: Iterable[float]) -> Vector3:
    x, y, z = (float(v) for v in values)
    return Vector3(x=x, y=y, z=z)


def _quaternion(values: Iterable[float]) -> Quaternion:
    x, y, z, w = (float(v) for v in values)
    return Quaternion(x=x, y=y, z=z, w=w)


def _floats(values: Array) -> Any:
    return array.array("f", values.astype(np.float32).tobytes())
