"""The ground's findings and key figures against arithmetic on a robot whose heights are whole millimetres.

Deck 4 mm thick; motors under it with their shafts 10 mm down, wheels of 80 mm: the ground is 54 mm under the deck's top.
Balls of 20 mm whose middle is 20 mm from their base: with ``lift: 20`` they end there, too. The robot is invented.
"""
from __future__ import annotations

import math
import re

import numpy as np
import pytest

import chassis_describe as cd
from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.figures import figures_of, ground_figures
from chassis_describe.facts.heights import heights_of
from chassis_describe.findings import Finding, Severity
from chassis_describe.fit.axles import expected_hand
from chassis_describe.fit.ground import GROUND_CHECKS
from chassis_describe.reports.figures import figures_data
from tests.robots import DRIVE, layout

PARTS = """\
  gearmotor: {mass: 70, bodies: [{box: [50, 20, 20], at: [0, 0, 10]}], bolts: [[-20, 0], [20, 0]],
              shafts: {out: {at: [30, 0, 10], axis: forward}}}
  tyre: {mass: 90, wheel: {diameter: 80, width: 20, offset: 12}}
  left_hand: {mass: 90, wheel: {diameter: 80, width: 20, offset: 12, rollers: left}}
  right_hand: {mass: 90, wheel: {diameter: 80, width: 20, offset: 12, rollers: right}}
  ball: {mass: 20, bodies: [{box: [20, 50, 5], at: [0, 0, 2.5]}], bolts: [[0, -20], [0, 20]],
         caster: {ball: 20, at: [0, 0, 20]}}
  weight: {mass: 500, bodies: [{box: [60, 60, 40], at: [0, 0, 20]}], bolts: [[-20, 0], [20, 0]]}
  rod: {mass: 20, bodies: [{cylinder: [10, 40], axis: x, at: [0, 0, 10]}]}
  eye: {mass: 20, bodies: [{box: [50, 10, 10], at: [0, 0, 5]}], bolts: [[-20, 0], [20, 0]],
        sensors: {eye: {kind: lidar, at: [0, 0, 15], fov: 180, samples: 180, range: [0.1 m, 5 m]}}}
"""
PLATE = "  lower: {outline: {rectangle: [240, 136]}, thickness: 4, material: birch plywood}"


def wheels(left: str = "at: [0, 2], points: left", right: str | None = "at: [0, -2], points: right") -> str:
    """Both motors with their wheels: where each one is, the right one None for the left one's mirror image."""
    other = "mirror_of: motor_left" if right is None else f"part: gearmotor, on: lower, face: under, {right}"
    return f"""\
  motor_left: {{part: gearmotor, on: lower, face: under, {left}}}
  motor_right: {{{other}}}
  wheel_left: {{part: tyre, on: motor_left}}
  wheel_right: {{part: tyre, on: motor_right}}
"""


def made(placements: str, *, parts: str = PARTS, decks: str = PLATE, more: str = DRIVE) -> Assembly:
    return cd.assemble(cd.read("trial.yaml", text=layout("trial", parts=parts, decks=decks, placements=placements, more=more)))


def robot(caster: str = "at: [-5, 0], lift: 20", weight: str = "[-2, 0]", more: str = "", drive: str = DRIVE,
          motors: tuple[str, str] = ("", ""), limits: str = "") -> Assembly:
    placements = wheels(f"at: [0, 2], points: left{motors[0]}", f"at: [0, -2], points: right{motors[1]}") + f"""\
  caster: {{part: ball, on: lower, face: under, {caster}}}
  weight: {{part: weight, on: lower, at: {weight}}}
{more}
"""
    return made(placements, decks=PLATE.replace("136]", "136], corner: 12"), more=f"{drive}\nchecks: {{limits: {{{limits}}}}}")


def found(assembly: Assembly, code: str | None = None) -> list[Finding]:
    return [f for rule in GROUND_CHECKS for f in rule(assembly) if code in (None, f.code)]


def test_sound_robot_has_nothing_to_say() -> None:
    assert found(robot()) == []


