"""The trial course against closed forms: statics of a rigid body on Coulomb friction, the check's tip angles, kinematics."""
from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from chassis_describe import assemble, read
from chassis_describe.facts.figures import figures_of
from chassis_describe.trial.course import Trials, _slope, run
from chassis_describe.trial.engine import GRAVITY, Engine
from chassis_describe.trial.kinematics import FloorPose, Motion, moved, wheel_speeds
from chassis_describe.trial.report import trials_data, trials_text
from tests.robots import DRIVE, catalogue_drive, layout

pytest.importorskip("mujoco")
pytestmark = pytest.mark.judge
TOP = Path(__file__).resolve().parents[2]


@cache
def course(name: str) -> tuple[Any, Trials]:
    """A demo robot, and what it drove."""
    assembly = assemble(read(TOP / "config" / f"{name}.yaml"))
    return assembly, run(assembly)


@pytest.fixture(scope="module", params=["draught_scout", "seedling_cart", "prop_barrow"])
def driven(request: pytest.FixtureRequest) -> tuple[Any, Trials]:
    return course(request.param)


def test_it_stands_as_the_check_says(driven: tuple[Any, Trials]) -> None:
    """Within what soft contacts are good for: 0.1 mm and 0.05 degrees (common practice)."""
    stand = driven[1].stand
    assert stand is not None
    assert stand.found.height == pytest.approx(stand.expected.height, abs=1e-4)
    assert stand.found.roll_deg == pytest.approx(stand.expected.roll_deg, abs=0.05)
    assert stand.found.pitch_deg == pytest.approx(stand.expected.pitch_deg, abs=0.05)
    assert stand.jitter < 1e-4


def test_odometry_is_true(driven: tuple[Any, Trials]) -> None:
    """Wheels with plain treads within 1 %, with rollers within 5 % (they slip while one roller hands over to the next)."""
    assembly, trials = driven
    share = 0.05 if assembly.drive.kind == "mecanum" else 0.01
    assert trials.straight is not None and trials.turn is not None
    assert trials.straight.travelled == pytest.approx(trials.straight.odometry, rel=share)
    assert trials.straight.odometry == pytest.approx(1.0, rel=0.002)
    assert abs(trials.straight.drift) < 0.01
    assert trials.turn.turned_deg == pytest.approx(trials.turn.odometry_deg, rel=share)
    assert trials.turn.radius < 0.005
    if assembly.drive.kind == "mecanum":
        assert trials.strafe is not None
        assert trials.strafe.travelled == pytest.approx(trials.strafe.odometry, rel=share)
        assert trials.strafe.odometry == pytest.approx(0.5, rel=0.002)
    else:
        assert trials.strafe is None


def closed_form(assembly: Any, side: str) -> tuple[float, str]:
    """Slope (degrees) at which wheels (held) and casters no longer hold, or the robot tips; along x, two axles.

    Loads from the balance of moments about the ground: N_w + N_c = m g cos a, N_c L = m g (d cos a ± h sin a), with d how far
    the centre of mass is from the driven axle towards the caster, h its height. It slides at mu_w N_w + mu_c N_c =
    m g sin a (Coulomb), tips where the uphill load is nothing: tan a = arm / h.
    """
    ground = assembly.rest.base_in_ground
    com = ground.point(assembly.inertial.com)
    wheel = assembly.wheels[0]
    caster = assembly.casters[0]
    w, c = ground.point(wheel.centre)[0], ground.point(caster.centre)[0]
    reach = c - w
    share = (com[0] - w) / reach
    mu_w, mu_c = wheel.friction, caster.friction
    down = {"front": 1.0, "back": -1.0}[side]
    low, high = 0.0, math.radians(80)
    while high - low > 1e-6:
        a = (low + high) / 2
        n_c = share * math.cos(a) + down * com[2] / reach * math.sin(a)
        n_w = math.cos(a) - n_c
        if n_c <= 0 or n_w <= 0:
            ends = "tips"
        elif mu_w * n_w + mu_c * n_c < math.sin(a):
            ends = "slides"
        else:
            low = a
            continue
        high, last = a, ends
    return math.degrees(low), last


