"""Where a sensor looks, in words, against vectors: every attitude of a dice."""
from __future__ import annotations

import itertools
import json
from pathlib import Path

import pytest

from chassis_describe import assemble, read
from chassis_describe.facts.figures import figures_of
from chassis_describe.facts.looks import direction, looks
from chassis_describe.reports.figures import figures_data
from tests.robots import standing_on_three

AXES = {"forward": (1, 0, 0), "back": (-1, 0, 0), "left": (0, 1, 0), "right": (0, -1, 0), "up": (0, 0, 1), "down": (0, 0, -1)}
DICE = [(x, z) for x, z in itertools.permutations(AXES, 2) if sum(a * b for a, b in zip(AXES[x], AXES[z])) == 0]
LAYOUT = standing_on_three("dice", """\
  cube: {mass: 40, bolts: [[0, -10], [0, 10]], bodies: [{box: [20, 20, 20], at: [0, 0, 10]}],
         sensors: {eye: {kind: camera, at: [0, 0, 10], axes: {x: X, z: Z}, fov: 60}}}
""", "  cube: {part: cube, on: floor, at: [0, 0.5]}")


def test_a_dice_has_24_attitudes() -> None:
    assert len(DICE) == 24


@pytest.mark.parametrize(("x", "z"), DICE)
def test_every_attitude_of_a_dice(x: str, z: str) -> None:
    """Height by hand: the ball reaches 40 mm below the deck, the deck is 4 mm thick, the eye 10 mm above it."""
    assembly = assemble(read(Path("dice.yaml"), text=LAYOUT.replace("x: X", f"x: {x}").replace("z: Z", f"z: {z}")))
    (text,) = looks(assembly).values()
    words = [f"looks {x}"]
    if x in ("up", "down"):
        words.append(f"its top {z}")
    elif z == "down":
        words.append("upside down")
    elif z != "up":
        words.append(f"on its side, its top {z}")
    assert text == ", ".join([*words, "54 mm above the ground"])


def test_json() -> None:
    """By frame."""
    assembly = assemble(read(Path("dice.yaml"), text=LAYOUT.replace("x: X", "x: forward").replace("z: Z", "z: up")))
    told = json.loads(json.dumps(figures_data(figures_of(assembly))))["looks"]
    assert told == {assembly.sensors[0].frame: "looks forward, 54 mm above the ground"}


@pytest.mark.parametrize(("vector", "words"), [
    ((0.6, 0.8, 0.0), "forward and left"), ((-0.7071, -0.7071, 0.0), "back and right"),
    ((0.9659258, 0.0, -0.2588190), "forward, 15\N{DEGREE SIGN} down"), ((0.0, -0.5, 0.8660254), "right, 60\N{DEGREE SIGN} up"),
    ((0.2588, 0.0, 0.9659), "up")])
def test_between_the_axes(vector: tuple[float, float, float], words: str) -> None:
    assert direction(vector) == words
