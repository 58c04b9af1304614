"""Hints that name a place, a lift, an offset or standoffs, followed on crowded robots: what they said clears, and nothing
turns round or crosses the robot unsaid. All layouts are invented; what must hold follows from what a hint promises."""
from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest

from chassis_describe.assembly.model import Assembly
from chassis_describe.compiler import assemble, check, read
from chassis_describe.findings import Finding, Severity
from chassis_describe.layout.model import Layout, Stacked

PARTS = """
  block: {mass: 60, bodies: [{box: [38, 38, 20], at: [0, 0, 10]}], bolts: [[-10, -10], [10, 10]]}
  eye: {mass: 40, bodies: [{box: [30, 30, 20], at: [0, 0, 10]}], bolts: [[-10, 0], [10, 0]],
        sensors: {imu: {kind: imu, at: [0, 0, 10]}}}
  gearmotor: {mass: 70, bodies: [{box: [50, 20, 20], at: [0, 0, 10]}], bolts: [[-20, 0], [20, 0]], shafts: {out: {at: [30, 0, 10], axis: forward}}}
  tyre: {mass: 90, wheel: {diameter: 80, width: 20, offset: 12}}
  sunk: {mass: 20, bodies: [{box: [20, 20, 40], at: [0, 0, 0]}], bolts: [[-20, 0], [20, 0]]}
  tower: {mass: 60, bodies: [{box: [40, 40, 55], at: [0, 0, 27.5]}], bolts: [[-10, -10], [10, 10]]}
"""


def layout(placements: str, size: str = "[200, 160]", more: str = "") -> Layout:
    return read("robot.yaml", text=f"layout: 1\nrobot: robot\nlattice: {{pitch: 20, hole: 3.4, screw: M3}}\nparts:{PARTS}decks:\n"
                f"  lower: {{outline: {{rectangle: {size}}}, thickness: 4, density: 700}}\n{more}placements:\n{placements}")


def faults(assembly: Assembly, code: str | None = None) -> list[Finding]:
    return [f for f in check(assembly) if f.severity is not Severity.NOTE and code in (None, f.code)]


def follow(robot: Layout, finding: Finding) -> Layout | None:
    """The layout as the hint says; None where it names no place."""
    move = re.search(r"move (\w+) to `at: \[([-\d.]+), ([-\d.]+)\]`(?: with `turn: (-?[\d.]+)`)?[^;]*: there it fits",
                     finding.hint.replace("move it to", f"move {finding.of[0]} to"))
    if move:
        name, x, y, turn = move.groups()
        new = replace(robot.placements[name], at=(float(x), float(y)))
        if turn is not None:
            new = replace(new, turn=math.radians(float(turn)), points=None)
        return replace(robot, placements=dict(robot.placements) | {name: new})
    raised = re.search(r"raise (\w+): standoffs of (\d+) mm instead of ([\d.]+)", finding.hint)
    if raised:
        deck = robot.decks[raised[1]]
        assert isinstance(deck.placing, Stacked)
        by = (float(raised[2]) - float(raised[3])) * 1e-3
        groups = tuple(replace(g, length=g.length + by) for g in deck.placing.standoffs)
        return replace(robot, decks=dict(robot.decks) | {raised[1]: replace(deck, placing=replace(deck.placing, standoffs=groups))})
    return None


def crowded(part: str) -> list[str]:
    """One part at every place and turn of a plate with neighbours."""
    return [f"  a: {{part: block, on: lower, at: [0, 0]}}\n  b: {{part: block, on: lower, at: [2, 0]}}\n"
            f"  c: {{part: {part}, on: lower, at: [{i}, {j}], turn: {turn}}}\n"
            for i, j, turn in ((0, 0, 0), (1, 0, 90), (2, 0, 180), (2.5, 0.5, 0), (4, 3, 0), (0.25, 0, 0), (9, 0, 90), (-5, -3, 0))]


