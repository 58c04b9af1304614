"""Outlines of round robots, and of robots with cut corners, by plane geometry. Millimetres."""
from __future__ import annotations

import math

import pytest

import chassis_describe as cd
from chassis_describe.facts.footprint import footprint_of
from chassis_describe.targets.stack.outline import robot_radius


def robot(outline: str) -> cd.Assembly:
    return cd.assemble(cd.read("trial.yaml", text=f"""layout: 1
robot: trial
parts:
  gearmotor: {{mass: 70, bodies: [{{box: [50, 20, 20], at: [0, 0, 10]}}], bolts: [[-20, 0], [20, 0]], shafts: {{out: {{at: [30, 0, 10], axis: forward}}}}}}
  tyre: {{mass: 90, wheel: {{diameter: 80, width: 20, offset: 12}}}}
  ball: {{mass: 20, bodies: [{{box: [20, 50, 5], at: [0, 0, 2.5]}}], bolts: [[0, -20], [0, 20]], caster: {{ball: 20, at: [0, 0, 20]}}}}
decks:
  lower: {{outline: {outline}, thickness: 4, material: birch plywood}}
placements:
  motor_left: {{part: gearmotor, on: lower, face: under, at: [0, 2], points: left}}
  motor_right: {{part: gearmotor, on: lower, face: under, at: [0, -2], points: right}}
  wheel_left: {{part: tyre, on: motor_left}}
  wheel_right: {{part: tyre, on: motor_right}}
  caster: {{part: ball, on: lower, face: under, at: [-5, 0], lift: 20}}
drive: {{kind: differential, left: [wheel_left], right: [wheel_right]}}
"""))


@pytest.mark.parametrize("diameter", [340, 300, 420])
def test_a_disc_has_the_radius_of_its_circle(diameter: int) -> None:
    """Nav2 draws the radius as a 16-gon inside its circle (nav2_costmap_2d/src/footprint.cpp, makeFootprintFromRadius), whose
    edges come to r·cos(pi/16): the least whole millimetre that holds the plate; of 340 mm it is 174."""
    a = robot(f"{{circle: {diameter}}}")
    radius = robot_radius(a)
    assert radius is not None
    least = math.ceil(diameter / 2 / math.cos(math.pi / 16) - 1e-9)
    assert least <= round(radius * 1e3) <= least + 1  # the hull bounds circles to 0.12 %
    if diameter == 340:
        assert radius == pytest.approx(0.174)
    # and the outline: the 16 tangents of a disc reach r / cos(pi/16), rounded outward to whole millimetres
    xs, ys = ([p[k] * 1e3 for p in footprint_of(a)] for k in (0, 1))
    for side in (max(xs) - min(xs), max(ys) - min(ys)):
        assert diameter <= side <= diameter / math.cos(math.pi / 16) + 4


@pytest.mark.parametrize("outline", ["{rectangle: [240, 180], corner: 2}", "{rectangle: [240, 180], corner: 12}",
                                     "{circle: 260}", "{rectangle: [300, 200], corner: 30}", "{rectangle: [241, 177], corner: 6}"])
def test_no_edge_is_under_5_mm(outline: str) -> None:
    points = footprint_of(robot(outline))
    assert min(math.dist(a, b) for a, b in zip(points, (*points[1:], points[0]))) >= 5e-3 - 1e-12
    assert len(points) <= 16
    assert sorted((x, -y + 0.0) for x, y in points) == sorted(points)  # its mirror image in y, as the robot is
