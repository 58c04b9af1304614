"""Steps in words: seats have no front, and forward on a turned deck is the deck's own. Robots are invented."""
from __future__ import annotations

import itertools
import math
import re

import numpy as np
import pytest

import chassis_describe as cd
from chassis_describe.assembly.model import Assembly
from chassis_describe.changes.screwdriver import work_between
from chassis_describe.words import steps

ROBOT = """layout: 1
robot: whose
lattice: {pitch: 20, hole: 3.5, screw: M3}
parts:
  block: {mass: 20, bodies: [{box: [10, 30, 10], at: [0, 0, 5]}], bolts: [[0, -10], [0, 10]]}
  shelf: {like: block, seats: {top: {at: [0, 0, 12], lattice: {pitch: 10, hole: 3.2, screw: M3}}}}
decks:
  lower: {outline: {rectangle: [400, 300]}, thickness: 4, material: birch plywood}
  upper: {outline: {rectangle: [300, 300]}, thickness: 4, material: birch plywood, above: lower, turn: TURN,
          standoffs: [{length: 60, holes: [[-5, -5], [-5, 5], [5, 5], [5, -5]], on: lower}]}
placements:
  low: {part: block, on: lower, at: [0, 0.5]}
  high: {part: block, on: upper, at: [0, 0.5]}
  shelf: {part: shelf, on: lower, at: [4, 0.5]}
  held: {part: block, on: shelf, at: [0, 1], fixing: adhesive}
"""


def works(turn: int) -> dict[str, str]:
    text = ROBOT.replace("TURN", str(turn))
    moved = text.replace("upper, at: [0, 0.5]", "upper, at: [2, 1.5]").replace("shelf, at: [0, 1]", "shelf, at: [2, 0]").replace(
        "low: {part: block, on: lower, at: [0, 0.5]", "low: {part: block, on: lower, at: [-1, 0.5]")
    old, new = (cd.assemble(cd.read("whose.yaml", text=t)) for t in (text, moved))
    return {work.name: work.words for work in work_between(old, new, {})}


def test_on_a_deck_that_points_as_the_robot_does() -> None:
    assert works(0) == {"low": "1 hole back", "high": "2 holes forward, 1 hole left", "held": "2 holes along +i, 1 hole along -j"}


def test_on_a_turned_deck_it_is_said_whose_directions_they_are() -> None:
    """+i of a deck turned by 90° is the robot's left (REP-103: y left, turns counter-clockwise)."""
    assert works(90) == {"low": "1 hole back", "high": "2 holes forward, 1 hole left, as upper points",
                         "held": "2 holes along +i, 1 hole along -j"}


def test_hints_say_it_alike() -> None:
    text = ROBOT.replace("TURN", "90").replace("high: {part: block, on: upper, at: [0, 0.5]}",
                                              "high: {part: block, on: upper, at: [0, 0.5]}\n  more: {part: block, on: upper, at: [0, 0.5]}")
    hints = [f.hint for f in cd.check(cd.assemble(cd.read("whose.yaml", text=text))) if "more" in f.of]
    assert any("1 hole forward, as upper points)" in hint or "1 hole back, as upper points)" in hint for hint in hints), hints


@pytest.mark.parametrize(("holes", "said"), [((1, 0), ["1 hole forward"]), ((0, -2.5), ["2.5 holes right"]), ((0, 0), []),
                                             ((0.25, 1), ["0.25 holes forward", "1 hole left"])])
def test_steps(holes: tuple[float, float], said: list[str]) -> None:
    assert steps(holes) == said
    assert steps((0.1, 0), fine=0.02) == ["2 mm forward"]


# ------------------------------------------------------------------------------------------------- words against vectors
MANY = """layout: 1
robot: many
lattice: {pitch: 20, hole: 3.5, screw: M3}
parts:
  block: {mass: 20, bodies: [{box: [10, 30, 10], at: [0, 0, 5]}], bolts: [[0, -10], [0, 10]]}
  shelf: {like: block, seats: {side: {at: [5, 0, 12], axes: {z: forward, x: up}, lattice: {pitch: 10, hole: 3.2, screw: M3}}}}
decks:
  lower: {outline: {rectangle: [400, 300]}, thickness: 4, material: birch plywood}
  upper: {outline: {rectangle: [300, 300]}, thickness: 4, material: birch plywood, above: lower, turn: TURN, shift: SHIFT,
          standoffs: [{length: 60, holes: [[-5, -5], [-5, 5], [5, 5], [5, -5]], on: lower}]}
  panel: {outline: {rectangle: [200, 200]}, thickness: 4, material: birch plywood, fixed_to: lower, xyz: XYZ, rpy: RPY}
placements:
  shelf: {part: shelf, on: lower, at: [4, 0.5]}
  it: {part: block, on: ON, FACEat: AT, turn: PART, offset: OFFSET, fixing: adhesive}
"""
_AXES = {"forward": (1, 0, 0), "back": (-1, 0, 0), "left": (0, 1, 0), "right": (0, -1, 0), "up": (0, 0, 1), "down": (0, 0, -1)}


