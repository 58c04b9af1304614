"""navigation.yaml: what Nav2 is told of the robot's body, types included.

Short name N2 = ros-navigation/navigation2, branches humble, jazzy, kilted, lyrical.
"""
from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest
import yaml

from chassis_describe.facts.footprint import footprint_of, unrounded_hull
from chassis_describe.targets.stack import navigation, navigation_sources
from chassis_describe.targets.stack.distros import DISTROS
from chassis_describe.targets.stack.outline import polygon_points, robot_radius

WITH_GROUND = ("two_wheels", "four_wheels", "mecanum", "disc", "pushed")


#: Parameters by node or block, and where N2 declares them (looked up in all four branches in August 2026).
VOCABULARY: dict[str, Any] = {
    # nav2_costmap_2d/src/costmap_2d_ros.cpp
    "costmap": {"global_frame", "robot_base_frame", "footprint", "robot_radius", "footprint_padding", "plugins"},
    # nav2_costmap_2d/plugins/{static,obstacle,range_sensor,inflation}_layer.cpp
    "nav2_costmap_2d::StaticLayer": {"plugin"},
    "nav2_costmap_2d::ObstacleLayer": {"plugin", "min_obstacle_height", "max_obstacle_height", "observation_sources"},
    "nav2_costmap_2d::RangeSensorLayer": {"plugin", "topics", "clear_on_max_reading"},
    "nav2_costmap_2d::InflationLayer": {"plugin", "inflation_radius"},
    "source": {"topic", "data_type", "sensor_frame", "min_obstacle_height", "max_obstacle_height", "obstacle_min_range",
               "obstacle_max_range", "raytrace_min_range", "raytrace_max_range", "marking", "clearing"},
    # nav2_collision_monitor/src/{collision_monitor_node,polygon,source,pointcloud}.cpp
    "collision_monitor": {"base_frame_id", "odom_frame_id", "cmd_vel_out_topic", "polygons", "observation_sources"},
    "polygon": {"type", "action_type", "points", "visualize", "polygon_pub_topic"},
    "monitored": {"type", "topic", "min_height", "max_height"},  # and what distros add, below
    # nav2_mppi_controller/src/critics/{cost,obstacles}_critic.cpp
    "FollowPath": {"CostCritic": {"consider_footprint"}, "ObstaclesCritic": {"consider_footprint"}},
    # nav2_bt_navigator/src, nav2_controller/src, nav2_behaviors/src/behavior_server.cpp, nav2_smoother/src,
    # nav2_velocity_smoother/src, nav2_docking/opennav_docking/src, nav2_route/src/route_server.cpp
    "bt_navigator": {"global_frame", "robot_base_frame", "odom_topic"}, "controller_server": {"odom_topic", "min_y_velocity_threshold"},
    "behavior_server": {"local_frame", "global_frame", "robot_base_frame"}, "smoother_server": {"robot_base_frame"},
    "velocity_smoother": {"odom_topic", "max_velocity", "min_velocity", "max_accel", "max_decel"}, "docking_server": {"base_frame", "fixed_frame"},
    "route_server": {"base_frame", "route_frame"},
}


def tree(assembly: Any) -> dict[str, Any]:
    (file,) = navigation.artifacts(assembly)
    assert file.path == "config/navigation.yaml"
    read: dict[str, Any] = yaml.safe_load(file.data)
    return read


def costmaps(read: dict[str, Any]) -> list[dict[str, Any]]:
    # Namespace and node name are the same word, so it stands twice (N2 jazzy:nav2_costmap_2d/src/costmap_2d_ros.cpp).
    return [read[n][n]["ros__parameters"] for n in ("local_costmap", "global_costmap")]


def points_by_nav2(text: str) -> list[tuple[float, float]]:
    """As N2 jazzy:nav2_util/src/array_parser.cpp takes it: two levels of brackets, one line, pairs of numbers."""
    assert isinstance(text, str), "a string, not a list (N2 jazzy:nav2_costmap_2d/src/costmap_2d_ros.cpp)"
    assert "\n" not in text
    points = json.loads(text)
    assert len(points) >= 3
    assert all(len(p) == 2 and all(type(v) is float for v in p) for p in points)
    return [(x, y) for x, y in points]


