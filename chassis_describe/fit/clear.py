"""Space that a part needs for hands, plugs and cables (``keep_clear``), and what stands in it."""
from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from chassis_describe.assembly.model import Assembly, Body
from chassis_describe.facts.bodies import Bodies, Owner, bodies_of, work_of
from chassis_describe.findings import Finding, finding
from chassis_describe.fit.overlap import more_room, mover_of, owner_mark
from chassis_describe.fit.remedy_words import MEND_FIRST, owner_words, remedy
from chassis_describe.space.overlap.penetration import penetration
from chassis_describe.space.pose import Vec3
from chassis_describe.tolerances import IN_PLATE, MOST_DEPTHS
from chassis_describe.words import count, mm


def space_kept_clear(assembly: Assembly) -> Iterable[Finding]:
    """``clear-space-taken``: one finding for each part and intruder, with the deepest intrusion."""
    solids = bodies_of(assembly)
    deepest: dict[tuple[str, Owner], tuple[float, Vec3, Body]] = {}
    intrusions = _Intrusions(solids)
    for n, depth, way, owner in intrusions:
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
    if intrusions.not_judged:
        yield finding("clear-space-taken", f"{count(intrusions.not_judged, 'more intrusion')} into spaces to be kept clear would "
                      "have to be judged one by one, and were not: there are too many", hint=MEND_FIRST,
                      where=[space.mark for space in solids.spaces[:1]])


class _Intrusions:
    """Which space, how deep, the way the intruder has to go, and who it is. ``not_judged``: pairs left out, once run through."""

    def __init__(self, solids: Bodies) -> None:
        self.solids = solids
        self.not_judged = 0
        self.work = 0

    def __iter__(self) -> Iterator[tuple[int, float, Vec3, Owner]]:
        solids = self.solids
        if not solids.spaces:
            return
        for n, near in _near(solids):
            space, pose = solids.spaces[n], solids.space_poses[n]
            for k in self._within(near, [work_of(space, solids.bodies[k]) for k in near]):
                depth, way = penetration(space.solid, pose, solids.bodies[k].solid, solids.poses[k])
                if depth > solids.limit:
                    yield n, depth, way, solids.owners[k]
        for item in solids.plates:
            inside = solids.near_plate(item, solids.space_crowd, -solids.limit)
            for n in self._within(inside, [IN_PLATE] * len(inside)):
                depth, (x, y, z) = solids.in_plate(item, solids.spaces[n], solids.space_poses[n])
                if depth > solids.limit:
                    yield n, depth, (-x, -y, -z), ("plate", item.name)

    def _within(self, rows: Sequence[int], work: Sequence[int]) -> Iterator[int]:
        """The first of some rows, as many as may still be judged; the others are counted."""
        for at, (row, one) in enumerate(zip(rows, work)):
            if self.work + one > MOST_DEPTHS:
                self.not_judged += len(rows) - at
                return
            self.work += one
            yield row


def _near(solids: Bodies) -> Iterator[tuple[int, list[int]]]:
    """The number of each space, and the bodies of others whose boxes meet it."""
    crowd = solids.space_crowd
    order = np.argsort(solids.crowd.centres[:, 0])
    xs = solids.crowd.centres[order, 0]
    widest = float(solids.crowd.extents[:, 0].max(initial=0.0))
    for n, name in enumerate(solids.space_owners):
        middle, reach = crowd.centres[n, 0], crowd.extents[n, 0] + widest
        near = order[np.searchsorted(xs, middle - reach):np.searchsorted(xs, middle + reach)]
        apart = np.abs(solids.crowd.centres[near] - crowd.centres[n]) - solids.crowd.extents[near] - crowd.extents[n]
        rows = near[(apart < -solids.limit).all(axis=1)]
        yield n, rows[solids.group[rows] != solids.numbers.get(("part", name), -1)].tolist()
