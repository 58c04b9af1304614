"""Where near its place a part would fit: holes that are free and sound, and room for it and what it carries."""
from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

from chassis_describe.assembly.attach import Attachment, part_point_in_plane
from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.lattice import lattice_point
from chassis_describe.assembly.model import Assembly, PlacedPart
from chassis_describe.assembly.slots import Line, lattice_holes_by, line_of, off_holes
from chassis_describe.facts.bodies import bodies_of
from chassis_describe.facts.holes import HoleBook, book_of
from chassis_describe.layout.model import Face, Lattice
from chassis_describe.space.pose import Pose, rot_z, translation
from chassis_describe.tolerances import MOST_PLACES_TRIED, SAME_LENGTH

Vec2 = tuple[float, float]

#: How far around its place a part is tried, in holes each way.
REACH = 8

#: How many places with good holes are tried for room, for each turn, before giving up; each costs an overlap test.
TRIES = 60

#: Fractions of a pitch that a builder would write, the plainest first.
_FRACTIONS = (1, 2, 4, 10, 20, 100)


class Position(NamedTuple):
    """A place in lattice coordinates of the support, the turn (radians), and how far that is from now (pitches)."""

    at: Vec2
    turn: float
    moved: float


def lattice_of(assembly: Assembly, placed: PlacedPart) -> Lattice | None:
    """The lattice that a part is bolted to."""
    if placed.deck is not None:
        return assembly.decks[placed.deck].deck.lattice
    if placed.placement.support != "seat":
        return None
    return assembly.parts[placed.placement.on].part.seats[placed.placement.seat or ""].lattice


def nearest_position(assembly: Assembly, placed: PlacedPart, *, stay: bool = False) -> Position | None:
    """The nearest place with good free holes and room for the part and what it carries; None where none near does.

    A part that senses or drives keeps its heading, and a motor its side of the robot; others are tried in quarter turns
    where no place fits as they are turned. ``stay``: the part's own place may be the answer.
    """
    return _found(assembly, placed, stay).place


def nearest_blocked(assembly: Assembly, placed: PlacedPart) -> Blocked | None:
    """Where no place is free: the nearest other one with good holes, turned as it is, and who is in the way there."""
    return _found(assembly, placed, False).blocked


def _found(assembly: Assembly, placed: PlacedPart, stay: bool) -> _Found:
    found, key = _searched(assembly), (placed.name, stay)
    if key not in found:
        found[key] = _search(assembly, book_of(assembly), placed, stay)
    return found[key]


def place_near(assembly: Assembly, placed: PlacedPart, at: Vec2) -> Position | None:
    """The place next to ``at`` where every bolt meets a sound hole, turned as the part is, within half a hole each way; free
    or not."""
    lattice = lattice_of(assembly, placed)
    if lattice is None:
        return None
    book = book_of(assembly)
    return next((p for p, _ in _places(assembly, book, placed, lattice, placed.turn, about=at)
                 if max(abs(p.at[0] - at[0]), abs(p.at[1] - at[1])) <= 0.5 + 1e-9), None)


def who_is_there(assembly: Assembly, placed: PlacedPart, position: Position) -> tuple[str, str] | None:
    """Who would be in the way of a part, of what it carries and of its mirror images at another place; None: nobody."""
    lattice = lattice_of(assembly, placed)
    if lattice is None:
        return None
    book, shift = book_of(assembly), shift_of(assembly, placed, lattice, position)
    on = placed.deck or f"{placed.placement.on}.{placed.placement.seat}"
    family = _going_along(assembly, placed)
    for arm in _arms(book, placed, position.turn, placed.face or "top"):
        user = book.taken_by((on, _hole_under(lattice, position.at, arm)), placed.face, placed.name)
        if user is not None and user not in family:
            return user
    scene = bodies_of(assembly)
    user = next((o for o in scene.in_bodies(scene.carried_by(placed.name), shift) if o not in family), None)
    return user or _in_the_mirror(assembly, book, placed, lattice, position, shift)


def straightened(assembly: Assembly, placed: PlacedPart) -> Position | None:
    """Of a part that is turned between quarter turns: the nearest of these with which every bolt meets a sound hole where it is."""
    lattice = lattice_of(assembly, placed)
    quarter = round(placed.turn / (math.pi / 2)) * math.pi / 2
    if lattice is None or placed.at is None or abs(placed.turn - quarter) < 1e-9 or placed.fixing != "bolts":
        return None
    return next((p for p, _ in _places(assembly, book_of(assembly), placed, lattice, quarter, reach=0) if p.moved < 1e-9), None)


class BoltPlace(NamedTuple):
    """A place in lattice coordinates of the support where every bolt meets a sound hole; ``taken_by``: who uses one of those
    from that face, ("part", its name) or ("standoff of", the deck held)."""

    at: Vec2
    taken_by: tuple[str, str] | None


