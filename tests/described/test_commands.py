"""``parts``, ``move``, ``frames`` and ``compare`` of a robot with an arm that a package of its own describes."""
from __future__ import annotations

import json
import math
import shutil
from pathlib import Path

import pytest

from chassis_describe.cli.main import main
from tests.demos import CONFIG


@pytest.fixture
def robot(tmp_path: Path) -> Path:
    shutil.copytree(CONFIG, tmp_path / "robots")
    return tmp_path / "robots" / "games_waiter.yaml"


def said(capsys: pytest.CaptureFixture[str], *words: str) -> dict:
    main(list(words))
    return json.loads(capsys.readouterr().out)


def test_parts_expand_what_is_asked_for(robot: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = str(robot.parent / "parts" / "tray_arm.yaml")
    main(["parts", file, "tray_arm"])
    out = capsys.readouterr().out
    assert "630 g in 5 links" in out
    assert "waist: -150 to 150 degrees about column's up" in out
    (arm,) = said(capsys, "parts", file, "tray_arm", "--json")
    assert [j["name"] for j in arm["joints"]] == ["waist", "shoulder", "elbow", "wrist"]
    assert arm["joints"][1]["upper"] == pytest.approx(math.pi / 2)
    (arm,) = said(capsys, "parts", file, "--json")
    assert arm["joints"] is None
    main(["parts", "tray_arm", "--layout", str(robot)])
    assert "elbow: -120 to 120 degrees" in capsys.readouterr().out


def test_a_part_whose_description_is_gone_says_so(robot: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (robot.parent / "tray_arm_description" / "urdf" / "tray_arm.xacro").unlink()
    assert main(["parts", str(robot.parent / "parts" / "tray_arm.yaml"), "tray_arm"]) == 2
    err = capsys.readouterr().err
    assert "tray_arm.xacro is not there" in err


def test_move_takes_its_links_along(robot: Path, capsys: pytest.CaptureFixture[str]) -> None:
    done = said(capsys, "move", str(robot), "arm", "--by", "0,-1", "--json")
    change = done.get("change", done)
    moved = {m["frame"]: m["dxyz_mm"] for m in change["moved"]}
    assert set(moved) == {"arm_link", "arm_base", "arm_column", "arm_upper", "arm_lower", "arm_tray"}
    assert all(v == pytest.approx([0, -20, 0], abs=1e-9) for v in moved.values())


def test_onto_one_of_its_links(robot: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["move", str(robot), "imu", "--on", "arm.tray"])
    capsys.readouterr()
    frames = said(capsys, "frames", str(robot), "--json")["frames"]
    assert next(f["parent"] for f in frames if f["child"] == "imu_link") == "arm_tray"
    elbow = next(f for f in frames if f.get("joint") == "arm_elbow")
    assert elbow["value"] == pytest.approx(math.radians(100)) and elbow["type"] == "revolute"


def test_another_value_of_its_joint_is_told(robot: Path, capsys: pytest.CaptureFixture[str]) -> None:
    new = robot.parent / "new.yaml"
    new.write_text(robot.read_text().replace("elbow: 100", "elbow: 90"))
    main(["compare", str(robot), str(new)])
    assert "arm_elbow: starts at 100° before, at 90° now" in capsys.readouterr().out
