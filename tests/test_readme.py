"""What only the README promises; its files and commands are run by ``test_manual.py``."""
from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

import chassis_describe as cd
from chassis_describe.cli.main import COMMANDS, main
from chassis_describe.layout.starter import starter
from tests.documents import TOP, File, steps

README = (TOP / "README.md").read_text(encoding="utf-8")


def test_it_is_short() -> None:
    assert len(README.splitlines()) <= 200


def test_the_first_paragraph_is_the_job() -> None:
    title, blank, first = README.split("\n", 3)[:3]
    assert title == "# chassis_describe"
    assert not blank
    assert first.startswith("`chassis_describe` is for people who build mobile robots")


def test_the_second_deck_is_clean_over_the_starter() -> None:
    upper = next(s for s in steps(README) if isinstance(s, File) and s.name == "upper.yaml").text
    layout = cd.read("hall_sweeper.yaml", text=starter("hall_sweeper"), overlays=["upper.yaml"],
                     opener=lambda path: upper.encode())
    assert [str(f) for f in cd.check(cd.assemble(layout))] == []


def test_the_first_hour(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["new", "hall_sweeper"]) == 0
    text = (tmp_path / "hall_sweeper.yaml").read_text()
    changed = re.sub(r"(lidar: .*at: )\[[^\]]*\]", r"\g<1>[2, 0]", text)  # step 3
    assert changed != text
    (tmp_path / "hall_sweeper.yaml").write_text(changed)
    assert main(["check", "hall_sweeper.yaml"]) == 0
    assert main(["compile", "hall_sweeper.yaml", "-o", "hall_sweeper_description"]) == 0
    assert (tmp_path / "hall_sweeper_description" / "urdf" / "hall_sweeper.urdf").is_file()


def test_every_command_is_in_the_table() -> None:
    assert [c.name for c in COMMANDS if not re.search(rf"^\| `{c.name}[ `]", README, re.MULTILINE)] == []


def test_figures_that_are_null(capsys: pytest.CaptureFixture[str]) -> None:
    """What the chapter on findings says of a robot that falls."""
    main(["check", str(TOP / "tests/fit/bad/outside-support.yaml"), "--json"])
    summary = json.loads(capsys.readouterr().out)["summary"]
    assert [c["load_share"] for c in summary["contacts"]] == [None] * 3
    assert summary["load_model"] is None
    assert min(edge["angle_deg"] for edge in summary["tip"]) < 0


def test_cautions_are_there() -> None:
    assert "not a safety function" in README
    assert "emergency stop" in README
    assert README.index("## What it can't say") < README.index("## A first layout")
