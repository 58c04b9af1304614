"""Steps in words: seats have no front, and forward on a turned deck is the deck's own. Robots are invented."""
from __future__ import annotations

import pytest

import chassis_describe as cd
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
