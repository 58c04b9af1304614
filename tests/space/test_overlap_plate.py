"""Solids against true plates: by hand, and against convex solids where the plate is one."""
from __future__ import annotations

import math

import numpy as np
import pytest
from shapely.geometry import Point, box

from chassis_describe.space.overlap.penetration import penetration
from chassis_describe.space.overlap.plates import FACET, Prism, plate_penetration, plates_penetration
from chassis_describe.space.pose import IDENTITY, Pose, from_rpy
from chassis_describe.space.solids import Box, Cylinder, Sphere

PLATE = Prism(box(-0.1, -0.06, 0.1, 0.06), 0.004)
WELL = Prism(box(-0.1, -0.06, 0.1, 0.06).difference(box(-0.036, 0.03, 0.036, 0.07)), 0.004)
UPRIGHT = from_rpy(math.pi / 2, 0.0, 0.0)


def test_wheel_in_its_well_is_free_and_beside_it_is_not() -> None:
    wheel = Cylinder(0.035, 0.02)
    assert plate_penetration(WELL, IDENTITY, wheel, Pose(UPRIGHT, (0.0, 0.041, -0.01)))[0] == 0.0
    # With its axle at the plate's middle the wheel is 70 mm long, its well 72: 3 mm forward puts 2 into the plate.
    depth, d = plate_penetration(WELL, IDENTITY, wheel, Pose(UPRIGHT, (0.003, 0.041, -0.002)))
    assert depth == pytest.approx(0.002, abs=2 * FACET)
    assert d == pytest.approx((-1.0, 0.0, 0.0), abs=1e-3)
    # Pushed 0.5 mm into the well's inner side.
    depth, d = plate_penetration(WELL, IDENTITY, wheel, Pose(UPRIGHT, (0.0, 0.0395, -0.01)))
    assert depth == pytest.approx(0.0005, abs=2e-6)
    assert d == pytest.approx((0.0, 1.0, 0.0))


def test_motor_through_solid_plate_leaves_by_a_face() -> None:
    depth, d = plate_penetration(PLATE, IDENTITY, Cylinder(0.0185, 0.05), Pose(UPRIGHT, (0.0, 0.0, -0.012)))
    assert depth == pytest.approx(0.0105, abs=FACET)  # 18.5 − 12 over the top, and 4 of plate
    assert d == (0.0, 0.0, -1.0)


def test_touching_is_free() -> None:
    assert plate_penetration(PLATE, IDENTITY, Box((0.02, 0.02, 0.01)), Pose(t=(0.0, 0.0, 0.005)))[0] == 0.0
    assert plate_penetration(PLATE, IDENTITY, Sphere(0.01), Pose(t=(0.0, 0.0, -0.014)))[0] == 0.0


def test_boss_in_a_hole() -> None:
    drilled = Prism(PLATE.polygon.difference(Point(0.0, 0.0).buffer(0.004, 64)), 0.004)
    assert plate_penetration(drilled, IDENTITY, Cylinder(0.003, 0.03), IDENTITY)[0] == 0.0
    assert plate_penetration(PLATE, IDENTITY, Cylinder(0.003, 0.03), IDENTITY)[0] == pytest.approx(0.015)
    depth = plate_penetration(drilled, IDENTITY, Cylinder(0.003, 0.03), Pose(t=(0.0014, 0.0, 0.0)))[0]
    assert depth == pytest.approx(0.0004, abs=3 * FACET)


def test_rectangular_plate_agrees_with_a_box() -> None:
    rng = np.random.default_rng(4)
    plain, offset = Box((0.2, 0.12, 0.004)), Pose(t=(0.0, 0.0, -0.002))
    overlaps = 0
    for _ in range(80):
        plate_pose = Pose(from_rpy(*rng.uniform(-3, 3, 3)), tuple(rng.uniform(-0.1, 0.1, 3)))
        solid = (Box(tuple(rng.uniform(0.005, 0.06, 3))), Cylinder(rng.uniform(0.003, 0.03), rng.uniform(0.005, 0.06)),
                 Sphere(rng.uniform(0.003, 0.03)))[rng.integers(3)]
        pose = plate_pose @ Pose(from_rpy(*rng.uniform(-3, 3, 3)), tuple(rng.uniform((-0.12, -0.08, -0.03),
                                                                                     (0.12, 0.08, 0.03))))
        depth, d = plate_penetration(PLATE, plate_pose, solid, pose)
        exact = penetration(plain, plate_pose @ offset, solid, pose)[0]
        # Facets may take up to FACET off; oblique ways are searched, so a depth may come out a little longer.
        assert depth >= exact - 2 * FACET
        assert depth <= max(0.0, exact) * 1.12 + 2 * FACET
        overlaps += depth > 0
        if depth > 0:
            out = Pose(pose.r, tuple(t + (depth + 2 * FACET) * k for t, k in zip(pose.t, d)))
            assert penetration(plain, plate_pose @ offset, solid, out)[0] <= 1e-9
    assert overlaps > 25


