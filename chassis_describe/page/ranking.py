"""Where the part that is being moved could go on its deck, as ``places`` judges it: what the plan is coloured by.

A place takes a few milliseconds to judge, or some hundred where wheels or mirror images move along; so an answer tells how far it
is, and the page asks again until it is whole.
"""
from __future__ import annotations

import math
import threading
from typing import Any, NamedTuple

from chassis_describe.assembly.model import Assembly
from chassis_describe.page.numbers import short
from chassis_describe.placing import HoleAnswer, Search

#: How long one answer works (s): the page stays quick, and a part that is put down or turned wastes no more.
_WORKS = 0.7
#: Searches that are kept: a part is turned to and fro.
_KEPT = 8


class _Asked(NamedTuple):
    revision: str
    of: str
    turn: float


class Ranking:
    """The searches of one page. For several threads: one at a time goes on."""

    def __init__(self) -> None:
        self._work = threading.Lock()
        self._searches: dict[_Asked, Search] = {}

    def answer(self, assembly: Assembly, revision: str, name: str, turn: float, seconds: float = _WORKS) -> dict[str, Any]:
        """The places of one face of the part's deck, turned by ``turn`` degrees, that are judged by now: ``judged`` of ``tried``.

        Raises UsageError, LayoutError.
        """
        placed = assembly.parts[name]
        said = {"of": name, "turn": short(turn, 9)}
        if placed.deck is None:
            return {**said, "spots": [], "ranks": 0, "by": [], "judged": 0, "tried": 0}
        asked = _Asked(revision, name, turn)
        with self._work:
            search = self._searches.get(asked)
            if search is None:
                like = next((s for k, s in self._searches.items() if k[:2] == asked[:2]), None)
                search = Search(assembly, name, placed.deck, placed.face or "top", math.radians(turn), like)
                self._searches = dict([*self._searches.items(), (asked, search)][-_KEPT:])
            search.go_on(seconds)
            spots = search.spots()
        ranks = {s.rank for s in spots if s.rank is not None}
        return {**said, "spots": [_spot(s) for s in spots], "ranks": len(ranks), "by": list(search.asked.prefer),
                "judged": len(search.verdicts), "tried": len(search.tried)}


def _spot(spot: HoleAnswer) -> dict[str, Any]:
    return {"at": [short(v, 9) for v in spot.at], "rank": spot.rank, "refused": spot.refused}
