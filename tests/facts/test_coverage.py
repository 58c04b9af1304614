"""What some sensor sees around the robot: heights by hand, and against rays of MuJoCo over a grid of points.

Robots and poses are invented; heights by hand follow from the drawings in the layouts.
"""
from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from chassis_describe import assemble, read
from chassis_describe.facts.coverage import BEARINGS, DISTANCES, Coverage, coverage_of
from chassis_describe.facts.coverage_words import BlindSector, blind_sectors, blind_words, coverage_words
from chassis_describe.facts.figures import figures_of
from chassis_describe.facts.footprint import footprint_of
from chassis_describe.facts.sight import blockers_of
from chassis_describe.reports.figures import figures_data
from chassis_describe.space.sight.scene import Sheet
from chassis_describe.space.solids import Box, Cylinder, Sphere
from tests.robots import standing_on_three

DEGREE = "\N{DEGREE SIGN}"
LAYOUT = standing_on_three("watcher", """\
  post: {mass: 40, bolts: [[0, -10], [0, 10]], bodies: [{box: [30, 40, 150], at: [0, 0, 75]}]}
  eye: {mass: 40, bolts: [[0, -10], [0, 10]], bodies: [{box: [20, 40, 20], at: [0, 0, 10]}], sensors: {eye: {SENSOR}}}
""", """\
  post: {part: post, on: floor, at: [-4, 0.5]}
  eye: {part: eye, on: floor, at: [4, 0.5]}
""")
SCAN = "kind: lidar, at: [0, 0, 21], fov: 270, range: [100, 4000]"
CAMERA = "kind: depth_camera, at: [10, 0, 15], rpy: [0, PITCH, 0], fov: 80, resolution: [640, 480], range: [250, 1200]"
#: The balls reach 40 mm below the deck, which is 4 mm thick.
DECK_TOP = 0.044


def robot(sensor: str, at: str = "at: [4, 0.5]") -> Any:
    return assemble(read(Path("watcher.yaml"), text=LAYOUT.replace("SENSOR", sensor).replace("at: [4, 0.5]", at)))


def coverage(assembly: Any) -> Coverage:
    found = coverage_of(assembly)
    assert found is not None
    return found


def test_a_level_scan_sees_its_own_height_and_nothing_behind_its_view_and_the_post() -> None:
    got = coverage(robot(SCAN))
    height = pytest.approx(DECK_TOP + 0.021, abs=1e-9)
    for low, high in zip(got.lowest, got.highest):
        assert low == high
        assert low[0] == height and low[BEARINGS.index(90)] == height
        assert low[BEARINGS.index(180)] is None  # 270 degrees of view, the post besides


def test_the_post_alone_hides() -> None:
    """The post is 40 mm wide, 145 mm and more behind the eye, which stands at x = 80 mm: from there a pole straight behind
    is hidden, and one under 60 degrees from the tail is not."""
    got = coverage(robot(SCAN.replace("270", "360")))
    ring = got.lowest[DISTANCES.index(0.5)]
    assert ring[BEARINGS.index(180)] is None and ring[BEARINGS.index(120)] is not None
    assert [b for b, low in zip(BEARINGS, ring) if low is None] == [175, 180, 185]


def test_a_camera_by_its_upper_and_lower_edges() -> None:
    """Straight ahead the image's edges are rays of a pinhole: their slopes are tan(fov / 2) · 480 / 640, turned by the pitch."""
    half = math.atan(math.tan(math.radians(40)) * 0.75)
    pitch = math.radians(20)
    got = coverage(robot(CAMERA.replace("PITCH", "20")))
    assembly = robot(CAMERA.replace("PITCH", "20"))
    pose = assembly.poses[assembly.root].inverse() @ assembly.sensors[0].pose
    assert pose.t[2] == pytest.approx(DECK_TOP + 0.015, abs=1e-9)
    edge = max(x for x, _ in footprint_of(assembly))
    for k, away in enumerate(DISTANCES):
        along = edge + away - pose.t[0]
        low, high = (pose.t[2] + along * math.tan(edge_of_image - pitch) for edge_of_image in (-half, half))
        if math.hypot(along, max(low, 0.0) - pose.t[2]) < 0.25:  # nearer than it measures
            continue
        assert got.lowest[k][0] == pytest.approx(max(low, 0.0), abs=1e-3)
        assert got.highest[k][0] == pytest.approx(high, abs=1e-3)
    assert got.lowest[1][BEARINGS.index(60)] is None