def test_summary_by_hand() -> None:
    a = robot()
    summary = figures_data(figures_of(a))
    assert summary["rest"] == {"roll_deg": 0.0, "pitch_deg": 0.0, "height": 0.04}
    assert {c["of"]: c["xyz"] for c in summary["contacts"]} == {
        "wheel_left": pytest.approx([0, 0.082, 0], abs=1e-15), "wheel_right": pytest.approx([0, -0.082, 0], abs=1e-15),
        "caster": pytest.approx([-0.1, 0, 0], abs=1e-15)}
    # statics about the axle and about the middle line, from the whole robot's centre of mass
    assert a.inertial is not None
    x, y, z = a.inertial.com
    shares = {c["of"]: c["load_share"] for c in summary["contacts"]}
    caster = -x / 0.1
    assert shares["caster"] == pytest.approx(caster, abs=1e-12)
    assert shares["wheel_left"] == pytest.approx((1 - caster) / 2 + y / 0.164, abs=1e-12)
    assert summary["load_model"] == "statics"
    front = next(t for t in summary["tip"] if set(t["edge"]) == {"wheel_left", "wheel_right"})
    assert front["angle_deg"] == pytest.approx(math.degrees(math.atan2(-x, z + 0.04)), abs=1e-9)
    assert front["acceleration"] == pytest.approx(9.80665 * -x / (z + 0.04), abs=1e-12)


def test_four_wheels_state_their_model() -> None:
    a = robot(more="  nose: {part: ball, on: lower, face: under, at: [5, 0], lift: 20}", weight="[0, 0]")
    ground = figures_of(a).ground
    assert ground is not None
    assert ground.load_model == "equal springs"
    assert sum(load.share or 0.0 for load in ground.loads) == pytest.approx(1.0, abs=1e-12)


def test_no_wheels_no_ground() -> None:
    text = "layout: 1\nrobot: trial\ndecks:\n  p: {outline: {circle: 100}, thickness: 4, material: acrylic}\n"
    a = cd.assemble(cd.read("trial.yaml", text=text))
    assert figures_of(a).ground is None
    assert {figures_data(figures_of(a))[name] for name in ("rest", "contacts", "load_model", "tip")} == {None}
    assert found(a) == []


@pytest.mark.parametrize("lift", [12.0, 15.0, 23.5, 26.0])
def test_the_lift_in_the_hint_levels_it(lift: float) -> None:
    a = robot(f"at: [-5, 0], lift: {lift}")
    tilted, = found(a, "rests-tilted")
    assert tilted.of == ("caster",)
    # wheel and ball touch one plane, tilted by p about the axle: 40 = 100·sin(p) + (10 + lift)·cos(p) + 10, p nose up
    assert tilted.measured is not None and a.rest is not None
    p = math.copysign(math.radians(tilted.measured), -a.rest.base_in_ground.rpy[1])
    assert 100 * math.sin(p) + (10 + lift) * math.cos(p) + 10 == pytest.approx(40, abs=1e-9)
    assert (p > 0) == (lift < 20)
    key = re.search(r"`lift: ([0-9.]+)` for caster", tilted.hint)
    assert key is not None and float(key[1]) == 20.0
    level = robot(f"at: [-5, 0], lift: {key[1]}")
    assert level.rest is not None and level.rest.base_in_ground.rpy == (0.0, 0.0, 0.0)
    assert str(tilted.where[0].path[-1]) == "lift"


def test_a_caster_on_the_wrong_face_is_told_to_go_under() -> None:
    # no `lift` brings a ball on top of a deck to the ground under it: the slip is the missing `face: under`
    a = made(wheels() + """\
  caster: {part: ball, on: lower, at: [-5, 0], lift: 20}
  weight: {part: weight, on: lower, at: [-2, 0]}
""")
    tilted, = found(a, "rests-tilted")
    assert tilted.hint == "caster stands on top of lower: mount it with `face: under`"


def test_a_lift_on_the_top_face_goes_the_other_way() -> None:
    # a post with a ball on its far end, through the deck's edge: standing on top of a second deck it is raised by more lift
    leg = "  leg: {mass: 20, bodies: [{box: [20, 50, 5], at: [0, 0, 2.5]}], bolts: [[0, -20], [0, 20]], caster: {ball: 20, at: [0, 0, %d]}}"
    placements = wheels() + """\
  leg: {part: leg, on: lower, at: [-5, 0], lift: 0}
  weight: {part: weight, on: lower, at: [-2, 0]}
"""
    # the ball ends 50 mm under the top face, the ground is 54 mm under it: lower by 4 mm is no spacer; the motors come up?
    tilted, = found(made(placements, parts=PARTS + leg % -40), "rests-tilted")
    assert "`lift:" not in tilted.hint and "4 mm too high" in tilted.hint  # motors can't be lifted by less than nothing
    tilted, = found(made(placements, parts=PARTS + leg % -47), "rests-tilted")
    assert "`lift: 3` for leg" in tilted.hint  # 57 mm under it: 3 mm of spacer on top raise it


