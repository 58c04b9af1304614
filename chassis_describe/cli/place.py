"""Commands for placing parts where they fit, and finding out where they are: ``places``, ``locate``."""
from __future__ import annotations

import argparse
import math
import sys
import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from chassis_describe.cli.arguments import Parser, Run, assembly, layout_argument, shared
from chassis_describe.cli.printing import FINDINGS, OK, print_json
from chassis_describe.errors import UsageError

if TYPE_CHECKING:
    from chassis_describe.changes.measured import Measured


def places(parser: Parser) -> Run:
    """Where a part could go."""
    layout_argument(parser)
    parser.add_argument("placement", metavar="PLACEMENT", help="what is looked for a place for")
    shared(parser, "--on", metavar="DECK", nargs="+", default=[], help="only these decks; all when left out")
    shared(parser, "--face", choices=("top", "under", "both"), help="sides of the decks; as now when left out")
    shared(parser, "--turn", metavar=None, type=None, choices=("keep", "quarter"), default="keep",
           help="keep the turn (the default), or try all quarter turns")
    parser.add_argument("--prefer", metavar="CRITERIA", type=_criteria, default=(),
                        help="what counts, in order: view, tip, com, footprint, with commas between")
    parser.add_argument("--workers", metavar="N", type=_candidate, help="processes that share the work; one a core when left out")
    shared(parser, "--draw", metavar="FILE", help="draw a heat map on the plans of the decks: .svg, .pdf or .png")
    shared(parser, "--write", action="store", nargs="?", const=1, type=_candidate, metavar="N",
           help="move it to place N (1 when left out) in its file")
    shared(parser, "--replace", help="replace a drawing that was not made by this program")
    shared(parser, "--json")
    parser.epilog = ("What stands on it and its mirror image go along. A place fits when it gains no error over the robot without "
                     "it. Exit code: 1 when no place fits, else 0. Nothing is written without --write or --draw.")
    parser.set_defaults(writes=True)
    return _places


def _criteria(text: str) -> tuple[str, ...]:
    from chassis_describe.search.best import CRITERIA

    names = tuple(part.strip() for part in text.split(","))
    if not all(n in CRITERIA for n in names) or len(set(names)) < len(names):
        raise argparse.ArgumentTypeError(f"{text!r}: say {', '.join(CRITERIA)}, each at most once, with commas between")
    return names


def _places(options: argparse.Namespace) -> int:
    from chassis_describe import compiler, placing
    from chassis_describe.reports.places import places_data, places_text

    if options.write is not None and options.layout == "-":
        raise UsageError("--write changes a file in place; standard input is none")
    if options.draw is not None:
        placing.ending_of_pages(options.draw)  # before the search, which may take its time
    robot = assembly(options)
    asked = placing.question(robot, options.placement, on=options.on, face=options.face, quarter=options.turn == "quarter",
                             prefer=options.prefer)
    with _Bar() as bar:
        found = placing.places(robot, asked, workers=options.workers, progress=bar)
    if options.json:
        print_json(places_data(found))
    else:
        sys.stdout.write(places_text(robot, found))
    if options.draw is not None:
        changed = placing.draw(robot, found, options.draw, inputs=compiler.files_read(robot), replace=options.replace)
        _say(f"{options.draw}: {'written' if changed else 'nothing had changed'}", options)
    if options.write is not None:
        done = placing.put(options.layout, found, options.write, overlays=options.overlays)
        where = f"put at place {options.write}" if done.written else "is there already"
        _say(f"{done.path}: {options.placement} {where}", options)
    return OK if found.fits else FINDINGS


class _Bar:
    """A progress bar on a terminal, once the work has taken a second."""

    def __init__(self) -> None:
        self.shown, self.begin = False, time.monotonic()

    def __enter__(self) -> _Bar:
        return self

    def __call__(self, done: int, of: int) -> None:
        if not sys.stderr.isatty() or time.monotonic() - self.begin < 1.0 or done % 8:
            return
        self.shown = True
        full = 40 * done // max(of, 1)
        sys.stderr.write(f"\r[{'#' * full}{'.' * (40 - full)}] {done} of {of} places")
        sys.stderr.flush()

    def __exit__(self, *_: object) -> None:
        if self.shown:
            sys.stderr.write("\r\033[K")
            sys.stderr.flush()