@pytest.mark.parametrize("part", ["block", "eye"])
def test_places_in_hints_clear_and_keep_the_heading_of_what_looks(part: str) -> None:
    followed = 0
    for placements in crowded(part):
        robot = layout(placements)
        before = faults(assemble(robot))
        for finding in before:
            if finding.of[0] not in ("b", "c") or finding.code not in ("bolt-off-hole", "hole-absent", "hole-taken", "bodies-overlap"):
                continue
            if part == "eye" and "move c" in finding.hint.replace("move it", f"move {finding.of[0]}"):
                assert "with `turn" not in finding.hint, finding.hint
            new = follow(robot, finding)
            if new is None:
                continue
            followed += 1
            after = faults(assemble(new))
            assert not [f for f in after if (f.code, f.of) == (finding.code, finding.of)], finding.hint
            assert len(after) < len(before), finding.hint
    assert followed >= 6


def test_a_part_that_turns_says_so() -> None:
    """A strip of one row of holes takes a part of two holes lengthwise only: the hint turns it, in words too."""
    strip = read("strip.yaml", text="layout: 1\nrobot: strip\nparts:\n  bar: {mass: 9, bodies: [{box: [50, 10, 10], at: [0, 0, 5]}], "
                 "bolts: [[-20, 0], [20, 0]]}\ndecks:\n  lower: {outline: {rectangle: [200, 30]}, thickness: 4, density: 700}\n"
                 "placements:\n  bar: {part: bar, on: lower, at: [0, 0], turn: 90}\n")
    hint = faults(assemble(strip), "hole-absent")[0].hint
    assert "with `turn:" in hint and "turned by 90°" in hint


def test_no_drilling_because_neighbours_are_in_the_way() -> None:
    """The bolts of a block fit at halves; those are all taken or blocked on this small plate. The nearest place is
    named, and who is in the way there."""
    robot = layout("  a: {part: block, on: lower, at: [0.5, 0.5]}\n  c: {part: block, on: lower, at: [0.9, 0.5]}\n", "[70, 70]")
    hint = faults(assemble(robot), "bolt-off-hole")[0].hint
    assert "drill" not in hint
    assert "its bolts would fit at `at: [" in hint and "where a is in the way" in hint


def test_a_motor_stays_on_its_side() -> None:
    """A left motor whose side is full is not sent to the right side, where it would drive another wheel."""
    robot = layout("  a: {part: block, on: lower, at: [1, 2], fixing: adhesive}\n  b: {part: block, on: lower, at: [-1, 2], "
                   "fixing: adhesive}\n  m: {part: gearmotor, on: lower, at: [0, 2], turn: 90}\n  w: {part: tyre, on: m}\n", "[90, 260]")
    for finding in faults(assemble(robot)):
        for x, y in re.findall(r"move m to `at: \[([-\d.]+), ([-\d.]+)\]`", finding.hint):
            assert float(y) > 0, (x, finding.hint)


def test_millimetres_meant_name_a_place_that_the_bolts_allow() -> None:
    """2.5 and -43.5 mm are 0.125 and -2.175 pitches, where no bolt meets a hole: the place next to it is [0.5, -2.5]."""
    robot = layout("  c: {part: block, on: lower, at: [2.5, -43.5]}\n")
    hint = " ".join(f.hint for f in faults(assemble(robot)))
    assert "0.125" not in hint and "-2.175" not in hint
    assert "write `at: [0.5, -2.5]`, the nearest place to that" in hint


def test_longer_standoffs_clear_and_hit_nothing_above() -> None:
    """A tower of 55 mm under a deck on 40 mm: 60 mm standoffs clear it. With a third deck held by long standoffs from the
    lowest, the second would be raised into it: then nothing is said of standoffs."""
    upper = ("  upper: {outline: {rectangle: [200, 160]}, thickness: 3, density: 1200, above: lower, standoffs: "
             "[{length: 40, holes: [[-4, -3], [-4, 3], [4, -3], [4, 3]]}]}\n")
    robot = layout("  t: {part: tower, on: lower, at: [0, 0]}\n", more=upper)
    clash = next(f for f in faults(assemble(robot), "bodies-overlap") if "upper" in f.of)
    assert "raise upper: standoffs of 55 mm instead of 40" in clash.hint
    new = follow(robot, clash)
    assert new is not None
    assert not faults(assemble(new), "bodies-overlap")
    lid = ("  lid: {outline: {rectangle: [100, 160]}, thickness: 30, density: 1200, above: lower, standoffs: "
           "[{length: 57, holes: [[-2, -4], [-2, 4], [2, -4], [2, 4]]}]}\n")
    tight = layout("  t: {part: tower, on: lower, at: [0, 0]}\n", size="[200, 200]", more=upper + lid)
    clash = next(f for f in faults(assemble(tight), "bodies-overlap") if set(f.of) == {"t", "upper"})
    assert "standoffs of" not in clash.hint


