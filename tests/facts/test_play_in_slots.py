"""Play along slots: sums worked by hand, and motions sampled at random (lengths in millimetres, ISO 262 screws)."""
from __future__ import annotations

import math
import random

import pytest

import chassis_describe as cd
from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.play import Play, play_of
from chassis_describe.facts.slack import SlackScrew, slack


def robot(bolts: str, placement: str, deck: str = "", extra: str = "") -> Assembly:
    return cd.assemble(cd.read("trial.yaml", text=f"""layout: 1
robot: trial
parts:
  bracket: {{mass: 50, bodies: [{{box: [60, 60, 4], at: [0, 0, 2]}}], bolts: {bolts}{extra}}}
decks:
  lower: {{outline: {{rectangle: [300, 200]}}, thickness: 4, material: birch plywood{deck}}}
placements:
  b: {{part: bracket, on: lower, {placement}}}
"""))


def play(a: Assembly, frame: str = "b_link") -> Play:
    found = play_of(a)[frame]
    assert found is not None
    return found


def test_two_parallel_slots_of_a_plate_let_the_part_slide() -> None:
    # slots of 20 x 3.4: (20 - 3.4)/2 along; M3 in 3.4 and 3.2: (0.4 + 0.2)/2. Together 8.6 mm, by hand.
    deck = ", lattice: none, drilled: [{at: [0, 20], slot: [20, 3.4]}, {at: [0, -20], slot: [20, 3.4]}]"
    got = play(robot("[[0, -20], [0, 20]]", "", deck, ", bolt_hole: 3.2"))
    assert got.shift == pytest.approx(8.6e-3, abs=1e-9)
    # both screws give 0.3: it turns until the chord of 40 mm, tilted, leaves 0.6 across: 40 (1 - cos t) = 0.6
    assert got.twist == pytest.approx(math.acos(1 - 0.6 / 40), abs=1e-4)


def test_slots_of_a_part_give_as_much() -> None:
    # part slots of 20 x 3.4 on the lattice's 3.5: c = 0.2 + 0.25
    got = play(robot("[{at: [0, -20], slot: [20, 3.4]}, {at: [0, 20], slot: [20, 3.4]}]", "at: [2, 0]"))
    assert got.shift == pytest.approx((8.3 + 0.45) * 1e-3, abs=1e-9)
    assert got.twist == pytest.approx(math.acos(1 - 0.9 / 40), abs=1e-4)


def test_a_hole_and_a_slot_across_turn_about_the_hole() -> None:
    # hole 3.4 at one end, slot 24 x 3.4 across at the other, 40 apart; each screw gives 0.45: it turns until the second
    # screw has gone 40 (1 - cos t) = 0.9 inwards, 12.2 degrees; the slot would end later (asin(10.3/40) = 14.9 degrees)
    a = robot("[[-20, 0], {at: [20, 0], slot: [24, 3.4], turn: 90}]", "at: [2, 0]", extra=", bolt_hole: 3.4")
    got = play(a)
    assert math.degrees(got.twist) == pytest.approx(math.degrees(math.acos(1 - 0.9 / 40)), abs=0.01)
    assert math.degrees(got.twist) > 12
    # its origin, 20 mm from the hole
    assert got.shift == pytest.approx(0.45e-3 + 0.020 * got.twist, abs=1e-9)


def test_a_part_at_the_end_of_its_slots_can_go_the_whole_way() -> None:
    # screws 8 mm from the middle of their slots: 8.3 + 8 mm one way
    bolts = "[{at: [0, -20], slot: [20, 3.4]}, {at: [0, 20], slot: [20, 3.4]}]"
    a = robot(bolts, "at: [2, 0], offset: [8, 0, 0]")
    assert not [f for f in cd.check(a) if f.code == "bolt-off-hole"]
    got = play(a)  # its origin is 8 mm beside the screws, which a turn adds
    assert got.shift == pytest.approx((8.3 + 8 + 0.45) * 1e-3 + 8e-3 * got.twist, abs=1e-9)


def test_a_part_further_than_its_slots_misses_its_holes() -> None:
    a = robot("[{at: [0, -20], slot: [16, 3.4]}, {at: [0, 20], slot: [16, 3.4]}]", "at: [2, 0], offset: [8, 0, 0]")
    found = [f for f in cd.check(a) if f.code == "bolt-off-hole"]
    # 8 - (16 - 3.4)/2 = 1.7 mm from the end of the slot's centre line
    assert len(found) == 1 and found[0].measured == pytest.approx(1.7)


