"""Each deck's holes and who uses them, as the plan in characters shows them."""
from __future__ import annotations

from typing import NamedTuple

from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.bolting import bolts_of, holes_of
from chassis_describe.facts.known import known_deck

#: Letters for users in the order of the file, without the `o` of a free hole; after them all are shown by ``*``.
_LETTERS = "abcdefghijklmnpqrstuvwxyzABCDEFGHIJKLMNPQRSTUVWXYZ"


class DeckPlan(NamedTuple):
    """``cells``: character by hole (i, j); ``users``: letter → name and face."""

    deck: str
    cells: dict[tuple[int, int], str]
    users: dict[str, str]
    off_lattice: list[str]


def deck_plan(assembly: Assembly, deck: str) -> DeckPlan:
    """Work out one deck. Raises UsageError when there is no such deck."""
    known_deck(assembly, deck)
    holes = holes_of(assembly)[deck].lattice_holes
    users: dict[tuple[int, int], set[str]] = {}
    off: list[str] = []
    missing: dict[tuple[int, int], set[str]] = {}
    for bolt in bolts_of(assembly):
        if bolt.deck != deck:
            continue
        name = _user(bolt.user, bolt.kind, bolt.face)
        if bolt.hole is None or bolt.distance > max(bolt.clearance, 0.0) + 1e-9:
            off.append(f"{name}: bolt {bolt.index + 1} at x {bolt.at[0] * 1e3:g}, y {bolt.at[1] * 1e3:g} mm meets no hole")
        elif isinstance(bolt.hole.hole, tuple):
            (users if bolt.hole.exists else missing).setdefault(bolt.hole.hole, set()).add(name)
        else:
            off.append(f"{name}: bolt {bolt.index + 1} in drilled hole {bolt.hole.hole + 1} at x "
                       f"{bolt.hole.centre[0] * 1e3:g}, y {bolt.hole.centre[1] * 1e3:g} mm")
    letters: dict[str, str] = {}
    cells = dict.fromkeys(holes, "o")
    for hole, names in [*users.items(), *missing.items()]:
        for name in sorted(names):
            letters.setdefault(name, _LETTERS[len(letters)] if len(letters) < len(_LETTERS) else "*")
        cells[hole] = letters[next(iter(names))] if len(names) == 1 else "2" if len(names) == 2 else "3"
        if hole in missing:
            cells[hole] = "!"
            off.extend(f"{name}: needs hole [{hole[0]}, {hole[1]}], which this deck does not have" for name in sorted(names))
    shared = [f"hole [{h[0]}, {h[1]}]: {' and '.join(sorted(n))}" for h, n in users.items() if len(n) > 1]
    return DeckPlan(deck, cells, {v: k for k, v in reversed(letters.items())}, off + shared)


def _user(name: str, kind: str, face: str | None) -> str:
    return f"{name} ({'standoff, ' if kind == 'standoff' else ''}{face or 'top'})"
