"""The command line: the table of commands, and what every one of them ends in.

Exit codes: 0 clean (warnings allowed unless ``--strict``), 1 findings of severity error, 2 unusable arguments, layout
or target, 3 a fault of ours.
"""
from __future__ import annotations

import contextlib
import io
import os
import sys
from collections.abc import Callable, Sequence
from importlib import import_module
from typing import NamedTuple, cast

from chassis_describe.cli.arguments import Parser, Run, signed_values
from chassis_describe.cli.printing import OK, OUR_FAULT, UNUSABLE, print_layout_error
from chassis_describe.errors import ChassisError, LayoutError, our_fault


class Command(NamedTuple):
    """One command: a function of its name in the file of its group, which adds its arguments and returns what runs it."""

    name: str
    group: str
    about: str


#: What the groups are, in the order of ``--help``; a group is a file beside this one.
GROUPS = {
    "write": "write the build down",
    "look": "look at it, and at what is wrong",
    "build": "build it, and build it anew",
    "place": "place parts where they fit",
    "deliver": "deliver it to ROS and to others",
    "run": "run it",
    "learn": "learn more",
}
#: Every command. The file of its group is imported only when the command is called.
COMMANDS = (
    Command("new", "write", "write a small commented layout to start from, or a part file"),
    Command("parts", "write", "list the parts, or describe one"),
    Command("schema", "write", "print the JSON Schema of layouts, for editors"),
    Command("check", "look", "say what is wrong with the build, and its key figures"),
    Command("holes", "look", "show each deck's holes: free, used by whom, absent"),
    Command("frames", "look", "print every transform"),
    Command("draw", "look", "draw the robot and its decks, or a plate to be cut; the file's ending says how"),
    Command("view", "look", "show the robot on a page that follows the file; --edit moves parts there"),
    Command("move", "build", "move a placement by holes, in its file, everything else left as it is"),
    Command("compare", "build", "say what changed between two layouts, or since a git revision"),
    Command("steps", "build", "write the build sheet: tools, steps with figures, screws, and the whole list"),
    Command("places", "place", "say where a part could go, the best places first"),
    Command("adapter", "place", "make the plate that takes a part whose holes don't match"),
    Command("locate", "place", "say which hole a measured pose means"),
    Command("urdf", "deliver", "print the URDF"),
    Command("compile", "deliver", "write the description package"),
    Command("simulate", "run", "drive the robot in a physics engine: a trial course, or among ROS nodes"),
    Command("live", "run", "follow the layout file while the robot runs: what is saved, the robot knows"),
    Command("sync", "deliver", "bring your own parameter files up to date: only values that the geometry decides"),
    Command("match", "deliver", "say whether a URDF, or the running robot, is the one that the layout describes"),
    Command("manual", "learn", "show the manual: its chapters, one chapter, one finding or one key of the layout"),
)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code."""
    arguments = signed_values(list(sys.argv[1:] if argv is None else argv))
    if sys.stderr is None:  # closed; in its place, so that no file of ours gets its number and what is said there
        sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115 - as long as the program runs
    if sys.stdout is None:
        sys.stderr.write("chassis_describe: standard output is closed; nothing was done\n")
        return UNUSABLE
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper) and stream.errors == "strict":
            stream.reconfigure(errors="backslashreplace")  # a terminal that has no degree sign gets \xb0, not a fault
    return _guarded(lambda: _answer(arguments), traceback="--traceback" in arguments)


def _answer(arguments: Sequence[str]) -> int:
    """What the first argument asks for: help, the version, or a command."""
    first = arguments[0] if arguments else ""
    if first in ("", "-h", "--help"):
        sys.stdout.write(help_text())
        return OK if first else UNUSABLE
    if first == "--version":
        from chassis_describe.version import VERSION

        sys.stdout.write(f"chassis_describe {VERSION}\n")
        return OK
    command = next((c for c in COMMANDS if c.name == first), None)
    if command is None:
        return _no_such_command(first)
    parser, run = parser_of(command)
    try:
        options = parser.parse_args(arguments[1:])
    except SystemExit as stop:
        return int(stop.code or 0)
    try:
        return run(options)
    except LayoutError as error:
        print_layout_error(error, options)
        return UNUSABLE


def parser_of(command: Command) -> tuple[Parser, Run]:
    """The arguments of a command, and the function that runs it with them."""
    parser = Parser(prog=f"chassis_describe {command.name}", description=f"{command.about[0].upper()}{command.about[1:]}.",
                    allow_abbrev=False)
    add = cast("Callable[[Parser], Run]", getattr(import_module(f"chassis_describe.cli.{command.group}"), command.name))
    run = add(parser)
    parser.add_argument("--traceback", action="store_true", help="show where a fault of this program happened")
    return parser, run


def help_text() -> str:
    """All commands, by what one wants to do."""
    width = max(len(c.name) for c in COMMANDS)
    blocks = ["usage: chassis_describe COMMAND ...\n\nComputes what a robot's software must know of its body from the layout of "
              "its decks\nand parts.\n"]
    for group, title in GROUPS.items():
        rows = [f"  {c.name.ljust(width)}  {c.about}\n" for c in COMMANDS if c.group == group]
        if rows:
            blocks.append(f"{title}:\n{''.join(rows)}")
    blocks.append("chassis_describe COMMAND --help says what a command takes; --version prints the version.\n")
    return "\n".join(blocks)


def _no_such_command(name: str) -> int:
    from chassis_describe.words import nearest

    close = nearest(name, [c.name for c in COMMANDS])
    say = f"did you mean `{close}`?" if close else "`chassis_describe --help` lists them"
    sys.stderr.write(f"chassis_describe: `{name[:80]}` is no command; {say}\n")
    return UNUSABLE


def _guarded(run: Callable[[], int], *, traceback: bool) -> int:
    """Run what was asked for; what goes wrong becomes an exit code and a sentence."""
    try:
        code = run()
        sys.stdout.flush()  # a full disk shows here, not when nobody listens any more
        sys.stderr.flush()
        return code
    except ChassisError as error:
        _say(f"chassis_describe: {error}\n")
        return UNUSABLE
    except BrokenPipeError:  # the reader of our output has gone; nothing is wrong
        _into_the_void()
        return OK
    except KeyboardInterrupt:
        return 130
    except OSError as error:  # a full disk, a working folder that is gone: files that can't be read are said before
        if traceback:
            raise
        name = f" ({error.filename})" if error.filename else ""
        _say(f"chassis_describe: the system refused: {error.strerror or error}{name}; is the disk full, or the working "
             "folder gone?\n")
        _into_the_void()
        return UNUSABLE
    except Exception as error:
        if traceback:
            raise
        _say(f"chassis_describe: {our_fault(error)}\n"
             "  please report it with the layout and what `--traceback` prints\n")
        return OUR_FAULT


def _say(text: str) -> None:
    """Say it on standard error, as far as that can be."""
    try:
        sys.stderr.write(text)
        sys.stderr.flush()
    except (OSError, ValueError):
        _into_the_void()


def _into_the_void() -> None:
    """Send to nowhere what is still to be written: what can't be now can't be when the interpreter ends either, and it would
    change the exit code for that."""
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        for stream in (sys.stdout, sys.stderr):
            try:
                stream.flush()
            except (OSError, ValueError):
                os.dup2(nowhere, stream.fileno())
