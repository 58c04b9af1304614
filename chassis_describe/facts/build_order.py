"""In which order a robot is put together: nothing is covered before its screw is in.

Decks from the base up. On each deck every screw has an access point on each face where a head or nut is; whatever covers that
point (within the reach of a key) comes after it. A holder whose screws are behind its seat gets its part first, on the bench.
"""
from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Literal, NamedTuple

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.outlines import outlines_of
from chassis_describe.facts.root_decks import root_decks
from chassis_describe.facts.screws import screws_of
from chassis_describe.layout.model import Face, FixedTo, Stacked
from chassis_describe.space.plane.areas import Areas

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

#: A key, driver or socket needs this much room about the middle of a screw (m).
KEY_ROOM = 3.0e-3

#: A face and a point of it (m, deck) where a head or nut must be reached.
Spot = tuple[Face, tuple[float, float]]
Spots = tuple[Spot, ...]
_FACES: tuple[Face, ...] = ("top", "under")

#: Where more parts than this cover the screws of a step, no order is looked for.
_CROWD = 100


class BuildStep(NamedTuple):
    """One thing to do. ``part``: fix placement ``name``; ``standoffs``: put those that carry deck ``name`` on ``deck``;
    ``close``: put ``deck`` on them; ``cables``: before that; ``stand``: fix a standing plate.

    ``face``: of the deck that is worked on. ``covered``: what is in the way of a screw already, where no order avoids it.
    """

    kind: Literal["part", "standoffs", "cables", "close", "stand"]
    deck: str
    name: str
    face: Face
    covered: tuple[str, ...] = ()


@kept
def build_order(assembly: Assembly) -> tuple[BuildStep, ...]:
    """Every step with a screwdriver, and where cables are routed."""
    out: list[BuildStep] = []
    for deck in _decks(assembly):
        out += _deck_steps(assembly, deck)
    return tuple(out)


def _decks(assembly: Assembly) -> list[str]:
    """The base deck, then each after the deck that carries it."""
    order = [assembly.layout.base_deck.name]
    rest = [n for n in assembly.decks if n not in order]
    while rest:
        for name in rest:
            placing = assembly.decks[name].deck.placing
            needs = {placing.deck} if placing is not None else set()
            needs |= {g.on for g in placing.standoffs} if isinstance(placing, Stacked) else set()
            if needs <= set(order):
                order.append(name)
                rest.remove(name)
                break
        else:
            return [*order, *rest]
    return order


def _deck_steps(assembly: Assembly, deck: str) -> list[BuildStep]:
    steps: list[BuildStep] = []
    roots = root_decks(assembly)
    for name, facet in assembly.decks.items():
        placing = facet.deck.placing
        if isinstance(placing, Stacked) and any(g.on == deck for g in placing.standoffs):
            # The screw comes from the face that the standoff is not on.
            steps.append(BuildStep("standoffs", deck, name, "under" if placing.relation == "above" else "top"))
    steps += [BuildStep("part", deck, name, face) for name, (on, face) in roots.items() if on == deck]
    placing = assembly.decks[deck].deck.placing
    if isinstance(placing, Stacked):
        steps.append(BuildStep("close", deck, deck, "top" if placing.relation == "above" else "under"))
    elif isinstance(placing, FixedTo):
        steps.append(BuildStep("stand", deck, deck, "top"))
    ordered = _sorted(assembly, steps)
    if isinstance(placing, Stacked):
        k = next(k for k, s in enumerate(ordered) if s.kind == "close")
        ordered.insert(k, BuildStep("cables", deck, deck, "top"))
    return ordered


def _sorted(assembly: Assembly, steps: Sequence[BuildStep]) -> list[BuildStep]:
    """What must come first comes first; else the face that is up is finished before the plate is turned over."""
    import numpy as np

    covers = _Covers(assembly, steps)
    before = _before(assembly, steps, covers)
    count = len(steps)
    # How many steps a step still waits for, and how many of them can't be put off; counted down, since crowds have many.
    waits = np.array([len(reasons) for reasons in before], dtype=np.intp)
    firm = np.array([sum(why != "covers" for why in reasons.values()) for reasons in before], dtype=np.intp)
    after: list[list[int]] = [[] for _ in steps]
    firmly: list[list[int]] = [[] for _ in steps]
    for n, reasons in enumerate(before):
        for k, why in reasons.items():
            after[k].append(n)
            if why != "covers":
                firmly[k].append(n)
    last = np.array([{"part": 0, "standoffs": 0, "cables": 1, "stand": 1, "close": 1}[s.kind] for s in steps], dtype=np.intp)
    under = np.array([s.face == "under" for s in steps], dtype=bool)
    left = np.ones(count, dtype=bool)
    out: list[BuildStep] = []
    late: dict[int, list[str]] = {}
    turned = bool(under.any())
    for _ in steps:
        ready = np.flatnonzero(left & (waits == 0))
        if len(ready):
            k = int(ready[np.argmin(last[ready] * 2 + (under[ready] != turned))])
        else:  # a ring: something has to cover another's screws, and that one says so when its turn comes
            rest = np.flatnonzero(left)
            k = int(rest[np.argmin((firm[rest] > 0) * (count + 1) + waits[rest])])
            for n in before[k]:
                if left[n]:
                    late.setdefault(n, []).append(steps[k].name)
        hidden = covers.crowd(k)
        covered = [steps[n].name for n in hidden[~left[hidden]].tolist()] if len(hidden) else late.get(k, ())
        out.append(steps[k]._replace(covered=tuple(covered)))
        turned = bool(under[k])
        left[k] = False
        waits[after[k]] -= 1
        firm[firmly[k]] -= 1
    return out


