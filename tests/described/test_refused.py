"""Bad descriptions, one of each kind: exit 2, whose file, xacro's own message where it is xacro that refuses."""
from __future__ import annotations

from pathlib import Path

import pytest

from chassis_describe import LayoutError, assemble, read, urdf
from chassis_describe.cli.main import main

LAYOUT = """\
layout: 1
robot: cart
lattice: {pitch: 20, hole: 3.4, screw: M3}
parts:
  thing: {description: {file: FILE}}
decks:
  lower: {outline: {rectangle: [240, 200]}, thickness: 4, material: birch_plywood}
placements:
  thing: {part: thing, on: lowerSET}
"""
LINK = '<link name="a"/>'
XACRO = '<robot name="r" xmlns:xacro="http://www.ros.org/wiki/xacro">{}</robot>'
MACRO = XACRO.format('<xacro:macro name="m" params="{}">{}</xacro:macro>')


def written(folder: Path, description: str, *, name: str = "d.urdf", rest: str = "", settings: str = "") -> Path:
    (folder / name).write_text(description)
    path = folder / "cart.yaml"
    path.write_text(LAYOUT.replace("FILE", name + rest).replace("SET", f", set: {settings}" if settings else ""))
    return path


def refused(path: Path) -> str:
    with pytest.raises(LayoutError) as caught:
        read(path)
    assert all(f.where and f.where[0].line for f in caught.value.findings)
    return str(caught.value)


def body(inner: str, name: str = "r") -> str:
    return f'<robot name="{name}">{inner}</robot>'


def joint(kind: str, inner: str, parent: str = "a", child: str = "b", name: str = "j") -> str:
    return (f'<joint name="{name}" type="{kind}"><parent link="{parent}"/><child link="{child}"/>{inner}</joint>')


@pytest.mark.parametrize(("description", "says"), [
    ("<robot", "Couldn't find end of Start Tag"),
    ('<!DOCTYPE robot [<!ENTITY e "x">]><robot name="&e;"><link name="a"/></robot>', "document type declaration"),
    ("<sdf/>", "its root is <sdf>"),
    (body(""), "it has no links"),
    (body(LINK + LINK), "two links are called a"),
    (body('<link/>'), "a <link> has no name"),
    (body(LINK + '<link name="b"/>'), "it has 2 roots: a, b"),
    (body(LINK + '<link name="b"/>' + joint("fixed", "") + joint("fixed", "", "b", "a", "k")), "joints make a loop"),
    (body(LINK + '<link name="b"/>' + joint("fixed", "") + joint("fixed", "")), "two joints are called j"),
    (body(LINK + '<link name="b"/>' + joint("fixed", "") + joint("fixed", "", name="k")), "hangs on two joints"),
    (body(LINK + joint("fixed", "")), "its child b is no link"),
    (body(LINK + '<link name="b"/>' + joint("floating", "")), "the type floating is not taken"),
    (body(LINK + '<link name="b"/>' + joint("revolute", "")), "has no <limit>"),
    (body(LINK + '<link name="b"/>' + joint("revolute", '<limit lower="2" upper="1" effort="1" velocity="1"/>')),
     "lower limit 2 is above"),
    (body(LINK + '<link name="b"/>' + joint("continuous", '<axis xyz="0 0 0"/>')), "its axis has no direction"),
    (body(LINK + '<link name="b"/>' + joint("continuous", '<axis xyz="0 0 1"/><mimic joint="q"/>')), "follows q"),
    (body('<link name="a"><inertial><mass value="-1"/><inertia ixx="1" ixy="0" ixz="0" iyy="1" iyz="0" izz="1"/></inertial></link>'),
     "a mass of -1 kg"),
    (body('<link name="a"><inertial><mass value="1"/></inertial></link>'), "needs <mass> and <inertia>"),
    (body('<link name="a"><inertial><mass value="1 kg"/><inertia ixx="1" ixy="0" ixz="0" iyy="1" iyz="0" izz="1"/></inertial></link>'),
     'value="1 kg" of <mass> is not 1 number'),
    (body('<link name="a"><collision><geometry><capsule radius="1" length="1"/></geometry></collision></link>'), "<capsule>"),
    (body('<link name="a"><collision><geometry><sphere radius="0"/></geometry></collision></link>'), "a size of 0 m"),
    (body('<link name="a"><collision><geometry><box size="1 2"/></geometry></collision></link>'), "is not 3 numbers"),
    (body('<link name="a"><visual><geometry><mesh filename="gone.stl"/></geometry></visual></link>'), "gone.stl is not there"),
    (body('<link name="a"><visual><geometry><mesh filename="http://x/y.stl"/></geometry></visual></link>'), "neither a path nor"),
    (body('<link name="a"><visual><geometry><mesh filename="package://nowhere_at_all/y.stl"/></geometry></visual></link>'),
     "nowhere_at_all is neither below AMENT_PREFIX_PATH"),
    (body(LINK + "<world/>"), "<world> under <robot> is not taken"),
])
def test_urdf_that_no_consumer_would_take(tmp_path: Path, description: str, says: str) -> None:
    text = refused(written(tmp_path, description))
    assert says in text
    assert "d.urdf" in text