def test_a_caster_that_is_too_long_asks_for_the_motors() -> None:
    a = robot("at: [-5, 0]", motors=(", lift: 4", ", lift: 4"))
    # the caster ends 34 mm under the top face; the ground is at 58: no shorter caster than that, it is 24 mm too high
    tilted, = found(a, "rests-tilted")
    assert "`lift: 24` for caster" in tilted.hint
    long = PARTS.replace("caster: {ball: 20, at: [0, 0, 20]}", "caster: {ball: 20, at: [0, 0, 43]}")
    a = made(wheels() + """\
  caster: {part: ball, on: lower, face: under, at: [-5, 0]}
  weight: {part: weight, on: lower, at: [-2, 0]}
""", parts=long)
    tilted, = found(a, "rests-tilted")
    assert "caster is 3 mm too low" in tilted.hint
    assert "`lift: 3` for motor_left and `lift: 3` for motor_right" in tilted.hint


def test_lifted_contacts() -> None:
    nose = "  nose: {part: ball, on: lower, face: under, at: [5, 0], lift: %g}"
    a = robot(more=nose % 18)
    lifted, = found(a, "contact-lifted")
    assert (lifted.of, lifted.severity, lifted.measured) == (("nose",), Severity.WARNING, pytest.approx(2.0, abs=1e-9))
    assert found(robot(more=nose % 19.6), "contact-lifted") == []
    # both casters 3 mm long: the robot rocks on them, and a driven wheel hangs in the air
    a = robot("at: [-5, 0], lift: 23", more=nose % 23, weight="[0, 0]")
    lifted, = found(a, "contact-lifted")
    assert lifted.severity is Severity.ERROR and lifted.of[0].startswith("wheel_")
    rocks, = found(a, "rocks")
    assert set(rocks.of) == {"caster", "nose", "wheel_left", "wheel_right"}
    assert "`lift: 20` for caster" in rocks.hint and "`lift: 20` for nose" in rocks.hint


@pytest.mark.parametrize(("lift", "height"), [(20, 15.0), (31, 4.0), (35, 0.0), (36, -1.0)])
def test_clearance_of_a_lying_rod(lift: float, height: float) -> None:
    # under the deck (-4 mm), axis 10 mm + lift down, radius 5: 54 - 4 - lift - 10 - 5 over the ground
    a = robot(more=f"  rod: {{part: rod, on: lower, face: under, at: [-2, 0], turn: 30, lift: {lift}}}")
    low = found(a, "low-clearance")
    if height >= 5:
        assert low == []
        return
    assert [f.of for f in low] == [("rod",)]
    assert low[0].measured == pytest.approx(height, abs=1e-9)
    assert low[0].severity is (Severity.ERROR if height < 0 else Severity.WARNING)
    assert "`lift: 30` for rod" in low[0].hint


def on_balls(panel: str) -> Assembly:
    """Three balls, 50 mm under the deck, and a second plate."""
    return made("""\
  a: {part: ball, on: lower, face: under, at: [5, 0]}
  b: {part: ball, on: lower, face: under, at: [-5, 2]}
  c: {part: ball, on: lower, face: under, at: [-5, -2]}
""", parts="  ball: {mass: 20, bodies: [{box: [20, 50, 5], at: [0, 0, 2.5]}], caster: {ball: 20, at: [0, 0, 40]}}",
                decks=f"{PLATE}\n{panel}", more="")


def test_clearance_of_a_tilted_plate() -> None:
    # a leaning plate: its lowest corner, turned by hand; the ground is 4 + 50 mm under the deck's top
    a = on_balls("""\
  panel: {outline: {rectangle: [80, 60]}, thickness: 3, material: acrylic, fixed_to: lower, xyz: [60, 0, -30], rpy: [0, 30, 0]}
""")
    c, s = math.cos(math.radians(30)), math.sin(math.radians(30))
    corner = min(-x * s + z * c for x in (-40, 40) for z in (0, -3)) - 30
    low, = found(a, "low-clearance")
    assert (low.of, low.measured) == (("panel",), pytest.approx(54 + corner, abs=1e-9))


