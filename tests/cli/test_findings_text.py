"""Findings on a terminal: the place first, as compilers print it (GNU Coding Standards, "Formatting Error Messages":
``sourcefile:lineno:column: message``), then what to do, then where else to look."""
from __future__ import annotations

import re
from pathlib import Path

import pytest

from chassis_describe.cli.main import main
from chassis_describe.findings import Severity, finding
from chassis_describe.reports.findings_text import findings_text
from chassis_describe.source import PACKAGE, Mark

DEMO = Path(__file__).resolve().parents[2] / "config" / "draught_scout.yaml"
LONG = finding("bolt-off-hole", "bolt 2 of lidar is 4 mm from the nearest hole, hole [0, 1] of upper; the play is 0.25 mm",
               hint="move it to `at: [1, 0]`", where=[Mark("robot.yaml", 7, 3, ("placements", "lidar", "at")),
                                                      Mark(f"{PACKAGE}/catalogue/lidars.yaml", 4, 3, ("parts", "lidar_d70")),
                                                      Mark("robot.yaml", 2, 1, ("decks", "upper"))])


def test_one_finding_word_by_word() -> None:
    assert findings_text([LONG], width=200) == (
        "robot.yaml:7:3: error: bolt 2 of lidar is 4 mm from the nearest hole, hole [0, 1] of upper; the play is 0.25 mm "
        "[bolt-off-hole]\n"
        "    hint: move it to `at: [1, 0]`\n"
        "    see also built-in catalogue/lidars.yaml:4:3 (parts > lidar_d70), robot.yaml:2:1 (decks > upper)\n")


@pytest.mark.parametrize("width", [60, 80, 100])
def test_lines_fit_and_lose_nothing(width: int) -> None:
    text = findings_text([LONG], width=width)
    assert max(map(len, text.splitlines())) <= width
    assert text.split() == findings_text([LONG], width=1000).split()
    assert all(line.startswith("    ") for line in text.splitlines()[1:])


def test_colour_is_on_the_severity_alone() -> None:
    assert findings_text([LONG], colour=True, width=200).startswith("robot.yaml:7:3: \x1b[1;31merror:\x1b[0m bolt 2 of")


def test_the_path_of_names_where_the_message_does_not_say_whose_it_is() -> None:
    item = finding("bad-value", "1 entry, where at least 2 are due", where=[Mark("r.yaml", 1, 2, ("placements", "lidar", "screws"))])
    assert findings_text([item]) == ("r.yaml:1:2: error: 1 entry, where at least 2 are due [bad-value]\n"
                                     "    in placements > lidar > screws\n")
    assert findings_text([finding("rocks", "it rocks", severity=Severity.NOTE)]) == "note: it rocks [rocks]\n"


def test_the_command_takes_the_width_of_the_terminal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
                                                     capsys: pytest.CaptureFixture[str]) -> None:
    spoilt = tmp_path / "spoilt.yaml"
    spoilt.write_text(re.sub(r"(lidar: .*at: )\[[^\]]*\]", r"\g<1>[1.2, 0]", DEMO.read_text()))
    monkeypatch.chdir(tmp_path)
    longest = {}
    for columns in ("", "60"):
        monkeypatch.setenv("COLUMNS", columns)
        assert main(["check", "spoilt.yaml"]) == 1
        out = capsys.readouterr().out
        assert out.startswith("spoilt.yaml:47:45: error: all 4 bolts of lidar")
        longest[columns] = max(map(len, out.splitlines()))
    assert longest["60"] <= 60 < longest[""] <= 100