def test_plate_standing_in_a_slot_and_beside_it() -> None:
    slot = Prism(PLATE.polygon.difference(box(-0.0021, -0.03, 0.0021, 0.03)), 0.004)
    tab = Prism(box(-0.1, -0.03, 0.0, 0.03).union(box(-0.06, -0.05, -0.004, 0.05)), 0.004)
    standing = from_rpy(0.0, math.pi / 2, 0.0)  # the tab's +x points down, its thickness lies along -x
    assert plates_penetration(slot, IDENTITY, tab, Pose(standing, (0.002, 0.0, -0.004)))[0] == 0.0
    deep = plates_penetration(slot, IDENTITY, tab, Pose(standing, (0.003, 0.0, -0.004)))[0]
    assert deep == pytest.approx(0.0009, abs=2e-6)
    assert plates_penetration(PLATE, IDENTITY, tab, Pose(standing, (0.002, 0.0, -0.004)))[0] == pytest.approx(0.004)
    assert plates_penetration(PLATE, IDENTITY, tab, Pose(standing, (0.002, 0.0, 0.0)))[0] == 0.0


def test_parallel_plates() -> None:
    assert plates_penetration(PLATE, IDENTITY, PLATE, Pose(t=(0.01, 0.0, 0.004)))[0] == 0.0
    assert plates_penetration(PLATE, IDENTITY, PLATE, Pose(t=(0.01, 0.0, 0.003)))[0] == pytest.approx(0.001)


def test_depths_in_a_rectangular_plate_against_coal() -> None:
    """coal (GJK and EPA) on a box as large as the plate: a depth is never too small, an upper bound and a near one, and a body
    that is moved by it is out by coal's word too."""
    coal = pytest.importorskip("coal")
    rng = np.random.default_rng(11)
    request = coal.DistanceRequest()
    request.enable_signed_distance = True
    request.gjk_tolerance, request.epa_tolerance = 1e-9, 1e-7
    request.gjk_max_iterations = request.epa_max_iterations = 1000

    def apart(theirs: object, pose: Pose) -> float:
        middle = coal.Transform3s(np.eye(3), np.array([0.0, 0.0, -0.002]))
        placed = coal.Transform3s(np.array(pose.r).reshape(3, 3), np.array(pose.t))
        return float(coal.distance(coal.Box(0.2, 0.12, 0.004), middle, theirs, placed, request, coal.DistanceResult()))

    met = 0
    for k in range(150):
        turn = from_rpy(*rng.uniform(-3, 3, 3).tolist()) if k % 3 else from_rpy(*(rng.integers(-2, 3, 3) * math.pi / 2).tolist())
        pose = Pose(turn, tuple((rng.uniform(-1, 1, 3) * (0.11, 0.07, 0.02)).tolist()))
        size = rng.uniform(0.004, 0.06, 3).tolist()
        solid, theirs = ((Box(tuple(size)), coal.Box(*size)), (Sphere(size[0] / 2), coal.Sphere(size[0] / 2)))[k % 2]
        true = max(0.0, -apart(theirs, pose))
        depth, way = plate_penetration(PLATE, IDENTITY, solid, pose)
        near = 2 * FACET if k % 2 else 2e-6  # a ball is facetted
        assert true - near <= depth <= 1.15 * true + 1e-4, (solid, pose)
        if depth > 0.0:
            met += 1
            assert apart(theirs, Pose(pose.r, tuple(c + depth * w for c, w in zip(pose.t, way)))) >= -near, (solid, pose)
    assert met > 60
