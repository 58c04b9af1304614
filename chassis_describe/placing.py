"""Where a part could go: the line for ``places``, and for plans that are coloured by its answer.

Places are judged one by one, shared out among processes in pieces whose order is kept, so that any number of them gives one answer.
"""
from __future__ import annotations

import math
import os
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from decimal import Decimal
from pathlib import Path
from typing import NamedTuple, TypeVar

from chassis_describe.assembly.lattice import lattice_point
from chassis_describe.assembly.model import Assembly
from chassis_describe.changes.move import Request
from chassis_describe.changes.result import MoveResult
from chassis_describe.changing import move
from chassis_describe.disk.ours import write_ours
from chassis_describe.drawings.heat import Spot, heat_pages
from chassis_describe.drawings.paper import MARK
from chassis_describe.drawings.table import ending_of_pages, pages_as
from chassis_describe.errors import UsageError
from chassis_describe.facts.landings import Landing
from chassis_describe.layout.model import Face
from chassis_describe.search.best import Place, Places, Question, landings_for, question, rank_of, ranked
from chassis_describe.search.group import now_landing
from chassis_describe.search.judge import Judge, Told, Verdict, score_of
from chassis_describe.values import replace

__all__ = ["HoleAnswer", "Search", "draw", "ending_of_pages", "places", "put", "question", "spots_of"]

_T = TypeVar("_T")
#: Told how many of how many places are judged.
Progress = Callable[[int, int], None]
#: Fewer places than this are judged by one process: starting others takes as long.
_FEW = 64
_PIECE = 16

_judge: Judge | None = None  # in a process that judges: what it asks


def places(assembly: Assembly, asked: Question, *, workers: int | None = None, progress: Progress | None = None) -> Places:
    """Every place judged, the best ranked. Raises LayoutError where the robot without the part can't be put together."""
    judge = Judge(assembly, asked.placement, area="footprint" in asked.prefer)
    count = workers if workers is not None else os.cpu_count() or 1

    def run(tried: Sequence[Landing]) -> list[Verdict]:
        done: list[Verdict] = []
        for verdict in _shared(judge, tried, _verdicts, count):
            done.append(verdict)
            if progress is not None:
                progress(len(done), len(tried))
        return done

    return ranked(assembly, asked, run, lambda tried: list(_shared(judge, tried, _told, count)))


def _shared(judge: Judge, tried: Sequence[Landing], work: Callable[[Sequence[Landing]], list[_T]], count: int) -> Iterator[_T]:
    """The answers in the order of the places."""
    global _judge  # noqa: PLW0603 - handed to the processes by their birth, not by a pipe
    import multiprocessing

    _judge = judge
    pieces = [tried[k:k + _PIECE] for k in range(0, len(tried), _PIECE)]
    try:
        if count < 2 or len(tried) < _FEW or "fork" not in multiprocessing.get_all_start_methods():
            for piece in pieces:
                yield from work(piece)
            return
        with multiprocessing.get_context("fork").Pool(min(count, len(pieces))) as pool:
            for answers in pool.imap(work, pieces):
                yield from answers
    finally:
        _judge = None


def _verdicts(piece: Sequence[Landing]) -> list[Verdict]:
    assert _judge is not None
    return [_judge(to) for to in piece]


def _told(piece: Sequence[Landing]) -> list[Told]:
    assert _judge is not None
    return [_judge.told(to) for to in piece]


class HoleAnswer(NamedTuple):
    """What a plan shows at one place of a deck: ``at`` in holes, ``point`` in the deck's plane (m), ``turn`` (rad). ``refused``:
    the code of the error that it would have there; else ``rank``, 0 the best of all that fit, equal where they are as good."""

    at: tuple[float, float]
    point: tuple[float, float]
    turn: float
    refused: str | None
    rank: int | None


