"""How far each frame may be from where the file says, because holes are larger than screws (DEVELOPERS.md, "Play").

A bolt can shift c = (H - d)/2 + (h - d)/2 with lattice hole H, part hole h (d where it is tapped) and screw d (ISO 262
nominal). A rigid part whose bolts may each shift by c turns about the point that is nearest to the furthest bolt, the
centre of the least circle around them (radius R): by 2·asin(c / 2R) at most, and that centre shifts by c at most.
A screw that stands in a slot can go along it too, from where it stands to the further end, (L - W)/2 from the middle
(``facts/slack.py``). All of this is an upper bound.
Along a chain of supports the worst cases add: shifts, twists, twist times lever arm.
"""
from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, BoltUse, DeckFacet
from chassis_describe.facts.bolting import bolts_of
from chassis_describe.facts.slack import Pivot, SlackScrew, slack
from chassis_describe.layout.model import Stacked
from chassis_describe.space.plane.circle import least_circle
from chassis_describe.space.pose import Pose, Vec3
from chassis_describe.tolerances import SAME_LENGTH
from chassis_describe.values import dataclass, replace


@dataclass(frozen=True, slots=True, kw_only=True)
class Play:
    """Envelope of a frame against base_link: ``shift`` of its origin (m), ``twist`` (rad).

    ``chain``: the decks and placements whose fixing adds to it, from the base outwards. ``free``: something in the chain
    can turn as it likes (one bolt only); the twist is then π.
    """

    shift: float
    twist: float
    chain: tuple[str, ...] = ()
    free: bool = False


class _Joint(NamedTuple):
    """One fixing: it twists about a line along ``axis`` (unit) through each of ``pivots``, which shifts by so much; each is
    a bound of its own. In base_link."""

    name: str
    twist: float
    pivots: tuple[tuple[Vec3, float], ...]
    axis: Vec3


class _Broken(NamedTuple):
    """A fixing without a figure: ``owner`` is taped, strapped, or held by nothing."""

    owner: str


_Chain = tuple[_Joint, ...]


@kept
def play_of(assembly: Assembly) -> Mapping[str, Play | None]:
    """The envelope of every frame, by name; None where something in its chain has no figure (see ``play_breaks``).

    Everything on the base deck's own plate is zero, a plate that is ``fixed_to`` another stands as given.
    """
    chains = _chains(assembly)
    out: dict[str, Play | None] = {}
    for link in assembly.links:
        options = chains[link.owner] if link.owner else [()]
        out[link.name] = None if isinstance(options, _Broken) else _envelope(options, assembly.poses[link.name].t)
    return out


def play_at(assembly: Assembly, owner: str, point: Vec3) -> Play | None:
    """The envelope at any point (in base_link, m) that moves with a deck or placement; None where it has no figure."""
    options = _chains(assembly)[owner]
    return None if isinstance(options, _Broken) else _envelope(options, point)


def tip_of(assembly: Assembly, owner: str, up: Vec3) -> float | None:
    """How far (rad) a placement can tip against a direction ``up`` (unit, in base_link): what turns about that direction
    doesn't tip it. None where it has no figure; half a turn where it is free."""
    options = _chains(assembly)[owner]
    if isinstance(options, _Broken):
        return None
    return min(math.pi, max(sum(j.twist * _across_of(j.axis, up) for j in chain) for chain in options))


def _across_of(axis: Vec3, up: Vec3) -> float:
    """Sine of the angle between two directions."""
    return math.sqrt(max(0.0, 1.0 - sum(a * b for a, b in zip(axis, up)) ** 2))


def play_breaks(assembly: Assembly) -> Mapping[str, str]:
    """For each frame without a figure, the placement that is taped, strapped, or held by nothing."""
    chains = _chains(assembly)
    found = ((link.name, chains[link.owner]) for link in assembly.links if link.owner)
    return {name: chain.owner for name, chain in found if isinstance(chain, _Broken)}


def _envelope(options: Sequence[_Chain], origin: Vec3) -> Play:
    """The largest of every way down to the base (several where a deck stands on two)."""
    sums = [(sum(_reach(j, origin) for j in chain), sum(j.twist for j in chain), chain) for chain in options]
    shift, _, chain = max(sums, key=lambda s: s[0])
    twist = max(s[1] for s in sums)
    return Play(shift=shift, twist=min(twist, math.pi), chain=tuple(j.name for j in chain if j.pivots[0][1] > 0 or j.twist > 0),
                free=twist >= math.pi)


def _reach(joint: _Joint, origin: Vec3) -> float:
    """How far the joint lets a point go (m): its shift, and its twist times the lever arm; across at most, when free."""
    return min(shift + min(joint.twist, 2.0) * _arm(origin, pivot, joint.axis) for pivot, shift in joint.pivots)


