"""Convex bodies of many corners: depth and distance against coal, sections and rays against trimesh, outlines against shapely.

The bodies are random points on and in ellipsoids, invented.
"""
from __future__ import annotations

import math

import numpy as np
import pytest

from chassis_describe.facts.footprint import _solid_points as ground_points
from chassis_describe.space.hull import hull_solid
from chassis_describe.space.overlap.penetration import gap, meets, penetration
from chassis_describe.space.overlap.plates import Prism, plate_gap, plate_meets, plate_penetration
from chassis_describe.space.plane.silhouette import shadow
from chassis_describe.space.pose import Pose, from_rpy
from chassis_describe.space.sight.rays import cast, way_out
from chassis_describe.space.sight.scene import scene_of
from chassis_describe.space.sight.section import shadows
from chassis_describe.space.solids import Box, Cylinder, Hull, Solid, Sphere, extents


def body(rng: np.random.Generator, corners: int = 40) -> Hull:
    return hull_solid(rng.normal(size=(corners, 3)) * rng.uniform(0.01, 0.05, 3))[0]


def posed(rng: np.random.Generator, reach: float) -> Pose:
    turn = from_rpy(*rng.uniform(-math.pi, math.pi, 3)) if rng.random() < 0.8 else Pose().r
    return Pose(turn, tuple(rng.uniform(-reach, reach, 3).tolist()))


def corners_of(solid: Hull, pose: Pose) -> np.ndarray:
    return np.array(solid.points) @ np.array(pose.r).reshape(3, 3).T + np.array(pose.t)


def other(rng: np.random.Generator, kind: int) -> Solid:
    a, b, c = rng.uniform(0.01, 0.08, 3)
    return [body(rng), Box((a, b, c)), Cylinder(a / 2, b), Sphere(a / 2)][kind]


def theirs(coal: object, solid: Solid, pose: Pose) -> tuple[object, object]:
    if isinstance(solid, Hull):
        points = coal.StdVec_Vec3s()
        points.extend([np.array(p) for p in solid.points])
        shape = coal.Convex.convexHull(points, False, None)
    elif isinstance(solid, Box):
        shape = coal.Box(*solid.size)
    else:
        shape = coal.Cylinder(solid.radius, solid.length) if isinstance(solid, Cylinder) else coal.Sphere(solid.radius)
    return shape, coal.Transform3s(np.array(pose.r).reshape(3, 3), np.array(pose.t))


def signed(coal: object, one: tuple[Solid, Pose], two: tuple[Solid, Pose]) -> float:
    request = coal.DistanceRequest()
    request.enable_signed_distance = True
    request.gjk_tolerance, request.epa_tolerance = 1e-9, 1e-8
    request.gjk_max_iterations = request.epa_max_iterations = 1000
    return float(coal.distance(*theirs(coal, *one), *theirs(coal, *two), request, coal.DistanceResult()))


@pytest.mark.parametrize("kind", range(4), ids=["hull", "box", "cylinder", "sphere"])
def test_depth_and_distance_are_coals(kind: int) -> None:
    coal = pytest.importorskip("coal")
    rng = np.random.default_rng(kind)
    apart = deep = 0
    for _ in range(40):
        a, pose_a, b, pose_b = body(rng), posed(rng, 0.0), other(rng, kind), posed(rng, 0.12)
        if rng.random() < 0.5:
            a, pose_a, b, pose_b = b, pose_b, a, pose_a
        wanted = signed(coal, (a, pose_a), (b, pose_b))
        depth, way = penetration(a, pose_a, b, pose_b)
        assert math.hypot(*way) == pytest.approx(1, abs=1e-9)
        assert meets(a, pose_a, b, pose_b, 1e-4) == (depth > 1e-4)
        if wanted > 0:
            apart += 1
            assert gap(a, pose_a, b, pose_b) == pytest.approx(wanted, abs=1e-7)
            assert depth <= 0
        else:
            deep += 1
            # Round bodies: coal's way out is not always the shortest; that ours is one is seen by taking it.
            assert depth == pytest.approx(-wanted, abs=2e-7) if kind < 2 else depth <= -wanted + 1e-6
            moved = Pose(pose_b.r, tuple(t + (depth + 1e-6) * w for t, w in zip(pose_b.t, way)))
            assert signed(coal, (a, pose_a), (b, moved)) > -1e-7
            back = Pose(pose_b.r, tuple(t + (depth - 1e-5) * w for t, w in zip(pose_b.t, way)))
            assert signed(coal, (a, pose_a), (b, back)) < 0
    assert min(apart, deep) >= 8


def test_in_and_near_a_plate() -> None:
    """A rectangular plate is a box to coal; straight through it the depth is exact, obliquely never too small."""
    coal = pytest.importorskip("coal")
    from shapely.geometry import box

    rng = np.random.default_rng(7)
    plate, slab = Prism(box(-0.06, -0.04, 0.06, 0.04), 0.006), Box((0.12, 0.08, 0.006))
    in_plate = Pose(t=(0.0, 0.0, -0.003))
    met = near = 0
    for _ in range(50):
        solid, pose, where = body(rng), posed(rng, 0.07), posed(rng, 0.02)
        wanted = signed(coal, (slab, where @ in_plate), (solid, where @ pose))
        depth, way = plate_penetration(plate, where, solid, where @ pose)
        if wanted < 0:
            met += 1
            assert depth >= -wanted - 1e-6
            moved = Pose((where @ pose).r, tuple(t + (depth + 5e-6) * w for t, w in zip((where @ pose).t, way)))
            assert signed(coal, (slab, where @ in_plate), (solid, moved)) > -1e-6
            assert plate_meets(plate, where, solid, where @ pose, 0.0)
        else:
            assert depth < 1e-7
            if wanted < 0.01:
                near += 1
                assert plate_gap(plate, where, solid, where @ pose, 0.01) == pytest.approx(wanted, abs=1e-7)
    assert met > 10 and near >= 3


