"""A flat plate between a deck and a part whose holes don't match: the smallest one, for the part where it is now. Metres, radians.

The part's screws come up from below through countersunk holes, so the plate lies flat on the deck; its own screws go down into
holes of the lattice beside the part. Rules of thumb are named where they are used.
"""
from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from chassis_describe.assembly.attach import Attachment, part_point_in_plane
from chassis_describe.assembly.lattice import lattice_coordinates
from chassis_describe.assembly.model import Assembly, PlacedPart
from chassis_describe.errors import UsageError
from chassis_describe.facts.bodies import bodies_of
from chassis_describe.facts.fasteners import HEADS, ISO_273
from chassis_describe.facts.free_places import nearest_position
from chassis_describe.facts.holes import book_of, meets
from chassis_describe.facts.known import known_placement
from chassis_describe.facts.outlines import outlines_of
from chassis_describe.fit.remedy_words import owner_words
from chassis_describe.layout.build.materials import MATERIALS, material
from chassis_describe.layout.model import Deck, Face, Lattice
from chassis_describe.search.adapter_part import Adapter, with_adapter
from chassis_describe.search.adapter_room import REACH, Room, head_radius
from chassis_describe.search.judge import error_keys
from chassis_describe.search.smallest_plate import FoundPlate, Hole, Task, Vec2, least, plates
from chassis_describe.space.pose import translation
from chassis_describe.values import dataclass, replace
from chassis_describe.words import count, listing, mm, not_known

#: A flush board shorts: so far above the plate a part with through holes is put (m, common practice).
GAP = 0.005
#: Plate left above a countersunk head, and between a countersink and an edge or another hole (m).
LEFT = 0.001
#: Middle of a hole to the plate's edge, in diameters (a rule of thumb of structures: 1.5 and more).
EDGE = 1.5
#: Half of a spacer (m): that of the spacers under lifted parts.
_SPACER = 0.00275
#: A plate whose screws have the part's holes among them is taken up to so many times the area of the smallest (our choice).
_WORTH = 2.0
#: Plates that are put together and checked as a whole before giving up.
_TRIALS = 8


@dataclass(frozen=True, kw_only=True)
class AdapterWish:
    """What is asked for; None: the usual. ``quarters``: the part may be turned by quarter turns for a smaller plate."""

    placement: str
    thickness: float | None = None
    gap: float | None = None
    material: str | None = None
    quarters: bool = False


class AdapterAnswer(NamedTuple):
    """``robot``: with the adapter in place. Without one, ``why`` says why: none is ``needed``, or there is no room."""

    placement: str
    needed: bool
    why: str
    adapter: Adapter | None = None
    robot: Assembly | None = None
    #: Where the part would fit without one, ``at: [i, j]``; None where nowhere near.
    instead: Vec2 | None = None
    #: Passed over: a smaller plate whose screws leave some of the part's holes outside, or one far larger with screws all round.
    passed_over: Adapter | None = None


class _Screw(NamedTuple):
    """The part's screw: its clearance hole, the countersink about that, the height of its head."""

    thread: str
    hole: float
    sink: float
    height: float


