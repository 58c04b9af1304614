"""Play against bolts sampled in their holes, and against sums worked by hand (lengths in millimetres, ISO 262 screws)."""
from __future__ import annotations

import math
import random

import pytest
from hypothesis import given, settings, strategies as st

import chassis_describe as cd
from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.play import bolt_play, play_breaks, play_of, tip_of
from chassis_describe.space.plane.circle import least_circle

Vec2 = tuple[float, float]

PARTS = """
parts:
  plate: {mass: 50, bodies: [{box: [40, 40, 4], at: [0, 0, 2]}], bolts: [[-20, 0], [20, 0]]}
  tapped: {mass: 50, bodies: [{box: [40, 40, 4], at: [0, 0, 2]}], bolts: [[-20, 0], [20, 0]], tapped: 6}
  single: {mass: 50, bodies: [{box: [20, 20, 4], at: [0, 0, 2]}], bolts: [[0, 0]]}
  loose: {mass: 50, bodies: [{box: [20, 20, 4], at: [0, 0, 2]}]}
  square: {mass: 50, bodies: [{box: [50, 50, 4], at: [0, 0, 2]}], bolts: [[-20, -20], [-20, 20], [20, -20], [20, 20]],
           bolt_hole: 3.2}
  three: {mass: 50, bodies: [{box: [50, 80, 4], at: [0, 30, 2]}], bolts: [[-20, 0], [20, 0], [0, 60]]}
  eye:
    mass: 20
    bodies: [{box: [50, 10, 10], at: [0, 0, 5]}]
    bolts: [[-20, 0], [20, 0]]
    sensors: {eye: {kind: lidar, at: [30, 0, 70], fov: 180, samples: 180, range: [0.1 m, 5 m]}}
  holder:
    mass: 40
    bodies: [{box: [50, 20, 4], at: [0, 0, 2]}]
    bolts: [[-20, 0], [20, 0]]
    seats: {face: {at: [0, 0, 50], axes: {z: forward, x: up}, bolts: [{at: [-20, 0], tapped: 5}, {at: [20, 0], tapped: 5}]}}
  motor:
    mass: 200
    bodies: [{box: [50, 20, 20], at: [0, 0, 10]}]
    bolts: [[-20, 0], [20, 0]]
    shafts: {out: {at: [30, 0, 10], axis: forward}}
    motor: {torque: 1, speed: 100}
  wheel: {mass: 50, wheel: {diameter: 80, width: 20, offset: 12}}
"""
C = 0.25e-3  # (3.5 - 3.0)/2: one hole of 3.5 mm around an M3 screw; through lattice and part it is twice that


def robot(placements: str, decks: str = "", top: str = "") -> Assembly:
    text = f"""layout: 1
robot: trial
{top}{PARTS}
decks:
  lower: {{outline: {{rectangle: [300, 200]}}, thickness: 4, material: birch plywood}}
{decks}
placements:
{placements}
"""
    return cd.assemble(cd.read("trial.yaml", text=text))


def twist(c: float, radius: float) -> float:
    return 2 * math.asin(c / (2 * radius))


def test_deck_zero_part_by_hand() -> None:
    a = robot("  p: {part: plate, on: lower, at: [2, 1]}")
    assert (play_of(a)["base_link"], play_of(a)["lower_link"]) == (play_of(a)["base_link"], play_of(a)["base_link"])
    assert play_of(a)["lower_link"] is not None and play_of(a)["lower_link"].shift == play_of(a)["lower_link"].twist == 0.0
    p = play_of(a)["p_link"]
    assert p is not None and not p.free
    # 3.5 mm in deck and part: c = 0.25 + 0.25 mm; two bolts 40 mm apart: 2·asin(0.5/40) = 1.432°
    assert p.shift == pytest.approx(2 * C, abs=1e-15)
    assert math.degrees(p.twist) == pytest.approx(1.4324, abs=1e-4)
    assert p.chain == ("p",)


def test_tapped_part_and_closer_holes() -> None:
    a = robot("  t: {part: tapped, on: lower, at: [0, 0]}\n  s: {part: square, on: lower, at: [4, 0]}")
    t, s = play_of(a)["t_link"], play_of(a)["s_link"]
    assert t is not None and s is not None
    assert (t.shift, t.twist) == pytest.approx((C, twist(C, 0.020)), abs=1e-12)
    # 3.2 mm holes in the part, corners of 40 mm: the circle around them has half the diagonal
    c = C + 0.1e-3
    assert (s.shift, s.twist) == pytest.approx((c, twist(c, 0.020 * math.sqrt(2))), abs=1e-12)


