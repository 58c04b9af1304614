"""Own body in clouds: rays on true shapes, through the boxes as they are written, against the monitor's outline and band.

The filter as documented (PointCloudLibrary pcl::CropBox, and perception_pcl ros2:pcl_ros/src/pcl_ros/filters/crop_box.cpp):
points with min <= p <= max on every axis are inside; ``negative`` removes them. The monitor (navigation2
{branch}:nav2_collision_monitor/src/polygon.cpp, pointcloud.cpp) counts points between min_height and max_height inside the
polygon and stops at ``min_points`` = 4, its default.
"""
from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml

from chassis_describe import assemble, check, read
from chassis_describe.artifact import Artifact
from chassis_describe.facts.kinds_of_sensor import is_cloud, is_scanner
from chassis_describe.facts.own_cloud import own_clouds, rays_of
from chassis_describe.facts.play import play_of
from chassis_describe.facts.sectors import blocked_sectors
from chassis_describe.facts.sensor_topics import source_name
from chassis_describe.facts.sight import blockers_of, reach_of, view_of
from chassis_describe.space.pose import Pose, from_rpy
from chassis_describe.space.sight.rays import cast, image_grid, layer
from chassis_describe.targets import package_artifacts
from chassis_describe.targets.stack import cloud_filter, navigation
from chassis_describe.targets.stack.distros import DISTROS
from chassis_describe.values import replace
from tests.demos import DEMOS

TOP = Path(__file__).resolve().parents[2]

THRESHOLD = 4  # min_points, nav2_collision_monitor


def parameters(assembly: Any, path: str) -> dict[str, Any]:
    target = cloud_filter if path == cloud_filter.PATH else navigation
    read: dict[str, Any] = {}
    for file in target.artifacts(assembly):
        read = yaml.safe_load(file.data)
    return read


