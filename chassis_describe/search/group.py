"""What moves when a placement goes elsewhere: what stands on it, its mirror images and what stands on those."""
from __future__ import annotations

import math
from typing import Literal, NamedTuple

from chassis_describe.assembly.model import Assembly, PlacedPart
from chassis_describe.facts.bodies import bodies_of
from chassis_describe.facts.landings import Landing
from chassis_describe.layout.build.mirror import Opposite
from chassis_describe.layout.model import Drive, Layout, Placement
from chassis_describe.values import replace

#: Where x points on top of a deck, for parts that name their screws.
_POINTS: tuple[Literal["forward", "left", "back", "right"], ...] = ("forward", "left", "back", "right")


class MirrorImage(NamedTuple):
    """A mirror image that follows, and whether it is mirrored or (twice) the thing itself."""

    name: str
    mirrored: bool


class MovedGroup(NamedTuple):
    """``placement`` and ``images`` change their keys; ``members`` are all that move."""

    placement: str
    images: tuple[MirrorImage, ...]
    members: frozenset[str]


def group_of(assembly: Assembly, placement: str) -> MovedGroup:
    """What moves with a placement."""
    images: list[MirrorImage] = []
    known = {placement: False}
    changed = True
    while changed:
        changed = False
        for name, placed in assembly.parts.items():
            base = placed.placement.mirror_of
            if base in known and name not in known and _follows(placed.placement, assembly.parts[base].placement):
                known[name] = not known[base]
                images.append(MirrorImage(name, known[name]))
                changed = True
    bodies = bodies_of(assembly)
    members = frozenset().union(*(bodies.carried_by(name) for name in known))
    return MovedGroup(placement, tuple(images), members)


def _follows(image: Placement, base: Placement) -> bool:
    """Whether an image has no place of its own."""
    return image.support == "deck" and all(image.marks.get(k) == base.marks.get(k) for k in ("at", "screws", "on", "face"))


def without(assembly: Assembly, group: MovedGroup) -> Layout:
    """The layout as it would be without what moves; a drive that names some of it is not there either."""
    layout = assembly.layout
    drive: Drive | None = layout.drive
    if drive is not None and group.members & {*drive.wheels, *(s.placement for s in drive.steer)}:
        drive = None
    return replace(layout, drive=drive, placements={n: p for n, p in layout.placements.items() if n not in group.members})


def moved(assembly: Assembly, group: MovedGroup, to: Landing) -> Layout:
    """The layout with the placement there, its images opposite."""
    layout = assembly.layout
    placements = dict(layout.placements)
    placements[group.placement] = _there(placements[group.placement], to)
    for image in group.images:
        sign = -1.0 if image.mirrored else 1.0
        own = layout.placements[image.name]
        at = (to.at[0], sign * to.at[1] + 0.0)
        lattice = layout.decks[to.on].lattice
        opposite = Opposite(lattice, lattice, image.mirrored)
        holes = tuple((h[0], round(sign * h[1])) for h in to.holes if isinstance(h, tuple))
        placements[image.name] = _there(own, Landing(to.on, to.face, opposite.at(at), sign * to.turn + 0.0, holes))
    return replace(layout, placements=placements)


def _there(placement: Placement, to: Landing) -> Placement:
    screws: tuple[tuple[int, int], ...] | None = None
    points: Literal["forward", "back", "left", "right"] | None = None
    if placement.screws is not None and len(to.holes) >= 2 and all(isinstance(h, tuple) for h in to.holes):
        screws = tuple(h for h in to.holes if isinstance(h, tuple))
        quarter = round((-to.turn if to.face == "under" else to.turn) / (math.pi / 2)) % 4
        points = _POINTS[quarter]
    return replace(placement, support="deck", on=to.on, seat=None, face=to.face, at=None if screws else to.at, screws=screws,
                   turn=0.0 if screws else to.turn, points=points)


def now_landing(placed: PlacedPart) -> Landing | None:
    """Where it is, as a place of a deck; None where it sits on a seat."""
    if placed.deck is None or placed.face is None or placed.at is None:
        return None
    return Landing(placed.deck, placed.face, placed.at, placed.turn)
