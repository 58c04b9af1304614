"""The sensors as Gazebo has them, one ``<sensor>`` in a ``<gazebo>`` element each.

Elements: gazebosim/sdformat sdf12:sdf/1.9/sensor.sdf and the files that it includes; every later release reads them. A sensor
stands on the link that carries it once fixed joints are lumped, with its pose written out: nothing then depends on how the
converter carries poses over (it writes six digits). Its name is the frame, which is the header's name where no tag is read.
"""
from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, Link, SensorFacet
from chassis_describe.errors import never
from chassis_describe.facts.beams import layer_of_beams
from chassis_describe.facts.own_housing import near_clip
from chassis_describe.facts.sensor_topics import absolute, camera_topics
from chassis_describe.facts.usual_sensors import fov_of, image_fov, pixels_of, range_of, rate_of
from chassis_describe.layout.build.casters import ROLL
from chassis_describe.layout.model import ImuNoise
from chassis_describe.space.pose import Pose, to_rpy
from chassis_describe.targets.description.urdf_file import collision_name
from chassis_describe.targets.simulation.gazebo.streams import gz_topic
from chassis_describe.targets.stack import distros
from chassis_describe.xmltree import angle, child, length, number

if TYPE_CHECKING:
    from lxml import etree

TYPES = {"lidar": "gpu_lidar", "ranger": "gpu_lidar", "camera": "camera", "depth_camera": "rgbd_camera", "imu": "imu",
         "gnss": "navsat", "contact": "contact"}


@kept
def carriers(assembly: Assembly) -> dict[str, str]:
    """By link, the one that carries it once fixed joints are lumped: itself below a joint that moves or is preserved."""
    keep = preserved(assembly)
    out = {assembly.root: assembly.root}
    waiting = list(assembly.joints)
    while waiting:
        later = []
        for joint in waiting:
            if joint.parent not in out:
                later.append(joint)
            else:
                out[joint.child] = out[joint.parent] if joint.type == "fixed" and joint.name not in keep else joint.child
        waiting = later
    return out


@kept
def preserved(assembly: Assembly) -> tuple[str, ...]:
    """Fixed joints that must not be lumped: of bumpers, whose collisions are referred to by name, and of whatever glides on the
    floor with a friction of its own (Gazebo's engine knows one friction a link unless its fork is installed)."""
    apart = {_bumper(assembly, f).name for f in assembly.sensors if f.sensor.kind == "contact"} | {
        link.name for link in gliders(assembly)}
    return tuple(j.name for j in assembly.joints if j.type == "fixed" and j.child in apart)


def gliders(assembly: Assembly) -> tuple[Link, ...]:
    """Links of casters whose ball or wheel is no link of its own: they glide."""
    return tuple(assembly.link_of[c.link] for c in assembly.casters if ROLL not in assembly.parts[c.placement].moving)


def _bumper(assembly: Assembly, facet: SensorFacet) -> Link:
    """The link that a contact sensor feels for: the nearest one above its frame that has a mass."""
    above = {joint.child: joint.parent for joint in assembly.joints}
    name = facet.frame
    while assembly.link_of[name].inertial is None and name in above:
        name = above[name]
    return assembly.link_of[name]


def bumper_collisions(assembly: Assembly, facet: SensorFacet) -> tuple[str, ...]:
    """The collisions that a contact sensor feels, by the names that they have in SDF: the converter adds a word and, from the
    second on, a number (sdformat {branch}:src/parser_urdf.cc, CreateCollisions)."""
    link = _bumper(assembly, facet)
    count = sum(body.collides for body in link.bodies)
    return tuple(f"{collision_name(link.name, n + 1)}_collision" + (f"_{n}" if n else "") for n in range(count))


def sensor_frame(assembly: Assembly, facet: SensorFacet) -> str:
    """The frame that its messages carry: the layout's, where that is one of ours; a driver's own frames are not simulated."""
    return facet.message_frame if facet.message_frame in assembly.poses else facet.frame


def sensor_elements(assembly: Assembly) -> Iterator[etree._Element]:
    """A ``<gazebo reference>`` for each sensor; none for a contact sensor that has nothing to feel with."""
    from lxml import etree

    for facet in assembly.sensors:
        kind = facet.sensor.kind
        if kind == "contact" and not bumper_collisions(assembly, facet):
            continue
        carrier = carriers(assembly)[facet.frame]
        place = etree.Element("gazebo", {"reference": carrier})
        sensor = child(place, "sensor", [("name", facet.frame), ("type", TYPES[kind])])
        _put(sensor, "pose", _six(assembly.poses[carrier].inverse() @ facet.pose))
        _put(sensor, "always_on", "true")
        _put(sensor, "update_rate", number(rate_of(facet)))
        _put(sensor, "topic", gz_topic(assembly, facet))
        _put(sensor, distros.text("gz_frame_tag", assembly.layout.ros.distro), sensor_frame(assembly, facet))
        _own(sensor, assembly, facet)
        yield place