@pytest.mark.parametrize("under", ["", ", face: under"])
def test_slots_turn_with_their_part(under: str) -> None:
    bolts = "[{at: [0, -20], slot: [20, 3.4], turn: 90}, {at: [0, 20], slot: [20, 3.4], turn: 90}]"
    along_i = robot(bolts, f"at: [2, 0], turn: 90, offset: [6, 0, 0]{under}")
    across = robot(bolts, f"at: [2, 0], turn: 90, offset: [0, 6, 0]{under}")
    assert not [f for f in cd.check(along_i) if f.code == "bolt-off-hole"]
    assert [f for f in cd.check(across) if f.code == "bolt-off-hole"]


def test_standoffs_in_slots_let_their_deck_slide() -> None:
    # a deck on two standoffs whose upper ends stand in slots of 14 x 3.5 along x: 5.25 + 0.25 below + 0.25 above
    a = cd.assemble(cd.read("trial.yaml", text="""layout: 1
robot: trial
decks:
  lower: {outline: {rectangle: [200, 160]}, thickness: 4, material: birch plywood}
  upper:
    outline: {rectangle: [200, 160]}
    thickness: 4
    material: birch plywood
    lattice: none
    drilled: [{at: [0, 60], slot: [14, 3.5]}, {at: [0, -60], slot: [14, 3.5]}]
    above: lower
    standoffs: [{length: 40, holes: [[0, 3], [0, -3]]}]
"""))
    assert play(a, "upper_link").shift == pytest.approx(5.75e-3, abs=1e-9)


# ------------------------------------------------------------------------------------------------------------ brute force
def _allowed(screw: SlackScrew, x: float, y: float, turn: float) -> bool:
    """Whether a screw's point may go by (x, y): the distance from the zonogon of its two slots, by trying them out."""
    c, s = math.cos(turn), math.sin(turn)
    own = (c * screw.part[0] - s * screw.part[1], s * screw.part[0] + c * screw.part[1])
    for k in range(-20, 21):
        u, v = x - k / 20 * own[0], y - k / 20 * own[1]
        size = screw.support[0] ** 2 + screw.support[1] ** 2
        share = max(-1.0, min(1.0, (u * screw.support[0] + v * screw.support[1]) / size)) if size else 0.0
        if math.hypot(u - share * screw.support[0], v - share * screw.support[1]) <= screw.c:
            return True
        if not any(own):
            return False
    return False


@pytest.mark.parametrize(("screws", "reached"), [
    ([SlackScrew((-20, 0), 0.5), SlackScrew((20, 0), 0.5, (0.0, 6.0))], 0.9),
    ([SlackScrew((-20, 0), 0.5, (5.0, 0.0)), SlackScrew((20, 0), 0.5, (5.0, 0.0))], 0.9),
    ([SlackScrew((0, -20), 0.5, (5.0, 0.0)), SlackScrew((0, 20), 0.5, (5.0, 0.0))], 0.9),
    ([SlackScrew((0, -20), 0.5, (0.0, 0.0), (5.0, 2.0)), SlackScrew((0, 20), 0.5, (0.0, 0.0), (5.0, -2.0))], 0.9),
    ([SlackScrew((0, -20), 0.5, (3.0, 0.0), (0.0, 3.0)), SlackScrew((0, 20), 0.5, (3.0, 0.0), (0.0, 3.0))], 0.85),
    ([SlackScrew((-20, -20), 0.5, (4.0, 0.0)), SlackScrew((20, -20), 0.5, (4.0, 0.0)), SlackScrew((0, 25), 0.5, (0.0, 4.0))], 0.5),
])
def test_play_bounds_every_way_the_slots_let_it_go(screws: list[SlackScrew], reached: float) -> None:
    limit, pivots = slack(screws)
    rng = random.Random(4)
    most = 0.0
    for _ in range(40000):
        turn = rng.uniform(-1.3, 1.3) * limit
        pivot = rng.choice(screws).at
        reach = max(s.reach(limit) for s in screws)
        dx, dy = rng.uniform(-reach, reach), rng.uniform(-reach, reach)
        c, s = math.cos(turn), math.sin(turn)
        moves = [(c * (x - pivot[0]) - s * (y - pivot[1]) + pivot[0] + dx - x,
                  s * (x - pivot[0]) + c * (y - pivot[1]) + pivot[1] + dy - y) for x, y in (k.at for k in screws)]
        if not all(_allowed(k, *move, turn) for k, move in zip(screws, moves)):
            continue
        most = max(most, abs(turn))
        for at, shift in pivots:
            x, y = at[0] - pivot[0], at[1] - pivot[1]
            assert math.hypot(c * x - s * y + dx - x, s * x + c * y + dy - y) <= shift + 1e-9
    assert reached * limit < most <= limit + 1e-6