def test_one_bolt_turns_freely() -> None:
    p = play_of(robot("  p: {part: single, on: lower, at: [0, 0]}"))["p_link"]
    assert p is not None and p.free and p.twist == math.pi
    assert p.shift == pytest.approx(2 * C, abs=1e-15)  # the origin is on the bolt


def test_screws_choose_the_bolts_that_count() -> None:
    # All three: the circle on (±20, 0), (0, 60) has the radius (60² + 20²)/(2·60) = 33.33 mm. Two of them: 20 mm.
    lines = "  p: {part: three, on: lower, at: [0, 0]}\n  q: {part: three, on: lower, screws: [[4, 0], [6, 0]], points: forward}"
    a = robot(lines)
    p, q = play_of(a)["p_link"], play_of(a)["q_link"]
    assert p is not None and q is not None
    assert p.twist == pytest.approx(twist(2 * C, 0.1 / 3), abs=1e-12)
    assert p.shift == pytest.approx(2 * C + p.twist * (0.06 - 0.1 / 3), abs=1e-12)  # its origin is off the middle
    assert (q.shift, q.twist) == pytest.approx((2 * C, twist(2 * C, 0.020)), abs=1e-12)


def test_lever_arm_is_across_the_bolts_axis() -> None:
    # the sensing origin is 30 mm ahead of the bolts' middle and 70 mm over it: a twist about z moves it by 30 mm·twist
    a = robot("  e: {part: eye, on: lower, at: [0, 0]}")
    frame = play_of(a)["e_frame"]
    assert frame is not None
    assert frame.shift == pytest.approx(2 * C + 0.030 * twist(2 * C, 0.020), abs=1e-12)


def test_chain_over_decks_and_seat() -> None:
    standoffs = "standoffs: [{length: 60, holes: [[-3, -3], [-3, 3], [3, -3], [3, 3]]}]"
    decks = f"  upper: {{outline: {{rectangle: [300, 200]}}, thickness: 3, material: acrylic, above: lower, {standoffs}}}"
    a = robot("  h: {part: holder, on: upper, at: [4, 0]}\n  e: {part: eye, on: h}", decks)
    upper, h, e = play_of(a)["upper_link"], play_of(a)["h_link"], play_of(a)["e_link"]
    assert upper is not None and h is not None and e is not None
    # both plates' holes: 0.5 mm; standoffs at (±60, ±60): radius 84.85 mm
    deck_twist = twist(2 * C, 0.060 * math.sqrt(2))
    assert (upper.shift, upper.twist) == pytest.approx((2 * C, deck_twist), abs=1e-12)
    # the holder 80 mm ahead of the deck's middle
    assert h.shift == pytest.approx(2 * C + deck_twist * 0.080 + 2 * C, abs=1e-12)
    assert h.twist == pytest.approx(deck_twist + twist(2 * C, 0.020), abs=1e-12)
    # on the seat: tapped, so only the part's own holes; the seat stands over the holder's origin
    assert e.twist == pytest.approx(h.twist + twist(C, 0.020), abs=1e-12)
    assert e.shift == pytest.approx(h.shift + C, abs=1e-12)
    assert e.chain == ("upper", "h", "e")
    # what lies flat turns about the vertical; a seat that faces forward lets its part roll
    assert tip_of(a, "h", (0.0, 0.0, 1.0)) == pytest.approx(0.0, abs=1e-9)
    assert tip_of(a, "e", (0.0, 0.0, 1.0)) == pytest.approx(twist(C, 0.020), abs=1e-9)


def test_tape_and_straps_have_no_figure_and_say_who() -> None:
    a = robot("  h: {part: holder, on: lower, at: [4, 0], fixing: strap}\n  e: {part: eye, on: h}\n"
              "  l: {part: loose, on: lower, at: [0, 0]}\n  g: {part: loose, on: lower, at: [-4, 0], fixing: adhesive}")
    assert [play_of(a)[f] for f in ("h_link", "e_link", "e_frame", "l_link", "g_link")] == [None] * 5
    breaks = play_breaks(a)
    assert (breaks["h_link"], breaks["e_frame"], breaks["l_link"], breaks["g_link"]) == ("h", "h", "l", "g")
    assert "lower_link" not in breaks