def test_a_layered_lidar_by_its_lowest_and_highest_layer() -> None:
    sensor = "kind: lidar, at: [0, 0, 21], fov: 360, layers: 16, vertical: [-15, 15], range: [100, 4000]"
    assembly = robot(sensor)
    got = coverage(assembly)
    pose = assembly.poses[assembly.root].inverse() @ assembly.sensors[0].pose
    front = max(x for x, _ in footprint_of(assembly))
    along = math.hypot(front + 0.2 - pose.t[0], pose.t[1])
    assert got.highest[0][0] == pytest.approx(pose.t[2] + along * math.tan(math.radians(15)), abs=1e-9)
    # the deck's front edge, 40 mm ahead of the eye and 21 mm under it, hides what is steeper than that; -15 degrees is not
    assert got.lowest[0][0] == pytest.approx(pose.t[2] - along * math.tan(math.radians(15)), abs=1e-9)
    # one metre off, the layer at -15 degrees is in the floor: the lowest that is not counts
    along = math.hypot(front + 1.0 - pose.t[0], pose.t[1])
    layers = [pose.t[2] + along * math.tan(math.radians(-15 + 2 * k)) for k in range(16)]
    assert got.lowest[2][0] == pytest.approx(min(h for h in layers if h >= 0), abs=1e-9)


def test_an_upright_scan_sees_the_poles_that_stand_in_its_plane_alone() -> None:
    """On its side in the robot's middle plane: forward alone, up to half its view of 60 degrees."""
    assembly = robot("kind: lidar, at: [0, 0, 21], rpy: [90, 0, 0], fov: 60, range: [100, 4000]", "at: [4, 0.5], offset: [0, -10, 0]")
    got = coverage(assembly)
    pose = assembly.poses[assembly.root].inverse() @ assembly.sensors[0].pose
    assert pose.t[1] == pytest.approx(0.0, abs=1e-9)
    assert [b for b, low in zip(BEARINGS, got.lowest[2]) if low is not None] == [0]
    along = max(x for x, _ in footprint_of(assembly)) + 1.0 - pose.t[0]
    assert got.highest[2][0] == pytest.approx(pose.t[2] + along * math.tan(math.radians(30)), abs=1e-6)


def test_without_ground_there_is_none_and_without_eyes_nothing_is_seen() -> None:
    assembly = robot("kind: imu")
    got = coverage(assembly)
    assert all(v is None for row in (*got.lowest, *got.highest) for v in row)
    assert figures_of(assembly).coverage_words is None
    text = "layout: 1\nrobot: board\ndecks: {floor: {outline: {rectangle: [100, 100]}, thickness: 4, density: 700}}\n"
    board = assemble(read(Path("board.yaml"), text=text))
    assert coverage_of(board) is None and figures_data(figures_of(board))["coverage"] is None


def test_json() -> None:
    data = json.loads(json.dumps(figures_data(figures_of(robot(SCAN)))["coverage"]))
    assert list(data) == ["bearings_deg", "at_m", "lowest_mm", "highest_mm"]
    assert data["bearings_deg"] == list(range(0, 360, 5)) and data["at_m"] == [0.2, 0.5, 1.0]
    assert [len(row) for row in data["lowest_mm"] + data["highest_mm"]] == [72] * 6
    assert data["lowest_mm"][0][0] == 65.0 and data["highest_mm"][2][36] is None


# ------------------------------------------------------------------------------------------------------------- in words
def _coverage(lows: dict[int, float | None]) -> Coverage:
    """Everything from 10 mm up is seen but at those bearings."""
    ring = tuple(lows.get(b, 0.010) for b in BEARINGS)
    return Coverage((ring,) * 3, (ring,) * 3)


@pytest.mark.parametrize(("lows", "words"), [
    (dict.fromkeys(range(45, 225, 5), 0.096), f"nothing under 96 mm is seen to the left and behind (45{DEGREE} to 220{DEGREE})"),
    (dict.fromkeys((*range(340, 360, 5), 0, 5), 0.096), f"nothing under 96 mm is seen ahead (340{DEGREE} to 5{DEGREE})"),
    (dict.fromkeys(BEARINGS, 0.096), "nothing under 96 mm is seen all round"),
    (dict.fromkeys(BEARINGS), "nothing at all is seen all round"),
    ({180: None, 270: 0.080}, f"nothing at all is seen behind (180{DEGREE}); nothing under 80 mm is seen to the right (270{DEGREE})"),
    ({130: 0.080, 135: 0.090}, f"nothing under 80 mm is seen behind to the left (130{DEGREE} to 135{DEGREE})"),
    ({}, "everything from 10 mm up is seen all round"),
    ({40: 0.049}, "everything from 49 mm up is seen all round")])
