"""What the plate of an adapter has to keep clear of on one face of a deck, and the holes that it may be bolted to. Metres."""
from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.lattice import lattice_point
from chassis_describe.assembly.model import Assembly, Body, PlacedPart
from chassis_describe.assembly.screws import nominal_diameter
from chassis_describe.facts.bodies import Owner, bodies_of
from chassis_describe.facts.fasteners import HEADS, ISO_7089_WASHER
from chassis_describe.facts.holes import book_of
from chassis_describe.facts.outlines import outlines_of
from chassis_describe.facts.screws import screws_of
from chassis_describe.layout.model import Face, Lattice
from chassis_describe.search.smallest_plate import Hole, Rect, Vec2
from chassis_describe.space.overlap.pairs import Crowd
from chassis_describe.space.overlap.penetration import gap, meets
from chassis_describe.space.pose import IDENTITY, translation
from chassis_describe.space.solids import Box
from chassis_describe.tolerances import SAME_LENGTH

if TYPE_CHECKING:
    from collections.abc import Mapping

#: So many holes beyond the part a plate may reach (our choice: further away nobody calls it the part's place).
REACH = 6


def head_radius(thread: str) -> float:
    """Room about a screw for its head, nut or washer (m): the washer of ISO 7089, the widest; our guess where none is known."""
    return ISO_7089_WASHER.get(thread, 2.2 * nominal_diameter(thread)) / 2


class Disc(NamedTuple):
    """A head or nut on a face of a deck."""

    at: Vec2
    radius: float
    user: str


