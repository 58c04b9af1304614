"""Which screw goes into each hole: its length from the stack that it holds, and what is under its head and nut. Metres.

Through: washers where a plate is soft, the nut, and 1 to 3 threads showing (common practice). Tapped: an engagement of at
least one diameter (a rule of thumb for steel; softer threads want more) and at most 0.5 mm less than the depth. One hole has
one screw, whoever uses it from either face.
"""
from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, BoltUse, PlacedPart
from chassis_describe.assembly.screws import nominal_diameter
from chassis_describe.facts.bolting import bolts_of
from chassis_describe.facts.fasteners import HEADS, ISO_261_PITCH, LENGTHS, NUT_HEIGHTS, SOFT, WASHER_THICKNESS, standard_of
from chassis_describe.facts.holes import meets
from chassis_describe.layout.model import Seat, Stacked, StandoffGroup
from chassis_describe.space.pose import Pose
from chassis_describe.space.solids import Box, Cylinder, Hull
from chassis_describe.words import plain

#: A screw ends this far above the bottom of its thread (m).
BOTTOM = 0.5e-3
#: Screws from both ends of a standoff stay this far apart (m).
APART = 1e-3
#: Washers that may be added under the nut to make a length fit.
_MORE = 2
_SLACK = 1e-9


class StackLayer(NamedTuple):
    """Something that the screw passes, from the head on."""

    what: str
    thickness: float


class Screw(NamedTuple):
    """One screw. ``length`` is None where none fits, and ``why`` says so with the stack.

    ``users``: placements and decks (of standoffs) that it holds; ``head``: on which face of the deck its head is (``seat`` for
    screws on a holder); ``into``: ``nut``, ``thread`` or ``nothing``; ``least``, ``most``: what lengths would do.
    """

    users: tuple[str, ...]
    on: str
    hole: str
    at: tuple[float, float]
    deck: str | None
    head: str
    kind: str
    thread: str
    length: float | None
    layers: tuple[StackLayer, ...]
    washers: int
    nut: str | None
    into: str
    least: float
    most: float
    why: str

    @property
    def name(self) -> str:
        """``M3 x 12, ISO 4762``."""
        size = plain(self.length * 1e3) if self.length is not None else "?"
        return f"{self.thread} x {size}, {standard_of(self.kind, self.thread)}"

    @property
    def stack(self) -> str:
        """The layers in words."""
        return " + ".join(f"{layer.what} {plain(layer.thickness * 1e3)}" for layer in self.layers)


class _End(NamedTuple):
    """What a screw meets on one side of the plate: something to pass, or a thread of a certain depth."""

    user: str
    layers: tuple[StackLayer, ...]
    thread: float | None  # depth, None: it passes through
    room: float | None  # engagement that the other end of a standoff leaves


@kept
def screws_of(assembly: Assembly) -> tuple[Screw, ...]:
    """Every screw of the robot, in the order of the file."""
    holes: dict[tuple[str, object, tuple[float, float]], list[BoltUse]] = {}
    for use in bolts_of(assembly):
        spot = use.hole.hole if use.hole is not None and meets(use) else "none"
        where = use.hole.on if use.hole is not None else use.deck or assembly.parts[use.user].placement.on
        slot = isinstance(spot, int) and use.deck is not None and assembly.decks[use.deck].deck.drilled[spot].slot is not None
        point = use.at if spot == "none" or slot else (0.0, 0.0)
        holes.setdefault((where, spot, (round(point[0], 6), round(point[1], 6))), []).append(use)
    return tuple(_screw(assembly, where, uses) for (where, _, _), uses in holes.items())


