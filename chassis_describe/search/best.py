"""The places of a part, tried and ranked."""
from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Literal, NamedTuple

from chassis_describe.assembly.lattice import lattice_point
from chassis_describe.assembly.model import Assembly, PlacedPart
from chassis_describe.errors import UsageError
from chassis_describe.facts.bodies import bodies_of
from chassis_describe.facts.known import known_deck, known_placement
from chassis_describe.facts.landings import Landing, landings, part_in_plane
from chassis_describe.layout.model import Face
from chassis_describe.search.group import now_landing
from chassis_describe.search.judge import Score, Told, Verdict, score_of, warnings_of
from chassis_describe.values import dataclass

Criterion = Literal["view", "tip", "com", "footprint"]
CRITERIA: tuple[Criterion, ...] = ("view", "tip", "com", "footprint")
#: Heavier than this (kg), what moves decides how the robot stands (our choice: a battery, a computer in its case).
HEAVY = 0.25
#: So many of the best are told.
TOLD = 10
#: Of places that are as good as one another so many are told at once.
_AT_ONCE = 64

#: Verdicts of many places, in their order; what may share them out among processes.
Run = Callable[[Sequence[Landing]], Iterable[Verdict]]


class Place(NamedTuple):
    """A place with its figures; ``com_shift``: of the robot's centre of mass from now (m). ``away``: holes from now."""

    to: Landing | None  # None: where it is now, on a seat
    score: Score
    com_shift: float
    away: float
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Question:
    """What is asked: which decks and faces, with which turns (rad) on each of them, in which order criteria count."""

    placement: str
    decks: tuple[str, ...]
    faces: tuple[Face, ...]
    turns: Mapping[tuple[str, Face], tuple[float, ...]]
    prefer: tuple[Criterion, ...]


@dataclass(frozen=True, kw_only=True)
class Places:
    """The answer. ``every``: each place that was tried with its verdict; ``best``: the first ones, ranked, warnings told."""

    question: Question
    now: Place
    every: tuple[tuple[Landing, Verdict], ...]
    refused: Mapping[str, int]
    best: tuple[Place, ...]

    @property
    def tried(self) -> int:
        return len(self.every)

    @property
    def fits(self) -> int:
        return sum(1 for _, v in self.every if v.refused is None)


def question(assembly: Assembly, placement: str, *, on: Sequence[str] = (), face: str | None = None, quarter: bool = False,
             prefer: Sequence[Criterion] = ()) -> Question:
    """The question with what was left open filled in. Raises UsageError for names that are none."""
    placed = known_placement(assembly, placement)
    if placed.placement.support == "shaft":
        raise UsageError(f"`{placement}` is a wheel on a shaft: ask where `{placed.placement.on}` could go, which carries it")
    for name in on:
        known_deck(assembly, name)
    now: Face = placed.face or "top"
    faces: tuple[Face, ...] = ("top", "under") if face == "both" else (face,) if face is not None else (now,)  # type: ignore[assignment]
    decks = tuple(d for d in assembly.decks if not on or d in on)
    turns = {(d, f): tuple(math.remainder(turn + k * math.pi / 2, math.tau) for k in range(4)) if quarter else (turn,)
             for d in decks for f in faces for turn in (kept_turn(assembly, placed, d, f),)}
    return Question(placement=placement, decks=decks, faces=faces, turns=turns, prefer=tuple(prefer) or usual(assembly, placed))


def kept_turn(assembly: Assembly, placed: PlacedPart, deck: str, face: Face) -> float:
    """The turn (rad) with which a part points on a face of a deck as it points now: another on the other face, on a deck that is
    turned, or off a seat that is. What points along the deck's normal keeps its number."""
    if (deck, face) == (placed.deck, placed.face):
        return placed.turn
    x, y, _ = assembly.decks[deck].pose.inverse().vector(placed.pose.vector((1.0, 0.0, 0.0)))
    if math.hypot(x, y) < 1e-6:
        return placed.turn
    turn = math.atan2(-y if face == "under" else y, x)
    if abs(math.remainder(turn - placed.turn, math.tau)) < 1e-9:
        return placed.turn
    return math.radians(round(math.degrees(turn), 6) + 0.0)  # as finely as it can be written


