"""What every placement covers of the deck that carries it in the end, seen square to that deck. Metres."""
from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any, NamedTuple

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, Link
from chassis_describe.facts.root_decks import root_decks
from chassis_describe.layout.model import Face
from chassis_describe.space.plane.silhouette import Shadow, area_of, shadow
from chassis_describe.space.plate.contours import CHORDS

Vec2 = tuple[float, float]


class Outline(NamedTuple):
    """``area``: a shapely geometry in deck coordinates; ``circles``: centre and radius of the circles among its edges."""

    deck: str
    face: Face
    area: Any
    circles: list[tuple[Vec2, float]]


@kept
def links_of(assembly: Assembly) -> Mapping[str, tuple[Link, ...]]:
    """By owner, all its links: a part that moves has several."""
    out: dict[str, tuple[Link, ...]] = {}
    for link in assembly.links:
        out[link.owner] = (*out.get(link.owner, ()), link)
    return out


@lru_cache(maxsize=256)
def _covered(shadows: tuple[Shadow, ...]) -> tuple[Any, list[tuple[Vec2, float]]]:
    """Kept from one robot to the next: where a file is followed, most parts are where they were."""
    return area_of(shadows, CHORDS)


@kept
def outlines_of(assembly: Assembly) -> Mapping[str, Outline]:
    """By placement, in the order of the file; none of a placement without bodies."""
    out: dict[str, Outline] = {}
    for name, (deck, face) in root_decks(assembly).items():
        into_deck = assembly.decks[deck].pose.inverse()
        shadows = [shadow(b.solid, into_deck @ assembly.poses[link.name] @ b.pose) for link in links_of(assembly)[name]
                   for b in link.bodies if b.visible]
        if shadows:
            area, circles = _covered(tuple(shadows))
            if not area.is_empty:
                out[name] = Outline(deck, face, area, circles)
    return out
