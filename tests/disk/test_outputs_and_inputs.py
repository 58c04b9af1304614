"""What is written never takes the place of what is read, and is there whole or not at all; variants of one name side by side.

Judges: the bytes on disk before and after. A full disk is an OSError at the write (errno(3): ENOSPC)."""
from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from chassis_describe.cli.main import main
from chassis_describe.disk.ours import write_new, write_ours
from chassis_describe.errors import TargetError

SCOUT = Path(__file__).parents[2] / "config" / "draught_scout.yaml"


def full(at: str) -> None:
    if at == "write":
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "robot.yaml").write_bytes(SCOUT.read_bytes())
    (tmp_path / "over.yaml").write_text("placements:\n  imu: ~\n")
    return tmp_path


@pytest.mark.parametrize("option", ["--sarif", "--junit"])
@pytest.mark.parametrize("name", ["robot.yaml", "./robot.yaml", "over.yaml", "link.xml", "hard.xml"])
def test_a_report_never_takes_the_place_of_an_input(folder: Path, option: str, name: str,
                                                    capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "link.xml").symlink_to(folder / "robot.yaml")
    os.link(folder / "robot.yaml", folder / "hard.xml")
    before = {n: (folder / n).read_bytes() for n in ("robot.yaml", "over.yaml")}
    assert main(["check", "robot.yaml", "--with", "over.yaml", option, name]) == 2
    assert "is what is read here" in capsys.readouterr().err
    assert before == {n: (folder / n).read_bytes() for n in before}


def test_nor_where_the_layout_does_not_read(folder: Path) -> None:
    (folder / "robot.yaml").write_text("layout: 1\nrobot: [\n")
    assert main(["check", "robot.yaml", "--sarif", "robot.yaml"]) == 2
    assert main(["check", "robot.yaml", "--sarif", "out.xml", "--junit", "./out.xml"]) == 2  # nor of one another
    assert not (folder / "out.xml").exists()
    assert (folder / "robot.yaml").read_text() == "layout: 1\nrobot: [\n"


def test_reports_are_replaced_whole(folder: Path) -> None:
    assert main(["check", "robot.yaml", "--sarif", "out.sarif"]) == 0
    assert main(["check", "robot.yaml", "--sarif", "out.sarif"]) == 0
    good = (folder / "out.sarif").read_bytes()
    with pytest.raises(TargetError):
        write_ours(folder / "out.sarif", good + b" ", None, replace=True, step=full)
    assert (folder / "out.sarif").read_bytes() == good
    with pytest.raises(TargetError):
        write_ours(folder / "figures" / "one.svg", good, None, folder=True, step=full)
    assert sorted(os.listdir(folder)) == ["out.sarif", "over.yaml", "robot.yaml"]


def test_new_leaves_nothing_on_a_full_disk_and_takes_nobodys_name(folder: Path) -> None:
    with pytest.raises(TargetError, match="nothing was left behind"):
        write_new(folder / "fresh.yaml", b"layout: 1\n", step=full)
    assert sorted(os.listdir(folder)) == ["over.yaml", "robot.yaml"]
    assert write_new(folder / "fresh.yaml", b"layout: 1\n")
    assert not write_new(folder / "fresh.yaml", b"other")
    assert (folder / "fresh.yaml").read_bytes() == b"layout: 1\n"
    assert sorted(os.listdir(folder)) == ["fresh.yaml", "over.yaml", "robot.yaml"]


@pytest.mark.parametrize("damage", [b"[]", b"1", b"null", b'{"files": 3}', b'{"files": {"../x": "y"}}', b'"x"', b"{", b"\xff\xfe",
                                    b"[" * 100_000, b"9" * 5000])
def test_a_damaged_record_is_no_fault_of_the_program(folder: Path, damage: bytes, capsys: pytest.CaptureFixture[str]) -> None:
    package = folder / "package"
    package.mkdir()
    (folder / "robot.yaml").write_bytes(SCOUT.with_name("seedling_cart.yaml").read_bytes())  # the smallest
    (package / "chassis_describe.json").write_bytes(damage)
    assert main(["compile", "robot.yaml", "-o", "package"]) == 2
    assert "chassis_describe.json" in capsys.readouterr().err
    assert (package / "chassis_describe.json").read_bytes() == damage


@pytest.mark.thorough
def test_variants_of_one_name_are_warned_of(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compile", "robot.yaml", "-o", "one"]) == 0
    assert " is in " not in capsys.readouterr().err
    assert main(["compile", "robot.yaml", "--with", "over.yaml", "-o", "two"]) == 0
    said = capsys.readouterr().err
    assert "package draught_scout_description is in one too" in said and "`robot:` name of its own" in said
    (folder / "name.yaml").write_text("robot: scout_without_imu\nplacements:\n  imu: ~\n")
    assert main(["compile", "robot.yaml", "--with", "name.yaml", "-o", "three"]) == 0
    assert " is in " not in capsys.readouterr().err