@pytest.mark.parametrize("name", ["two_wheels", "four_wheels", "mecanum", "pushed"])
def test_footprint_is_one_string_the_same_in_both_costmaps_and_holds_the_robot(robots: Any, name: str) -> None:
    from shapely.geometry import Point, Polygon

    assembly = robots(name)
    local, world = costmaps(tree(assembly))
    assert local["footprint"] == world["footprint"]
    assert "robot_radius" not in local
    points = points_by_nav2(local["footprint"])
    outline = Polygon(points)
    assert outline.exterior.is_ccw
    assert points[0] != points[-1], "Nav2 closes it by itself"
    base_in_root = assembly.poses[assembly.root].inverse()
    for facet in assembly.decks.values():  # corners of every plate, true shape
        (w, h), (cx, cy) = facet.deck.outline.size, facet.deck.outline.centre
        for sx in (-1, 1):
            for sy in (-1, 1):
                x, y, _ = (base_in_root @ facet.pose).point((cx + sx * w / 2, cy + sy * h / 2, 0.0))
                assert outline.distance(Point(x, y)) < 1e-9
    for wheel in assembly.wheels:
        for sx in (-1, 1):
            for sy in (-1, 1):
                x, y, _ = base_in_root.point((wheel.centre[0] + sx * wheel.radius,
                                              wheel.centre[1] + sy * wheel.width / 2, wheel.centre[2]))
                assert outline.distance(Point(x, y)) < 1e-9
    for x, y in points:
        assert round(x, 3) == x
        assert round(y, 3) == y
    assert local["footprint_padding"] == 0.0


def test_a_round_robot_has_a_radius_whose_inner_polygon_holds_the_disc(robots: Any) -> None:
    """N2 (all branches) nav2_costmap_2d/src/footprint.cpp, makeFootprintFromRadius: 16 points on the circle."""
    assembly = robots("disc")
    local, world = costmaps(tree(assembly))
    assert local["robot_radius"] == world["robot_radius"]
    assert "footprint" not in local, "Nav2 would take the footprint and drop the radius"
    inner = local["robot_radius"] * math.cos(math.pi / 16)
    assert inner >= max(math.hypot(*p) for p in unrounded_hull(assembly)) - 1e-9
    assert 0.150 <= local["robot_radius"] <= 0.165, "a disc of 300 mm"
    assert local["inflation_layer"]["inflation_radius"] >= local["robot_radius"]


def test_long_or_off_centre_robots_are_not_round(robots: Any) -> None:
    for name in ("two_wheels", "four_wheels", "mecanum", "pushed"):
        assert robot_radius(robots(name)) is None


@pytest.mark.parametrize("name", WITH_GROUND)
@pytest.mark.parametrize("distro", DISTROS)
def test_frames_and_nesting(robots: Any, name: str, distro: str) -> None:
    assembly = robots(name, distro=distro, prefix="p_")
    read = tree(assembly)
    local, world = costmaps(read)
    assert (local["global_frame"], world["global_frame"]) == ("p_odom", "map")
    known = {*assembly.poses, "p_odom", "map"}
    for node in (local, world):
        assert node["robot_base_frame"] == assembly.root == "p_base_footprint"
        outer = max(math.hypot(*p) for p in footprint_of(assembly))
        assert node["inflation_layer"]["inflation_radius"] >= outer
        for name in node["plugins"]:
            assert node[name]["plugin"].startswith("nav2_costmap_2d::")
    assert read["bt_navigator"]["ros__parameters"]["robot_base_frame"] == assembly.root
    behavior = read["behavior_server"]["ros__parameters"]
    # N2 humble:nav2_behaviors/src/behavior_server.cpp has global_frame alone, default odom.
    assert (behavior.get("local_frame"), behavior["global_frame"]) == (
        (None, "p_odom") if distro == "humble" else ("p_odom", "map"))
    assert {v for v in behavior.values() if isinstance(v, str)} <= known


def test_sources_have_their_frames_topics_and_heights(robots: Any) -> None:
    assembly = robots("two_wheels", distro="jazzy")
    for node in costmaps(tree(assembly)):
        layer = node["obstacle_layer"]
        assert layer["observation_sources"] == "lidar camera", "one string, split at blanks"
        scan, cloud = layer["lidar"], layer["camera"]
        # N2 jazzy:nav2_costmap_2d/plugins/obstacle_layer.cpp takes a relative topic under the costmap's own name.
        assert (scan["topic"], scan["data_type"], scan["sensor_frame"]) == (
            "/scan_filtered", "LaserScan", "lidar_frame")
        assert (cloud["topic"], cloud["data_type"], cloud["sensor_frame"]) == (
            "/depth/points", "PointCloud2", "camera_optical_frame")
        root = assembly.poses[assembly.root].inverse()
        height = next((root @ s.pose).t[2] for s in assembly.sensors if s.placement == "lidar")
        assert scan["min_obstacle_height"] < height < scan["max_obstacle_height"] <= layer["max_obstacle_height"]
        # The default of max_obstacle_height of a source is 0.0: nothing would be marked.
        assert cloud["max_obstacle_height"] > 0.1
        assert cloud["min_obstacle_height"] > 0.0, "the floor is no obstacle"
        assert scan["marking"] is scan["clearing"] is True
        assert type(scan["obstacle_min_range"]) is float
        ranges = node["range_sensor_layer"]
        assert ranges["topics"] == ["/ranger_left/range", "/ranger_right/range"]
        assert ranges["clear_on_max_reading"] is True


