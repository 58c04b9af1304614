"""Room around wheels as they turn."""
from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from chassis_describe.assembly.model import Assembly, Body, WheelFacet
from chassis_describe.facts.bodies import Bodies, Owner, bodies_of
from chassis_describe.findings import Finding, finding
from chassis_describe.fit.overlap import mover_of, owner_mark
from chassis_describe.fit.remedy_words import owner_words, remedy
from chassis_describe.space.overlap.pairs import Crowd
from chassis_describe.space.overlap.penetration import apart_at_least, gap, penetration
from chassis_describe.space.pose import IDENTITY, Pose, smallest_between
from chassis_describe.space.solids import Cylinder
from chassis_describe.tolerances import SAME_LENGTH
from chassis_describe.words import mm


def wheels_turn(assembly: Assembly) -> Iterable[Finding]:
    """``wheel-rubs``: something but its own motor too near a wheel's swept cylinder; what is deeper than the overlap
    limit is said by ``bodies-overlap``."""
    solids = bodies_of(assembly)
    least = assembly.layout.limits["wheel_gap_mm"] * 1e-3
    for wheel in assembly.wheels:
        nearest: dict[Owner, float] = {}
        for owner, apart in _near(solids, wheel, least):
            nearest[owner] = min(apart, nearest.get(owner, math.inf))
        for owner, apart in nearest.items():
            yield _finding(assembly, wheel, owner, apart, least)


def _finding(assembly: Assembly, wheel: WheelFacet, owner: Owner, apart: float, least: float) -> Finding:
    placed = assembly.parts[wheel.placement]
    mover = mover_of(assembly, ("part", wheel.placement), owner)
    hint = f"leave {mm(least)}"
    if mover is not None:
        found = remedy(assembly, mover, f"move {mover.name} to")
        hint += f": {found}" if found else ""
    if owner[0] == "plate":
        hint += f"; or cut {owner_words(owner)} away there by {mm(least - apart)} more"
    says = f"stands {mm(apart)} from" if apart > 0 else "touches"
    return finding("wheel-rubs", f"{owner_words(owner)} {says} {wheel.placement}, which turns", hint=hint,
                   where=[placed.mark, owner_mark(assembly, owner)], of=[wheel.placement, owner[1]],
                   measured=apart * 1e3, allowed=least * 1e3, unit="mm")


def _near(solids: Bodies, wheel: WheelFacet, least: float) -> Iterable[tuple[Owner, float]]:
    solid = Cylinder(wheel.radius, wheel.width)
    pose = Pose(smallest_between((0.0, 0.0, 1.0), wheel.axis), wheel.centre)
    crowd = Crowd([solid], [pose])
    own = {("part", wheel.placement), ("part", wheel.motor_placement)}
    apart = np.abs(solids.crowd.centres - crowd.centres[0]) - solids.crowd.extents - crowd.extents[0]
    for k in np.flatnonzero((apart < least).all(axis=1)).tolist():
        if solids.owners[k] in own:
            continue
        body = solids.bodies[k]
        if apart_at_least(solid, pose, body.solid, solids.poses[k]) >= least:
            continue  # the usual case, without the search for the distance
        distance = gap(solid, pose, body.solid, solids.poses[k])
        if distance < least - SAME_LENGTH and not (
                distance == 0.0 and penetration(solid, pose, body.solid, solids.poses[k])[0] > solids.limit):
            yield solids.owners[k], distance
    swept = Body(wheel.placement, "wheel", solid, IDENTITY, 0.0, None, wheel.mark)
    for item in solids.plates:
        if solids.near_plate(item, crowd, least):
            from chassis_describe.space.overlap.plates import plate_gap

            distance = plate_gap(item.plain, item.pose, solid, pose, least)
            if distance < least - SAME_LENGTH and not (distance == 0.0
                                                       and solids.in_plate(item, swept, pose)[0] > solids.limit):
                yield ("plate", item.name), distance
