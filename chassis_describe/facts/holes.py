"""Which holes there are, and who uses them from which side: one book for all rules about bolts."""
from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.lattice import lattice_point
from chassis_describe.assembly.model import Assembly, BoltUse, DeckFacet, HoleRef
from chassis_describe.facts.bolting import DeckHoles, bolts_of, holes_of
from chassis_describe.tolerances import SAME_LENGTH
from chassis_describe.words import hole_name, mm

HoleKey = tuple[str, "tuple[int, int] | int"]


class Absence(NamedTuple):
    """Why a lattice point has no hole, and what to write about it."""

    why: str
    hint: str


class HoleBook:
    """Holes of every deck, every bolt that is really used, and the users of each hole."""

    def __init__(self, assembly: Assembly) -> None:
        self.assembly = assembly
        self.decks: Mapping[str, DeckHoles] = holes_of(assembly)
        self.uses = bolts_of(assembly)
        self._sound: dict[str, frozenset[tuple[int, int]]] = {}
        self.by_user: dict[str, list[BoltUse]] = {}
        self.users: dict[HoleKey, list[BoltUse]] = {}
        for use in self.uses:
            if use.kind == "part":
                self.by_user.setdefault(use.user, []).append(use)
            if use.hole is not None and use.hole.exists and meets(use):
                self.users.setdefault((use.hole.on, use.hole.hole), []).append(use)

    def sound(self, deck: str) -> frozenset[tuple[int, int]]:
        """Lattice holes of a deck with enough material about them (``edge_web``)."""
        if deck not in self._sound:
            facet, holes = self.assembly.decks[deck], sorted(self.decks[deck].lattice_holes)
            lattice = facet.deck.lattice
            found: frozenset[tuple[int, int]] = frozenset()
            if lattice is not None and holes:
                inside = facet.plate.clearance([lattice_point(lattice, h) for h in holes])
                wanted = (self.assembly.layout.limits["edge_web"] + 0.5) * lattice.hole - SAME_LENGTH
                found = frozenset(h for h, room in zip(holes, inside.tolist()) if room >= wanted)
            self._sound[deck] = found
        return self._sound[deck]

    def taken(self, key: HoleKey, face: str | None, but: str) -> bool:
        """Whether another than ``but`` uses the hole from that face (seats have one face only)."""
        return self.taken_by(key, face, but) is not None

    def taken_by(self, key: HoleKey, face: str | None, but: str) -> tuple[str, str] | None:
        """Another than ``but`` that uses the hole from that face: ("part", its name), or ("standoff of", the deck held)."""
        return next((("part" if u.kind == "part" else "standoff of", u.user) for u in self.users.get(key, ()) if u.user != but
                     and (u.face == face or u.deck is None)), None)


def meets(use: BoltUse) -> bool:
    """Whether the bolt stands in its hole, within its play."""
    return use.distance <= max(use.clearance, 0.0) + SAME_LENGTH


@kept
def book_of(assembly: Assembly) -> HoleBook:
    """The book of an assembly."""
    return HoleBook(assembly)


def why_absent(facet: DeckFacet, ref: HoleRef) -> Absence:
    """The reason why a lattice point of a deck has no hole."""
    deck = facet.deck
    assert isinstance(ref.hole, tuple)
    if ref.hole in deck.skip:
        return Absence("it is in the deck's `skip` list, so it is not drilled",
                       f"take [{ref.hole[0]}, {ref.hole[1]}] out of the `skip` of {deck.name}")
    inside = float(facet.plate.clearance([ref.centre])[0])
    if inside >= ref.diameter / 2 - SAME_LENGTH and deck.file is not None and deck.holes is not None:
        return Absence(f"{deck.file.name} has none there", "drill it in the file, or take a hole that the plan of `holes` shows")
    edge, number = facet.plate.which_edge(ref.centre)
    name = f"cutout {number + 1}" if edge == "cutout" else "the edge of the plate"
    if abs(inside) < 5e-6:
        return Absence(f"its centre would be right on {name if edge == 'outline' else f'the edge of {name}'}", "")
    if inside <= 0.0:
        if edge == "cutout":
            return Absence(f"it lies in {name}", "")
        return Absence(f"it lies {mm(-inside)} outside the plate", "")
    return Absence(f"{name} would cut it: its centre is {mm(inside)} from there, its radius {mm(ref.diameter / 2)}", "")


def name_of(ref: HoleRef) -> str:
    """The hole in words."""
    return hole_name(ref.hole, ref.on)
