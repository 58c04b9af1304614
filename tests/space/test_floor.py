"""Floor seen by scan planes, images and cones: plain trigonometry, and brute sampling of directions."""
from __future__ import annotations

import math

import numpy as np
import pytest

from chassis_describe.space.pose import Pose, about_axis, from_rpy
from chassis_describe.space.sight.floor import cone_on_floor, floor_arc, image_on_floor, lean, plane_on_floor, steepest_beam
from chassis_describe.space.sight.rays import image_grid

DEG = math.pi / 180


@pytest.mark.parametrize(("tilt", "expected"), [(0.5, 17.19), (1, 8.593), (2, 4.295), (5, 1.7145)])
@pytest.mark.parametrize("roll", [0.0, math.pi])
def test_a_tilted_lidar_meets_the_floor_at_h_over_tan(tilt, expected, roll):
    """h/tan(t), h 0.15 m; hung upside down just the same."""
    eye = Pose(from_rpy(roll, tilt * DEG, 0.0), (0.3, -0.2, 0.15))
    hit = plane_on_floor(eye, 2 * math.pi)
    assert hit.along == pytest.approx(expected, rel=5e-4)
    assert hit.along == pytest.approx(0.15 / math.tan(tilt * DEG), rel=1e-9)
    assert hit.away == pytest.approx(0.15 / math.sin(tilt * DEG), rel=1e-9)
    assert steepest_beam(eye) == pytest.approx(0.0, abs=1e-9)  # pitch > 0 lowers x: REP-103, fixed axes
    assert lean(eye) == pytest.approx(tilt * DEG)


def test_a_12_m_lidar_at_150_mm_sees_floor_from_0_716_degrees():
    """asin(0.15/12) = 0.716°; and then only straight down the slope."""
    for tilt, seen in ((0.715, False), (0.718, True)):
        arc = floor_arc(Pose(from_rpy(0, tilt * DEG, 0), (0, 0, 0.15)), 12.0)
        assert (arc > 0) == seen
        assert arc < 6 * DEG
    arc = floor_arc(Pose(from_rpy(0, 5 * DEG, 0), (0, 0, 0.15)), 12.0)
    assert arc == pytest.approx(math.acos(0.15 / 12 / math.sin(5 * DEG)))


def test_a_level_lidar_sees_no_floor():
    assert plane_on_floor(Pose(from_rpy(0, 0, 1.0), (0, 0, 0.15)), 2 * math.pi) is None
    assert floor_arc(Pose(from_rpy(math.pi, 0, 1.0), (0, 0, 0.15)), 12.0) == 0.0


def test_a_lidar_with_a_narrow_view_that_leans_away_sees_floor_only_at_its_ends():
    """Leaning back by 2°, 120° to either side: the end beams sink by sin 2°·cos 60°."""
    eye = Pose(from_rpy(0, -2 * DEG, 0), (0, 0, 0.15))
    hit = plane_on_floor(eye, 240 * DEG)
    assert hit.away == pytest.approx(0.15 / (math.sin(2 * DEG) * 0.5), rel=1e-9)
    assert plane_on_floor(eye, 170 * DEG) is None


@pytest.mark.parametrize(("tilt", "near"), [(0, 0.5210), (15, 0.2753), (30, 0.1620)])
def test_a_camera_sees_the_floor_from_h_over_tan(tilt, near):
    """h/tan(t + V/2), h 0.20 m, V 42°, whatever the horizontal field of view."""
    v = 42 * DEG
    for hfov in (50 * DEG, 90 * DEG):
        aspect = math.tan(v / 2) / math.tan(hfov / 2)
        hit = image_on_floor(Pose(from_rpy(0, tilt * DEG, 2.0), (1, 1, 0.2)), hfov, aspect)
        assert hit.along == pytest.approx(near, abs=5e-5)
        assert hit.along == pytest.approx(0.2 / math.tan(tilt * DEG + v / 2), rel=1e-9)


def test_a_camera_that_looks_up_or_straight_down():
    assert image_on_floor(Pose(from_rpy(0, -30 * DEG, 0), (0, 0, 0.2)), 1.0, 0.75) is None
    assert image_on_floor(Pose(from_rpy(0, 80 * DEG, 0), (0, 0, 0.2)), 1.0, 0.75).along == pytest.approx(0, abs=1e-9)


