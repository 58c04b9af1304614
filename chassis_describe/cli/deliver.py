"""Commands that deliver the description: ``urdf``, ``compile``, ``sync``, ``match``."""
from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from chassis_describe.cli.arguments import Parser, Run, assembly, layout_argument, seconds, shared, standard_input
from chassis_describe.cli.printing import FINDINGS, OK, exit_code, print_findings, print_json

if TYPE_CHECKING:
    from chassis_describe.changes.match import Difference
    from chassis_describe.compiler import Compiled
    from chassis_describe.disk.package import WriteResult
    from chassis_describe.sync.edit import FileSync

#: Seconds that `match --running` listens.
_LISTEN = 3.0


def urdf(parser: Parser) -> Run:
    """The URDF on standard output."""
    layout_argument(parser)
    shared(parser, "--prefix")
    parser.add_argument("--visual", choices=("boxes", "mesh"), default="boxes",
                        help="draw the robot by primitives, or with the meshes of the compiled package")
    return _urdf


def _urdf(options: argparse.Namespace) -> int:
    from chassis_describe import compiler

    sys.stdout.write(compiler.urdf(assembly(options), visual=options.visual))
    return OK


def compile(parser: Parser) -> Run:  # noqa: A001 - the command's own word
    """The description package."""
    layout_argument(parser)
    shared(parser, "--out", metavar="DIR", required=True, help="the folder that becomes the package")
    shared(parser, "--prefix")
    parser.add_argument("--despite-errors", action="store_true", help="write although the check has errors")
    shared(parser, "--replace", help="replace files that were changed since, keeping copies of them beside the package")
    shared(parser, "--json")
    shared(parser, "--strict")
    parser.set_defaults(writes=True)
    return _compile


def _compile(options: argparse.Namespace) -> int:
    from chassis_describe import compiler
    from chassis_describe.reports import findings_text as report

    done = compiler.compile(options.layout, options.out, text=standard_input(options), overlays=options.overlays,
                            prefix=options.prefix, despite_errors=options.despite_errors, replace=options.replace)
    if options.json:
        print_json({"robot": done.assembly.robot, "findings": [report.finding_data(f) for f in done.findings],
                     "written": done.written is not None, "warnings": list(done.warnings)})
    else:
        print_findings(done.findings, sys.stderr)
    if done.written is None:
        sys.stderr.write(f"chassis_describe: {report.count_text(done.findings)}; nothing was written "
                         "(--despite-errors writes all the same)\n")
        return FINDINGS
    for warning in done.warnings:
        sys.stderr.write(f"chassis_describe: warning: {warning}\n")
    if done.written.leftover is not None:
        place, why = done.written.leftover
        sys.stderr.write(f"chassis_describe: the package is written, but {place} of the old one can't be removed ({why}); remove "
                         "it by hand when you can; later runs get past it\n")
    _warn_of_names(options.out, f"{done.assembly.robot}_description")
    if not options.json:
        sys.stdout.write(_written_text(options.out, done, done.written))
    return OK if options.despite_errors else exit_code(done.findings, options.strict)


def _warn_of_names(out: str, package: str) -> None:
    """Variants of one robot that keep its name, in folders of their own."""
    from pathlib import Path

    from chassis_describe.disk.siblings import of_that_name

    others = of_that_name(Path(out), package)
    if others:
        sys.stderr.write(f"chassis_describe: warning: the package {package} is in {' and '.join(others[:4])} too, beside {out}: no "
                         f"workspace can hold both, and package://{package} finds only one of them; give the variant a `robot:` "
                         "name of its own, in its overlay\n")


def _written_text(out: str, done: Compiled, files: WriteResult) -> str:
    from chassis_describe.reports import findings_text as report

    robot = done.assembly.robot
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


def sync(parser: Parser) -> Run:
    """The user's own parameter files."""
    layout_argument(parser)
    parser.add_argument("files", metavar="FILE", nargs="+", help="parameter files: Nav2, ros2_control, laser_filters ...")
    parser.add_argument("--since", metavar="OLD", help="rename frames too that were called otherwise in OLD: a layout, or git:REV")
    shared(parser, "--write", help="change the files; without this, the patch is shown and nothing is changed")
    shared(parser, "--json")
    parser.epilog = ("A line that ends in `# chassis_describe: keep` stays. Exit code without --write: 1 when something would "
                     "change, 0 when all is true. A file that can't be read: 2, and none is written.")
    parser.set_defaults(writes=True)
    return _sync


