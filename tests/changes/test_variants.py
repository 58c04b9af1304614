"""One base file and overlays: every command that takes a layout takes `--with`, and faults are placed in the right file."""
from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import chassis_describe as cd
from chassis_describe.cli.main import main

TOP = Path(__file__).resolve().parents[2]
MAST = """# the mast for the long corridor
placements:
  lidar: {on: mast_top, at: [0, 0]}
  driver: ~            # no room for it
decks:
  mast_top:
    outline: {circle: 100}
    thickness: 3
    material: acrylic
    above: upper
    standoffs: [{length: 70, holes: [[1, -2], [1, 2], [-1, -2], [-1, 2]]}]
"""


@pytest.fixture
def files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    shutil.copy(TOP / "config" / "draught_scout.yaml", tmp_path / "base.yaml")
    (tmp_path / "mast.yaml").write_text(MAST)
    return tmp_path


@pytest.mark.parametrize("arguments", [["check"], ["check", "--json"], ["urdf"], ["frames"], ["frames", "--json"], ["holes"],
                                       ["compile", "-o", "out"], ["move", "--dry-run"], ["compare"]], ids=" ".join)
def test_every_command_takes_overlays(arguments: list[str], files: Path, capsys: pytest.CaptureFixture[str]) -> None:
    command, *rest = arguments
    extra = {"move": ["lidar", "--by", "1,0"], "compare": ["git:absent"]}.get(command, [])
    if command == "compare":
        extra = ["base.yaml"]
    assert main([command, "base.yaml", *extra, *rest, "--with", "mast.yaml"]) in (0, 1)
    said = capsys.readouterr()
    assert "fault of this program" not in said.err
    if command in ("urdf", "frames"):
        assert "mast_top_link" in said.out
        assert "driver_link" not in said.out
    if command == "move":
        assert "+  lidar: {on: mast_top, at: [1, 0]}" in said.out
    if command == "compile":
        assert "mast_top_link" in (files / "out" / "urdf" / "draught_scout.urdf").read_text()


def test_overlays_come_in_order_and_may_change_one_another(files: Path) -> None:
    (files / "second.yaml").write_text("decks: {mast_top: {thickness: 5}}\nplacements: {lidar: {at: [0, 1]}}\n")
    layout = cd.read("base.yaml", overlays=["mast.yaml", "second.yaml"])
    assert layout.decks["mast_top"].thickness == 0.005
    assert layout.placements["lidar"].at == (0.0, 1.0)
    assert layout.placements["lidar"].on == "mast_top"


def test_findings_point_into_the_file_that_says_it(files: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (files / "off.yaml").write_text("# one\n# two\nplacements:\n  lidar:\n    at: [0.2, 0]\n")
    assert main(["check", "base.yaml", "--with", "off.yaml", "--json"]) == 1
    finding = next(f for f in json.loads(capsys.readouterr().out)["findings"] if f["code"] == "bolt-off-hole")
    assert (finding["where"][0]["file"], finding["where"][0]["line"]) == ("off.yaml", 5)


@pytest.mark.parametrize(("overlay", "place", "code"), [
    ("placements:\n  lidr: ~\n", "over.yaml:2:3", "unknown-name"),
    ("placements:\n  lidar: {at: [1, 0], colour: red}\n", "over.yaml:2:23", "unknown-key"),
    ("placements:\n  lidar: {on: attic}\n", "over.yaml:2:15", "unknown-name"),
    ("decks:\n  upper: ~\n", "base.yaml:", "unknown-name"),  # what stood on it stands nowhere: said where it stands
    ("placements: [lidar]\n", "over.yaml:1:", "wrong-type"),
    ("placements:\n\tlidar: ~\n", "over.yaml:2:1", "yaml-syntax"),
    ("", "over.yaml:1:1", "yaml-syntax")])
def test_faults_are_placed_in_the_right_file(overlay: str, place: str, code: str, files: Path,
                                             capsys: pytest.CaptureFixture[str]) -> None:
    (files / "over.yaml").write_text(overlay)
    assert main(["check", "base.yaml", "--with", "over.yaml"]) == 2
    said = capsys.readouterr().err
    paragraphs = re.split(r"\n(?! )", said)
    assert any(p.startswith(place) and f"[{code}]" in p for p in paragraphs), said


def test_an_absent_overlay_is_said(files: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "base.yaml", "--with", "none.yaml"]) == 2
    assert "there is no file none.yaml" in capsys.readouterr().err


def test_with_and_without_the_mast(files: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(["compare", "base.yaml", "--new-with", "mast.yaml", "--json"])
    change = json.loads(capsys.readouterr().out)
    assert change["added"] == ["mast_top_link"]
    assert change["removed"] == ["driver_link"]
    # by hand: standoffs of 70 mm and a plate of 3 mm more under the lidar
    lidar = next(m for m in change["moved"] if m["frame"] == "laser_frame")
    assert lidar["dxyz_mm"] == pytest.approx([0, 0, 73], abs=1e-9)
    assert {"maps", "laser_frame"} <= {r["consumer"] for r in change["restart"]}
    work = [w["words"] for w in change["work"]]
    assert "from upper top at [0, 0] to mast_top top at [0, 0]" in work
    assert "a new deck, above upper" in work


def test_standard_input_takes_overlays_too(files: Path) -> None:
    done = subprocess.run([sys.executable, "-m", "chassis_describe", "frames", "-", "--with", "mast.yaml"], cwd=files,
                          input=(files / "base.yaml").read_bytes(), capture_output=True, env={"PYTHONPATH": str(TOP)})
    assert done.returncode == 0, done.stderr
    assert re.search(rb"mast_top_link\s+upper_link", done.stdout)