def bolt_places(assembly: Assembly, placed: PlacedPart, turn: float) -> tuple[BoltPlace, ...]:
    """Every place on its deck where the bolts of a part, turned by ``turn`` (rad), meet sound holes, the nearest first; within
    ``REACH`` on a seat.

    Only bolts and holes are asked, not whether there is room. None where the part has no bolts that hold it, or no lattice.
    """
    lattice = lattice_of(assembly, placed)
    if lattice is None or placed.at is None or placed.fixing != "bolts":
        return ()
    book = book_of(assembly)
    reach = REACH
    if placed.deck is not None:
        across = [abs(h[k] - placed.at[k]) for h in book.decks[placed.deck].lattice_holes for k in (0, 1)]
        arms = [abs(v) / lattice.pitch for arm in bolt_arms(assembly, placed, turn) for v in arm]
        reach = math.ceil(max(across, default=0.0) + max(arms, default=0.0)) + 1
    return tuple(BoltPlace(p.at, user) for p, user in _places(assembly, book, placed, lattice, turn, reach=reach))


def bolt_arms(assembly: Assembly, placed: PlacedPart, turn: float) -> tuple[Vec2, ...]:
    """Where the bolts that hold a part are against its origin, in the axes of its deck or seat (m), turned by ``turn`` (rad)."""
    return tuple(arm.middle for arm in _arms(book_of(assembly), placed, turn, placed.face or "top"))


class Blocked(NamedTuple):
    """A place whose holes suit a part, and who is in the way there."""

    position: Position
    by: tuple[str, str]  # an owner, as in ``facts/bodies.py``


class _Found(NamedTuple):
    place: Position | None
    blocked: Blocked | None


@kept
def _searched(assembly: Assembly) -> dict[tuple[str, bool], _Found]:
    """What was found so far, by placement and whether it may stay: several findings ask the same."""
    return {}


@kept
def _tried(assembly: Assembly) -> list[Position]:
    """The places that were tried for room so far, for all hints together."""
    return []


def search_given_up(assembly: Assembly) -> bool:
    """Whether so many places were tried already that no further one is: then no place is known, and none is ruled out."""
    return len(_tried(assembly)) >= MOST_PLACES_TRIED


def has_heading(assembly: Assembly, placed: PlacedPart) -> bool:
    """Whether it matters which way the part points: it, or what stands on it, senses or drives."""
    moving = bodies_of(assembly).carried_by(placed.name)
    return any(s.placement in moving for s in assembly.sensors) or any(w.motor_placement in moving for w in assembly.wheels)


def _drives(assembly: Assembly, placed: PlacedPart) -> bool:
    moving = bodies_of(assembly).carried_by(placed.name)
    return any(w.motor_placement in moving for w in assembly.wheels)


def _search(assembly: Assembly, book: HoleBook, placed: PlacedPart, stay: bool) -> _Found:
    lattice = lattice_of(assembly, placed)
    if lattice is None or placed.at is None or search_given_up(assembly):
        return _Found(None, None)
    scene = bodies_of(assembly)
    moving = scene.carried_by(placed.name)
    quarters: tuple[float, ...] = (0.0, math.pi / 2, -math.pi / 2, math.pi)
    if not placed.part.bolts or has_heading(assembly, placed):
        quarters = (0.0,)
    drives = _drives(assembly, placed)
    side = placed.pose.t[1]
    blocked: Blocked | None = None
    about = _on_the_plate(book, placed)
    family = _going_along(assembly, placed)
    for quarter in quarters:
        rooms = 0
        for near, user in _places(assembly, book, placed, lattice, placed.turn + quarter, about=about):
            position = near._replace(moved=math.dist(near.at, placed.at))
            here = position.moved < 1e-9 and not quarter
            if (here and not stay) or rooms >= TRIES:
                continue
            if drives and abs(side) > SAME_LENGTH \
                    and shift_of(assembly, placed, lattice, position).point(placed.pose.t)[1] * side <= 0.0:
                continue  # a motor on the other side drives another wheel
            if user is None or user in family:
                if search_given_up(assembly):
                    return _Found(None, None)
                _tried(assembly).append(position)
                rooms += 1
                shift = shift_of(assembly, placed, lattice, position)
                user = next((o for o in scene.obstacles(moving, shift) if o not in family), None) \
                    or _in_the_mirror(assembly, book, placed, lattice, position, shift)
                if user is None:
                    return _Found(position, None)
            if not here and blocked is None and not quarter:
                blocked = Blocked(position, user)
    return _Found(None, blocked)


