"""Which circles of a plate are holes of its lattice, and which hole is ``[0, 0]``. Metres, the deck's axes."""
from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from chassis_describe.space.plate.shapes import Disc, Vec2
from chassis_describe.tolerances import ON_LATTICE, SAME_DIAMETER
from chassis_describe.words import mm, plain

#: Holes of a lattice are of the layout's diameter, or no further from it than this share: 3.2 and 4 mm are for an M3 as well.
_LIKE = 0.25
#: So many holes make a lattice, or two where there are no more of that size.
_FEWEST = 3
#: From so many circles on, and this share of them, is a spacing a rule and no chance.
_RULE, _SHARE, _SAMPLE = 6, 0.6, 300


class FoundLattice(NamedTuple):
    """``zero``: the middle of hole [0, 0]; ``holes``: number of the circle → its hole; ``diameter`` of all of them."""

    zero: Vec2
    diameter: float
    holes: Mapping[int, tuple[int, int]]


def lattice_in(discs: Sequence[Disc], pitch: float, hole: float, middle: Vec2) -> FoundLattice | None:
    """The fullest lattice of that pitch, among circles of the hole's size if there is one; ``middle``: of the plate's box."""
    alike = [k for k, d in enumerate(discs) if abs(2 * d.radius - hole) <= _LIKE * hole]
    found = [one for group in _sizes(discs, alike) for one in _fullest(discs, group, pitch, middle)]
    if not found:
        return None
    best = max(found, key=lambda f: (abs(f.diameter - hole) <= SAME_DIAMETER, len(f.holes), -abs(f.diameter - hole)))
    return best._replace(diameter=hole) if abs(best.diameter - hole) <= SAME_DIAMETER else best


def _sizes(discs: Sequence[Disc], numbers: Sequence[int]) -> list[list[int]]:
    """Circles of one size each."""
    groups: list[list[int]] = []
    for k in sorted(numbers, key=lambda n: discs[n].radius):
        if groups and 2 * (discs[k].radius - discs[groups[-1][0]].radius) <= SAME_DIAMETER:
            groups[-1].append(k)
        else:
            groups.append([k])
    return groups


def _fullest(discs: Sequence[Disc], group: Sequence[int], pitch: float, middle: Vec2) -> list[FoundLattice]:
    """The lattice that most of a group are on: where several are as full, the one that is first at the middle."""
    cells = max(4, math.floor(pitch / (2 * ON_LATTICE)))
    by_cell: dict[tuple[int, int], list[int]] = {}
    for k in group:
        x, y = discs[k].centre
        by_cell.setdefault((math.floor(x / pitch % 1 * cells) % cells, math.floor(y / pitch % 1 * cells) % cells), []).append(k)
    around = {(i, j): [k for a in (-1, 0, 1) for b in (-1, 0, 1) for k in by_cell.get(((i + a) % cells, (j + b) % cells), ())]
              for i, j in by_cell}
    most = max(map(len, around.values()))
    if most < min(_FEWEST, len(group)) or most < 2:
        return []
    best: list[FoundLattice] = []
    for near in around.values():
        if len(near) == most:
            members = _about(discs, near, pitch)
            if len(members) < min(_FEWEST, len(group)) or len(members) < 2:
                continue
            zero = first_at(middle, [discs[k].centre for k in members])
            holes = {k: (round((x - zero[0]) / pitch), round((y - zero[1]) / pitch)) for k in members for x, y in [discs[k].centre]}
            best.append(FoundLattice(zero, 2 * sorted(discs[k].radius for k in members)[len(members) // 2], holes))
    if not best:
        return []
    full = [f for f in best if len(f.holes) == max(len(g.holes) for g in best)]
    first = first_at(middle, [f.zero for f in full])
    return [next(f for f in full if f.zero == first)]


def _about(discs: Sequence[Disc], near: Sequence[int], pitch: float) -> list[int]:
    """Those of the circles whose middles are on the lattice that fits them all best."""
    x, y = discs[near[0]].centre

    def off(k: int) -> Vec2:
        u, v = (discs[k].centre[0] - x) / pitch, (discs[k].centre[1] - y) / pitch
        return ((u - round(u)) * pitch, (v - round(v)) * pitch)

    offs = {k: off(k) for k in near}
    mean = (math.fsum(u for u, _ in offs.values()) / len(near), math.fsum(v for _, v in offs.values()) / len(near))
    return [k for k, o in offs.items() if math.dist(o, mean) <= ON_LATTICE]


def first_at(middle: Vec2, points: Sequence[Vec2]) -> Vec2:
    """The point nearest to the middle; of several, the one further forward, then the one further left.

    Two holes of a lattice may each be off by ``ON_LATTICE``: by no more than both together they are as near, or as far forward.
    """
    nearest = min(math.dist(p, middle) for p in points)
    tied = [p for p in points if math.dist(p, middle) <= nearest + 2 * ON_LATTICE]
    front = max(x for x, _ in tied)
    return max((p for p in tied if p[0] >= front - 2 * ON_LATTICE), key=lambda p: p[1])


def doubt_of(discs: Sequence[Disc], on_lattice: int, pitch: float, hole: float) -> tuple[str, str] | None:
    """What looks like another lattice than the deck's among the circles of a hole's size, and what to do about it."""
    alike = [d.centre for d in discs if abs(2 * d.radius - hole) <= _LIKE * hole]
    if len(alike) < _RULE or 2 * on_lattice >= len(alike):
        return None
    import numpy as np

    points = np.array(alike)
    steps = []
    for k in range(0, len(points), max(1, len(points) // _SAMPLE)):
        ways = points - points[k]
        away = np.hypot(ways[:, 0], ways[:, 1])
        away[k] = np.inf
        n = int(np.argmin(away))
        steps.append((float(away[n]), float(np.degrees(np.arctan2(ways[n, 1], ways[n, 0]))) % 90))
    spacing, turn = sorted(steps)[len(steps) // 2]
    same = [t for s, t in steps if abs(s - spacing) <= 2 * ON_LATTICE]
    if len(same) < _SHARE * len(steps):
        return None
    said = f"{len(alike) - on_lattice} of {len(alike)} circles of a hole's size are off the lattice of {mm(pitch)}"
    off = min(turn, 90 - turn)
    if off > 0.05:
        return (f"{said}: they are {mm(spacing)} apart, in rows that are turned by {plain(off)}° in the file",
                "turn the plate in the drawing program until its rows of holes are along the page")
    if abs(spacing - pitch) > 2 * ON_LATTICE:
        return (f"{said}: they are {mm(spacing)} apart",
                f"if that is this plate's pitch, write `lattice: {{pitch: {plain(spacing * 1e3)}}}` in the deck")
    return None
