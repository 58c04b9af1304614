"""Convex hulls against scipy's (Qhull), and the points of mesh formats against trimesh's loaders."""
from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

import chassis_describe as cd
from chassis_describe.facts.heights import heights_of
from chassis_describe.layout.described.mesh_points import mesh_points
from chassis_describe.space.hull import convex_hull_3d

ARM = Path(__file__).resolve().parent / "packages" / "little_arm_description"


@pytest.mark.parametrize("seed", range(6))
def test_corners_and_volume_are_qhulls(seed: int) -> None:
    spatial = pytest.importorskip("scipy.spatial")
    rng = np.random.default_rng(seed)
    points = rng.normal(size=(int(rng.integers(4, 400)), 3)) * [0.3, 0.05, 0.1]
    corners, planes, _ = convex_hull_3d(points)
    judge = spatial.ConvexHull(points)
    assert {tuple(p) for p in corners} == {tuple(p) for p in points[judge.vertices]}
    assert (points @ planes[:, :3].T - planes[:, 3]).max() < 1e-9
    assert np.allclose(np.linalg.norm(planes[:, :3], axis=1), 1)
    assert len(planes) == len(np.unique(np.round(judge.equations, 9), axis=0))


def test_a_grid_on_a_box_leaves_its_corners() -> None:
    side = np.linspace(-1, 1, 6)
    grid = np.stack(np.meshgrid(side, side, side), axis=-1).reshape(-1, 3)
    corners, planes, _ = convex_hull_3d(grid)
    assert {tuple(p) for p in np.sign(corners)} >= {(x, y, z) for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)}
    assert {tuple(p) for p in planes} == {(*tuple(s * np.eye(3)[k]), 1.0) for k in range(3) for s in (-1, 1)}


def test_flat_points_have_no_hull() -> None:
    with pytest.raises(ValueError, match="one plane"):
        convex_hull_3d(np.array([[0.0, 0, 0], [1, 0, 0], [0, 1, 0], [1, 1, 0]]))


@pytest.mark.parametrize("suffix", [".stl", ".obj", ".dae"])
def test_points_are_those_that_trimesh_loads(tmp_path: Path, suffix: str) -> None:
    trimesh = pytest.importorskip("trimesh")
    judge = trimesh.load(ARM / "meshes" / "base.stl")
    if suffix == ".dae":
        pytest.importorskip("collada")
    path = tmp_path / f"mesh{suffix}"
    judge.export(path)
    ours = mesh_points(path.read_bytes(), suffix)
    if suffix == ".dae":  # without an axis of its own a COLLADA file is y up, which trimesh leaves to its user
        ours = ours @ np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])
    assert ours.min(axis=0) == pytest.approx(judge.bounds[0], abs=1e-5)
    assert ours.max(axis=0) == pytest.approx(judge.bounds[1], abs=1e-5)


def test_collada_nodes_units_and_axes() -> None:
    """By hand: a point [1, 2, 3] in inches, in a node shifted by [10, 0, 0], y up: x stays, y becomes z, z becomes -y."""
    text = """<COLLADA xmlns="http://www.collada.org/2005/11/COLLADASchema" version="1.4.1">
    <asset><unit meter="0.0254"/><up_axis>Y_UP</up_axis></asset><library_geometries><geometry id="g"><mesh><source id="p">
    <float_array id="f" count="3">1 2 3</float_array></source><vertices id="v"><input semantic="POSITION" source="#p"/></vertices>
    </mesh></geometry></library_geometries><library_visual_scenes><visual_scene><node><translate>10 0 0</translate>
    <instance_geometry url="#g"/></node></visual_scene></library_visual_scenes></COLLADA>"""
    assert mesh_points(text.encode(), ".dae")[0] == pytest.approx(np.array([11, -3, 2]) * 0.0254)


PYRAMID = """
layout: 1
robot: tent
parts:
  tent: {about: a pyramid, bolts: [[-20, 0], [20, 0]], description: {file: tent.urdf}}
  post: {about: a post, mass: 50, bodies: [{box: [10, 10, 60], at: [0, 0, 50]}]}
  eye: {about: a lidar on a foot, mass: 50, bodies: [{box: [4, 4, 80], at: [0, 0, 40]}],
        sensors: {scan: {kind: lidar, at: [0, 0, 80], range: [0.05 m, 5 m], samples: 360}}}
decks:
  lower: {outline: {rectangle: [400, 240]}, thickness: 4, material: birch plywood}
placements:
  tent: {part: tent, on: lower, at: [0, 0]}
  post: {part: post, on: lower, fixing: adhesive, at: [%s, 2.2]}
  eye: {part: eye, on: lower, fixing: adhesive, at: [8, 0]}
"""


def tent(folder: Path, along: float) -> cd.assembly.model.Assembly:
    """A pyramid on a square of 100 mm, 100 mm high; beside it a post of 10 mm, from 20 mm up, whose middle is at y 44."""
    trimesh = pytest.importorskip("trimesh")
    corners = [[-0.05, -0.05, 0], [0.05, -0.05, 0], [0.05, 0.05, 0], [-0.05, 0.05, 0], [0, 0, 0.1]]
    trimesh.convex.convex_hull(np.array(corners)).export(folder / "tent.stl")
    (folder / "tent.urdf").write_text("""<robot name="tent"><link name="tent"><inertial><mass value="0.2"/>
    <inertia ixx="1e-4" ixy="0" ixz="0" iyy="1e-4" iyz="0" izz="1e-4"/></inertial><collision><geometry>
    <mesh filename="tent.stl"/></geometry></collision></link></robot>""")
    (folder / "tent.yaml").write_text(PYRAMID % along)
    return cd.assemble(cd.read(folder / "tent.yaml"))


def test_a_pyramid_is_a_pyramid_to_check_sight_and_heights(tmp_path: Path) -> None:
    """By hand: at 20 mm up its side is at y 40, the post's at 39: 1 mm to the side, and the way out is square to the slope,
    1 mm·2/√5. Where x is 38, the corner column at that height is 2 mm off. The scan plane, 80 mm up, cuts a square of 20 mm, and arcs
    are padded by half a beam step, 0.5 degrees, on both sides."""
    robot = tent(tmp_path, 0)
    (clash,) = [f for f in cd.check(robot) if f.code == "bodies-overlap"]
    assert set(clash.of) == {"tent", "post"}
    assert clash.measured == pytest.approx(1 * 2 / math.sqrt(5), abs=1e-3)
    (view,) = [f for f in cd.check(robot) if f.code == "view-blocked"]
    assert view.measured == pytest.approx(math.degrees(2 * math.atan2(10, 160 - 10)) + 1, abs=2e-6)
    clear = tent(tmp_path, 2.4)  # inside the box around it, which is 100 mm wide, but beside its slope
    assert not [f for f in cd.check(clear) if f.code == "bodies-overlap"]
    assert heights_of(robot).top == pytest.approx(0.1)
