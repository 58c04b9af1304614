"""A flat scan out of a cloud: who gets one, and points through the node as its source has it.

ros-perception/pointcloud_to_laserscan rolling d71ed2e, src/pointcloud_to_laserscan_node.cpp: a point is taken whose z, hypot(x, y)
and atan2(y, x) in the target frame lie within min and max; it goes to ranges[int((angle - angle_min) / angle_increment)], of
ceil((angle_max - angle_min) / angle_increment) ranges; the message's angles are float32. slam_toolbox ros2, Karto.h,
LaserRangeFinder::Update: round((angle_max - angle_min) / angle_increment) readings, and one more of what is no whole turn.
"""
from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import yaml

from chassis_describe.facts.sight import view_of
from chassis_describe.targets import package_artifacts
from chassis_describe.targets.stack import cloud_scan, localization

MAST = ("  mast:        {part: camera_mast, on: upper, at: [-4, 0]}\n", "")
RING = ("  ring:        {part: layered_lidar, on: lower, at: [0, 0]}\n", "")


def settings(target: Any, assembly: Any, node: str) -> dict[str, Any]:
    (file,) = target.artifacts(assembly)
    inner: dict[str, Any] = yaml.safe_load(file.data)[node]["ros__parameters"]
    return inner


def scan(assembly: Any) -> dict[str, Any]:
    return settings(cloud_scan, assembly, "pointcloud_to_laserscan")


def test_without_a_flat_lidar_the_widest_cloud_gives_the_scan(robots: Any) -> None:
    assembly = robots("clouds")
    got = scan(assembly)
    assert got["target_frame"] == assembly.root
    local = settings(localization, assembly, "slam_toolbox")
    assert local["scan_topic"] == "scan"
    assert (local["min_laser_range"], local["max_laser_range"]) == (got["range_min"], got["range_max"])
    launch = next(f for f in package_artifacts(assembly) if f.path == "launch/filters.launch.py").data.decode()
    assert "('ring', 'pointcloud_to_laserscan', 'pointcloud_to_laserscan_node', 'pointcloud_to_laserscan'" in launch
    assert "'cloud_in', 'ring/points_filtered', 'scan', 'scan')" in launch


def test_with_a_flat_lidar_there_is_none_unless_it_is_asked_for(robots: Any) -> None:
    assert not list(cloud_scan.artifacts(robots("two_wheels")))
    assert settings(localization, robots("two_wheels"), "amcl")["scan_topic"] == "scan_filtered"


def test_the_named_cloud_gives_it(robots: Any) -> None:
    assembly = robots("clouds", scan_from="front")
    assert cloud_scan.nodes(assembly)[0][0] == "front"
    got = scan(assembly)
    assert -math.pi / 2 < got["angle_min"] < 0 < got["angle_max"] < math.pi / 2


def beams(got: dict[str, Any]) -> tuple[int, int]:
    """Ranges that the node makes, and that slam_toolbox wants."""
    low, high, step = (np.float32(got[k]) for k in ("angle_min", "angle_max", "angle_increment"))
    whole = abs(float(high - low) - 2 * math.pi) < step
    return math.ceil((high - low) / step), math.floor(float((high - low) / step) + 0.5) + (0 if whole else 1)


@pytest.mark.parametrize("name", ["ring", "front", "mast"])
def test_node_and_mapper_count_alike_and_nothing_is_written_behind_the_end(robots: Any, name: str) -> None:
    got = scan(robots("clouds", scan_from=name))
    made, wanted = beams(got)
    assert made == wanted
    low, high, step = (np.float32(got[k]) for k in ("angle_min", "angle_max", "angle_increment"))
    assert int((float(high) - low) / step) < made


@pytest.mark.parametrize("name", ["ring", "front", "mast"])
def test_whatever_the_sensor_sees_in_the_band_is_in_the_scan(robots: Any, name: str) -> None:
    """Points at random in the view and range of the sensor, at any height: those of the band lie within angles and ranges."""
    assembly = robots("clouds", scan_from=name)
    got = scan(assembly)
    facet = next(f for f in assembly.sensors if f.placement == name)
    draw = np.random.default_rng(1)
    half, (near, far) = view_of(facet) / 2, facet.sensor.range
    if facet.sensor.kind == "depth_camera":
        rise = math.tan(half) * facet.sensor.resolution[1] / facet.sensor.resolution[0]
        rays = np.column_stack([np.ones(4000), draw.uniform(-1, 1, 4000) * math.tan(half), draw.uniform(-1, 1, 4000) * rise])
    else:
        turn, up = draw.uniform(-half, half, 4000), draw.uniform(*facet.sensor.vertical, 4000)
        rays = np.column_stack([np.cos(up) * np.cos(turn), np.cos(up) * np.sin(turn), np.sin(up)])
    rays /= np.linalg.norm(rays, axis=1)[:, None]
    pose = assembly.poses[assembly.root].inverse() @ facet.pose
    points = rays * draw.uniform(near, far, 4000)[:, None] @ np.array(pose.r).reshape(3, 3).T + np.array(pose.t)
    band = points[(points[:, 2] >= got["min_height"]) & (points[:, 2] <= got["max_height"])]
    assert len(band) > 100
    angles, ranges = np.arctan2(band[:, 1], band[:, 0]), np.hypot(band[:, 0], band[:, 1])
    assert ((angles >= got["angle_min"]) & (angles <= got["angle_max"])).all()
    assert ((ranges >= got["range_min"]) & (ranges <= got["range_max"])).all()


def test_a_view_over_the_back_is_a_whole_turn(robots: Any) -> None:
    """The node can't count over pi."""
    swap = (("front:       {part: depth_camera, on: upper, at: [4, 0], topic: front}",
             "front:       {part: depth_camera, on: upper, at: [-4, 2], points: back, topic: front}"), MAST)
    got = scan(robots("clouds", swap=swap, scan_from="front"))
    assert (got["angle_min"], got["angle_max"]) == pytest.approx((-math.pi, math.pi))


@pytest.mark.judge
def test_the_node_gets_doubles(robots: Any, node_parameters: Any, tmp_path: Any) -> None:
    """All are declared as doubles; an integer stops the node."""
    (file,) = cloud_scan.artifacts(robots("clouds", distro="humble"))
    path = tmp_path / "scan.yaml"
    path.write_bytes(file.data)
    got = node_parameters(path, "pointcloud_to_laserscan")
    for name in ("min_height", "max_height", "angle_min", "angle_max", "angle_increment", "range_min", "range_max"):
        assert isinstance(got[name], float), name
