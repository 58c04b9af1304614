"""config/navigation.yaml: footprint, frames, observation sources and the collision monitor's outline for Nav2.

Parameter names: navigation2, branch of the distro, nav2_costmap_2d/src/costmap_2d_ros.cpp,
nav2_costmap_2d/plugins/{obstacle,range_sensor,inflation}_layer.cpp, nav2_collision_monitor/src/*.cpp; where the
branches differ, :mod:`chassis_describe.targets.stack.distros` says so.
"""
from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Sequence

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.facts.footprint import footprint_of
from chassis_describe.facts.kinds_of_sensor import is_cloud
from chassis_describe.facts.looks import measures_around
from chassis_describe.facts.own_cloud import own_clouds
from chassis_describe.facts.sensor_topics import absolute
from chassis_describe.facts.swept_outline import driven_leave, driving_outline
from chassis_describe.targets.description.ros2_control import is_controlled
from chassis_describe.targets.names import Parameters
from chassis_describe.targets.stack import distros
from chassis_describe.targets.stack.headers import header
from chassis_describe.targets.stack.navigation_drive import behavior_lines, controller_lines, server_lines, smoother_lines
from chassis_describe.targets.stack.navigation_sources import ObservationSource, sources
from chassis_describe.targets.stack.outline import (
    footprint_text,
    millimetres_up,
    polygon_points,
    radii,
    robot_radius,
)
from chassis_describe.targets.stack.ros_yaml import Block, document, double
from chassis_describe.targets.stack.topics import COMMAND_TOPIC, MAP_FRAME, node_block, odom_frame, odometry_topic, robot_block
from chassis_describe.targets.target import Target
from chassis_describe.words import listing

PATH = "config/navigation.yaml"
_INFLATION_DEFAULT = 0.55  # navigation2 {humble,jazzy,kilted,lyrical}:nav2_costmap_2d/plugins/inflation_layer.cpp
_LAYER_TOP_DEFAULT = 2.0  # navigation2 (all four branches):nav2_costmap_2d/plugins/obstacle_layer.cpp


def artifacts(assembly: Assembly) -> Iterable[Artifact]:
    """The file, or nothing where the robot doesn't stand on the ground."""
    if assembly.rest is None or len(footprint_of(assembly)) < 3:
        return
    found = sources(assembly)
    inner, outer = radii(assembly)
    doc = header(assembly, PATH, "Nav2", [
        f"Outline about {assembly.root}: inscribed radius {inner:.4f} m, circumscribed radius {outer:.4f} m.",
        "Yours to decide: speeds and accelerations, map sizes, resolutions and rates, planner and controller plugins,",
        "inflation beyond the least, stop and slow zones. This is no safety function."])
    own = robot_block(doc, assembly)
    for name, frame in (("local_costmap", odom_frame(assembly)), ("global_costmap", MAP_FRAME)):
        own.note("")
        _costmap(node_block(doc, assembly, name, name), assembly, found, frame)
    own.note("")
    _monitor(node_block(doc, assembly, "collision_monitor"), assembly, found)
    own.note("")
    _servers(doc, assembly)
    yield Artifact(path=PATH, data=document(doc).encode("ascii"))


