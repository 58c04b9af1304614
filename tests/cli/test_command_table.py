"""The table of commands: every line of it works, help is quick and grouped, shared options mean one thing."""
from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from chassis_describe.cli.arguments import SHARED, signed_values
from chassis_describe.cli.main import COMMANDS, GROUPS, main, parser_of

TOP = Path(__file__).resolve().parents[2]


@pytest.mark.parametrize("command", COMMANDS, ids=lambda c: c.name)
def test_every_command_says_what_it_takes(command, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([command.name, "--help"]) == 0
    out = capsys.readouterr().out
    assert out.startswith(f"usage: chassis_describe {command.name}")
    assert " ".join(f"{command.about[0].upper()}{command.about[1:]}.".split()) in " ".join(out.split())


def test_help_has_every_command_under_its_group(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--help"]) == 0
    text = capsys.readouterr().out
    assert len({c.name for c in COMMANDS}) == len(COMMANDS)
    for block in text.split("\n\n"):
        group = block.split(" ", 1)[0]
        if group in GROUPS:
            named = [line.split()[0] for line in block.splitlines()[1:]]
            assert named == [c.name for c in COMMANDS if c.group == group]
    assert {c.group for c in COMMANDS} <= GROUPS.keys()
    assert all(title.startswith(group) for group, title in GROUPS.items())


def test_help_imports_no_command() -> None:
    quick = ("import sys; from chassis_describe.cli.main import main; main(['--help']); "
             "assert not {m for m in sys.modules if m.startswith('chassis_describe.')} - {'chassis_describe.' + m for m in "
             "('cli', 'cli.main', 'cli.arguments', 'cli.printing', 'errors')}, sys.modules")
    assert subprocess.run([sys.executable, "-c", quick], cwd=TOP, capture_output=True).returncode == 0


def test_no_command_is_help_and_exit_2(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 2
    assert "check" in capsys.readouterr().out
    assert main(["chek"]) == 2
    assert "did you mean `check`?" in capsys.readouterr().err


#: Where an option takes more than in other commands: which of several candidates is written, several decks, all turns.
OTHERWISE = {("locate", "--write"), *(("places", option) for option in ("--write", "--on", "--face", "--turn")),
             ("adapter", "--turn")}


def test_options_mean_the_same_everywhere() -> None:
    """An option that two commands have is one of the shared ones, with one type, one set of choices, one way to give it."""
    seen: dict[str, list[tuple[str, object]]] = {}
    for command in COMMANDS:
        for action in parser_of(command)[0]._actions:
            for option in action.option_strings:
                if (command.name, option) in OTHERWISE:
                    assert option in SHARED
                    continue
                seen.setdefault(option, []).append((command.name, (type(action), action.type, action.choices, action.dest)))
    for option, uses in seen.items():
        if option in ("-h", "--help", "--traceback"):
            continue
        if len(uses) > 1 and option.startswith("--"):
            assert option in SHARED, f"{option} of {[name for name, _ in uses]} is not in SHARED"
        assert len({meaning for _, meaning in uses}) == 1, f"{option} means several things: {uses}"


def test_values_may_begin_with_a_minus() -> None:
    assert signed_values(["move", "a.yaml", "lidar", "--by", "-2,0", "--json"]) == ["move", "a.yaml", "lidar", "--by=-2,0", "--json"]
    assert signed_values(["x", "--turn", "-.5", "-o", "-1"]) == ["x", "--turn=-.5", "-o", "-1"]
