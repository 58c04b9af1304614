"""Swivel casters swung round: footprint, room and tipping, by hand and by sampling yaws. Lengths in millimetres."""
from __future__ import annotations

import math
import random
from typing import Any

import numpy as np
import pytest

import chassis_describe as cd
from chassis_describe.facts.figures import ground_figures
from chassis_describe.facts.footprint import footprint_of
from chassis_describe.space.ground.support import tip_edges
from chassis_describe.space.pose import Pose, rot_x, rot_z, translation

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
    return cd.assemble(cd.read("trial.yaml", text=robot_text(caster, more)))


def robot_text(caster: str, more: str = "") -> str:
    # deck 4 mm, shafts 10 mm below it, wheels of 80 mm: the ground is 50 mm below the plate; the caster is 50 mm high
    return f"""layout: 1
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
"""


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


def with_fork(caster: str, more: str = "") -> cd.Assembly:
    """The same with a fork: two cheeks of 40 x 2 x 16 mm beside the wheel, which reach 36 mm behind the axis, and a bolt."""
    fork = ("{box: [40, 2, 16], at: [-16, 11, 30], with: swivel}, {box: [40, 2, 16], at: [-16, -11, 30], with: swivel}, "
            "{cylinder: [6, 30], axis: y, at: [-30, 0, 24], with: swivel}, {cylinder: [30, 14], axis: y, at: [-20, 0, 35]}")
    text = robot_text(caster, more).replace("bodies: [{box: [30, 30, 4], at: [0, 0, 2]}], bolts: [[-10, -10]",
                                            f"bodies: [{{box: [30, 30, 4], at: [0, 0, 2]}}, {fork}], bolts: [[-10, -10]")
    return cd.assemble(cd.read("trial.yaml", text=text))


def test_the_fork_counts_in_the_ring() -> None:
    """Its cheeks reach hypot(36, 12) = 37.95 mm from the axis, more than the wheel's 35.69."""
    back = min(x for x, _ in footprint_of(with_fork("at: [-5, 0], fixing: adhesive"))) * 1e3
    reach = 100 + math.hypot(36, 12)
    assert -reach - 2 < back <= -reach + 1e-6


@pytest.mark.judge
def test_what_the_ring_meets_is_what_coal_meets() -> None:
    """Posts around a caster, still in one robot and turning in the next, wheel and fork each at 360 yaws, by coal. The check takes steps of 2 degrees, 0.7 mm of rim to either
    side, and leaves 0.1 mm: meetings by less than 0.35 mm are left open, and so is what it meets as drawn (bodies-overlap)."""
    coal = pytest.importorskip("coal")
    rng = random.Random(4)
    request = coal.DistanceRequest()
    request.enable_signed_distance = True
    lying = Pose(rot_x(math.pi / 2))
    swung = [(coal.Box(0.04, 0.002, 0.016), translation(-0.016, 0.011, -0.005)),
             (coal.Box(0.04, 0.002, 0.016), translation(-0.016, -0.011, -0.005)),
             (coal.Cylinder(0.003, 0.030), translation(-0.030, 0.0, -0.011) @ lying),
             (coal.Cylinder(0.015, 0.014), translation(-0.020, 0.0, 0.0) @ lying)]
    met = free = 0
    for n in range(10):
        angle, away, lift = rng.uniform(-math.pi, math.pi), rng.uniform(30, 52), rng.uniform(8, 20)
        x, y = -80 + away * math.cos(angle), away * math.sin(angle)
        post = (f"  post: {{part: post, on: lower, face: under, at: [{x / 20}, {-y / 20}], lift: {lift}, turn: "
                f"{rng.uniform(0, 90)}, fixing: adhesive}}")
        a = with_fork("at: [-4, 0], fixing: adhesive", post + ("\nros: {casters: turning}" if n % 2 else ""))
        frame = a.parts["caster"].pose @ translation(0.0, 0.0, 0.035)
        link = next(k for k in a.links if k.owner == "post")
        standing = (coal.Box(0.008, 0.008, 0.030), moved(coal, a.poses[link.name] @ link.bodies[0].pose))

        def nearest(yaw: float, frame: Pose = frame, standing: Any = standing) -> float:
            return min(coal.distance(*standing, form, moved(coal, frame @ Pose(rot_z(yaw)) @ at), request, coal.DistanceResult())
                       for form, at in swung)

        depth = -min(nearest(math.pi * k / 180) for k in range(360))
        if -0.0001 < depth < 0.00035 or nearest(0.0) < 0.0005:
            continue
        found = [f for f in cd.check(a) if f.code == "caster-swing-blocked"]
        assert bool(found) == (depth > 0), (x, y, lift, depth)
        met, free = met + bool(found), free + (not found)
        if found:
            assert depth * 1e3 - 0.75 < (found[0].measured or 0.0) < depth * 1e3 + 0.02
    assert met > 2 and free > 1


def moved(coal: Any, pose: Pose) -> object:
    return coal.Transform3s(np.array(pose.r).reshape(3, 3), np.array(pose.t))


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


def test_two_casters_that_swing_towards_one_another() -> None:
    """Rings of hypot(20 + 15, 7) = 35.69 mm on axes 60 mm apart run 11.39 mm into one another; trailing, both are clear."""
    from chassis_describe.fit.casters import casters_swing

    for apart, said in ((3, 2 * math.hypot(35, 7) - 60), (4, None)):
        a = robot("at: [-4.5, 0.5]", f"  other: {{part: swivel, on: lower, face: under, at: [-4.5, {0.5 - apart}]}}")
        found = [f for f in casters_swing(a) if f.of == ("caster", "other")]
        assert [f.measured for f in found] == ([pytest.approx(said, abs=1e-6)] if said is not None else [])


def test_without_trail_nothing_changes() -> None:
    square = [(0.1, 0.1), (0.1, -0.1), (-0.1, -0.1), (-0.1, 0.1)]
    for com in ((0.0, 0.0), (0.02, 0.05)):
        still = {frozenset(t.ends): t.angle for t in tip_edges(square, com, 0.1)}
        swung = {frozenset(t.ends): t.angle for t in tip_edges(square, com, 0.1, [0.0, 0.0, 0.0, 1e-12])}
        assert still == pytest.approx(swung, abs=1e-9)
