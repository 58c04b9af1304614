"""Layouts that would take the check for minutes: the first findings in full, the rest counted, and nothing left out unsaid.

Counted work, not time: how many places were tried for room, and how many pairs were judged. Scenes are invented.
"""
from __future__ import annotations

import math
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from chassis_describe.assembly.model import Assembly
from chassis_describe.compiler import assemble, check, read
from chassis_describe.facts.bodies import Bodies, bodies_of
from chassis_describe.findings import Severity
from chassis_describe.fit.bolts import holes_shared
from chassis_describe.fit.clear import space_kept_clear
from chassis_describe.fit.remedy_words import MEND_FIRST
from chassis_describe.tolerances import CURVED, IN_PLATE, MOST_DEPTHS, MOST_SHARED, MOST_TOLD, PLAIN

TOP = Path(__file__).resolve().parents[2]

PARTS = """
  box: {mass: 60, bodies: [{box: [70, 50, 20], at: [0, 0, 10]}], bolts: [[-30, -20], [-30, 20], [30, -20], [30, 20]]}
  tube: {mass: 60, bodies: [{cylinder: [40, 60], at: [0, 0, 30], rpy: [20, 35, 0]}], bolts: [[-10, 0], [10, 0]]}
  plug: {mass: 10, bodies: [{box: [10, 10, 10], at: [0, 0, 5]}], bolts: [[-10, 0], [10, 0]],
         keep_clear: [{box: [300, 300, 60], at: [0, 0, 35]}]}
"""


def crowd(part: str, number: int, more: str = "") -> Assembly:
    rows = "".join(f"  {part}_{k}: {{part: {part}, on: lower, at: [{0.5 + k % 3}, {k // 3 % 3}]{more}}}\n" for k in range(number))
    return assemble(read("crowd.yaml", text=f"layout: 1\nrobot: crowd\nparts:{PARTS}decks:\n  lower: {{outline: {{rectangle: "
                         f"[600, 600]}}, thickness: 4, density: 700}}\nplacements:\n{rows}"))


@pytest.mark.parametrize(("part", "number", "more"), [("box", 120, ""), ("tube", 20, ", fixing: adhesive"), ("plug", 40, "")])
def test_the_first_are_told_and_the_rest_is_counted(part: str, number: int, more: str) -> None:
    assembly = crowd(part, number, more)
    findings = check(assembly)
    told = Counter(f.code for f in findings if not f.message.endswith("more findings of this kind"))
    assert max(told.values()) <= 2 * MOST_TOLD
    counted = [f for f in findings if f.message.endswith("more findings of this kind")]
    assert counted and all(f.where for f in counted)
    assert any(f.severity is Severity.ERROR for f in findings) or part == "plug"
    left = [f.message for f in findings if f.hint == MEND_FIRST]  # what is told in full says what to do
    assert all("have to be judged one by one" in m or "too many to speak of" in m for m in left)


@pytest.mark.thorough
def test_pairs_that_were_not_judged_are_said() -> None:
    """120 boxes in one another are 7140 pairs, more than are judged; the sum of both is all of them."""
    assembly = crowd("box", 120)
    scene: Bodies = bodies_of(assembly)
    judged = sum(1 for _ in scene.clashes())
    assert judged == MOST_DEPTHS // PLAIN
    assert judged + scene.not_judged == math.comb(120, 2)
    assert any(f"{scene.not_judged} more pairs" in f.message for f in check(assembly))
    tubes = bodies_of(crowd("tube", 12))
    list(tubes.clashes())
    assert 0 < tubes.not_judged <= math.comb(12, 2) - MOST_DEPTHS // CURVED  # some pairs are far apart


def test_a_small_crowd_is_told_in_full() -> None:
    findings = check(crowd("box", 8))
    assert sum(f.code == "bodies-overlap" for f in findings) == math.comb(8, 2)
    assert not any("more" in f.message and "not" in f.message for f in findings if f.code == "bodies-overlap")


def test_a_hole_that_everybody_uses_is_told_once() -> None:
    """200 parts in one place are 19 900 pairs in each of four holes: the first are told, the rest is said by its number."""
    assembly = assemble(read("crowd.yaml", text=f"layout: 1\nrobot: crowd\nparts:{PARTS}decks:\n  lower: {{outline: {{rectangle: "
                             "[600, 600]}, thickness: 4, density: 700}\nplacements:\n" + "".join(
                                 f"  box_{k}: {{part: box, on: lower, at: [0.5, 0]}}\n" for k in range(200))))
    findings = list(holes_shared(assembly))
    assert len(findings) <= MOST_SHARED
    (counted,) = (f for f in findings if f.message.startswith("200 screws are meant for hole"))
    assert counted.where[0] == assembly.parts["box_0"].placement.marks["at"], "the first in the file, so that it is among those told"
    few = list(holes_shared(crowd("box", 30)))
    assert not any("too many" in f.message for f in few)
    assert len(few) == len({tuple(sorted(f.of)) for f in few})


def test_what_stands_in_spaces_is_judged_so_often_and_the_rest_is_counted() -> None:
    """90 plugs, each with all the others in the space that it needs: 8010 pairs; told and counted together they are all."""
    assembly = crowd("plug", 90)
    findings = list(space_kept_clear(assembly))
    (counted,) = (f for f in findings if "more intrusions" in f.message)
    left = int(counted.message.split()[0])
    judged = MOST_DEPTHS // PLAIN
    assert left + judged == 90 * 89
    assert judged // 2 < len(findings) - 1 <= judged  # some touch no more than the limit
    few = list(space_kept_clear(crowd("plug", 12)))
    assert not any("more intrusions" in f.message for f in few)


def test_bodies_in_a_plate_are_judged_so_often_and_the_rest_is_counted() -> None:
    number = MOST_DEPTHS // IN_PLATE + 30
    sunk = "".join(f"  peg_{k}: {{part: peg, on: lower, at: [{k % 25 - 12}, {k // 25 - 12}]}}\n" for k in range(number))
    assembly = assemble(read("sunk.yaml", text="layout: 1\nrobot: sunk\nparts:\n  peg: {mass: 6, bodies: [{box: [8, 8, 6], at: "
                             "[0, 0, 1]}]}\ndecks:\n  lower: {outline: {rectangle: [600, 600]}, thickness: 4, density: 700}\n"
                             f"placements:\n{sunk}"))
    scene = bodies_of(assembly)
    assert sum(1 for _ in scene.clashes()) == MOST_DEPTHS // IN_PLATE
    assert scene.not_judged == 30
    assert any("30 more pairs" in f.message for f in check(assembly))


@pytest.mark.thorough
def test_the_same_is_said_however_sets_are_ordered() -> None:
    """Python orders sets of text by a seed of the run: two runs over one crowd say the same, byte for byte."""
    program = ("from tests.fit.test_crowds import crowd\nfrom chassis_describe.compiler import check\n"
               "print(hash('a'))\nfor f in check(crowd('box', 60)): print(f)\n")
    said = [subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, cwd=TOP,
                           env={**os.environ, "PYTHONHASHSEED": value}).stdout.split("\n", 1) for value in ("1", "0")]
    assert said[0][0] != said[1][0]
    assert said[0][1] == said[1][1]
    assert "more pairs of bodies" in said[0][1]
