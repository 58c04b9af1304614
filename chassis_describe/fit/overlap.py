"""Things in one place: solids of different parts, true plates and standoffs in one another."""
from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, PlacedPart
from chassis_describe.assembly.place import assemble
from chassis_describe.assembly.seats import seat_moves
from chassis_describe.assembly.weigh import body_pose
from chassis_describe.errors import LayoutError
from chassis_describe.facts.bodies import Bodies, Clash, Owner, bodies_of
from chassis_describe.facts.free_places import lattice_of, nearest_position
from chassis_describe.findings import Finding, finding
from chassis_describe.fit.bolts import place_mark
from chassis_describe.fit.remedy_words import MEND_FIRST, fits_there, own_seat, owner_words, remedy, the_same_place
from chassis_describe.layout.model import Deck, FixedTo, Stacked
from chassis_describe.source import Mark
from chassis_describe.space.pose import Vec3, translation
from chassis_describe.space.solids import half_extents
from chassis_describe.tolerances import MOST_HINTED
from chassis_describe.words import count, mm, pair, plain

#: Lengths that M3 hexagon standoffs are commonly sold in, mm (common practice; there is no standard).
_LENGTHS = (5, 6, 8, 10, 12, 15, 18, 20, 25, 30, 35, 40, 45, 50, 55, 60, 70, 80, 90, 100, 120, 150)


#: How far something is raised out of what it is in, the first that is seen to clear it, in depths.
_PARTS_OF_DEPTH = (1.0, 1.25, 1.5, 2.0, 3.0, 4.0, 6.0)

#: How often a robot is put together anew to see that longer standoffs help, and the number of bodies up to which it is.
_MOST_FOLLOWED = 12
_CROWD = 400


def bodies_overlap(assembly: Assembly) -> Iterable[Finding]:
    """``bodies-overlap``: one finding for each two owners, the deepest pair of their bodies."""
    solids = bodies_of(assembly)
    deepest: dict[frozenset[Owner], Clash] = {}
    numbers: dict[frozenset[Owner], int] = {}
    for clash in solids.clashes():
        key = frozenset((clash.a, clash.b))
        numbers[key] = numbers.get(key, 0) + 1
        if key not in deepest or clash.depth > deepest[key].depth:
            deepest[key] = clash
    places = {name: n for n, name in enumerate(assembly.layout.placements)}
    late = sorted(deepest, key=lambda two: max(places.get(name, -1) for _, name in two))
    told = set(late[:MOST_HINTED])
    for key, clash in deepest.items():
        yield _finding(assembly, clash, numbers[key], solids.limit, hinted=key in told)
    if solids.not_judged:
        marks = [owner_mark(assembly, clash.b) for clash in list(deepest.values())[:1]]
        least = "" if solids.all_counted else "at least "
        yield finding("bodies-overlap", f"{least}{solids.not_judged} more pairs of bodies lie so near one another that they have "
                      "to be judged one by one, and were not: there are too many", hint=MEND_FIRST,
                      where=marks[:1])


def owner_mark(assembly: Assembly, owner: Owner) -> Mark:
    """Where an owner stands in the file."""
    if owner[0] == "part":
        return place_mark(assembly.parts[owner[1]])
    return assembly.decks[owner[1]].deck.mark


def mover_of(assembly: Assembly, *owners: Owner) -> PlacedPart | None:
    """The part to move: of those that can be, the one that stands later in the file, unless only the other has a place
    to go to. What sits in a seat without lattice or on a shaft moves with what carries it."""
    movable: list[PlacedPart] = []
    names = {name for kind, name in owners if kind == "part"}
    for name in names:
        base = _base(assembly, ("part", name))
        # What carries both takes both along: moving it helps nothing.
        if len(names) == 1 or not names <= bodies_of(assembly).carried_by(base):
            movable.append(assembly.parts[base])
    order = list(assembly.layout.placements)
    movable.sort(key=lambda p: (p.at is not None, order.index(p.name)))
    if len(movable) > 1 and nearest_position(assembly, movable[-1]) is None and nearest_position(assembly, movable[-2]):
        return movable[-2]
    return movable[-1] if movable else None


def _finding(assembly: Assembly, clash: Clash, number: int, limit: float, *, hinted: bool) -> Finding:
    """``hinted``: what to do is looked for; else it is left to the findings before it."""
    a, b = clash.a, clash.b
    mover = mover_of(assembly, a, b) if hinted else None
    first, second = _first(assembly, a, b, mover)
    hint = _hint(assembly, clash, mover, first, second) if hinted else MEND_FIRST
    pairs = f" ({count(number, 'pair')} of their bodies)" if number > 1 else ""
    marks = [_mark(assembly, clash, first), _mark(assembly, clash, second)]
    return finding("bodies-overlap", f"{_words(assembly, clash, first)} is {mm(clash.depth)} deep in "
                   f"{_words(assembly, clash, second)}{pairs}",
                   hint=hint or "move them apart", where=marks, of=list(dict.fromkeys((first[1], second[1]))),
                   measured=clash.depth * 1e3, allowed=limit * 1e3, unit="mm")