# ------------------------------------------------------------------------------------------------ where slotted parts fit
SLOTTED = "[{at: [-23, 0], slot: [14, 3.4]}, {at: [23, 0], slot: [14, 3.4]}]"  # lattice of 20: holes 40 apart, each 3 inwards


def test_a_slotted_bracket_fits_where_its_round_neighbour_does_not() -> None:
    assert not [f for f in cd.check(robot(SLOTTED, "at: [2, 0]")) if f.code == "bolt-off-hole"]
    assert [f for f in cd.check(robot("[[-23, 0], [23, 0]]", "at: [2, 0]")) if f.code == "bolt-off-hole"]


def test_screws_name_the_holes_under_slots() -> None:
    a = robot(SLOTTED, "screws: [[1, 2], [3, 2]], points: forward")
    placed = a.parts["b"]
    assert placed.at is not None and math.degrees(placed.turn) == pytest.approx(0, abs=1e-6)
    assert placed.at == pytest.approx((2, 2), abs=1e-6)  # symmetric: by hand
    assert not [f for f in cd.check(a) if f.code in ("bolt-off-hole", "hole-absent")]


def test_a_hole_and_a_slot_named_by_screws_lay_the_hole_on_its_own() -> None:
    bolts = "[[0, 0], {at: [37, 0], slot: [14, 3.4]}]"  # the slot reaches from 31.7 to 42.3: 40 is in it
    a = robot(bolts, "screws: [[1, 0], [3, 0]], points: forward")
    at = a.parts["b"].at
    assert at is not None and at == pytest.approx((1, 0), abs=0.45 / 20)
    assert not [f for f in cd.check(a) if f.code == "bolt-off-hole"]


def test_the_rule_of_a_slotted_part_holds_when_followed() -> None:
    from chassis_describe.assembly.fitting import lattice_fit

    a = robot(SLOTTED, "at: [2, 0]")
    places = lattice_fit(a.parts["b"].part, 0.020, 0.0035).places
    assert {(p.i, p.j, p.quarter) for p in places} >= {(0.0, 0.0, 0), (0.0, 0.0, 1)}
    for i, j, quarter in places:
        there = robot(SLOTTED, f"at: [{1 + i}, {j}], turn: {90 * quarter}")
        assert not [f for f in cd.check(there) if f.code == "bolt-off-hole"]


def test_a_hint_for_a_slotted_part_clears_when_followed() -> None:
    import re

    text = "[{at: [-23, 0], slot: [8, 3.4]}, {at: [23, 0], slot: [8, 3.4]}]"  # reaches 20.7 to 25.3: not 20, but within play
    found = [f for f in cd.check(robot(text, "at: [2, 0.3]")) if f.code == "bolt-off-hole"]
    assert len(found) == 1
    where = re.search(r"`(at: \[[^]]*\])`", found[0].hint)
    if where is None:
        assert "drill" in found[0].hint
    else:
        assert not [f for f in cd.check(robot(text, where[1])) if f.code == "bolt-off-hole"]


def test_a_screw_that_is_wider_than_its_slot() -> None:
    a = robot("[{at: [-20, 0], slot: [14, 2.4]}, [20, 0]]", "at: [2, 0]")
    assert [f for f in cd.check(a) if f.code == "screw-too-big" and "its own slots" in f.message]


def test_words_say_the_slots() -> None:
    from chassis_describe.reports.part_words import describe_part

    words = describe_part(robot("[[-20, 0], {at: [20, 0], slot: [14, 3.4], turn: 90}]", "at: [2, 0]").parts["b"].part)
    assert "slot of 14 x 3.4 mm at [20, 0], along left" in " ".join(words.split())
