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
from chassis_describe.facts.fasteners import HEADS, ISO_261_PITCH, ISO_7089_WASHER, NUT_HEIGHTS, WASHER_THICKNESS
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

_OTHER = {"top": "under", "under": "top"}

#: So many holes beyond the part a plate may reach (our choice: further away nobody calls it the part's place).
REACH = 6


def head_radius(thread: str) -> float:
    """Room about a screw for its head, nut or washer (m): the washer of ISO 7089, the widest; our guess where none is known."""
    return ISO_7089_WASHER.get(thread, 2.2 * nominal_diameter(thread)) / 2


#: So much wider than a head is a hole that leaves it free, and so much of the plate stays about such a hole (m, common practice).
FREE, WEB = 1e-3, 2e-3


class HeadDisc(NamedTuple):
    """A head or nut on a face of a deck, that high above it."""

    at: Vec2
    radius: float
    height: float
    user: str

    @property
    def relief(self) -> tuple[float, float, float]:
        """The hole that leaves it free: x, y, diameter; in tenths of a millimetre."""
        return (round(self.at[0], 9) + 0.0, round(self.at[1], 9) + 0.0, math.ceil((2 * self.radius + FREE) * 1e4 - 1e-6) / 1e4)


class Room:
    """One placement's surroundings on its own face of its deck. ``gap``: room between the plate and the part (m)."""

    def __init__(self, assembly: Assembly, placed: PlacedPart, thickness: float, gap: float) -> None:
        assert placed.deck is not None
        self.assembly, self.placed, self.thickness, self.gap = assembly, placed, thickness, gap
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
        """Whose bodies would be in the plate, whose wheels too near to it."""
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

    def under(self, rect: Rect) -> list[HeadDisc]:
        """Heads and nuts that the plate would lie on, were there no holes for them."""
        return [d for d in self.heads if rect.away(d.at) < d.radius - SAME_LENGTH]

    def unfit(self, rect: Rect) -> bool:
        """Whether a hole for one of them would cut the plate's edge."""
        for disc in self.under(rect):
            x, y, diameter = disc.relief
            if min(x - rect.x0, rect.x1 - x, y - rect.y0, rect.y1 - y) < diameter / 2 + WEB - SAME_LENGTH:
                self.in_the_way.setdefault(("screw", disc.user))
                return True
        return False

    def hopeless(self, wanted: tuple[Vec2, ...], sunk: float, shape: Any) -> HeadDisc | None:
        """A head that no hole can leave free: it is where a hole of the part's is to be, or too high to be under the part."""
        from shapely.geometry import Point

        for disc in self.heads:
            x, y, diameter = disc.relief
            if any(math.dist((x, y), w) < (diameter + sunk) / 2 + WEB / 2 - SAME_LENGTH for w in wanted):
                return disc
            if disc.height > self.thickness + self.gap - SAME_LENGTH and _apart(shape, Point(x, y)) < disc.radius:
                return disc
        return None

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
def _hardware(assembly: Assembly) -> Mapping[tuple[str, str], list[HeadDisc]]:
    """Heads and nuts by deck and face."""
    out: dict[tuple[str, str], list[HeadDisc]] = {(deck, face): [] for deck in assembly.decks for face in ("top", "under")}
    for screw in screws_of(assembly):
        if screw.deck is None or screw.head not in ("top", "under"):
            continue
        head = HEADS[screw.kind].get(screw.thread)
        radius = max(head_radius(screw.thread), head.diameter / 2 if head is not None else 0.0)
        washer = WASHER_THICKNESS.get(screw.thread, 0.0)
        own = (head.height if head is not None else nominal_diameter(screw.thread)) + washer
        # Past a nut show up to three threads, and a washer or two may be added.
        nut = NUT_HEIGHTS[screw.nut or "plain"].get(screw.thread, own) + 2 * washer + 3 * ISO_261_PITCH.get(screw.thread, 0.0)
        heights = {screw.head: own, **({_OTHER[screw.head]: nut} if screw.into == "nut" else {})}
        for face, height in heights.items():
            if not _on_its_part(assembly, screw.users, face):
                out[screw.deck, face] += [HeadDisc(screw.at, radius, height, user) for user in screw.users[:1]]
    return out


def _on_its_part(assembly: Assembly, users: tuple[str, ...], face: str) -> bool:
    """Whether what is on that face of the deck is one of the users, and the head or nut on that: then its bodies are in the way."""
    return any(u in assembly.parts and (assembly.parts[u].face or "top") == face for u in users)