def test_what_a_plane_cuts_out() -> None:
    trimesh = pytest.importorskip("trimesh")
    rng = np.random.default_rng(3)
    cut = missed = far = 0
    for n in range(80):
        solid, pose = body(rng), posed(rng, 0.12)
        corners = corners_of(solid, pose)
        mesh = trimesh.Trimesh(corners, np.array(solid.faces), process=False)
        reach = math.inf if n % 2 else float(rng.uniform(0.03, 0.15))
        found = shadows(scene_of([(solid, pose)]), reach)
        lines = trimesh.intersections.mesh_plane(mesh, (0, 0, 1), (0, 0, 0)).reshape(-1, 2, 3)[..., :2]
        if mesh.contains(np.zeros((1, 3)))[0]:
            assert found[0].width == 2 * math.pi
            continue
        sampled = np.concatenate([a + (b - a) * np.linspace(0, 1, 2001)[:, None] for a, b in lines]) if len(lines) else lines.reshape(-1, 2)
        sampled = sampled[np.hypot(*sampled.T) <= reach]
        if not len(sampled):
            missed += 1
            assert not found or found[0].width < 0.01
            continue
        (one,) = found
        off = np.angle(np.exp(1j * (np.arctan2(sampled[:, 1], sampled[:, 0]) - one.start - one.width / 2)))
        assert off.min() == pytest.approx(-one.width / 2, abs=2e-3 if math.isfinite(reach) else 1e-9)
        assert off.max() == pytest.approx(one.width / 2, abs=2e-3 if math.isfinite(reach) else 1e-9)
        cut, far = cut + 1, far + math.isfinite(reach)
    assert cut > 15 and missed > 6 and far > 5


def test_rays_meet_it_where_trimeshs_do() -> None:
    trimesh = pytest.importorskip("trimesh")
    pytest.importorskip("rtree")
    rng = np.random.default_rng(5)
    for _ in range(12):
        solid, pose = body(rng), posed(rng, 0.1)
        rays = rng.normal(size=(150, 3)) * 0.5 + np.array(pose.t) / np.linalg.norm(pose.t) * 2
        rays /= np.linalg.norm(rays, axis=1)[:, None]
        mesh = trimesh.Trimesh(corners_of(solid, pose), np.array(solid.faces), process=False)
        at, ray, _ = mesh.ray.intersects_location(np.zeros_like(rays), rays, multiple_hits=True)
        lengths: dict[int, list[float]] = {}
        for k, p in zip(ray.tolist(), at):
            lengths.setdefault(k, []).append(float(np.linalg.norm(p)))
        scene = scene_of([(Box((0.001, 0.001, 0.001)), Pose(t=(9.0, 9.0, 9.0))), (solid, pose)])
        if mesh.contains(np.zeros((1, 3)))[0]:
            assert scene.holding() == [1]
            assert way_out(scene, rays) == pytest.approx([max(lengths[k]) for k in range(len(rays))], abs=1e-9)
            continue
        assert scene.holding() == []
        hits = cast(scene, rays)
        wanted = np.array([min(lengths.get(k, [math.inf])) for k in range(len(rays))])
        grazing = np.array([len(v) == 2 and abs(v[0] - v[1]) < 1e-5 for v in (lengths.get(k, []) for k in range(len(rays)))])
        assert hits.distance[~grazing] == pytest.approx(wanted[~grazing], abs=1e-9)
        assert set(hits.which[np.isfinite(hits.distance)].tolist()) <= {1}
        assert np.isfinite(hits.distance).sum() > 10


def test_outlines_and_bounds() -> None:
    from shapely.geometry import MultiPoint, Polygon

    rng = np.random.default_rng(11)
    for _ in range(40):
        solid, pose = body(rng), posed(rng, 0.1)
        corners = corners_of(solid, pose)
        wanted = MultiPoint(corners[:, :2]).convex_hull
        assert Polygon(shadow(solid, pose).points).symmetric_difference(wanted).area < 1e-12
        (ground,) = ground_points([(solid, pose)], [])
        assert MultiPoint(ground).convex_hull.symmetric_difference(wanted).area < 1e-12
        low, high = extents(solid, pose)
        assert (*low, *high) == pytest.approx((*corners.min(axis=0), *corners.max(axis=0)), abs=1e-12)


def test_faces_close_it() -> None:
    trimesh = pytest.importorskip("trimesh")
    rng = np.random.default_rng(13)
    for _ in range(20):
        solid = body(rng, 100)
        mesh = trimesh.Trimesh(np.array(solid.points), np.array(solid.faces), process=False)
        assert mesh.is_watertight and mesh.is_winding_consistent and mesh.volume > 0
        assert mesh.volume == pytest.approx(mesh.convex_hull.volume, rel=1e-9)
