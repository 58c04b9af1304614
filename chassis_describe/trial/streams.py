"""What the simulator publishes: topics as in the layout, types and frames as the sensors' drivers have them."""
from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import partial
from typing import Any, NamedTuple

import numpy as np
from nav_msgs.msg import Odometry
from sensor_msgs.msg import CameraInfo, Image, Imu, JointState, LaserScan, PointCloud2, Range
from std_msgs.msg import Bool

from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.errors import never
from chassis_describe.facts.sensor_topics import published_by_sensors
from chassis_describe.facts.usual_sensors import rate_of
from chassis_describe.space.pose import Pose
from chassis_describe.targets.stack.drive_controllers import variances
from chassis_describe.targets.stack.topics import MAP_FRAME, ODOMETRY_TOPIC, odom_frame, sensor_topics
from chassis_describe.trial import messages
from chassis_describe.trial.engine import Engine
from chassis_describe.trial.frames import Joints, as_stamped
from chassis_describe.trial.images import Images
from chassis_describe.trial.odometry import Odometer
from chassis_describe.trial.sensors import Bumper, Depth, InertialUnit, Layers, Pinhole, Ranger, Scan, pinhole_of

#: Hz: joint states as the controller manager's update rate, odometry as the controllers' publish rate (their defaults).
JOINT_RATE, ODOMETRY_RATE = 100.0, 50.0
JOINT_TOPIC, TRUTH_TOPIC = "joint_states", "ground_truth"


class Feed(NamedTuple):
    """One topic. ``make``: from a stamp (ns) to a message. ``asked``: only made while somebody listens. ``sample``: to be called
    after every step of the engine."""

    topic: str
    kind: Any
    rate: float
    make: Callable[[int], Any]
    asked: bool = False
    note: str = ""
    sample: Callable[[], None] | None = None


def robot_streams(engine: Engine, assembly: Assembly, joints: Joints) -> Iterator[Feed]:
    """Joint states, odometry, the truth."""
    if joints.moving:
        yield Feed(JOINT_TOPIC, JointState, JOINT_RATE, lambda stamp: messages.joint_states(stamp, joints.read()))
    if assembly.drive is not None and engine.drives:
        odometer, spread = Odometer(engine), variances(assembly.drive)
        odom = odom_frame(assembly)
        yield Feed(ODOMETRY_TOPIC, Odometry, ODOMETRY_RATE,
                   lambda stamp: messages.wheel_odometry(stamp, odom, assembly.root, *odometer.read(), spread))
    yield Feed(TRUTH_TOPIC, Odometry, ODOMETRY_RATE, partial(_truth, engine, assembly))


def _truth(engine: Engine, assembly: Assembly, stamp: int) -> Odometry:
    body = engine.data.body(assembly.root)
    turn: Any = tuple(float(v) for v in body.xmat)
    linear, angular = engine.velocity(assembly.root)
    x, y, z = (float(v) for v in body.xpos)
    return messages.odometry(stamp, MAP_FRAME, assembly.root, Pose(turn, (x, y, z)), messages.twist(linear, angular))


def sensor_streams(engine: Engine, assembly: Assembly, random: np.random.Generator, images: Images) -> Iterator[Feed]:
    """Those of every sensor. Cameras give pictures where ``images`` can draw."""
    sensor_topics(assembly)  # refuses two on one topic
    published = published_by_sensors(assembly)
    for facet in as_stamped(assembly):
        yield from _of(engine, facet, {one.role: one.topic for one in published[facet.frame]}, random, images)


def _of(engine: Engine, facet: SensorFacet, topics: Mapping[str, str], random: np.random.Generator,
        images: Images) -> Iterator[Feed]:
    kind, rate, topic = facet.sensor.kind, rate_of(facet), topics["measurement"]
    frame = facet.message_frame
    if kind == "lidar" and facet.sensor.layers == 1:
        scan = Scan(engine, facet, random)
        yield Feed(topic, LaserScan, rate, lambda stamp: messages.scan(stamp, facet, scan, scan.read()), asked=True)
    elif kind == "lidar":
        layers = Layers(engine, facet, random)
        yield Feed(topic, PointCloud2, rate, lambda stamp: messages.cloud(stamp, frame, layers.read()), asked=True)
    elif kind == "depth_camera":
        depth = Depth(engine, facet, random)
        note = (f"{depth.width} by {depth.height} points, since every one is a ray that the processor casts"
                if depth.stride > 1 else "")
        yield Feed(topic, PointCloud2, rate, lambda stamp: messages.cloud(stamp, frame, depth.read()), asked=True, note=note)
        yield Feed(topics["depth"], Image, rate, lambda stamp: messages.depths(stamp, frame, depth.read_image()), asked=True)
        yield from _camera(facet, topics["info"], topics["image"], images)
    elif kind == "camera":
        yield from _camera(facet, topics["info"], topic, images)
    elif kind == "ranger":
        ranger = Ranger(engine, facet, random)
        yield Feed(topic, Range, rate, lambda stamp: messages.distance(stamp, facet, ranger, ranger.read()), asked=True)
    elif kind == "imu":
        imu = InertialUnit(engine, facet, random)
        attitude = not topic.endswith("data_raw")  # REP-145: raw data has no orientation
        yield Feed(topic, Imu, rate, lambda stamp: messages.inertial(stamp, facet, imu.noise, imu.read(), attitude=attitude),
                   sample=imu.sample)
    elif kind == "contact":
        bumper = Bumper(engine, facet)
        yield Feed(topic, Bool, rate, lambda stamp: messages.pressed(bumper.read()))
    elif kind == "gnss":
        return
    else:
        raise never(kind)


def cameras_of(assembly: Assembly) -> dict[str, Pinhole]:
    """The image of every camera, by its frame."""
    return {s.frame: pinhole_of(s) for s in assembly.sensors if s.sensor.kind in ("camera", "depth_camera")}


def _camera(facet: SensorFacet, info: str, topic: str, images: Images) -> Iterator[Feed]:
    pinhole, rate = pinhole_of(facet), rate_of(facet)
    yield Feed(info, CameraInfo, rate, lambda stamp: messages.camera_info(stamp, facet.message_frame, pinhole))
    if images.renders:
        yield Feed(topic, Image, rate,
                   lambda stamp: messages.picture(stamp, facet.message_frame, images.picture(facet.frame)), asked=True)
