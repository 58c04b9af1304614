"""A robot with nothing that a navigation stack asks for, and one with all of it: what is written, for every distro."""
from __future__ import annotations

import re
from typing import Any

import pytest
import yaml

from chassis_describe import check
from chassis_describe.facts.coverage import coverage_of
from chassis_describe.targets import package_artifacts
from chassis_describe.targets.stack.distros import DISTROS

CAMERA = "  camera: {part: depth_camera_own_frames, on: plate, at: [4, 0]}\n"
RING = "  ring:        {part: layered_lidar, on: lower, at: [0, 0]}\n"
MORE = """\
  lidar:       {part: lidar, on: upper, at: [0.5, 2]}
  imu:         {part: imu, on: lower, face: under, at: [-1.5, 0]}
  sky:         {part: antenna, on: upper, at: [0, -2]}
  sonar:       {part: sonar, on: upper, at: [4, -3], topic: ahead}
  bumper:      {part: switch, on: lower, at: [5, 0]}
"""
PARTS = """\
parts:
  antenna: {mass: 20, bodies: [{box: [30, 30, 10], at: [0, 0, 5]}], bolts: [[-10, 0], [10, 0]],
            sensors: {sky: {kind: gnss, at: [0, 0, 10], topic: fix}}}
  switch: {mass: 5, bodies: [{box: [10, 30, 10], at: [0, 0, 5]}], bolts: [[0, -10], [0, 10]],
           sensors: {touch: {kind: contact, at: [5, 0, 5]}}}
"""
FILES = {"config/cloud_filter.yaml", "config/controllers.yaml", "config/laser_filter.yaml", "config/localization.yaml",
         "config/navigation.yaml", "config/scan_from_cloud.yaml"}


def everything(robots: Any, **ros: Any) -> Any:
    return robots("clouds", swap=((RING, RING + MORE), ("catalogue: [parts.yaml]\n", "catalogue: [parts.yaml]\n" + PARTS)), **ros)


@pytest.mark.parametrize("distro", DISTROS)
def test_all_of_it(robots: Any, distro: str) -> None:
    """Every name closes (or nothing is written), every node of every file stands below the namespace."""
    assembly = everything(robots, distro=distro, odometry="ekf", namespace="robot1", scan_from="ring", slam_lidar="lidar")
    files = {f.path: f.data for f in package_artifacts(assembly)}
    assert {path for path in files if path.startswith("config/")} >= FILES
    read = {path: yaml.safe_load(files[path])["robot1"] for path in FILES}
    local = read["config/localization.yaml"]
    assert local["slam_toolbox"]["ros__parameters"]["scan_topic"] == "scan_filtered", "the lidar that is named"
    # slam_toolbox ros2:src/slam_toolbox_common.cpp: map_name is "/map" by default, which no namespace moves
    assert local["slam_toolbox"]["ros__parameters"]["map_name"] == "map"
    page = files["docs/bringup.md"].decode().replace("\\\n", "")
    assert re.search(r"navsat_transform_node --ros-args.* -r /tf:=tf .*-r gps/fix:=fix +--params-file", page)
    assert "`sky`: the antenna is" in page and "mm to the right of and" in page
    assert "navsat_transform_node" in local and "imu0" in local["ekf_filter_node"]["ros__parameters"]
    made = files["launch/filters.launch.py"].decode()
    assert "'scan', 'ring/scan'" in made, "the topic of the lidar is taken"
    monitor = read["config/navigation.yaml"]["collision_monitor"]["ros__parameters"]
    assert monitor["observation_sources"] == ["mast", "front", "ring", "lidar", "sonar"]


def test_none_of_it(robots: Any) -> None:
    assembly = robots("pushed", swap=((CAMERA, ""),), odometry="ekf")
    files = {f.path: f.data.decode("ascii", "replace") for f in package_artifacts(assembly)}
    assert not {path for path in files if path.startswith("config/")} & (FILES - {"config/navigation.yaml", "config/localization.yaml"})
    assert "launch/filters.launch.py" not in files
    assert "no lidar, depth camera or ranger" in files["docs/bringup.md"]
    coverage = coverage_of(assembly)
    assert coverage is not None and {v for row in coverage.lowest for v in row} == {None}
    codes = {f.code for f in check(assembly)}
    assert "odometry-missing" in codes and "blind-sector" not in codes
