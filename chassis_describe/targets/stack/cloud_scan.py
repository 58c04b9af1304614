"""config/scan_from_cloud.yaml: a flat scan out of a cloud, for a robot without a flat lidar or where the layout asks for it.

pointcloud_to_laserscan (ros-perception/pointcloud_to_laserscan humble 59bf996 and rolling d71ed2e, which jazzy, kilted and
lyrical release: src/pointcloud_to_laserscan_node.cpp, the same file in both) takes points between two heights of the target
frame, whatever way the sensor is tilted, and behind the filter that takes the robot itself out. That is why it is the default;
depth_scan.py has the other way, for a level camera.

The node makes ceil((angle_max - angle_min) / angle_increment) ranges and puts a point at angle_max one further; slam_toolbox
wants round(that) and one more of a scan that is not a whole turn. Angles are chosen so that both agree and nothing is
written behind the end (slam_toolbox ros2:lib/karto_sdk/include/karto_sdk/Karto.h, LaserRangeFinder).
"""
from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator
from typing import NamedTuple

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.facts.depth_rows import depth_rows_of
from chassis_describe.facts.sensor_topics import cloud_topics, made_scan_topic, source_name
from chassis_describe.facts.sight import view_of
from chassis_describe.facts.slam_lidar import cloud_for_scan
from chassis_describe.targets.names import Given, Parameters
from chassis_describe.targets.stack.distros import text
from chassis_describe.targets.stack.headers import header
from chassis_describe.targets.stack.navigation_sources import sources
from chassis_describe.targets.stack.ros_yaml import document
from chassis_describe.targets.stack.topics import node_block, robot_block
from chassis_describe.targets.target import Target

PATH = "config/scan_from_cloud.yaml"
PACKAGE, EXECUTABLE, NODE = "pointcloud_to_laserscan", "pointcloud_to_laserscan_node", "pointcloud_to_laserscan"
#: Beams of a scan are about this far apart where the sensor's own step isn't known (rad).
_STEP = math.radians(0.5)


class Beams(NamedTuple):
    """Angles of the scan in the root frame (rad)."""

    low: float
    high: float
    step: float


def beams_of(assembly: Assembly, facet: SensorFacet) -> Beams:
    """What the cloud can hold, seen from the root's origin: its view's edges and the sensor's own place; a whole turn where
    that reaches over the back."""
    pose = assembly.poses[assembly.root].inverse() @ facet.pose
    ahead, half = math.atan2(pose.r[3], pose.r[0]), view_of(facet) / 2
    step = view_of(facet) / facet.sensor.samples if facet.sensor.samples else _STEP
    tilt = math.hypot(pose.r[0], pose.r[3])  # cosine of how far the middle of the view looks up or down
    low, high = ahead - half, ahead + half
    if math.hypot(pose.t[0], pose.t[1]) > 1e-9:
        off = math.remainder(math.atan2(pose.t[1], pose.t[0]) - ahead, 2 * math.pi)
        low, high = min(low, ahead + off), max(high, ahead + off)
        if abs(off) >= math.pi - half:  # the root itself is in view: points this side of it lie at every bearing
            low, high = -math.inf, math.inf
    if half >= math.pi / 2 or tilt < math.cos(math.radians(45)) or low < -math.pi or high > math.pi:
        count = round(2 * math.pi / step)
        return Beams(-math.pi, math.pi, 2 * math.pi / (count - 0.2))
    count = math.ceil((high - low) / step)
    return Beams(low, low + (count + 0.4) * step, step)


def reach(assembly: Assembly, facet: SensorFacet) -> tuple[float, float] | None:
    """Ranges in the root frame (m): the sensor's, less and more by how far it is from the root's axis; None: not known."""
    if facet.sensor.range is None:
        return None
    pose = assembly.poses[assembly.root].inverse() @ facet.pose
    off = math.hypot(pose.t[0], pose.t[1])
    near, far = facet.sensor.range
    return max(0.0, math.floor((near - off) * 1e3) / 1e3), math.ceil((far + off) * 1e3) / 1e3


def nodes(assembly: Assembly) -> list[tuple[str, ...]]:
    """The node as filters.launch.py starts it."""
    facet = cloud_for_scan(assembly)
    if facet is None:
        return []
    return [(source_name(assembly, facet), PACKAGE, EXECUTABLE, NODE, PATH, "cloud_in", cloud_topics(assembly)[facet.frame],
             "scan", made_scan_topic(assembly))]


def artifacts(assembly: Assembly) -> Iterable[Artifact]:
    """The file, or nothing where a flat lidar is there and nobody asks, or no cloud."""
    facet = cloud_for_scan(assembly)
    if facet is None:
        return
    source = next(s for s in sources(assembly) if s.facet is facet)
    doc = header(assembly, PATH, f"{PACKAGE} {text('cloud_scan_release', assembly.layout.ros.distro)}", [
        "Makes a flat scan of the points between two heights. launch/filters.launch.py starts it, behind the filter that takes",
        "the robot itself out where there is one. It works only while somebody listens to the scan."])
    robot_block(doc, assembly).note("", f"{source.name}: remap cloud_in:={source.topic} scan:={made_scan_topic(assembly)}")
    node = node_block(doc, assembly, NODE)
    node.put("target_frame", assembly.root, "the scan's frame; heights and angles count in it")
    node.note("From the clearance under the body to a little over its top. Raise min_height where floor noise gets in.")
    node.put("min_height", source.low).put("max_height", source.high)
    beams = beams_of(assembly, facet)
    node.put("angle_min", beams.low).put("angle_max", beams.high).put("angle_increment", beams.step)
    ranges = reach(assembly, facet)
    if ranges is not None:
        node.put("range_min", float(ranges[0])).put("range_max", float(ranges[1]))
    if facet.sensor.rate:
        node.put("scan_time", 1.0 / facet.sensor.rate)
    node.put("use_inf", True, "where nothing is, as REP-117 has it")
    yield Artifact(path=PATH, data=document(doc).encode("ascii"))


def _gives(assembly: Assembly) -> Given:
    return Given(topics=frozenset({made_scan_topic(assembly)} if cloud_for_scan(assembly) is not None else ()))


def _depends(assembly: Assembly) -> Iterator[str]:
    yield PACKAGE


def _page(assembly: Assembly, paths: Collection[str]) -> Iterator[str]:
    facet = cloud_for_scan(assembly)
    if facet is not None and PATH in paths:
        yield (f"## A scan from a cloud\n\n`{PACKAGE}` makes the scan `{made_scan_topic(assembly)}` of what "
               f"{source_name(assembly, facet)} sees between two heights\n(`{PATH}`); `launch/filters.launch.py` starts it. "
               "What is nearer or further than the cloud reaches is no\nobstacle in it; AMCL and slam_toolbox match walls "
               "worse with a narrow view than with a whole turn.\n")
        rows = depth_rows_of(assembly).get(facet.frame)
        if rows is not None and rows.fits and facet.sensor.resolution is not None:
            yield (f"This camera is level, so {rows.height} rows of its depth image would make such a scan as well, for less\n"
                   "computing: `ros: {scan_by: depth_image}`. Near by they see fewer heights.\n")


TARGET = Target(artifacts=artifacts, gives=_gives, depends=_depends, page=_page, names=Parameters(frames=("target_frame",)),
                takers={PATH: "makes a flat scan of a cloud"})
