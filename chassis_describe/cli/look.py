"""Commands to look at the build: ``check``, ``holes``, ``frames``, ``draw``, ``view``."""
from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from chassis_describe.cli import arguments
from chassis_describe.cli.arguments import Parser, Run, layout_argument, shared
from chassis_describe.cli.printing import OK, exit_code, print_findings, print_json, width
from chassis_describe.errors import LayoutError, UsageError

if TYPE_CHECKING:
    from chassis_describe.findings import Finding


def check(parser: Parser) -> Run:
    """Findings and key figures."""
    layout_argument(parser)
    shared(parser, "--json")
    shared(parser, "--strict")
    parser.add_argument("--sarif", metavar="FILE", help="write the findings there too, as SARIF for pull requests")
    parser.add_argument("--junit", metavar="FILE", help="write the findings there too, as a JUnit test report")
    return _check


def _check(options: argparse.Namespace) -> int:
    from chassis_describe import compiler
    from chassis_describe.facts.figures import figures_of
    from chassis_describe.reports import findings_text as report
    from chassis_describe.reports.figures import figures_data, figures_text

    try:
        assembly = arguments.assembly(options)
    except LayoutError as error:
        _for_ci(options, error.findings, os.path.basename(options.layout), finished=False, read=())
        raise
    findings = compiler.check(assembly)
    figures = figures_of(assembly)
    _for_ci(options, findings, assembly.robot, finished=True, read=compiler.files_read(assembly))
    if options.json:
        print_json({"robot": assembly.robot, "findings": [report.finding_data(f) for f in findings],
                     "summary": figures_data(figures)})
    else:
        print_findings(findings, sys.stdout)
        sys.stdout.write(("\n" if findings else "") + figures_text(assembly.robot, figures, width=width(sys.stdout)))
        sys.stdout.write(f"{report.count_text(findings)}\n")
    return exit_code(findings, options.strict)


def _for_ci(options: argparse.Namespace, findings: Sequence[Finding], name: str, *, finished: bool, read: Sequence[str]) -> None:
    """The findings in the forms that CI services read, where they were asked for; never over a file that was read."""
    from chassis_describe.disk.ours import write_ours

    if options.sarif and options.junit and os.path.realpath(options.sarif) == os.path.realpath(options.junit):
        raise UsageError(f"--sarif and --junit name one file, {options.sarif}; give each its own")
    reports: list[tuple[str, bytes]] = []
    if options.sarif:
        from chassis_describe.reports.sarif import sarif

        reports.append((options.sarif, sarif(findings, finished=finished).encode("utf-8")))
    if options.junit:
        from chassis_describe.reports.junit import junit

        reports.append((options.junit, junit(findings, name=name, strict=options.strict)))
    for path, data in reports:
        write_ours(Path(path), data, None, replace=True, inputs=(options.layout, *options.overlays, *read))


def holes(parser: Parser) -> Run:
    """Decks as plans in characters."""
    layout_argument(parser)
    parser.add_argument("deck", metavar="DECK", nargs="?", help="one deck only")
    shared(parser, "--under")
    return _holes


def _holes(options: argparse.Namespace) -> int:
    from chassis_describe.reports import hole_plan

    assembly = arguments.assembly(options)
    sys.stdout.write(hole_plan.as_text(assembly, options.deck, under=options.under) if options.deck
                     else hole_plan.all_as_text(assembly, under=options.under))
    return OK


def frames(parser: Parser) -> Run:
    """Every transform, in four forms."""
    layout_argument(parser)
    shared(parser, "--from", help="every frame seen from this one")
    form = parser.add_mutually_exclusive_group()
    shared(form, "--json")
    form.add_argument("--yaml", action="store_true", help="the same as YAML")
    form.add_argument("--commands", action="store_true", help="as static_transform_publisher lines")
    return _frames


def _frames(options: argparse.Namespace) -> int:
    from chassis_describe.reports import frames as frames_table

    write = (frames_table.as_json if options.json else frames_table.as_yaml if options.yaml
             else frames_table.as_commands if options.commands else frames_table.as_text)
    sys.stdout.write(write(arguments.assembly(options), start=options.start))
    return OK


def draw(parser: Parser) -> Run:
    """Sheet, plates and templates."""
    layout_argument(parser)
    shared(parser, "--out", required=True, help="the drawing; its ending decides: svg, pdf, png, dxf, stl, glb, html")
    parser.add_argument("--deck", metavar="NAME", help="this deck only")
    shared(parser, "--part", help="LAYOUT is a part file: this part, and its `plate` as dxf, stl or template")
    parser.add_argument("--template", action="store_true", help="svg, pdf, png: the bare plate at 1:1, to cut and drill by")
    shared(parser, "--under")
    parser.add_argument("--paper", metavar="SIZE", default="a4", help="a4 (default), a3 or letter")
    shared(parser, "--replace", help="replace a file that was not made by this program")
    parser.set_defaults(writes=True)
    return _draw


def _draw(options: argparse.Namespace) -> int:
    from chassis_describe import picturing
    from chassis_describe.words import count

    done = picturing.draw(options.layout, options.out, text=arguments.standard_input(options), overlays=options.overlays,
                          deck=options.deck, part=options.part, template=options.template, under=options.under, paper=options.paper,
                          replace=options.replace)
    sys.stdout.write(f"{done.path}: {'written' if done.changed else 'nothing had changed'}\n")
    errors = sum(f.severity == "error" for f in done.findings)
    if errors:
        sys.stdout.write(f"{count(errors, 'error')} of the check marked by number; `check` says more\n")
    return OK


def view(parser: Parser) -> Run:
    """A page that follows the file."""
    layout_argument(parser)
    parser.add_argument("--edit", action="store_true", help="move parts on the page too; only LAYOUT itself is written")
    parser.add_argument("--port", metavar="N", type=arguments.port, default=0,
                        help="this port of this machine; left out: a free one")
    parser.add_argument("--no-browser", action="store_true", help="only print the address")
    parser.epilog = ("The page is for this machine alone, and its address is a secret. From elsewhere: ssh -L N:127.0.0.1:N, and "
                     "the address as it is printed. Ctrl+C ends it.")
    return _view


def _view(options: argparse.Namespace) -> int:
    import signal

    from chassis_describe.errors import UsageError
    from chassis_describe.page.serve import Viewer

    if options.layout == "-":
        raise UsageError("`view` follows a file; standard input is none")
    viewer = Viewer(options.layout, options.overlays, edit=options.edit, port=options.port)
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    sys.stdout.write(f"{viewer.address}\n")
    sys.stdout.flush()
    if not options.no_browser:
        import webbrowser

        webbrowser.open(viewer.address)
    try:
        viewer.run()
    except KeyboardInterrupt:
        pass  # the usual end
    finally:
        viewer.close()
    return OK
