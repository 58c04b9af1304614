"""Bundles of rays against trimesh's own ray caster, and bundles that are what they say."""
from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from shapely.geometry import Point, box as rectangle

from chassis_describe.space.pose import Pose, about_axis, translation
from chassis_describe.space.sight.rays import cast, cone_bundle, image_grid, layer
from chassis_describe.space.sight.scene import Sheet, scene_of
from chassis_describe.space.solids import Box, Cylinder, Sphere

DEG = math.pi / 180


def random_pose(rng):
    return Pose(about_axis(rng.normal(size=3), rng.uniform(-math.pi, math.pi)), tuple(rng.uniform(-0.3, 0.3, 3)))


def as_mesh(solid, pose):
    if isinstance(solid, Box):
        mesh = trimesh.creation.box(extents=solid.size)
    elif isinstance(solid, Cylinder):
        mesh = trimesh.creation.cylinder(radius=solid.radius, height=solid.length, sections=360)
    elif isinstance(solid, Sphere):
        mesh = trimesh.creation.icosphere(subdivisions=5, radius=solid.radius)
    else:
        mesh = trimesh.creation.extrude_polygon(solid.region, solid.thickness)
        mesh.apply_translation([0, 0, -solid.thickness])
    matrix = np.eye(4)
    matrix[:3, :3] = np.array(pose.r).reshape(3, 3)
    matrix[:3, 3] = pose.t
    return mesh.apply_transform(matrix)


def random_solids(rng, n):
    out = []
    for _ in range(n):
        kind = rng.integers(0, 4)
        if kind == 0:
            solid = Box(tuple(rng.uniform(0.005, 0.1, 3)))
        elif kind == 1:
            solid = Cylinder(rng.uniform(0.003, 0.04), rng.uniform(0.01, 0.2))
        elif kind == 2:
            solid = Sphere(rng.uniform(0.005, 0.04))
        else:
            window = Point(rng.uniform(-.04, .04), rng.uniform(-.03, .03)).buffer(rng.uniform(.01, .03))
            solid = Sheet(rectangle(-0.08, -0.06, 0.08, 0.06).difference(window), rng.uniform(0.002, 0.01))
        pose = random_pose(rng)
        if np.linalg.norm(pose.t) > 0.12:  # clear of the eye: what holds it is tested apart
            out.append((solid, pose))
    return out


@pytest.mark.parametrize("seed", range(4))
def test_rays_meet_what_trimesh_says_and_as_far(seed):
    rng = np.random.default_rng(seed)
    solids = random_solids(rng, 60)
    rays = rng.normal(size=(5000, 3))
    rays /= np.linalg.norm(rays, axis=1)[:, None]
    hits = cast(scene_of(solids), rays)
    distance, which = np.full(len(rays), np.inf), np.full(len(rays), -1)
    for k, (solid, pose) in enumerate(solids):
        where, ray, _ = as_mesh(solid, pose).ray.intersects_location(np.zeros_like(rays), rays, multiple_hits=False)
        d = np.linalg.norm(where, axis=1)
        nearer = d < distance[ray]
        distance[ray[nearer]], which[ray[nearer]] = d[nearer], k
    same = hits.which == which
    # Facets of round solids stand inside the true surface; rays that graze one may differ.
    assert same.mean() > 0.998
    assert (which >= 0).sum() > 500
    met = same & (which >= 0)
    gap = np.abs(hits.distance[met] - distance[met])
    assert np.quantile(gap, 0.99) < 1e-4
    assert np.isinf(hits.distance[hits.which < 0]).all()


def test_reach_and_order():
    """Spheres in a row: the nearest counts, and none beyond the reach (surface at 0.19)."""
    scene = scene_of([(Sphere(0.01), translation(0.4, 0, 0)), (Sphere(0.01), translation(0.2, 0, 0))])
    ray = np.array([[1.0, 0.0, 0.0], [-1.0, 0.0, 0.0]])
    hits = cast(scene, ray)
    assert hits.which.tolist() == [1, -1]
    assert hits.distance[0] == pytest.approx(0.19, abs=1e-12)
    assert cast(scene, ray, reach=0.18).which.tolist() == [-1, -1]


