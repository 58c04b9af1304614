"""A robot in a ROS namespace: parameter keys, topics, transforms; two robots of one package."""
from __future__ import annotations

import ast
from typing import Any

import pytest
import yaml

from chassis_describe.targets import package_artifacts
from chassis_describe.targets.stack.distros import DISTROS


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


@pytest.mark.parametrize("distro", ["humble", "jazzy"])
def test_costmap_topics_are_absolute_where_relative_ones_go_astray(robots: Any, distro: str) -> None:
    read = yaml.safe_load(texts(robots("two_wheels", distro=distro, namespace="robot1"))["config/navigation.yaml"])["robot1"]
    layer = read["local_costmap"]["local_costmap"]["ros__parameters"]["obstacle_layer"]
    assert layer["lidar"]["topic"] == "/robot1/scan_filtered"
    assert read["collision_monitor"]["ros__parameters"]["lidar"]["topic"] == "scan_filtered"


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