def _arm(origin: Vec3, pivot: Vec3, axis: Vec3) -> float:
    """The distance of a point from the line through ``pivot`` along ``axis`` (m)."""
    d = tuple(o - p for o, p in zip(origin, pivot))
    along = sum(a * b for a, b in zip(d, axis))
    return math.sqrt(max(sum(v * v for v in d) - along * along, 0.0))


def bolt_play(bolts: Sequence[tuple[float, float]], c: float) -> tuple[float, tuple[float, float]]:
    """Twist (rad) of a part on bolts at those points of its plane that may each shift by c (m), and where it turns."""
    circle = least_circle(bolts)
    if c <= 0:
        return 0.0, circle.centre
    if c >= 2 * circle.radius:  # a single bolt, or holes as wide as the pattern
        return math.pi, circle.centre
    return 2 * math.asin(c / (2 * circle.radius)), circle.centre


def _joint(name: str, plane: Pose, screws: Sequence[SlackScrew]) -> _Joint:
    pivots: Sequence[Pivot]
    if len(screws) > 1 and not any(any(s.support) or any(s.part) for s in screws):
        c = max(s.c for s in screws)
        twist, centre = bolt_play([s.at for s in screws], c)
        pivots = [Pivot(centre, c)]
    else:
        twist, pivots = slack(screws)
    return _Joint(name, twist, tuple((plane.point((*p.at, 0.0)), p.shift) for p in pivots), plane.z_axis)


def _screw(use: BoltUse, other: BoltUse | None = None) -> SlackScrew:
    """A bolt as the play has it; with ``other``, a standoff: one end in each of two decks."""
    if other is None:
        return SlackScrew(use.at, max(use.clearance, 0.0), *use.slides)
    return SlackScrew(other.at, max(use.clearance + other.clearance, 0.0), use.slides[0], other.slides[0])


# ---------------------------------------------------------------------------------------------------------------- chains
@kept
def _chains(assembly: Assembly) -> Mapping[str, list[_Chain] | _Broken]:
    """By deck or placement: the ways from the base to it, as fixings."""
    parts, ends = _by_user(assembly, "part"), _by_user(assembly, "standoff")
    out: dict[str, list[_Chain] | _Broken] = {}

    def deck_chain(name: str) -> list[_Chain] | _Broken:
        if name not in out:
            facet = assembly.decks[name]
            placing = facet.deck.placing
            if placing is None:
                out[name] = [()]
            elif isinstance(placing, Stacked) and name in ends:
                own = [(a, b) for a, b in zip(ends[name][::2], ends[name][1::2])]
                joint = _joint(name, facet.pose, [_screw(_across(a, assembly, facet), b) for a, b in own])
                ways: list[_Chain] = []
                for below in dict.fromkeys(group.on for group in placing.standoffs):
                    under = deck_chain(below)
                    if isinstance(under, _Broken):
                        out[name] = under
                        return under
                    ways += [(*way, joint) for way in under]
                out[name] = ways
            else:
                out[name] = deck_chain(placing.deck)
        return out[name]

    def part_chain(name: str) -> list[_Chain] | _Broken:
        if name not in out:
            out[name] = _part_ways(name)
        return out[name]

    def _part_ways(name: str) -> list[_Chain] | _Broken:
        placed = assembly.parts[name]
        under = deck_chain(placed.deck) if placed.deck is not None else part_chain(placed.placement.on)
        if isinstance(under, _Broken) or placed.fixing == "shaft":
            return under
        if placed.fixing != "bolts":
            return _Broken(name)
        used = _used(parts.get(name, ()))
        if not used:
            return _Broken(name)
        if placed.deck is not None:
            plane = assembly.decks[placed.deck].pose
        else:
            carrier = assembly.parts[placed.placement.on]
            plane = carrier.pose @ carrier.seats[placed.placement.seat or ""]
        joint = _joint(name, plane, [_screw(b) for b in used])
        return [(*way, joint) for way in under]

    for deck in assembly.decks:
        deck_chain(deck)
    for part in assembly.parts:
        part_chain(part)
    return out


def _across(use: BoltUse, assembly: Assembly, onto: DeckFacet) -> BoltUse:
    """The end of a standoff with its slot in the axes of the deck at its other end."""
    if not any(use.slides[0]):
        return use
    own = assembly.decks[use.deck or ""].pose
    x, y, _ = onto.pose.inverse().vector(own.vector((*use.slides[0], 0.0)))
    return replace(use, slides=((x, y), (0.0, 0.0)))


def _by_user(assembly: Assembly, kind: str) -> dict[str, list[BoltUse]]:
    out: dict[str, list[BoltUse]] = {}
    for bolt in bolts_of(assembly):
        if bolt.kind == kind:
            out.setdefault(bolt.user, []).append(bolt)
    return out


def _used(bolts: Sequence[BoltUse]) -> list[BoltUse]:
    """The bolts that meet a hole. Where the support has no holes at all they are drilled to fit."""
    return [b for b in bolts if b.hole is None or
            (b.hole.exists and b.distance <= max(b.clearance, 0.0) + SAME_LENGTH)]
