"""What a support polygon says: loads on the contacts, edges to tip over, lifts that would level. Metres, radians, m/s²."""
from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import combinations
from typing import NamedTuple

from chassis_describe.space.ground.contact import Roller
from chassis_describe.space.plane.hull import convex_hull, depth, edge_distance, edges
from chassis_describe.tolerances import ON_GROUND, REACHED

Vec2 = tuple[float, float]

#: Standard acceleration of gravity (m/s²; third General Conference on Weights and Measures, 1901; ISO 80000-3).
GRAVITY = 9.80665
#: Names of the models by which loads are found.
STATICS = "statics"
EQUAL_SPRINGS = "equal springs"


class Loads(NamedTuple):
    """Share of the weight on each contact, in the order of the contacts; None where the robot would tip over.

    ``model``: ``statics`` where equilibrium alone decides (three contacts or fewer), ``equal springs`` where there are
    more: a rigid robot on equal linear springs that push and never pull. A contact that hangs a little over the ground is
    such a spring, shorter by its gap; each gives by ``REACHED`` under the robot's whole weight, so that of four contacts about
    the mass one that is shorter by as much carries nothing.
    """

    shares: tuple[float, ...] | None
    model: str


class TipEdge(NamedTuple):
    """One edge of the support polygon. ``ends``: indices of its contacts; ``distance`` of the centre of mass's
    projection from it, negative outside; ``angle``: the static tilt at which it tips; ``acceleration``: the one at which
    it tips on level ground."""

    ends: tuple[int, int]
    distance: float
    angle: float
    acceleration: float


def loads(contacts: Sequence[Vec2], com: Vec2, gaps: Sequence[float] = ()) -> Loads:
    """Shares of the weight on contacts in the ground plane, for the projection ``com`` of the centre of mass.

    ``gaps``: how far each is off that plane (m, least zero); none given: all are on it.
    Statically indeterminate from four contacts on: the equal springs then stand for tyres and a deck that gives.
    """
    model = STATICS if len(contacts) < 4 else EQUAL_SPRINGS
    if not contacts or depth(convex_hull(contacts), com) < -ON_GROUND:
        return Loads(None, model)
    short = [g / REACHED for g in gaps] or [0.0] * len(contacts)
    pressed = list(range(len(contacts)))
    seen = set()
    while tuple(pressed) not in seen:
        seen.add(tuple(pressed))
        sink = _sinking(contacts, pressed, com, short)
        if sink is None:
            break
        now = [k for k, s in enumerate(sink) if s > -1e-12]
        if now == pressed:
            return Loads(_shares(sink, pressed), model)
        pressed = now
    return Loads(_search(contacts, com, short), model)


def _search(contacts: Sequence[Vec2], com: Vec2, short: Sequence[float]) -> tuple[float, ...] | None:
    """Every set of contacts that push, the largest first, until one holds together: there is just one that does."""
    everyone = range(len(contacts))
    for size in range(len(contacts), 0, -1):
        for pressed in combinations(everyone, size):
            sink = _sinking(contacts, pressed, com, short)
            if sink is not None and all((s >= -1e-9) == (k in pressed) or abs(s) < 1e-9 for k, s in enumerate(sink)):
                return _shares(sink, pressed)
    return None


def _shares(sink: Sequence[float], pressed: Collection[int]) -> tuple[float, ...]:
    raw = [max(s, 0.0) if k in pressed else 0.0 for k, s in enumerate(sink)]
    return tuple(s / sum(raw) for s in raw)


def _sinking(contacts: Sequence[Vec2], pressed: Sequence[int], com: Vec2, short: Sequence[float]) -> list[float] | None:
    """How far each contact sinks (share of the weight where it is pressed) when those pressed carry all of it.

    A plane on equal springs, of which some are ``short`` (in what the whole weight makes one give): 1/n plus what the moment
    about the middle of the pressed contacts asks for, the short ones' lack added to both. None where
    they cannot carry it: contacts in line, or one alone, with the mass beside them.
    """
    n = len(pressed)
    if n == 0:
        return None
    mx, my = (sum(contacts[k][axis] for k in pressed) / n for axis in (0, 1))
    xx = yy = xy = 0.0
    for k in pressed:
        x, y = contacts[k][0] - mx, contacts[k][1] - my
        xx, yy, xy = xx + x * x, yy + y * y, xy + x * y
    dx, dy = com[0] - mx, com[1] - my
    lack = sum(short[k] for k in pressed)
    det, trace = xx * yy - xy * xy, xx + yy
    dx, dy = (d + sum(short[k] * (contacts[k][axis] - m) for k in pressed) for axis, d, m in ((0, dx, mx), (1, dy, my)))
    if trace < 1e-24:  # within a picometre of one another: one contact, whatever rounding makes of their middle
        if math.hypot(dx, dy) > ON_GROUND:
            return None
        gx, gy = 0.0, 0.0
    elif det <= 1e-12 * trace * trace:  # contacts in line: they turn about their middle in one direction only
        aside = abs(xy * dx - xx * dy) / math.hypot(xx, xy) if xx >= yy else abs(yy * dx - xy * dy) / math.hypot(yy, xy)
        if aside > ON_GROUND:
            return None
        gx, gy = (xx * dx + xy * dy) / trace**2, (xy * dx + yy * dy) / trace**2
    else:
        gx, gy = (yy * dx - xy * dy) / det, (xx * dy - xy * dx) / det
    return [(1 + lack) / n + gx * (x - mx) + gy * (y - my) - s for (x, y), s in zip(contacts, short)]