def _screw(assembly: Assembly, where: str, uses: Sequence[BoltUse]) -> Screw:
    first = uses[0]
    thread = max((u.screw for u in uses), key=nominal_diameter)
    if first.deck is None:
        return _on_seat(assembly, where, first)
    deck = assembly.decks[first.deck].deck
    soft = deck.material in SOFT
    plate = StackLayer(f"plate {deck.name}", deck.thickness)
    by_face = {face: [_end(assembly, u) for u in uses if (u.face or "top") == face] for face in ("top", "under")}
    ends = {face: found[0] for face, found in by_face.items() if found}
    users = tuple(dict.fromkeys(u.user for u in uses))
    tapped = [f for f, e in ends.items() if e.thread is not None]
    through = [f for f, e in ends.items() if e.thread is None]
    other = {"top": "under", "under": "top"}
    if len(tapped) == 2:
        return _made(assembly, users, where, first, "none", thread, (plate,), 0, None, "nothing", (0.0, 0.0),
                     "threads on both faces: a piece of threaded rod, no screw, joins them")
    if tapped:
        face = tapped[0]
        head = other[face]
        near = ends[head].layers if through else ()
        washers = _washers(assembly, soft and not through)
        layers = (*_washer_layers(thread, washers), *near, plate, *reversed(ends[face].layers))
        return _into_thread(assembly, users, where, first, head, thread, layers, washers, ends[face])
    head = "top" if "top" in through else "under"
    far = other[head]
    washers_head = _washers(assembly, any(_soft_plate(assembly, u) for u in uses if (u.face or "top") == head))
    washers_nut = _washers(assembly, soft and far not in ends)
    beyond = tuple(reversed(ends[far].layers)) if far in ends else ()
    layers = (*_washer_layers(thread, washers_head), *ends[head].layers, plate, *beyond, *_washer_layers(thread, washers_nut))
    return _with_nut(assembly, users, where, first, head, thread, layers, washers_head + washers_nut)


def _end(assembly: Assembly, use: BoltUse) -> _End:
    if use.kind == "standoff":
        group = group_of(assembly, use)
        room = (group.length - APART) / 2
        return _End(use.user, (), group.thread, room)
    placed = assembly.parts[use.user]
    part, lift = placed.part, placed.placement.lift
    spacer = (StackLayer("spacer", lift),) if lift else ()
    if part.tapped is not None:
        return _End(use.user, spacer, part.tapped, None)
    return _End(use.user, (StackLayer(f"flange of {use.user}", part.flange), *spacer), None, None)


def group_of(assembly: Assembly, use: BoltUse) -> StandoffGroup:
    """The group that a standoff's screw belongs to."""
    placing = assembly.decks[use.user].deck.placing
    assert isinstance(placing, Stacked)
    return next(g for g in placing.standoffs if use.mark in g.hole_marks)


def _soft_plate(assembly: Assembly, use: BoltUse) -> bool:
    """Whether a screw's head would press into a part's own plate of wood or plastic."""
    plate = assembly.parts[use.user].part.plate if use.kind == "part" else None
    return plate is not None and plate.material in SOFT


def _washers(assembly: Assembly, soft: bool) -> int:
    wish = assembly.layout.fasteners.washers
    return int(soft if wish is None else wish)


def _washer_layers(thread: str, count: int) -> tuple[StackLayer, ...]:
    return tuple(StackLayer("washer", WASHER_THICKNESS.get(thread, 0.0)) for _ in range(count))


def _on_seat(assembly: Assembly, where: str, use: BoltUse) -> Screw:
    """A screw between a part and a holder: the head on the part's side, or behind the seat where the part has the thread."""
    placed = assembly.parts[use.user]
    part, lift = placed.part, placed.placement.lift
    carrier = assembly.parts[placed.placement.on]
    seat = carrier.part.seats[placed.placement.seat or ""]
    spacer = (StackLayer("spacer", lift),) if lift else ()
    listed = use.hole is not None and isinstance(use.hole.hole, int)
    seat_thread = seat.bolts[use.hole.hole].tapped if listed and use.hole is not None and isinstance(use.hole.hole, int) else None
    users, thread = (use.user,), use.screw
    flange = () if part.tapped is not None else (StackLayer(f"flange of {use.user}", part.flange),)
    if seat_thread is not None and part.tapped is None:
        washers = _washers(assembly, False)
        return _into_thread(assembly, users, where, use, "part", thread, (*_washer_layers(thread, washers), *flange, *spacer),
                            washers, _End(carrier.name, (), seat_thread, None))
    thick = _seat_thickness(assembly, carrier, placed, use)
    if seat_thread is not None or thick is None:
        why = ("threads on both sides: a piece of threaded rod, no screw, joins them" if seat_thread is not None else
               f"the bodies of {carrier.name} don't say how thick it is behind its seat: measure it")
        return _made(assembly, users, where, use, "part", thread, (*flange, *spacer), 0, None, "nothing", (0.0, 0.0), why)
    behind = StackLayer(f"seat of {carrier.name}", thick)
    washers = _washers(assembly, False)
    if _sunk_behind(seat, use):  # no washer under a countersunk head, which is flush: its length counts from its face
        if part.tapped is not None:
            return _into_thread(assembly, users, where, use, "seat", thread, (behind, *spacer), 0,
                                _End(use.user, (), part.tapped, None), "countersunk")
        return _with_nut(assembly, users, where, use, "seat", thread, (behind, *spacer, *flange, *_washer_layers(thread, washers)),
                         washers, "countersunk")
    if part.tapped is not None:
        return _into_thread(assembly, users, where, use, "seat", thread, (*_washer_layers(thread, washers), behind, *spacer),
                            washers, _End(use.user, (), part.tapped, None))
    layers = (*_washer_layers(thread, washers), *flange, *spacer, behind, *_washer_layers(thread, washers))
    return _with_nut(assembly, users, where, use, "part", thread, layers, 2 * washers)