def _costmap(node: Block, assembly: Assembly, found: Sequence[ObservationSource], global_frame: str) -> None:
    node.put("global_frame", global_frame)
    node.put("robot_base_frame", assembly.root, "the tree's root: where odometry arrives")
    radius = robot_radius(assembly)
    if radius is not None:
        if driven_leave(assembly):
            node.note("with all that motors move, wherever that is: at rest the robot is smaller")
        node.note("round within 5 %; the 16-gon that Nav2 draws inside this radius holds the whole outline")
        node.put("robot_radius", radius)
    else:
        node.note("convex, counter-clockwise, rounded outward to 1 mm; the same in both costmaps")
        if driven_leave(assembly):
            node.note("with all that motors move, wherever that is: at rest the robot is smaller")
        node.put("footprint", footprint_text(driving_outline(assembly)))
    node.note("0: the outline has its rounding already. Nav2's default 0.01 shifts corners by the sign of x and y,",
              "which is no even margin; a margin is yours to decide")
    node.put("footprint_padding", 0.0)
    marking = [s for s in found if s.kind != "range"]
    ranges = [s for s in found if s.kind == "range"]
    plugins = ["static_layer"] if global_frame == MAP_FRAME else []
    plugins += ["obstacle_layer"] if marking else []
    plugins += [layer for layer, _, members in _range_layers(ranges) if members]
    plugins += ["inflation_layer"]
    node.put("plugins", tuple(plugins))
    if global_frame == MAP_FRAME:
        node.block("static_layer").put("plugin", "nav2_costmap_2d::StaticLayer")
    if marking:
        layer = node.block("obstacle_layer")
        layer.put("plugin", "nav2_costmap_2d::ObstacleLayer")
        layer.put("min_obstacle_height", 0.0)
        layer.put("max_obstacle_height", max(_LAYER_TOP_DEFAULT, *(s.high for s in marking)))
        layer.put("observation_sources", " ".join(s.name for s in marking))
        for source in marking:
            _observation(layer.block(source.name), source, assembly)
    for name, sound, members in _range_layers(ranges):
        if members:
            layer = node.block(name)
            layer.put("plugin", "nav2_costmap_2d::RangeSensorLayer")
            layer.put("topics", tuple(_costmap_topic(assembly, s.topic) for s in members))
            layer.put("clear_on_max_reading", sound,
                      "an ultrasonic ranger reports its maximum when nothing answers" if sound else "Nav2's default")
    _, outer = radii(assembly)
    layer = node.block("inflation_layer")
    layer.put("plugin", "nav2_costmap_2d::InflationLayer")
    layer.note("at least the circumscribed radius, else Nav2's collision checks can't use it")
    layer.put("inflation_radius", max(_INFLATION_DEFAULT, millimetres_up(max(outer, radius or 0.0))),
              "Nav2's default" if max(outer, radius or 0.0) <= _INFLATION_DEFAULT else "the least for this outline")


def _range_layers(ranges: Sequence[ObservationSource]) -> tuple[tuple[str, bool, list[ObservationSource]], ...]:
    """Layer name, whether a maximum reading clears, its rangers: sound and light don't mean the same by it."""
    light = [s for s in ranges if s.facet.sensor.radiation == "infrared"]
    sound = [s for s in ranges if s not in light]
    return ("range_sensor_layer", True, sound), ("infrared_sensor_layer", False, light)


def _observation(block: Block, source: ObservationSource, assembly: Assembly) -> None:
    block.put("topic", _costmap_topic(assembly, source.topic))
    block.put("data_type", "LaserScan" if source.kind == "scan" else "PointCloud2")
    if source.frame is None:
        block.note("sensor_frame: left to the message, its driver publishes the frames below "
                   f"{source.facet.frame}")
    else:
        block.put("sensor_frame", source.frame)
    if source.kind == "pointcloud":
        block.note("from the clearance under the body to over its top; raise the lower bound where floor noise marks")
    block.put("min_obstacle_height", source.low)
    block.put("max_obstacle_height", source.high)
    if source.facet.sensor.range is not None:
        # Nav2's defaults mark up to 2.5 m and clear up to 3 m, whatever the sensor sees (obstacle_layer.cpp).
        near, far = (float(v) for v in source.facet.sensor.range)
        block.put("obstacle_min_range", near).put("obstacle_max_range", far)
        block.put("raytrace_min_range", near).put("raytrace_max_range", far)
    block.put("marking", True)
    block.put("clearing", True)


