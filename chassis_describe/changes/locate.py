"""A measured pose → the mountings that could give it: decks, faces, holes, turns, and the part's own adjustments.

The measured frame hangs rigidly on the part, but for the adjustments of the part that are set by hand. For each deck, face and
turn the adjustments that fit the attitude are solved for, the holes next to where the part's origin then is are tried, and each
is judged by what remains: shift and height of the origin, twist and tilt, against the play of all screws from the base to the
measured frame.
"""
from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import product
from typing import NamedTuple

from chassis_describe.assembly.lattice import lattice_point
from chassis_describe.assembly.model import Assembly, PlacedPart
from chassis_describe.assembly.place import assemble
from chassis_describe.assembly.seats import seat_moves
from chassis_describe.changes.goal import Goal, goal_of
from chassis_describe.changes.located import Located, Mounting
from chassis_describe.changes.measured import Measured
from chassis_describe.changes.settle import ARM, Left, residual, settled
from chassis_describe.facts.landings import Landing, landings, part_in_plane
from chassis_describe.facts.play import play_at
from chassis_describe.layout.model import Adjustment, Face, Placement
from chassis_describe.space.pose import Pose, multiply, transpose
from chassis_describe.values import replace

#: So many candidates are judged and told at least, the nearest first; with them the mounting of the layout, and whatever else is
#: near enough to be within play.
TOLD = 12
#: So many holes next to the measured place are tried, for each deck, face, turn and start of the adjustments.
_NEAREST = 4
#: A mounting that leaves more than this of the attitude (rad) is not adjusted any further.
MOST_TURN = math.radians(20.0)
#: Without play, and where it has no figure (m, rad): as in ``match``.
SAME_PLACE, SAME_TURN = 1e-4, math.radians(0.01)
Vec2 = tuple[float, float]
_QUARTERS = (0.0, math.pi / 2, math.pi, -math.pi / 2)


class _Site(NamedTuple):
    """A plane that can carry the part: its frame in base_link, and how the part stands on it. ``face`` None: a seat."""

    on: str
    face: Face | None
    plane: Pose
    depth: float  # thickness of the deck, where the part hangs under it
    turn: float
    ats: tuple[tuple[Landing, Vec2], ...]  # with the point of the plane


def locate(assembly: Assembly, placement: str, measured: Measured) -> Located:
    """The mountings that could give a measured pose, the likeliest first. Raises UsageError where the question has no sense."""
    target = goal_of(assembly, placement, measured)
    placed = assembly.parts[placement]
    free = target.adjustments if measured.whole else ()
    candidates: dict[tuple[object, ...], tuple[float, Mounting]] = {}
    for site in _sites(assembly, placed):
        for found in _on_site(placed, target, site, free):
            key = (*_place(found), found.solved)
            size = _size(found)
            if key not in candidates or size < candidates[key][0] - 1e-12:
                candidates[key] = size, found
    ranked = sorted((m for _, m in candidates.values()), key=lambda m: (round(_size(m), 7), not m.drawn, _changes(m, placed)))
    judged = [_judged(assembly, placed, target, m) for m in ranked[:TOLD]]
    most = 2 * max((m.play or 0.0 for m in judged), default=0.0) + SAME_PLACE
    judged += [_judged(assembly, placed, target, m) for m in ranked[TOLD:] if m.drawn or math.hypot(*m.shift, m.z) <= most]
    enough = {_place(m) for m in judged if m.within_play and not m.solved}
    judged = [m for m in judged if not (m.solved and _place(m) in enough)]  # as written is enough to explain it
    judged.sort(key=lambda m: (not m.within_play, m.within_play and bool(m.set) and m.solved, round(_size(m), 7), not m.drawn,
                               _changes(m, placed)))
    return Located(placement=placement, frame=target.frame, start=target.start, whole=measured.whole, candidates=tuple(judged))


def _place(m: Mounting) -> tuple[object, ...]:
    return (m.on, m.face, m.at, round(math.remainder(m.turn, math.tau), 6))


def _size(m: Mounting) -> float:
    """What remains of a candidate as one length (m)."""
    return math.hypot(*m.shift, m.z, ARM * m.twist, ARM * m.tilt)


def _changes(m: Mounting, placed: PlacedPart) -> tuple[bool, ...]:
    return (m.on != _support(placed), m.face != placed.face, abs(math.remainder(m.turn - placed.turn, math.tau)) > 1e-6, m.solved)


def _support(placed: PlacedPart) -> str:
    p = placed.placement
    return p.on if placed.deck is not None else f"{p.on}.{p.seat}"


