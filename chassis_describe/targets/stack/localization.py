"""config/localization.yaml: frames and scan topic for robot_localization, slam_toolbox and AMCL.

Names: robot_localization ros2:params/ekf.yaml; slam_toolbox ros2:src/slam_toolbox_common.cpp (base_frame, odom_frame,
map_frame, scan_topic); navigation2 jazzy:nav2_amcl/src/amcl_node.cpp (the same in humble, kilted, lyrical).
"""
from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.kinds_of_sensor import is_scanner
from chassis_describe.targets.names import Given, Parameters
from chassis_describe.targets.stack.headers import header
from chassis_describe.targets.stack.ros_yaml import document
from chassis_describe.targets.stack.topics import (
    FUSED_ODOMETRY_TOPIC,
    MAP_FRAME,
    ODOMETRY_TOPIC,
    node_block,
    odom_frame,
    scan_topics,
    sensor_topics,
)
from chassis_describe.targets.target import Target

PATH = "config/localization.yaml"


def artifacts(assembly: Assembly) -> Iterable[Artifact]:
    """The file, or nothing where there is neither a filter for odometry nor a scan to localise with."""
    scanners = [facet for facet in assembly.sensors if is_scanner(facet)]
    fused = assembly.layout.ros.odometry == "ekf"
    if not scanners and not fused:
        return
    doc = header(assembly, PATH, "robot_localization, slam_toolbox, AMCL", [
        "Frames and topics only. What to fuse, noise and tuning are yours to decide."])
    odom, root = odom_frame(assembly), assembly.root
    if fused:
        topics = sensor_topics(assembly)
        doc.note("", f"Publishes {odom} to {root}; the drive controller doesn't.")
        node = node_block(doc, assembly, "ekf_filter_node")
        node.put("publish_tf", True)
        node.put("map_frame", MAP_FRAME).put("odom_frame", odom)
        node.put("base_link_frame", root).put("world_frame", odom)
        node.note("Inputs that this robot has; which of their values to fuse (odom0_config, ...) is yours to decide:")
        if assembly.drive is not None:
            node.note(f'odom0: "{ODOMETRY_TOPIC}"')
        for number, facet in enumerate(f for f in assembly.sensors if f.sensor.kind == "imu"):
            node.note(f'imu{number}: "{topics[facet.frame]}" (turned from {facet.message_frame} by its frame)')
    if scanners:
        scans = scan_topics(assembly)
        first = scanners[0]
        scan = scans[first.frame]
        doc.note("", f"The scan of {first.placement}, frame {first.message_frame}.")
        if len(scanners) > 1:
            doc.note("Others: " + ", ".join(f"{scans[f.frame]} ({f.placement})" for f in scanners[1:]) +
                     "; one node takes one scan: merge them, or choose.")
        node = node_block(doc, assembly, "slam_toolbox")
        node.put("map_frame", MAP_FRAME).put("odom_frame", odom).put("base_frame", root).put("scan_topic", scan)
        doc.note("")
        node = node_block(doc, assembly, "amcl")
        node.put("global_frame_id", MAP_FRAME).put("odom_frame_id", odom).put("base_frame_id", root)
        node.put("scan_topic", scan)
        if assembly.drive is not None:
            node.put("robot_model_type", "nav2_amcl::OmniMotionModel" if assembly.drive.kind == "mecanum"
                     else "nav2_amcl::DifferentialMotionModel")
    yield Artifact(path=PATH, data=document(doc).encode("ascii"))


_PAGE = """\
## Localisation

`config/localization.yaml` holds the frames `{map}`, `{odom}`, `{root}` and the scan topic. Give it to the node that you
use, before your own parameters.
"""
_FUSED = """\
robot_localization publishes the transform from odometry; the drive controller doesn't. What to fuse (`odom0_config`,
`imu0_config`) is yours to decide: without it the filter stands still.
"""
_ONE_MAP = """\
slam_toolbox while mapping, AMCL with a finished map, never both: each publishes `{map}` to `{odom}`.
"""


def _gives(assembly: Assembly) -> Given:
    fused = assembly.layout.ros.odometry == "ekf"
    return Given(topics=frozenset({FUSED_ODOMETRY_TOPIC} if fused else ()))


def _page(assembly: Assembly, paths: Collection[str]) -> Iterator[str]:
    if PATH not in paths:
        return
    names = {"map": MAP_FRAME, "odom": odom_frame(assembly), "root": assembly.root}
    yield _PAGE.format(**names)
    if assembly.layout.ros.odometry == "ekf":
        yield _FUSED
    if any(is_scanner(f) for f in assembly.sensors):
        yield _ONE_MAP.format(**names)


TARGET = Target(
    artifacts=artifacts, gives=_gives, page=_page,
    names=Parameters(
        frames=("base_frame", "odom_frame", "map_frame", "world_frame", "base_link_frame", "global_frame_id",
                "odom_frame_id", "base_frame_id"),
        topics=("scan_topic", "odom0", "imu0", "imu1", "imu2"), odometry=("publish_tf",)),
    takers={PATH: "slam_toolbox, AMCL or robot_localization, before your own file"})
