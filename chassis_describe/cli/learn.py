"""Commands to learn more: ``manual``."""
from __future__ import annotations

import argparse
import sys

from chassis_describe.cli.arguments import Parser, Run
from chassis_describe.cli.printing import OK


def manual(parser: Parser) -> Run:
    """The manual."""
    parser.add_argument("topic", metavar="CHAPTER|CODE|KEY", nargs="?", help="what to show; left out: the list of chapters")
    return _manual


def _manual(options: argparse.Namespace) -> int:
    from chassis_describe.manual import lookup

    sys.stdout.write(lookup.page(options.topic) if options.topic else lookup.contents())
    return OK
