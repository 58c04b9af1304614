"""Commands to write the build down: ``new``, ``parts``, ``schema``."""
from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from chassis_describe.cli.arguments import Parser, Run, layout_of, shared
from chassis_describe.cli.printing import OK, exit_code, print_findings, print_json
from chassis_describe.errors import UsageError


def new(parser: Parser) -> Run:
    """A layout to start from, or a part file."""
    parser.add_argument("name", metavar="NAME", help="name of the robot, or of the part; the file is NAME.yaml")
    shared(parser, "--part", metavar="MESH", help="begin a part file from this STL or OBJ instead: its box, its bolt holes")
    parser.add_argument("--unit", choices=("mm", "cm", "m", "in"), help="the mesh's unit; guessed by its size when left out")
    parser.add_argument("--up", metavar="AXIS", type=_axis, help="the mesh's axis that points away from the plate; z when left out")
    parser.add_argument("--front", metavar="AXIS", type=_axis, help="the mesh's axis that is the part's forward; x when left out")
    weight = parser.add_mutually_exclusive_group()
    weight.add_argument("--mass", metavar="G", type=_mass, help="what the part weighs: 43 (grams), 0.1 kg")
    shared(weight, "--material", help="what it is solid of all through: its mass by the mesh's volume")
    return _new


def _axis(text: str) -> str:
    if text not in ("x", "y", "z", "-x", "-y", "-z"):
        raise argparse.ArgumentTypeError(f"{text!r} is no axis: x, y, z, -x, -y or -z")
    return text


def _mass(text: str) -> float:
    from chassis_describe.units import MASS, BadNumber, quantity

    try:
        value = quantity(text, MASS)
    except BadNumber as error:
        raise argparse.ArgumentTypeError(f"{error.message}; {error.hint}" if error.hint else error.message) from None
    if not 0.0 < value <= 100.0:
        raise argparse.ArgumentTypeError(f"{text!r} is not what a part weighs: more than nothing, at most 100 kg")
    return value


def _new(options: argparse.Namespace) -> int:
    from chassis_describe.disk.ours import write_new
    from chassis_describe.layout.starter import starter

    if options.part is not None:
        return _new_part(options)
    said = [f"--{key}" for key in ("unit", "up", "front", "mass", "material") if getattr(options, key) is not None]
    if said:
        raise UsageError(f"{said[0]} says something of a mesh; name it with --part")
    text = starter(options.name)  # raises UsageError on a name that ROS would refuse
    path = f"{options.name}.yaml"
    if not write_new(Path(path), text.encode("utf-8")):
        raise UsageError(f"{path} exists already and stays as it is; choose another name")
    sys.stdout.write(f"wrote {path}\nnext: chassis_describe check {path}\n      chassis_describe holes {path}\n"
                     f"      chassis_describe compile {path} -o {options.name}_description\n")
    return OK


def _new_part(options: argparse.Namespace) -> int:
    from chassis_describe import drafting
    from chassis_describe.reports.drafted import drafted_text

    done = drafting.draft(options.name, options.part, unit=options.unit, up=options.up or "z", front=options.front,
                          mass=options.mass, of=options.material)
    sys.stdout.write(drafted_text(done))
    return OK


def parts(parser: Parser) -> Run:
    """The catalogue, a part file, or one part."""
    parser.add_argument("name", metavar="NAME|FILE", nargs="?",
                        help="a part of the built-in catalogue, or a part file to list and validate")
    parser.add_argument("part", metavar="PART", nargs="?", help="one part of the part file")
    parser.add_argument("--layout", metavar="LAYOUT", help="take the parts of this layout too; - is standard input")
    shared(parser, "--with")
    shared(parser, "--json")
    shared(parser, "--draw", help="draw one part's card there: three views, bolts, axes; .svg, .pdf or .png")
    shared(parser, "--replace", help="replace a file that was not made by this program")
    return _parts


def _parts(options: argparse.Namespace) -> int:
    from chassis_describe.reports import part_list

    if options.layout is None and options.overlays:
        raise UsageError("--with lays a file over a layout; name it with --layout")
    layout = layout_of(options) if options.layout is not None else None
    if options.draw is not None:
        from chassis_describe import picturing

        changed = picturing.draw_part(options.draw, options.name, layout, options.part, replace=options.replace)
        sys.stdout.write(f"{options.draw}: {'written' if changed else 'nothing had changed'}\n")
        return OK
    found = part_list.judged(options.name, layout, options.part)
    if options.json:
        print_json(part_list.parts_data(options.name, layout, options.part))
    else:
        sys.stdout.write(part_list.parts_text(options.name, layout, options.part))
        if found:
            sys.stdout.write("\n")
            print_findings(found, sys.stdout)
    return exit_code(found)


def schema(parser: Parser) -> Run:
    """The JSON Schema of the language."""
    parser.add_argument("--parts", action="store_true", help="the schema of part files instead")
    return _schema


def _schema(options: argparse.Namespace) -> int:
    from chassis_describe.layout.language import schema as language

    sys.stdout.write(json.dumps(language.catalogue_schema() if options.parts else language.schema(), indent=2) + "\n")
    return OK