def _on_the_plate(book: HoleBook, placed: PlacedPart) -> Vec2 | None:
    """Where to look from: where a part is, or the edge of the deck's lattice that is nearest to it."""
    holes = book.decks[placed.deck].lattice_holes if placed.deck is not None else ()
    if not holes or placed.at is None:
        return placed.at
    i, j = (min(max(v, min(h[k] for h in holes)), max(h[k] for h in holes)) for k, v in enumerate(placed.at))
    return i, j


def mirrored(assembly: Assembly, placed: PlacedPart) -> PlacedPart | None:
    """The placement that this one mirrors, where its place is not written for itself."""
    placement = placed.placement
    twin = assembly.parts.get(placement.mirror_of or "")
    if twin is None or placed.deck is None or placed.deck != twin.deck or placed.face != twin.face:
        return None
    return twin if placement.marks.get("at") == twin.placement.marks.get("at") and placement.screws is None else None


def opposite(lattice: Lattice, position: Position) -> Position:
    """The place across the x-z plane of a lattice's deck, turned the other way."""
    j = 0.0 - position.at[1] - 2 * lattice.origin[1] / lattice.pitch
    return Position((position.at[0], j), 0.0 - position.turn, position.moved)


@kept
def _images(assembly: Assembly) -> dict[str, list[PlacedPart]]:
    """By placement: its mirror images, whose place is written with it."""
    found: dict[str, list[PlacedPart]] = {}
    for image in assembly.parts.values():
        twin = mirrored(assembly, image)
        if twin is not None:
            found.setdefault(twin.name, []).append(image)
    return found


def _along(assembly: Assembly, placed: PlacedPart) -> list[PlacedPart]:
    """The placements whose place follows a part's: what it mirrors, else its mirror images."""
    twin = mirrored(assembly, placed)
    return [twin] if twin is not None else _images(assembly).get(placed.name, [])


def _going_along(assembly: Assembly, placed: PlacedPart) -> frozenset[tuple[str, str]]:
    """Those and what they carry, as owners: where they are now is no obstacle."""
    scene = bodies_of(assembly)
    return frozenset(("part", name) for other in _along(assembly, placed) for name in scene.carried_by(other.name))


def _in_the_mirror(assembly: Assembly, book: HoleBook, placed: PlacedPart, lattice: Lattice, position: Position,
                   shift: Pose) -> tuple[str, str] | None:
    """Who is in the way of those that go along when a part goes to another place: what it mirrors, and its mirror images."""
    scene = bodies_of(assembly)
    along = _along(assembly, placed)
    if not along:
        return None
    there = opposite(lattice, position)
    going = {("part", name) for name in scene.carried_by(placed.name)} | _going_along(assembly, placed)
    own = {_hole_under(lattice, position.at, arm) for arm in _arms(book, placed, position.turn, placed.face or "top")}
    holes = book.sound(placed.deck or "")
    for other in along:
        for arm in _arms(book, other, there.turn, other.face or "top"):
            hole = _hole_under(lattice, there.at, arm)
            user = book.taken_by((placed.deck or "", hole), other.face, other.name)
            if hole in own or hole not in holes or (user is not None and user not in going):
                return user or ("part", other.name)
        moving, moved = scene.carried_by(other.name), shift_of(assembly, other, lattice, there)
        if scene.in_one_another(scene.carried_by(placed.name), shift, moving, moved):
            return "part", other.name
        user = next((o for o in scene.obstacles(moving, moved) if o not in going), None)
        if user is not None:
            return user
    return None


def _places(assembly: Assembly, book: HoleBook, placed: PlacedPart, lattice: Lattice, turn: float,
            about: Vec2 | None = None, reach: int = REACH) -> Iterator[tuple[Position, tuple[str, str] | None]]:
    """Places where every bolt meets a good hole, the nearest first, and who uses one of those from that face."""
    now = about or placed.at or (0.0, 0.0)
    face = placed.face or "top"
    arms = _arms(book, placed, turn, face)
    part = best_fraction(arms, lattice, _play(book, placed), now)
    if part is None:
        return
    on = placed.deck or f"{placed.placement.on}.{placed.placement.seat}"
    holes = book.sound(placed.deck) if placed.deck is not None else None
    for at in _steps(now, part, reach):
        used = [_hole_under(lattice, at, arm) for arm in arms]
        if holes is None or all(h in holes for h in used):
            yield (Position(at, turn, math.dist(at, now)),
                   next((u for h in used if (u := book.taken_by((on, h), placed.face, placed.name))), None))