def test_a_body_below_its_own_base_says_so() -> None:
    """A box 40 mm high given with its middle at z = 0 reaches 20 mm below the base: said, before any spacer."""
    hint = faults(assemble(layout("  s: {part: sunk, on: lower, at: [0, 0]}\n")), "bodies-overlap")[0].hint
    assert "reaches 20 mm below its own base plane" in hint and "its middle, not its foot" in hint


def test_which_standoff() -> None:
    upper = ("  upper: {outline: {rectangle: [200, 160]}, thickness: 3, density: 1200, above: lower, standoffs: "
             "[{length: 60, holes: [[-4, -3], [-4, 3], [4, -3], [4, 3]]}]}\n")
    finding = faults(assemble(layout("  b: {part: tower, on: lower, at: [3, 2]}\n", more=upper)), "bodies-overlap")[0]
    assert "the standoff at hole [4, 3] of lower" in finding.message


def test_raised_on_its_seat_it_is_clear() -> None:
    """A rider that reaches 5 mm down beside its holder: the offset that the hint names, with the one it has, clears it."""
    text = """layout: 1
robot: robot
parts:
  holder: {mass: 60, bodies: [{box: [60, 60, 20], at: [0, 0, 10]}], bolts: [[-20, 0], [20, 0]],
           seats: {top: {at: [0, 0, 20]}}}
  rider: {mass: 20, bodies: [{box: [20, 20, 20], at: [0, 0, 4]}], fixing: adhesive}
decks:
  lower: {outline: {rectangle: [200, 160]}, thickness: 4, density: 700}
placements:
  holder: {part: holder, on: lower, at: [0, 0]}
  rider: {part: rider, on: holder, fixing: adhesive, offset: [0, 0, 1]}
"""
    robot = read("seat.yaml", text=text.replace(", fixing: adhesive}\ndecks", "}\ndecks"))
    finding = faults(assemble(robot), "bodies-overlap")[0]
    found = re.search(r"`offset: \[0, 0, ([\d.]+)\]` raises it clear", finding.hint)
    assert found and float(found[1]) == pytest.approx(6.0, abs=0.11)
    new = replace(robot.placements["rider"], offset=(0.0, 0.0, float(found[1]) * 1e-3))
    assert not faults(assemble(replace(robot, placements=dict(robot.placements) | {"rider": new})), "bodies-overlap")


def test_motors_of_different_heights_are_told_what_differs() -> None:
    """On standing seats a motor turned by 180° has its shaft lower, though face and lift are alike."""
    text = """layout: 1
robot: robot
parts:
  wall: {mass: 60, bodies: [{box: [60, 4, 60], at: [0, 0, 30]}], bolts: [[-20, 0], [20, 0]],
         seats: {left: {at: [0, 2, 30], rpy: [-90, 0, 0]}, right: {at: [0, -2, 30], rpy: [90, 0, 0]}}}
  motor: {mass: 70, bodies: [{box: [30, 20, 20], at: [0, 0, 10]}], shafts: {out: {at: [0, 5, 20], axis: up}}}
  tyre: {mass: 90, wheel: {diameter: 80, width: 20, offset: 12}}
decks:
  lower: {outline: {rectangle: [240, 80]}, thickness: 4, density: 700}
placements:
  wall: {part: wall, on: lower, at: [0, 0]}
  motor_left: {part: motor, on: wall.left, fixing: adhesive}
  motor_right: {part: motor, on: wall.right, fixing: adhesive}
  wheel_left: {part: tyre, on: motor_left}
  wheel_right: {part: tyre, on: motor_right}
drive: {kind: differential, left: [wheel_left], right: [wheel_right]}
"""
    hint = next(f for f in faults(assemble(read("m.yaml", text=text)), "axles-unlike") if "higher" in f.message).hint
    assert "the same face" not in hint and "face and lift are alike: it comes from" in hint


