"""Names of materials: by what they are or their colour, and none the beginning of another."""
from __future__ import annotations

import itertools
from pathlib import Path

import pytest

from chassis_describe.compiler import assemble, read, urdf
from chassis_describe.targets.description.colours import PALETTE, colour_name

CONFIG = sorted((Path(__file__).parents[2] / "config").glob("*.yaml"))


@pytest.mark.parametrize(("color", "word"), [  # the words of the six corners and of grey: as screens mix them (common practice)
    ((1, 0, 0, 1), "red"), ((1, 1, 0, 1), "yellow"), ((0, 1, 0, 1), "green"), ((0, 0, 1, 1), "blue"), ((1, 0, 1, 1), "violet"),
    ((1, 0.5, 0, 1), "orange"), ((0.5, 0.5, 0.5, 1), "grey"), ((0, 0, 0, 1), "black"), ((1, 1, 1, 1), "white")])
def test_a_colour_is_named_as_one_sees_it(color: tuple[float, float, float, float], word: str) -> None:
    digits = "".join(f"{round(v * 255):02x}" for v in color[:3])
    assert colour_name(color) == f"{word}_{digits}"
    assert colour_name((*color[:3], 0.5)) == f"translucent_{word}_{digits}80"


def test_no_name_begins_another() -> None:
    levels = (0.0, 0.2, 0.5, 0.8, 1.0)
    names = {*PALETTE, *(colour_name((r, g, b, a)) for r, g, b in itertools.product(levels, repeat=3) for a in (0.3, 0.5, 1.0))}
    ordered = sorted(names)
    assert len(ordered) > 300
    assert not [(a, b) for a, b in zip(ordered, ordered[1:]) if b.startswith(a)]  # sorted: a beginning stands right before


@pytest.mark.parametrize("path", CONFIG, ids=lambda p: p.stem)
def test_materials_of_the_demos(path: Path) -> None:
    from lxml import etree

    root = etree.fromstring(urdf(assemble(read(path))).encode())
    given = [m.get("name") for m in root.findall("material")]
    assert given and len(given) == len(set(given))
    assert not [(a, b) for a in given for b in given if a != b and b.startswith(a)]


def test_the_largest_body_gives_the_first_colour() -> None:
    """RViz 2 draws every primitive of a link in the colour of the first (ros2/rviz jazzy: robot_link.cpp, getMaterialForLink)."""
    from lxml import etree

    text = """\
layout: 1
robot: post
parts:
  lamp: {mass: 30, bolts: [[-10, 0], [10, 0]], bodies: [
    {cylinder: [4, 30], at: [0, 0, 15], color: [1, 0, 0]}, {box: [40, 40, 20], at: [0, 0, 10], color: [0, 1, 0]},
    {sphere: 6, at: [0, 0, 30], color: [0, 0, 1]}]}
decks: {floor: {outline: {rectangle: [100, 100]}, thickness: 4, density: 700}}
placements: {lamp: {part: lamp, on: floor, at: [0, 0]}}
"""
    robot = etree.fromstring(urdf(assemble(read("post.yaml", text=text))).encode())
    (link,) = (e for e in robot.findall("link") if e.get("name") == "lamp_link")
    names = [v.find("material").get("name") for v in link.findall("visual")]
    assert [n.rpartition("_")[2] for n in names] == ["00ff00", "ff0000", "0000ff"]


@pytest.mark.parametrize(("material", "name"), [("", "brass"), (", material: nylon", "spacer"), (", material: aluminium", "metal")])
def test_standoffs_are_named_by_what_they_are(material: str, name: str) -> None:
    text = ("layout: 1\nrobot: post\ndecks:\n  floor: {outline: {rectangle: [100, 100]}, thickness: 4, material: acrylic}\n"
            "  roof: {outline: {rectangle: [100, 100]}, thickness: 4, material: acrylic, above: floor, standoffs: "
            f"[{{length: 40, holes: [[-1, -1], [-1, 1], [1, 0]]{material}}}]}}\nplacements: {{}}\n")
    assert f'material name="post_{name}"' in urdf(assemble(read("post.yaml", text=text)))