def _own(sensor: etree._Element, assembly: Assembly, facet: SensorFacet) -> None:
    """What only this kind has."""
    kind = facet.sensor.kind
    if kind == "lidar":
        _scan(sensor, facet)
    elif kind == "ranger":
        _cone(sensor, facet)
    elif kind == "camera" or kind == "depth_camera":
        _camera(sensor, assembly, facet)
    elif kind == "imu":
        _imu(sensor, facet)
    elif kind == "contact":
        contact = child(sensor, "contact")
        for name in bumper_collisions(assembly, facet):
            _put(contact, "collision", name)
        _put(contact, "topic", gz_topic(assembly, facet))
    elif kind == "gnss":
        child(sensor, "navsat")
    else:
        raise never(kind)


def _scan(sensor: etree._Element, facet: SensorFacet) -> None:
    first, step, count = layer_of_beams(facet)
    lidar = child(sensor, "lidar")
    scan = child(lidar, "scan")
    _fan(child(scan, "horizontal"), count, first, first + (count - 1) * step)
    if facet.sensor.layers > 1 and facet.sensor.vertical is not None:
        _fan(child(scan, "vertical"), facet.sensor.layers, *facet.sensor.vertical)
    _range(lidar, facet)


def _cone(sensor: etree._Element, facet: SensorFacet) -> None:
    """A narrow lidar, a beam a degree and one in the middle; the bridge takes the shortest."""
    half = min(fov_of(facet), math.radians(170)) / 2
    count = 2 * max(2, math.ceil(math.degrees(half))) + 1
    lidar = child(sensor, "lidar")
    scan = child(lidar, "scan")
    for name in ("horizontal", "vertical"):
        _fan(child(scan, name), count, -half, half)
    _range(lidar, facet)


def _fan(axis: etree._Element, count: int, low: float, high: float) -> None:
    for name, text in (("samples", str(count)), ("resolution", "1"), ("min_angle", angle(low)), ("max_angle", angle(high))):
        _put(axis, name, text)


def _range(lidar: etree._Element, facet: SensorFacet) -> None:
    near, far = range_of(facet)
    limits = child(lidar, "range")
    for name, value in (("min", near), ("max", far), ("resolution", 0.001)):
        _put(limits, name, number(value))
    _noise(lidar, facet.sensor.noise)


def _camera(sensor: etree._Element, assembly: Assembly, facet: SensorFacet) -> None:
    width, height = pixels_of(facet)
    near, far = range_of(facet)
    camera = child(sensor, "camera", [("name", facet.frame)])
    _put(camera, "camera_info_topic", absolute(assembly, camera_topics(assembly)[facet.frame].info))
    _put(camera, "horizontal_fov", number(image_fov(facet)))
    image = child(camera, "image")
    for name, text in (("width", str(width)), ("height", str(height)), ("format", "R8G8B8")):
        _put(image, name, text)
    # Nothing nearer than its own housing is drawn: it would see that from within.
    clip = child(camera, "clip")
    _put(clip, "near", number(max(near, near_clip(assembly)[facet.frame])))
    _put(clip, "far", number(far))
    if facet.sensor.kind == "depth_camera":
        _noise(camera, facet.sensor.noise)


def _imu(sensor: etree._Element, facet: SensorFacet) -> None:
    imu = child(sensor, "imu")
    # REP-145: orientation in the world's east, north, up; without this it would count from where it started.
    _put(child(imu, "orientation_reference_frame"), "localization", "ENU")
    noise = facet.sensor.noise
    if isinstance(noise, ImuNoise):
        for name, spread in (("angular_velocity", noise.gyro), ("linear_acceleration", noise.accel)):
            if spread:
                quantity = child(imu, name)
                for axis in ("x", "y", "z"):
                    # Here the type is an attribute (noise.sdf), of a lidar or a camera it is an element (lidar.sdf, camera.sdf).
                    _spread(child(child(quantity, axis), "noise", [("type", "gaussian")]), spread)


def _noise(parent: etree._Element, spread: float | ImuNoise | None) -> None:
    if not spread or isinstance(spread, ImuNoise):
        return
    noise = child(parent, "noise")
    _put(noise, "type", "gaussian")
    _spread(noise, spread)


def _spread(noise: etree._Element, spread: float) -> None:
    _put(noise, "mean", "0")
    _put(noise, "stddev", number(spread))


def _put(parent: etree._Element, tag: str, text: str) -> None:
    child(parent, tag).text = text


def _six(pose: Pose) -> str:
    return f"{' '.join(length(v) for v in pose.t)} {' '.join(angle(v) for v in to_rpy(pose.r))}"