def test_words(lows: dict[int, float | None], words: str) -> None:
    assert coverage_words(_coverage(lows), 0.050) == words


def test_a_sector_over_forward_is_one() -> None:
    lows: dict[int, float | None] = {350: 0.2, 355: 0.3, 0: 0.2, 5: None, 10: 0.2}
    assert blind_sectors(_coverage(lows), 0.1) == (BlindSector(5, 5, None), BlindSector(10, 10, 0.2), BlindSector(350, 360, 0.2))
    assert blind_words([BlindSector(10, 10, 0.2), BlindSector(350, 360, 0.2)]) == [
        f"nothing under 200 mm is seen ahead to the left (10{DEGREE}), ahead (350{DEGREE} to 0{DEGREE})"]


# ---------------------------------------------------------------------------------------------- brute force, by MuJoCo
STEP = 0.006
GRID = np.arange(0.0, 1.2, STEP)


def seen_by_force(assembly: Any) -> Any:
    """By distance and bearing, the heights at which some sensor sees the pole, by MuJoCo's rays."""
    mujoco = pytest.importorskip("mujoco", reason="mujoco is not installed")
    outline = np.array(footprint_of(assembly))
    seen: list[list[list[float]]] = [[[] for _ in BEARINGS] for _ in DISTANCES]
    into_root = assembly.poses[assembly.root].inverse()
    blockers = blockers_of(assembly)
    for facet in assembly.sensors:
        pose = into_root @ facet.pose
        eye, turn = np.array(pose.t), np.array(pose.r).reshape(3, 3)
        spec = mujoco.MjSpec()
        for (solid, at), owner in zip(blockers.solids, blockers.owners):
            placed = into_root @ at
            if owner == facet.placement and (facet.sensor.kind == "lidar" or contains(solid, placed, pose.t)):
                continue
            kind, size, middle = shape_of(mujoco, solid)
            x, y, z, w = placed.quaternion
            spec.worldbody.add_geom(type=kind, size=size, pos=placed.point(middle), quat=[w, x, y, z])
        model = spec.compile()
        data = mujoco.MjData(model)
        mujoco.mj_forward(model, data)
        low, high = facet.sensor.range
        for k, away in enumerate(DISTANCES):
            for b, bearing in enumerate(BEARINGS):
                foot = foot_of(outline, math.radians(bearing), away)
                heights = looked_at(facet.sensor, foot, eye, turn)
                if not len(heights):
                    continue
                points = np.column_stack([np.tile(foot, (len(heights), 1)), heights]) - eye
                far = np.linalg.norm(points, axis=1)
                ids, hits = np.zeros(len(far), np.int32), np.zeros(len(far))
                mujoco.mj_multiRay(m=model, d=data, pnt=eye, vec=(points / far[:, None]).ravel(), geomgroup=None, flg_static=1,
                                   bodyexclude=-1, geomid=ids, dist=hits, nray=len(far), cutoff=100.0,
                                   **({"normal": None} if "normal" in (mujoco.mj_multiRay.__doc__ or "") else {}))
                free = ((hits < 0) | (hits >= far)) & (far >= low) & (far <= high)
                seen[k][b] += heights[free].tolist()
    return seen


def looked_at(sensor: Any, foot: Any, eye: Any, turn: Any) -> Any:
    """Heights of the grid in view of a camera or ranger; where layers cross between two of its points, of a lidar. By
    angles, where the product goes by planes and cones."""
    points = np.column_stack([np.tile(foot, (len(GRID), 1)), GRID]) - eye
    x, y, z = (points / np.linalg.norm(points, axis=1)[:, None] @ turn).T
    if sensor.kind == "ranger":
        return GRID[np.arccos(np.clip(x, -1, 1)) <= sensor.fov / 2]
    if sensor.kind == "depth_camera":
        across = math.tan(sensor.fov / 2)
        down = across * sensor.resolution[1] / sensor.resolution[0]
        with np.errstate(divide="ignore", invalid="ignore"):
            return GRID[(x > 0) & (np.abs(y / x) <= across) & (np.abs(z / x) <= down)]
    low, high = sensor.vertical or (0.0, 0.0)
    found = []
    for elevation in np.linspace(low, high, sensor.layers):
        off = np.arcsin(z) - elevation
        for k in np.flatnonzero((off[1:] > 0) != (off[:-1] > 0)):
            if abs(math.atan2(y[k], x[k])) <= sensor.fov / 2:
                found.append(GRID[k] + STEP * off[k] / (off[k] - off[k + 1]))
    return np.array(found)