def _sunk_behind(seat: Seat, use: BoltUse) -> bool:
    """Whether a screw comes from behind the seat through a countersunk hole."""
    hole = use.hole.hole if use.hole is not None else None
    return isinstance(hole, int) and hole < len(seat.bolts) and seat.bolts[hole].countersink is not None


def _seat_thickness(assembly: Assembly, carrier: PlacedPart, placed: PlacedPart, use: BoltUse) -> float | None:
    """How much of the holder's bodies is behind the seat at the bolt: solids that follow one another from the seat's plane."""
    seat = carrier.pose @ carrier.seats[placed.placement.seat or ""]
    start, along = seat.point((*use.at, 0.0)), tuple(-c for c in seat.z_axis)
    spans = []
    for link in assembly.links:
        if link.owner == carrier.name:
            for body in link.bodies:
                if body.visible:
                    pose = assembly.poses[link.name] @ body.pose
                    local = pose.inverse()
                    span = _span(body.solid, local, start, along)
                    if span is not None:
                        spans.append(span)
    depth = 0.0
    for near, far in sorted(spans):
        if near <= depth + 1e-4 and far > depth:
            depth = far
    return depth or None


def _span(solid: object, local: Pose, start: Sequence[float], along: Sequence[float]) -> tuple[float, float] | None:
    """Where a ray is inside a solid (m from its start); None where it misses."""
    p, d = local.point(start), local.vector(along)
    if isinstance(solid, Hull):
        slopes = [(n * d[0] + m * d[1] + k * d[2], off - n * p[0] - m * p[1] - k * p[2]) for n, m, k, off in solid.planes]
        if any(slope == 0 and room < 0 for slope, room in slopes):
            return None
        near, far = (end(room / slope for slope, room in slopes if slope * way > 0) for end, way in ((max, -1), (min, 1)))
        return (near, far) if far > near else None
    if isinstance(solid, Box):
        limits = [(-s / 2, s / 2) for s in solid.size]
    elif isinstance(solid, Cylinder):
        a, b = d[0] ** 2 + d[1] ** 2, p[0] * d[0] + p[1] * d[1]
        c = p[0] ** 2 + p[1] ** 2 - solid.radius**2
        if a < 1e-18:
            return None if c > 0 else _clip([(-math.inf, math.inf)] * 2 + [(-solid.length / 2, solid.length / 2)], p, d)
        root = b * b - a * c
        if root < 0:
            return None
        ends = _clip([(-math.inf, math.inf)] * 2 + [(-solid.length / 2, solid.length / 2)], p, d)
        if ends is None:
            return None
        low, high = max(ends[0], (-b - math.sqrt(root)) / a), min(ends[1], (-b + math.sqrt(root)) / a)
        return (low, high) if high > low else None
    else:
        return None
    return _clip(limits, p, d)


def _clip(limits: Sequence[tuple[float, float]], p: Sequence[float], d: Sequence[float]) -> tuple[float, float] | None:
    low, high = -math.inf, math.inf
    for (a, b), x, v in zip(limits, p, d):
        if abs(v) < 1e-12:
            if not a - 1e-9 <= x <= b + 1e-9:
                return None
            continue
        u, w = sorted(((a - x) / v, (b - x) / v))
        low, high = max(low, u), min(high, w)
    return (low, high) if high > low else None


