"""Rotations against the URDF convention, REP-103, and pinocchio."""
from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from chassis_describe.space import pose as p

pin = pytest.importorskip("pinocchio")
ANGLE = st.floats(-math.pi, math.pi)
VECTOR = st.tuples(*[st.floats(-2, 2)] * 3)


def square(r: p.Rotation) -> np.ndarray:
    return np.array(r).reshape(3, 3)


def test_fixed_axis_order() -> None:
    # Worked from URDF's rule R = Rz(yaw) Ry(pitch) Rx(roll) (wiki.ros.org/urdf/XML/joint; urdf_model pose.h setFromRPY)
    r = p.from_rpy(0.1, 0.2, 0.3)
    np.testing.assert_allclose(p.to_quaternion(r), (0.0342708, 0.10602051, 0.14357217, 0.98334744), atol=1e-8)
    np.testing.assert_allclose(r[:3], (0.93629336, -0.27509585, 0.21835066), atol=1e-8)


@settings(max_examples=200, deadline=None)
@given(ANGLE, ANGLE, ANGLE, VECTOR)
def test_against_pinocchio(roll: float, pitch: float, yaw: float, v: tuple[float, float, float]) -> None:
    r = p.from_rpy(roll, pitch, yaw)
    judge = pin.rpy.rpyToMatrix(roll, pitch, yaw)
    # turns within 1e-12 quarters of a quarter turn are taken as it, on purpose
    np.testing.assert_allclose(p.apply(r, v), judge @ np.array(v), atol=1e-11)
    np.testing.assert_allclose(square(r), judge, atol=1e-11)
    np.testing.assert_allclose(square(p.from_rpy(*p.to_rpy(r))), judge, atol=2e-8)
    quaternion = pin.Quaternion(judge)
    ours = np.array(p.to_quaternion(r))
    assert min(np.abs(ours - quaternion.coeffs()).max(), np.abs(ours + quaternion.coeffs()).max()) < 1e-11


@settings(max_examples=100, deadline=None)
@given(VECTOR.filter(lambda v: math.hypot(*v) > 0.1), ANGLE)
def test_about_axis_against_pinocchio(axis: tuple[float, float, float], angle: float) -> None:
    n = np.array(axis) / math.hypot(*axis)
    np.testing.assert_allclose(square(p.about_axis(axis, angle)), pin.exp3(n * angle), atol=1e-11)


@settings(max_examples=100, deadline=None)
@given(VECTOR.filter(lambda v: math.hypot(*v) > 0.1), VECTOR.filter(lambda v: math.hypot(*v) > 0.1))
def test_smallest_turn_takes_one_direction_onto_the_other(a: tuple[float, ...], b: tuple[float, ...]) -> None:
    r = square(p.smallest_between(a, b))
    ua, ub = np.array(a) / math.hypot(*a), np.array(b) / math.hypot(*b)
    np.testing.assert_allclose(r @ ua, ub, atol=1e-7)
    np.testing.assert_allclose(r @ r.T, np.eye(3), atol=1e-12)
    # no smaller turn exists than the angle between the two
    assert math.acos(np.clip((np.trace(r) - 1) / 2, -1, 1)) <= math.acos(np.clip(ua @ ub, -1, 1)) + 1e-6


@pytest.mark.parametrize("quarters", range(-8, 9))
def test_quarter_turns_are_exact(quarters: int) -> None:
    for turn in (p.rot_x, p.rot_y, p.rot_z):
        assert set(turn(quarters * math.pi / 2)) <= {-1.0, 0.0, 1.0}


def test_half_a_turn_is_written_plus_pi() -> None:
    # upside down and facing backwards (roll π, yaw π): -π is the same attitude, but readers look for π
    upside_down = p.multiply(p.rot_x(math.pi), p.rot_z(math.pi))
    assert p.to_rpy(upside_down) == (math.pi, 0.0, math.pi)
    assert p.to_rpy(p.rot_z(-math.pi)) == (0.0, 0.0, math.pi)


@settings(max_examples=100, deadline=None)
@given(ANGLE, ANGLE, ANGLE, VECTOR, VECTOR)
def test_inverse_and_product(roll: float, pitch: float, yaw: float, t: tuple[float, ...], v: tuple[float, ...]) -> None:
    a = p.Pose(p.from_rpy(roll, pitch, yaw), t)  # type: ignore[arg-type]
    b = p.Pose(p.from_rpy(yaw, roll, pitch), v)  # type: ignore[arg-type]
    judge = pin.SE3(pin.rpy.rpyToMatrix(roll, pitch, yaw), np.array(t)) * pin.SE3(
        pin.rpy.rpyToMatrix(yaw, roll, pitch), np.array(v))
    np.testing.assert_allclose(square((a @ b).r), judge.rotation, atol=1e-11)
    np.testing.assert_allclose((a @ b).t, judge.translation, atol=1e-11)
    np.testing.assert_allclose((a @ a.inverse()).t, (0, 0, 0), atol=1e-12)


def test_gimbal_lock_keeps_the_rotation() -> None:
    for pitch in (math.pi / 2, -math.pi / 2):
        r = p.from_rpy(0.3, pitch, 0.8)
        np.testing.assert_allclose(square(p.from_rpy(*p.to_rpy(r))), square(r), atol=1e-9)