def points_of(assembly: Any, facet: Any, moved: Pose) -> Any:
    """(m, 3) in the root frame as the stack takes them: the rays of the real sensor, standing ``moved`` against its frame,
    said to come from the frame itself."""
    sensor = facet.sensor
    if sensor.kind == "depth_camera":
        width, height = sensor.resolution
        rays = image_grid(sensor.fov, height / width, width // 2, height // 2).reshape(-1, 3)
    else:
        azimuths = np.arange(sensor.samples) * 2 * math.pi / sensor.samples
        rays = np.vstack([layer(e, azimuths) for e in np.linspace(*sensor.vertical, sensor.layers)])
    blockers = blockers_of(assembly)
    scene = blockers.scene.seen_from(facet.pose @ moved, blockers.of(facet.placement))
    hits = cast(scene, rays, sensor.range[1])
    met = hits.which >= 0
    eye = assembly.poses[assembly.root].inverse() @ facet.pose
    return (rays[met] * hits.distance[met, None]) @ np.array(eye.r).reshape(3, 3).T + np.array(eye.t)


def counted(assembly: Any, points: Any, name: str) -> int:
    """How many the collision monitor would count."""
    monitor = parameters(assembly, "config/navigation.yaml")["collision_monitor"]["ros__parameters"]
    corners = np.array(json.loads(monitor["Outline"]["points"]))
    source = monitor[name]
    band = (points[:, 2] >= source["min_height"]) & (points[:, 2] <= source["max_height"])
    sides = np.roll(corners, -1, axis=0) - corners  # counter-clockwise and convex: inside is to the left of every side
    off = points[band, None, :2] - corners
    return int((sides[:, 0] * off[..., 1] - sides[:, 1] * off[..., 0] > 0).all(axis=1).sum())


def left_over(assembly: Any, points: Any, name: str) -> Any:
    """What passes the nodes of one sensor."""
    for node, inner in parameters(assembly, "config/cloud_filter.yaml").items():
        if node.startswith(f"{name}_own_body"):
            p = inner["ros__parameters"]
            assert p["negative"] is True
            assert p["input_frame"] == assembly.root
            low, high = ([p[f"{side}_{axis}"] for axis in "xyz"] for side in ("min", "max"))
            points = points[~((points >= low) & (points <= high)).all(axis=1)]
    return points


def standings(assembly: Any, frame: str) -> list[Pose]:
    """As drawn, and at the ends of the play of the mounting."""
    play = play_of(assembly)[frame]
    if play is None:
        return [Pose()]
    out = [Pose()]
    for axis in range(3):
        for sign in (-1, 1):
            turn = [0.0, 0.0, 0.0]
            turn[axis] = sign * play.twist
            shift = [0.0, 0.0, 0.0]
            shift[(axis + 1) % 3] = sign * play.shift
            out.append(Pose(from_rpy(*turn), tuple(shift)))
    return out


@pytest.mark.parametrize("frame", ["mast_frame", "front_frame", "ring_frame"])
def test_fewer_points_than_the_monitor_stops_at_are_left(robots: Any, frame: str) -> None:
    assembly = robots("clouds")
    facet = next(f for f in assembly.sensors if f.frame == frame)
    seen = 0
    for moved in standings(assembly, frame):
        points = points_of(assembly, facet, moved)
        seen = max(seen, counted(assembly, points, facet.placement))
        assert counted(assembly, left_over(assembly, points, facet.placement), facet.placement) < THRESHOLD
    assert (seen >= THRESHOLD) is bool(own_clouds(assembly)[frame].boxes), "a filter where one is needed, and only there"


@pytest.mark.parametrize("seed", range(6))
def test_random_robots(robots: Any, seed: int) -> None:
    """Mast and lidar anywhere on their decks, looking anywhere."""
    rng = np.random.default_rng(seed)
    i, j, turn, pitch = int(rng.integers(-4, 4)), int(rng.integers(-1, 2)), int(rng.integers(0, 360)), int(rng.integers(5, 60))
    x, y = int(rng.integers(-2, 3)), int(rng.integers(-1, 2))
    assembly = robots("clouds", swap=(
        ("mast:        {part: camera_mast, on: upper, at: [-4, 0]}",
         f"mast:        {{part: camera_mast, on: upper, at: [{i}, {j}], turn: {turn}}}"),
        ("ring:        {part: layered_lidar, on: lower, at: [0, 0]}", f"ring:        {{part: layered_lidar, on: lower, at: [{x}, {y}]}}"),
        ("catalogue: [parts.yaml]", f"catalogue: [parts.yaml]\nparts: {{eye: {{like: camera_mast, sensors: {{view: {{kind: depth_camera, "
         f"at: [11, 0, 115], rpy: [0, {pitch}, 0], range: [0.05 m, 5 m], fov: 85, resolution: [320, 240], topic: high}}}}}}}}")))
    for facet in assembly.sensors:
        for moved in standings(assembly, facet.frame)[:3]:
            points = points_of(assembly, facet, moved)
            assert counted(assembly, left_over(assembly, points, facet.placement), facet.placement) < THRESHOLD, facet.frame


def test_a_sensor_needs_few_boxes(robots: Any) -> None:
    for cloud in own_clouds(robots("clouds")).values():
        assert len(cloud.boxes) <= 3


@pytest.mark.parametrize("distro", DISTROS)
def test_consumers_take_what_the_last_filter_publishes(robots: Any, distro: str) -> None:
    assembly = robots("clouds", distro=distro)
    text = {f.path: f.data.decode() for f in package_artifacts(assembly) if f.path.startswith("config/")}
    written = yaml.safe_load(text["config/navigation.yaml"])
    monitor = written["collision_monitor"]["ros__parameters"]
    assert monitor["mast"]["topic"] == "high/points_filtered"
    assert monitor["front"]["topic"] == "front/points", "nothing to take out"
    layer_ = written["local_costmap"]["local_costmap"]["ros__parameters"]["obstacle_layer"]
    assert layer_["mast"]["topic"].lstrip("/") == "high/points_filtered"
    chain = [line.split("remap: ")[1].split() for line in text["config/cloud_filter.yaml"].splitlines() if "remap:" in line]
    rings = [(a.removeprefix("input:="), b.removeprefix("output:=")) for a, b in chain if "ring" in a]
    assert rings[0][0] == "ring/points"
    assert rings[-1][1] == "ring/points_filtered"
    assert [a for _, a in rings[:-1]] == [b for b, _ in rings[1:]], "one after the other"
    zones = monitor["mast"].get("exclusion_zones")
    assert (zones is not None) is (distro == "lyrical")
    if zones:
        # navigation2 lyrical:nav2_collision_monitor/src/exclusion_zone.cpp, getParameters, reads `<zone>.enabled`, not
        # `<source>.<zone>.enabled`; params/collision_monitor_params.yaml has the blocks of zones beside those of sources
        first = monitor[zones[0]]
        assert set(zones) == {key for key in monitor if key.startswith("mast_own_body")}
        slip = text["config/navigation.yaml"].replace(f"    {zones[0]}:", "    mast_own_boby_1:")
        file = Artifact(path="config/navigation.yaml", data=slip.encode())
        assert any(zones[0] in fault for fault in navigation.TARGET.names.faults(file)), "a zone without a block is said"
        box = own_clouds(assembly)["mast_frame"].boxes[0]
        assert (first["min_height"], first["max_height"]) == (box.low[2], box.high[2])
        assert first["enabled"] is True


def test_share_against_counting(robots: Any) -> None:
    """The share that is said is that of the rays that end on the robot, here by the real resolution of the image."""
    assembly = robots("clouds")
    facet = next(f for f in assembly.sensors if f.frame == "mast_frame")
    points = points_of(assembly, facet, Pose())
    width, height = facet.sensor.resolution
    inside = counted(assembly, points, "mast") / (width // 2 * (height // 2))
    assert own_clouds(assembly)["mast_frame"].share == pytest.approx(inside, abs=0.005)
    assert rays_of(facet) is not None


# ------------------------------------------------------------------------------------------------------------ every demo
@pytest.fixture(scope="module")
def demos() -> dict[str, Any]:
    return {path.stem: assemble(read(path)) for path in DEMOS}


@pytest.mark.parametrize("name", [path.stem for path in DEMOS])
def test_own_body_of_demos(demos: dict[str, Any], name: str) -> None:
    """Clouds through their boxes against the monitor, and flat scans through their sectors, with the play of the mounting."""
    assembly = demos[name]
    sectors = blocked_sectors(assembly)
    for facet in assembly.sensors:
        for moved in standings(assembly, facet.frame)[:5]:
            if is_cloud(facet):
                points = points_of(assembly, facet, moved)
                where = source_name(assembly, facet)
                assert counted(assembly, left_over(assembly, points, where), where) < THRESHOLD, facet.frame
            elif is_scanner(facet):
                count = facet.sensor.samples or 720
                angles = (np.arange(count) + 0.5) / count * view_of(facet) - view_of(facet) / 2
                blockers = blockers_of(assembly)
                scene = blockers.scene.seen_from(facet.pose @ moved, blockers.of(facet.placement))
                met = angles[cast(scene, layer(0.0, angles), reach_of(facet)).which >= 0]
                if facet.sensor.angles == "positive":
                    met = met % (2 * math.pi)
                free = [a for a in met if not any(s.lower < a < s.upper for s in sectors[facet.frame])]
                assert not free, f"{facet.frame} still sees the robot at {np.degrees(free)}"


def with_joints(assembly: Any, values: dict[str, float]) -> Any:
    """The same robot with its joints elsewhere, joint by joint from the root."""
    poses = dict(assembly.poses)
    for joint in assembly.joints:
        value = values.get(joint.name, joint.value)
        if joint.mimic is not None:
            value = joint.mimic.times * values.get(joint.mimic.joint, 0.0) + joint.mimic.plus
        poses[joint.child] = poses[joint.parent] @ joint.at(value)
    return replace(assembly, poses=poses, kept={})


@pytest.mark.thorough
def test_a_camera_on_a_head_sees_nothing_of_the_robot_wherever_it_looks(demos: dict[str, Any]) -> None:
    """Joints anywhere in their ranges, all at once; true shapes, those that move included."""
    assembly = demos["aviary_watch"]
    facet = next(f for f in assembly.sensors if is_cloud(f))
    draw, most = np.random.default_rng(11), 0
    for _ in range(12):
        values = {j.name: float(draw.uniform(j.lower, j.upper)) for j in assembly.joints if j.lower is not None and j.upper is not None}
        moved = with_joints(assembly, values)
        points = points_of(moved, facet._replace(pose=moved.poses[facet.frame]), Pose())
        most = max(most, counted(assembly, points, facet.placement))
        assert counted(assembly, left_over(assembly, points, facet.placement), facet.placement) < THRESHOLD, values
    assert most > 1000, "looking down it sees much of itself"
    files = {f.path: f.data.decode("ascii", "replace") for f in package_artifacts(assembly)}
    assert "lidar (moved)" in files["docs/bringup.md"]
    assert "'depth/points_filtered'" in files["launch/filters.launch.py"]
    (finding,) = [f for f in check(assembly) if f.code == "cloud-sees-robot"]
    assert "when head_tilt_joint, head_pan_joint and column_up_joint move" in finding.message


def test_what_nothing_moves_is_not_looked_for_elsewhere(robots: Any) -> None:
    cloud = own_clouds(robots("clouds"))["mast_frame"]
    assert (cloud.moved_by, cloud.moving) == ((), ())


def test_what_moves_without_the_sensor_is_said_on_the_page(demos: dict[str, Any], tmp_path: Path) -> None:
    """All three joints carry the head's camera, and none carries it where it is glued to the deck."""
    def page(assembly: Any) -> str:
        return next(f.data for f in package_artifacts(assembly) if f.path == "docs/bringup.md").decode()

    assert "by moving" not in page(demos["aviary_watch"])
    overlay = tmp_path / "glued.yaml"
    overlay.write_text("placements: {camera: {on: lower, at: [6, 0], fixing: adhesive}}\n")
    glued = page(assemble(read(str(TOP / "config" / "aviary_watch.yaml"), overlays=[str(overlay)])))
    assert "What `column_up_joint`, `head_pan_joint` and `head_tilt_joint` move counts where the layout has it" in glued
    assert "by moving" not in page(demos["camp_courier"])  # steering is no such move