@pytest.mark.parametrize(("distro", "topic"), [("humble", "/scan_filtered"), ("jazzy", "/scan_filtered"),
                                               ("kilted", "scan_filtered"), ("lyrical", "scan_filtered")])
def test_costmap_topics_by_distro(robots: Any, distro: str, topic: str) -> None:
    """N2 kilted, lyrical:nav2_costmap_2d/plugins/obstacle_layer.cpp join relative topics to the namespace above."""
    local, _ = costmaps(tree(robots("two_wheels", distro=distro)))
    assert local["obstacle_layer"]["lidar"]["topic"] == topic


def test_light_and_sound_are_cleared_differently(robots: Any) -> None:
    local, _ = costmaps(tree(robots("four_wheels")))
    assert local["plugins"] == ["range_sensor_layer", "infrared_sensor_layer", "inflation_layer"]
    assert "obstacle_layer" not in local
    assert (local["range_sensor_layer"]["topics"], local["range_sensor_layer"]["clear_on_max_reading"]) == (
        ["/range"], True)
    assert (local["infrared_sensor_layer"]["topics"], local["infrared_sensor_layer"]["clear_on_max_reading"]) == (
        ["/rear/range"], False)


@pytest.mark.parametrize(("drop", "taken"), [("looks: floor", False), ("axes: {x: down, z: forward}", False),
                                              ("axes: {x: up, z: back}", False), ("rpy: [0, 50, 0]", True)])
def test_a_ranger_that_looks_down_or_up_is_no_source(robots: Any, drop: str, taken: bool) -> None:
    """navigation2 {branch}:nav2_collision_monitor/src/range.cpp, getData: points are {x, y} whatever their height, so the floor
    under an edge sensor is in the outline and stops the robot for good; range_sensor_layer.cpp is flat, too."""
    part = f"  edge: {{like: sonar, sensors: {{range: {{kind: ranger, at: [11, 0, 10], {drop}, range: [0.02 m, 4 m], fov: 20, topic: edge}}}}}}\n"
    assembly = robots("pushed", swap=(("catalogue: [parts.yaml]\n", "catalogue: [parts.yaml]\nparts:\n" + part),
                                      ("camera: {part: depth_camera_own_frames,", "edge: {part: edge,")))
    (file,) = navigation.artifacts(assembly)
    assert (b"edge" in file.data) is taken
    page = "".join(navigation.TARGET.page(assembly, {navigation.PATH}))
    assert ("`edge` looks at the floor or the ceiling and is no source" in page) is not taken



def test_a_lidar_under_the_body_or_high_above_lies_in_its_band(robots: Any) -> None:
    for name in ("mecanum", "disc", "two_wheels"):
        assembly = robots(name)
        root = assembly.poses[assembly.root].inverse()
        for source in navigation_sources.sources(assembly):
            if source.kind == "scan":
                assert source.low < (root @ source.facet.pose).t[2] < source.high


def test_a_placement_called_like_a_parameter(robots: Any) -> None:
    called = (("camera:      {part: depth_camera,", "enabled: {part: depth_camera,"),)
    local, _ = costmaps(tree(robots("two_wheels", swap=called)))
    assert local["obstacle_layer"]["observation_sources"] == "lidar enabled_source"
    assert local["obstacle_layer"]["enabled_source"]["sensor_frame"] == "enabled_optical_frame"


def test_a_driver_with_frames_of_its_own_names_its_frame_itself(robots: Any) -> None:
    local, _ = costmaps(tree(robots("pushed")))
    assert "sensor_frame" not in local["obstacle_layer"]["camera"]


@pytest.mark.parametrize("distro", DISTROS)
def test_collision_monitor_outline_in_the_distros_form(robots: Any, distro: str) -> None:
    """N2 humble:nav2_collision_monitor/src/polygon.cpp reads a flat list of doubles, later branches a string."""
    assembly = robots("two_wheels", distro=distro)
    node = tree(assembly)["collision_monitor"]["ros__parameters"]
    points = node["Outline"]["points"]
    if distro == "humble":
        assert all(type(v) is float for v in points)
        assert len(points) > 6
        assert len(points) % 2 == 0
        pairs = list(zip(points[::2], points[1::2]))
    else:
        pairs = points_by_nav2(points)
        assert len(pairs) > 3
    assert pairs == list(footprint_of(assembly))
    assert node["base_frame_id"] == assembly.root
    assert {node[s]["type"] for s in node["observation_sources"]} == {"scan", "pointcloud", "range"}
    assert node["lidar"]["topic"] == "scan_filtered"
    cloud = node["camera"]
    assert 0 < cloud["min_height"] < cloud["max_height"]


