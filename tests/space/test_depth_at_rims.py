"""Balls at the rims of plates against closed form: a ball clears a disc of plate when its centre is a radius away from it."""
from __future__ import annotations

import math
import random

import numpy as np
import pytest
from shapely.geometry import Point, box
from shapely.prepared import prep

from chassis_describe.space.overlap.plates import Prism, plate_penetration, plates_penetration
from chassis_describe.space.pose import Pose, from_rpy
from chassis_describe.space.solids import Sphere

R, T = 0.1, 0.004


def disc(sides: int) -> Prism:
    return Prism(Point(0, 0).buffer(R, sides), T)


def apart(r: float, z: float) -> float:
    """Distance of a point, r from the axis, from the plate (z from -T to 0)."""
    return math.hypot(max(r - R, 0.0), max(z, -T - z, 0.0))


def least_move(r: float, z: float, ball: float) -> float:
    """The length of the shortest translation that clears, to 0.02 mm, by trying directions; the plate is round, so those in
    the plane through its axis do."""
    best = min(ball - z, ball + T + z)
    for k in range(3600):
        a = math.radians(k / 10)
        lengths = np.arange(0.0, best, 2e-5)
        rs, zs = np.abs(r + lengths * math.cos(a)), z + lengths * math.sin(a)
        out = np.hypot(np.maximum(rs - R, 0), np.maximum(np.maximum(zs, -T - zs), 0)) >= ball
        if out.any():
            best = min(best, float(lengths[out.argmax()]))
    return best


@pytest.mark.parametrize("sides", [64, 90, 180, 720])
@pytest.mark.parametrize("angle", [0.0, 0.0123, 0.7])
def test_a_ball_just_inside_a_rim(sides: int, angle: float) -> None:
    """46 mm across, centre 5 mm above the top, 15 mm inside the rim. Straight up: 23 - 5 = 18 mm. Sideways: the ball cuts the
    top's plane in a circle of sqrt(23² - 5²) = 22.4 mm, so 15 + 22.4 mm. Nothing oblique is shorter (least_move: 18.0)."""
    r = R - 0.015
    depth, way = plate_penetration(disc(sides), Pose(), Sphere(0.023), Pose(t=(r * math.cos(angle), r * math.sin(angle), 0.005)))
    assert depth == pytest.approx(0.018, abs=2e-5)
    assert way == pytest.approx((0, 0, 1), abs=0.05)
    assert least_move(r, 0.005, 0.023) == pytest.approx(0.018, abs=3e-5)


@pytest.mark.parametrize("seed", range(12))
def test_a_depth_is_never_too_small_and_following_it_clears(seed: int) -> None:
    rng = random.Random(seed)
    ball, z, r = rng.uniform(0.005, 0.03), rng.uniform(-0.02, 0.02), R + rng.uniform(-0.03, 0.02)
    angle = rng.uniform(0, 2 * math.pi)
    depth, way = plate_penetration(disc(180), Pose(), Sphere(ball), Pose(t=(r * math.cos(angle), r * math.sin(angle), z)))
    moved = [c + depth * w for c, w in zip((r * math.cos(angle), r * math.sin(angle), z), way)]
    assert apart(math.hypot(moved[0], moved[1]), moved[2]) >= ball - 5e-5  # facets of 0.01 mm, chords of the disc
    true = least_move(r, z, ball) if apart(r, z) < ball else 0.0
    assert depth >= true - 6e-5
    assert depth <= 1.15 * true + 1e-4  # an upper bound, and a near one


@pytest.mark.parametrize("seed", range(8))
def test_a_plate_in_a_plate_is_cleared_by_its_depth(seed: int) -> None:
    """A frame (a plate with a window) and an L in one another at random attitudes, by trimesh's boolean-free test: sampled points
    of the moved one lie in the other nowhere deeper than 0.1 mm."""
    rng = random.Random(seed)
    frame = Prism(box(-0.06, -0.05, 0.06, 0.05).difference(box(-0.04, -0.03, 0.04, 0.03)), 0.004)
    ell = Prism(box(-0.05, -0.05, 0.05, -0.02).union(box(-0.05, -0.05, -0.02, 0.05)), 0.003)
    pose = Pose(from_rpy(rng.uniform(-1.5, 1.5), rng.uniform(-1.5, 1.5), rng.uniform(-3, 3)),
                (rng.uniform(-0.03, 0.03), rng.uniform(-0.03, 0.03), rng.uniform(-0.01, 0.01)))
    depth, way = plates_penetration(frame, Pose(), ell, pose)
    whole = prep(ell.polygon.buffer(1e-9))
    grid = np.array([(x, y, z) for x in np.linspace(-0.05, 0.05, 81) for y in np.linspace(-0.05, 0.05, 81)
                     if whole.contains(Point(x, y)) for z in (-0.003, -0.0015, 0.0)])
    world = grid @ np.array(pose.r).reshape(3, 3).T + np.array(pose.t) + depth * np.array(way)
    inside = world[(world[:, 2] < -1e-4) & (world[:, 2] > -0.004 + 1e-4)]
    core = prep(frame.polygon.buffer(-1e-4))
    assert not [p for p in inside.tolist() if core.contains(Point(p[0], p[1]))]
