"""config/localization.yaml: frames, inputs, scan and ranges for robot_localization, slam_toolbox and AMCL.

Names: robot_localization ros2:params/ekf.yaml and src/ros_filter.cpp, navsat_transform.yaml; slam_toolbox
ros2:src/slam_toolbox_common.cpp (base_frame, odom_frame, map_frame, map_name, scan_topic) and src/laser_utils.cpp
(max_laser_range; min_laser_range since pull requests 713 and 714, what does not know it ignores it); navigation2
jazzy:nav2_amcl/src/amcl_node.cpp (the same in humble, kilted, lyrical).
"""
from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly, DriveFacet, SensorFacet
from chassis_describe.errors import never
from chassis_describe.facts.kinds_of_sensor import is_scanner
from chassis_describe.facts.sensor_topics import made_scan_topic, scan_topics
from chassis_describe.facts.slam_lidar import depth_for_scan, localises_by
from chassis_describe.targets.names import Given, Parameters
from chassis_describe.targets.stack import cloud_scan, localization_words as words
from chassis_describe.targets.stack.headers import header
from chassis_describe.targets.stack.navigation_drive import holonomic
from chassis_describe.targets.stack.ros_yaml import Block, document
from chassis_describe.targets.stack.topics import (
    FUSED_ODOMETRY_TOPIC,
    MAP_FRAME,
    MAP_TOPIC,
    ODOMETRY_TOPIC,
    node_block,
    odom_frame,
    robot_block,
    sensor_topics,
)
from chassis_describe.targets.target import Target

PATH = "config/localization.yaml"
#: The values that a mask of robot_localization chooses from, in its order (robot_localization ros2:doc/
#: state_estimation_nodes.rst, [sensor]_config).
VALUES = ("x", "y", "z", "roll", "pitch", "yaw", "vx", "vy", "vz", "vroll", "vpitch", "vyaw", "ax", "ay", "az")


def artifacts(assembly: Assembly) -> Iterable[Artifact]:
    """The file, or nothing where there is neither a filter for odometry nor a scan to localise with."""
    scanner, fused = localises_by(assembly), assembly.layout.ros.odometry == "ekf"
    gnss = [f for f in assembly.sensors if f.sensor.kind == "gnss"]
    if scanner is None and not fused and not gnss:
        return
    doc = header(assembly, PATH, "robot_localization, slam_toolbox, AMCL", [
        "Frames, topics, inputs and ranges. Noise and tuning are yours to decide."])
    if fused:
        _filter(doc, assembly)
    if gnss:
        heard = "" if fused else f"odometry/filtered to {ODOMETRY_TOPIC}, "
        robot_block(doc, assembly).note(
            "", f"{gnss[0].placement}: the antenna's place comes from its frame {gnss[0].message_frame}. Remap gps/fix to "
                f"{sensor_topics(assembly)[gnss[0].frame]}, {heard}imu to a compass heading (0 = east), or use_odometry_yaw.")
        node = node_block(doc, assembly, "navsat_transform_node")
        node.put("zero_altitude", True, "the robot drives on a plane")
        node.put("publish_filtered_gps", True)
    if scanner is not None:
        _scan(doc, assembly, scanner)
    yield Artifact(path=PATH, data=document(doc).encode("ascii"))


def mask(*names: str) -> tuple[bool, ...]:
    """Which of the 15 values to fuse."""
    assert set(names) <= set(VALUES)
    return tuple(value in names for value in VALUES)


def amcl_model(drive: DriveFacet) -> str:
    """AMCL's motion model; car-like robots have no other than the differential one (navigation2 {branch}:nav2_amcl/plugins.xml)."""
    if drive.kind == "mecanum" or drive.kind == "omni":
        return "nav2_amcl::OmniMotionModel"
    if drive.kind == "differential" or drive.kind == "skid_steer" or drive.kind == "ackermann":
        return "nav2_amcl::DifferentialMotionModel"
    raise never(drive.kind)


def turn_rate(assembly: Assembly, facet: SensorFacet) -> str:
    """The rate of an imu's own axes that is the robot's turning: the axis with the largest part along the root's z.

    robot_localization masks a rate before it turns it into the base frame (ros2:src/ros_filter.cpp, prepareTwist): for a
    board on its side ``vyaw`` would be dropped without a word.
    """
    up = (assembly.poses[assembly.root].inverse() @ facet.pose).r[6:9]
    return ("vroll", "vpitch", "vyaw")[max(range(3), key=lambda k: (round(abs(up[k]), 9), k))]