def test_a_slanted_pair_is_not_told_to_point_where_it_cannot() -> None:
    """Two bolts 28.28 mm apart in diagonal holes: two ways, at 45° and -135°, which lie between the four words."""
    from chassis_describe.errors import LayoutError

    text = ("layout: 1\nrobot: robot\nparts:\n  bar: {mass: 9, bodies: [{box: [40, 10, 10], at: [0, 0, 5]}], bolts: [[-14.142, 0], "
            "[14.142, 0]]}\ndecks:\n  lower: {outline: {rectangle: [200, 160]}, thickness: 4, density: 700}\nplacements:\n"
            "  bar: {part: bar, on: lower, screws: [[0, 0], [1, 1]]}\n")
    with pytest.raises(LayoutError) as told:
        assemble(read("bar.yaml", text=text))
    assert "points" not in told.value.findings[0].hint and "write `at` and `turn`" in told.value.findings[0].hint
    straight = text.replace("14.142", "10").replace("[1, 1]", "[1, 0]")
    with pytest.raises(LayoutError) as told:
        assemble(read("bar.yaml", text=straight))
    words = re.search(r"`points: (\w+)` or `points: (\w+)`", told.value.findings[0].hint)
    assert words
    for word in words.groups():
        assemble(read("bar.yaml", text=straight.replace("screws:", f"points: {word}, screws:")))


def test_what_a_part_is_mirrored_by_goes_along() -> None:
    """The nearest holes for a, one to the right, would bring its image into c; the place that is named clears both."""
    text = ("  b: {part: block, on: lower, at: [0.5, 2.5], turn: 90}\n  a: {part: block, on: lower, at: [0.5, 2.5]}\n"
            "  image: {mirror_of: a}\n  c: {part: block, on: lower, at: [2.5, -2.5]}\n  d: {part: block, on: lower, at: [-1.5, -2.5]}\n")
    robot = layout(text)
    finding = next(f for f in faults(assemble(robot), "bodies-overlap") if set(f.of) == {"a", "b"})
    place = re.search(r"move a to `at: \[([-\d.]+), ([-\d.]+)\]`", finding.hint)
    assert place, finding.hint
    moved = text.replace("a: {part: block, on: lower, at: [0.5, 2.5]}", f"a: {{part: block, on: lower, at: [{place[1]}, {place[2]}]}}")
    assert not faults(assemble(layout(moved)))


def test_a_slip_in_holes_is_not_taken_for_millimetres() -> None:
    """[8.5, 0.5] is off the plate by holes; 8.5 mm are nobody's place. 50 and 30 mm are 2.5 and 1.5 holes of 20 mm."""
    hint = faults(assemble(layout("  c: {part: block, on: lower, at: [8.5, 0.5]}\n")), "hole-absent")[0].hint
    assert "mm" not in hint and hint.startswith("move it to")
    hint = " ".join(f.hint for f in faults(assemble(layout("  c: {part: block, on: lower, at: [50, 30]}\n"))))
    assert "write `at: [2.5, 1.5]`; or move it to" in hint


def test_a_copy_that_was_left_in_its_place_says_so() -> None:
    text = ("  m: {part: gearmotor, on: lower, at: [0, 3], turn: 90}\n  n: {part: gearmotor, on: lower, at: [0, 3], turn: 90}\n"
            "  w: {part: tyre, on: m}\n  v: {part: tyre, on: n}\n")
    robot = layout(text)
    finding = next(f for f in faults(assemble(robot), "bodies-overlap") if set(f.of) == {"m", "n"})
    assert finding.hint == "n is where m is: give it an `at` of its own; for the other side of the robot, `n: {mirror_of: m}`"


DRIVEN = f"""layout: 1
robot: robot
parts:{PARTS}decks:
  lower: {{outline: {{rectangle: [200, 100]}}, thickness: 4, density: 700}}
placements:
  m: {{part: gearmotor, on: lower, face: under, at: [0, 1.5], turn: -90}}
  n: {{part: gearmotor, on: lower, face: under, at: [0, -1.5], points: forward}}
  w: {{part: tyre, on: m}}
  v: {{part: tyre, on: n}}
drive: {{kind: differential, left: [w], right: [v]}}
"""


def test_a_shaft_that_points_ahead_is_turned_outward() -> None:
    hint = faults(assemble(read("d.yaml", text=DRIVEN)), "axle-skewed")[0].hint
    assert hint == "`points: right` for n"


