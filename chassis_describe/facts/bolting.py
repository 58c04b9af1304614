"""Which hole each bolt meets, and how far it can shift in it (DEVELOPERS.md, "Play")."""
from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Union

from chassis_describe.assembly.attach import Attachment, part_point_in_plane
from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.lattice import lattice_coordinates, lattice_point
from chassis_describe.assembly.model import Assembly, BoltUse, DeckFacet, HoleRef, PlacedPart
from chassis_describe.assembly.screws import clearance
from chassis_describe.assembly.slots import Line, lattice_holes_by, line_of, meeting
from chassis_describe.layout.model import BoltSlot, Deck, DrilledHole, Face, Lattice, Seat, Stacked
from chassis_describe.source import Mark

Vec2 = tuple[float, float]


class DeckHoles:
    """The holes that a deck really has, for looking up: lattice holes by ``(i, j)`` and drilled ones by number."""

    def __init__(self, facet: DeckFacet) -> None:
        self.deck: Deck = facet.deck
        lattice = facet.deck.lattice
        self.lattice_holes: frozenset[tuple[int, int]] = frozenset()
        if lattice is not None:
            round_ones = sum(1 for d in facet.deck.drilled if d.hole is not None)
            # plate_of puts the drilled holes first, then the lattice's
            self.lattice_holes = frozenset(
                (round(i), round(j)) for i, j in
                (lattice_coordinates(lattice, (x, y)) for x, y, _ in facet.plate.holes[round_ones:]))

    def nearest(self, point: Vec2, half: Vec2 = (0.0, 0.0)) -> tuple[HoleRef | None, float]:
        """The hole to blame or praise for a bolt at ``point``, and its distance (m); ``half`` as in HoleRef, where the
        bolt stands in a slot of the part.

        An existing hole wins unless the lattice point next to the bolt has none: then that absent hole is named. Along a
        slot that several holes lie under, one that is there wins, then the one nearest to its middle.
        """
        line = Line(point, half)
        best: tuple[HoleRef | None, float] = (None, math.inf)
        for number, drilled in enumerate(self.deck.drilled):
            ref = HoleRef(on=self.deck.name, hole=number, centre=drilled.at, diameter=_width(drilled), exists=True,
                          half=_half(drilled))
            away = math.dist(*meeting(line, Line(ref.centre, ref.half)))
            if away < best[1]:
                best = (ref, away)
        found = _of_lattice(self.deck.lattice, line, self.deck.name, self.lattice_holes)
        return found if found is not None and found[1] < best[1] else best


def _of_lattice(lattice: Lattice | None, line: Line, on: str,
                there: frozenset[tuple[int, int]] | None) -> tuple[HoleRef, float] | None:
    """The hole of a lattice for a bolt; ``there``: the holes that it has, None for all."""
    if lattice is None:
        return None
    hole, centre, away = min(lattice_holes_by(lattice, line), key=lambda h: (
        round(h[2], 6), there is not None and h[0] not in there, math.dist(h[1], line.middle)))
    exists = there is None or hole in there
    return HoleRef(on=on, hole=hole, centre=centre, diameter=lattice.hole, exists=exists), away


def _width(drilled: DrilledHole) -> float:
    return drilled.hole if drilled.hole is not None else (drilled.slot or (0.0, 0.0))[1]


def _half(drilled: DrilledHole) -> Vec2:
    """From the middle of a drilled slot to the end of its centre line."""
    if drilled.slot is None:
        return (0.0, 0.0)
    return line_of(drilled.at, BoltSlot(length=drilled.slot[0], width=drilled.slot[1], turn=drilled.turn)).half


@kept
def holes_of(assembly: Assembly) -> Mapping[str, DeckHoles]:
    """The holes of every deck."""
    return {name: DeckHoles(facet) for name, facet in assembly.decks.items()}


@kept
def bolts_of(assembly: Assembly) -> tuple[BoltUse, ...]:
    """Every bolt of every bolted part, and both ends of every standoff, in the order of the file."""
    holes = holes_of(assembly)
    return (*_standoff_bolts(assembly, holes), *_part_bolts(assembly, holes))


def _part_bolts(assembly: Assembly, holes: Mapping[str, DeckHoles]) -> Iterable[BoltUse]:
    for placed in assembly.parts.values():
        if placed.fixing != "bolts":
            continue
        placement = placed.placement
        if placed.deck is not None:
            deck = assembly.decks[placed.deck].deck
            support: Union[DeckHoles, Seat] = holes[placed.deck]
            lattice = deck.lattice
        else:
            support = assembly.parts[placement.on].part.seats[placement.seat or ""]
            if support.bare:
                continue  # a link of a description: how it is fixed there is not known
            lattice = support.lattice
        yield from _bolts(placed, support, lattice, assembly.layout.lattice)


