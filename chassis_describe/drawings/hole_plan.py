"""A deck's lattice as characters: what is in each hole, with coordinates on both axes and counts from the edges."""
from __future__ import annotations

import difflib
from typing import NamedTuple

from chassis_describe.assembly.model import Assembly
from chassis_describe.source import UsageError

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
    if deck not in assembly.decks:
        near = difflib.get_close_matches(deck, assembly.decks, n=1)
        raise UsageError(f"there is no deck {deck!r}" + (f"; did you mean {near[0]}?" if near else "")
                         + f"; decks: {', '.join(assembly.decks)}")
    holes = assembly.holes[deck].lattice_holes
    users: dict[tuple[int, int], set[str]] = {}
    off: list[str] = []
    missing: dict[tuple[int, int], set[str]] = {}
    for bolt in assembly.bolts:
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


def as_text(assembly: Assembly, deck: str) -> str:
    """The plan, front up: i grows upwards (forward), j to the left, as the builder looks at the top face."""
    plan = deck_plan(assembly, deck)
    facet = assembly.decks[deck]
    lattice = facet.deck.lattice
    lines = [f"{deck}: top face, front up"]
    if lattice is None:
        return "\n".join([*lines, "  this deck has no lattice", *plan.off_lattice]) + "\n"
    if not plan.cells:
        return "\n".join([*lines, "  no hole fits on this deck", *plan.off_lattice]) + "\n"
    low_i, high_i = min(i for i, _ in plan.cells), max(i for i, _ in plan.cells)
    low_j, high_j = min(j for _, j in plan.cells), max(j for _, j in plan.cells)
    columns = range(high_j, low_j - 1, -1)
    wide = max(3, *(len(str(j)) + 1 for j in columns))
    lines[0] += (f"; pitch {lattice.pitch * 1e3:g} mm, holes {lattice.hole * 1e3:g} mm, {lattice.screw}; "
                 f"{sum(1 for c in plan.cells.values() if c != '!')} holes")
    lines.append("        j" + "".join(str(j).rjust(wide) for j in columns))
    lines.append("   row  i")
    for row, i in enumerate(range(high_i, low_i - 1, -1), start=1):
        cells = "".join(plan.cells.get((i, j), ".").rjust(wide) for j in columns)
        lines.append(f"  {row:>4} {i:>3}{cells}")
    lines.append("   column" + "".join(str(k).rjust(wide) for k in range(1, len(columns) + 1)))
    lines += ["", "  i, j are what `at` and `screws` take; row counts from the front edge, column from the left edge.",
              "  o free   . no hole   ! used but absent   2, 3 used from both faces or twice"]
    under = _under_deck(assembly, deck)
    lines += [f"  {letter} {name}" for letter, name in sorted(plan.users.items())]
    lines += [f"  {line}" for line in plan.off_lattice]
    if under:
        lines.append(f"  mounted under this deck: {', '.join(under)}")
    return "\n".join(lines) + "\n"


def _under_deck(assembly: Assembly, deck: str) -> list[str]:
    return [p.name for p in assembly.parts.values() if p.deck == deck and p.face == "under"]


def all_as_text(assembly: Assembly) -> str:
    """Every deck's plan."""
    return "\n".join(as_text(assembly, deck) for deck in assembly.decks)
