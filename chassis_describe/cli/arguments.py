"""Arguments: the options that mean the same in every command, the kinds of values, and the layout that they name."""
from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, NoReturn

from chassis_describe.cli.printing import UNUSABLE

if TYPE_CHECKING:
    from decimal import Decimal

    from chassis_describe.assembly.model import Assembly
    from chassis_describe.layout.model import Layout

#: What runs a command: from its options to the exit code.
Run = Callable[[argparse.Namespace], int]


class Parser(argparse.ArgumentParser):
    """A parser whose errors name the command, and whose exit code is ours."""

    def error(self, message: str) -> NoReturn:
        self.print_usage(sys.stderr)
        sys.stderr.write(f"{self.prog}: {message}\n")
        raise SystemExit(UNUSABLE)

    def print_help(self, file: Any = None) -> None:
        """The help; argparse's own way keeps still about a full disk."""
        (file or sys.stdout).write(self.format_help())


# -------------------------------------------------------------------------------------------------------------- values
def holes_pair(text: str) -> tuple[Decimal, Decimal]:
    """``2,0`` or ``[-0.5, 1]``: holes forward and left."""
    found = re.fullmatch(r"\s*\[?\s*([^\s,]+)\s*,\s*([^\s,]+?)\s*\]?\s*", text)
    try:
        if found is None:
            raise ValueError
        return decimal(found[1]), decimal(found[2])
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a pair of holes; write I,J such as 2,0 or -0.5,1") from None


def degrees(text: str) -> Decimal:
    """``90``, ``-22.5``, ``90 deg`` or ``90°``."""
    try:
        return decimal(re.sub(r"\s*(?:deg|°)$", "", text))
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not an angle in degrees, such as 90 or -22.5") from None


def port(text: str) -> int:
    """A TCP port, 0 for any free one."""
    if not re.fullmatch(r"\d{1,5}", text, re.ASCII) or int(text) > 65535:
        raise argparse.ArgumentTypeError(f"{text!r} is not a port; write a number from 1024 to 65535")
    return int(text)


def decimal(text: str) -> Decimal:
    """A plain decimal number, exactly. Raises ValueError."""
    from decimal import Decimal

    if not re.fullmatch(r"[-+]?(?:\d{1,6}(?:\.\d{0,9})?|\.\d{1,9})", text):
        raise ValueError(text)
    return Decimal(text) + 0  # never -0


def seconds(text: str) -> float:
    """A time of some hundredths of a second to an hour."""
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0.01 <= value <= 3600.0:
        raise argparse.ArgumentTypeError(f"{text!r} is not a time; write seconds from 0.01 to 3600, such as 0.5")
    return value


def signed_values(arguments: list[str]) -> list[str]:
    """Values that begin with a minus joined to their option, as people type it: ``--by -2,0``, ``--up -z``."""
    joined: list[str] = []
    for argument in arguments:
        if joined and re.fullmatch(r"--[a-z-]+", joined[-1]) and re.match(r"-(?:[\d.]|[xyz]$)", argument):
            joined[-1] += f"={argument}"
        else:
            joined.append(argument)
    return joined


# ------------------------------------------------------------------------------------------------------------- options
#: Options that several commands have: one meaning each. A command may say more of one in its own ``help``.
SHARED: dict[str, dict[str, Any]] = {
    "--out": {"metavar": "FILE", "help": "where to write"},
    "--json": {"action": "store_true", "help": "for programs"},
    "--strict": {"action": "store_true", "help": "exit 1 on warnings too"},
    "--with": {"dest": "overlays", "metavar": "FILE", "action": "append", "default": [],
               "help": "lay this file over the layout (add, change, remove with `name: ~`); may be repeated"},
    "--prefix": {"help": "before every frame and joint name, instead of the layout's"},
    "--on": {"metavar": "SUPPORT", "help": "a deck, or placement.seat"},
    "--part": {"metavar": "NAME", "help": "one part of a part file"},
    "--face": {"choices": ("top", "under"), "help": "side of the deck"},
    "--turn": {"metavar": "DEG", "type": degrees, "help": "the turn, counter-clockwise seen from outside"},
    "--ros-args": {"nargs": argparse.REMAINDER, "metavar": "ARG",
                   "help": "what follows goes to ROS: remappings and parameters, as of any node"},
    "--from": {"dest": "start", "metavar": "FRAME", "help": "the frame in which poses are given"},
    "--draw": {"metavar": "FILE", "help": "draw the answer too; the ending says the format"},
    "--write": {"action": "store_true", "help": "write it; without this, nothing is written"},
    "--material": {"metavar": "NAME", "help": "what it is made of"},
    "--under": {"action": "store_true", "help": "plates turned over left to right, as one looks at the under face"},
    "--replace": {"action": "store_true", "help": "replace what was changed by hand since, or is not ours"},
}
_SHORT = {"--out": ("-o",)}


def shared(parser: Any, name: str, **changes: Any) -> None:
    """Add an option of :data:`SHARED` to a parser or group, with some of it said otherwise."""
    parser.add_argument(*_SHORT.get(name, ()), name, **{**SHARED[name], **changes})


def layout_argument(parser: Parser) -> None:
    """The layout that a command is about, and what is laid over it."""
    parser.add_argument("layout", metavar="LAYOUT", help="layout file; - is standard input")
    shared(parser, "--with")


# --------------------------------------------------------------------------------------------------- what options name
def standard_input(options: argparse.Namespace) -> bytes | None:
    """What stands on standard input, where that is the layout. Raises UsageError."""
    return read_standard_input() if options.layout == "-" else None


def read_standard_input() -> bytes:
    """What stands on standard input, and no more of it than tells that it is too much for a layout. Raises UsageError."""
    from chassis_describe.errors import UsageError
    from chassis_describe.inputs import TEXT_BYTES

    if sys.stdin is None:
        raise UsageError("the layout is to come from standard input (`-`), which is closed")
    try:
        return sys.stdin.buffer.read(TEXT_BYTES + 1)
    except OSError as error:
        raise UsageError(f"standard input can't be read: {error.strerror or error}") from error


def layout_of(options: argparse.Namespace) -> Layout:
    """What ``LAYOUT`` and ``--with`` name, read. Raises LayoutError, UsageError."""
    from chassis_describe import compiler

    return compiler.read(options.layout, text=standard_input(options), overlays=options.overlays)


def assembly(options: argparse.Namespace) -> Assembly:
    """The robot that ``LAYOUT``, ``--with`` and ``--prefix`` name. Raises LayoutError, UsageError."""
    from chassis_describe import compiler

    return compiler.assemble(layout_of(options), prefix=getattr(options, "prefix", None))