def many(on: str, face: str, **values: object) -> Assembly:
    given = {"TURN": 0, "SHIFT": [0, 0], "XYZ": [0, 0, 150], "RPY": [0, 0, 0], "AT": [0, 0.5], "PART": 0, "OFFSET": "[0, 0, 0]",
             "ON": on, "FACE": f"face: {face}, " if face else ""} | values
    return cd.assemble(cd.read("many.yaml", text=re.sub("|".join(given), lambda found: str(given[found[0]]), MANY)))


def said(old: Assembly, new: Assembly, name: str) -> tuple[np.ndarray, np.ndarray]:
    """What the words ask for, in base_link: a shift (m), and a turn as axis times angle (rad). Of moves alone."""
    (work,) = (w for w in work_between(old, new, {}) if w.name == name)
    assert work.verb == "move"
    shift, turn = np.zeros(3), np.zeros(3)
    words = re.sub(r", (as \w+ points|seen from [\w ]+)", r" \1", work.words)
    whose = re.findall(r"as (\w+) points", words)
    for step in words.split(", "):
        if found := re.match(r"([\d.]+) holes? (forward|back|left|right)", step):
            local = np.array(_AXES[found[2]]) * float(found[1]) * 0.020
        elif found := re.match(r"([\d.]+) mm (forward|back|left|right|up|down)( off its hole)?( as \w+ points)?$", step):
            local = np.array(_AXES[found[2]]) * float(found[1]) * 1e-3
        elif found := re.match(r"([\d.]+)(?: holes?| mm) along ([+-])([ijxyz])( of the seat)?$", step):
            axis = {"i": 0, "x": 0, "j": 1, "y": 1, "z": 2}[found[3]]
            local = np.eye(3)[axis] * (1 if found[2] == "+" else -1) * float(found[1]) * (0.010 if "hole" in step else 1e-3)
            placed = new.parts[name]
            seat = new.parts[placed.placement.on].pose @ new.parts[placed.placement.on].seats[placed.placement.seat or ""]
            shift += np.array(seat.r).reshape(3, 3) @ local
            continue
        elif found := re.match(r"(?:(quarter|half) turn|([\d.]+)°)(?: (left|right))?( seen from [\w ]+)?$", step):
            angle = {"quarter": 90.0, "half": 180.0}.get(found[1] or "") or float(found[2])
            seen = (found[4] or "").strip()
            if not seen or found[1] == "half":
                out = np.array([0.0, 0.0, 1.0]) if found[1] != "half" else np.array(new.parts[name].pose.z_axis)
            elif seen == "seen from below":
                out = np.array([0.0, 0.0, -1.0])
            else:
                out = np.array(new.parts[name].pose.z_axis)
                assert seen in ("seen from outside", f"seen from the {new.parts[name].face} face")
            turn += out * math.radians(angle) * (-1 if found[3] == "right" else 1)
            continue
        else:
            pytest.fail(f"words that nobody can follow: {step!r} of {work.words!r}")
        pose = new.decks[whose[0]].pose if whose else None
        shift += np.array(pose.r).reshape(3, 3) @ local if pose is not None else local
    return shift, turn


def done(old: Assembly, new: Assembly, name: str) -> tuple[np.ndarray, np.ndarray]:
    """What happened to the part: the shift, and the turn as axis times angle."""
    a, b = old.parts[name].pose, new.parts[name].pose
    by = np.array(b.r).reshape(3, 3) @ np.array(a.r).reshape(3, 3).T
    angle = math.acos(max(-1.0, min(1.0, (np.trace(by) - 1) / 2)))
    axis = np.array([by[2, 1] - by[1, 2], by[0, 2] - by[2, 0], by[1, 0] - by[0, 1]])
    if angle > math.pi - 1e-6:
        axis = np.array(b.z_axis)  # either way round is the same
    return np.array(b.t) - np.array(a.t), angle * axis / (np.linalg.norm(axis) or 1.0)


