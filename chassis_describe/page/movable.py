"""What can be moved by hand on the page: where each placement is, along which axes it goes, and why some are locked."""
from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from typing import Any

from chassis_describe.assembly.lattice import lattice_point
from chassis_describe.assembly.model import Assembly, PlacedPart
from chassis_describe.drawings.views import detail_of
from chassis_describe.facts.bodies import bodies_of
from chassis_describe.facts.free_places import bolt_arms, bolt_places, lattice_of
from chassis_describe.facts.root_decks import root_decks
from chassis_describe.layout.edit import written_placements
from chassis_describe.layout.model import InputFile
from chassis_describe.page.numbers import point, short
from chassis_describe.space.pose import IDENTITY, Pose

#: A seat that leans more than this against its deck (cosine) has no place in the deck's plan to be moved in.
_LEANS = 0.99


def placements_data(assembly: Assembly, own: Sequence[InputFile] | None) -> list[dict[str, Any]]:
    """Every placement in the order of the file. ``own``: the layout and what is laid over it, None where nothing is edited."""
    decks = root_decks(assembly)
    riders = bodies_of(assembly).riders
    written = written_in(own) if own is not None else None
    return [{"name": name, "part": placed.part.name, "deck": decks[name][0], "face": decks[name][1], "on": placed.placement.on,
             "detail": detail_of(placed), "carries": list(riders.get(name, ())), **_moving(assembly, placed, written)}
            for name, placed in assembly.parts.items()]


#: A file's path → the placements that stand in it.
Written = Mapping[str, Collection[str]]


def written_in(own: Sequence[InputFile]) -> Written:
    """What stands in the layout, which comes first, and in what is laid over it."""
    return {f.path: written_placements(f.data, f.path).keys() for f in own}


def _moving(assembly: Assembly, placed: PlacedPart, written: Written | None) -> dict[str, Any]:
    if written is None:
        return {"locked": None}
    reason = locked(assembly, placed.name, written)
    if reason is not None:
        return {"locked": reason}
    lattice = lattice_of(assembly, placed)
    assert lattice is not None
    assert placed.at is not None
    plane = _plane_in_deck(assembly, placed)
    origin, i, j = (plane.point((*lattice_point(lattice, at), 0.0)) for at in ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0)))
    step_i, step_j = ([(b[k] - origin[k]) * 1e3 for k in (0, 1)] for b in (i, j))
    return {"locked": None, "at": [short(v, 9) for v in placed.at], "turn": short(math.degrees(placed.turn), 9),
            "twins": [n for n, p in assembly.parts.items() if _mirrors(assembly, p, placed.name)],
            "plane": {"o": point([v * 1e3 for v in origin[:2]]), "i": point(step_i, 6), "j": point(step_j, 6),
                      "ccw": -1 if placed.face == "under" or plane.z_axis[2] < 0 else 1}}


def locked(assembly: Assembly, name: str, written: Written) -> str | None:
    """Why a placement can't be moved on the page, in words that follow its name; None where it can."""
    placed = assembly.parts[name]
    placement = placed.placement
    layout, *overlays = written
    over = next((path for path in overlays if name in written[path]), None)
    if over is not None:
        return f"is defined in {over}, which is laid over the layout: change it there"
    if placement.mirror_of is not None:
        return f"is the mirror image of {placement.mirror_of}: move that one, and it follows"
    if placement.support == "shaft":
        return f"is on a shaft: it stands where {placement.on} puts it"
    if name not in written[layout]:
        return "comes in by an alias or a merge: write it out in the layout, and it can be moved"
    if placed.at is None or lattice_of(assembly, placed) is None:
        if placement.support == "seat":
            return f"sits on a seat of {placement.on}, which has no lattice: move {placement.on}"
        return f"is on {placement.on}, which has no lattice"
    if placement.support == "seat" and abs(_plane_in_deck(assembly, placed).z_axis[2]) < _LEANS:
        return f"sits on a seat of {placement.on} that is not level with the deck: move it in the file"
    return None


def _mirrors(assembly: Assembly, placed: PlacedPart, name: str) -> bool:
    """Whether a placement is a mirror image of another, at any remove."""
    above = placed.placement.mirror_of
    while above is not None and above != name:
        above = assembly.parts[above].placement.mirror_of
    return above is not None


def _plane_in_deck(assembly: Assembly, placed: PlacedPart) -> Pose:
    """The plane that a placement is bolted to, in the axes of the deck that carries it in the end."""
    if placed.deck is not None:
        return IDENTITY
    carrier = assembly.parts[placed.placement.on]
    deck = root_decks(assembly)[placed.name][0]
    return assembly.decks[deck].pose.inverse() @ carrier.pose @ carrier.seats[placed.placement.seat or ""]


def fits_data(assembly: Assembly, name: str, turn: float) -> dict[str, Any]:
    """Where the bolts of a placement, turned by ``turn`` degrees, meet sound holes, and who has those that are taken.

    ``arms``: its bolts against its origin, in the plan of its deck. ``bolted`` is False where no bolts hold it.
    """
    placed = assembly.parts[name]
    radians = math.radians(turn)
    plane = _plane_in_deck(assembly, placed)
    return {"of": name, "turn": short(turn, 9), "bolted": placed.fixing == "bolts",
            "places": [{"at": [short(v, 9) for v in place.at],
                        "taken": " ".join(place.taken_by).removeprefix("part ") if place.taken_by is not None else None}
                       for place in bolt_places(assembly, placed, radians)],
            "arms": [point([v * 1e3 for v in plane.vector((*arm, 0.0))[:2]]) for arm in bolt_arms(assembly, placed, radians)]}