def _hint(assembly: Assembly, clash: Clash, mover: PlacedPart | None, first: Owner, second: Owner) -> str:
    a, b = clash.a, clash.b
    place = "" if mover is None else remedy(assembly, mover, f"move {mover.name} to")
    hints = [] if mover is None else [_lift(assembly, mover, clash)]
    for owner, sign in ((a, -1.0), (b, 1.0)):
        if owner[0] == "plate" and not (mover is not None and mover.deck == owner[1]):
            d = clash.direction
            hints.append(more_room(assembly, owner, clash.depth, (sign * d[0], sign * d[1], sign * d[2]), frozenset((a, b))))
    if place and (fits_there(place) or not any(hints)):
        hints.insert(0, place)
    if mover is None and a[0] == b[0] == "part":
        hints.append(_on_its_carrier(assembly, first, second, clash))
    if a[0] == b[0] == "part" and (instead := own_seat(assembly, a[1], b[1]) or the_same_place(assembly, a[1], b[1])):
        hints = [instead]
    if any(hints):
        return "; or ".join(h for h in hints if h)
    return "choose other holes for the standoffs" if "standoff" in (a[0], b[0]) else ""


def _words(assembly: Assembly, clash: Clash, owner: Owner) -> str:
    """The owner as the message names it; of a standoff its hole too."""
    body = clash.body_a if owner == clash.a else clash.body_b
    if owner[0] == "standoff" and body is not None:
        for facet in assembly.decks.values():
            placing = facet.deck.placing
            for group in placing.standoffs if isinstance(placing, Stacked) else ():
                for hole, mark in zip(group.holes, group.hole_marks):
                    if group.on == owner[1] and mark == body.mark:
                        return f"the standoff at hole {pair(hole)} of {owner[1]}"
    return owner_words(owner)


def _first(assembly: Assembly, a: Owner, b: Owner, mover: PlacedPart | None) -> tuple[Owner, Owner]:
    """The one to edit, and the other: what moves, or the part that stands later in the file."""
    if a[0] == b[0] == "part" and (mover is None or _base(assembly, a) == _base(assembly, b)):
        order = list(assembly.layout.placements)
        return (a, b) if order.index(a[1]) > order.index(b[1]) else (b, a)
    if mover is not None and a[0] == "part" and _base(assembly, a) == mover.name:
        return a, b
    return b, a


def _on_its_carrier(assembly: Assembly, first: Owner, second: Owner, clash: Clash) -> str:
    """Advice for two parts of which one carries the other."""
    rider = next((o[1] for o, other in ((first, second), (second, first))
                  if o[1] in bodies_of(assembly).carried_by(other[1])), None)
    if rider is None or assembly.parts[rider].placement.support != "seat":
        return ""
    placed = assembly.parts[rider]
    seat = placed.placement
    scene = bodies_of(assembly)
    moving = scene.carried_by(rider)
    carrier = assembly.parts[seat.on]
    z = (carrier.pose @ carrier.seats[seat.seat or ""]).z_axis
    check = f"check where seat {seat.seat} of {seat.on} is and how far {rider} reaches below its base"
    for part in _PARTS_OF_DEPTH:  # the depth is that of the shortest way, which need not be the seat's z
        up = math.ceil(clash.depth * part * 1e4 - 1e-6) / 10
        if scene.has_room(moving, translation(*(v * up * 1e-3 for v in z))):
            was = [v * 1e3 for v in seat.offset]
            return f"{check}; `offset: {pair((was[0], was[1], was[2] + up))}` raises it clear"
    return check


def _mark(assembly: Assembly, clash: Clash, owner: Owner) -> Mark:
    if owner[0] == "standoff":
        body = clash.body_a if owner == clash.a else clash.body_b
        if body is not None:
            return body.mark
    return owner_mark(assembly, owner)


def _base(assembly: Assembly, owner: Owner) -> str:
    """The placement to move when this one has to go elsewhere: the first below it that is bolted to a lattice."""
    placed = assembly.parts[owner[1]]
    while placed.placement.support != "deck" and lattice_of(assembly, placed) is None:
        placed = assembly.parts[placed.placement.on]
    return placed.name