def test_one_clearance_of_an_upright_plate_with_round_corners() -> None:
    """A plate on edge, turned by 45° in its own plane, corners of 20 mm: by hand its lowest point is a tangent point.

    The arc's centre is at (40 - 20, -(30 - 20)) mm; z = -(20 + 10)/√2 - 20 mm. A sharp corner would be 8.3 mm lower.
    """
    a = on_balls("""\
  panel: {outline: {rectangle: [80, 60], corner: 20}, thickness: 3, material: acrylic, fixed_to: lower,
          xyz: [60, 0, -10], rpy: [90, 45, 0]}
""")
    by_hand = 54 - 10 - 30 / math.sqrt(2) - 20
    low, = found(a, "low-clearance")
    assert (low.of, low.measured) == (("panel",), pytest.approx(by_hand, abs=1e-9))
    assert heights_of(a).clearance * 1e3 == low.measured
    assert heights_of(a).top == pytest.approx(0.054 - 0.010 + 0.030 / math.sqrt(2) + 0.020, abs=1e-12)


def test_outside_support_says_how_far() -> None:
    a = robot(weight="[3, 0]")
    assert a.inertial is not None
    out, = found(a, "outside-support")
    assert out.severity is Severity.ERROR
    assert out.measured == pytest.approx(-a.inertial.com[0] * 1e3, abs=1e-9)
    assert "back" in out.hint
    assert found(a, "tips-early") == []  # said once
    assert all(c["load_share"] is None for c in figures_data(figures_of(a))["contacts"])


def test_tips_early_hint_is_enough() -> None:
    a = robot(weight="[-1, 0]")
    tip, = found(a, "tips-early")
    assert set(tip.of) == {"wheel_left", "wheel_right"}
    assert "tips forward, over the line" in tip.message  # the axle is in front of the caster: it can only fall that way
    more = re.search(r"centre of mass ([0-9.]+) mm back", tip.hint)
    lower = re.search(r"from ([0-9.]+) mm to ([0-9.]+) mm", tip.hint)
    assert more is not None and lower is not None and a.inertial is not None
    d, h = -a.inertial.com[0] * 1e3, a.inertial.com[2] * 1e3 + 40
    assert math.degrees(math.atan2(d + float(more[1]), h)) == pytest.approx(15, abs=0.01)
    assert math.degrees(math.atan2(d, float(lower[2]))) == pytest.approx(15, abs=0.01)
    assert float(lower[1]) == pytest.approx(h, abs=0.006)
    assert found(robot(weight="[-1, 0]", limits="tip_angle_deg: 10"), "tips-early") == []


def test_mirrored_robot_mirrored_figures() -> None:
    one = figures_data(figures_of(robot("at: [-5, 1], lift: 17", weight="[-2, 1]")))
    two = figures_data(figures_of(robot("at: [-5, -1], lift: 17", weight="[-2, -1]")))
    assert one["rest"]["roll_deg"] == pytest.approx(-two["rest"]["roll_deg"], abs=1e-9)
    assert one["rest"]["pitch_deg"] == pytest.approx(two["rest"]["pitch_deg"], abs=1e-9)
    loads = [{c["of"]: c["load_share"] for c in s["contacts"]} for s in (one, two)]
    assert loads[0]["wheel_left"] == pytest.approx(loads[1]["wheel_right"], abs=1e-9)
    assert loads[0]["caster"] == pytest.approx(loads[1]["caster"], abs=1e-9)


# ----------------------------------------------------------------------------------------------------------------- wheels
def four_wheels(hands: str) -> Assembly:
    spots = {"front_left": (3, 2, "left"), "rear_left": (-3, 2, "left"), "front_right": (3, -2, "right"),
             "rear_right": (-3, -2, "right")}
    lines = "".join(f"  motor_{n}: {{part: gearmotor, on: lower, face: under, at: [{i}, {j}], points: {to}}}\n"
                    f"  wheel_{n}: {{part: {'left_hand' if h == 'l' else 'right_hand'}, on: motor_{n}}}\n"
                    for h, (n, (i, j, to)) in zip(hands, spots.items()))
    sides = "left: [wheel_front_left, wheel_rear_left], right: [wheel_front_right, wheel_rear_right]"
    return made(lines, more=f"drive: {{kind: mecanum, {sides}}}")


