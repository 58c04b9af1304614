"""Drives whose sides are shifted against each other, worked by hand from the controller's own formula."""
from __future__ import annotations

import pytest

import chassis_describe as cd


def cart(right_front: str, right_rear: str) -> cd.Assembly:
    return cd.assemble(cd.read("trial.yaml", text=f"""layout: 1
robot: trial
parts:
  gearmotor: {{mass: 70, bodies: [{{box: [50, 20, 20], at: [0, 0, 10]}}], bolts: [[-20, 0], [20, 0]], shafts: {{out: {{at: [30, 0, 10], axis: forward}}}}}}
  left_hand: {{mass: 90, wheel: {{diameter: 80, width: 20, offset: 10, rollers: left}}}}
  right_hand: {{mass: 90, wheel: {{diameter: 80, width: 20, offset: 10, rollers: right}}}}
decks:
  lower: {{outline: {{rectangle: [400, 200]}}, thickness: 4, material: birch plywood}}
placements:
  fl: {{part: gearmotor, on: lower, face: under, at: [5, 3], points: left}}
  rl: {{part: gearmotor, on: lower, face: under, at: [-5, 3], points: left}}
  fr: {{part: gearmotor, on: lower, face: under, at: {right_front}, points: right}}
  rr: {{part: gearmotor, on: lower, face: under, at: {right_rear}, points: right}}
  wheel_fl: {{part: left_hand, on: fl}}
  wheel_rl: {{part: right_hand, on: rl}}
  wheel_fr: {{part: right_hand, on: fr}}
  wheel_rr: {{part: left_hand, on: rr}}
drive: {{kind: mecanum, left: [wheel_fl, wheel_rl], right: [wheel_fr, wheel_rr]}}
"""))


def test_the_base_of_a_shifted_mecanum_cart_is_front_mean_less_rear_mean() -> None:
    """One side a hole (20 mm) further forward. Levers lx + ly from the centre of rotation, wheels 100 mm out and (by hand)
    110, 90, 90, 110 mm ahead or behind: 210, 190, 190, 210 mm. The controller takes one number for all four, their mean:
    200 mm (ros2_controllers: mecanum_drive_controller, sum_of_robot_center_projection_on_X_Y_axis)."""
    a = cart("[6, -3]", "[-4, -3]")
    assert a.drive is not None
    levers = [abs(w.centre[0]) + abs(w.centre[1]) for w in (*a.drive.left, *a.drive.right)]
    assert sorted(levers) == pytest.approx([0.190, 0.190, 0.210, 0.210])
    assert (a.drive.wheel_base + a.drive.wheel_separation) / 2 == pytest.approx(sum(levers) / 4, abs=1e-12)
    assert a.drive.wheel_base == pytest.approx(0.200, abs=1e-12)


def test_levers_of_four_places() -> None:
    """The right wheels at 120 mm and -100 mm instead of 100 and -100: centre at x = 5 mm; front mean 110, rear mean -100."""
    a = cart("[6, -3]", "[-5, -3]")
    assert a.drive is not None and a.drive.wheel_base == pytest.approx(0.210, abs=1e-12)


def test_shifted_axles_are_said_once() -> None:
    found = [f for f in cd.check(cart("[6, -3]", "[-4, -3]")) if f.code == "axles-staggered"]
    assert len(found) == 1 and found[0].measured == pytest.approx(20) and "1 more axle" in found[0].message
    assert not [f for f in cd.check(cart("[5, -3]", "[-5, -3]")) if f.code == "axles-staggered"]


def test_following_the_hint_lines_the_axle_up() -> None:
    one = next(f for f in cd.check(cart("[6, -3]", "[-5, -3]")) if f.code == "axles-staggered")
    assert one.hint == "bring fl 20 mm forward, or fr back"
    assert not [f for f in cd.check(cart("[5, -3]", "[-5, -3]")) if f.code == "axles-staggered"]
