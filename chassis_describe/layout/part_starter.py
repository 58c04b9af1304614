"""The part file that ``new --part`` writes: a mesh to look at, the box around it, its bolts, and what is left to measure."""
from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from chassis_describe.layout.mesh_base import EVEN, Hole, MeshBase
from chassis_describe.space.plane.rims import COARSE, RoundHole
from chassis_describe.words import mm, pair, plain

_WORDS = {(1.0, 0.0, 0.0): "forward", (-1.0, 0.0, 0.0): "back", (0.0, 1.0, 0.0): "left", (0.0, -1.0, 0.0): "right",
          (0.0, 0.0, 1.0): "up", (0.0, 0.0, -1.0): "down"}


class Weight(NamedTuple):
    """Mass in kg and how it came about; ``solid``: of that material all through, so that its centre is the mesh's."""

    mass: float
    source: str
    solid: bool = False


class Drafted(NamedTuple):
    """What was written. ``mesh_copied``: the name of the copy beside the part file, None where the mesh is there already;
    ``guessed``: the unit is; ``better_up``: the axis that shows holes where the chosen one shows none."""

    path: str
    mesh_copied: str | None
    base: MeshBase
    unit: str
    guessed: bool
    weight: Weight | None
    passes: str
    better_up: str | None


def part_file(name: str, mesh: str, base: MeshBase, *, scale: float, weight: Weight | None, passes: str) -> str:
    """The text of the file. ``mesh``: its path from the file; ``scale``: metres in its unit; ``passes``: words of which screw
    passes the bolts' holes, empty where that can't be said."""
    lines = [f"# {name}: begun from a mesh. What a mesh can't know is marked `measure`; replace it and take the mark away.",
             f"# Next: chassis_describe parts {name}.yaml {name}     all about it, in words",
             "# Millimetres, degrees, grams. Origin: the middle of the bolts, in the plane that touches the plate; z away from it.",
             "parts:", f"  {name}:",
             f"    about: {_QUOTED.format(name.replace('_', ' '))}  # measure: one line that says what it is",
             f"    source: {_QUOTED.format(_escaped(f'mesh {mesh}'))}"]
    if weight is None:
        lines.append("    # mass: 0  # measure: weigh it with its plugs out, in grams")
    else:
        lines.append(f"    mass: {plain(weight.mass * 1e3, 2)}  # {weight.source}")
    lines += ["    bodies:",
              f"      - {{box: {_sides(base.size)}, at: {_mm((*base.middle, base.size[2] / 2))}}}"
              "  # the box around the mesh; two or three solids fit it better",
              f"      - {{mesh: {_QUOTED.format(_escaped(mesh))}, scale: {scale:g}, at: {_mm(base.shift)}{_axes(base)}}}"]
    if weight is not None and weight.solid and base.com is not None:
        lines.append(f"    com: {_mm(base.com)}  # of the mesh, as if it were solid and of one material")
    lines += _bolt_lines(base, passes)
    lines += [f"    # {words}" for words in _left_out(base)]
    return "\n".join(lines) + "\n"


_QUOTED = '"{}"'


def _escaped(text: str) -> str:
    return text.replace("\\", "\\\\").replace('"', '\\"')


def _mm(values: Sequence[float]) -> str:
    return pair([v * 1e3 for v in values], 3)


def _sides(values: Sequence[float]) -> str:
    """Never 0: a sheet that has no thickness is given the least that is written."""
    return pair([max(v * 1e3, 0.001) for v in values], 3)


def _axes(base: MeshBase) -> str:
    """Where the mesh's axes point on the part; nothing where they are the part's."""
    columns = [tuple(row[k] + 0.0 for row in base.rotation) for k in range(3)]
    x, z = (_WORDS[c] for c in (columns[0], columns[2]))  # type: ignore[index]
    return "" if (x, z) == ("forward", "up") else f", axes: {{x: {x}, z: {z}}}"


def _bolt_lines(base: MeshBase, passes: str) -> list[str]:
    if not base.bolts:
        return ["    # bolts: [[0, 0]]  # measure: no hole was found in the base plane; a part without bolts is glued or strapped"]
    lines = ["    bolts:", *(f"      - {_bolt(h)}" for h in base.bolts)]
    depths = [h.depth for h in base.bolts if h.depth is not None]
    width = min(h.width for h in base.bolts)
    if depths:
        lines.append(f"    tapped: {plain(min(depths) * 1e3, 2)}  # measure: the holes end inside, {mm(width)} wide: threads?")
    elif any(h.widens for h in base.bolts):
        lines.append(f"    # bolt_hole: 0  # measure: countersunk from below, {mm(width)} wide in the base plane")
    else:
        lines.append(f"    bolt_hole: {plain(width * 1e3, 2)}" + (f"  # {passes}" if passes else ""))
    walls = [h.wall for h in base.bolts]
    if not depths:
        known = [w for w in walls if w is not None]
        if len(known) == len(walls) and max(known) - min(known) <= EVEN:
            lines.append(f"    flange: {plain(min(known) * 1e3, 2)}  # thickness under the screw heads")
        else:
            lines.append("    # flange: 3  # measure: the thickness under the screw heads, which differs")
    return lines


def _bolt(hole: Hole) -> str:
    if isinstance(hole.rim, RoundHole):
        few = hole.rim.corners < COARSE
        return _mm(hole.rim.at) + (f"  # measure: {hole.rim.corners} corners: a coarse circle, or a nut's pocket" if few else "")
    one = hole.rim
    return f"{{at: {_mm(one.at)}, slot: {_mm((one.length, one.width))}, turn: {_turn(one.turn)}}}"


def _turn(turn: float) -> str:
    """Degrees, with as much as a mesh can say."""
    degrees = plain(math.degrees(turn), 2)
    return "0" if degrees == "180" else degrees


def _left_out(base: MeshBase) -> Iterable[str]:
    """Openings of the base plane that are not among the bolts, ready to be taken in."""
    for hole in base.others:
        shape = "hole" if isinstance(hole.rim, RoundHole) else f"slot of {mm(hole.rim.length)} by"
        ends = "" if hole.depth is None else f", {mm(hole.depth)} deep"
        yield f"not among the bolts: {shape} {mm(hole.width)} at {_mm(hole.rim.at)}{ends}"
    for x, y, length, width in base.odd:
        yield f"not among the bolts: an opening {mm(length)} by {mm(width)} at {_mm((x, y))}"
