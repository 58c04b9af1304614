"""Commands for building it, and building it anew: ``move``, ``compare``, ``steps``."""
from __future__ import annotations

import argparse
import sys

from chassis_describe.cli.arguments import Parser, Run, holes_pair, layout_argument, read_standard_input, shared, standard_input
from chassis_describe.cli.printing import FINDINGS, OK, exit_code, print_json
from chassis_describe.errors import UsageError


def move(parser: Parser) -> Run:
    """A placement moved in its file."""
    layout_argument(parser)
    parser.add_argument("placement", metavar="PLACEMENT", help="what to move")
    where = parser.add_mutually_exclusive_group()
    where.add_argument("--by", metavar="I,J", type=holes_pair, help="holes forward and left, such as 2,0 or -0.5,1")
    where.add_argument("--to", metavar="I,J", type=holes_pair, help="lattice coordinates of the part's origin")
    shared(parser, "--turn", help="the new turn, counter-clockwise seen from outside")
    shared(parser, "--on", help="another deck, or placement.seat")
    shared(parser, "--face")
    parser.add_argument("--dry-run", action="store_true", help="show the patch and write nothing")
    shared(parser, "--json")
    parser.epilog = ("The file is written only if the result reads and is what was asked for. Exit code: 1 when findings of "
                     "severity error were gained, else 0. Standard input is no file to move in.")
    parser.set_defaults(writes=True)
    return _move


def _move(options: argparse.Namespace) -> int:
    from chassis_describe import changing
    from chassis_describe.changes.move import Request
    from chassis_describe.reports import change as change_report

    if options.layout == "-":
        raise UsageError("`move` changes a file in place; standard input is none")
    request = Request(placement=options.placement, by=options.by, to=options.to, turn=options.turn, on=options.on,
                      face=options.face)
    if request == Request(placement=options.placement):
        raise UsageError("say where to: --by I,J, --to I,J, --turn DEG, --on SUPPORT or --face top|under")
    done = changing.move(options.layout, request, overlays=options.overlays, dry_run=options.dry_run)
    if options.json:
        print_json({"file": done.path, "written": done.written, "patch": done.patch,
                     "along": [list(pair) for pair in done.along], **change_report.change_data(done.change)})
    else:
        sys.stdout.write(change_report.move_text(done, request.placement, dry_run=options.dry_run))
    return exit_code(done.change.gained)


def compare(parser: Parser) -> Run:
    """Two builds, and what differs."""
    layout_argument(parser)
    parser.add_argument("new", metavar="NEW", nargs="?", help="the other layout; left out: LAYOUT itself, with other overlays")
    parser.add_argument("--old-with", metavar="FILE", action="append", default=[], help="lay this file over LAYOUT only")
    parser.add_argument("--new-with", metavar="FILE", action="append", default=[], help="lay this file over NEW only")
    form = parser.add_mutually_exclusive_group()
    shared(form, "--json")
    form.add_argument("--markdown", action="store_true", help="a page for a pull request")
    parser.add_argument("--exit-code", action="store_true", help="exit 1 when anything changed, not only when errors came")
    shared(parser, "--draw", help="draw before and after in one picture there too: .svg, .pdf or .png")
    shared(parser, "--replace", help="replace a file that was not made by this program")
    parser.epilog = ("LAYOUT or NEW may be git:REV (the other file as it was in that revision) or git:REV:path. Exit code: 1 "
                     "when findings of severity error were gained, else 0.")
    return _compare


def _compare(options: argparse.Namespace) -> int:
    from chassis_describe import changing
    from chassis_describe.changes import compare as changes
    from chassis_describe.disk.revision import source_of
    from chassis_describe.reports import change as change_report

    first, second = options.layout, options.new if options.new is not None else options.layout
    if first == second == "-":
        raise UsageError("standard input can be one of the two layouts, not both")
    if second.startswith("git:") and options.new is None:
        raise UsageError("name the file too: compare git:REV FILE")
    text = read_standard_input() if "-" in (first, second) else None
    old_source, new_source = source_of(first, second), source_of(second, first)
    old = changing.side(old_source, text=text if first == "-" else None, overlays=[*options.overlays, *options.old_with])
    new = changing.side(new_source, text=text if second == "-" else None, overlays=[*options.overlays, *options.new_with])
    change = changes.compare(old, new)
    if options.draw is not None:
        from chassis_describe import picturing

        picturing.draw_change(options.draw, old.assembly, new.assembly, replace=options.replace)
    if options.json:
        print_json(change_report.change_data(change))
    elif options.markdown:
        sys.stdout.write(change_report.change_markdown(change, title=f"{new.assembly.robot}: {first} to {second}"))
    else:
        sys.stdout.write(change_report.change_text(change))
    return FINDINGS if options.exit_code and not change.nothing else exit_code(change.gained)


def steps(parser: Parser) -> Run:
    """The build sheet."""
    layout_argument(parser)
    shared(parser, "--out", help="the page: .md (with a folder of figures beside it), .html or .pdf; left out: Markdown on "
                                 "standard output")
    parser.add_argument("--csv", metavar="FILE", help="the list for a spreadsheet")
    shared(parser, "--replace", help="replace a file that was not made by this program")
    return _steps


def _steps(options: argparse.Namespace) -> int:
    from chassis_describe import picturing

    if options.out is None and options.csv is None:
        from chassis_describe.cli.arguments import assembly
        from chassis_describe.documents import steps_markdown

        sys.stdout.write(steps_markdown(assembly(options), "figures"))
        return OK
    for path, changed in picturing.steps(options.layout, options.out, options.csv, text=standard_input(options),
                                         overlays=options.overlays, replace=options.replace):
        sys.stdout.write(f"{path}: {'written' if changed else 'nothing had changed'}\n")
    return OK
