"""Names that people ask by: what has that name, or a sentence that says which names there are."""
from __future__ import annotations

from chassis_describe.assembly.model import Assembly, PlacedPart
from chassis_describe.errors import UsageError
from chassis_describe.words import not_known


def known_placement(assembly: Assembly, name: str) -> PlacedPart:
    """A placement by its name. Raises UsageError."""
    placed = assembly.parts.get(name)
    if placed is None:
        raise UsageError(not_known(name, "placement", assembly.parts))
    return placed


def known_deck(assembly: Assembly, name: str) -> None:
    """Raises UsageError where there is no such deck."""
    if name not in assembly.decks:
        raise UsageError(not_known(name, "deck", assembly.decks))
