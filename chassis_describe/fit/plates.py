"""Whether each deck is one plate after all its cutouts, and whether what is written of its holes makes a difference."""
from __future__ import annotations

import math
from collections.abc import Iterable

from chassis_describe.assembly.lattice import lattice_holes, lattice_point
from chassis_describe.assembly.model import Assembly, DeckFacet
from chassis_describe.findings import Finding, finding
from chassis_describe.layout.model import DrilledHole
from chassis_describe.tolerances import SAME_LENGTH
from chassis_describe.words import listing, mm, pair

#: Points along the middle line of a slot, so that what cuts it by more than a 200th of its length is seen.
_ALONG = 101


def decks_whole(assembly: Assembly) -> Iterable[Finding]:
    """``deck-in-pieces``: what is cut off is weighed and drawn, but nothing holds it."""
    for name, facet in assembly.decks.items():
        pieces = facet.plate.pieces
        if pieces > 1:
            yield finding("deck-in-pieces", f"the cutouts cut deck {name} into {pieces} pieces",
                          hint="make a cutout smaller or move it, so that the plate stays in one piece",
                          where=[facet.deck.marks.get("cutouts", facet.deck.mark)], of=[name], measured=float(pieces),
                          allowed=1.0)


def skips_needed(assembly: Assembly) -> Iterable[Finding]:
    """``skip-without-hole``: points of ``skip`` where the plate has no room for a hole, one finding for each deck."""
    for name, facet in assembly.decks.items():
        deck, plate = facet.deck, facet.plate
        if not deck.skip or deck.lattice is None:
            continue
        lattice = deck.lattice
        could_be = set(lattice_holes(deck, plate.outline, plate.cutouts))
        idle = [(hole, mark) for hole, mark in zip(deck.skip, deck.skip_marks) if hole not in could_be]
        if idle:
            hole, mark = idle[0]
            many = "have" if len(idle) > 1 else "has"
            yield finding("skip-without-hole", f"{listing(pair(h) for h, _ in idle)} of the `skip` of deck {name} {many} "
                          f"no hole anyway: {_why(facet, lattice_point(lattice, hole), lattice.hole)}",
                          hint="take it out, or see in the plan that `holes` draws which hole was meant", where=[mark], of=[name])


def drilled_in_plate(assembly: Assembly) -> Iterable[Finding]:
    """``drilled-off-plate``: holes and slots off the lattice whose rim is not all in the plate."""
    for name, facet in assembly.decks.items():
        for number, drilled in enumerate(facet.deck.drilled):
            points, radius = _middle_line(drilled)
            room = facet.plate.clearance(points)
            worst = int(room.argmin())
            if room[worst] >= radius - SAME_LENGTH:
                continue
            middle = "middle" if drilled.slot is None else "middle line"
            what = f"drilled {'hole' if drilled.slot is None else 'slot'} {number + 1} of deck {name}"
            said = (f"lies off the plate: its {middle} {_where(facet, points[worst], float(room[worst]))}"
                    if room.max() <= -radius else f"is cut open: {_why(facet, points[worst], 2 * radius, middle)}")
            yield finding("drilled-off-plate", f"{what} {said}",
                          hint="`at` counts millimetres from the deck's middle, x forward, y left", where=[drilled.mark],
                          of=[name], measured=float(room[worst]) * 1e3, allowed=radius * 1e3, unit="mm")


def _middle_line(drilled: DrilledHole) -> tuple[list[tuple[float, float]], float]:
    """The centre of a hole, or points along the middle of a slot (m, deck coordinates); and the radius about them."""
    if drilled.slot is None:
        return [drilled.at], (drilled.hole or 0.0) / 2
    length, width = drilled.slot
    reach = max((length - width) / 2, 0.0)
    c, s = math.cos(drilled.turn) * reach, math.sin(drilled.turn) * reach
    along = [2 * k / (_ALONG - 1) - 1 for k in range(_ALONG)]
    return [(drilled.at[0] + c * t, drilled.at[1] + s * t) for t in along], width / 2


def _why(facet: DeckFacet, point: tuple[float, float], diameter: float, middle: str = "middle") -> str:
    """What keeps a hole from being whole."""
    inside = float(facet.plate.clearance([point])[0])
    if inside >= diameter / 2 and facet.deck.file is not None:
        return f"{facet.deck.file.name} has none there"
    if inside <= 0.0:
        return f"its {middle} {_where(facet, point, inside)}"
    return f"{_edge(facet, point)} is {mm(inside)} from its {middle}, its radius is {mm(diameter / 2)}"


def _where(facet: DeckFacet, point: tuple[float, float], inside: float) -> str:
    if abs(inside) < 5e-6:
        return f"lies right on {_edge(facet, point)}"
    if facet.plate.which_edge(point)[0] == "cutout":
        return f"lies in {_edge(facet, point)}"
    return f"lies {mm(-inside)} outside the plate"


def _edge(facet: DeckFacet, point: tuple[float, float]) -> str:
    edge, number = facet.plate.which_edge(point)
    return f"cutout {number + 1}" if edge == "cutout" else "the edge of the plate"