def usual(assembly: Assembly, placed: PlacedPart) -> tuple[Criterion, ...]:
    """What counts for a part where nobody says: of a lidar its view, of heavy things how the robot stands."""
    members = bodies_of(assembly).carried_by(placed.name)
    if any(s.sensor.kind == "lidar" and s.placement in members for s in assembly.sensors):
        return ("view", "tip")
    mass = sum(link.inertial.mass for link in assembly.links if link.owner in members and link.inertial is not None)
    return ("tip", "com") if mass >= HEAVY else ("com", "footprint")


def landings_for(assembly: Assembly, asked: Question) -> list[Landing]:
    """Every place where all bolts land on holes, in the order that decides last: deck, face, i, j, turn."""
    placed = assembly.parts[asked.placement]
    return [place for deck in asked.decks for face in asked.faces
            for place in sorted((a for turn in asked.turns[deck, face] for a in landings(assembly, placed, deck, face, turn)),
                                key=lambda a: (a.at, asked.turns[deck, face].index(a.turn)))]


def ranked(assembly: Assembly, asked: Question, run: Run, tell: Callable[[Sequence[Landing]], Iterable[Told]]) -> Places:
    """Every place judged by ``run``; ties of the best settled by their warnings, which ``tell`` finds."""
    tried = landings_for(assembly, asked)
    every = tuple(zip(tried, run(tried)))
    placed = assembly.parts[asked.placement]
    score = score_of(assembly)
    now = Place(now_landing(placed), score, 0.0, 0.0, warnings_of(assembly))
    fitting = [Place(to, v.score, _apart(v.score, score), _away(assembly, placed, to)) for to, v in every if v.score is not None]
    groups: dict[tuple[float, ...], list[Place]] = {}
    for place in fitting:
        groups.setdefault(_rank(place.score, place.com_shift, asked.prefer), []).append(place)
    best: list[Place] = []
    order = {to: n for n, to in enumerate(tried)}
    for key in sorted(groups):
        if len(best) >= TOLD:
            break
        ties = sorted(groups[key], key=lambda p: (round(p.away, 6), order[p.to] if p.to is not None else -1))
        told: list[Place] = []
        # Thousands may be as good as one another. With enough without any warning, what is further away is no better.
        while len(told) < len(ties) and sum(not p.warnings for p in told) < TOLD - len(best):
            some = ties[len(told):len(told) + _AT_ONCE]
            told += [p._replace(warnings=t.warnings, score=p.score._replace(footprint=t.footprint))
                     for p, t in zip(some, tell([p.to for p in some if p.to is not None]))]
        best += sorted(told, key=lambda p: len(p.warnings))  # which keeps the order of equals
    return Places(question=asked, now=now, every=every, best=tuple(best[:TOLD]),
                  refused=dict(sorted(Counter(v.refused for _, v in every if v.refused is not None).items())))


def rank_of(found: Places, verdict: Verdict) -> tuple[float, ...]:
    """What a place that fits is ranked by, smaller is better; warnings and way aside."""
    assert verdict.score is not None
    return _rank(verdict.score, _apart(verdict.score, found.now.score), found.question.prefer)


def _rank(s: Score, com_shift: float, prefer: Sequence[Criterion]) -> tuple[float, ...]:
    """The criteria in order, rounded: 1° of blocked view and of tip angle, 5 mm of the centre of mass, 1000 mm² of footprint."""
    figures: dict[Criterion, float] = {
        "view": round(math.degrees(s.blocked)), "tip": -round(math.degrees(s.tip)) if s.tip is not None else 0,
        "com": round(com_shift / 0.005), "footprint": round(s.footprint / 1e-3) if s.footprint is not None else 0}
    return tuple(figures[p] for p in prefer)


def _apart(one: Score, other: Score) -> float:
    return math.dist(one.com, other.com) if one.com is not None and other.com is not None else 0.0


def _away(assembly: Assembly, placed: PlacedPart, to: Landing) -> float:
    """Holes between two places: along its deck, or through space to the other face or another deck."""
    if (placed.deck, placed.face) == (to.on, to.face) and placed.at is not None:
        return math.dist(placed.at, to.at)
    facet = assembly.decks[to.on]
    lattice = facet.deck.lattice
    assert lattice is not None  # of a deck without one no place is tried
    there = part_in_plane(placed, to.face, to.turn, lattice_point(lattice, to.at), facet.deck.thickness)
    return math.dist((facet.pose @ there).t, placed.pose.t) / lattice.pitch
