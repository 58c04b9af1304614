"""`match`: a URDF with one change each, edited as text; what it reads is held against yourdfpy's own kinematics."""
from __future__ import annotations

import json
import math
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, strategies as st

from chassis_describe import compiler, matching
from chassis_describe.changes.match import Difference, angle_between
from chassis_describe.changes.urdf_tree import urdf_tree
from chassis_describe.cli.main import main
from chassis_describe.errors import UsageError
from chassis_describe.facts.play import play_of
from chassis_describe.space.pose import Pose, about_axis, from_rpy
from chassis_describe.targets import package_artifacts
from tests.demos import NAMES

TOP = Path(__file__).resolve().parents[2]
SCOUT = compiler.assemble(compiler.read(TOP / "config" / "draught_scout.yaml"))
URDF = compiler.urdf(SCOUT)


def differences(text: str, exact: bool = False) -> tuple[Difference, ...]:
    return matching.match_text(SCOUT, text, "edited.urdf", exact=exact)


def joint(name: str, old: str, new: str) -> str:
    """The URDF with a change in one joint."""
    found = re.search(rf'<joint name="{name}".*?</joint>', URDF, re.DOTALL)
    assert found is not None
    assert found[0].count(old) == 1, found[0]
    return URDF.replace(found[0], found[0].replace(old, new))


@pytest.mark.thorough
@pytest.mark.parametrize("robot", NAMES)
def test_what_we_write_is_the_same(robot: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    layout = str(TOP / "config" / f"{robot}.yaml")
    written = [file for file in package_artifacts(compiler.assemble(compiler.read(layout))) if file.path.endswith(".urdf")]
    assert written
    for file in written:
        path = tmp_path / Path(file.path).name
        path.write_bytes(file.data)
        assert main(["match", layout, str(path), "--exact", "--json"]) == 0
        assert json.loads(capsys.readouterr().out) == {"same": True, "differences": []}


@pytest.mark.parametrize("robot", NAMES)
def test_places_are_those_of_another_reader(robot: str, tmp_path: Path) -> None:
    yourdfpy = pytest.importorskip("yourdfpy")
    assembly = compiler.assemble(compiler.read(TOP / "config" / f"{robot}.yaml"))
    path = tmp_path / "robot.urdf"
    path.write_text(compiler.urdf(assembly))
    other = yourdfpy.URDF.load(str(path), load_meshes=False, build_scene_graph=True)
    mine = urdf_tree(path.read_bytes(), "robot.urdf")
    for name in mine.links:
        place = mine.place(name, "base_link")
        assert place is not None
        theirs = other.get_transform(name, "base_link")
        assert np.allclose(theirs[:3, 3], place.t, atol=1e-9)
        assert np.allclose(theirs[:3, :3].ravel(), place.r, atol=1e-9)


# ------------------------------------------------------------------------------------------------------- one change each
PLAY = play_of(SCOUT)["lidar_link"]
assert PLAY is not None


def test_a_moved_part_is_found_with_all_that_hangs_on_it() -> None:
    found = differences(joint("lidar_joint", 'xyz="0 0 0"', 'xyz="0.04 0 0"'))
    assert {d.of for d in found} == {"lidar_link", "laser_frame"}
    assert {(d.kind, d.unit) for d in found} == {("moved", "mm")}
    assert isinstance(found[0].found, tuple)
    assert isinstance(found[0].expected, tuple)
    assert [a - b for a, b in zip(found[0].found, found[0].expected)] == pytest.approx([40.0, 0.0, 0.0], abs=1e-6)


@pytest.mark.parametrize(("share", "exact", "differs"), [(0.9, False, False), (1.1, False, True), (0.9, True, True)])
def test_play_is_allowed_and_no_more(share: float, exact: bool, differs: bool) -> None:
    moved = differences(joint("lidar_joint", 'xyz="0 0 0"', f'xyz="{PLAY.shift * share:.9f} 0 0"'), exact)
    assert ("lidar_link" in {d.of for d in moved}) == differs
    turned = differences(joint("lidar_joint", "3.14159265359", f"{math.pi - PLAY.twist * share:.9f}"), exact)
    assert ("lidar_link" in {d.of for d in turned if d.unit == "deg"}) == differs


@pytest.mark.parametrize(("millimetres", "differs"), [(0.09, False), (0.11, True)])
def test_without_play_a_tenth_of_a_millimetre(millimetres: float, differs: bool) -> None:
    """The base deck itself: what is written for it, moved."""
    found = re.search(r'<joint name="lower_joint".*?xyz="([^"]*)"', URDF, re.DOTALL)
    assert found is not None
    x, y, z = map(float, found[1].split())
    text = joint("lower_joint", f'xyz="{found[1]}"', f'xyz="{x + millimetres / 1e3!r} {y!r} {z!r}"')
    assert ("lower_link" in {d.of for d in differences(text)}) == differs


@pytest.mark.parametrize(("old", "new", "kind", "of", "unit"), [
    ('type="continuous"', 'type="fixed"', "joint", "wheel_left_joint", ""),
    ('<axis xyz="0 1 0"/>', '<axis xyz="0 -1 0"/>', "joint", "wheel_left_joint", ""),
    ('name="wheel_left_joint"', 'name="left_joint"', "joint", "wheel_left_joint", ""),
    ('<parent link="motor_left_link"/>', '<parent link="motor_right_link"/>', "joint", "wheel_left_joint", ""),
    ('effort="', 'effort="1', "limit", "wheel_left_joint effort", "N m"),
    ('velocity="', 'velocity="1', "limit", "wheel_left_joint velocity", "rad/s"),
])
def test_joints(old: str, new: str, kind: str, of: str, unit: str) -> None:
    found = [d for d in differences(joint("wheel_left_joint", old, new)) if d.kind != "moved"]
    assert [(d.kind, d.of, d.unit) for d in found] == [(kind, of, unit)]


def test_masses_names_and_twins() -> None:
    link = re.search(r'<link name="battery_link">.*?</link>', URDF, re.DOTALL)
    assert link is not None
    mass = re.search(r'<mass value="([^"]*)"', link[0])
    ixx = re.search(r'ixx="([^"]*)"', link[0])
    assert mass is not None
    assert ixx is not None
    heavy = URDF.replace(link[0], link[0].replace(mass[0], f'<mass value="{float(mass[1]) + 0.05}"'))
    assert [(d.kind, d.of, d.expected, d.found, d.unit) for d in differences(heavy)] == [
        ("mass", "battery_link", float(mass[1]), float(mass[1]) + 0.05, "kg")]
    stiff = URDF.replace(link[0], link[0].replace(ixx[0], f'ixx="{float(ixx[1]) * 1.01}"'))
    assert [(d.kind, d.of, d.unit) for d in differences(stiff)] == [("mass", "battery_link", "kg m^2")]
    named = differences(URDF.replace("laser_frame", "laser"))
    assert {(d.kind, d.of) for d in named} == {("missing", "laser_frame"), ("extra", "laser")}
    more = differences(URDF.replace("</robot>", '<link name="flag"/><joint name="f" type="fixed"><parent link="base_link"/>'
                                                '<child link="flag"/></joint></robot>'))
    assert [(d.kind, d.of) for d in more] == [("extra", "flag")]
    twin = differences(URDF.replace("</robot>", f"{link[0]}</robot>"))
    assert [(d.kind, d.of) for d in twin] == [("twice", "battery_link")]
    two_parents = differences(URDF.replace("</robot>", '<joint name="again" type="fixed"><parent link="base_link"/>'
                                                       '<child link="battery_link"/></joint></robot>'))
    assert [(d.kind, d.of) for d in two_parents] == [("twice", "battery_link")]


def test_a_tree_written_another_way_round_is_the_same_place() -> None:
    """The joint's origin left out where it is the identity; attitudes by another roll, pitch, yaw of the same turn."""
    plain = differences(joint("lidar_joint", '<origin xyz="0 0 0" rpy="0 0 3.14159265359"/>',
                              f'<origin rpy="{math.pi} {math.pi} 0"/>'), exact=True)
    assert plain == ()


@given(st.tuples(*[st.floats(-3, 3)] * 3), st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: math.hypot(*v) > 0.1),
       st.one_of(st.floats(0, math.pi), st.floats(0, 1e-6), st.floats(math.pi - 1e-6, math.pi)))