def adapter(parser: Parser) -> Run:
    """A plate for a part whose holes don't match."""
    layout_argument(parser)
    parser.add_argument("placement", metavar="PLACEMENT", help="the part, placed where it is to be, though its bolts meet no holes")
    shared(parser, "--out", metavar="FILE.yaml", help="write the adapter's part file there; standard output when left out")
    parser.add_argument("--thickness", metavar="MM", type=_length, help="of the plate; as the deck when left out, if that will do")
    parser.add_argument("--gap", metavar="MM", type=_length,
                        help="spacers between plate and part; left out: the part's `lift`, else 5 under through holes")
    shared(parser, "--material", help="of the plate; the deck's own when left out")
    shared(parser, "--turn", metavar=None, type=None, choices=("keep", "quarter"), default="keep",
           help="keep the part's turn (the default), or try all quarter turns for a smaller plate")
    shared(parser, "--write", help="write the part file (FILE.yaml, or beside the layout), and both lines into the layout")
    shared(parser, "--replace", help="replace a part file that was not made by this program")
    shared(parser, "--json")
    parser.epilog = ("The smallest plate is made whose screws are within reach with the part on. `draw FILE.yaml` draws it for a "
                     "cutter, a drill or a printer. Exit code: 1 when there is no room for one, else 0, also where none is needed. "
                     "Nothing is written without --out or --write.")
    parser.set_defaults(writes=True)
    return _adapter


def _length(text: str) -> float:
    """A length of 0 to 100 mm, in metres."""
    from chassis_describe.cli.arguments import decimal

    try:
        value = float(decimal(text.strip().removesuffix("mm").strip()))
    except ValueError:
        value = -1.0
    if not 0.0 <= value <= 100.0:
        raise argparse.ArgumentTypeError(f"{text!r} is not a length; write millimetres from 0 to 100, such as 6 or 2.5")
    return value * 1e-3


def _adapter(options: argparse.Namespace) -> int:
    from chassis_describe import adapting
    from chassis_describe.reports.adapter import adapter_data, adapter_text, part_file

    if options.write and options.layout == "-":
        raise UsageError("--write changes a file in place; standard input is none")
    robot = assembly(options)
    answer = adapting.adapter(robot, adapting.AdapterWish(
        placement=options.placement, thickness=options.thickness, gap=options.gap, material=options.material,
        quarters=options.turn == "quarter"))
    one = answer.adapter
    if one is None:
        if options.json:
            print_json(adapter_data(robot, answer, None, None))
        else:
            sys.stdout.write(f"{answer.placement}: " + (f"no adapter fits: {answer.why}" if answer.needed else
                                                         f"no adapter is needed: {answer.why}") + "\n")
        return FINDINGS if answer.needed else OK
    part, file, changed = adapting.part_of(robot, one), options.out, ""
    if options.write:
        file = file or adapting.file_beside(options.layout, one)
        changed = adapting.put(options.layout, robot, answer, file, overlays=options.overlays, replace=options.replace)
    elif file is not None:
        adapting.write_part(robot, one, file, replace=options.replace)
    if options.json:
        print_json(adapter_data(robot, answer, part, file))
    elif file is None:
        text = adapter_text(robot, answer, part, f"{one.name}.yaml")
        sys.stdout.write(part_file(robot, one) + "".join(f"# {line}".rstrip() + "\n" for line in ("", *text.splitlines())))
    else:
        sys.stdout.write(adapter_text(robot, answer, part, file, written=options.write))
    if file is not None:
        _say(f"{file}: written" + (f"; {changed}: {one.name} put under {one.placement}" if changed else ""), options)
    return OK


