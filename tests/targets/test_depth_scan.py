"""A flat scan out of rows of a depth image: how many rows, when that is wrong, and images through the node as its source has it.

ros-perception/depthimage_to_laserscan ros2 79b60bf, include/depthimage_to_laserscan/DepthImageToLaserScan.hpp and
src/DepthImageToLaserScan.cpp: rows from int(cy - scan_height / 2) on; of each pixel the angle -atan2(u - cx, f), the range
hypot((u - cx) z / f, z) of its depth z, kept where it is the nearest within range_min to range_max; as many beams as columns.
"""
from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml

from chassis_describe import assemble, check, read
from chassis_describe.errors import LayoutError
from chassis_describe.facts.depth_rows import depth_rows_of
from chassis_describe.facts.heights import heights_of
from chassis_describe.targets import package_artifacts
from chassis_describe.targets.closure import closure_faults
from chassis_describe.targets.stack import depth_scan
from chassis_describe.targets.stack.distros import DISTROS
from tests.demos import CONFIG
from tests.targets.test_closure import with_slip, written

FRONT = "front:       {part: depth_camera, on: upper, at: [4, 0], topic: front}"
TIPPED = """\
parts:
  tipped:
    like: depth_camera
    sensors: {depth: {kind: depth_camera, at: [10, 0, 12], rpy: [0, %s, 0], range: [0.2 m, 5 m], fov: 70, resolution: [640, 480]}}
"""
LAYOUTS = Path(__file__).parent / "layouts"


def settings(target: Any, assembly: Any, node: str) -> dict[str, Any]:
    (file,) = target.artifacts(assembly)
    inner: dict[str, Any] = yaml.safe_load(file.data)[node]["ros__parameters"]
    return inner


def rows(assembly: Any) -> dict[str, Any]:
    return settings(depth_scan, assembly, "depthimage_to_laserscan")


class Camera:
    """A pinhole camera of a robot among upright walls (x, y, outward normal's angle, height), on a floor at 0."""

    def __init__(self, assembly: Any, name: str) -> None:
        facet = next(f for f in assembly.sensors if f.placement == name)
        pose = assembly.poses[assembly.root].inverse() @ facet.pose
        self.r, self.t = np.array(pose.r).reshape(3, 3), np.array(pose.t)
        self.width, self.height = facet.sensor.resolution
        self.f = self.width / 2 / math.tan(facet.sensor.fov / 2)
        self.cx, self.cy = (self.width - 1) / 2, (self.height - 1) / 2

    def depth(self, walls: list[tuple[float, float, float, float]], v: np.ndarray) -> np.ndarray:
        """Depth along the optical axis (rows, columns) of the nearest wall or the floor."""
        u = np.arange(self.width)
        rays = np.stack(np.broadcast_arrays(1.0, -(u[None, :] - self.cx) / self.f, -(v[:, None] - self.cy) / self.f), axis=-1)
        return meet(self.t, rays @ self.r.T, walls)

    def scan(self, walls: list[tuple[float, float, float, float]], got: dict[str, Any], height: int) -> tuple[np.ndarray, np.ndarray]:
        """Angles and ranges of the beams, as the node makes them."""
        first = int(self.cy - height / 2)
        depth = self.depth(walls, np.arange(first, first + height))
        aside = (np.arange(self.width) - self.cx) / self.f
        low, high = -math.atan(aside[-1]), math.atan(-aside[0])
        step = (high - low) / (self.width - 1)
        ranges = np.full(self.width, np.nan)
        for row in depth:
            for u in range(self.width):
                r = math.hypot(aside[u] * row[u], row[u])
                index = int((-math.atan2(aside[u], 1.0) - low) / step)
                if got["range_min"] <= r <= got["range_max"] and not ranges[index] <= r:
                    ranges[index] = r
        return low + step * np.arange(self.width), ranges


def meet(eye: np.ndarray, rays: np.ndarray, walls: list[tuple[float, float, float, float]]) -> np.ndarray:
    """How many times each ray (..., 3) goes into the way to what it meets first; inf where nothing is."""
    with np.errstate(divide="ignore", invalid="ignore"):
        best = np.where(rays[..., 2] < 0, -eye[2] / rays[..., 2], np.inf)
        for x, y, angle, height in walls:
            n = np.array([math.cos(angle), math.sin(angle)])
            away = (np.array([x, y]) - eye[:2]) @ n / (rays[..., :2] @ n)
            best = np.where((away > 0) & (eye[2] + away * rays[..., 2] <= height), np.fmin(best, away), best)
    return np.asarray(best)