def test_three_points_become_four_for_the_collision_monitor() -> None:
    """N2 humble ... lyrical:nav2_collision_monitor/src/polygon.cpp refuse fewer than four."""
    triangle = [(0.0, 0.0), (3.0, 0.0), (0.0, 1.0)]
    flat = polygon_points(triangle, "list")
    assert flat == (0.0, 0.0, 3.0, 0.0, 1.5, 0.5, 0.0, 1.0)
    assert json.loads(str(polygon_points(triangle, "string"))) == [[0, 0], [3, 0], [1.5, 0.5], [0, 1]]


@pytest.mark.parametrize(("distro", "stamped"), [("humble", None), ("jazzy", True), ("kilted", True), ("lyrical", True)])
def test_velocity_commands_are_stamped_as_the_controllers_want(robots: Any, distro: str, stamped: bool | None) -> None:
    """N2 jazzy:nav2_util/include/nav2_util/twist_publisher.hpp defaults to false, the controllers take only stamped."""
    read = tree(robots("two_wheels", distro=distro))
    for node in ("controller_server", "behavior_server", "velocity_smoother", "collision_monitor"):
        assert read[node]["ros__parameters"].get("enable_stamped_cmd_vel") is stamped
    free = tree(robots("two_wheels", distro=distro, control="none"))
    assert "enable_stamped_cmd_vel" not in free["controller_server"]["ros__parameters"], "whoever drives decides"


def test_odometry_topic_is_where_odometry_arrives(robots: Any) -> None:
    for odometry, topic in (("controller", "odom"), ("ekf", "odometry/filtered")):
        read = tree(robots("two_wheels", odometry=odometry))
        for node in ("bt_navigator", "controller_server", "velocity_smoother"):
            assert read[node]["ros__parameters"]["odom_topic"] == topic


def test_no_file_for_what_does_not_stand_on_the_ground(robots: Any) -> None:
    assert list(navigation.artifacts(robots("shelf"))) == []


@pytest.mark.parametrize("distro", DISTROS)
@pytest.mark.parametrize("name", WITH_GROUND)
def test_no_parameter_that_nav2_does_not_know(robots: Any, name: str, distro: str) -> None:
    read = tree(robots(name, distro=distro))
    for node in costmaps(read):
        assert {k for k, v in node.items() if not isinstance(v, dict)} <= VOCABULARY["costmap"]
        for layer in (v for v in node.values() if isinstance(v, dict)):
            assert {k for k, v in layer.items() if not isinstance(v, dict)} <= VOCABULARY[layer["plugin"]]
            for source in (v for v in layer.values() if isinstance(v, dict)):
                assert set(source) <= VOCABULARY["source"]
    stamped = set() if distro == "humble" else {"enable_stamped_cmd_vel"}  # N2 nav2_util/.../twist_publisher.hpp
    for server, inner in read.items():
        if server.endswith("_costmap"):
            continue
        parameters = inner["ros__parameters"]
        assert {k for k, v in parameters.items() if not isinstance(v, dict)} <= VOCABULARY[server] | stamped
        for key, block in parameters.items():
            if key == "FollowPath":
                # What the kind of drive adds there is in test_more_drives.py.
                assert {k: set(inner) for k, inner in block.items() if k in VOCABULARY["FollowPath"]} == VOCABULARY["FollowPath"]
                assert set(block) - set(VOCABULARY["FollowPath"]) <= {"motion_model", "omni"}
            elif isinstance(block, dict):
                block = {k: v for k, v in block.items() if distro == "humble" or k != "source_timeout"}
                assert set(block) <= VOCABULARY["polygon" if key in parameters["polygons"] else "monitored"]


@pytest.mark.judge
@pytest.mark.parametrize("distro", ["humble", "jazzy"])
def test_ros_own_parser_takes_every_node(robots: Any, distro: str, tmp_path: Path, node_parameters: Any) -> None:
    assembly = robots("two_wheels", distro=distro)
    (file,) = navigation.artifacts(assembly)
    path = tmp_path / "navigation.yaml"
    path.write_bytes(file.data)
    local = node_parameters(path, "local_costmap", "/local_costmap")
    assert isinstance(local["footprint"], str)
    assert local["obstacle_layer.lidar.sensor_frame"] == "lidar_frame"
    assert isinstance(local["inflation_layer.inflation_radius"], float)
    assert isinstance(local["footprint_padding"], float)
    monitor = node_parameters(path, "collision_monitor")
    points = monitor["Outline.points"]
    assert isinstance(points, str) if distro == "jazzy" else len(points) == 2 * len(footprint_of(assembly))
