"""Every place of a deck's face where all bolts of a part land on holes, whoever uses those now."""
from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import product
from typing import NamedTuple

from chassis_describe.assembly.attach import Attachment, part_point_in_plane
from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.lattice import lattice_coordinates, lattice_point
from chassis_describe.assembly.model import Assembly, PlacedPart
from chassis_describe.assembly.screws import clearance
from chassis_describe.assembly.slots import Line, lattice_holes_by, line_of, off_holes
from chassis_describe.facts.bolting import DeckHoles, holes_of
from chassis_describe.facts.free_places import best_fraction
from chassis_describe.facts.holes import book_of
from chassis_describe.layout.model import Face, Lattice, Part
from chassis_describe.space.pose import Pose, multiply, rot_x, rot_z
from chassis_describe.tolerances import SAME_LENGTH

Vec2 = tuple[float, float]

_FLIP = rot_x(math.pi)
#: Fractions of a hole that are tried first.
_HALVES = (0.0, 0.5)


class Landing(NamedTuple):
    """A place on a deck: ``at`` in holes, ``turn`` (rad, about the part's outward axis), the holes that the bolts use."""

    on: str
    face: Face
    at: Vec2
    turn: float
    holes: tuple[tuple[int, int] | int, ...] = ()


def part_in_plane(placed: PlacedPart, face: Face | None, turn: float, point: Vec2, thickness: float) -> Pose:
    """A part on a face of a deck (or a seat, face None), its origin less its ``offset`` at a point of the plane; with its lift."""
    ox, oy, oz = placed.placement.offset
    lift = placed.placement.lift
    if face == "under":
        return Pose(multiply(_FLIP, rot_z(turn)), (point[0] + ox, point[1] + oy, -thickness - lift + oz))
    return Pose(rot_z(turn), (point[0] + ox, point[1] + oy, lift + oz))


class Bolt(NamedTuple):
    """A bolt of a part in the axes of the plane that carries it, about the part's origin, and its play on that lattice (m)."""

    line: Line
    play: float


def landings(assembly: Assembly, placed: PlacedPart, deck: str, face: Face, turn: float) -> tuple[Landing, ...]:
    """Every such place of a deck for one turn, back to front and right to left; ``at`` on whole or half holes, or on whatever
    else the bolts want. What is not bolted has no holes to meet: whole steps from where it is, its origin on the plate."""
    found, key = _found(assembly), (placed.name, deck, face, round(turn, 9))
    if key not in found:
        lattice = assembly.decks[deck].deck.lattice
        found[key] = tuple(_landings(assembly, placed, deck, face, turn, lattice)) if lattice is not None else ()
    return found[key]


@kept
def _found(assembly: Assembly) -> dict[tuple[str, str, Face, float], tuple[Landing, ...]]:
    """What was found so far."""
    return {}


def bolts_on(assembly: Assembly, placed: PlacedPart, lattice: Lattice, face: Face, turn: float) -> list[Bolt]:
    """The bolts that hold a part, turned, as they would meet that lattice; none where it is taped, strapped or lies loose."""
    if placed.fixing != "bolts":
        return []
    used = [u.index for u in book_of(assembly).by_user.get(placed.name, ())] if placed.placement.screws is not None else []
    return _bolts(placed.part, used or range(len(placed.part.bolts)), lattice, face, turn)


def _bolts(part: Part, numbers: Iterable[int], lattice: Lattice, face: Face, turn: float) -> list[Bolt]:
    here, out = Attachment((0.0, 0.0), None, turn), []
    for n in numbers:
        slot = part.bolt_slots.get(n)
        line = line_of(part.bolts[n], slot)
        hole = slot.width if slot is not None else None if part.tapped is not None else part.bolt_hole or lattice.hole
        half = part_point_in_plane(line.half, here, face) if any(line.half) else line.half
        out.append(Bolt(Line(part_point_in_plane(line.middle, here, face), half),
                        clearance(lattice.hole, hole, part.screw or lattice.screw)))
    return out


def fractions(bolts: Sequence[Bolt], lattice: Lattice, now: Vec2) -> list[Vec2]:
    """The parts of a hole at which an origin may be for all bolts to meet the lattice; ``now`` where there are none."""
    if not bolts:
        return [(now[0] % 1.0, now[1] % 1.0)]
    if any(b.play < -SAME_LENGTH for b in bolts):
        return []  # the screw passes no hole
    halves = [at for at in product(_HALVES, _HALVES) if all(_off(b, lattice, at) <= max(b.play, 0.0) + SAME_LENGTH for b in bolts)]
    if halves:
        return halves
    other = best_fraction([b.line for b in bolts], lattice, max(min(b.play for b in bolts), 0.0) + SAME_LENGTH, now)
    return [other] if other is not None else []


def _off(bolt: Bolt, lattice: Lattice, at: Vec2) -> float:
    (x, y), half = bolt.line
    return off_holes(Line((at[0] * lattice.pitch + x, at[1] * lattice.pitch + y), half), lattice.pitch)


def _landings(assembly: Assembly, placed: PlacedPart, deck: str, face: Face, turn: float, lattice: Lattice) -> Iterator[Landing]:
    bolts = bolts_on(assembly, placed, lattice, face, turn)
    there = holes_of(assembly)[deck]
    facet = assembly.decks[deck]
    corners = facet.plate.outer_points(64)
    low, high = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
    reach = max((math.hypot(*b.line.middle) + math.hypot(*b.line.half) for b in bolts), default=0.0)
    (i0, j0), (i1, j1) = (lattice_coordinates(lattice, (p[0] + s * reach, p[1] + s * reach)) for p, s in ((low, -1), (high, 1)))
    now = placed.at if placed.at is not None else (0.0, 0.0)
    ats = [(i + di, j + dj) for di, dj in fractions(bolts, lattice, now)
           for i in range(math.floor(i0), math.ceil(i1) + 1) for j in range(math.floor(j0), math.ceil(j1) + 1)]
    if not bolts:
        inside = facet.plate.clearance([lattice_point(lattice, at) for at in ats]).tolist() if ats else []
        ats = [at for at, room in zip(ats, inside) if room > 0.0]
    for at in sorted(ats):
        used: list[tuple[int, int] | int] = []
        for bolt in bolts:
            hole = _hole_of(bolt, at, lattice, there)
            if hole is None:
                break
            used.append(hole)
        else:
            if len(set(used)) == len(used):
                yield Landing(deck, face, at, turn, tuple(used))


def _hole_of(bolt: Bolt, at: Vec2, lattice: Lattice, there: DeckHoles) -> tuple[int, int] | int | None:
    """The hole that a bolt meets with the part's origin at ``at``; None where it meets none."""
    x, y = lattice_point(lattice, at)
    line = Line((x + bolt.line.middle[0], y + bolt.line.middle[1]), bolt.line.half)
    if not there.deck.drilled:
        hole, _, away = min(lattice_holes_by(lattice, line), key=lambda h: (
            round(h[2], 6), h[0] not in there.lattice_holes, math.dist(h[1], line.middle)))
        return hole if hole in there.lattice_holes and away <= max(bolt.play, 0.0) + SAME_LENGTH else None
    ref, away = there.nearest(line.middle, line.half)
    if ref is None or not ref.exists or away > max(bolt.play + (ref.diameter - lattice.hole) / 2, 0.0) + SAME_LENGTH:
        return None
    return ref.hole
