"""Whether each deck is one plate after all its cutouts."""
from __future__ import annotations

from collections.abc import Iterable

from chassis_describe.assembly.model import Assembly
from chassis_describe.findings import Finding, finding


def decks_whole(assembly: Assembly) -> Iterable[Finding]:
    """``deck-in-pieces``: what is cut off is weighed and drawn, but nothing holds it."""
    for name, facet in assembly.decks.items():
        pieces = facet.plate.pieces
        if pieces > 1:
            yield finding("deck-in-pieces", f"the cutouts cut deck {name} into {pieces} pieces",
                          hint="make a cutout smaller or move it, so that the plate stays in one piece",
                          where=[facet.deck.marks.get("cutouts", facet.deck.mark)], of=[name], measured=float(pieces),
                          allowed=1.0)
