"""Which deck and face each placement belongs to, however many holders are between."""
from __future__ import annotations

from collections.abc import Mapping

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly
from chassis_describe.layout.model import Face


@kept
def root_decks(assembly: Assembly) -> Mapping[str, tuple[str, Face]]:
    """By placement, the deck that carries it in the end and the face."""
    found: dict[str, tuple[str, Face]] = {}
    for name in assembly.parts:
        placed = assembly.parts[name]
        while placed.deck is None:
            placed = assembly.parts[placed.placement.on]
        found[name] = (placed.deck, placed.face or "top")
    return found
