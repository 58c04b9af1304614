"""Commands that run the robot: ``simulate``."""
from __future__ import annotations

import argparse
import sys

from chassis_describe.cli import arguments
from chassis_describe.cli.arguments import Parser, Run, layout_argument, shared
from chassis_describe.cli.printing import OK, print_json


def simulate(parser: Parser) -> Run:
    """The trial course."""
    layout_argument(parser)
    shared(parser, "--json")
    parser.epilog = ("Needs the package mujoco (`pip install '.[sim]'`). Same layout, same figures; the check does not ask them. "
                     "Exit code 0 whatever the robot does.")
    return _simulate


def _simulate(options: argparse.Namespace) -> int:
    from chassis_describe.trial.course import run
    from chassis_describe.trial.report import trials_data, trials_text

    assembly = arguments.assembly(options)
    told = _progress if sys.stderr.isatty() else lambda name: None
    trials = run(assembly, told)
    if options.json:
        print_json(trials_data(assembly.robot, trials))
    else:
        sys.stdout.write(trials_text(assembly.robot, trials))
    return OK


def _progress(name: str) -> None:
    sys.stderr.write(f"trying: {name} ...\n")