def test_a_solid_behind_the_lens_is_not_seen_and_one_around_it_is():
    """Cameras sit on the front faces of their cases: rays leave without meeting them."""
    rays = image_grid(1.2, 0.75, 16, 12).reshape(-1, 3)
    for solid in (Box((0.02, 0.1, 0.1)), Cylinder(0.05, 0.02), Sheet(rectangle(-0.05, -0.05, 0.05, 0.05), 0.02)):
        z_forward = Pose(about_axis((0, 1, 0), 90 * DEG))
        behind = Pose(z_forward.r if not isinstance(solid, Box) else Pose().r,
                      (0.0 if isinstance(solid, Sheet) else -0.01, 0, 0))
        assert (cast(scene_of([(solid, behind)]), rays).which == -1).all()
        around = Pose(behind.r, (behind.t[0] + 0.005, 0, 0))
        assert (cast(scene_of([(solid, around)]), rays).which == 0).all()


def test_the_image_grid_is_a_pinhole():
    """fx = W / (2 tan(fov/2)): for 320 x 240 at 1.047 rad 277.19 (SDF's camera defaults say 277); a pixel's ray is
    ((c - u)/f, (c - v)/f) aside of the axis, u to the right and v down."""
    grid = image_grid(1.047, 240 / 320, 320, 240)
    f = 320 / (2 * math.tan(1.047 / 2))
    assert f == pytest.approx(277.19, abs=0.005)
    for u, v in ((0, 0), (319, 0), (17, 201)):
        x, y, z = grid[v, u]
        assert (y / x, z / x) == pytest.approx(((160 - u - 0.5) / f, (120 - v - 0.5) / f), abs=1e-12)
    assert grid[0, 0, 1] > 0
    assert grid[0, 0, 2] > 0


def test_a_cone_bundle_leaves_no_gap_wider_than_its_step():
    """Random directions of the cone are within one step (in both ways: √2/2) of a ray of it."""
    half, rings = 15 * DEG, 24
    rays = cone_bundle(half, rings)
    assert np.arccos(rays[:, 0]).max() == pytest.approx(half)
    rng = np.random.default_rng(5)
    tilt, turn = half * np.sqrt(rng.uniform(size=2000)), rng.uniform(0, 2 * math.pi, 2000)
    wanted = np.stack([np.cos(tilt), np.sin(tilt) * np.cos(turn), np.sin(tilt) * np.sin(turn)], axis=1)
    nearest = np.arccos(np.clip((wanted @ rays.T).max(axis=1), -1, 1))
    assert nearest.max() < half / rings * 0.75


def test_a_layer_is_a_cone_about_z():
    rays = layer(-10 * DEG, np.linspace(-3, 3, 50))
    assert np.allclose(np.arcsin(rays[:, 2]), -10 * DEG)
    assert np.allclose(np.arctan2(rays[:, 1], rays[:, 0]), np.linspace(-3, 3, 50))


def test_the_share_of_an_image_that_a_plate_covers():
    """A half-plane below the axis: half the image; a wall in one quarter: a quarter. Plain geometry."""
    rays = image_grid(1.0, 0.75, 96, 72).reshape(-1, 3)
    floor = Sheet(rectangle(-50, -50, 50, 50), 0.01)
    assert (cast(scene_of([(floor, translation(0, 0, -1e-3))]), rays).which == 0).mean() == pytest.approx(0.5, abs=0.02)
    wall = (Box((0.01, 10, 10)), translation(1.0, 5.0, 5.0))
    assert (cast(scene_of([wall]), rays).which == 0).mean() == 0.25