STANDS = [("lower", "top", {}), ("lower", "under", {}), ("shelf.side", "", {}),
          *(("upper", face, {"TURN": turn}) for face in ("top", "under") for turn in (0, 90, 180, 270)),
          *(("panel", face, {"RPY": list(rpy)}) for face in ("top", "under")
            for rpy in ((0, 0, 90), (0, 90, 0), (90, 0, 0), (0, -90, 45), (180, 0, 0), (0, 15, 0), (20, 30, 40)))]


@pytest.mark.parametrize(("on", "face", "stand"), STANDS)
def test_words_are_what_happens(on: str, face: str, stand: dict[str, object]) -> None:
    """Followed in the directions of the robot, of the deck or of the seat that they name, the words end where the part is."""
    old = many(on, face, **stand)
    for at, part, offset in itertools.product(([0, 0.5], [2, -0.5], [-1, 1.5]), (0, 90, 180, -30), ("[0, 0, 0]", "[1.5, -2.5, 1]")):
        new = many(on, face, **stand, AT=at, PART=part, OFFSET=offset)
        if (at, part, offset) == ([0, 0.5], 0, "[0, 0, 0]"):
            assert not work_between(old, new, {})
            continue
        for told, true in zip(said(old, new, "it"), done(old, new, "it")):
            assert np.allclose(told, true, atol=1e-6), (told, true, work_between(old, new, {}))


@pytest.mark.parametrize("before", [(0, 0, 0), (0, 80, 0), (10, 0, 30)])
@pytest.mark.parametrize("after", [(0, 0, 90), (180, 0, 0), (0, 100, 0), (10, 0, -60), (0, 80, 20)])
def test_a_plate_is_said_to_turn_only_about_the_vertical(before: tuple[int, ...], after: tuple[int, ...]) -> None:
    """A standing plate that leans the other way is no half turn, though its yaw, read as roll, pitch and yaw, is 180°."""
    old, new = many("lower", "top", RPY=list(before)), many("lower", "top", RPY=list(after), XYZ=[10, 0, 150])
    (words,) = (w.words for w in work_between(old, new, {}) if w.name == "panel")
    a, b = (np.array(r.decks["panel"].pose.r).reshape(3, 3) for r in (old, new))
    by = b @ a.T
    if by[2, 2] > 1 - 1e-9:
        angle = math.degrees(math.atan2(by[1, 0], by[0, 0]))
        side = "left" if angle > 0 else "right"
        assert (f"quarter turn {side}" if abs(abs(angle) - 90) < 1e-6 else f"{abs(angle):.6g}° {side}") in words
    else:
        assert "tilted otherwise" in words and "turn " not in words and "°" not in words


def test_on_another_support_it_is_said_where_it_points() -> None:
    """Turned by 90° on top of a deck a part points left, by 90° under it right (turns are seen from outside)."""
    old, new = many("lower", "top", PART=90), many("lower", "under", PART=90)
    assert [w.words for w in work_between(old, new, {})] == ["from lower top at [0, 0.5] to lower under at [0, 0.5], pointing right"]
    old, new = many("lower", "top", PART=90), many("upper", "top", TURN=90, PART=0)
    assert [w.words for w in work_between(old, new, {}) if w.name == "it"] == ["from lower top at [0, 0.5] to upper top at [0, 0.5]"]


@pytest.mark.parametrize(("turn", "whose"), [(0, ""), (90, ", as upper points")])
def test_the_build_sheet_says_whose_directions_they_are(turn: int, whose: str) -> None:
    """With its front along the deck's y a part on a deck turned by 90° looks back in the robot: `left` is the deck's."""
    from chassis_describe.reports.blocks import as_markdown
    from chassis_describe.reports.build_sheet import build_sheet

    assert f"its front points left{whose}\n" in as_markdown(build_sheet(many("upper", "top", TURN=turn, PART=90)), "", "")


def test_places_say_whose_directions_they_are() -> None:
    from chassis_describe.placing import places, question
    from chassis_describe.reports.places import places_text

    robot = cd.assemble(cd.read("whose.yaml", text=ROBOT.replace("TURN", "90").replace("[300, 300]", "[220, 220]")))
    text = places_text(robot, places(robot, question(robot, "high"), workers=1))
    rows = [row for row in text.splitlines() if " hole" in row and " moves " in row]
    assert rows and all(row.endswith(", as upper points") for row in rows)