@pytest.mark.parametrize("side", ["front", "back"])
def test_slopes_end_as_statics_says(driven: tuple[Any, Trials], side: Any) -> None:
    assembly, trials = driven
    if assembly.drive.kind == "mecanum":
        return  # rollers grip along their axles: see below
    assert trials.slope is not None
    expected, ends = closed_form(assembly, side)
    assert trials.slope[side].ends == ends
    assert trials.slope[side].deg == pytest.approx(expected, abs=1.0)


@pytest.mark.parametrize("friction", [0.02, 0.4])
def test_casters_hold_what_their_friction_lets_them(friction: float) -> None:
    """The layout's `friction` of a caster, on wheels of 0.3 that slide before the robot tips: the same closed form."""
    robot = assemble(read(TOP / "config/draught_scout.yaml"))
    robot = replace(robot, wheels=tuple(w._replace(friction=0.3) for w in robot.wheels),
                    casters=tuple(c._replace(friction=friction) for c in robot.casters))
    expected, ends = closed_form(robot, "front")
    found = _slope(Engine(robot), "front")
    assert (found.ends, ends) == ("slides", "slides")
    assert found.deg == pytest.approx(expected, abs=1.0)


def test_a_tip_is_where_the_check_says(driven: tuple[Any, Trials]) -> None:
    """Where the course tips, it does within a degree of the check's tip angle over an edge square to the slope."""
    assembly, trials = driven
    tips = figures_of(assembly).ground.tips
    for side, slope in (trials.slope or {}).items():
        if slope.ends == "tips" and side == "front":
            front = min(tips, key=lambda t: abs(math.degrees(t.angle) - slope.deg))
            assert slope.deg == pytest.approx(math.degrees(front.angle), abs=1.0)


def test_mecanum_slides_where_its_rollers_let_it(driven: tuple[Any, Trials]) -> None:
    """A held wheel grips along its roller's axle alone, at 45 degrees to the slope: the force uphill is at most
    mu N cos 45, so it slides at tan a = mu / sqrt(2) (resolution of a force; rollers without friction of their own)."""
    assembly, trials = driven
    if assembly.drive.kind != "mecanum":
        return
    expected = math.degrees(math.atan((assembly.wheels[0].friction or 0.8) * math.sqrt(0.5)))
    for side in ("front", "back"):
        assert trials.slope is not None
        assert trials.slope[side].ends == "slides"
        assert trials.slope[side].deg == pytest.approx(expected, abs=3.0)


def test_same_robot_same_figures() -> None:
    """Another engine, which has driven nothing before it."""
    assembly, trials = course("seedling_cart")
    assert trials.slope is not None
    assert {side: _slope(Engine(assembly), side) for side in trials.slope} == trials.slope


def test_weak_motors_roll_down() -> None:
    """A motor of torque T holds a wheel of radius r against T / r; the caster's friction helps: two motors hold
    m g sin a = 2 T / r + mu_c N_c, with the caster's load as in the closed form above."""
    robot = assemble(read(TOP / "config/draught_scout.yaml"))
    weak = 0.02
    wheels = tuple(w._replace(motor=replace(w.motor, torque=weak)) for w in robot.wheels)
    drive = replace(robot.drive, left=tuple(w for w in wheels if w.side == "left"),
                    right=tuple(w for w in wheels if w.side == "right"))
    joints = tuple(j._replace(effort=weak) if j.effort else j for j in robot.joints)
    engine = Engine(replace(robot, wheels=wheels, drive=drive, joints=joints))
    found = _slope(engine, "front")
    radius = wheels[0].radius
    assert found.ends == "rolls"
    ground = robot.rest.base_in_ground
    com, reach = ground.point(robot.inertial.com), ground.point(robot.casters[0].centre)[0] - ground.point(wheels[0].centre)[0]
    share = (com[0] - ground.point(wheels[0].centre)[0]) / reach
    a = math.radians(found.deg)
    held = 2 * weak / (radius * robot.inertial.mass * GRAVITY) + robot.casters[0].friction * (
        share * math.cos(a) + com[2] / reach * math.sin(a))
    assert math.sin(a) == pytest.approx(held, rel=0.05)