@pytest.mark.parametrize("hands", ["lrrl", "rllr", "llrr", "rrrr", "lrrr"])
def test_rollers_follow_from_the_controllers_kinematics(hands: str) -> None:
    # ros2_controllers jazzy: mecanum_drive_controller.cpp turns the wheels at (vx ∓ vy ∓ k·ω)/r, with vy counted negative
    # at front left and rear right. A wheel whose roller axis at the ground is e rolls without scrubbing when
    # e·(v - r·w·x) = 0. A "left" wheel has its roller rise to the left of who stands before it (common practice): he faces
    # the robot, so his left is its right, -y.
    a = four_wheels(hands)
    scrubs = []
    for wheel in a.wheels:
        in_front = np.array([0.0, -1.0, 1.0]) if wheel.rollers == "left" else np.array([0.0, 1.0, 1.0])
        quarter = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0], [-1.0, 0.0, 0.0]])  # about +y: front (+x) to bottom (-z)
        e = quarter @ in_front
        sign = -1.0 if (wheel.centre[0] > 0) == (wheel.side == "left") else 1.0
        for v in ((1.0, 0.0), (0.0, 1.0), (0.3, -0.7)):
            rw = v[0] + sign * v[1]
            scrubs.append(abs(e[0] * (v[0] - rw) + e[1] * v[1]) > 1e-9)
    assert bool(found(a, "rollers-wrong")) == any(scrubs)
    assert (hands == "lrrl") == (not any(scrubs))


def test_expected_hands() -> None:
    a = four_wheels("lrrl")
    assert {w.placement[6:]: expected_hand(w, 0.0) for w in a.wheels} == {
        "front_left": "left", "rear_left": "right", "front_right": "right", "rear_right": "left"}
    wrong, = found(four_wheels("rllr"), "rollers-wrong")
    assert "O seen from above" in wrong.message and len(wrong.of) == 4


def test_the_turn_in_the_hint_straightens_the_axle() -> None:
    for side, turn in (("left", -88.0), ("right", 93.5)):
        text = f"turn: {turn}, fixing: adhesive"
        a = robot_with_turn(side, text)
        skewed, = found(a, "axle-skewed")
        assert skewed.measured == pytest.approx(abs(abs(turn) - 90), abs=1e-9)
        key = re.search(r"`(turn: [-0-9.]+)`", skewed.hint)
        assert key is not None
        assert found(robot_with_turn(side, f"{key[1]}, fixing: adhesive"), "axle-skewed") == []


def test_a_right_angle_typed_in_radians_is_no_skew() -> None:
    # 1.5708 rad is pi/2 to five digits: 3.7e-6 rad off, far less than screws in their holes let a motor twist
    assert found(robot_with_turn("right", "turn: 1.5708 rad"), "axle-skewed") == []


def test_motors_the_wrong_way_round_are_turned_not_renamed() -> None:
    a = made(wheels("at: [0, 1], points: right", None))
    unlike, = found(a, "axles-unlike")
    assert unlike.hint == "both shafts point inwards: turn the motors round, `points: left` for motor_left"
    overlaps = [f for f in cd.check(a) if f.code == "bodies-overlap" and "motor_left" in f.of]
    assert overlaps and all("its shaft points inwards: `points: left` for motor_left" in f.hint for f in overlaps)


def robot_with_turn(side: str, turn: str) -> Assembly:
    ways = {"left": "points: left", "right": "points: right", side: turn}
    return made(wheels(f"at: [0, 2], {ways['left']}", f"at: [0, -2], {ways['right']}")
                + "  caster: {part: ball, on: lower, face: under, at: [-5, 0], lift: 20}\n")