def test_wheels_have_the_play_of_their_motor() -> None:
    a = robot("  m: {part: motor, on: lower, face: under, at: [0, 3], points: left}\n  w: {part: wheel, on: m}")
    wheel = play_of(a)["w_link"]
    assert wheel is not None and wheel.chain == ("m",)
    # the wheel's middle is 42 mm along the shaft from the middle of the bolts
    assert wheel.shift == pytest.approx(2 * C + 0.042 * twist(2 * C, 0.020), abs=1e-12)


@pytest.mark.parametrize(("screw", "hole", "c"), [("M2", 2.4, 0.2), ("M2.5", 2.9, 0.2), ("M4", 4.5, 0.25), ("M5", 5.5, 0.25)])
def test_screws_have_their_nominal_diameter(screw: str, hole: float, c: float) -> None:
    # holes of ISO 273 (medium) around ISO 262 screws, in a tapped part: only the lattice's hole gives
    a = robot("  t: {part: tapped, on: lower, at: [0, 0]}", top=f"lattice: {{pitch: 20, hole: {hole}, screw: {screw}}}\n")
    t = play_of(a)["t_link"]
    assert t is not None and t.shift == pytest.approx(c * 1e-3, abs=1e-12)


# ------------------------------------------------------------------------------------------------------------ brute force
def fits(bolts: list[Vec2], c: float, x: float, y: float, angle: float) -> bool:
    """Whether the part, moved so, still has every bolt within c of where it was drilled."""
    co, si = math.cos(angle), math.sin(angle)
    return all(math.hypot(co * u - si * v + x - u, si * u + co * v + y - v) <= c for u, v in bolts)


@pytest.mark.parametrize("bolts", [
    [(-20, 0), (20, 0)], [(-20, -20), (-20, 20), (20, -20), (20, 20)], [(0, 0), (30, 0), (10, 25)],
    [(-10, 0), (10, 0), (0, 3)], [(-29, -24.5), (-29, 24.5), (29, 24.5)],
])
def test_play_bounds_every_way_the_bolts_let_it_go_and_is_reached(bolts: list[Vec2]) -> None:
    c = 0.5
    twist_limit, pivot = bolt_play(bolts, c)
    rng = random.Random(1)
    most_twist = most_shift = 0.0
    for _ in range(60000):
        angle = rng.uniform(-1.2, 1.2) * twist_limit
        # turn about some point near the pivot, then shift a little
        x, y = rng.uniform(-c, c), rng.uniform(-c, c)
        co, si = math.cos(angle), math.sin(angle)
        dx = pivot[0] - (co * pivot[0] - si * pivot[1]) + x
        dy = pivot[1] - (si * pivot[0] + co * pivot[1]) + y
        if fits(bolts, c, dx, dy, angle):
            most_twist = max(most_twist, abs(angle))
            most_shift = max(most_shift, math.hypot(x, y))  # of the pivot
    assert most_twist <= twist_limit + 1e-12
    assert most_shift <= c + 1e-12
    assert most_twist > 0.9 * twist_limit
    assert most_shift > 0.97 * c
    # the bounds themselves are reached: a turn about the pivot, a shift without turn
    co, si = math.cos(twist_limit), math.sin(twist_limit)
    about = (pivot[0] - (co * pivot[0] - si * pivot[1]), pivot[1] - (si * pivot[0] + co * pivot[1]))
    assert fits(bolts, c + 1e-9, *about, twist_limit)
    assert not fits(bolts, c - 1e-6, *about, twist_limit)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.floats(-60, 60), st.floats(-60, 60)), min_size=2, max_size=6), st.floats(0.05, 1.0),
       st.floats(-3, 3), st.floats(-50, 50))
def test_twist_does_not_depend_on_where_the_pattern_lies(bolts: list[Vec2], c: float, turn: float, dx: float) -> None:
    if least_circle(bolts).radius < 1:
        return
    co, si = math.cos(turn), math.sin(turn)
    moved = [(co * x - si * y + dx, si * x + co * y) for x, y in bolts]
    assert bolt_play(moved, c)[0] == pytest.approx(bolt_play(bolts, c)[0], rel=1e-9)


def test_moving_the_whole_layout_changes_no_play() -> None:
    def plays(i: int) -> list[tuple[float, float]]:
        a = robot(f"  h: {{part: holder, on: lower, at: [{i}, 0]}}\n  e: {{part: eye, on: h}}")
        found = [play_of(a)[f] for f in ("h_link", "e_link", "e_frame")]
        return [(p.shift, p.twist) for p in found if p is not None]

    assert len(plays(0)) == 3
    for one, two in zip(plays(0), plays(3)):
        assert one == pytest.approx(two, abs=1e-12)