#: A room: a wall ahead, oblique ones at both sides, 2 m high.
ROOM = [(3.0, 0.0, 0.0, 2.0), (0.0, 1.2, math.radians(70), 2.0), (0.0, -1.5, math.radians(-80), 2.0)]


def test_a_level_camera_gives_the_scan_of_a_lidar_in_its_place(robots: Any) -> None:
    assembly = robots("clouds", scan_from="front", scan_by="depth_image")
    got, camera = rows(assembly), Camera(assembly, "front")
    assert got["scan_height"] > 10
    angles, ranges = camera.scan(ROOM, got, got["scan_height"])
    true = meet(camera.t, np.column_stack([np.cos(angles), np.sin(angles), np.zeros(len(angles))]), ROOM)
    seen = np.isfinite(ranges)
    assert seen.sum() > 0.9 * len(angles), "columns are not even in angle, so some beams of the node stay empty"
    assert np.abs(ranges - true)[seen] == pytest.approx(0.0, abs=0.02), "a beam is up to one step of 0.1 degrees off"


def test_the_rows_stay_above_what_the_robot_passes_over_and_one_more_does_not(robots: Any) -> None:
    """A sill as high as the clearance, at the end of the range."""
    assembly = robots("clouds", scan_from="front", scan_by="depth_image")
    got, camera = rows(assembly), Camera(assembly, "front")
    clearance = heights_of(assembly).clearance
    sill = [(camera.t[0] + 0.99 * got["range_max"], 0.0, 0.0, clearance - 1e-3)]
    _, ranges = camera.scan(sill, got, got["scan_height"])
    assert not np.isfinite(ranges).any(), "neither sill nor floor"
    most = next(n for n in range(got["scan_height"], 100) if np.isfinite(camera.scan(sill, got, n)[1]).any())
    assert most <= got["scan_height"] + 3, "and not many fewer than could be"


def test_a_tilted_camera_sees_the_floor_and_is_found(robots: Any) -> None:
    assembly = robots("clouds", scan_from="mast", scan_by="depth_image")
    got, camera = rows(assembly), Camera(assembly, "mast")
    _, ranges = camera.scan([(9.0, 0.0, 0.0, 2.0)], got, got["scan_height"])
    assert np.nanmin(ranges) < 1.0, "nothing is there but the floor"
    (finding,) = [f for f in check(assembly) if f.code == "depth-scan-wrong"]
    assert "lean 35 degrees" in finding.message and "upper" in finding.message
    assert finding.where[0].line > 0
    (file,) = depth_scan.artifacts(assembly)
    assert b"WRONG as the camera is mounted" in file.data
    page = next(f for f in package_artifacts(assembly) if f.path == "docs/bringup.md").data.decode()
    assert "WRONG as the camera is mounted" in page


@pytest.mark.parametrize(("lean", "fits"), [(0.0, True), (1.0, True), (8.0, False)])
def test_how_much_lean_is_let_pass(robots: Any, lean: float, fits: bool) -> None:
    """Of a camera 150 mm up that sees 5 m: 1 degree takes 87 mm there; 8 degrees meet the floor after 1.1 m."""
    swap = ((FRONT, FRONT.replace("depth_camera", "tipped")), ("catalogue: [parts.yaml]\n", f"catalogue: [parts.yaml]\n{TIPPED % lean}"))
    assembly = robots("clouds", swap=swap, scan_from="front", scan_by="depth_image")
    assert depth_rows_of(assembly)[next(f.frame for f in assembly.sensors if f.placement == "front")].fits is fits


def test_what_moves_is_no_depth_scan(robots: Any) -> None:
    """A camera on a servo head on a lift, level as it is."""
    (rows,) = depth_rows_of(assemble(read(CONFIG / "aviary_watch.yaml"))).values()
    assert rows.leaves is None and rows.lean == pytest.approx(0.0, abs=1e-9)
    assert len(rows.moved_by) == 3 and not rows.fits