def more_room(assembly: Assembly, owner: Owner, depth: float, into: Vec3, clash: frozenset[Owner] = frozenset()) -> str:
    """What to change on a deck so that it leaves something that is ``depth`` deep in it; ``into``: the way the deck
    has to go, in base_link. Where that is oblique, standoffs are tried until the two that ``clash`` names are clear."""
    facet = assembly.decks[owner[1]]
    placing = facet.deck.placing
    if owner[0] != "plate" or placing is None:
        return ""
    other = assembly.decks[placing.deck].pose
    x, y, z = other.inverse().vector(into)
    if isinstance(placing, FixedTo):
        step = pair([v * 1e3 for v in (x * depth, y * depth, z * depth)], 1)
        return f"shift {owner[1]} by {step} mm (its `xyz`)"
    up = z if placing.relation == "above" else -z
    if not placing.standoffs or up < (0.1 if clash else 0.999):
        return ""
    own = [g for g in placing.standoffs if g.on == placing.deck]
    length = (own or placing.standoffs)[0].length
    wanted = (length + depth) * 1e3
    for common in [v for v in _LENGTHS if v >= wanted - 1e-6][:3] or [math.ceil(wanted)]:
        if _clears(assembly, facet.deck, placing, common * 1e-3 - length, clash):
            break
    else:
        return ""
    lengths = {g.on: g.length * 1e3 for g in placing.standoffs}
    said = f"standoffs of {common} mm instead of {plain(length * 1e3)}" if len(lengths) == 1 else " and ".join(
        f"standoffs of {plain(v + common - length * 1e3)} mm instead of {plain(v)} on {on}" for on, v in lengths.items())
    return f"{'raise' if placing.relation == 'above' else 'lower'} {owner[1]}: {said}"


@kept
def _followed(assembly: Assembly) -> list[str]:
    """The decks that were tried with other standoffs so far."""
    return []


@kept
def _in_one_another(assembly: Assembly) -> frozenset[frozenset[Owner]]:
    return frozenset(frozenset((c.a, c.b)) for c in Bodies(assembly).clashes())


def _clears(assembly: Assembly, deck: Deck, placing: Stacked, longer: float, clash: frozenset[Owner]) -> bool:
    """Whether longer standoffs take a clash away and bring nothing into another thing: the robot is put together with them.
    Tried a bounded number of times, and not for crowds; from then on nothing is said of standoffs."""
    if len(_followed(assembly)) >= _MOST_FOLLOWED or len(bodies_of(assembly).bodies) > _CROWD:
        return False
    _followed(assembly).append(deck.name)
    groups = tuple(replace(g, length=g.length + longer) for g in placing.standoffs)
    new = replace(deck, placing=replace(placing, standoffs=groups))
    try:
        raised = assemble(replace(assembly.layout, decks=dict(assembly.layout.decks) | {deck.name: new}))
    except LayoutError:
        return False
    return _in_one_another(raised) <= _in_one_another(assembly) - {clash}


def _lift(assembly: Assembly, mover: PlacedPart, clash: Clash) -> str:
    """Spacers that lift a part out of what it stands in, where the shortest way out is along its own z."""
    if mover.placement.support == "shaft" or not mover.part.bolts:
        return ""
    z = mover.pose.z_axis
    own = clash.b[0] == "part" and _base(assembly, clash.b) == mover.name
    d = clash.direction if own else tuple(-v for v in clash.direction)
    if sum(p * q for p, q in zip(z, d)) < 0.999:
        return ""
    lift = math.ceil((mover.placement.lift + clash.depth) * 2e3 - 1e-6) / 2
    below = _below_its_base(mover)
    if below > bodies_of(assembly).limit and ("plate", mover.deck) in (clash.a, clash.b):
        return (f"{mover.part.name} reaches {mm(below)} below its own base plane, z = 0 (`at` of a body is its middle, not its "
                f"foot); where it really does, lift {mover.name} with spacers: `lift: {plain(lift)}`")
    step = lift * 1e-3 - mover.placement.lift
    solids = bodies_of(assembly)
    if not solids.has_room(solids.carried_by(mover.name), translation(z[0] * step, z[1] * step, z[2] * step)):
        return ""
    return f"lift {mover.name} with spacers: `lift: {plain(lift)}`"


def _below_its_base(placed: PlacedPart) -> float:
    """How far the bodies of a part reach below its base plane (m)."""
    placement = placed.placement
    moves = seat_moves(placed.part, placement.settings) if placed.part.seats else {}
    solids = [body_pose(body, moves) for body in placed.part.bodies]
    return max((half_extents(solid, pose)[2] - pose.t[2] for solid, pose in solids), default=0.0)