@pytest.mark.parametrize(("description", "rest", "says"), [
    (XACRO.format("<xacro:nothing/>"), "", "unknown macro name: xacro:nothing"),
    (XACRO.format('<link name="${undefined_thing}"/>'), "", "undefined_thing"),
    (XACRO.format('<xacro:include filename="gone.xacro"/>'), "", "gone.xacro"),
    (XACRO.format('<xacro:include filename="$(find nowhere_at_all)/x.xacro"/>'), "", "nowhere_at_all is neither below"),
    (XACRO.format('<link name="$(arg who)"/>'), "", "who"),
    (XACRO.format('<link name="a">'), "", "XML parsing error"),
    (MACRO.format("", LINK), ", macro: other", "defines no macro other"),
    (MACRO.format("prefix", LINK), ", macro: m", "Undefined parameters [prefix]"),
    (MACRO.format("", LINK), ", macro: m, arguments: {prefix: x}", 'Invalid parameter "prefix"'),
    (MACRO.format("*pose", LINK), ", macro: m", "wants a block pose"),
    (MACRO.format("", "<xacro:m/>"), ", macro: m", "calls itself without end"),
    (MACRO.format("parent", '<link name="${parent}"/>'), ', macro: m, arguments: {parent: "{frame}"}', "that link is ours"),
    (MACRO.format("p", '<link name="${len(p)}${p}"/><link name="${p[2]}"/>'), ', macro: m, arguments: {p: "{prefix}"}',
     "otherwise than by carrying it"),
    (MACRO.format("", LINK), ", macro: m, root: b", "it has no link b"),
    (MACRO.format("", LINK + '<link name="b"/>' + joint("continuous", "")), ", macro: m, root: b", "b moves against a"),
])
def test_xacro_that_does_not_expand(tmp_path: Path, description: str, rest: str, says: str) -> None:
    path = written(tmp_path, description, name="d.xacro", rest=rest)
    text = refused(path)
    assert says in text
    assert "d.xacro" in text or "root" in text
    # One failure leaves nothing behind: the same library expands a good file right after.
    written(tmp_path, MACRO.format("", LINK), name="d.xacro", rest=", macro: m")
    assert 'name="thing_a"' in urdf(assemble(read(path)))


def test_the_command_ends_with_2_and_says_whose_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = written(tmp_path, XACRO.format("<xacro:nothing/>"), name="d.xacro")
    assert main(["urdf", str(path)]) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert "cart.yaml:5" in said
    assert "d.xacro" in said
    assert "xacro says: unknown macro name: xacro:nothing" in said


@pytest.mark.parametrize(("settings", "says"), [
    ("{elbow: 10}", "is not a joint of `thing` that moves"),
    ("{j: 90}", "90° is out of the range of `j`"),
    ("{k: 1}", "`k` follows `j`"),
])
def test_settings_of_its_joints(tmp_path: Path, settings: str, says: str) -> None:
    limit = '<limit lower="-1" upper="1" effort="1" velocity="1"/>'
    description = body(LINK + '<link name="b"/><link name="c"/>' + joint("revolute", limit) +
                       joint("revolute", limit + '<mimic joint="j"/>', "b", "c", "k"))
    assert says in refused(written(tmp_path, description, settings=settings))


@pytest.mark.parametrize(("key", "says"), [
    ("mass: 20", "`mass` means nothing for a part with a `description`"),
    ("bodies: [{box: [1, 1, 1]}]", "`bodies` means nothing"),
    ("seats: {s: {link: gone, bolts: [[0, 0]], hole: 3}}", "`gone` is not a link of the description"),
    ("sensors: {s: {kind: camera, link: gone}}", "`gone` is not a link of the description"),
])
def test_keys_beside_a_description(tmp_path: Path, key: str, says: str) -> None:
    path = written(tmp_path, body(LINK))
    path.write_text(path.read_text().replace("description: {file: d.urdf}", f"description: {{file: d.urdf}}, {key}"))
    assert says in refused(path)


def test_a_link_without_a_description_means_nothing(tmp_path: Path) -> None:
    path = written(tmp_path, body(LINK))
    path.write_text(path.read_text().replace("description: {file: d.urdf}", "sensors: {s: {kind: camera, link: a}}"))
    assert "`link` names a link of the part's `description`" in refused(path)


def test_a_root_in_the_middle_lies_on_the_parts_origin(tmp_path: Path) -> None:
    """The frame `b` is 30 mm above and turned; with it as root the tree hangs so that `b` is the part's own frame."""
    origin = '<origin xyz="0.01 0 0.03" rpy="0 0 1.5707963267948966"/>'
    path = written(tmp_path, body(LINK + '<link name="b"/>' + joint("fixed", origin)), rest=", root: b")
    assembly = assemble(read(path))
    assert assembly.poses["thing_b"].t == pytest.approx(assembly.poses["thing_link"].t, abs=1e-12)
    assert assembly.poses["thing_b"].r == pytest.approx(assembly.poses["thing_link"].r, abs=1e-12)
    assert assembly.poses["thing_a"].t == pytest.approx((0, 0.01, -0.03), abs=1e-12)  # by hand: -Rz(-90°)·[10, 0, 30]


def test_only_what_is_placed_is_expanded(tmp_path: Path) -> None:
    path = written(tmp_path, "<robot")
    path.write_text(path.read_text().replace("{part: thing, on: lower}", "{part: other, on: lower}").replace(
        "decks:", "  other: {bodies: [{box: [20, 20, 20], at: [0, 0, 10]}], mass: 20}\ndecks:"))
    assert urdf(assemble(read(path)))