def spots_of(assembly: Assembly, found: Places, deck: str, face: str) -> tuple[HoleAnswer, ...]:
    """The answer for one face of one deck, place by place; of several turns in one place the best."""
    keys = {to: rank_of(found, v) for to, v in found.every if v.score is not None}
    order = {key: n for n, key in enumerate(sorted(set(keys.values())))}
    lattice = assembly.decks[deck].deck.lattice
    best: dict[tuple[float, float], HoleAnswer] = {}
    for to, verdict in found.every:
        if (to.on, to.face) != (deck, face):
            continue
        rank = order[keys[to]] if to in keys else None
        answer = HoleAnswer(to.at, lattice_point(lattice, to.at), to.turn, verdict.refused, rank)
        old = best.get(to.at)
        if old is None or (rank is not None and (old.rank is None or rank < old.rank)):
            best[to.at] = answer
    return tuple(best.values())


class Search:
    """The answer for one face of one deck and one turn (rad), worked out bit by bit in this thread."""

    def __init__(self, assembly: Assembly, placement: str, deck: str, face: Face, turn: float, like: Search | None = None) -> None:
        """``like``: a search for the same placement of the same robot, whose judge knows them. Raises UsageError, LayoutError."""
        self.assembly, self.deck, self.face = assembly, deck, face
        self.asked = replace(question(assembly, placement, on=[deck], face=face), turns={(deck, face): (turn,)})
        self.judge: Judge = like.judge if like is not None else Judge(assembly, placement, area="footprint" in self.asked.prefer)
        self.now: Place = like.now if like is not None else Place(now_landing(assembly.parts[placement]), score_of(assembly),
                                                                  0.0, 0.0)
        self.tried = landings_for(assembly, self.asked)
        self.verdicts: list[Verdict] = []

    def go_on(self, seconds: float) -> None:
        """Judge the next place, and more of them until the time is over."""
        end = time.monotonic() + seconds
        while len(self.verdicts) < len(self.tried):
            self.verdicts.append(self.judge(self.tried[len(self.verdicts)]))
            if time.monotonic() >= end:
                return

    def spots(self) -> tuple[HoleAnswer, ...]:
        """What is known by now."""
        found = Places(question=self.asked, now=self.now, every=tuple(zip(self.tried, self.verdicts)), best=(), refused={})
        return spots_of(self.assembly, found, self.deck, self.face)


def draw(assembly: Assembly, found: Places, out: str, *, inputs: Iterable[str] = (), replace: bool = False) -> bool:
    """A heat map on the plans of the decks that were asked about; whether anything changed in the file. Raises TargetError."""
    maps: dict[tuple[str, Face], list[Spot]] = {}
    for deck in found.question.decks:
        for face in found.question.faces:
            spots = spots_of(assembly, found, deck, face)
            most = max((s.rank for s in spots if s.rank is not None), default=0)
            if spots:
                maps[deck, face] = [Spot((s.point[0] * 1e3, s.point[1] * 1e3), s.at,
                                         None if s.rank is None else 1.0 - s.rank / (most + 1), s.refused) for s in spots]
    if not maps:
        raise UsageError(f"`{found.question.placement}` fits no holes of {', '.join(found.question.decks)}, so nothing is drawn")
    return write_ours(Path(out), pages_as(heat_pages(assembly, found.question.placement, maps), out,
                                          f"{assembly.robot}: places for {found.question.placement}"),
                      MARK, replace=replace, inputs=inputs)


def put(path: str, found: Places, number: int, *, overlays: Sequence[str] = ()) -> MoveResult:
    """Move the placement to place ``number`` of the best (from 1). Raises UsageError where there is none."""
    if not 1 <= number <= len(found.best):
        raise UsageError(f"{len(found.best)} places are told for `{found.question.placement}`, and {number} is none of them")
    to = found.best[number - 1].to
    assert to is not None
    return move(path, Request(placement=found.question.placement, to=(_decimal(to.at[0]), _decimal(to.at[1])), on=to.on,
                              face=to.face, turn=_decimal(math.degrees(to.turn))), overlays=overlays)


def _decimal(value: float) -> Decimal:
    return Decimal(repr(round(value, 6))) + 0
