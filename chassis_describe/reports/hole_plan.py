"""A deck's lattice as characters: what is in each hole, with coordinates on both axes and counts from the edges."""
from __future__ import annotations

from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.hole_plan import deck_plan


def as_text(assembly: Assembly, deck: str, *, under: bool = False) -> str:
    """The plan, front up: i grows upwards (forward), j to the left, as the builder looks at the top face.

    ``under``: as one looks at the under side of a plate that lies turned over, front still up: j grows to the right.
    """
    plan = deck_plan(assembly, deck)
    facet = assembly.decks[deck]
    lattice = facet.deck.lattice
    lines = [f"{deck}: {'under side, seen from below' if under else 'top face'}, front up"]
    if lattice is None:
        return "\n".join([*lines, "  this deck has no lattice", *plan.off_lattice]) + "\n"
    if not plan.cells:
        return "\n".join([*lines, "  no hole fits on this deck", *plan.off_lattice]) + "\n"
    low_i, high_i = min(i for i, _ in plan.cells), max(i for i, _ in plan.cells)
    low_j, high_j = min(j for _, j in plan.cells), max(j for _, j in plan.cells)
    columns = range(low_j, high_j + 1) if under else range(high_j, low_j - 1, -1)
    wide = max(3, *(len(str(j)) + 1 for j in columns))
    lines[0] += (f"; pitch {lattice.pitch * 1e3:g} mm, holes {lattice.hole * 1e3:g} mm, {lattice.screw}; "
                 f"{sum(1 for c in plan.cells.values() if c != '!')} holes")
    lines.append("        j" + "".join(str(j).rjust(wide) for j in columns))
    lines.append("   row  i")
    for row, i in enumerate(range(high_i, low_i - 1, -1), start=1):
        cells = "".join(plan.cells.get((i, j), ".").rjust(wide) for j in columns)
        lines.append(f"  {row:>4} {i:>3}{cells}")
    lines.append("   column" + "".join(str(k).rjust(wide) for k in range(1, len(columns) + 1)))
    lines += ["", "  i, j are what `at` and `screws` take; row counts from the front edge, column from the left edge"
              + (" as one sees it; j grows to the right: the robot's left is on the right here." if under else "."),
              "  o free   . no hole   ! used but absent   2, 3 used from both faces or twice"]
    hanging = _under_deck(assembly, deck)
    lines += [f"  {letter} {name}" for letter, name in sorted(plan.users.items())]
    lines += [f"  {line}" for line in plan.off_lattice]
    if hanging and not under:
        lines.append(f"  mounted under this deck: {', '.join(hanging)}")
    return "\n".join(lines) + "\n"


def _under_deck(assembly: Assembly, deck: str) -> list[str]:
    return [p.name for p in assembly.parts.values() if p.deck == deck and p.face == "under"]


def all_as_text(assembly: Assembly, *, under: bool = False) -> str:
    """Every deck's plan."""
    return "\n".join(as_text(assembly, deck, under=under) for deck in assembly.decks)
