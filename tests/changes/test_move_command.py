"""`move` as people call it: what it writes, what it refuses, what is left when it is killed."""
from __future__ import annotations

import json
import math
import os
import re
import shutil
import signal
import stat
import subprocess
import sys
import time
from decimal import Decimal
from pathlib import Path

import pytest

import chassis_describe as cd
from chassis_describe.changes.result import patch
from chassis_describe.cli.main import main
from chassis_describe.disk import file as rewriting
from chassis_describe.errors import TargetError

TOP = Path(__file__).resolve().parents[2]
DEMO = TOP / "config" / "draught_scout.yaml"
BLOCK = "block: {mass: 20, bodies: [{box: [30, 50, 10], at: [0, 0, 5]}], bolts: [[0, -20], [0, 20]]}"
HEAD = f"""layout: 1
robot: odd_robot
parts:
  {BLOCK}
  shelf: {{like: block, seats: {{top: {{at: [0, 0, 12], lattice: {{pitch: 10}}}}}}}}
decks:
  plate: {{outline: {{rectangle: [600, 400]}}, thickness: 4, material: birch plywood}}
  roof: {{outline: {{rectangle: [600, 400]}}, thickness: 4, material: birch plywood, above: plate,
         standoffs: [{{length: 60, holes: [[-14, -9], [-14, 9], [14, -9], [14, 9]]}}]}}
placements:
"""


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    return Path(shutil.copy(DEMO, tmp_path / "robot.yaml"))


def odd(tmp_path: Path, placements: str) -> Path:
    path = tmp_path / "odd.yaml"
    path.write_text(HEAD + placements)
    return path


def changed_lines(old: str, new: str) -> list[str]:
    return [b for a, b in zip(old.splitlines(), new.splitlines()) if a != b]


# ------------------------------------------------------------------------------------------------------- what it writes
@pytest.mark.parametrize(("arguments", "line"), [
    (["lidar", "--by", "2,0"], "lidar:       {part: lidar_d70, on: upper, at: [2, 0], points: back, frame: laser_frame}"),
    (["lidar", "--by", "-2,0"], "lidar:       {part: lidar_d70, on: upper, at: [-2, 0], points: back, frame: laser_frame}"),
    (["lidar", "--to", "1,-1"], "lidar:       {part: lidar_d70, on: upper, at: [1, -1], points: back, frame: laser_frame}"),
    (["lidar", "--turn", "-90"], "lidar:       {part: lidar_d70, on: upper, at: [0, 0], points: right, frame: laser_frame}"),
    (["lidar", "--turn", "30"], "lidar:       {part: lidar_d70, on: upper, at: [0, 0], turn: 30, frame: laser_frame}"),
    (["lidar", "--on", "lower"], "lidar:       {part: lidar_d70, on: lower, at: [0, 0], points: back, frame: laser_frame}"),
    (["lidar", "--face", "under"],
     "lidar:       {part: lidar_d70, on: upper, face: under, at: [0, 0], points: back, frame: laser_frame}"),
    # under a deck the turn counts from below (layout language, `points`): 90 is to the robot's right
    (["motor_left", "--turn", "90"],
     "motor_left:  {part: gearmotor_d37, on: lower, face: under, at: [1.5, 2], points: right}"),
    (["motor_right", "--by", "1,0"], "motor_right: {mirror_of: motor_left, at: [2.5, -2]}"),
])
def test_one_line_changes(demo: Path, arguments: list[str], line: str, capsys: pytest.CaptureFixture[str]) -> None:
    before = demo.read_text()
    assert main(["move", str(demo), *arguments]) in (0, 1)
    assert [x.strip() for x in changed_lines(before, demo.read_text())] == [line]
    assert capsys.readouterr().err == ""