@lru_cache(maxsize=64)
def _steps(now: Vec2, part: Vec2, reach: int) -> tuple[Vec2, ...]:
    """The places around ``now`` whose parts of a pitch are ``part``, the nearest first."""
    first = (round(now[0] - part[0]), round(now[1] - part[1]))
    return tuple(sorted(((i + part[0], j + part[1]) for i in range(first[0] - reach, first[0] + reach + 1)
                         for j in range(first[1] - reach, first[1] + reach + 1)),
                        key=lambda at: (round(math.dist(at, now), 6), abs(at[1] - now[1]), at)))


def _arms(book: HoleBook, placed: PlacedPart, turn: float, face: Face) -> list[Line]:
    """The part's bolts that hold it, against its origin in the axes of the plane; none where it is taped or strapped."""
    if placed.fixing != "bolts":
        return []
    part, here = placed.part, Attachment((0.0, 0.0), None, turn)
    numbers = [u.index for u in book.by_user.get(placed.name, ())] or range(len(part.bolts))
    lines = [line_of(part.bolts[n], part.bolt_slots.get(n)) for n in numbers]
    return [Line(part_point_in_plane(at, here, face), part_point_in_plane(half, here, face) if any(half) else half)
            for at, half in lines]


def _hole_under(lattice: Lattice, at: Vec2, arm: Line) -> tuple[int, int]:
    """The lattice hole that a bolt would use with the part's origin at ``at``; in a slot the one nearest to its middle."""
    if not any(arm.half):
        return round(at[0] + arm.middle[0] / lattice.pitch), round(at[1] + arm.middle[1] / lattice.pitch)
    x, y = lattice_point(lattice, at)
    line = Line((x + arm.middle[0], y + arm.middle[1]), arm.half)
    return min(lattice_holes_by(lattice, line), key=lambda h: (round(h[2], 6), math.dist(h[1], line.middle)))[0]


def _play(book: HoleBook, placed: PlacedPart) -> float:
    return max(min((u.clearance for u in book.by_user.get(placed.name, ())), default=0.0), 0.0) + SAME_LENGTH


def best_fraction(arms: Sequence[Line], lattice: Lattice, play: float, now: Vec2) -> Vec2 | None:
    """The part of a pitch at which a part's origin must sit for its bolts to meet the lattice; None: it never does."""
    if not arms:
        return (now[0] % 1.0, now[1] % 1.0)

    def misses(at: Vec2) -> float:
        return max(off_holes(Line((at[0] * lattice.pitch + x, at[1] * lattice.pitch + y), half), lattice.pitch)
                   for (x, y), half in arms) / lattice.pitch

    if any(any(arm.half) for arm in arms):  # any of many: the plainest fractions first
        return next((at for parts in _FRACTIONS[:5] for at in
                     sorted(((i / parts, j / parts) for i in range(parts) for j in range(parts)), key=misses)[:1]
                     if misses(at) * lattice.pitch <= play), None)
    raw = (_middle([arm.middle[0] / lattice.pitch for arm in arms]), _middle([arm.middle[1] / lattice.pitch for arm in arms]))

    if misses(raw) * lattice.pitch > play:
        return None
    for parts in _FRACTIONS:
        at = (round(raw[0] * parts) / parts, round(raw[1] * parts) / parts)
        if misses(at) * lattice.pitch <= play and (misses(at) - misses(raw)) * lattice.pitch <= 0.25 * play + 1e-9:
            return at
    return raw


def off_lattice(value: float) -> float:
    return value - round(value)


def _middle(values: Sequence[float]) -> float:
    """The shift that brings values nearest to whole numbers: against the middle of the shortest arc that holds them."""
    ring = sorted(v % 1.0 for v in values)
    gaps = [(ring[(k + 1) % len(ring)] - ring[k]) % 1.0 or (1.0 if len(ring) == 1 else 0.0) for k in range(len(ring))]
    widest = max(range(len(ring)), key=lambda k: gaps[k])
    if gaps[widest] == 0.0:  # all alike
        return -ring[0] % 1.0
    start = ring[(widest + 1) % len(ring)]
    return -(start + (1.0 - gaps[widest]) / 2) % 1.0


def shift_of(assembly: Assembly, placed: PlacedPart, lattice: Lattice, position: Position) -> Pose:
    """How a part and what it carries move, in base_link, when it goes to another place. Its ``offset`` in the plane is
    given up."""
    if placed.deck is not None:
        plane = assembly.decks[placed.deck].pose
    else:
        carrier = assembly.parts[placed.placement.on]
        plane = carrier.pose @ carrier.seats[placed.placement.seat or ""]
    x, y, _ = plane.inverse().point(placed.pose.t)
    new = lattice_point(lattice, position.at)
    turned = position.turn - placed.turn
    if placed.face == "under":
        turned = -turned
    local = translation(new[0], new[1], 0.0) @ Pose(rot_z(turned)) @ translation(-x, -y, 0.0)
    return plane @ local @ plane.inverse()