def tip_edges(contacts: Sequence[Vec2], com: Vec2, height: float, trails: Sequence[float] = ()) -> tuple[TipEdge, ...]:
    """Edges of the support polygon, counter-clockwise, and when the robot tips over them.

    ``trails``: for each contact the radius (m) of the circle about its point that a caster's wheel may run on: each edge is
    then where it is with the wheels at its ends swung inwards as far as they go.
    ``com``: projection of the centre of mass, ``height``: its height over the ground. Tilt limit atan(d/h) and limit
    acceleration g·d/h (Papadopoulos & Rey, Vehicle System Dynamics 33(1), 2000; University Physics Vol. 1, ch. 12).
    """
    out = []
    for ends, away in _swung_edges(contacts, com, trails) if any(trails) else _still_edges(contacts, com):
        limit = GRAVITY * away / height if height > 0 else math.copysign(math.inf, away)
        out.append(TipEdge(ends, away, math.atan2(away, height), limit))
    return tuple(out)


def _still_edges(contacts: Sequence[Vec2], com: Vec2) -> Iterator[tuple[tuple[int, int], float]]:
    hull = convex_hull(contacts)
    where = {p: k for k, p in reversed(list(enumerate(contacts)))}
    for a, b in edges(hull) if len(hull) > 2 else ():
        yield (where[a], where[b]), edge_distance(a, b, com)


def _swung_edges(contacts: Sequence[Vec2], com: Vec2, trails: Sequence[float]) -> list[tuple[tuple[int, int], float]]:
    """Ends and distance of every edge, by the direction of its outward normal n.

    Across n a contact supports n·p - t at worst, with its wheel swung inwards, whatever the others do. An edge is where two
    contacts support alike and no other supports more.
    """
    found: list[tuple[float, tuple[int, int], float]] = []
    for i, j in combinations(range(len(contacts)), 2):
        dx, dy = contacts[j][0] - contacts[i][0], contacts[j][1] - contacts[i][1]
        long = math.hypot(dx, dy)
        along = trails[j] - trails[i]
        if long <= ON_GROUND or abs(along) >= long:
            continue
        across = math.sqrt(long * long - along * along)
        for way in (1.0, -1.0):
            n = ((along * dx + way * across * dy) / long**2, (along * dy - way * across * dx) / long**2)
            supports = [n[0] * x + n[1] * y - t for (x, y), t in zip(contacts, trails)]
            level = (supports[i] + supports[j]) / 2
            alike = [k for k, s in enumerate(supports) if abs(s - level) <= ON_GROUND * 1e-3]
            ends = sorted(alike, key=lambda k: n[0] * contacts[k][1] - n[1] * contacts[k][0])
            if max(supports) - level > ON_GROUND * 1e-3 or {i, j} != {ends[0], ends[-1]}:
                continue
            found.append((math.atan2(n[1], n[0]), (ends[0], ends[-1]), level - n[0] * com[0] - n[1] * com[1]))
    return [(ends, away) for _, ends, away in sorted(found)]


def levelling(rollers: Sequence[Roller], driven: Collection[str]) -> Mapping[str, float] | None:
    """How far each roller must be raised (m, negative: lowered) for the base to stand level, by name; zeros left out.

    Driven wheels stay where they are; None where they differ among themselves, so that raising others can't level it.
    Without driven wheels all come down to the lowest.
    """
    heights = {r.name: r.lowest((0.0, 0.0, 1.0))[2] for r in rollers}
    fixed = [heights[n] for n in driven]
    if fixed and max(fixed) - min(fixed) > ON_GROUND:
        return None
    level = sum(fixed) / len(fixed) if fixed else min(heights.values())
    return {n: level - h for n, h in heights.items() if n not in driven and abs(level - h) > ON_GROUND}
