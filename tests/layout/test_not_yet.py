"""Kinds and keys that this version does not have, and names that are found by a word in them. Layouts are invented."""
from __future__ import annotations

import pytest

from chassis_describe.compiler import read
from chassis_describe.errors import LayoutError, UsageError
from chassis_describe.reports.part_list import chosen_parts

HEAD = "layout: 1\nrobot: robot\ndecks:\n  lower: {outline: {rectangle: [200, 160]}, thickness: 4, density: 700}\n"


def hint(text: str) -> str:
    with pytest.raises(LayoutError) as told:
        read("robot.yaml", text=HEAD + text)
    return " ".join(f.hint for f in told.value.findings)


@pytest.mark.parametrize(("text", "said"), [
    ("drive: {kind: tracks, left: [a], right: [b]}\n", "not in this version: tracks; nearest: `skid_steer`"),
    ("parts:\n  eye: {mass: 9, sensors: {s: {kind: radar}}}\n", "not in this version: radar; nearest: `ranger`"),
    ("placements:\n  a: {part: imu_board, on: lower, clamp: post}\n", "not in this version: clamp; nearest: `fixing`"),
    ("gripper: {on: lower}\n", "not in this version: gripper; nearest: `placements`")])
def test_what_is_not_there_yet_is_said(text: str, said: str) -> None:
    found = hint(text)
    assert said in found and "did you mean" not in found


def test_what_is_known_is_never_called_missing() -> None:
    """The words of the table lose their say as soon as the language has them."""
    from chassis_describe.layout.language.not_yet import not_in_this_version

    assert not_in_this_version("tracks", ("tracks", "differential")) is None
    assert not_in_this_version("diffrential", ("differential",)) is None


def test_a_part_is_found_by_a_word_in_its_name() -> None:
    assert "did you mean `imu_board`?" in hint("placements:\n  imu: {part: imu, on: lower}\n")
    assert "`gearmotor_d37`" in hint("placements:\n  motor: {part: motor, on: lower}\n")  # at the end of a longer word
    assert "did you mean `lidar_d70`?" in hint("placements:\n  lidar: {part: lidar_d7, on: lower}\n")  # a slip of a letter


@pytest.mark.parametrize(("text", "said"), [
    ("parts:\n  eye: {mass: 9, sensors: {s: {kind: gps}}}\n", "did you mean `gnss`?"),
    ("parts:\n  eye: {mass: 9, sensors: {s: {kind: sonar}}}\n", "did you mean `ranger`?"),
    ("drive: {kind: tank, left: [a], right: [b]}\n", "did you mean `skid_steer`?")])
def test_a_kind_is_found_by_what_the_trade_calls_it(text: str, said: str) -> None:
    assert said in hint(text)


def test_a_wheel_whose_size_is_refused_is_still_a_wheel() -> None:
    """One slip, one fault: that the part is no wheel, and so has nothing to sit on, does not come on top."""
    with pytest.raises(LayoutError) as told:
        read("robot.yaml", text=HEAD + "parts:\n  tyre: {mass: 90, wheel: {diameter: 0.08, width: 20}}\nplacements:\n"
             "  m: {part: gearmotor_d37, on: lower, face: under, at: [0.5, 2], points: left}\n  w: {part: tyre, on: m}\n")
    assert [(f.code, "0.08 m" in f.hint) for f in told.value.findings] == [("implausible", True)]


def test_parts_by_a_word_or_by_what_they_sense() -> None:
    lidars = chosen_parts("lidar", None)
    assert len(lidars) > 1 and all(any(s.kind == "lidar" for s in p.sensors) for p in lidars)
    every = {p.name for p in chosen_parts(None, None) if any(s.kind == "lidar" for s in p.sensors)}
    assert {p.name for p in lidars} == every
    assert [p.name for p in chosen_parts("imu_board", None)] == ["imu_board"]
    with pytest.raises(UsageError, match="there is no part"):
        chosen_parts("lidarr_zz", None)