def locate(parser: Parser) -> Run:
    """Which hole a measured pose means."""
    layout_argument(parser)
    parser.add_argument("placement", metavar="PLACEMENT", nargs="?", help="the sensor, or what carries it")
    parser.add_argument("--xyz", metavar="X,Y,Z", type=_numbers(3), help="the measured place, in metres")
    parser.add_argument("--xy", metavar="X,Y", type=_numbers(2), help="the same without its height")
    parser.add_argument("--rpy", metavar="R,P,Y", type=_numbers(3), help="the measured attitude, in degrees about fixed axes")
    parser.add_argument("--quat", metavar="X,Y,Z,W", type=_numbers(4), help="the same as a quaternion")
    parser.add_argument("--yaw", metavar="DEG", type=_numbers(1), help="the heading alone, in degrees")
    shared(parser, "--from", help="the frame that it was measured in; base_link when left out")
    parser.add_argument("--of", metavar="CHILD", help="what was measured, where PLACEMENT carries it: a placement, "
                                                      "placement.sensor or a frame")
    parser.add_argument("--file", metavar="MEASURED", help="several poses: placement: {xyz: […], rpy: […], of: …, from: …}")
    shared(parser, "--write", action="store", nargs="?", const=1, type=_candidate, metavar="N",
           help="put candidate N (1 when left out) into the file, as `move` does")
    parser.add_argument("--calibrate", action="store_true", help="write what remains as the sensor's `calibrated` pose")
    shared(parser, "--json")
    parser.epilog = ("The pose is that of the frame which the sensor's messages carry, in metres and degrees as ROS prints them. "
                     "Exit code: 0 when a mounting explains it within its play, else 1. Without --write or --calibrate nothing "
                     "is written.")
    parser.set_defaults(writes=True)
    return _locate


def _numbers(many: int) -> Callable[[str], tuple[float, ...]]:
    """The kind of a list of so many finite numbers."""
    def take(text: str) -> tuple[float, ...]:
        try:
            values = tuple(float(v) for v in text.strip().strip("[]()").replace(",", " ").split())
        except ValueError:
            values = ()  # said below
        if len(values) != many or not all(map(math.isfinite, values)):
            raise argparse.ArgumentTypeError(f"{text!r} is not {many} finite number{'s' if many > 1 else ''}, such as "
                                             + ",".join(["0.12", "0", "0.3", "1"][:many]))
        return values

    return take


def _candidate(text: str) -> int:
    if not text.isdigit() or not int(text):
        raise argparse.ArgumentTypeError(f"{text!r} is no candidate: they are counted from 1")
    return int(text)


def _locate(options: argparse.Namespace) -> int:
    from chassis_describe import locating
    from chassis_describe.changes.located import located_data
    from chassis_describe.reports.located import located_text

    writes = options.write is not None or options.calibrate
    if writes and options.layout == "-":
        raise UsageError("--write and --calibrate change a file in place; standard input is none")
    wanted = _wanted(options)
    robot = assembly(options)
    try:
        found = {name: locating.locate(robot, name, measured) for name, measured in wanted.items()}
    except UsageError as error:
        if options.file is None:
            raise
        raise UsageError(f"{options.file}: {error}") from None
    if options.json:
        data = {name: located_data(one) for name, one in found.items()}
        print_json(data[options.placement] if options.placement is not None else
                   {"placements": [{"placement": name, **one} for name, one in data.items()]})
    else:
        sys.stdout.write("\n".join(located_text(f) for f in found.values()))
    for name, one in found.items() if writes else ():
        if options.write is not None:
            done = locating.put(options.layout, one, options.write, overlays=options.overlays)
            _say(f"{done.path}: {name} put there" if done is not None else f"{options.layout}: {name} stands so already", options)
        if options.calibrate:
            from datetime import date

            _say(locating.calibrate(options.layout, name, wanted[name], date=date.today().isoformat(),
                                    overlays=options.overlays), options)
    return OK if all(f.candidates and f.candidates[0].within_play for f in found.values()) else FINDINGS


def _say(text: str, options: argparse.Namespace) -> None:
    (sys.stderr if options.json else sys.stdout).write(f"{text}\n")


def _wanted(options: argparse.Namespace) -> dict[str, Measured]:
    """The poses to explain, by placement."""
    from chassis_describe import locating
    from chassis_describe.changes.measured_file import measured_of

    given = {k: v for k in ("xyz", "xy", "rpy", "quat", "yaw") if (v := getattr(options, k)) is not None}
    start = options.start
    if options.file is not None:
        if given or start is not None or options.of is not None:
            raise UsageError("a pose is given by --file or by options, not both; `of` and `from` are keys of the file")
        poses = locating.measured_in(options.file)
        if options.placement is None:
            return poses
        if options.placement not in poses:
            raise UsageError(f"{options.file} has no pose of `{options.placement}`; it has {', '.join(poses)}")
        return {options.placement: poses[options.placement]}
    if options.placement is None:
        raise UsageError("say which placement was measured, or give a --file of several")
    try:
        return {options.placement: measured_of(given, start=start, of=options.of)}
    except ValueError as error:
        raise UsageError(str(error)) from error