def _filter(doc: Block, assembly: Assembly) -> None:
    topics, odom = sensor_topics(assembly), odom_frame(assembly)
    robot_block(doc, assembly).note("", f"Publishes {odom} to {assembly.root}; nothing else may.")
    node = node_block(doc, assembly, "ekf_filter_node")
    node.put("two_d_mode", True)
    node.put("publish_tf", True)
    node.put("map_frame", MAP_FRAME).put("odom_frame", odom)
    node.put("base_link_frame", assembly.root).put("world_frame", odom)
    node.note("15 values each: x y z, roll pitch yaw, vx vy vz, vroll vpitch vyaw, ax ay az. A list of another length passes "
              "without a word.")
    if assembly.drive is not None:
        node.note("speeds alone: what wheels say of places only repeats them; no speed to the side is what such a drive knows"
                  if not holonomic(assembly.drive) else "speeds alone: what wheels say of places only repeats them")
        node.put("odom0", ODOMETRY_TOPIC)
        node.put("odom0_config", mask("vx", "vy", "vyaw"))
    for number, facet in enumerate(f for f in assembly.sensors if f.sensor.kind == "imu"):
        rate = turn_rate(assembly, facet)
        node.note(f"{facet.placement}, frame {facet.message_frame}: the mask counts in the board's own axes, of which "
                  f"{'xyz'[('vroll', 'vpitch', 'vyaw').index(rate)]} stands upright.",
                  "Its messages must carry exactly this frame_id and a covariance that is not 0.")
        node.put(f"imu{number}", topics[facet.frame])
        node.put(f"imu{number}_config", mask(rate))


def _scan(doc: Block, assembly: Assembly, chosen: SensorFacet) -> None:
    scans, odom, root = scan_topics(assembly), odom_frame(assembly), assembly.root
    flat = is_scanner(chosen)
    scan = scans[chosen.frame] if flat else made_scan_topic(assembly)
    others = [f for f in assembly.sensors if is_scanner(f) and f is not chosen]
    by_depth = not flat and depth_for_scan(assembly) is not None
    frame = chosen.message_frame if flat else chosen.frame if by_depth else root
    made = "its depth image (scan_from_depth.yaml)" if by_depth else "its cloud (scan_from_cloud.yaml)"
    own = robot_block(doc, assembly)
    own.note("", f"The scan of {chosen.placement}, frame {frame}" + (f", made of {made}." if not flat else
                ", which has the widest free view." if others and not assembly.layout.ros.slam_lidar else "."))
    if others:
        own.note("Others: " + ", ".join(f"{scans[f.frame]} ({f.placement})" for f in others)
                 + "; one node takes one scan: merge them, or choose with `ros: {slam_lidar: NAME}`.")
    reach = chosen.sensor.range if flat or by_depth else cloud_scan.reach(assembly, chosen)
    node = node_block(doc, assembly, "slam_toolbox")
    node.put("map_frame", MAP_FRAME).put("odom_frame", odom).put("base_frame", root).put("scan_topic", scan)
    if assembly.layout.ros.namespace:
        node.put("map_name", MAP_TOPIC, "the default /map is the same one for all robots")
    if reach is not None:
        node.put("min_laser_range", float(reach[0])).put("max_laser_range", float(reach[1]))
    own.note("")
    node = node_block(doc, assembly, "amcl")
    node.put("global_frame_id", MAP_FRAME).put("odom_frame_id", odom).put("base_frame_id", root)
    node.put("scan_topic", scan)
    if reach is not None:
        node.put("laser_min_range", float(reach[0])).put("laser_max_range", float(reach[1]))
    if assembly.drive is not None:
        node.put("robot_model_type", amcl_model(assembly.drive))


def _gives(assembly: Assembly) -> Given:
    fused = assembly.layout.ros.odometry == "ekf"
    return Given(topics=frozenset({FUSED_ODOMETRY_TOPIC} if fused else ()))


def _page(assembly: Assembly, paths: Collection[str]) -> Iterator[str]:
    if PATH in paths:
        yield from words.page(assembly, localises_by(assembly))


TARGET = Target(
    artifacts=artifacts, gives=_gives, page=_page,
    names=Parameters(
        frames=("base_frame", "odom_frame", "map_frame", "world_frame", "base_link_frame", "global_frame_id",
                "odom_frame_id", "base_frame_id"),
        topics=("scan_topic", "odom0", "imu0", "imu1", "imu2", "imu3"), odometry=("publish_tf",)),
    takers={PATH: "slam_toolbox, AMCL or robot_localization, before your own file"})