# ------------------------------------------------------------------------------------------------------------------ lengths
def _series(assembly: Assembly, thread: str, kind: str) -> list[float]:
    """Lengths (m) to choose from, shortest first: the layout's own, else those of the head's standard."""
    wish = assembly.layout.fasteners
    if wish.lengths:
        return sorted(wish.lengths)
    head = HEADS[kind].get(thread)
    return [n for n in LENGTHS[kind] if head is not None and head.shortest - _SLACK <= n <= head.longest + _SLACK]


def _into_thread(assembly: Assembly, users: tuple[str, ...], where: str, use: BoltUse, head: str, thread: str,
                 layers: tuple[StackLayer, ...], washers: int, end: _End, kind: str | None = None) -> Screw:
    grip, least = math.fsum(layer.thickness for layer in layers), nominal_diameter(thread)
    most = (end.thread or 0.0) - BOTTOM
    limit = "its thread"
    if end.room is not None and end.room < most:
        most, limit = end.room, "what the screw from its other end leaves"
    span = (grip + least, grip + most)
    why = "" if most >= least - _SLACK else (f"{limit} of {end.user} takes {plain(most * 1e3)} mm, "
                                              f"and {thread} wants {plain(least * 1e3)} mm at least")
    return _made(assembly, users, where, use, head, thread, layers, washers, None, "thread", span, why, kind)


def _with_nut(assembly: Assembly, users: tuple[str, ...], where: str, use: BoltUse, head: str, thread: str,
              layers: tuple[StackLayer, ...], washers: int, kind: str | None = None) -> Screw:
    nut = assembly.layout.fasteners.nut
    high, pitch = NUT_HEIGHTS[nut].get(thread), ISO_261_PITCH.get(thread)
    if high is None or pitch is None:
        return _made(assembly, users, where, use, head, thread, layers, washers, nut, "nut", (0.0, 0.0),
                     f"there is no {nut} nut for {thread} in the standards' tables", kind)
    plain_layers = layers
    for more in range(_MORE + 1):
        layers = (*plain_layers, *_washer_layers(thread, more))
        grip = math.fsum(layer.thickness for layer in layers) + high
        made = _made(assembly, users, where, use, head, thread, (*layers, StackLayer("nut", high)), washers + more, nut, "nut",
                     (grip + pitch, grip + 3 * pitch), "", kind)
        if made.length is not None:
            return made
    grip = math.fsum(layer.thickness for layer in plain_layers) + high
    return _made(assembly, users, where, use, head, thread, (*plain_layers, StackLayer("nut", high)), washers, nut, "nut",
                 (grip + pitch, grip + 3 * pitch), "", kind)


def _made(assembly: Assembly, users: tuple[str, ...], where: str, use: BoltUse, head: str, thread: str,
          layers: tuple[StackLayer, ...], washers: int, nut: str | None, into: str, span: tuple[float, float],
          why: str, kind: str | None = None) -> Screw:
    kind = kind or assembly.layout.fasteners.head
    standard = standard_of(kind, thread)
    series = _series(assembly, thread, kind)
    length = None
    if not why:
        length = next((n for n in series if span[0] - _SLACK <= n <= span[1] + _SLACK), None)
        if not series:
            why = f"{standard} has no {thread}"
        elif length is None:
            longer = next((n for n in series if n > span[1]), None)
            also = f"; the next is {plain(longer * 1e3)}" if longer is not None else ""
            why = (f"no {standard} length from {plain(span[0] * 1e3)} to {plain(span[1] * 1e3)} mm{also}"
                   if not assembly.layout.fasteners.lengths else
                   f"none of `lengths` is from {plain(span[0] * 1e3)} to {plain(span[1] * 1e3)} mm{also}")
    hole = use.hole.hole if use.hole is not None else None
    name = f"[{hole[0]}, {hole[1]}]" if isinstance(hole, tuple) else f"{'hole' if '.' in where else 'drilled hole'} {hole + 1}" \
        if hole is not None else "no hole"
    return Screw(users, where, name, use.at, use.deck, head, kind, thread, length, layers, washers, nut, into, *span, why)


@kept
def screws_by_user(assembly: Assembly) -> Mapping[str, list[Screw]]:
    """Screws by what they hold; one that holds two things is under both."""
    out: dict[str, list[Screw]] = {}
    for screw in screws_of(assembly):
        for user in screw.users:
            out.setdefault(user, []).append(screw)
    return out