# ------------------------------------------------------------------------------------------------------------------- play
def test_play_at_range() -> None:
    a = robot(more="  eye: {part: eye, on: lower, at: [3, 0]}\n  taped: {part: eye, on: lower, at: [-4, 0], fixing: adhesive}")
    summary = figures_data(figures_of(a))
    # 3.5 mm holes on both sides of M3 screws 40 mm apart: 0.5 mm and 2·asin(0.5/40) = 1.432°; at 5 m: 125 mm
    assert summary["play"]["eye_frame"] == pytest.approx({"shift_mm": 0.5, "twist_deg": 1.43242}, abs=1e-4)
    assert summary["play"]["taped_frame"] is None
    assert summary["play_unknown"]["taped_frame"] == "taped"
    at = summary["play_at_range"]
    assert set(at) == {"eye_frame"}
    assert at["eye_frame"]["range"] == 5.0
    assert at["eye_frame"]["off_mm"] == pytest.approx(0.5 + 5000 * 2 * (0.5 / 40), abs=1e-9)
    assert at["eye_frame"]["text"] == "±1.43° is 125 mm at 5 m"


def four_casters(gap_mm: float, com: str = "[0, 0]") -> Assembly:
    """Four balls at the corners of 200 x 120 mm; the one front left is shorter by ``gap_mm``."""
    corners = {"fl": (5, 3, 20 - gap_mm), "fr": (5, -3, 20), "rl": (-5, 3, 20), "rr": (-5, -3, 20)}
    lines = "\n".join(f"  {n}: {{part: ball, on: lower, face: under, at: [{i}, {j}], lift: {lift:g}}}"
                      for n, (i, j, lift) in corners.items())
    return made(f"{lines}\n  weight: {{part: weight, on: lower, at: {com}}}\n", more="",
                decks="  lower: {outline: {rectangle: [240, 180], corner: 12}, thickness: 4, material: birch plywood}")


def test_a_caster_that_is_a_little_short_still_carries_and_bounds() -> None:
    """0.02 mm short: any floor is less flat. Springs that give 0.5 mm under the whole weight: the diagonal mode takes g/4 from
    each of one diagonal and gives it to the other, by hand 0.02/0.5/4 = 1 %. Tip edges are the four sides."""
    a = four_casters(0.02)
    summary = ground_figures(a)
    assert summary is not None
    shares = {c.of: c.share for c in summary.loads}
    assert [shares[n] for n in ("fl", "rr", "fr", "rl")] == pytest.approx([0.24, 0.24, 0.26, 0.26], abs=1e-3)
    assert {frozenset(t.edge) for t in summary.tips} == {frozenset(e) for e in (("fl", "fr"), ("fr", "rr"), ("rr", "rl"), ("rl", "fl"))}
    note, = found(a, "rocks")
    assert note.severity is Severity.NOTE and note.measured == pytest.approx(0.02, rel=1e-3) and "rocks by 0.02 mm" in note.message
    assert not found(a, "contact-lifted") and not found(a, "tips-early")


def test_loads_fade_out_until_a_contact_is_lifted() -> None:
    """From level to the limit of 0.5 mm the short one's share goes from a quarter to none; beyond, it has none to tell."""
    shares = []
    for gap in (0.0, 0.1, 0.25, 0.4, 0.4999):
        summary = ground_figures(four_casters(gap))
        assert summary is not None
        shares.append({c.of: c.share for c in summary.loads}["fl"])
    assert shares == pytest.approx([0.25, 0.20, 0.125, 0.05, 0.0], abs=2e-3)
    summary = ground_figures(four_casters(0.6))
    assert summary is not None
    # the mass over the diagonal: it may stand on either side of it, the other corner hangs in the air
    told = {c.of: c.share for c in summary.loads}
    lifted = [n for n, share in told.items() if share is None]
    assert len(lifted) == 1 and found(four_casters(0.6), "contact-lifted")


@pytest.mark.parametrize("gap", [0.0, 0.05, 0.3])
def test_loads_balance_on_springs_of_unlike_length(gap: float) -> None:
    """Whatever the springs do, forces and moments are those of statics."""
    a = four_casters(gap, "[1, 0.5]")
    summary = ground_figures(a)
    assert summary is not None and a.inertial is not None
    x, y = (sum(c.point[k] * (c.share or 0.0) for c in summary.loads) for k in (0, 1))
    com = a.rest.base_in_ground.point(a.inertial.com) if a.rest is not None else (0.0, 0.0, 0.0)
    assert sum(c.share or 0.0 for c in summary.loads) == pytest.approx(1)
    assert (x, y) == pytest.approx(com[:2], abs=1e-9)
