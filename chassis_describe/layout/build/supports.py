"""What a placement's ``on`` means: a deck, or a seat or shaft of another placement."""
from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from chassis_describe.layout.build.mirror import PlacementKeys
from chassis_describe.layout.language.reading import KeyPath, Reading
from chassis_describe.layout.model import Part
from chassis_describe.yaml_text.nodes import Node


class Support(NamedTuple):
    """``kind`` deck, seat or shaft; the deck or placement; the name of the seat or shaft."""

    kind: str
    on: str
    place: str | None


class Supports:
    """Looks up ``on`` among decks and placements. ``part_of`` gives the part of a placement, or None."""

    def __init__(self, r: Reading, decks: Mapping[str, Any], placements: Mapping[str, Any],
                 part_of: Callable[[str], Part | None]) -> None:
        self.r, self.decks, self.placements, self.part_of = r, decks, placements, part_of
        self.motors: list[str] | None = None

    def of(self, name: str, written: PlacementKeys, part: Part | None) -> Support | None:
        """What carries a placement, or None after a report."""
        text: str | None = written.get("on")
        if text is None:
            return None
        r = self.r
        wheel = part is not None and part.wheel is not None
        if text in self.decks:
            if wheel:
                r.fault("bad-value", f"`{part.name}` is a wheel, and a wheel goes on a shaft",  # type: ignore[union-attr]
                        written.at("on"), written.within("on"), hint=self._a_shaft())
                return None
            return Support("deck", text, None)
        node, path = written.at("on"), written.within("on")
        carrier, dot, place = text.partition(".")
        if carrier in self.decks:
            r.fault("bad-value", f"`{carrier}` is a deck and has no seats or shafts", node, path,
                    hint=f"write `on: {carrier}`, and the hole with `at`")
            return None
        if carrier not in self.placements:
            if not self.decks:
                return None  # none was read, which is reported; one fault here for each placement would bury it
            known = (n for n in (*self.decks, *self.placements) if n != name)
            r.unknown("unknown-name", "a deck or a placement", carrier, known, node, path)
            return None
        if carrier == name:
            r.fault("tree", f"`{name}` can't stand on itself", node, path, hint="name what carries it")
            return None
        base = self.part_of(carrier)
        if base is None or part is None:
            return None
        return self._place(carrier, base, place if dot else None, part, node, path)

    def _place(self, carrier: str, base: Part, place: str | None, part: Part, node: Node, path: KeyPath) -> Support | None:
        r, wheel = self.r, part.wheel is not None
        kind = "shaft" if wheel else "seat"
        fitting: Mapping[str, Any] = base.shafts if wheel else base.seats
        others: Mapping[str, Any] = base.seats if wheel else base.shafts
        also = [base.mark]
        if place is None:
            if len(fitting) == 1:
                return Support(kind, carrier, next(iter(fitting)))
            if not wheel:  # a seat without holes may carry bodies only, such as a finger
                with_holes = [n for n, seat in base.seats.items() if seat.bolts or seat.lattice is not None]
                if len(with_holes) == 1:
                    return Support(kind, carrier, with_holes[0])
            if fitting:
                r.fault("bad-value", f"`{base.name}` has {len(fitting)} {kind}s; say which", node, path,
                        hint="one of " + ", ".join(f"`{carrier}.{n}`" for n in fitting), also=also)
            elif not others:
                r.fault("bad-value", f"nothing can be fixed to `{carrier}`: its part `{base.name}` has no seats and no "
                        "shafts", node, path, hint="name a deck or another placement", also=also)
            elif wheel:
                r.fault("bad-value", f"`{part.name}` is a wheel and goes on a shaft; `{base.name}` has none", node,
                        path, hint=self._a_shaft(), also=also)
            else:
                r.fault("bad-value", f"only a wheel goes on a shaft, and `{base.name}` has no seat for `{part.name}`",
                        node, path, hint="name a deck, or a placement with a seat", also=also)
            return None
        if place in fitting:
            return Support(kind, carrier, place)
        if place in others:
            why = (f"`{place}` is a seat, and the wheel `{part.name}` goes on a shaft" if wheel else
                   f"`{place}` is a shaft, and `{part.name}` is no wheel")
            r.fault("bad-value", why, node, path, hint="one of " + ", ".join(f"`{carrier}.{n}`" for n in fitting)
                    if fitting else f"`{base.name}` has no {kind}", also=also)
            return None
        r.unknown("unknown-name", f"a seat or shaft of `{base.name}`", place, [*base.seats, *base.shafts], node, path,
                  also=also)
        return None

    def _a_shaft(self) -> str:
        if self.motors is None:
            self.motors = [n for n in self.placements if (p := self.part_of(n)) is not None and p.shafts]
        if self.motors:
            return "name a motor: " + ", ".join(f"`on: {n}`" for n in self.motors[:4])
        return "place a motor (a part with `shafts`) first, and name it here"