# --------------------------------------------------------------------------------------------------------------- where
def _sites(assembly: Assembly, placed: PlacedPart) -> Iterator[_Site]:
    turns = list(_QUARTERS)
    if all(abs(math.remainder(placed.turn - q, math.tau)) > 1e-9 for q in turns):
        turns.insert(0, placed.turn)
    for name, facet in assembly.decks.items():
        faces: tuple[Face, ...] = ("top", "under")
        for face in faces:
            for turn in turns:
                found = landings(assembly, placed, name, face, turn)
                here = placed.deck == name and placed.face == face and abs(math.remainder(turn - placed.turn, math.tau)) < 1e-9
                if here and all(math.dist(f.at, placed.at or (0.0, 0.0)) > 1e-6 for f in found):
                    found = (*found, Landing(name, face, placed.at or (0.0, 0.0), turn))  # as drawn, bolts on holes or not
                if found:
                    lattice = facet.deck.lattice
                    yield _Site(name, face, facet.pose, facet.deck.thickness if face == "under" else 0.0, turn,
                                tuple((f, lattice_point(lattice, f.at)) for f in found))
    if placed.deck is None:
        yield from _seat_sites(assembly, placed, turns)


def _seat_sites(assembly: Assembly, placed: PlacedPart, turns: Sequence[float]) -> Iterator[_Site]:
    """The part's own seat: where it is, in every quarter turn, and shifted by whole holes where the seat has a lattice."""
    carrier = assembly.parts[placed.placement.on]
    seat = carrier.part.seats[placed.placement.seat or ""]
    plane = carrier.pose @ carrier.seats[seat.name]
    i, j = placed.at if placed.at is not None else (0.0, 0.0)
    steps = range(-4, 5) if seat.lattice is not None else (0,)
    name = _support(placed)
    for turn in turns:
        ats = [Landing(name, "top", (i + a, j + b), turn) for a in steps for b in steps]
        yield _Site(name, None, plane, 0.0, turn, tuple((a, lattice_point(seat.lattice, a.at)) for a in ats))


def _local(placed: PlacedPart, site: _Site, point: Vec2) -> Pose:
    """The part on a site, its origin (less its ``offset``) at a point of the plane."""
    return part_in_plane(placed, site.face, site.turn, point, site.depth)


# ---------------------------------------------------------------------------------------------------------------- fits
def _on_site(placed: PlacedPart, target: Goal, site: _Site, free: Sequence[Adjustment]) -> Iterator[Mounting]:
    for landing, point, alike in _nearest(placed, target, site, placed.settings):
        yield _mounting(placed, target, site, landing, point, placed.settings, solved=False, alike=alike)
    slides = [a for a in free if a.kind == "slide"]
    for start in _starts(placed, target, site, free):
        near: dict[tuple[Landing, Vec2], None] = {}
        for values in product(*map(_grid, slides)):
            there = {**start, **dict(zip((a.name for a in slides), values))}
            near.update(dict.fromkeys((a, p) for a, p, _ in _nearest(placed, target, site, there)))
        for landing, point in near:
            best = settled(lambda v, p=point: _left(placed, target, site, v, p), start, free) if slides else start  # type: ignore[misc]
            yield _mounting(placed, target, site, landing, point, best, solved=True)


def _starts(placed: PlacedPart, target: Goal, site: _Site, free: Sequence[Adjustment]) -> list[dict[str, float]]:
    """Values of the adjustments that fit the attitude; none where they leave more than any screw would."""
    found: list[dict[str, float]] = []
    turns = [a for a in free if a.kind == "turn"]
    for values in product(*map(_grid, turns)) if free else ():
        start = {**placed.settings, **dict(zip((a.name for a in turns), values))}
        start = settled(lambda v: _left(placed, target, site, v, None), start, turns)
        if math.hypot(*_left(placed, target, site, start, None)[3:]) > MOST_TURN:
            continue
        if all(max((abs(start[a.name] - other[a.name]) for a in turns), default=0.0) > 1e-5 for other in found):
            found.append(start)
    return found


def _grid(adjustment: Adjustment) -> Sequence[float]:
    if adjustment.range is None:
        return _QUARTERS
    low, high = adjustment.range
    return [low + (high - low) * k / 4 for k in range(5)]


def _nearest(placed: PlacedPart, target: Goal, site: _Site, values: Mapping[str, float]) -> list[tuple[Landing, Vec2, int]]:
    """The holes next to where the part's origin is by the measurement, and the place of the layout if it is on this site; with
    each, how many more holes are no further away, which happens where only an attitude or a height is given."""
    if target.measured.whole:  # what remains is the same for every hole, but for its place
        first = site.ats[0][1]
        left = _left(placed, target, site, values, first)
        away = [(math.dist(point, (first[0] + left[0], first[1] + left[1])), landing, point) for landing, point in site.ats]
    else:
        away = [(math.hypot(*_left(placed, target, site, values, point)[:3]), landing, point) for landing, point in site.ats]
    away.sort(key=lambda a: a[0])
    drawn = [(a, p) for a, p in site.ats if _is_drawn(placed, site, a)]
    alike = sum(a[0] <= away[0][0] + 1e-9 for a in away[_NEAREST:] if a[1:] not in drawn)
    return list(dict.fromkeys([(a, p, alike if d <= away[0][0] + 1e-9 else 0) for d, a, p in away[:_NEAREST]]
                              + [(a, p, 0) for a, p in drawn if (a, p) not in [n[1:] for n in away[:_NEAREST]]]))