def test_text_and_json_say_all_of_it(driven: tuple[Any, Trials]) -> None:
    assembly, trials = driven
    data = trials_data(assembly.robot, trials)["trials"]
    assert list(data) == ["stand", "straight", "turn", "strafe", "brake", "slope", "step"]
    assert set(data["stand"]) == {"height", "roll_deg", "pitch_deg", "expected", "jitter"}
    assert set(data["straight"]) == {"asked", "odometry", "travelled", "drift", "heading_deg"}
    assert set(data["turn"]) == {"asked_deg", "odometry_deg", "turned_deg", "radius"}
    assert set(data["slope"]) == {"front", "back", "left", "right"}
    text = trials_text(assembly.robot, trials)
    assert "emergency stop" in text
    assert all(word in text for word in ("stand", "straight", "turn", "brake", "front down", "step"))


def test_nothing_to_try() -> None:
    plate = assemble(read("plate.yaml", text="layout: 1\nrobot: plate\ndecks: {lower: {outline: {rectangle: [100, 80]}, "
                                             "thickness: 4, material: acrylic}}\n"))
    trials = run(plate)
    assert trials == Trials(None, None, None, None, None, None, None)
    assert "nothing can be tried" in trials_text("plate", trials)


@pytest.mark.parametrize("name", ["draught_scout", "prop_barrow"])
def test_kinematics_there_and_back(name: str) -> None:
    """Wheel speeds of a motion give that motion again."""
    drive = assemble(read(TOP / "config" / f"{name}.yaml")).drive
    wanted = Motion(0.3, 0.2 if drive.kind == "mecanum" else 0.0, 0.4)
    assert moved(drive, wheel_speeds(drive, wanted)) == pytest.approx(wanted)


def test_odometry_goes_round() -> None:
    """A quarter circle of radius 1 in small steps ends at (1, 1), heading left."""
    place = FloorPose()
    for _ in range(1000):
        place = place.after(Motion(math.pi / 2000, 0.0, math.pi / 2000))
    assert place == pytest.approx((1.0, 1.0, math.pi / 2), abs=1e-6)


def test_the_manual_shows_what_the_command_prints(driven: tuple[Any, Trials]) -> None:
    assembly, trials = driven
    shown = (TOP / "chassis_describe/manual/simulate.md").read_text(encoding="utf-8")
    block = shown.split("```\n" + "draught_scout\n", 1)[1].split("```", 1)[0]
    if assembly.robot == "draught_scout":
        printed = trials_text(assembly.robot, trials).splitlines()
        for line in block.splitlines():
            assert line in printed or line == "…", line


#: Ours, invented: the starter's shape on a caster that swivels.
TROLLEY = layout(
    "trolley", decks="  lower: {outline: {rectangle: [240, 160], corner: 12}, thickness: 4, material: birch plywood}",
    placements=catalogue_drive("lower") + """\
  caster:      {part: swivel_caster_h45, on: lower, face: under, at: [-4.5, 0.5], lift: 13.5}
  cradle:      {part: battery_cradle_small, on: lower, at: [-3, 0], points: left}
  battery:     {part: battery_small, on: cradle, fixing: strap}
""", more=DRIVE)


def test_a_swivel_caster_follows_the_turn() -> None:
    """On the spot a trailing wheel comes to stand square to the line to the turning centre: tan = trail side over arm."""
    assembly = assemble(read("trolley.yaml", text=TROLLEY))
    engine = Engine(assembly)
    while engine.time < 4.0:
        engine.command(Motion(turn=min(1.0, engine.time)))
        engine.step()
    joint = engine.assembly.parts["caster"].moving["swivel"]
    angle = float(engine.data.qpos[engine.model.joint(joint.replace("_link", "_joint")).qposadr[0]])
    x, y, _ = assembly.casters[0].centre
    arm = math.hypot(x + 0.016, y)  # to the swivel axis; the axle trails 16 mm
    assert math.sin(abs(abs(angle) - math.pi / 2)) == pytest.approx(0.016 / arm, abs=0.12)
    assert engine.whereabouts().yaw == pytest.approx(math.remainder(engine.odometry.yaw, 2 * math.pi), abs=0.05)


def test_a_swivel_caster_lets_it_drive() -> None:
    engine = Engine(assemble(read("trolley.yaml", text=TROLLEY)))
    while engine.time < 3.0:
        engine.command(Motion(forward=min(0.2, 0.5 * engine.time, 0.5 * (2.8 - engine.time)) if engine.time < 2.8 else 0.0))
        engine.step()
    assert engine.whereabouts().x == pytest.approx(engine.odometry.x, rel=0.01)
    assert abs(engine.whereabouts().y) < 0.01