def test_a_cone_meets_the_floor_at_h_over_tan_of_half_its_angle():
    """h 0.06 m: fov 15° at 0.4557 m, 30° at 0.2239 m; turned down by p at h/tan(p + fov/2)."""
    level = Pose(from_rpy(0, 0, 0.4), (0, 0, 0.06))
    assert cone_on_floor(level, 7.5 * DEG).along == pytest.approx(0.4557, abs=5e-5)
    assert cone_on_floor(level, 15 * DEG).along == pytest.approx(0.2239, abs=5e-5)
    down = Pose(from_rpy(0, 10 * DEG, 0.4), (0, 0, 0.06))
    assert cone_on_floor(down, 15 * DEG).along == pytest.approx(0.06 / math.tan(25 * DEG), rel=1e-12)
    assert cone_on_floor(Pose(from_rpy(0, -8 * DEG, 0), (0, 0, 0.06)), 7.5 * DEG) is None
    assert cone_on_floor(Pose(from_rpy(0, 85 * DEG, 0), (0, 0, 0.06)), 7.5 * DEG).along == pytest.approx(0, abs=1e-9)
    assert cone_on_floor(Pose(from_rpy(0, 0, 0), (0, 0, -0.01)), 0.3) is None


def test_a_cone_straight_up_sees_floor_only_behind_its_own_back():
    """A cone wider than a half turn reaches below level whichever way it looks: at 100° from straight up it sinks by 10°."""
    up = Pose(from_rpy(0, -math.pi / 2, 0), (0, 0, 0.06))
    assert cone_on_floor(up, 15 * DEG) is None
    assert cone_on_floor(up, 90 * DEG) is None
    assert cone_on_floor(up, 100 * DEG).along == pytest.approx(0.06 / math.tan(10 * DEG))
    exactly = Pose((0.0, 0.0, 1.0, 0.0, 1.0, 0.0, 1.0, 0.0, 0.0), (0, 0, 0.06))  # x up without any rounding
    assert cone_on_floor(exactly, 15 * DEG) is None
    assert cone_on_floor(exactly, 100 * DEG).along == pytest.approx(0.06 / math.tan(10 * DEG))


def test_general_attitudes_agree_with_a_brute_search():
    """No direction of 40000 sees floor nearer, and some come within the grid's step."""
    rng = np.random.default_rng(3)
    rays = image_grid(1.0, 0.75, 400, 300).reshape(-1, 3)
    turn = np.linspace(0, 2 * math.pi, 3601)
    square = [from_rpy(roll, pitch, 0.0) for roll in (0.0, math.pi / 2, math.pi, -math.pi / 2)
              for pitch in (0.0, math.pi / 2, math.pi, -math.pi / 2)]
    for turned in square + [about_axis(rng.normal(size=3), rng.uniform(-math.pi, math.pi)) for _ in range(60)]:
        eye = Pose(turned, (0.0, 0.0, 0.3))
        r = np.array(eye.r).reshape(3, 3)
        rim = np.stack([np.full_like(turn, math.cos(0.2)), math.sin(0.2) * np.cos(turn), math.sin(0.2) * np.sin(turn)],
                       axis=1)
        flat = np.stack([np.cos(turn), np.sin(turn), np.zeros_like(turn)], 1)
        for got, bundle, step in ((image_on_floor(eye, 1.0, 0.75), rays, 0.01),
                                  (cone_on_floor(eye, 0.2), np.vstack([rim, r[2] * -1]), 1e-3),
                                  (plane_on_floor(eye, 2 * math.pi), flat, 1e-3)):
            if bundle is not rays and bundle is not flat and -r[2][0] < math.cos(0.2):
                bundle = rim
            d = bundle @ r.T
            seen = d[:, 2] < -0.02
            brute = (0.3 * np.hypot(d[seen, 0], d[seen, 1]) / -d[seen, 2]).min() if seen.any() else math.inf
            value = got.along if got is not None else math.inf
            if value > 10:
                continue
            assert value <= brute + 1e-9
            assert brute - value < step * (1 + value**2 / 0.3)