def test_the_angle_between_two_attitudes(start: tuple[float, float, float], axis: tuple[float, float, float], angle: float) -> None:
    a = Pose(from_rpy(*start))
    assert angle_between(a, a @ Pose(about_axis(axis, angle))) == pytest.approx(angle, abs=1e-9)


# --------------------------------------------------------------------------------------------------- what can't be read
@pytest.mark.parametrize(("text", "says"), [
    ("", r"x\.urdf:\d+: this is no XML"),
    ("<robot", r"x\.urdf:1: this is no XML"),
    ("<sdf/>", r"x\.urdf:1: a URDF begins with <robot>"),
    ('<robot xmlns:xacro="http://www.ros.org/wiki/xacro"><xacro:property name="a" value="1"/></robot>', "expand it first"),
    ('<robot>\n<link/></robot>', r"x\.urdf:2: <link> lacks its `name`"),
    ('<robot><link name="a"/><joint name="j" type="fixed"><parent link="a"/><child link="b"/></joint></robot>', "names a link b"),
    ('<robot><link name="a"><inertial><mass value="1,5"/><inertia/></inertial></link></robot>', "of <mass> is not 1 number"),
    ('<robot><link name="a"/><link name="b"/><joint name="j" type="fixed"><origin xyz="0 0"/><parent link="a"/><child link="b"/>'
     '</joint></robot>', "is not 3 numbers"),
])
def test_what_is_no_urdf(text: str, says: str) -> None:
    with pytest.raises(UsageError, match=says):
        urdf_tree(text, "x.urdf")


def test_a_ring_of_joints_ends() -> None:
    ring = ('<robot><link name="base_link"/><link name="a"/><link name="b"/><joint name="j" type="fixed"><parent link="a"/>'
            '<child link="b"/></joint><joint name="k" type="fixed"><parent link="b"/><child link="a"/></joint></robot>')
    assert urdf_tree(ring, "x.urdf").place("a", "base_link") is None


def test_exit_codes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    layout = str(TOP / "config" / "draught_scout.yaml")
    path = tmp_path / "robot.urdf"
    path.write_text(joint("lidar_joint", 'xyz="0 0 0"', 'xyz="0 0 0.01"'))
    was = path.read_bytes()
    assert main(["match", layout, str(path)]) == 1
    assert "moved: lidar_link: expected [" in capsys.readouterr().out
    assert main(["match", layout, str(path), "--json"]) == 1
    said = json.loads(capsys.readouterr().out)
    assert not said["same"]
    assert {d["of"] for d in said["differences"]} == {"lidar_link", "laser_frame"}
    assert set(said["differences"][0]) == {"kind", "of", "expected", "found", "unit"}
    assert main(["match", layout, str(tmp_path / "absent.urdf")]) == 2
    assert path.read_bytes() == was