def test_files_launch_view_and_localisation_go_together(robots: Any) -> None:
    assembly = robots("clouds", scan_from="front", scan_by="depth_image", namespace="robot1")
    files = {f.path: f.data.decode("ascii", "replace") for f in package_artifacts(assembly)}
    assert "config/scan_from_cloud.yaml" not in files
    assert ("('front', 'depthimage_to_laserscan', 'depthimage_to_laserscan_node', 'depthimage_to_laserscan', "
            "'config/scan_from_depth.yaml', 'depth', 'front/depth_image', 'scan', 'scan', 'depth_camera_info', 'front/camera_info')"
            ) in files["launch/filters.launch.py"]
    local = yaml.safe_load(files["config/localization.yaml"])["robot1"]["slam_toolbox"]["ros__parameters"]
    got = yaml.safe_load(files["config/scan_from_depth.yaml"])["robot1"]["depthimage_to_laserscan"]["ros__parameters"]
    assert local["scan_topic"] == "scan"
    assert (local["min_laser_range"], local["max_laser_range"]) == (got["range_min"], got["range_max"])
    assert got["output_frame"] == "front_frame", "x ahead"
    displays = {d["Name"]: d for d in yaml.safe_load(files["rviz/show.rviz"])["Visualization Manager"]["Displays"]}
    assert displays["front as a scan"]["Class"] == "rviz_default_plugins/LaserScan"
    assert displays["front as a scan"]["Topic"]["Value"] == "scan"
    assert "<exec_depend>depthimage_to_laserscan</exec_depend>" in files["package.xml"]
    assert "depth image `front/depth_image`" in files["docs/bringup.md"]


@pytest.mark.parametrize(("path", "old", "new", "words"), [
    ("config/scan_from_depth.yaml", 'output_frame: "front_frame"', 'output_frame: "frnt_frame"', "output_frame"),
    ("launch/filters.launch.py", "'front/camera_info'", "'front/camra_info'", "nearest: front/camera_info")])
def test_names_in_them_must_exist(robots: Any, path: str, old: str, new: str, words: str) -> None:
    assembly = robots("clouds", scan_from="front", scan_by="depth_image")
    assert closure_faults(assembly, written(assembly)) == []
    faults = closure_faults(assembly, with_slip(written(assembly), path, old, new))
    assert any(words in fault and fault.startswith(path) for fault in faults), faults


def test_the_cloud_is_the_default_and_the_page_says_what_else_would_do(robots: Any) -> None:
    for name, word in (("front", True), ("mast", False)):
        files = {f.path: f.data.decode("ascii", "replace") for f in package_artifacts(robots("clouds", scan_from=name))}
        assert "config/scan_from_depth.yaml" not in files
        assert ("scan_by: depth_image" in files["docs/bringup.md"]) is word


@pytest.mark.parametrize(("ros", "code", "words"), [
    ("{scan_from: ring, scan_by: depth_image}", "bad-value", "`ring`, which `scan_from` names, has no depth camera"),
    ("{scan_by: rows}", "bad-value", "depth_image")])
def test_what_is_refused(ros: str, code: str, words: str) -> None:
    path = LAYOUTS / "clouds.yaml"
    with pytest.raises(LayoutError) as error:
        read(path, text=path.read_text(encoding="utf-8") + f"ros: {ros}\n")
    assert any(f.code == code and words in str(f) for f in error.value.findings)


def test_beside_a_flat_lidar_the_camera_must_be_named() -> None:
    path = LAYOUTS / "two_wheels.yaml"
    text = path.read_text(encoding="utf-8")
    with pytest.raises(LayoutError) as error:
        read(path, text=text + "ros: {scan_by: depth_image}\n")
    assert any(f.code == "meaningless-key" and "scan_from: camera" in f.hint for f in error.value.findings)
    assert read(path, text=text + "ros: {scan_from: camera, scan_by: depth_image}\n").ros.scan_by == "depth_image"


@pytest.mark.judge
@pytest.mark.parametrize("distro", DISTROS)
def test_the_node_gets_its_types(robots: Any, node_parameters: Any, tmp_path: Any, distro: str) -> None:
    """DepthImageToLaserScanROS.cpp declares scan_height as an integer, output_frame as text, the rest as doubles."""
    (file,) = depth_scan.artifacts(robots("clouds", distro=distro, scan_from="mast", scan_by="depth_image"))
    path = tmp_path / "scan.yaml"
    path.write_bytes(file.data)
    got = node_parameters(path, "depthimage_to_laserscan")
    assert [type(got[key]) for key in ("output_frame", "scan_height", "range_min", "range_max", "scan_time")] == [
        str, int, float, float, float]