def test_screws_move_by_whole_holes_and_turn_about_the_part(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = odd(tmp_path, "  a: {part: block, on: plate, screws: [[0, -1], [0, 1]], points: forward}\n")
    assert main(["move", str(path), "a", "--by", "2,1"]) == 0
    assert "screws: [[2, 0], [2, 2]], points: forward" in path.read_text()
    assert main(["move", str(path), "a", "--turn", "90"]) == 0
    # a quarter turn counter-clockwise about [2, 1]: what lay right of it lies ahead
    assert "screws: [[3, 1], [1, 1]], points: left" in path.read_text()
    before = path.read_text()
    assert main(["move", str(path), "a", "--by", "0.5,0"]) == 2
    assert "whole holes" in capsys.readouterr().err
    assert main(["move", str(path), "a", "--turn", "45"]) == 2
    assert path.read_text() == before


def test_screws_under_a_deck_turn_the_other_way_round(tmp_path: Path) -> None:
    path = odd(tmp_path, "  a: {part: block, on: plate, face: under, screws: [[0, -1], [3, -1]], points: forward}\n"
               .replace("[3, -1]", "[0, 1]"))
    assert main(["move", str(path), "a", "--turn", "-90"]) == 0
    placed = cd.assemble(cd.read(path)).parts["a"]
    assert "points: left" in path.read_text()
    assert placed.pose.x_axis == pytest.approx((0, 1, 0))


def test_a_turn_that_has_a_unit_keeps_it(tmp_path: Path) -> None:
    path = odd(tmp_path, "  a: {part: block, on: plate, turn: 0 deg}\n  b: {part: block, on: plate, at: [5, 0], turn: 1.57 rad}\n")
    main(["move", str(path), "a", "--turn", "90"])
    main(["move", str(path), "b", "--turn", "45"])
    assert "turn: 90 deg}" in path.read_text()
    assert "turn: 45 deg}" in path.read_text()
    assert cd.assemble(cd.read(path)).parts["b"].turn == pytest.approx(math.radians(45))


def test_mirror_images_are_said_to_move_along(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["move", str(demo), "motor_left", "--by", "-1,0"])
    out = capsys.readouterr().out
    assert "motor_right moves along: it mirrors motor_left" in out
    assert "move motor_right: 1 hole back" in out
    main(["move", str(demo), "motor_right", "--by", "1,0", "--json"])
    assert json.loads(capsys.readouterr().out)["along"] == []


def test_a_seat_with_holes_is_moved_over_in_its_own_holes(tmp_path: Path) -> None:
    path = odd(tmp_path, "  a: {part: shelf, on: plate}\n  b: {part: block, on: a}\n")
    before = cd.assemble(cd.read(path)).parts["b"].pose.t
    assert main(["move", str(path), "b", "--by", "2,-1"]) in (0, 1)
    assert "b: {part: block, on: a, at: [2, -1]}" in path.read_text()
    after = cd.assemble(cd.read(path)).parts["b"].pose.t
    assert [b - a for a, b in zip(before, after)] == pytest.approx([0.020, -0.010, 0], abs=1e-12)


def test_from_a_deck_to_a_seat_the_word_becomes_a_turn(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = odd(tmp_path, "  a: {part: shelf, on: plate}\n  b: {part: block, on: roof, at: [4, 4], points: left}\n")
    assert main(["move", str(path), "b", "--on", "a.top", "--to", "0,0"]) in (0, 1)
    assert "b: {part: block, on: a.top, at: [0, 0], turn: 90}" in path.read_text()
    assert "from roof top at [4, 4] to a.top" in capsys.readouterr().out
    # a face means nothing on a seat: the reader says so, and nothing is written
    path.write_text(path.read_text().replace("on: a.top, at: [0, 0], turn: 90", "on: roof, face: under, at: [4, 4]"))
    before = path.read_text()
    assert main(["move", str(path), "b", "--on", "a.top"]) == 2
    assert "meaningless-key" in capsys.readouterr().err
    assert path.read_text() == before


def test_a_mirror_image_of_screws_gets_screws_of_its_own(tmp_path: Path) -> None:
    path = odd(tmp_path, "  a: {part: block, on: plate, screws: [[0, 3], [0, 5]], points: left}\n  b: {mirror_of: a}\n"
               .replace("[[0, 3], [0, 5]]", "[[-1, 4], [1, 4]]"))
    assert main(["move", str(path), "b", "--by", "2,0"]) in (0, 1)
    assert "b: {mirror_of: a, screws: [[1, -4], [3, -4]]}" in path.read_text()
    placed = cd.assemble(cd.read(path)).parts["b"]
    assert placed.at == (2, -4)
    assert placed.pose.x_axis == pytest.approx((0, -1, 0))


def test_nothing_to_do_writes_nothing(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = demo.stat()
    assert main(["move", str(demo), "lidar", "--to", "0,0", "--turn", "180"]) == 0
    assert "is there already" in capsys.readouterr().out
    assert (demo.stat().st_mtime_ns, demo.stat().st_ino) == (before.st_mtime_ns, before.st_ino)


# ------------------------------------------------------------------------------------------------------ what it refuses
@pytest.mark.parametrize(("arguments", "word"), [
    (["lidr", "--by", "1,0"], "lidar"), (["upper", "--by", "1,0"], "deck"), (["wheel_left", "--by", "1,0"], "motor_left"),
    (["depth", "--by", "1,0"], "no lattice"), (["lidar"], "--by"), (["lidar", "--by", "1;0"], "1;0"),
    (["lidar", "--by", "1,0", "--to", "2,0"], "not allowed"), (["lidar", "--on", "attic"], "attic"),
    (["depth", "--face", "under"], "seat"), (["lidar", "--by", "nan,0"], "nan"), (["lidar", "--turn", "east"], "east"),
    (["wheel_left", "--turn", "90"], "shaft")])
def test_refusals_say_why_and_leave_the_file(demo: Path, arguments: list[str], word: str,
                                             capsys: pytest.CaptureFixture[str]) -> None:
    before = demo.read_bytes()
    assert main(["move", str(demo), *arguments]) == 2
    said = capsys.readouterr()
    assert word in said.err
    assert "Traceback" not in said.err
    assert demo.read_bytes() == before


def test_standard_input_is_no_file_to_move_in(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["move", "-", "lidar", "--by", "1,0"]) == 2
    assert "standard input" in capsys.readouterr().err


def test_errors_gained_are_written_and_told_by_the_exit_code(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["move", str(demo), "lidar", "--by", "0.2,0"]) == 1
    said = capsys.readouterr().out
    assert f"findings gained\n  {demo}:" in said
    assert ": error: " in said
    assert "[bolt-off-hole]" in said
    assert "at: [0.2, 0]" in demo.read_text()
    assert main(["move", str(demo), "lidar", "--to", "0,0"]) == 0
    said = capsys.readouterr().out
    assert f"findings gone\n  {demo}:" in said
    assert "[bolt-off-hole]" in said
    assert demo.read_bytes() == DEMO.read_bytes()


# ------------------------------------------------------------------------------------------------------------ overlays
def test_the_file_that_says_it_is_the_file_that_is_edited(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    mast = demo.with_name("mast.yaml")
    mast.write_text("placements:\n  lidar: {at: [1, 0]}   # further forward\n  lamp: {part: imu_board, on: upper, at: [-1.5, 2.5]}\n")
    base = demo.read_bytes()
    assert main(["move", str(demo), "lidar", "--by", "1,0", "--with", str(mast)]) in (0, 1)
    assert "lidar: {at: [2, 0]}   # further forward" in mast.read_text()
    assert demo.read_bytes() == base
    assert capsys.readouterr().out.startswith(f"{mast}: lidar moved")
    assert main(["move", str(demo), "lamp", "--by", "0,-1", "--with", str(mast)]) in (0, 1)
    assert "at: [-1.5, 1.5]}" in mast.read_text()
    assert main(["move", str(demo), "driver", "--by", "1,0", "--with", str(mast)]) in (0, 1)
    assert demo.read_bytes() != base
    # `at` stands in one file and `points` in the other: not in one step
    both = mast.read_bytes(), demo.read_bytes()
    assert main(["move", str(demo), "lidar", "--by", "1,0", "--turn", "90", "--with", str(mast)]) == 2
    assert "several files" in capsys.readouterr().err
    assert (mast.read_bytes(), demo.read_bytes()) == both


# ------------------------------------------------------------------------------------------------------------- dry run
@pytest.mark.parametrize("name", ["flow_comments", "block_style", "unicode", "no_final_newline", "crlf", "bom_crlf", "json_style"])
def test_the_patch_of_a_dry_run_makes_the_same_file(name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # judge: the program `patch` (GNU, POSIX unified format)
    if shutil.which("patch") is None:
        pytest.skip("the program `patch` is not installed")
    first, second = tmp_path / "a.yaml", tmp_path / "b.yaml"
    for path in (first, second):
        shutil.copy(Path(__file__).parent / "corpus" / f"{name}.yaml", path)
    untouched = first.read_bytes()
    main(["move", str(first), "b", "--by", "2,-1", "--dry-run", "--json"])
    data = json.loads(capsys.readouterr().out)
    assert first.read_bytes() == untouched
    assert not data["written"]
    main(["move", str(first), "b", "--by", "2,-1"])
    subprocess.run(["patch", "--binary", "-s", str(second)], input=data["patch"].encode(), check=True)
    assert second.read_bytes() == first.read_bytes()
    assert main(["move", str(second), "b", "--by", "1,0", "--dry-run"]) in (0, 1)
    out = capsys.readouterr().out
    assert out.rstrip().endswith("nothing was written (--dry-run)")


def test_a_patch_names_missing_final_newlines() -> None:
    assert patch(b"a\nb", b"a\nc", "f").splitlines()[3:] == [
        " a", "-b", "\\ No newline at end of file", "+c", "\\ No newline at end of file"]


# -------------------------------------------------------------------------------------------------------------- atomic
STEPS = ["create", "write", "flush", "permissions", "replace", "flush folder"]


@pytest.mark.parametrize("step", STEPS)
def test_a_failure_at_any_step_leaves_one_whole_file(step: str, tmp_path: Path) -> None:
    path = tmp_path / "f.yaml"
    path.write_bytes(b"old")

    def stop(name: str) -> None:
        if name == step:
            raise OSError(28, "No space left on device")

    with pytest.raises(TargetError):
        rewriting.replace_file(path, b"new", was=b"old", step=stop)
    assert path.read_bytes() == (b"new" if step == "flush folder" else b"old")
    assert os.listdir(tmp_path) == ["f.yaml"]


@pytest.mark.parametrize("step", STEPS)
def test_killed_at_any_step_leaves_the_old_file_or_the_new_one(step: str, tmp_path: Path) -> None:
    path = odd(tmp_path, "  a: {part: block, on: plate, at: [0, 0]}\n")
    old = path.read_bytes()
    new = old.replace(b"at: [0, 0]}\n", b"at: [2, 0]}\n")
    code = f"""
import os, signal, sys
from chassis_describe import changing
from chassis_describe.disk import file as rewriting
real = rewriting.replace_file
def stop(name):
    if name == {step!r}:
        os.kill(os.getpid(), signal.SIGKILL)
changing.replace_file = lambda path, data, *, was: real(path, data, was=was, step=stop)
from chassis_describe.cli.main import main
main(["move", {str(path)!r}, "a", "--by", "2,0"])
"""
    done = subprocess.run([sys.executable, "-c", code], cwd=TOP, capture_output=True)
    assert done.returncode == -signal.SIGKILL
    assert path.read_bytes() == (new if step == "flush folder" else old)
    assert main(["move", str(path), "a", "--to", "2,0"]) == 0  # whatever was left behind is in nobody's way
    assert path.read_bytes() == new


def test_what_killed_runs_left_is_swept_up_and_nothing_else(tmp_path: Path) -> None:
    path = tmp_path / "f.yaml"
    path.write_bytes(b"old")
    long_ago = time.time() - 61
    for name, when in ((".f.yaml.abc_0189.new", long_ago), (".f.yaml.abc_0190.new", time.time()), (".f.yaml.mine.new", long_ago),
                       ("f.yaml.abc_0189.new", long_ago), (".gf.yaml.abc_0189.new", long_ago), (".fxyaml.abc_0189.new", long_ago)):
        (tmp_path / name).write_bytes(b"x")
        os.utime(tmp_path / name, (when, when))
    (tmp_path / ".f.yaml.a_folder.new").mkdir()
    (tmp_path / ".f.yaml.linked00.new").symlink_to("f.yaml")
    before = set(os.listdir(tmp_path))
    rewriting.replace_file(path, b"new", was=b"old")
    assert before - set(os.listdir(tmp_path)) == {".f.yaml.abc_0189.new"}
    assert set(os.listdir(tmp_path)) <= before


def test_links_and_permissions_stay(demo: Path, tmp_path: Path) -> None:
    link = tmp_path / "link.yaml"
    link.symlink_to(demo.name)
    demo.chmod(0o640)
    assert main(["move", str(link), "lidar", "--by", "1,0"]) in (0, 1)
    assert link.is_symlink()
    assert stat.S_IMODE(demo.stat().st_mode) == 0o640
    assert "at: [1, 0], points: back" in demo.read_text()


def test_a_file_that_somebody_else_saves_meanwhile_is_not_lost(tmp_path: Path) -> None:
    path = tmp_path / "f.yaml"
    path.write_bytes(b"theirs")
    with pytest.raises(TargetError, match="somebody else"):
        rewriting.replace_file(path, b"new", was=b"old")
    assert path.read_bytes() == b"theirs"
    assert os.listdir(tmp_path) == ["f.yaml"]


def test_the_request_of_a_half_hole_is_written_as_typed(demo: Path) -> None:
    main(["move", str(demo), "imu", "--by", "-0.5,+1"])
    assert re.search(r"imu: .*at: \[-2, 3\.5\]", demo.read_text())
    assert Decimal("-1.5") + Decimal("-0.5") == -2


def test_an_edit_between_reading_and_replacing_is_not_lost(tmp_path: Path) -> None:
    """Saved at the very last moment: what was exchanged out is compared, and put back."""
    path = tmp_path / "a.yaml"
    path.write_bytes(b"old")

    def step(name: str) -> None:
        if name == "replace":
            (tmp_path / "saved").write_bytes(b"saved by an editor")
            (tmp_path / "saved").rename(path)

    with pytest.raises(TargetError, match="somebody else"):
        rewriting.replace_file(path, b"new", was=b"old", step=step)
    assert path.read_bytes() == b"saved by an editor"
    assert os.listdir(tmp_path) == ["a.yaml"]
