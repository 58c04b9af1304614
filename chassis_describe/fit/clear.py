"""Space that a part needs for hands, plugs and cables (``keep_clear``), and what stands in it."""
from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from chassis_describe.assembly.model import Assembly, Body
from chassis_describe.facts.bodies import Bodies, Owner, bodies_of
from chassis_describe.findings import Finding, finding
from chassis_describe.fit.overlap import more_room, mover_of, owner_mark
from chassis_describe.fit.remedy_words import owner_words, remedy
from chassis_describe.space.overlap.penetration import penetration
from chassis_describe.space.pose import Vec3
from chassis_describe.words import mm


def space_kept_clear(assembly: Assembly) -> Iterable[Finding]:
    """``clear-space-taken``: one finding for each part and intruder, with the deepest intrusion."""
    solids = bodies_of(assembly)
    deepest: dict[tuple[str, Owner], tuple[float, Vec3, Body]] = {}
    for n, depth, way, owner in _intrusions(solids):
        key = (solids.space_owners[n], owner)
        if key not in deepest or depth > deepest[key][0]:
            deepest[key] = (depth, way, solids.spaces[n])
    for (name, owner), (depth, way, space) in deepest.items():
        placed = assembly.parts[name]
        mover = mover_of(assembly, ("part", name), owner)
        hints = [remedy(assembly, mover, f"move {mover.name} to") if mover is not None else "",
                 more_room(assembly, owner, depth, way) if owner[0] == "plate" else ""]
        hint = "; or ".join(h for h in hints if h) or "move one of them"
        yield finding("clear-space-taken", f"{owner_words(owner)} reaches {mm(depth)} into the space that {name} needs "
                      "kept clear", hint=hint, where=[owner_mark(assembly, owner), placed.mark, space.mark],
                      of=list(dict.fromkeys((owner[1], name))), measured=depth * 1e3, allowed=solids.limit * 1e3,
                      unit="mm")


def _intrusions(solids: Bodies) -> Iterable[tuple[int, float, Vec3, Owner]]:
    """Which space, how deep, the way the intruder has to go, and who it is."""
    if not solids.spaces:
        return
    crowd = solids.space_crowd
    order = np.argsort(solids.crowd.centres[:, 0])
    xs = solids.crowd.centres[order, 0]
    widest = float(solids.crowd.extents[:, 0].max(initial=0.0))
    for n, (name, space, pose) in enumerate(zip(solids.space_owners, solids.spaces, solids.space_poses)):
        middle, reach = crowd.centres[n, 0], crowd.extents[n, 0] + widest
        near = order[np.searchsorted(xs, middle - reach):np.searchsorted(xs, middle + reach)]
        apart = np.abs(solids.crowd.centres[near] - crowd.centres[n]) - solids.crowd.extents[near] - crowd.extents[n]
        for k in near[(apart < -solids.limit).all(axis=1)].tolist():
            if solids.owners[k] == ("part", name):
                continue
            depth, way = penetration(space.solid, pose, solids.bodies[k].solid, solids.poses[k])
            if depth > solids.limit:
                yield n, depth, way, solids.owners[k]
    for item in solids.plates:
        for n in solids.near_plate(item, crowd, -solids.limit):
            depth, (x, y, z) = solids.in_plate(item, solids.spaces[n], solids.space_poses[n])
            if depth > solids.limit:
                yield n, depth, (-x, -y, -z), ("plate", item.name)