def adapter(assembly: Assembly, wish: AdapterWish) -> AdapterAnswer:
    """The smallest adapter. Raises UsageError for what no adapter can be made for."""
    placed = _asked(assembly, wish.placement)
    assert placed.deck is not None
    deck = assembly.decks[placed.deck].deck
    lattice = deck.lattice
    assert lattice is not None
    if _fits(assembly, placed):
        return AdapterAnswer(placed.name, False, f"{count(len(placed.part.bolts), 'bolt')} of it meet holes of {deck.name}")
    screw = _screw_of(placed, lattice)
    _no_two_sinks_meet(placed, screw)
    thickness = _thickness(wish.thickness, deck, screw)
    gap = wish.gap if wish.gap is not None else placed.placement.lift or (0.0 if placed.part.tapped is not None else GAP)
    name, density = _material(wish.material, assembly, deck)
    up = thickness + gap - placed.placement.lift
    if (over := _over(assembly, placed, up)) is not None:
        return AdapterAnswer(placed.name, True, f"{mm(up)} further from {deck.name} it would be in {over}")
    bolt_hole = ISO_273[lattice.screw].medium if lattice.screw in ISO_273 else lattice.hole
    edge = max(EDGE, 0.5 + assembly.layout.limits["edge_web"])
    room = Room(assembly, placed, thickness, gap)
    tried: list[tuple[float, int, Adapter]] = []
    reasons: list[str] = []
    turns = [math.remainder(placed.turn + k * math.pi / 2, math.tau) for k in (range(4) if wish.quarters else (0,))]
    for number, turn in enumerate(turns):
        wanted = holes_of_part(placed, turn)
        between = max((screw.hole + bolt_hole) / 2 + max(screw.hole, bolt_hole), (screw.sink + bolt_hole) / 2 + LEFT,
                      head_radius(lattice.screw) + _SPACER)
        shape = _shape(assembly, placed, turn)
        if (head := room.hopeless(wanted, screw.sink, shape)) is not None:
            reasons.append(f"a screw of {head.user} is where one of its bolts would be, or too high to be under it "
                           f"({mm(head.height)}; plate and spacers are {mm(thickness + gap)})")
            continue
        bolts, why = room.bolts(lattice, wanted, shape, between)
        task = Task(wanted=wanted, wanted_edge=max(edge * screw.hole, screw.sink / 2 + LEFT), bolts=bolts,
                    bolt_edge=max(edge * bolt_hole, head_radius(lattice.screw)), apart=2 * head_radius(lattice.screw))
        measures = Adapter(
            name=_free_name(assembly, placed.name), placement=placed.name, deck=deck.name, face=placed.face or "top", turn=turn,
            origin=_origin(placed), at=(0, 0), rect=least(task), corner=min(task.wanted_edge, task.bolt_edge), thickness=thickness,
            gap=gap, material=name, density=density, holes=(), screw=lattice.screw, bolt_hole=bolt_hole, wanted=wanted,
            part_screw=screw.thread, part_hole=screw.hole, sink=screw.sink, overhang=0.0, rise=up)
        one = _first(assembly, room, task, measures, reasons, surround=True)
        other = _first(assembly, room, task, measures, reasons if one is None else [], surround=False,
                       below=one.rect.area if one is not None else math.inf)
        if one is not None or other is not None:
            tried += [(round(a.rect.area, 12), number, a) for a in (one, other) if a is not None]
        else:
            reasons.append(_no_room(room, lattice, bolts, why, reasons))
    if not tried:
        return AdapterAnswer(placed.name, True, reasons[-1])
    best, other = _chosen(tried)
    place = nearest_position(assembly, placed)
    at = place.at if place is not None else None
    return AdapterAnswer(placed.name, True, "", best, with_adapter(assembly, best), at, other)


def _chosen(tried: Sequence[tuple[float, int, Adapter]]) -> tuple[Adapter, Adapter | None]:
    """The smallest whose screws surround the part's holes, where it is not far larger than the smallest of all; and the other."""
    order = sorted(tried, key=lambda t: (t[0], t[2].overhang > 0.0, t[1]))
    area, _, least_of_all = order[0]
    around = next((t for t in order if t[2].overhang == 0.0), None)
    if around is None or around[2] is least_of_all:
        return least_of_all, None
    return (around[2], least_of_all) if around[0] <= _WORTH * area else (least_of_all, around[2])


def _first(assembly: Assembly, room: Room, task: Task, measures: Adapter, reasons: list[str], *, surround: bool,
           below: float = math.inf) -> Adapter | None:
    """The smallest plate with which the whole robot has no error more than without it; ``surround``: of those whose screws have the
    part's holes among them; of less area than ``below``."""
    before = error_keys(assembly)
    lattice = assembly.decks[measures.deck].deck.lattice
    assert lattice is not None
    trials = 0
    for found in plates(task, surround=surround, blocked=room.blocked, unfit=room.unfit):
        if round(found.rect.area, 12) >= round(below, 12):
            break
        if found.overhang > _base(task, found) + 1e-9:
            reasons.append(f"its holes would be {mm(found.overhang)} beyond the screws of a plate, which are only "
                           f"{mm(_base(task, found))} apart")
            continue
        one = replace(measures, at=_at(lattice, found), rect=found.rect, holes=found.bolts, overhang=found.overhang,
                      reliefs=tuple(d.relief for d in room.under(found.rect)))
        gained = error_keys(with_adapter(assembly, one)) - before
        if not gained:
            return one
        code, of = min(gained)
        reasons.append(f"with the plate in place the check finds `{code}` of {listing(of)}")
        trials += 1
        if trials == _TRIALS:
            break
    return None


