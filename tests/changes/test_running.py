"""`match --running` without ROS: what was heard, held against the layout. Heard are the frames of the layout, with one change each."""
from __future__ import annotations

import math
from pathlib import Path

import pytest

from chassis_describe import compiler, matching
from chassis_describe.changes.match import Difference
from chassis_describe.changes.running import Heard, HeardFrame
from chassis_describe.errors import UsageError
from chassis_describe.facts.play import play_of
from chassis_describe.space.pose import Pose, about_axis, rot_z, translation
from tests.demos import NAMES

TOP = Path(__file__).resolve().parents[2]
SCOUT = compiler.assemble(compiler.read(TOP / "config" / "draught_scout.yaml"))
URDF = compiler.urdf(SCOUT)
FRAMES = {j.child: HeardFrame(j.parent, j.child, j.placed, j.type == "fixed") for j in SCOUT.joints}


def differences(*changed: HeardFrame, without: tuple[str, ...] = (), exact: bool = False,
                texts: tuple[str, ...] = (URDF,)) -> tuple[Difference, ...]:
    """Of the layout's own frames, some of them changed."""
    frames = {**FRAMES, **{c.child: c for c in changed}}
    return matching.match_running(SCOUT, Heard(descriptions=texts, frames=tuple(f for n, f in frames.items() if n not in without)),
                                  exact=exact)


@pytest.mark.parametrize("robot", NAMES)
@pytest.mark.parametrize("turned", [0.0, 0.4])
def test_a_robot_that_says_what_the_layout_says_is_the_same(robot: str, turned: float) -> None:
    """At whatever value its joints are, within their limits."""
    assembly = compiler.assemble(compiler.read(TOP / "config" / f"{robot}.yaml"))
    frames = []
    for j in assembly.joints:
        value = j.value if j.lower is None or j.upper is None else j.value + turned * (j.upper - j.value)
        frames.append(HeardFrame(j.parent, j.child, j.at(value + (turned if j.type == "continuous" else 0.0)), j.type == "fixed"))
    heard = Heard(descriptions=(compiler.urdf(assembly),), frames=tuple(frames))
    assert matching.match_running(assembly, heard, exact=True) == ()


def test_a_frame_beyond_its_play_has_moved_with_all_that_hangs_on_it() -> None:
    play = play_of(SCOUT)["lidar_link"]
    assert play is not None
    for share, exact, expected in ((0.9, False, set()), (1.5, False, {"lidar_link", "laser_frame"}),
                                   (0.9, True, {"lidar_link", "laser_frame"})):
        item = FRAMES["lidar_link"]
        found = differences(item._replace(pose=translation(play.shift * share, 0.0, 0.0) @ item.pose), exact=exact)
        assert {d.of for d in found} == expected
        assert {(d.kind, d.unit) for d in found} <= {("moved", "mm")}


def test_frames_of_joints_that_nobody_publishes_are_missing_with_the_reason() -> None:
    """robot_state_publisher sends what a joint moves only when joint states come (ros/robot_state_publisher 3.3.3,
    robot_state_publisher.cpp, callbackJointState; heard so of the real one)."""
    def heard(*without: str) -> Heard:
        return Heard(descriptions=(URDF,), frames=tuple(f for n, f in FRAMES.items() if n not in without))

    wheels = ("wheel_left_link", "wheel_right_link")
    assert [(d.kind, d.of) for d in matching.match_running(SCOUT, heard(*wheels))] == [("missing", w) for w in wheels]
    words = matching.why_missing(SCOUT, heard(*wheels))
    assert words is not None and "wheel_left_link and wheel_right_link" in words and "joint states" in words
    for others in ((), ("laser_frame",)):
        assert matching.why_missing(SCOUT, heard(*others)) is None


def test_missing_extra_and_carried_otherwise() -> None:
    assert [(d.kind, d.of) for d in differences(without=("laser_frame",))] == [("missing", "laser_frame")]
    stray = HeardFrame("upper_link", "old_lidar", Pose(), True)
    assert [(d.kind, d.of) for d in differences(stray)] == [("extra", "old_lidar")]
    driver = HeardFrame("laser_frame", "laser_inner", Pose(), True)
    assert differences(driver) == (), "what a driver publishes below its sensor is its own"
    above = HeardFrame("odom", SCOUT.root, Pose(), False)
    assert differences(above) == ()
    elsewhere = FRAMES["lidar_link"]._replace(parent="nowhere")
    assert {(d.kind, d.of) for d in differences(elsewhere)} == {("joint", "lidar_joint"), ("joint", "laser_frame_joint")}


@pytest.mark.parametrize(("other", "unit"), [
    (FRAMES["lidar_link"]._replace(pose=translation(0.01, 0.0, 0.0)), "mm"),
    (FRAMES["lidar_link"]._replace(pose=FRAMES["lidar_link"].pose @ Pose(rot_z(math.radians(1)))), "deg"),
    (FRAMES["lidar_link"]._replace(parent="base_link"), ""), (FRAMES["lidar_link"]._replace(static=False), "")])
def test_a_frame_published_twice_is_that_alone(other: HeardFrame, unit: str) -> None:
    heard = Heard(descriptions=(URDF,), frames=(*FRAMES.values(), other))
    for one in (heard, Heard(descriptions=(URDF,), frames=(other, *FRAMES.values()))):
        assert [(d.kind, d.of, d.unit) for d in matching.match_running(SCOUT, one)] == [("twice", "lidar_link", unit)]


def test_a_wheel_on_another_axis_or_beside_its_own() -> None:
    """A wheel turns about its y (wiki.ros.org/urdf/XML/joint: the axis is the child's): about x it is no value of the joint."""
    wheel = FRAMES["wheel_left_link"]
    assert differences(wheel._replace(pose=wheel.pose @ Pose(about_axis((0, 1, 0), 2.5)))) == ()
    for off in (Pose(about_axis((1, 0, 0), 0.5)), translation(0.0, 0.01, 0.0)):
        assert {(d.kind, d.of) for d in differences(wheel._replace(pose=wheel.pose @ off))} == {("moved", "wheel_left_link")}


def test_descriptions_that_are_none_several_or_not_there() -> None:
    assert [(d.kind, d.of) for d in differences(texts=())] == [("missing", "robot_description")]
    other = URDF.replace('<mass value="0.11"', '<mass value="0.12"')
    found = differences(texts=(URDF, other, "<robot"))
    assert ("twice", "robot_description") in {(d.kind, d.of) for d in found}
    assert ("missing", "robot_description") in {(d.kind, d.of) for d in found}
    with pytest.raises(UsageError, match="nothing was heard"):
        matching.match_running(SCOUT, Heard(descriptions=(), frames=()))
