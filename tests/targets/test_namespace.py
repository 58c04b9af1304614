"""A robot in a ROS namespace: parameter keys, topics, transforms; two robots of one package."""
from __future__ import annotations

import ast
import re
from typing import Any

import pytest
import yaml

from chassis_describe.targets import package_artifacts
from chassis_describe.targets.stack.distros import DISTROS
from chassis_describe.targets.stack.topics import with_transforms


def texts(assembly: Any) -> dict[str, str]:
    return {f.path: f.data.decode() for f in package_artifacts(assembly) if f.path.startswith(("config/", "launch/", "rviz/", "docs/"))}


@pytest.mark.parametrize("distro", DISTROS)
@pytest.mark.parametrize("name", ["two_wheels", "mecanum", "clouds"])
def test_every_node_is_below_the_namespace(robots: Any, name: str, distro: str) -> None:
    """ros2/rcl, rcl_yaml_param_parser: a node's fully qualified name is its namespaces and its name, one key each."""
    for path, text in texts(robots(name, distro=distro, namespace="fleet/robot1", odometry="ekf")).items():
        if path.startswith("config/"):
            read = yaml.safe_load(text)
            assert list(read) == ["fleet"]
            assert list(read["fleet"]) == ["robot1"]
            assert re.search(r"^fleet:\n  robot1:\n    #", text, re.MULTILINE) or "navigation" in path or "controllers" in path
            assert text.splitlines()[-1][:1] == " ", "remarks are with what they are about, not at the end"


@pytest.mark.parametrize("distro", ["humble", "jazzy"])
def test_costmap_topics_are_absolute_where_relative_ones_go_astray(robots: Any, distro: str) -> None:
    read = yaml.safe_load(texts(robots("two_wheels", distro=distro, namespace="robot1"))["config/navigation.yaml"])["robot1"]
    layer = read["local_costmap"]["local_costmap"]["ros__parameters"]["obstacle_layer"]
    assert layer["lidar"]["topic"] == "/robot1/scan_filtered"
    assert read["collision_monitor"]["ros__parameters"]["lidar"]["topic"] == "scan_filtered"


@pytest.mark.thorough
def test_transforms_are_the_robots_own_without_a_prefix(robots: Any) -> None:
    """diff_drive_controller publishes on /tf, mecanum on its own ~/tf_odometry."""
    for name, rule in (("two_wheels", "/tf:=tf"), ("mecanum", "~/tf_odometry:=tf")):
        alone = texts(robots(name, namespace="robot1"))
        assert rule in alone["config/controllers.yaml"]
        assert "('/tf', 'tf')" in alone["launch/show.launch.py"]
        shared = texts(robots(name, namespace="robot1", prefix="r1_"))
        assert rule not in shared["config/controllers.yaml"]
        assert "('/tf', 'tf')" not in shared["launch/show.launch.py"]


def test_launch_files_take_the_namespace(robots: Any) -> None:
    for path, text in texts(robots("clouds", namespace="robot1")).items():
        if path in ("launch/show.launch.py", "launch/filters.launch.py"):
            ast.parse(text)
            assert "DeclareLaunchArgument('namespace', default_value='robot1'" in text
            assert text.count("Node(package=") == text.count("namespace=namespace") + text.count("namespace=LaunchConfiguration")


def test_rviz_names_relative_topics(robots: Any) -> None:
    read = yaml.safe_load(texts(robots("clouds", namespace="robot1"))["rviz/show.rviz"])
    displays = {d["Name"]: d for d in read["Visualization Manager"]["Displays"]}
    assert displays["RobotModel"]["Description Topic"]["Value"] == "robot_description"
    assert displays["mast"]["Class"] == "rviz_default_plugins/PointCloud2"
    assert displays["mast"]["Topic"]["Value"] == "high/points_filtered"
    for name in ("mast", "front", "ring"):
        assert displays[name]["Topic"]["Reliability Policy"] == "Best Effort"
    assert {"footprint", "odometry"} <= set(displays)


@pytest.mark.thorough
@pytest.mark.parametrize("distro", ["humble", "jazzy"])
def test_commands_start_nodes_in_the_namespace(robots: Any, distro: str) -> None:
    """Every `ros2 run` of the page: by ``__ns`` (ros2/rcl, remapping rules), the spawner by its manager's full name
    (ros2_control {branch}:controller_manager/controller_manager/spawner.py, -c)."""
    for name in ("two_wheels", "mecanum", "three_wheeler"):
        page = texts(robots(name, distro=distro, namespace="robot1", odometry="ekf"))["docs/bringup.md"].replace("\\\n", " ")
        commands = [line for line in page.splitlines() if line.startswith("    ros2 run ")]
        assert commands
        for line in commands:
            assert "-r __ns:=/robot1" in line or "-c /robot1/controller_manager" in line, line
            if re.search("ekf_node|slam_toolbox|amcl|navsat", line):  # tf2_ros gives and takes /tf, the robot keeps its own tf
                assert "-r /tf:=tf -r /tf_static:=tf_static" in line, line
        assert "/tf" not in with_transforms(robots(name, namespace="robot1", prefix="r1_")), "with a prefix all share /tf"
        alone = texts(robots(name, distro=distro, odometry="ekf"))["docs/bringup.md"]
        assert "__ns:=" not in alone and " -c " not in alone


def test_static_transforms_stay_in_the_namespace(robots: Any) -> None:
    """launch_ros takes namespace and remappings of a composable node, not only of its container."""
    text = texts(robots("two_wheels", namespace="robot1"))["launch/frames.launch.py"]
    ast.parse(text)
    assert "DeclareLaunchArgument('namespace', default_value='robot1'" in text
    assert "('/tf_static', 'tf_static')" in text
    assert text.count("namespace=LaunchConfiguration('namespace')") == 2
    assert "('/tf_static', 'tf_static')" not in texts(robots("two_wheels", namespace="robot1", prefix="r1_"))["launch/frames.launch.py"]


@pytest.mark.thorough
def test_the_page_says_which_sources_stop_the_robot(robots: Any) -> None:
    """nav2_collision_monitor/src/collision_monitor_node.cpp: a source without valid data stops the robot."""
    for distro in DISTROS:
        page = texts(robots("clouds", distro=distro))["docs/bringup.md"]
        assert "Sources of the collision monitor: `mast`, `front`, `ring`." in page
        assert ("five messages" in page) is (distro != "humble")