class Room:
    """One placement's surroundings on its own face of its deck."""

    def __init__(self, assembly: Assembly, placed: PlacedPart, thickness: float) -> None:
        assert placed.deck is not None
        self.assembly, self.placed, self.thickness = assembly, placed, thickness
        self.deck, self.face = placed.deck, placed.face or "top"
        self.facet = assembly.decks[self.deck]
        self.scene = bodies_of(assembly)
        self.members = self.scene.carried_by(placed.name)
        #: Who was in the way of a plate, the first one first.
        self.in_the_way: dict[Owner, None] = {}
        self.heads = [d for d in _hardware(assembly)[self.deck, self.face] if d.user not in self.members]
        others = np.ones(len(self.scene.owners), dtype=bool)
        for name in self.members:
            others &= self.scene.group != self.scene.numbers.get(("part", name), -1)
        self.others = others

    # ------------------------------------------------------------------------------------------------------------ plates
    def blocked(self, rect: Rect) -> bool:
        """Whether something is where the plate would be."""
        owner = next(self.blockers(rect), None)
        if owner is not None:
            self.in_the_way.setdefault(owner)
        return owner is not None

    def blockers(self, rect: Rect) -> Iterator[Owner]:
        """Whose heads or nuts would be under the plate, whose bodies in it, whose wheels too near to it."""
        for head in self.heads:
            if rect.away(head.at) < head.radius - SAME_LENGTH:
                yield ("screw", head.user)
        solid = Box((rect.x1 - rect.x0, rect.y1 - rect.y0, self.thickness))
        z = self.thickness / 2 if self.face == "top" else -self.facet.deck.thickness - self.thickness / 2
        pose = self.facet.pose @ translation((rect.x0 + rect.x1) / 2, (rect.y0 + rect.y1) / 2, z)
        scene, crowd = self.scene, Crowd([solid], [pose])
        for k in scene.meeting(crowd, 0, self.others):
            if meets(solid, pose, scene.bodies[k].solid, scene.poses[k], scene.limit):
                yield scene.owners[k]
        body = Body("", "part", solid, IDENTITY, 0.0, None, self.placed.mark)
        for item in scene.plates:
            if item.name != self.deck and scene.near_plate(item, crowd, -scene.limit) and scene.meets_plate(item, body, pose):
                yield ("plate", item.name)
        for name, (wheel, at, _) in scene.wheels.items():
            if name not in self.members and gap(solid, pose, wheel, at) < scene.wheel_gap - SAME_LENGTH:
                yield ("part", name)
        for owner, space, at in zip(scene.space_owners, scene.spaces, scene.space_poses):
            if owner not in self.members and meets(solid, pose, space.solid, at, scene.limit):
                yield ("part", owner)

    # ------------------------------------------------------------------------------------------------------------- holes
    def bolts(self, lattice: Lattice, wanted: tuple[Vec2, ...], shape: Any,
              between: float) -> tuple[dict[Hole, Vec2], Counter[str]]:
        """Holes that a plate may be bolted to, within REACH of the part, and what keeps others from being such.

        A hole is sound and free from both faces, ``between`` or more from the wanted holes; its head is clear of what the part
        covers (``shape``, a shapely geometry in deck coordinates) and of all that others cover on this face, its nut on the other.
        """
        from shapely.geometry import Point
        from shapely.ops import unary_union

        radius = head_radius(lattice.screw)
        boxes = [*((x, y, x, y) for x, y in wanted), *([shape.bounds] if not shape.is_empty else [])]
        reach = REACH * lattice.pitch + SAME_LENGTH
        x0, y0, x1, y1 = (min(b[0] for b in boxes) - reach, min(b[1] for b in boxes) - reach,
                          max(b[2] for b in boxes) + reach, max(b[3] for b in boxes) + reach)
        book = book_of(self.assembly)
        near = {h: p for h in sorted(book.decks[self.deck].lattice_holes)
                if x0 <= (p := lattice_point(lattice, h))[0] <= x1 and y0 <= p[1] <= y1}
        sound = book.sound(self.deck)
        inside = dict(zip(near, self.facet.plate.clearance(list(near.values())).tolist())) if near else {}
        used = [(u.hole.centre, u.user) for u in book.uses
                if u.hole is not None and u.hole.on == self.deck and u.user not in self.members]
        covers = {f: unary_union([o.area for n, o in outlines_of(self.assembly).items()
                                  if n not in self.members and (o.deck, o.face) == (self.deck, f)]) for f in ("top", "under")}
        other: Face = "under" if self.face == "top" else "top"
        why: Counter[str] = Counter()
        out: dict[Hole, Vec2] = {}
        for hole, p in near.items():
            spot = Point(p)
            if hole not in sound or inside[hole] < radius - SAME_LENGTH:
                why["too near to an edge"] += 1
            elif any(math.dist(p, at) < 2 * radius - SAME_LENGTH for at, _ in used):
                why["taken"] += 1
            elif min((math.dist(p, w) for w in wanted), default=math.inf) < between - SAME_LENGTH:
                why["too near to the part's own holes"] += 1
            elif _apart(shape, spot) < radius - SAME_LENGTH:
                why[f"under {self.placed.name}"] += 1
            elif _apart(covers[self.face], spot) < radius - SAME_LENGTH:
                why["under other parts"] += 1
            elif _apart(covers[other], spot) < radius - SAME_LENGTH:
                why["over parts on the other face"] += 1
            else:
                out[hole] = p
        return out, why


def _apart(shape: Any, spot: Any) -> float:
    return math.inf if shape.is_empty else float(shape.distance(spot))


@kept
def _hardware(assembly: Assembly) -> Mapping[tuple[str, str], list[Disc]]:
    """Heads and nuts by deck and face."""
    out: dict[tuple[str, str], list[Disc]] = {(deck, face): [] for deck in assembly.decks for face in ("top", "under")}
    for screw in screws_of(assembly):
        if screw.deck is None or screw.head not in ("top", "under"):
            continue
        head = HEADS[screw.kind].get(screw.thread)
        radius = max(head_radius(screw.thread), head.diameter / 2 if head is not None else 0.0)
        faces = ("top", "under") if screw.into == "nut" else (screw.head,)
        for face in faces:
            out[screw.deck, face] += [Disc(screw.at, radius, user) for user in screw.users[:1]]
    return out