@pytest.mark.parametrize(("part", "at", "says", "does"), [
    ("tyre_across", "[3.5, 0]", "w0 stands 20 mm outside the circle of the others", "bring m0 20 mm in"),
    ("tyre_across", "[2.5, 1]", "w0 stands 20 mm to the left of where its axle would point", "bring m0 20 mm to the right"),
    ("small_across", "[2.5, 0]", "w0 has a radius of 39 mm, the other wheels of 40 mm", "use equal wheels"),
])
def test_one_odd_omni_wheel_is_one_finding(part: str, at: str, says: str, does: str) -> None:
    """Four wheels at equal angles, worked by hand; what is said is how far the odd one is off the place that the others leave it."""
    rows = "".join(f"  m{k}: {{part: gearmotor, on: lower, face: under, at: {place}, turn: {-90 * k}, fixing: adhesive}}\n"
                   f"  w{k}: {{part: {part if k == 0 else 'tyre_across'}, on: m{k}}}\n"
                   for k, place in enumerate((at, "[0, 2.5]", "[-2.5, 0]", "[0, -2.5]")))
    wheel = "  {}: {{mass: 90, wheel: {{diameter: {}, width: 20, offset: 12, rollers: across}}}}\n"
    text = DRIVEN[:DRIVEN.index("decks:")] + wheel.format("tyre_across", 80) + wheel.format("small_across", 78) + \
        DRIVEN[DRIVEN.index("decks:"):DRIVEN.index("  m:")] + rows + "drive: {kind: omni, wheels: [w0, w1, w2, w3]}\n"
    found = faults(assemble(read("omni.yaml", text=text)), "omni-uneven")
    assert [f.of for f in found] == [("w0",)] and says in found[0].message and does in found[0].hint


def test_mirror_images_in_one_another_go_apart() -> None:
    """Two boxes of 50 mm across the middle line, in one place: one hole out they still meet by 10 mm, two holes out not. Where
    either is now is no obstacle, for both move."""
    text = "  m: {part: gearmotor, on: lower, at: [0, 0], turn: 90}\n  n: {mirror_of: m}\n"
    hints = " ".join(f.hint for f in faults(assemble(layout(text)), "bodies-overlap"))
    place = re.search(r"move m, which n mirrors, to `at: \[0, (-?2)\]`", hints)
    assert place, hints
    assert not faults(assemble(layout(text.replace("[0, 0]", f"[0, {place[1]}]"))), "bodies-overlap")


def test_a_turn_off_the_quarters_is_straightened() -> None:
    """Two bolts a pitch apart meet the lattice in quarter turns only; at 30 degrees nothing would."""
    hint = faults(assemble(layout("  c: {part: eye, on: lower, at: [0.5, 0], turn: 30}\n")), "bolt-off-hole")[0].hint
    assert hint.startswith("with `turn: 0` every bolt meets a hole")


def test_what_is_in_a_wrong_place_is_told_before_what_follows() -> None:
    """A weight off the plate's end tips the robot over: its place is the first thing to say."""
    text = DRIVEN.replace("drive:", "  load: {part: block, on: lower, at: [40.5, 0.5], mass: 900}\n  c: {part: foot, on: lower, face: under, at: [-3, 0]}\n"
                          "drive:").replace("decks:", "  foot: {mass: 5, bodies: [{box: [9, 9, 9], at: [0, 0, 4.5]}], bolts: [[0, 0]], caster: {ball: 9, at: [0, 0, 45.5]}}\ndecks:")
    codes = [f.code for f in faults(assemble(read("d.yaml", text=text))) if f.severity is Severity.ERROR]
    assert "outside-support" in codes and codes.index("hole-absent") < codes.index("outside-support")


def test_a_left_motor_on_the_right_is_sent_across() -> None:
    """The sign of j is wrong: shafts point to the right sides, through the middle."""
    text = DRIVEN.replace("at: [0, 1.5], turn: -90", "at: [0, -4], points: left").replace("[200, 100]", "[200, 219]").replace(
        "n: {part: gearmotor, on: lower, face: under, at: [0, -1.5], points: forward}", "n: {mirror_of: m}")
    hints = [f.hint for f in faults(assemble(read("d.yaml", text=text)), "bodies-overlap")]
    assert hints and all("m drives a wheel on the left and is on the other side: `at: [0, 4]` for it" in h for h in hints), hints
    assert not faults(assemble(read("d.yaml", text=text.replace("[0, -4]", "[0, 4]"))), "axles-unlike")