def _monitor(node: Block, assembly: Assembly, found: Sequence[ObservationSource]) -> None:
    """The outline as a zone, and what is measured. Zones around it are the user's."""
    if not found:
        return
    distro = assembly.layout.ros.distro
    node.put("base_frame_id", assembly.root)
    node.put("odom_frame_id", odom_frame(assembly))
    node.put("cmd_vel_out_topic", COMMAND_TOPIC)
    _stamped(node, assembly)
    node.note("The outline itself: a point inside it has touched the robot. Zones that leave room to stop, slow zones",
              "and times depend on speed, load and floor: yours to decide.")
    node.put("polygons", ("Outline",))
    zone = node.block("Outline")
    zone.put("type", "polygon")
    zone.put("action_type", "stop")
    zone.put("points", polygon_points(driving_outline(assembly), distros.text("polygon_points", distro)))
    zone.put("visualize", True)
    zone.put("polygon_pub_topic", "outline")
    node.note("A source that is late by more than its source_timeout, or was never started, stops the robot as invalid",
              "(default 2 s). Take those out that you don't start.")
    node.put("observation_sources", tuple(s.name for s in found))
    for source in found:
        block = node.block(source.name)
        block.put("type", source.kind)
        block.put("topic", source.topic)
        if source.kind == "pointcloud":
            block.put("min_height", source.low)
            block.put("max_height", source.high)
        timeout = source_timeout(source.facet)
        if timeout is not None and distros.has("monitor_source_timeout", distro):
            block.put("source_timeout", timeout, f"five messages at {double(source.facet.sensor.rate or 0.0)} Hz")
        _exclusions(node, block, assembly, source)


def source_timeout(facet: SensorFacet) -> float | None:
    """How long the monitor waits for a source before it stops the robot (s): five messages, at least 0.2 s (our
    choice); None where the sensor's rate is not known."""
    rate = facet.sensor.rate
    return None if not rate else math.ceil(max(0.2, 5.0 / rate) * 100 - 1e-9) / 100


def _exclusions(node: Block, block: Block, assembly: Assembly, source: ObservationSource) -> None:
    """The boxes of the cloud filter once more, as zones that the monitor doesn't count, where the distro has them.

    A zone's block is the node's, beside that of the source: without it the monitor does not start (navigation2 lyrical:
    nav2_collision_monitor/src/exclusion_zone.cpp, getParameters; params/collision_monitor_params.yaml).
    """
    cloud = own_clouds(assembly).get(source.facet.frame)
    if cloud is None or not cloud.boxes or not distros.has("monitor_exclusion_zones", assembly.layout.ros.distro):
        return
    names = tuple(f"{source.name}_own_body_{number}" for number in range(1, len(cloud.boxes) + 1))
    block.note("a second line behind the cloud filter; binaries from before August 2026 don't know these zones and",
               "ignore them (navigation2 #6302)")
    block.put("exclusion_zones", names)
    for name, box in zip(names, cloud.boxes):
        (x0, y0, z0), (x1, y1, z1) = box.low, box.high
        zone = node.block(name)
        zone.put("enabled", True).put("type", "polygon").put("frame_id", assembly.root)
        zone.put("points", footprint_text([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]))
        zone.put("min_height", float(z0)).put("max_height", float(z1))


def _servers(doc: Block, assembly: Assembly) -> None:
    """Frames and topics of the other Nav2 servers."""
    distro, odom, root = assembly.layout.ros.distro, odom_frame(assembly), assembly.root
    topic = odometry_topic(assembly)
    node = node_block(doc, assembly, "bt_navigator")
    node.put("global_frame", MAP_FRAME).put("robot_base_frame", root).put("odom_topic", topic)
    node = node_block(doc, assembly, "controller_server").put("odom_topic", topic)
    _stamped(node, assembly)
    controller_lines(node, assembly)
    _shape_switches(node.block("FollowPath"), assembly)
    server_lines(doc, assembly)
    node = node_block(doc, assembly, "behavior_server")
    if distros.has("behavior_local_frame", distro):
        node.put("local_frame", odom).put("global_frame", MAP_FRAME)
    else:
        node.put("global_frame", odom)
    node.put("robot_base_frame", root)
    _stamped(node, assembly)
    behavior_lines(node, assembly)
    node_block(doc, assembly, "smoother_server").put("robot_base_frame", root)
    node = node_block(doc, assembly, "velocity_smoother").put("odom_topic", topic)
    _stamped(node, assembly)
    smoother_lines(node, assembly)
    if distros.has("docking_server", distro):
        node = node_block(doc, assembly, "docking_server").put("base_frame", root).put("fixed_frame", odom)
        _stamped(node, assembly)
        node_block(doc, assembly, "route_server").put("base_frame", root).put("route_frame", MAP_FRAME)


