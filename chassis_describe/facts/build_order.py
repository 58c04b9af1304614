"""In which order a robot is put together: nothing is covered before its screw is in.

Decks from the base up. On each deck every screw has an access point on each face where a head or nut is; whatever covers that
point (within the reach of a key) comes after it. A holder whose screws are behind its seat gets its part first, on the bench.
"""
from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal, NamedTuple

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.outlines import outlines_of
from chassis_describe.facts.root_decks import root_decks
from chassis_describe.facts.screws import screws_of
from chassis_describe.layout.model import Face, FixedTo, Stacked

#: A key, driver or socket needs this much room about the middle of a screw (m).
KEY_ROOM = 3.0e-3


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
    before = _before(assembly, steps)
    last = {"part": 0, "standoffs": 0, "cables": 1, "stand": 1, "close": 1}
    left = list(range(len(steps)))
    done: set[int] = set()
    # How many steps a step still waits for, and how many of them can't be put off; counted down, since crowds have many.
    waits = [len(reasons) for reasons in before]
    firm = [sum(why != "covers" for why in reasons.values()) for reasons in before]
    after: list[list[int]] = [[] for _ in steps]
    for n, reasons in enumerate(before):
        for k in reasons:
            after[k].append(n)
    out: list[BuildStep] = []
    late: dict[int, list[str]] = {}
    face: Face = "under" if any(s.face == "under" for s in steps) else "top"
    while left:
        ready = [k for k in left if not waits[k]]
        if ready:
            k = min(ready, key=lambda n: (last[steps[n].kind], steps[n].face != face, n))
        else:  # a ring: something has to cover another's screws, and that one says so when its turn comes
            k = min(left, key=lambda n: (firm[n] > 0, waits[n], n))
            for n in before[k].keys() - done:
                late.setdefault(n, []).append(steps[k].name)
        out.append(steps[k]._replace(covered=tuple(late.get(k, ()))))
        face = steps[k].face
        done.add(k)
        left.remove(k)
        for n in after[k]:
            waits[n] -= 1
            firm[n] -= before[n][k] != "covers"
    return out


def _before(assembly: Assembly, steps: Sequence[BuildStep]) -> list[dict[int, str]]:
    """For each step, the steps that must be done first, and why."""
    from shapely.geometry import Point

    number = {(s.kind, s.name): k for k, s in enumerate(steps)}
    before: list[dict[int, str]] = [{} for _ in steps]
    outlines = outlines_of(assembly)
    spots = access_points(assembly)
    for k, step in enumerate(steps):
        for face, at in spots.get((step.kind, step.name, step.deck), ()):
            spot = Point(at).buffer(KEY_ROOM)
            for other, other_step in enumerate(steps):
                if other_step.kind != "part" or other == k:
                    continue
                cover = outlines.get(other_step.name)
                if cover is not None and cover.face == face and cover.area.intersects(spot) and not _carries(
                        assembly, other_step.name, step.name):
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


def _carries(assembly: Assembly, carrier: str, name: str) -> bool:
    """Whether a placement carries another, at any remove."""
    while name in assembly.parts and assembly.parts[name].deck is None:
        name = assembly.parts[name].placement.on
        if name == carrier:
            return True
    return False


def _behind(assembly: Assembly, name: str) -> bool:
    """Whether a part's screws to its holder come from behind the seat, and the holder is on a deck by its own screws."""
    carrier = assembly.parts[name].placement.on
    holder = assembly.parts.get(carrier)
    return holder is not None and holder.deck is not None and any(
        s.deck is None and name in s.users and (s.head == "seat" or s.into == "nut") for s in screws_of(assembly))


@kept
def access_points(assembly: Assembly) -> Mapping[tuple[str, str, str], tuple[tuple[Face, tuple[float, float]], ...]]:
    """By (kind, name, deck) of a step: the faces and points (m, deck) where a head or nut must be reached."""
    out: dict[tuple[str, str, str], tuple[tuple[Face, tuple[float, float]], ...]] = {}
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