def _before(assembly: Assembly, steps: Sequence[BuildStep], covers: _Covers) -> list[dict[int, str]]:
    """For each step, the steps that must be done first, and why."""
    number = {(s.kind, s.name): k for k, s in enumerate(steps)}
    before: list[dict[int, str]] = [{} for _ in steps]
    for k, step in enumerate(steps):
        for other in covers.over(k):
            before[other][k] = "covers"
        if step.kind == "part":
            placement = assembly.parts[step.name].placement
            carrier = number.get(("part", placement.on))
            if carrier is not None:
                if _behind(assembly, step.name):
                    before[carrier][k] = "bench"
                    before[k].pop(carrier, None)
                else:
                    before[k][carrier] = "carries"
    for k, step in enumerate(steps):
        if step.kind in ("close", "stand"):
            inner = "under" if step.face == "top" else "top"
            for other, other_step in enumerate(steps):
                if other != k and (other_step.kind == "standoffs" or (other_step.kind == "part" and other_step.face == inner)):
                    before[k][other] = "inside"
    return before


class _Covers:
    """Which steps' parts cover the screws of which. Crowds share spots, and sets of them: each is looked at once."""

    def __init__(self, assembly: Assembly, steps: Sequence[BuildStep]) -> None:
        import numpy as np

        outlines = outlines_of(assembly)
        parts = [(k, outlines[s.name]) for k, s in enumerate(steps) if s.kind == "part" and s.name in outlines]
        spots = access_points(assembly)
        self._numbers = {face: [k for k, o in parts if o.face == face] for face in _FACES}
        self._areas = {face: Areas([o.area for _, o in parts if o.face == face]) for face in _FACES}
        self._over_spot: dict[Spot, tuple[int, ...]] = {}
        self._over_spots: dict[Spots, tuple[int, ...]] = {}
        self._over: list[tuple[int, ...]] = []
        self._crowds: dict[int, npt.NDArray[np.intp]] = {}
        self._nobody = np.zeros(0, dtype=np.intp)
        for k, step in enumerate(steps):
            carriers = _carriers(assembly, step.name)
            found = tuple(n for n in self._over_all(spots.get((step.kind, step.name, step.deck), ()))
                          if n != k and steps[n].name not in carriers)
            self._over.append(found if len(found) <= _CROWD else ())
            if len(found) > _CROWD:
                self._crowds[k] = np.array(found, dtype=np.intp)

    def over(self, step: int) -> tuple[int, ...]:
        """The steps whose parts cover screws of this one; none where so many do that no order helps."""
        return self._over[step]

    def crowd(self, step: int) -> npt.NDArray[np.intp]:
        """The steps whose parts cover screws of this one where they are so many; else none."""
        return self._crowds.get(step, self._nobody)

    def _over_all(self, spots: Spots) -> tuple[int, ...]:
        if spots not in self._over_spots:
            self._over_spots[spots] = tuple(sorted({k for spot in spots for k in self._over_one(spot)}))
        return self._over_spots[spots]

    def _over_one(self, spot: Spot) -> tuple[int, ...]:
        from shapely.geometry import Point

        if spot not in self._over_spot:
            face, at = spot
            found = self._areas[face].meeting(Point(at).buffer(KEY_ROOM))
            self._over_spot[spot] = tuple(self._numbers[face][n] for n in found)
        return self._over_spot[spot]


def _carriers(assembly: Assembly, name: str) -> frozenset[str]:
    """The placements that carry one, at any remove."""
    out = set()
    while name in assembly.parts and assembly.parts[name].deck is None:
        name = assembly.parts[name].placement.on
        out.add(name)
    return frozenset(out)


def _behind(assembly: Assembly, name: str) -> bool:
    """Whether a part's screws to its holder come from behind the seat, and the holder is on a deck by its own screws."""
    carrier = assembly.parts[name].placement.on
    holder = assembly.parts.get(carrier)
    return holder is not None and holder.deck is not None and any(
        s.deck is None and name in s.users and (s.head == "seat" or s.into == "nut") for s in screws_of(assembly))


@kept
def access_points(assembly: Assembly) -> Mapping[tuple[str, str, str], Spots]:
    """By (kind, name, deck) of a step: where heads and nuts must be reached."""
    out: dict[tuple[str, str, str], Spots] = {}
    for screw in screws_of(assembly):
        if screw.deck is None:
            continue
        faces: tuple[Face, ...] = ("top", "under") if screw.into == "nut" else ("top",) if screw.head == "top" else ("under",)
        for user in screw.users:
            if user in assembly.parts:
                key = ("part", user, screw.deck)
            else:
                key = ("close" if user == screw.deck else "standoffs", user, screw.deck)
            out[key] = (*out.get(key, ()), *((face, screw.at) for face in faces))
    return out
