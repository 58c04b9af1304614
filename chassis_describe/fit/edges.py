"""Used holes near the edge of a plate: too little material, or no room for a screw head or nut."""
from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from chassis_describe.assembly.model import Assembly, BoltUse, DeckFacet
from chassis_describe.facts.fasteners import HEADS, ISO_4032_NUT, ISO_7089_WASHER
from chassis_describe.facts.holes import HoleBook, book_of, name_of
from chassis_describe.findings import Finding, finding
from chassis_describe.fit.remedy_words import remedy
from chassis_describe.tolerances import SAME_LENGTH
from chassis_describe.words import count, mm, plain


def edges_of_holes(assembly: Assembly) -> Iterable[Finding]:
    """``hole-near-edge`` and ``head-over-edge``, one of each for each user and deck: the worst hole is named.

    The web is measured from the hole's edge to the plate's (a rule of thumb of plate cutters: at least one hole
    diameter). Heads and nuts sit on the face that the part or standoff does not cover: a head of the layout's
    `fasteners` where that is tapped, else an ISO 4032 nut, counted across its corners.
    """
    book = book_of(assembly)
    by_deck: dict[str, list[BoltUse]] = {}
    for use in book.uses:
        if use.deck is not None and use.hole is not None and use.hole.exists:
            by_deck.setdefault(use.deck, []).append(use)
    least = assembly.layout.limits["edge_web"]
    for deck, uses in by_deck.items():
        facet = assembly.decks[deck]
        inside = facet.plate.clearance([u.hole.centre for u in uses if u.hole is not None])
        diameters = np.array([u.hole.diameter for u in uses if u.hole is not None])
        webs = inside - diameters / 2
        thin: dict[tuple[str, str], list[int]] = {}
        over: dict[tuple[str, str], list[int]] = {}
        for n in np.flatnonzero(webs < least * diameters - SAME_LENGTH).tolist():
            thin.setdefault((uses[n].kind, uses[n].user), []).append(n)
        for n in np.flatnonzero(inside < 0.02).tolist():
            if inside[n] < _head(assembly, book, uses[n])[0] - SAME_LENGTH:
                over.setdefault((uses[n].kind, uses[n].user), []).append(n)
        for rows in thin.values():
            worst = min(rows, key=lambda n: float(webs[n]))
            yield _thin(assembly, facet, uses[worst], float(webs[worst]), least, len(rows))
        for rows in over.values():
            worst = min(rows, key=lambda n: float(inside[n]))
            yield _over(assembly, book, facet, uses[worst], float(inside[worst]), len(rows))


def _edge(facet: DeckFacet, use: BoltUse) -> str:
    assert use.hole is not None
    edge, number = facet.plate.which_edge(use.hole.centre)
    return f"cutout {number + 1}" if edge == "cutout" else "the edge of the plate"


def _who(use: BoltUse) -> str:
    return f"a standoff of {use.user}" if use.kind == "standoff" else use.user


def _hint(assembly: Assembly, use: BoltUse) -> str:
    if use.kind == "part":
        return remedy(assembly, assembly.parts[use.user])
    return "choose a hole further in"


def _thin(assembly: Assembly, facet: DeckFacet, use: BoltUse, web: float, least: float, number: int) -> Finding:
    assert use.hole is not None
    more = f" ({count(number - 1, 'more hole')} likewise)" if number > 1 else ""
    return finding("hole-near-edge", f"{name_of(use.hole)}, used by {_who(use)}, leaves {mm(max(web, 0.0))} of material "
                   f"to {_edge(facet, use)}{more}; wanted {mm(least * use.hole.diameter)}, {plain(least)} × its diameter",
                   hint=f"{_hint(assembly, use)}; or accept it for light loads (`edge_web`, `accept`)".lstrip("; "),
                   where=[use.mark, facet.deck.mark], of=[use.user, facet.deck.name], measured=web * 1e3,
                   allowed=least * use.hole.diameter * 1e3, unit="mm")


def _head(assembly: Assembly, book: HoleBook, use: BoltUse) -> tuple[float, str]:
    """Radius of what sits on the far face, and its name; 0 where nothing does or the size is not known."""
    assert use.hole is not None
    if any(u.face != use.face for u in book.users.get((use.hole.on, use.hole.hole), ())):
        return 0.0, ""  # something else is screwed on there
    tapped = use.kind == "standoff" or assembly.parts[use.user].part.tapped is not None
    if tapped:
        head = HEADS[assembly.layout.fasteners.head].get(use.screw)
        return (head.diameter / 2 if head is not None else 0.0), "head"
    return ISO_4032_NUT.get(use.screw, 0.0) / math.sqrt(3), "nut"


def _over(assembly: Assembly, book: HoleBook, facet: DeckFacet, use: BoltUse, inside: float, number: int) -> Finding:
    assert use.hole is not None
    radius, what = _head(assembly, book, use)
    washer = ISO_7089_WASHER.get(use.screw)
    more = f" ({count(number - 1, 'more hole')} likewise)" if number > 1 else ""
    note = f"; a washer there would be {mm(washer)} wide (ISO 7089)" if washer else ""
    return finding("head-over-edge", f"the {use.screw} {what} of {_who(use)} at {name_of(use.hole)} overhangs "
                   f"{_edge(facet, use)} by {mm(radius - inside)}{more}",
                   hint=f"{_hint(assembly, use)}{note}".lstrip("; "), where=[use.mark, facet.deck.mark],
                   of=[use.user, facet.deck.name], measured=inside * 1e3, allowed=radius * 1e3, unit="mm")
