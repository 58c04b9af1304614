"""Things in one place: solids of different parts, true plates and standoffs in one another."""
from __future__ import annotations

import math
from collections.abc import Iterable

from chassis_describe.assembly.model import Assembly, PlacedPart
from chassis_describe.findings import Finding, finding
from chassis_describe.fit.bolts import place_mark
from chassis_describe.fit.nearest import nearest_position, remedy
from chassis_describe.fit.scene import Clash, Owner, scene_of
from chassis_describe.fit.words import count, mm, plain
from chassis_describe.source import Mark


def bodies_overlap(assembly: Assembly) -> Iterable[Finding]:
    """``bodies-overlap``: one finding for each two owners, the deepest pair of their bodies."""
    scene = scene_of(assembly)
    deepest: dict[frozenset[Owner], Clash] = {}
    numbers: dict[frozenset[Owner], int] = {}
    for clash in scene.clashes():
        key = frozenset((clash.a, clash.b))
        numbers[key] = numbers.get(key, 0) + 1
        if key not in deepest or clash.depth > deepest[key].depth:
            deepest[key] = clash
    for key, clash in deepest.items():
        yield _finding(assembly, clash, numbers[key], scene.limit)


def owner_words(owner: Owner) -> str:
    """The owner as a message names it."""
    return {"plate": f"deck {owner[1]}", "standoff": f"a standoff on {owner[1]}"}.get(owner[0], owner[1])


def owner_mark(assembly: Assembly, owner: Owner) -> Mark:
    """Where an owner stands in the file."""
    if owner[0] == "part":
        return place_mark(assembly.parts[owner[1]])
    return assembly.decks[owner[1]].deck.mark


def mover_of(assembly: Assembly, *owners: Owner) -> PlacedPart | None:
    """The part to move: of those that can be, the one that stands later in the file, unless only the other has a place
    to go to. A wheel moves with its motor."""
    movable: list[PlacedPart] = []
    for kind, name in owners:
        if kind != "part":
            continue
        placed = assembly.parts[name]
        while placed.placement.support == "shaft":
            placed = assembly.parts[placed.placement.on]
        movable.append(placed)
    order = list(assembly.layout.placements)
    movable.sort(key=lambda p: (p.at is not None, order.index(p.name)))
    if len(movable) > 1 and nearest_position(assembly, movable[-1]) is None and nearest_position(assembly, movable[-2]):
        return movable[-2]
    return movable[-1] if movable else None


def _finding(assembly: Assembly, clash: Clash, number: int, limit: float) -> Finding:
    a, b = clash.a, clash.b
    mover = mover_of(assembly, a, b)
    first, second = (a, b) if mover is not None and a[0] == "part" and _base(assembly, a) == mover.name else (b, a)
    pairs = f" ({count(number, 'pair')} of their bodies)" if number > 1 else ""
    hint = ""
    if mover is not None:
        hints = [remedy(assembly, mover, f"move {mover.name} to"), _lift(assembly, mover, clash)]
        hint = "; or ".join(h for h in hints if h)
    elif "standoff" in (a[0], b[0]):
        hint = "choose other holes for the standoffs"
    marks = [_mark(assembly, clash, first), _mark(assembly, clash, second)]
    return finding("bodies-overlap", f"{owner_words(first)} is {mm(clash.depth)} deep in {owner_words(second)}{pairs}",
                   hint=hint or "move them apart", where=marks, of=list(dict.fromkeys((first[1], second[1]))),
                   measured=clash.depth * 1e3, allowed=limit * 1e3, unit="mm")


def _mark(assembly: Assembly, clash: Clash, owner: Owner) -> Mark:
    if owner[0] == "standoff":
        body = clash.body_a if owner == clash.a else clash.body_b
        if body is not None:
            return body.mark
    return owner_mark(assembly, owner)


def _base(assembly: Assembly, owner: Owner) -> str:
    placed = assembly.parts[owner[1]]
    while placed.placement.support == "shaft":
        placed = assembly.parts[placed.placement.on]
    return placed.name


def _lift(assembly: Assembly, mover: PlacedPart, clash: Clash) -> str:
    """Spacers that lift a part out of what it stands in, where the shortest way out is along its own z."""
    if mover.placement.support == "shaft" or not mover.part.bolts:
        return ""
    z = mover.pose.z_axis
    d = clash.direction if clash.b == ("part", mover.name) else tuple(-v for v in clash.direction)
    if sum(p * q for p, q in zip(z, d)) < 0.999:
        return ""
    lift = math.ceil((mover.placement.lift + clash.depth) * 2e3 - 1e-6) / 2
    return f"lift it with spacers: `lift: {plain(lift)}`"
