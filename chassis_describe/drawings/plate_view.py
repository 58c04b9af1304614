"""A bare plate as a cutter sees it: a deck's, or the one that a part is cut from. Millimetres, x forward, y left."""
from __future__ import annotations

import hashlib
from typing import Literal, NamedTuple

from chassis_describe.drawings.views import DeckView, mm_cut
from chassis_describe.layout.model import Part
from chassis_describe.layout.part_plate import cut_plate
from chassis_describe.space.plate.contours import Cut, cut_of
from chassis_describe.space.plate.plate import Plate
from chassis_describe.space.sunk import Sink


class PlateView(NamedTuple):
    """``plate`` in metres, ``cut`` in mm; ``cone``: countersinks in the lower face (m), ``sinks``: their edges (x, y, diameter)."""

    of: Literal["deck", "part"]
    name: str
    material: str | None
    plate: Plate
    cut: Cut
    cone: tuple[Sink, ...] = ()

    @property
    def sinks(self) -> tuple[tuple[float, float, float], ...]:
        """Edges of the countersinks in mm."""
        return tuple((round(s.at[0] * 1e3, 6) + 0.0, round(s.at[1] * 1e3, 6) + 0.0, s.diameter * 1e3) for s in self.cone)


def deck_plate(view: DeckView) -> PlateView:
    """A deck's plate."""
    return PlateView("deck", view.name, view.facet.deck.material, view.facet.plate, view.cut)


def part_plate_view(part: Part) -> PlateView | None:
    """The plate of a part; None where it has none."""
    if part.plate is None:
        return None
    cut = cut_plate(part, part.plate)
    return PlateView("part", part.name, part.plate.material, cut.plate, mm_cut(cut_of(cut.plate)), cut.sinks)


def plate_hash(view: PlateView) -> str:
    """Twelve hex digits over what is cut."""
    return hashlib.sha256(repr((view.plate, view.cone)).encode()).hexdigest()[:12]
