"""The README is run: its layouts, its part file, its commands in the order of the first hour, its generated tables."""
from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import pytest

import chassis_describe as cd
from chassis_describe.cli.main import build_parser, main
from chassis_describe.findings import CODES, Severity
from chassis_describe.layout.starter import starter
from chassis_describe.manual import filled

TOP = Path(__file__).resolve().parents[1]
README = (TOP / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```yaml\n(.*?)```", README, re.DOTALL)
#: `chassis_describe …` in backticks or shell blocks, with words in capitals left out: those are grammar, not commands.
COMMANDS = [c for c in re.findall(r"`chassis_describe ([^`]+)`", README) if not re.search(r"\b[A-Z]{2,}\b|…", c)]


def test_generated_tables_are_up_to_date() -> None:
    assert filled(README) == README, "run: python3 -m chassis_describe.manual"


def test_every_code_is_in_the_table() -> None:
    assert all(f"| `{code}` |" in README for code in CODES)


def test_the_first_paragraph_is_the_job() -> None:
    title, blank, first = README.split("\n", 3)[:3]
    assert title == "# chassis_describe"
    assert not blank
    assert first.startswith("`chassis_describe` is for people who build mobile robots")


@pytest.mark.parametrize("text", [b for b in BLOCKS if b.startswith("layout:")])
def test_layouts_are_clean(text: str) -> None:
    found = cd.check(cd.assemble(cd.read("readme.yaml", text=text)))
    assert [str(f) for f in found if f.severity is not Severity.NOTE] == []


def test_the_second_deck_is_clean_over_the_small_layout_and_over_the_starter() -> None:
    upper = next(b for b in BLOCKS if b.startswith("decks:"))
    for text in (next(b for b in BLOCKS if b.startswith("layout:")), starter("hall_sweeper")):
        layout = cd.read("readme.yaml", text=text, overlays=["upper.yaml"], opener=lambda path: upper.encode())
        assert [str(f) for f in cd.check(cd.assemble(layout))] == []


def test_the_commands_of_the_first_hour_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
                                            capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(tmp_path)
    for number, text in enumerate(b for b in BLOCKS if b.startswith("parts:")):
        (tmp_path / ("my_parts.yaml" if number == 0 else f"my_parts_{number}.yaml")).write_text(text)
    (tmp_path / "upper.yaml").write_text(next(b for b in BLOCKS if b.startswith("decks:")))
    (tmp_path / "draught_scout.yaml").write_text((TOP / "config" / "draught_scout.yaml").read_text())
    (tmp_path / "mast.yaml").write_text(next(b for b in BLOCKS if b.startswith("# mast.yaml")))
    ran = 0
    for command in COMMANDS:
        words = shlex.split(command)
        if words[0] in ("move", "compare"):
            continue  # the story of the moved lidar has a test of its own
        if "robot.yaml" in words:  # "your layout": any will do
            words[words.index("robot.yaml")] = "hall_sweeper.yaml"
        assert main(words) == 0, (command, capsys.readouterr().err)
        ran += 1
    assert ran >= 8
    assert (tmp_path / "hall_sweeper_description" / "urdf" / "hall_sweeper.urdf").is_file()
    # step 3: the lidar at [2, 0]
    text = (tmp_path / "hall_sweeper.yaml").read_text()
    changed = re.sub(r"(lidar: .*at: )\[[^\]]*\]", r"\g<1>[2, 0]", text)
    assert changed != text
    assert main(["check", "hall_sweeper.yaml"]) == 0


def test_every_command_is_in_the_table() -> None:
    parser = build_parser()
    commands = next(a for a in parser._actions if a.choices and "check" in a.choices).choices
    assert all(re.search(rf"^\| `{name}[ `]", README, re.MULTILINE) for name in commands), sorted(commands)


def test_figures_that_are_null(capsys: pytest.CaptureFixture[str]) -> None:
    """What the README says of a robot that falls."""
    main(["check", str(TOP / "tests/fit/bad/outside-support.yaml"), "--json"])
    summary = json.loads(capsys.readouterr().out)["summary"]
    assert [c["load_share"] for c in summary["contacts"]] == [None] * 3
    assert summary["load_model"] is None
    assert min(edge["angle_deg"] for edge in summary["tip"]) < 0


def test_headings_that_are_linked_are_there() -> None:
    headings = {re.sub(r"[^a-z0-9 -]", "", h.lower()).replace(" ", "-") for h in re.findall(r"^#+ (.*)$", README, re.MULTILINE)}
    linked = re.findall(r"\]\(#([^)]+)\)", README)
    assert linked
    assert set(linked) <= headings


def test_cautions_are_there() -> None:
    assert "not a safety function" in README
    assert "emergency stop" in README


def test_links_lead_somewhere() -> None:
    assert all((TOP / target).exists() for target in re.findall(r"\]\((?!http)([^)#]+)\)", README))
