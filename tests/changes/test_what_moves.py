"""``move``, ``compare`` and ``parts`` where something moves while the robot runs. By hand, from the numbers in the demo's file."""
from __future__ import annotations

import json
from pathlib import Path

import pytest

from chassis_describe.cli.main import main
from tests.demos import CONFIG

TEXT = (CONFIG / "aviary_watch.yaml").read_text(encoding="utf-8")


@pytest.fixture
def robot(tmp_path: Path) -> Path:
    path = tmp_path / "robot.yaml"
    path.write_text(TEXT)
    return path


def said(capsys: pytest.CaptureFixture[str], *words: str) -> dict:
    main(list(words))
    return json.loads(capsys.readouterr().out)


@pytest.mark.thorough
def test_what_is_on_a_moving_seat_turns_there(robot: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The head's own links turn along; its base is 60 + 45 mm over the column's, and stays where it is."""
    done = said(capsys, "move", str(robot), "head", "--turn", "90", "--json")
    assert "head:     {part: pan_tilt_head, on: column, turn: 90}" in robot.read_text()
    change = done.get("change", done)
    moved = {m["frame"]: m for m in change["moved"]}
    assert set(moved) == {"head_link", "head_pan_link", "head_tilt_link", "camera_link", "camera_frame", "camera_optical_frame"}
    assert moved["head_link"]["dxyz_mm"] == pytest.approx([0, 0, 0], abs=1e-9)
    assert moved["camera_frame"]["dxyz_mm"] == pytest.approx([-13, 13, 0], abs=1e-9)  # 13 mm ahead of the axis before
    assert [w["name"] for w in change["work"]] == ["head"]


@pytest.mark.thorough
def test_onto_a_moving_seat_without_lattice(robot: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["move", str(robot), "lidar", "--on", "column.carriage"]) in (0, 1)
    assert "lidar:    {part: lidar_d70, on: column.carriage, at: [0, 0], lift: 15" in robot.read_text()
    capsys.readouterr()
    assert main(["move", str(robot), "camera", "--by", "1,0"]) == 2
    assert "no lattice" in capsys.readouterr().err


@pytest.mark.thorough
def test_another_start_and_another_range_are_told(robot: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    new = tmp_path / "new.yaml"
    new.write_text(TEXT.replace("set: {up: 60}", "set: {up: 100}"))
    change = said(capsys, "compare", str(robot), str(new), "--json")
    assert change["joints"] == [{"joint": "column_up_joint", "before": {"value": 0.06, "lower": 0.0, "upper": 0.16},
                                 "after": {"value": 0.1, "lower": 0.0, "upper": 0.16}}]
    moved = {m["frame"]: m["dxyz_mm"] for m in change["moved"]}
    assert moved["column_up_link"] == moved["head_pan_link"] == pytest.approx([0, 0, 40], abs=1e-9)
    assert "column_link" not in moved and not change["work"]  # a motor does it
    assert ("controller_manager", "restart") in [(r["consumer"], r["action"]) for r in change["restart"]]
    main(["compare", str(robot), str(new)])
    assert "column_up_joint: starts at 60 mm before, at 100 mm now" in capsys.readouterr().out


@pytest.mark.thorough
def test_links_that_move_come_and_go(robot: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    new = tmp_path / "new.yaml"
    new.write_text(TEXT.replace("part: pan_tilt_head", "part: two_axis_holder"))
    change = said(capsys, "compare", str(robot), str(new), "--json")
    assert change["removed"] == ["head_pan_link", "head_tilt_link"] and not change["added"]
    renamed = tmp_path / "renamed.yaml"
    renamed.write_text(TEXT.replace("head:", "neck:").replace("on: head", "on: neck").replace("of: [head]", "of: [neck]"))
    change = said(capsys, "compare", str(robot), str(renamed), "--json")
    assert ["head_pan_link", "neck_pan_link"] in change["renamed"] and not change["removed"]


def test_parts_say_their_joints(capsys: pytest.CaptureFixture[str]) -> None:
    (gripper,) = said(capsys, "parts", "gripper", "--json")
    assert gripper["joints"] == [
        {"name": "close", "type": "prismatic", "lower": 0.0, "upper": 0.02, "follows": None},
        {"name": "other", "type": "prismatic", "lower": 0.0, "upper": 0.02, "follows": "close"}]
    (holder,) = said(capsys, "parts", "two_axis_holder", "--json")
    assert holder["joints"] == []  # moved by hand
    main(["parts", "gripper"])
    assert "follower other: 0 to 20 mm along the seat's left, follows close" in capsys.readouterr().out


def test_holes_list_what_is_on_the_deck(robot: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["holes", str(robot)])
    out = capsys.readouterr().out
    assert "column (top)" in out and "head" not in out.replace("ahead", "") and "caster_front (under)" in out
