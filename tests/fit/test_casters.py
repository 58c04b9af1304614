"""Swivel casters swung round: footprint, room and tipping, by hand and by sampling yaws. Lengths in millimetres."""
from __future__ import annotations

import math
import random

import pytest

import chassis_describe as cd
from chassis_describe.facts.figures import ground_figures
from chassis_describe.facts.footprint import footprint_of
from chassis_describe.space.ground.support import tip_edges

PARTS = """
parts:
  gearmotor: {mass: 70, bodies: [{box: [50, 20, 20], at: [0, 0, 10]}], bolts: [[-20, 0], [20, 0]],
              shafts: {out: {at: [30, 0, 10], axis: forward}}}
  tyre: {mass: 90, wheel: {diameter: 80, width: 20, offset: 12}}
  swivel: {mass: 50, bodies: [{box: [30, 30, 4], at: [0, 0, 2]}], bolts: [[-10, -10], [-10, 10], [10, -10], [10, 10]],
           caster: {wheel: [30, 14], trail: 20, at: [-20, 0, 35]}}
  weight: {mass: 500, bodies: [{box: [60, 60, 40], at: [0, 0, 20]}], bolts: [[-20, 0], [20, 0]]}
  post: {mass: 10, bodies: [{box: [8, 8, 30], at: [0, 0, 15]}], bolts: [[0, 0]]}
"""


def robot(caster: str = "at: [-4.5, 0.5]", more: str = "") -> cd.Assembly:
    # deck 4 mm, shafts 10 mm below it, wheels of 80 mm: the ground is 50 mm below the plate; the caster is 50 mm high
    return cd.assemble(cd.read("trial.yaml", text=f"""layout: 1
robot: trial
{PARTS}
decks:
  lower: {{outline: {{rectangle: [240, 136], corner: 12}}, thickness: 4, material: birch plywood}}
placements:
  motor_left: {{part: gearmotor, on: lower, face: under, at: [0, 2], points: left}}
  motor_right: {{part: gearmotor, on: lower, face: under, at: [0, -2], points: right}}
  wheel_left: {{part: tyre, on: motor_left}}
  wheel_right: {{part: tyre, on: motor_right}}
  caster: {{part: swivel, on: lower, face: under, {caster}}}
  weight: {{part: weight, on: lower, at: [-2, 0]}}
{more}
drive: {{kind: differential, left: [wheel_left], right: [wheel_right]}}
"""))


LATTICE_10 = ", lattice: {pitch: 10}"


def test_the_ring_counts_in_the_footprint() -> None:
    """Turned to trail forwards, the wheel still reaches back to hypot(20 + 15, 7) = 35.7 mm behind its swivel axis."""
    ahead = robot("at: [-5, 0], turn: 180, fixing: adhesive")
    behind = robot("at: [-5, 0], fixing: adhesive")
    reach = 100 + math.hypot(35, 7)
    for a in (ahead, behind):
        back = min(x for x, _ in footprint_of(a)) * 1e3
        assert -reach - 2 < back <= -reach + 1e-6  # whole millimetres outward, and 0.12 % of the radius
    assert footprint_of(ahead) == footprint_of(behind)


def test_a_post_in_the_ring_is_said_and_one_outside_is_not() -> None:
    # the swivel axis at x = -80, the post (8 x 8) at -60: the wheel, trailing back, is at -115 … -85; swung forward at -75 … -45
    inside = robot("at: [-4, 0], fixing: adhesive", "  post: {part: post, on: lower, face: under, at: [-3, 0], lift: 15}")
    found = [f for f in cd.check(inside) if f.code == "caster-swing-blocked"]
    assert len(found) == 1 and set(found[0].of) == {"caster", "post"}
    assert "35.69 mm" in found[0].message
    # 40 mm ahead of the axis: the ring of 35.7 mm ends before 40 - 4
    outside = robot("at: [-4, 0], fixing: adhesive", "  post: {part: post, on: lower, face: under, at: [-2, 0], lift: 15}")
    assert not [f for f in cd.check(outside) if f.code == "caster-swing-blocked"]


def test_tip_angles_are_those_of_the_worst_yaw() -> None:
    a = robot("at: [-5, 0], fixing: adhesive")
    ground = ground_figures(a)
    assert ground is not None and a.rest is not None and a.inertial is not None
    com = a.rest.base_in_ground.point(a.inertial.com)
    least = {frozenset(t.edge): t.angle for t in ground.tips}
    wheels = {w.placement: w.centre for w in a.wheels}
    worst = math.inf
    for k in range(3600):  # the caster's contact on its circle about (-100, 0)
        yaw = math.radians(k / 10)
        foot = (-0.100 + 0.020 * math.cos(yaw), 0.020 * math.sin(yaw))
        feet = [(wheels["wheel_left"][0], wheels["wheel_left"][1]), (wheels["wheel_right"][0], wheels["wheel_right"][1]), foot]
        tips = {frozenset(t.ends): t.angle for t in tip_edges(feet, com[:2], com[2])}
        worst = min(worst, tips[frozenset((0, 2))])
    assert least[frozenset(("wheel_left", "caster"))] == pytest.approx(worst, abs=1e-6)
    assert least[frozenset(("wheel_left", "caster"))] == pytest.approx(least[frozenset(("wheel_right", "caster"))], abs=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_the_least_tip_angle_is_that_of_any_yaws_at_all(seed: int) -> None:
    """Four contacts, two or more of them casters, swung independently in steps of 3 degrees by hill climbing and at random:
    none tips sooner than said, and some tip about as soon."""
    rng = random.Random(seed)
    middles = [(0.1 + rng.uniform(-.02, .02), 0.08), (0.1, -0.08 + rng.uniform(-.02, .02)), (-0.1, 0.09), (-0.12, -0.07)]
    trails = [0.0, 0.0, 0.02, 0.03] if seed % 2 else [0.01, 0.03, 0.02, 0.03]
    com, height = (rng.uniform(-.03, .03), rng.uniform(-.03, .03)), 0.1
    said = min(t.angle for t in tip_edges(middles, com, height, trails))

    def least(yaws: list[float]) -> float:
        feet = [(x + t * math.cos(u), y + t * math.sin(u)) for (x, y), t, u in zip(middles, trails, yaws)]
        return min(t.angle for t in tip_edges(feet, com, height))

    found = math.inf
    for _ in range(30):
        yaws = [rng.uniform(0, 2 * math.pi) for _ in middles]
        for step in (0.5, 0.1, 0.02):
            for _ in range(40):
                tried = [u + rng.gauss(0, step) for u in yaws]
                if least(tried) < least(yaws):
                    yaws = tried
        found = min(found, least(yaws))
    assert said <= found + 1e-9
    assert found == pytest.approx(said, abs=0.02)


def test_without_trail_nothing_changes() -> None:
    square = [(0.1, 0.1), (0.1, -0.1), (-0.1, -0.1), (-0.1, 0.1)]
    for com in ((0.0, 0.0), (0.02, 0.05)):
        still = {frozenset(t.ends): t.angle for t in tip_edges(square, com, 0.1)}
        swung = {frozenset(t.ends): t.angle for t in tip_edges(square, com, 0.1, [0.0, 0.0, 0.0, 1e-12])}
        assert still == pytest.approx(swung, abs=1e-9)