def _is_drawn(placed: PlacedPart, site: _Site, landing: Landing) -> bool:
    return (site.on == _support(placed) and site.face == placed.face and math.dist(landing.at, placed.at or (0.0, 0.0)) < 1e-6
            and abs(math.remainder(site.turn - placed.turn, math.tau)) < 1e-9)


def _left(placed: PlacedPart, target: Goal, site: _Site, values: Mapping[str, float],
          point: Vec2 | None) -> Left:
    """What remains: the origin's shift in the plane and along its normal (m), twist and tilt as a rotation vector (rad), all
    in the axes of the plane. ``point`` None: the shift in the plane is left out."""
    there, local = _there(placed, target, site, values, point or (0.0, 0.0))
    out = residual(there, local)
    return out if point is not None else (0.0, 0.0, *out[2:])


def _there(placed: PlacedPart, target: Goal, site: _Site, values: Mapping[str, float], point: Vec2) -> tuple[Pose, Pose]:
    """The part by the measurement, and as it would be with its origin at a point, both in the plane."""
    local = _local(placed, site, point)
    tail = target.tail(_moves(placed, target, values))
    guess = site.plane @ local @ tail
    whole = target.start_pose @ target.measured.filled(target.start_pose.inverse() @ guess)
    return site.plane.inverse() @ whole @ tail.inverse(), local


def _moves(placed: PlacedPart, target: Goal, values: Mapping[str, float]) -> Pose | None:
    return seat_moves(placed.part, values)[target.key] if target.key is not None else None


def _mounting(placed: PlacedPart, target: Goal, site: _Site, landing: Landing, point: Vec2, values: Mapping[str, float], *,
              solved: bool, alike: int = 0) -> Mounting:
    there, local = _there(placed, target, site, values, point)
    outward = -1.0 if site.face == "under" else 1.0
    d = multiply(there.r, transpose(local.r))
    across = math.hypot(*(a * b - c * e for a, b, c, e in _cross(there.z_axis, local.z_axis)))
    along = sum(a * b for a, b in zip(there.z_axis, local.z_axis))
    return Mounting(
        on=site.on, face=site.face, at=landing.at if placed.at is not None or site.face is not None else None,
        turn=math.remainder(site.turn, math.tau), set={a.name: values[a.name] for a in target.adjustments},
        slides=frozenset(a.name for a in target.adjustments if a.kind == "slide"), solved=solved, holes_alike=alike,
        drawn=_is_drawn(placed, site, landing), shift=(there.t[0] - local.t[0], there.t[1] - local.t[1]),
        twist=outward * math.atan2(d[3] - d[1], d[0] + d[4]) + 0.0, z=outward * (there.t[2] - local.t[2]) + 0.0,
        tilt=math.atan2(across, along), mirrored=_is_mirrored(placed, site, landing))


def _cross(a: Sequence[float], b: Sequence[float]) -> Iterator[tuple[float, float, float, float]]:
    """The products of a cross product, component by component."""
    for k in range(3):
        m, n = (k + 1) % 3, (k + 2) % 3
        yield a[m], b[n], a[n], b[m]


def _is_mirrored(placed: PlacedPart, site: _Site, landing: Landing) -> bool:
    """Whether it is the drawn place seen in a mirror from left to right."""
    i, j = placed.at or (0.0, 0.0)
    return (site.on == _support(placed) and site.face == placed.face and math.dist(landing.at, (i, -j)) < 1e-6
            and abs(math.remainder(site.turn + placed.turn, math.tau)) < 1e-9 and not _is_drawn(placed, site, landing))


# --------------------------------------------------------------------------------------------------------------- judged
def _judged(assembly: Assembly, placed: PlacedPart, target: Goal, m: Mounting) -> Mounting:
    """The same with its play, and whether what remains is within that."""
    there = assemble(replace(assembly.layout, placements={
        **assembly.layout.placements, placed.name: mounted(placed, m)}), prefix=assembly.prefix)
    play = play_at(there, target.owner, there.parts[placed.name].pose.t)
    shift, twist = (play.shift, play.twist) if play is not None else (None, None)
    most, turned = max(shift or 0.0, 0.0) or SAME_PLACE, max(twist or 0.0, 0.0) or SAME_TURN
    within = (math.hypot(*m.shift) <= most + 1e-9 and abs(m.z) <= most + 1e-9
              and abs(m.twist) <= turned + 1e-9 and m.tilt <= turned + 1e-9)
    return replace(m, play=shift, play_twist=twist, within_play=within)


def mounted(placed: PlacedPart, m: Mounting) -> Placement:
    """The placement as it is written when it is mounted so."""
    placement = placed.placement
    support, seat, on = placement.support, placement.seat, placement.on
    if m.face is not None:
        support, seat, on = "deck", None, m.on
    return replace(placement, support=support, seat=seat, on=on, face=m.face or placement.face,
                   at=m.at if m.at is not None else (0.0, 0.0), screws=None, points=None, turn=m.turn,
                   settings={**placement.settings, **m.set} if m.solved else placement.settings)
