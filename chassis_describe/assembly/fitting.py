"""Where on a lattice a part's bolts all meet holes: the rule that ``parts`` prints for every part."""
from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from chassis_describe.assembly.screws import clearance, nominal_diameter
from chassis_describe.assembly.slots import Line, line_of, off_holes
from chassis_describe.layout.model import Part
from chassis_describe.tolerances import SAME_LENGTH
from chassis_describe.words import significant

Vec2 = tuple[float, float]

#: Sine and cosine of the quarter turns.
_QUARTERS: tuple[tuple[int, int], ...] = ((1, 0), (0, 1), (-1, 0), (0, -1))
_TURN_WORDS = ("turn 0", "turn 90", "turn 180", "turn -90")


class FitPlace(NamedTuple):
    """One way to bolt the part down: ``at`` is any integers plus these fractions (0 ≤ f < 1), turned by quarters."""

    i: float
    j: float
    quarter: int


class LatticeFit(NamedTuple):
    """Every place, and the rule in words. ``miss``: how far the worst bolt is off at best (m) where there is no place."""

    places: tuple[FitPlace, ...]
    sentence: str
    miss: float = 0.0


def lattice_fit(part: Part, pitch: float, hole: float, screw: str = "M3") -> LatticeFit:
    """Where the part fits a lattice of that pitch and hole diameter (m), top face, in quarter turns.

    ``screw`` is the lattice's, for parts that name none. A bolt may stand off a hole's centre by its play, (H - d)/2 +
    (h - d)/2. Whole and half coordinates are tried first; other fractions only where no quarter turn has one of those.
    """
    if not part.bolts:
        return LatticeFit((), _without_bolts(part))
    name = part.screw or screw
    if nominal_diameter(name) > hole + SAME_LENGTH:
        return LatticeFit((), f"its {name} screws don't pass holes of {hole * 1e3:g} mm")
    plays = [clearance(hole, part.bolt_slots[n].width if n in part.bolt_slots else
                       None if part.tapped is not None else part.bolt_hole or hole, name) for n in range(len(part.bolts))]
    play = min(plays)
    places: list[FitPlace] = []
    miss = math.inf
    for quarter, (c, s) in enumerate(_QUARTERS):
        bolts = _turned(part, c, s)
        for i in (0.0, 0.5):
            for j in (0.0, 0.5):
                off = _worst(bolts, (i, j), pitch)
                miss = min(miss, off)
                if off <= play + SAME_LENGTH:
                    places.append(FitPlace(i, j, quarter))
    if not places:
        for quarter, (c, s) in enumerate(_QUARTERS):
            bolts = _turned(part, c, s)
            at = _best_fraction(bolts, pitch)
            off = _worst(bolts, at, pitch)
            miss = min(miss, off)
            if off <= play + SAME_LENGTH:
                places.append(FitPlace(at[0], at[1], quarter))
    if not places:
        return LatticeFit((), f"nowhere on a lattice of {pitch * 1e3:g} mm: at best a bolt is {significant(miss * 1e3, 3)} mm from "
                          f"its hole and its play is {significant(play * 1e3, 3)} mm; put it on a holder or an adapter", miss)
    return LatticeFit(tuple(places), _sentence(places))


def _turned(part: Part, c: float, s: float) -> list[Line]:
    """Where the part's bolts are when it is turned: centre lines, of length zero for round holes."""
    lines = [line_of(at, part.bolt_slots.get(n)) for n, at in enumerate(part.bolts)]
    return [Line((c * x - s * y, s * x + c * y), (c * u - s * v, s * u + c * v)) for (x, y), (u, v) in lines]


def _worst(bolts: Sequence[Line], at: Vec2, pitch: float) -> float:
    """Distance of the worst bolt from the lattice point next to it (m), the part's origin at ``at`` (pitches)."""
    return max(off_holes(Line((at[0] * pitch + x, at[1] * pitch + y), half), pitch) for (x, y), half in bolts)


def _best_fraction(lines: Sequence[Line], pitch: float) -> Vec2:
    """Where the part's origin is best: among twentieths where it has slots, else by ``_middle_fraction``."""
    if any(any(line.half) for line in lines):
        return min(((i / 20, j / 20) for i in range(20) for j in range(20)), key=lambda at: (_worst(lines, at, pitch), at))
    return _middle_fraction([line.middle for line in lines], pitch)


def _middle_fraction(bolts: Sequence[Vec2], pitch: float) -> Vec2:
    """Fractions of ``at`` that put the middle of the bolts' residuals on the lattice, each axis by itself.

    Residuals are taken from the first bolt's, so that they don't fall apart around half a pitch.
    """
    out = []
    for axis in (0, 1):
        first = bolts[0][axis]
        rest = [(b[axis] - first) / pitch for b in bolts]
        rest = [r - round(r) for r in rest]
        fraction = (-(first / pitch) - (min(rest) + max(rest)) / 2) % 1.0
        fraction = round(fraction, 9)
        out.append(fraction if fraction < 1.0 else 0.0)
    return (out[0], out[1])


def _without_bolts(part: Part) -> str:
    if part.wheel is not None:
        return "goes on a shaft"
    return "has no bolts: say `fixing: adhesive` or `fixing: strap`"


def _where(i: float, j: float) -> str:
    """Fractions in words: integers, halves, or the numbers to add."""
    if (i, j) == (0.0, 0.0):
        return "at integers"
    if {i, j} <= {0.0, 0.5}:
        return "at halves in " + " and ".join(n for n, v in (("i", i), ("j", j)) if v)
    return "at integers plus [" + f"{i:.4g}, {j:.4g}]"


def _sentence(places: Sequence[FitPlace]) -> str:
    """``at halves in j; turned by a quarter, at halves in i``."""
    by_turn = {q: tuple(_where(p.i, p.j) for p in places if p.quarter == q) for q in range(4)}
    groups: dict[tuple[str, ...], list[int]] = {}
    for quarter, where in by_turn.items():
        if where:
            groups.setdefault(where, []).append(quarter)
    said = []
    for where, quarters in groups.items():
        text = " or ".join(where)
        if quarters == [0, 1, 2, 3]:
            said.append(f"{text}, any quarter turn")
        elif quarters == [0, 2]:
            said.append(f"{text}, forward or back" if len(groups) == 1 else text)
        elif quarters == [1, 3]:
            said.append(f"turned by a quarter, {text}")
        else:
            said.append(f"{' or '.join(_TURN_WORDS[q] for q in quarters)}: {text}")
    return "; ".join(said)
