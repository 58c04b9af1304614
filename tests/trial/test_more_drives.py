"""Omnidirectional and steered robots driven in MuJoCo: signs, and odometry against where the body went.

Bounds: 1 % on plain treads, 5 % on rollers (our choice: a rigid body on a flat floor slips by less). Circles: R = L/tan(d) + t/2 of
the inner wheel (plane geometry). The layouts are invented.
"""
from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from chassis_describe import assemble, read
from chassis_describe.trial.kinematics import Motion, round_and_round

pytest.importorskip("mujoco", reason="MuJoCo is not installed")
LAYOUTS = Path(__file__).resolve().parents[1] / "targets" / "layouts"
PLAIN, ROLLERS = 0.01, 0.05


def robot(name: str) -> Any:
    if name == "rear_steered":  # the car turned round: driven in front, steered behind, about an axis that points down
        text = (LAYOUTS / "steered.yaml").read_text(encoding="utf-8")
        for old, new in (("at: [-12, 6]", "at: [12, 6]"), ("at: [13, 9]", "at: [-13, 9]"), ("at: [-3, 0]", "at: [3, 0]"),
                         ("axis: down", "axis: up")):
            assert old in text
            text = text.replace(old, new)
        return assemble(read("rear.yaml", text=text))
    return assemble(read(LAYOUTS / f"{name}.yaml"))


def driven(name: str, motion: Motion, seconds: float) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    """Where the body went, and what odometry read: forward, left (m), turned (rad), seen from the start."""
    from chassis_describe.trial.engine import Engine

    engine = Engine(robot(name))
    while engine.time < 0.5:
        engine.step()
    start, origin, begin = engine.whereabouts(), engine.odometry, engine.time
    turned, last = 0.0, start.yaw
    while (passed := engine.time - begin) < seconds:
        share = min(1.0, passed / 0.5, (seconds - passed) / 0.5)
        engine.command(Motion(*(v * share for v in motion)))
        engine.step()
        now = engine.whereabouts()
        turned += math.remainder(now.yaw - last, 2 * math.pi)
        last = now.yaw
    end = engine.whereabouts()
    c, s = math.cos(start.yaw), math.sin(start.yaw)
    dx, dy = end.x - start.x, end.y - start.y
    read_ = engine.odometry
    ox, oy = read_.x - origin.x, read_.y - origin.y
    c0, s0 = math.cos(origin.yaw), math.sin(origin.yaw)
    return (c * dx + s * dy, c * dy - s * dx, turned), (c0 * ox + s0 * oy, c0 * oy - s0 * ox, read_.yaw - origin.yaw)


CASES = [("steered", Motion(0.2), PLAIN), ("steered", Motion(-0.2), PLAIN), ("steered", Motion(0.2, 0.0, 0.3), PLAIN),
         ("steered", Motion(0.2, 0.0, -0.3), PLAIN), ("steered", Motion(-0.2, 0.0, 0.3), PLAIN),
         ("rear_steered", Motion(0.2, 0.0, 0.3), PLAIN), ("rear_steered", Motion(-0.2, 0.0, 0.3), PLAIN),
         ("three_wheeler", Motion(0.2), PLAIN), ("three_wheeler", Motion(0.2, 0.0, 0.3), PLAIN),
         ("three_omni", Motion(0.2), ROLLERS), ("three_omni", Motion(0.0, 0.2), ROLLERS), ("three_omni", Motion(turn=0.8), ROLLERS),
         ("four_omni", Motion(0.2), ROLLERS), ("four_omni", Motion(0.0, -0.2), ROLLERS), ("four_omni", Motion(0.1, 0.1, 0.4), ROLLERS)]


@pytest.mark.parametrize(("name", "motion", "share"), CASES)
def test_a_command_moves_the_body_so_and_odometry_agrees(name: str, motion: Motion, share: float) -> None:
    """Forward, left and counter-clockwise are positive (REP-103): an eased command of 3 s is 2.5 s at full speed."""
    went, told = driven(name, motion, 3.0)
    way = 2.5 * math.hypot(motion.forward, motion.left)
    assert math.dist(went[:2], told[:2]) <= share * max(way, 0.1)
    assert abs(went[2] - told[2]) <= share * max(abs(motion.turn) * 2.5, 0.5)
    assert abs(went[2] - 2.5 * motion.turn) <= 0.06 * max(abs(2.5 * motion.turn), 0.2)
    if not motion.turn:
        assert went[:2] == pytest.approx((2.5 * motion.forward, 2.5 * motion.left), abs=0.03 * way)
    elif motion.forward and not motion.left:
        # On a circle to the side of the turn: its chord.
        radius, angle = motion.forward / motion.turn, 2.5 * motion.turn
        assert went[:2] == pytest.approx((radius * math.sin(angle), radius * (1 - math.cos(angle))), abs=0.05 * way)


@pytest.mark.parametrize(("name", "radius"), [("steered", 0.25 / math.tan(math.radians(40)) + 0.09),
                                              ("three_wheeler", 0.25 / math.tan(math.radians(40)))])
def test_the_tightest_turn_is_a_full_circle_of_the_smallest_radius(name: str, radius: float) -> None:
    from chassis_describe.trial.course import _turn
    from chassis_describe.trial.engine import Engine

    assembly = robot(name)
    motion = round_and_round(assembly.drive, 0.2)
    assert motion.forward / motion.turn == pytest.approx(radius)
    turn = _turn(Engine(assembly), 0.2)
    assert turn.radius == pytest.approx(radius, rel=PLAIN)
    assert turn.turned_deg == pytest.approx(turn.odometry_deg, rel=PLAIN)


@pytest.mark.parametrize(("inner", "radius"), [(0.4, 0.681306), (0.5, 0.547622), (0.6, 0.455424)])
def test_smallest_circle_by_worked_numbers(inner: float, radius: float) -> None:
    """L 0.25 m, t 0.18 m, the inner wheel's limit in rad: R = L/tan(d) + t/2, worked by hand."""
    from chassis_describe.facts.turning import smallest_turn

    text = (LAYOUTS / "steered.yaml").read_text(encoding="utf-8").replace("range: [-40, 40]", f"range: [-{inner} rad, {inner} rad]")
    drive = assemble(read(LAYOUTS / "steered.yaml", text=text)).drive
    assert drive is not None
    assert smallest_turn(drive) == pytest.approx(radius, abs=1e-6)


def test_the_outer_wheel_limits_where_it_steers_less() -> None:
    """R = L/tan(d) - t/2 of the outer wheel: with 20° to the right on the left wheel, 0.25/tan 20° - 0.09 beats the inner wheel's
    0.25/tan 40° + 0.09."""
    from dataclasses import replace

    from chassis_describe.facts.turning import smallest_turns

    drive = robot("steered").drive
    left, right = drive.steered
    less = left.moving._replace(adjustment=replace(left.moving.adjustment, range=(-math.radians(20), math.radians(40))))
    turns = smallest_turns(replace(drive, steered=(left._replace(moving=less), right)))
    assert turns == pytest.approx((0.25 / math.tan(math.radians(40)) + 0.09, 0.25 / math.tan(math.radians(20)) - 0.09))
