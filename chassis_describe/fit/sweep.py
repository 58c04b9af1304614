"""What moves while the robot runs, over its range: ``range-blocked``; and at which values of the joints a sensor was judged."""
from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace

from chassis_describe.assembly.model import Assembly, MovingFacet
from chassis_describe.facts.sweep import Way, span_of, ways_of
from chassis_describe.findings import Finding, finding
from chassis_describe.fit.overlap import owner_mark
from chassis_describe.fit.remedy_words import owner_words
from chassis_describe.words import amount_words, listing

#: What is left of a range at its end without being said (rad, m): less than the play of a servo horn or a screw.
SLIGHT = {"turn": math.radians(0.1), "slide": 0.0001}


def range_free(assembly: Assembly) -> Iterator[Finding]:
    """``range-blocked``: how far each joint goes, one at a time, and what is in the way."""
    for way in ways_of(assembly):
        facet, (low, high) = way.facet, span_of(way.facet)
        kind = facet.adjustment.kind
        below = way.below if way.low - low > SLIGHT[kind] else ()
        above = way.above if high - way.high > SLIGHT[kind] else ()
        if not way.clear or not (below or above):
            continue  # what it touches where it is, is an overlap
        said = "; ".join(f"{word} that it meets {listing(map(owner_words, owners))}"
                         for word, owners in (("below", below), ("above", above)) if owners)
        owners = tuple(dict.fromkeys((*below, *above)))
        yield finding(
            "range-blocked", f"{facet.placement} goes free from {amount_words(way.low, kind, 1)} to "
            f"{amount_words(way.high, kind, 1)} of `{facet.adjustment.name}`, whose range is {_range(facet)}; {said}",
            hint=_hint(facet, way),
            where=[facet.mark, facet.adjustment.mark, *(owner_mark(assembly, o) for o in owners)],
            of=list(dict.fromkeys((facet.placement, *(o[1] for o in owners)))), measured=_in_unit(way.high - way.low, kind),
            allowed=_in_unit(high - low, kind), unit="deg" if kind == "turn" else "mm")


def _in_unit(value: float, kind: str) -> float:
    return math.degrees(value) if kind == "turn" else value * 1e3


def _range(facet: MovingFacet) -> str:
    if facet.adjustment.range is None:
        return "endless"
    low, high = facet.adjustment.range
    return f"{amount_words(low, facet.adjustment.kind, 1)} to {amount_words(high, facet.adjustment.kind, 1)}"


def _hint(facet: MovingFacet, way: Way) -> str:
    """A range that stays inside, in whole degrees or millimetres."""
    kind = facet.adjustment.kind
    low, high = math.ceil(_in_unit(way.low, kind) - 1e-6), math.floor(_in_unit(way.high, kind) + 1e-6)
    narrow = f", or narrow it: `range: [{low}, {high}]`" if low < high else ""
    return f"move what is in the way{narrow}"


Check = Callable[[Assembly], Iterable[Finding]]


def at_values_in_force(rule: Check) -> Check:
    """The rule, saying of sensors that move at which values of the joints it looked."""
    def said(assembly: Assembly) -> Iterator[Finding]:
        for item in rule(assembly):
            where = _values(assembly, item.of[0]) if item.of and assembly.moving else ""
            yield replace(item, message=f"{item.message} (looked at with {where})") if where else item

    return said


def _values(assembly: Assembly, placement: str) -> str:
    """``neck pan at 10°``: what moves between the base and the sensors of a placement."""
    parents = {joint.child: joint.parent for joint in assembly.joints}
    by_link = {m.link: m for m in assembly.moving}
    words: dict[str, None] = {}
    for facet in assembly.sensors:
        link: str | None = facet.frame if facet.placement == placement else None
        while link is not None:
            moving = by_link.get(link)
            if moving is not None:
                value = amount_words(moving.value, moving.adjustment.kind, 1)
                words[f"{moving.placement} {moving.adjustment.name} at {value}"] = None
            link = parents.get(link)
    return listing(reversed(list(words))) if words else ""