def _bolts(placed: PlacedPart, support: DeckHoles | Seat, lattice: Lattice | None,
           default: Lattice) -> Iterable[BoltUse]:
    part, placement = placed.part, placed.placement
    face: Face = placed.face or "top"
    origin = lattice_point(lattice, placed.at or (0.0, 0.0))
    shifted = Attachment((origin[0] + placement.offset[0], origin[1] + placement.offset[1]), placed.at, placed.turn)
    screw = part.screw or (lattice or default).screw
    for index, bolt in enumerate(part.bolts):
        slot = part.bolt_slots.get(index)
        point = part_point_in_plane(bolt, shifted, face)
        line = Line(point, _in_plane(line_of(bolt, slot).half, shifted.turn, face))
        tapped_support = False
        if isinstance(support, DeckHoles):
            ref, away = support.nearest(point, line.half)
        else:
            ref, away, tapped_support = _seat_hole(support, placement.on, lattice, line)
        if placement.screws is not None and (ref is None or ref.hole not in placement.screws):
            continue  # a part that names its screws has bolts in those holes only
        hole = ref.diameter if ref is not None and not tapped_support else None
        in_part = (slot.width if slot is not None else None if part.tapped is not None else
                   (part.bolt_hole or (lattice or default).hole))
        slides: tuple[Vec2, Vec2] = ((0.0, 0.0), line.half)
        if ref is not None:
            under = Line(ref.centre, ref.half)
            point, there = meeting(line, under)
            slides = (under.room_from(there), line.room_from(point))
        mark = part.bolt_marks[index] if index < len(part.bolt_marks) else placement.mark
        yield BoltUse(user=placed.name, kind="part", index=index, deck=placed.deck, face=placed.face, at=point, hole=ref,
                      distance=0.0 if math.isinf(away) else away, clearance=clearance(hole, in_part, screw),
                      screw=screw, slides=slides, mark=placement.marks.get("at", placement.marks.get("screws", mark))
                      if placed.deck else placement.mark)


def _in_plane(vector: Vec2, turn: float, face: Face) -> Vec2:
    """A vector of the part's base plane, in the axes of the plane that carries it."""
    return part_point_in_plane(vector, Attachment((0.0, 0.0), None, turn), face) if any(vector) else vector


def _seat_hole(seat: Seat, carrier: str, lattice: Lattice | None,
               line: Line) -> tuple[HoleRef | None, float, bool]:
    """The seat's hole next to a bolt; a seat's lattice has a hole at every point, its ``bolts`` only where listed."""
    where = f"{carrier}.{seat.name}"
    best: tuple[HoleRef | None, float, bool] = (None, math.inf, False)
    for number, bolt in enumerate(seat.bolts):
        away = math.dist(bolt.at, line.nearest(bolt.at))
        if away < best[1]:
            best = (HoleRef(on=where, hole=number, centre=bolt.at, diameter=bolt.hole or 0.0, exists=True), away,
                    bolt.tapped is not None)
    found = _of_lattice(lattice, line, where, None)
    return (*found, False) if found is not None and found[1] < best[1] else best


def _standoff_bolts(assembly: Assembly, holes: Mapping[str, DeckHoles]) -> Iterable[BoltUse]:
    """Each standoff is held by a screw in the deck that it stands on and by one in the deck that it carries.

    Its ends are tapped: only the hole in the plate gives play.
    """
    for facet in assembly.decks.values():
        placing = facet.deck.placing
        if not isinstance(placing, Stacked):
            continue
        stands_above = placing.relation == "above"
        index = -1  # counted through all groups of the deck
        for group in placing.standoffs:
            on = assembly.decks[group.on]
            into_own = facet.pose.inverse() @ on.pose
            for hole, mark in zip(group.holes, group.hole_marks):
                index += 1
                point = lattice_point(on.deck.lattice, hole)
                yield _end(facet.deck.name, index, on.deck, "top" if stands_above else "under", point,
                           holes[group.on], mark)
                x, y, _ = into_own.point((*point, 0.0))
                yield _end(facet.deck.name, index, facet.deck, "under" if stands_above else "top", (x, y),
                           holes[facet.deck.name], mark)


def _end(user: str, index: int, deck: Deck, face: Face, point: Vec2, holes: DeckHoles, mark: Mark) -> BoltUse:
    ref, away = holes.nearest(point)
    screw = deck.lattice.screw if deck.lattice is not None else "M3"
    under = Line(ref.centre, ref.half) if ref is not None else Line(point)
    return BoltUse(user=user, kind="standoff", index=index, deck=deck.name, face=face, at=point, hole=ref,
                   distance=0.0 if math.isinf(away) else away,
                   clearance=clearance(ref.diameter if ref else None, None, screw), screw=screw, mark=mark,
                   slides=(under.room_from(under.nearest(point)), (0.0, 0.0)))