def foot_of(outline: Any, bearing: float, away: float) -> Any:
    """By shapely, where the product solves for the crossing itself."""
    from shapely.geometry import LineString, Polygon

    ray = LineString([(0, 0), (5 * math.cos(bearing), 5 * math.sin(bearing))]).intersection(Polygon(outline))
    edge = max(math.hypot(*p) for p in ray.coords)
    return (edge + away) * np.array([math.cos(bearing), math.sin(bearing)])


def shape_of(mujoco: Any, solid: Any) -> tuple[Any, list[float], tuple[float, float, float]]:
    if isinstance(solid, Sheet):
        x0, y0, x1, y1 = solid.bounds
        assert solid.region.area == pytest.approx((x1 - x0) * (y1 - y0), rel=1e-6), "the scene has rectangles alone"
        return mujoco.mjtGeom.mjGEOM_BOX, [(x1 - x0) / 2, (y1 - y0) / 2, solid.thickness / 2], (
            (x0 + x1) / 2, (y0 + y1) / 2, -solid.thickness / 2)
    if isinstance(solid, Box):
        return mujoco.mjtGeom.mjGEOM_BOX, [v / 2 for v in solid.size], (0.0, 0.0, 0.0)
    if isinstance(solid, Cylinder):
        return mujoco.mjtGeom.mjGEOM_CYLINDER, [solid.radius, solid.length / 2, 0.0], (0.0, 0.0, 0.0)
    assert isinstance(solid, Sphere)
    return mujoco.mjtGeom.mjGEOM_SPHERE, [solid.radius, 0.0, 0.0], (0.0, 0.0, 0.0)


def contains(solid: Any, pose: Any, point: Any) -> bool:
    x, y, z = pose.inverse().point(point)
    if isinstance(solid, Box):
        return all(abs(v) < s / 2 for v, s in zip((x, y, z), solid.size))
    return False


MANY = {
    "scan and camera": [SCAN.replace("270", "200"), CAMERA.replace("PITCH", "25")],
    "tilted scan, ranger": [SCAN.replace("fov", "rpy: [4, 3, 30], fov"),
                            "kind: ranger, at: [10, 0, 15], rpy: [0, -10, 70], fov: 40, range: [50, 2000]"],
    "layers and a camera on its side": [
        "kind: lidar, at: [0, 0, 21], rpy: [5, -4, 0], fov: 300, layers: 8, vertical: [-20, 12], range: [150, 3000]",
        CAMERA.replace("0, PITCH, 0", "90, 0, 110")],
}


@pytest.mark.judge
@pytest.mark.parametrize("name", list(MANY))
def test_against_rays_of_mujoco_over_a_grid(name: str) -> None:
    """Poles at every bearing and distance, in steps of 6 mm; what is seen between two steps may be missed by the grid."""
    first, second = MANY[name]
    text = LAYOUT.replace("SENSOR", first).replace(
        "decks:", LAYOUT.splitlines()[6].replace("  eye:", "  other:").replace("SENSOR", second) + "\ndecks:", 1)
    text += "  other: {part: other, on: floor, at: [2, 2.5]}\n"
    assembly = assemble(read(Path("watcher.yaml"), text=text))
    assert len(assembly.sensors) == 2 and all(f.sensor.range for f in assembly.sensors)
    got = coverage(assembly)
    seen = seen_by_force(assembly)
    compared = 0
    for k, row in enumerate(seen):
        for b, column in enumerate(row):
            low, high = got.lowest[k][b], got.highest[k][b]
            if not column:
                assert low is None or high - low < 2 * STEP, (DISTANCES[k], BEARINGS[b], low, high)
                continue
            assert low is not None, (DISTANCES[k], BEARINGS[b], column)
            assert low == pytest.approx(min(column), abs=1.5 * STEP), (DISTANCES[k], BEARINGS[b])
            if high < GRID[-1]:
                assert high == pytest.approx(max(column), abs=1.5 * STEP), (DISTANCES[k], BEARINGS[b])
            compared += 1
    assert compared > 60


def test_a_limit_above_the_scan() -> None:
    """A limit above the scan: everything counts as seen."""
    layout = read(Path("watcher.yaml"), text=LAYOUT.replace("SENSOR", SCAN.replace("270", "360")))
    assembly = assemble(replace(layout, limits={**layout.limits, "blind_height_mm": 70.0}))
    assert figures_of(assembly).coverage_words == f"nothing at all is seen behind (175{DEGREE} to 185{DEGREE})"