def _base(task: Task, found: FoundPlate) -> float:
    """How far a plate's screws are apart, the shorter way: nothing is to stand out further beyond them (common practice)."""
    points = [task.bolts[h] for h in found.bolts]
    return min(max(p[k] for p in points) - min(p[k] for p in points) for k in (0, 1))


# -------------------------------------------------------------------------------------------------------------- the question
def _asked(assembly: Assembly, name: str) -> PlacedPart:
    """The placement, where an adapter makes sense for it."""
    placed = known_placement(assembly, name)
    placement, part = placed.placement, placed.part
    if placement.support == "shaft":
        raise UsageError(f"`{name}` is a wheel on a shaft: an adapter is for what is bolted to a deck, ask for `{placement.on}`")
    if placed.deck is None:
        raise UsageError(f"`{name}` sits on a seat of `{placement.on}`: an adapter is for what is bolted to a deck; put it "
                         "on a deck first, or drill the seat")
    if assembly.decks[placed.deck].deck.lattice is None:
        raise UsageError(f"{placed.deck} has no lattice to bolt an adapter to: drill it where the bolts of `{name}` are")
    if placed.fixing in ("adhesive", "strap"):
        raise UsageError(f"`{name}` is held by {'a strap' if placed.fixing == 'strap' else 'adhesive'}, not by its bolts: there is "
                         "nothing to match; leave `fixing` out if it is to be bolted")
    if not part.bolts:
        raise UsageError(f"`{part.name}` has no bolts: give it `bolts`, or say how `{name}` is held (`fixing: strap`)")
    if len(part.bolts) == 1:
        raise UsageError(f"`{part.name}` has one bolt, which fits any hole: `chassis_describe places` says where `{name}` could go")
    if placement.mirror_of is not None:
        raise UsageError(f"`{name}` mirrors `{placement.mirror_of}` and takes its place from it: write it out (`part`, `on`, `at`) "
                         "and ask for an adapter for each")
    images = [n for n, p in assembly.parts.items() if p.placement.mirror_of == name]
    if images:
        raise UsageError(f"{listing(f'`{n}`' for n in images)} mirrors `{name}` and would be put on the same adapter: write "
                         f"{'it' if len(images) == 1 else 'them'} out (`part`, `on`, `at`) and ask for an adapter for each")
    if abs(placement.offset[2]) > 1e-9:
        raise UsageError(f"`{name}` has an `offset` of {mm(placement.offset[2])} along z, which nothing holds: say `lift` for "
                         "spacers, or leave it out")
    return placed


def _fits(assembly: Assembly, placed: PlacedPart) -> bool:
    book = book_of(assembly)
    uses = book.by_user.get(placed.name, ())
    return bool(uses) and all(u.hole is not None and u.hole.exists and meets(u) and
                              not book.taken((u.hole.on, u.hole.hole), placed.face, placed.name) for u in uses)


def holes_of_part(placed: PlacedPart, turn: float) -> tuple[Vec2, ...]:
    """Where the part's bolts are in deck coordinates, of slots their middles; to the nanometre."""
    here = Attachment(_origin(placed), None, turn)
    return tuple(_rounded(part_point_in_plane(p, here, placed.face or "top")) for p in placed.part.bolts)


def _origin(placed: PlacedPart) -> Vec2:
    x, y, _ = placed.part_in_support.t
    return _rounded((x, y))


def _rounded(p: Vec2) -> Vec2:
    return (round(p[0], 9) + 0.0, round(p[1], 9) + 0.0)


def _screw_of(placed: PlacedPart, lattice: Lattice) -> _Screw:
    thread = placed.part.screw or lattice.screw
    head, clear = HEADS["countersunk"].get(thread), ISO_273.get(thread)
    if head is None or clear is None:
        raise UsageError(f"the standards' tables have no countersunk {thread} screw: give `{placed.part.name}` another `screw`")
    # Tools come in tenths: the next one that takes the whole head.
    return _Screw(thread, clear.medium, math.ceil(head.diameter * 1e4 - 1e-6) / 1e4, head.height)


def _no_two_sinks_meet(placed: PlacedPart, screw: _Screw) -> None:
    for n, p in enumerate(placed.part.bolts):
        for m, q in enumerate(placed.part.bolts[:n]):
            if math.dist(p, q) < screw.sink + LEFT - 1e-9:
                raise UsageError(f"bolts {m + 1} and {n + 1} of `{placed.part.name}` are {mm(math.dist(p, q))} apart: their "
                                 f"countersinks of {mm(screw.sink)} would run into one another")