def _shape_switches(plugin: Block, assembly: Assembly) -> None:
    """What of a controller must agree with the costmap's shape. ``FollowPath`` is the plugin's name in Nav2's own files.

    MPPI: navigation2 {humble,jazzy,kilted,lyrical}:nav2_mppi_controller/src/critics/cost_critic.cpp and
    obstacles_critic.cpp; a critic that considers a footprint where the costmap has a radius refuses to start (pull request
    4996). DWB: {branch}:nav2_dwb_controller/dwb_critics/src/{base_obstacle,obstacle_footprint}.cpp.
    """
    outlined = robot_radius(assembly) is None
    plugin.note(f"MPPI: its critics must take the {'footprint' if outlined else 'radius'} that the costmaps have. DWB: the",
                f"critic {'ObstacleFootprint' if outlined else 'BaseObstacle'}, not the other one. Regulated Pure Pursuit and "
                "the Smac planners follow the costmap;", "NavFn and Theta* know the inscribed radius alone. Another name than "
                "FollowPath: write this below yours.")
    for critic in ("CostCritic", "ObstaclesCritic"):
        plugin.block(critic).put("consider_footprint", outlined)


def _stamped(node: Block, assembly: Assembly) -> None:
    """TwistStamped, as our controllers take it (where Nav2 has the choice)."""
    if is_controlled(assembly) and distros.value("enable_stamped_cmd_vel", assembly.layout.ros.distro) is not None:
        node.put("enable_stamped_cmd_vel", True)


def _costmap_topic(assembly: Assembly, topic: str) -> str:
    return topic if distros.has("costmap_topics_join", assembly.layout.ros.distro) else absolute(assembly, topic)


_PAGE = """\
## Nav2

Copy the blocks of `config/navigation.yaml` over those of your own Nav2 parameters, or give the nodes both files, yours
last. `plugins` lists the layers that this robot's sensors feed; put your own beside them. Footprint, frames and topics
are the geometry's; sizes, rates, speeds, zones and plugins are yours.

The collision monitor's `Outline` is the robot itself. It is no protective field: zones with room to stop are yours to
size, and a stop that people rely on is not made of software like this.
"""
_SOURCES = """\
Sources of the collision monitor: {names}. One that was never started, or is late by more than its `source_timeout`
({default}), counts as invalid and stops the robot: take those out of `observation_sources` that you don't start.
"""
_APART = """\
{names} look{s} at the floor or the ceiling and {what} of obstacles: Nav2 lays every range flat, whatever its height,
and would find the robot in its own way. Whoever watches for edges by such a ranger stops the robot in a node of its own.
"""
_FLOOR_NOISE = """\
Raise `min_obstacle_height` of a point cloud where floor noise marks the costmap.
"""


def _page(assembly: Assembly, paths: Collection[str]) -> Iterator[str]:
    if PATH in paths:
        yield _PAGE
        found = sources(assembly)
        if found:
            timeouts = distros.has("monitor_source_timeout", assembly.layout.ros.distro)
            yield _SOURCES.format(names=", ".join(f"`{s.name}`" for s in found),
                                  default="five messages of the sensor, where its rate is known; else 2 s" if timeouts
                                  else "2 s for all of them in this distro")
        if any(is_cloud(f) for f in assembly.sensors):
            yield _FLOOR_NOISE
        apart = [f"`{f.placement}`" for f in assembly.sensors if f.sensor.kind == "ranger" and not measures_around(assembly, f)]
        if apart:
            yield _APART.format(names=listing(apart, most=12), s="s" if len(apart) == 1 else "",
                                what="is no source" if len(apart) == 1 else "are no sources")


TARGET = Target(
    artifacts=artifacts, page=_page,
    names=Parameters(
        frames=("global_frame", "robot_base_frame", "local_frame", "base_frame_id", "odom_frame_id", "base_frame",
                "fixed_frame", "route_frame", "sensor_frame", "frame_id"),
        topics=("topic", "topics", "odom_topic", "cmd_vel_in_topic", "cmd_vel_out_topic", "footprint_topic"),
        lists=("plugins", "observation_sources", "polygons"), lists_above=("exclusion_zones",)),
    takers={PATH: "Nav2's nodes, before your own file"})