def _sync(options: argparse.Namespace) -> int:
    from chassis_describe import syncing
    from chassis_describe.disk.revision import source_of

    since = source_of(options.since, options.layout) if options.since is not None else None
    done = syncing.sync(options.layout, options.files, text=standard_input(options), overlays=options.overlays, since=since,
                        write=options.write)
    if options.json:
        print_json({"files": [{"file": f.file, "changed": [c._asdict() for c in f.changed],
                               "left": [item._asdict() for item in f.left]} for f in done]})
    else:
        sys.stdout.write("".join(_synced_text(f, options.write) for f in done))
    return FINDINGS if any(f.changed for f in done) and not options.write else OK


def _synced_text(file: FileSync, written: bool) -> str:
    from chassis_describe.changes.result import patch
    from chassis_describe.words import count

    lines = [] if written else [patch(file.was, file.data, file.file)]
    if file.changed:
        lines.append(f"{file.file}: {count(len(file.changed), 'value')} {'changed' if written else 'to change'}\n")
    else:
        lines.append(f"{file.file}: says what the layout says\n")
    lines += [f"  {c.key}: {c.old} -> {c.new}\n" for c in file.changed if written]
    lines += [f"  left alone, line {item.line}: {item.key}: {item.why}\n" for item in file.left]
    return "".join(lines)


def match(parser: Parser) -> Run:
    """A description against the layout."""
    layout_argument(parser)
    parser.add_argument("urdf", metavar="URDF", nargs="?", help="the description to judge; a xacro has to be expanded first")
    parser.add_argument("--running", action="store_true",
                        help="judge the running robot instead: its robot_description and its transforms (needs ROS 2)")
    parser.add_argument("--seconds", type=seconds, metavar="SECONDS", help="how long to listen with --running (default: 3)")
    shared(parser, "--ros-args")
    shared(parser, "--prefix")
    parser.add_argument("--exact", action="store_true", help="allow no play: 0.1 mm and 0.01 degrees for every frame")
    shared(parser, "--json")
    parser.epilog = ("Frames are compared against base_link, joints at zero (with --running: at any value); each may be off by its "
                     "play, which `frames` prints. Exit code: 1 when something differs, else 0; 2 when no robot was heard.")
    return _match


def _match(options: argparse.Namespace) -> int:
    from chassis_describe import matching
    from chassis_describe.errors import UsageError

    if (options.urdf is None) != options.running:
        raise UsageError("match takes a URDF, or --running")
    if not options.running and (options.seconds is not None or options.ros_args is not None):
        raise UsageError("--seconds and --ros-args belong to --running")
    robot = assembly(options)
    remarks: list[str] = []
    if options.running:
        from chassis_describe.live.packages import needing_ros

        heard = needing_ros("live.listen", "match --running").listen(robot, options.seconds or _LISTEN, options.ros_args or ())
        found = matching.match_running(robot, heard, exact=options.exact)
        why = matching.why_missing(robot, heard)
        remarks = [*([] if why is None else [why]), *matching.not_heard(heard)]
    else:
        found = matching.match_file(robot, options.urdf, exact=options.exact)
    if options.json:
        print_json({"same": not found, "differences": [d._asdict() for d in found]})
    else:
        what = options.urdf or "the running robot"
        sys.stdout.write("".join(map(_difference_text, found)) or f"{what} is what the layout says of {robot.robot}\n")
    for remark in remarks:
        (sys.stderr if options.json else sys.stdout).write(f"{remark}\n")
    return FINDINGS if found else OK


def _difference_text(item: Difference) -> str:
    def say(value: object) -> str:
        if isinstance(value, tuple):
            return f"[{', '.join(f'{v:.6g}' for v in value)}]"
        return "nothing" if value is None else f"{value:.6g}" if isinstance(value, float) else str(value)

    unit = f" {item.unit}" if item.unit else ""
    if item.kind == "twice" and not isinstance(item.expected, float):
        return f"twice: {item.of} is published twice: {say(item.expected)}{unit} and {say(item.found)}{unit}\n"
    if item.kind in ("missing", "extra", "twice"):
        words = {"missing": "is missing", "extra": "is none of this layout's", "twice": "is defined or carried twice"}
        return f"{item.kind}: {item.of} {words[item.kind]}\n"
    return f"{item.kind}: {item.of}: expected {say(item.expected)}{unit}, found {say(item.found)}{unit}\n"