def _thickness(asked: float | None, deck: Deck, screw: _Screw) -> float:
    """The deck's own sheet where it is thick enough, else whole millimetres."""
    need = screw.height + LEFT
    if asked is not None:
        if asked < need - 1e-9:
            raise UsageError(f"a plate of {mm(asked)} is too thin: the head of a countersunk {screw.thread} is "
                             f"{mm(screw.height)} high, and {mm(LEFT)} must be left above it: {mm(need)} or more")
        return asked
    return deck.thickness if deck.thickness >= need - 1e-9 else math.ceil(need * 1e3 - 1e-9) / 1e3


def _material(asked: str | None, assembly: Assembly, deck: Deck) -> tuple[str | None, float]:
    """Name and density; the deck's own unless asked otherwise."""
    if asked is not None:
        own = {d.material: d.density for d in assembly.layout.decks.values() if d.material is not None and d.density is not None}
        found = material(asked, own)
        if found is None:
            raise UsageError(not_known(asked, "known material", dict.fromkeys([*own, *MATERIALS])))
        return found
    if deck.density is not None:
        return deck.material, deck.density
    return "birch plywood", MATERIALS["birch plywood"]


def _free_name(assembly: Assembly, placement: str) -> str:
    taken = {*assembly.parts, *assembly.decks, *(p.part.name for p in assembly.parts.values())}
    name = f"{placement}_adapter"
    return next(n for n in (name, *(f"{name}_{k}" for k in range(2, len(taken) + 3))) if n not in taken)


def _at(lattice: Lattice, found: FoundPlate) -> Hole:
    """The hole nearest to the plate's middle."""
    r = found.rect
    i, j = lattice_coordinates(lattice, ((r.x0 + r.x1) / 2, (r.y0 + r.y1) / 2))
    return min(((a, b) for a in (math.floor(i), math.ceil(i)) for b in (math.floor(j), math.ceil(j))),
               key=lambda h: (round(math.dist(h, (i, j)), 6), h))


# --------------------------------------------------------------------------------------------------------------- the robot
def _shape(assembly: Assembly, placed: PlacedPart, turn: float) -> object:
    """What the part and all that it carries cover of the deck, turned."""
    from shapely.affinity import rotate
    from shapely.ops import unary_union

    members = bodies_of(assembly).carried_by(placed.name)
    whole = unary_union([o.area for n, o in outlines_of(assembly).items() if n in members])
    by = math.degrees(turn - placed.turn) * (-1.0 if placed.face == "under" else 1.0)
    return whole if abs(by) < 1e-9 else rotate(whole, by, origin=_origin(placed))


def _over(assembly: Assembly, placed: PlacedPart, up: float) -> str | None:
    """Who is in the way of the part, put higher by so much, and was not before."""
    assert placed.deck is not None
    scene, facet = bodies_of(assembly), assembly.decks[placed.deck]
    members = scene.carried_by(placed.name)
    face: Face = placed.face or "top"
    lift = translation(0.0, 0.0, up if face == "top" else -up)
    before = set(scene.in_bodies(members, translation(0.0, 0.0, 0.0)))
    then = [o for o in scene.in_bodies(members, facet.pose @ lift @ facet.pose.inverse()) if o not in before]
    return owner_words(then[0]) if then else None


def _no_room(room: Room, lattice: Lattice, bolts: dict[Hole, Vec2], why: dict[str, int], found: list[str]) -> str:
    """The nearest reason: what was wrong with the smallest plate that there could be, else what is in the way of all."""
    if found:
        return found[0]
    if room.in_the_way:
        kind, name = next(iter(room.in_the_way))
        what = f"a screw of {name}" if kind == "screw" else owner_words((kind, name))
        return f"{what} is in the way of every plate that would take it and reach three holes"
    near = f"within {REACH} holes of it" if bolts or why else f"near it on {room.deck}"
    told = listing(f"{n} {reason}" for reason, n in sorted(why.items(), key=lambda w: -w[1]))
    return (f"{count(len(bolts), 'hole')} {near} {'is' if len(bolts) == 1 else 'are'} free for its screws, and three that are not "
            "in line are needed" + (f" ({told})" if told else ""))
