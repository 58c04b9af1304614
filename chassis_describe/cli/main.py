"""The command line: arguments, exit codes, and the only printing.

Exit codes: 0 clean (warnings allowed unless ``--strict``), 1 findings of severity error, 2 unusable arguments, layout
or target, 3 a fault of ours.
"""
from __future__ import annotations

import argparse
import io
import json
import os
import re
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

from chassis_describe.errors import ChassisError, LayoutError, UsageError

if TYPE_CHECKING:
    from decimal import Decimal

    from chassis_describe.assembly.model import Assembly
    from chassis_describe.findings import Finding

OK, FINDINGS, UNUSABLE, OUR_FAULT = 0, 1, 2, 3
#: Options whose value may begin with a minus, as people type it: ``--by -2,0``.
_SIGNED = ("--by", "--to", "--xyz", "--rpy", "--turn", "--at")


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        self.print_usage(sys.stderr)
        sys.stderr.write(f"{self.prog}: {message}\n")
        raise SystemExit(UNUSABLE)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code."""
    arguments = _signed_values(list(sys.argv[1:] if argv is None else argv))
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper) and stream.errors == "strict":
            stream.reconfigure(errors="backslashreplace")  # a terminal that has no degree sign gets \xb0, not a fault
    parser = build_parser()
    try:
        options = parser.parse_args(arguments)
    except SystemExit as stop:
        return int(stop.code or 0)
    if options.run is None:
        parser.print_help()
        return UNUSABLE
    try:
        return int(options.run(options))
    except LayoutError as error:
        return _layout_error(error, options)
    except ChassisError as error:
        sys.stderr.write(f"chassis_describe: {error}\n")
        return UNUSABLE
    except BrokenPipeError:
        # The reader of our output has gone; nothing is wrong. Keep the interpreter from flushing into the void.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return OK
    except KeyboardInterrupt:
        return 130
    except Exception as error:
        if options.traceback:
            raise
        sys.stderr.write(f"chassis_describe: a fault of this program, not of your file: {type(error).__name__}: {error}\n"
                         "  please report it with the layout and what `--traceback` prints\n")
        return OUR_FAULT


def _signed_values(arguments: list[str]) -> list[str]:
    joined: list[str] = []
    for argument in arguments:
        if joined and joined[-1] in _SIGNED and re.match(r"-[\d.]", argument):
            joined[-1] += f"={argument}"
        else:
            joined.append(argument)
    return joined


def _layout_error(error: LayoutError, options: argparse.Namespace) -> int:
    from chassis_describe.reports import findings_text as report

    if getattr(options, "json", False):
        _print_json({"robot": None, "findings": [report.finding_data(f) for f in error.findings], "summary": None})
    sys.stderr.write(report.findings_text(error.findings, colour=_colour(sys.stderr)))
    writes = "; nothing was written" if hasattr(options, "out") or hasattr(options, "placement") else ""
    sys.stderr.write(f"chassis_describe: {report.count_text(error.findings)}{writes}\n")
    return UNUSABLE


def _colour(stream: Any) -> bool:
    return bool(stream.isatty()) and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def _print_json(data: Any) -> None:
    from chassis_describe.reports import findings_text as report

    sys.stdout.write(json.dumps(report.bare(data), indent=2, ensure_ascii=False) + "\n")


# ----------------------------------------------------------------------------------------------------------- arguments
def build_parser() -> argparse.ArgumentParser:
    """Every command with its options."""
    parser = _Parser(prog="chassis_describe", description="Computes what a robot's software must know of its body from "
                     "the layout of its decks and parts.", allow_abbrev=False)
    parser.add_argument("--version", action="version", version=f"chassis_describe {_version()}")
    parser.set_defaults(run=None, traceback=False)
    commands = parser.add_subparsers(title="commands", metavar="COMMAND")

    def command(name: str, run: Callable[[argparse.Namespace], int], about: str, *,
                layout: bool = True) -> argparse.ArgumentParser:
        sub = commands.add_parser(name, help=about, description=about[0].upper() + about[1:] + ".", allow_abbrev=False)
        sub.set_defaults(run=run)
        if layout:
            sub.add_argument("layout", metavar="LAYOUT", help="layout file; - is standard input")
            sub.add_argument("--with", dest="overlays", metavar="FILE", action="append", default=[],
                             help="lay this file over the layout (add, change, remove with `name: ~`); may be repeated")
        sub.add_argument("--traceback", action="store_true", help="show where a fault of this program happened")
        return sub

    sub = command("new", _new, "write a small commented layout to start from", layout=False)
    sub.add_argument("name", metavar="NAME", help="name of the robot; the file is NAME.yaml")

    sub = command("parts", _parts, "list the parts, or describe one", layout=False)
    sub.add_argument("name", metavar="NAME|FILE", nargs="?",
                     help="a part of the built-in catalogue, or a part file to list and validate")
    sub.add_argument("part", metavar="PART", nargs="?", help="one part of the part file")
    sub.add_argument("--layout", dest="layout", metavar="LAYOUT", help="take the parts of this layout too")
    sub.add_argument("--json", action="store_true", help="for programs")

    sub = command("holes", _holes, "show each deck's holes: free, used by whom, absent")
    sub.add_argument("deck", metavar="DECK", nargs="?", help="one deck only")

    sub = command("check", _check, "say what is wrong with the build, and its key figures")
    _check_options(sub)
    sub.add_argument("--sarif", metavar="FILE", help="write the findings there too, as SARIF for pull requests")
    sub.add_argument("--junit", metavar="FILE", help="write the findings there too, as a JUnit test report")

    sub = command("urdf", _urdf, "print the URDF")
    sub.add_argument("--prefix", help="before every frame and joint name, instead of the layout's")
    sub.add_argument("--visual", choices=("boxes", "mesh"), default="boxes",
                     help="draw decks as boxes, or as meshes of the compiled package")

    sub = command("compile", _compile, "write the description package")
    sub.add_argument("-o", "--out", metavar="DIR", required=True, help="the folder that becomes the package")
    sub.add_argument("--prefix", help="before every frame and joint name, instead of the layout's")
    sub.add_argument("--despite-errors", action="store_true", help="write although the check has errors")
    sub.add_argument("--replace", action="store_true",
                     help="replace files that were changed since, keeping copies of them beside the package")
    _check_options(sub)

    sub = command("frames", _frames, "print every transform")
    sub.add_argument("--from", dest="start", metavar="FRAME", help="every frame seen from this one")
    form = sub.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="for programs")
    form.add_argument("--yaml", action="store_true", help="the same as YAML")
    form.add_argument("--commands", action="store_true", help="as static_transform_publisher lines")

    sub = command("manual", _manual, "show the manual: its chapters, one chapter, one finding or one key of the layout",
                  layout=False)
    sub.add_argument("topic", metavar="CHAPTER|CODE|KEY", nargs="?", help="what to show; left out: the list of chapters")

    sub = command("schema", _schema, "print the JSON Schema of layouts, for editors", layout=False)
    sub.add_argument("--parts", action="store_true", help="the schema of part files instead")
    _change_commands(command)
    return parser


def _check_options(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--json", action="store_true", help="for programs")
    sub.add_argument("--strict", action="store_true", help="exit 1 on warnings too")


def _change_commands(command: Callable[..., argparse.ArgumentParser]) -> None:
    """Commands about changes: their options; what they do is in changing.py."""
    sub = command("move", _move, "move a placement by holes, in its file, everything else left as it is")
    sub.add_argument("placement", metavar="PLACEMENT", help="what to move")
    where = sub.add_mutually_exclusive_group()
    where.add_argument("--by", metavar="I,J", type=_holes_pair, help="holes forward and left, such as 2,0 or -0.5,1")
    where.add_argument("--to", metavar="I,J", type=_holes_pair, help="lattice coordinates of the part's origin")
    sub.add_argument("--turn", metavar="DEG", type=_degrees, help="the new turn, counter-clockwise seen from outside")
    sub.add_argument("--on", metavar="SUPPORT", help="another deck, or placement.seat")
    sub.add_argument("--face", choices=("top", "under"), help="side of the deck")
    sub.add_argument("--dry-run", action="store_true", help="show the patch and write nothing")
    sub.add_argument("--json", action="store_true", help="for programs")
    sub.epilog = ("The file is written only if the result reads and is what was asked for. Exit code: 1 when findings of "
                  "severity error were gained, else 0. Standard input is no file to move in.")

    sub = command("compare", _compare, "say what changed between two layouts, or since a git revision")
    sub.add_argument("new", metavar="NEW", nargs="?", help="the other layout; left out: LAYOUT itself, with other overlays")
    sub.add_argument("--old-with", metavar="FILE", action="append", default=[], help="lay this file over LAYOUT only")
    sub.add_argument("--new-with", metavar="FILE", action="append", default=[], help="lay this file over NEW only")
    form = sub.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="for programs")
    form.add_argument("--markdown", action="store_true", help="a page for a pull request")
    sub.add_argument("--exit-code", action="store_true", help="exit 1 when anything changed, not only when errors came")
    sub.epilog = ("LAYOUT or NEW may be git:REV (the other file as it was in that revision) or git:REV:path. Exit code: 1 "
                  "when findings of severity error were gained, else 0.")


def _holes_pair(text: str) -> tuple[Decimal, Decimal]:
    found = re.fullmatch(r"\s*\[?\s*([^\s,]+)\s*,\s*([^\s,]+?)\s*\]?\s*", text)
    try:
        if found is None:
            raise ValueError
        pair = (_decimal(found[1]), _decimal(found[2]))
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a pair of holes; write I,J such as 2,0 or -0.5,1") from None
    return pair


def _degrees(text: str) -> Decimal:
    try:
        return _decimal(re.sub(r"\s*(?:deg|°)$", "", text))
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not an angle in degrees, such as 90 or -22.5") from None


def _decimal(text: str) -> Decimal:
    from decimal import Decimal

    if not re.fullmatch(r"[-+]?(?:\d{1,6}(?:\.\d{0,9})?|\.\d{1,9})", text):
        raise ValueError(text)
    return Decimal(text) + 0  # never -0


def _version() -> str:
    from chassis_describe.version import VERSION

    return VERSION


# ------------------------------------------------------------------------------------------------------------ commands
def _assembly(options: argparse.Namespace) -> Assembly:
    from chassis_describe import compiler

    layout = compiler.read(options.layout, text=_standard_input(options), overlays=options.overlays)
    return compiler.assemble(layout, prefix=getattr(options, "prefix", None))


def _standard_input(options: argparse.Namespace) -> bytes | None:
    return sys.stdin.buffer.read() if options.layout == "-" else None


def _new(options: argparse.Namespace) -> int:
    from chassis_describe.layout.starter import starter

    text = starter(options.name)  # raises UsageError on a name that ROS would refuse
    path = f"{options.name}.yaml"
    try:
        with Path(path).open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError:
        raise UsageError(f"{path} exists already and stays as it is; choose another name") from None
    except OSError as error:
        raise UsageError(f"{path} can't be written here: {error.strerror}") from error
    sys.stdout.write(f"wrote {path}\nnext: chassis_describe check {path}\n      chassis_describe holes {path}\n"
                     f"      chassis_describe compile {path} -o {options.name}_description\n")
    return OK


def _parts(options: argparse.Namespace) -> int:
    from chassis_describe.reports import part_list

    if options.json:
        _print_json(part_list.parts_data(options.name, options.layout, options.part))
    else:
        sys.stdout.write(part_list.parts_text(options.name, options.layout, options.part))
    return OK


def _holes(options: argparse.Namespace) -> int:
    from chassis_describe.reports import hole_plan

    assembly = _assembly(options)
    sys.stdout.write(hole_plan.as_text(assembly, options.deck) if options.deck else hole_plan.all_as_text(assembly))
    return OK


def _exit_code(findings: Sequence[Finding], strict: bool) -> int:
    from chassis_describe.findings import Severity

    bad = {Severity.ERROR, Severity.WARNING} if strict else {Severity.ERROR}
    return FINDINGS if any(f.severity in bad for f in findings) else OK


def _check(options: argparse.Namespace) -> int:
    from chassis_describe import compiler
    from chassis_describe.facts.figures import summary
    from chassis_describe.reports import findings_text as report

    try:
        assembly = _assembly(options)
    except LayoutError as error:
        _for_ci(options, error.findings, os.path.basename(options.layout), finished=False)
        raise
    findings = compiler.check(assembly)
    figures = summary(assembly)
    _for_ci(options, findings, assembly.robot, finished=True)
    if options.json:
        _print_json({"robot": assembly.robot, "findings": [report.finding_data(f) for f in findings],
                     "summary": figures})
    else:
        sys.stdout.write(report.findings_text(findings, colour=_colour(sys.stdout)))
        sys.stdout.write(("\n" if findings else "") + report.summary_text(assembly.robot, figures))
        sys.stdout.write(f"{report.count_text(findings)}\n")
    return _exit_code(findings, options.strict)


def _for_ci(options: argparse.Namespace, findings: Sequence[Finding], name: str, *, finished: bool) -> None:
    """The findings in the forms that CI services read, where they were asked for."""
    reports: list[tuple[str, bytes]] = []
    if options.sarif:
        from chassis_describe.reports.sarif import sarif

        reports.append((options.sarif, sarif(findings, finished=finished).encode("utf-8")))
    if options.junit:
        from chassis_describe.reports.junit import junit

        reports.append((options.junit, junit(findings, name=name, strict=options.strict)))
    for path, data in reports:
        try:
            Path(path).write_bytes(data)
        except OSError as error:
            raise UsageError(f"{path} can't be written: {error.strerror}") from error


def _urdf(options: argparse.Namespace) -> int:
    from chassis_describe import compiler

    sys.stdout.write(compiler.urdf(_assembly(options), visual=options.visual))
    return OK


def _compile(options: argparse.Namespace) -> int:
    from chassis_describe import compiler
    from chassis_describe.reports import findings_text as report

    done = compiler.compile(options.layout, options.out, text=_standard_input(options), overlays=options.overlays,
                            prefix=options.prefix, despite_errors=options.despite_errors, replace=options.replace)
    if options.json:
        _print_json({"robot": done.assembly.robot, "findings": [report.finding_data(f) for f in done.findings],
                     "written": done.written is not None})
    else:
        sys.stderr.write(report.findings_text(done.findings, colour=_colour(sys.stderr)))
    if done.written is None:
        sys.stderr.write(f"chassis_describe: {report.count_text(done.findings)}; nothing was written "
                         "(--despite-errors writes all the same)\n")
        return FINDINGS
    if not options.json:
        sys.stdout.write(_written_text(options.out, done))
    return OK if options.despite_errors else _exit_code(done.findings, options.strict)


def _written_text(out: str, done: Any) -> str:
    from chassis_describe.reports import findings_text as report

    robot, files = done.assembly.robot, done.written
    count = len(files.written)
    changed = f"{count} file{'' if count == 1 else 's'} written" if files.written or files.removed else "nothing had changed"
    same = f", {len(files.unchanged)} unchanged" if files.unchanged and files.written else ""
    gone = f", {len(files.removed)} removed" if files.removed else ""
    kept = f"your own changes are kept in {files.kept}\n" if files.kept else ""
    return (f"{out}: {changed}{same}{gone}\n{kept}"
            f"{report.count_text(done.findings)}\n"
            f"next: colcon build --packages-select {robot}_description, then\n"
            f"      ros2 launch {robot}_description show.launch.py\n"
            "A generated model is not a safety function. First drive after any change: wheels off the ground.\n")


def _frames(options: argparse.Namespace) -> int:
    from chassis_describe.reports import frames as frames_table

    write = (frames_table.as_json if options.json else frames_table.as_yaml if options.yaml
             else frames_table.as_commands if options.commands else frames_table.as_text)
    sys.stdout.write(write(_assembly(options), start=options.start))
    return OK


def _schema(options: argparse.Namespace) -> int:
    from chassis_describe.layout.language import schema

    sys.stdout.write(json.dumps(schema.catalogue_schema() if options.parts else schema.schema(), indent=2) + "\n")
    return OK


def _manual(options: argparse.Namespace) -> int:
    from chassis_describe.manual import lookup

    sys.stdout.write(lookup.page(options.topic) if options.topic else lookup.contents())
    return OK


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
        _print_json({"file": done.path, "written": done.written, "patch": done.patch,
                     "along": [list(pair) for pair in done.along], **change_report.change_data(done.change)})
    else:
        sys.stdout.write(change_report.move_text(done, request.placement, dry_run=options.dry_run))
    return _exit_code(done.change.gained, False)


def _compare(options: argparse.Namespace) -> int:
    from chassis_describe import changing
    from chassis_describe.changes.compare import compare
    from chassis_describe.disk.revision import source_of
    from chassis_describe.reports import change as change_report

    first, second = options.layout, options.new if options.new is not None else options.layout
    if first == second == "-":
        raise UsageError("standard input can be one of the two layouts, not both")
    if second.startswith("git:") and options.new is None:
        raise UsageError("name the file too: compare git:REV FILE")
    text = sys.stdin.buffer.read() if "-" in (first, second) else None
    old_source, new_source = source_of(first, second), source_of(second, first)
    old = changing.side(old_source, text=text if first == "-" else None, overlays=[*options.overlays, *options.old_with])
    new = changing.side(new_source, text=text if second == "-" else None, overlays=[*options.overlays, *options.new_with])
    change = compare(old, new)
    if options.json:
        _print_json(change_report.change_data(change))
    elif options.markdown:
        sys.stdout.write(change_report.change_markdown(change, title=f"{new.assembly.robot}: {first} to {second}"))
    else:
        sys.stdout.write(change_report.change_text(change))
    return FINDINGS if options.exit_code and not change.nothing else _exit_code(change.gained, False)
