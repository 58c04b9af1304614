"""Room for swivel casters to swing round."""
from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from itertools import combinations

import numpy as np

from chassis_describe.assembly.model import Assembly, Body
from chassis_describe.facts.bodies import Bodies, Owner, bodies_of
from chassis_describe.facts.swing import Swing, swings_of
from chassis_describe.findings import Finding, finding
from chassis_describe.fit.overlap import owner_mark
from chassis_describe.fit.remedy_words import owner_words
from chassis_describe.space.overlap.pairs import Crowd
from chassis_describe.space.overlap.penetration import penetration
from chassis_describe.space.pose import IDENTITY, Pose
from chassis_describe.space.solids import Cylinder, Solid, extents
from chassis_describe.tolerances import SAME_ANGLE
from chassis_describe.words import mm

#: Steps in which a caster is swung (2 degrees): what a thin fork touches between two of them is less than 1 % of its reach deep.
_STEPS = 180


def casters_swing(assembly: Assembly) -> Iterable[Finding]:
    """``caster-swing-blocked``: something in the ring that a swivel caster's wheel and fork sweep. What it meets as it is drawn,
    trailing, is said by ``bodies-overlap``."""
    scene = bodies_of(assembly)
    said: set[frozenset[str]] = set()
    for swing in swings_of(assembly):
        deepest: dict[Owner, tuple[float, float]] = {}
        for owner, yaw, depth in _met(scene, swing):
            if depth > deepest.get(owner, (0.0, 0.0))[0]:
                deepest[owner] = (depth, yaw)
        for owner, (depth, yaw) in deepest.items():
            said.add(frozenset((swing.facet.placement, owner[1])))
            yield _finding(assembly, swing, owner, yaw, depth)
    for one, other in combinations(swings_of(assembly), 2):
        names = [one.facet.placement, other.facet.placement]
        both = _both_swung(one, other)
        if both > scene.limit and frozenset(names) not in said:
            yield finding("caster-swing-blocked", f"{names[0]} and {names[1]} meet when both swing towards one another, by "
                          f"{mm(both)}: they sweep {mm(one.reach)} and {mm(other.reach)} about their swivel axes",
                          hint=f"bring them {mm(both)} further apart, or take casters with less trail",
                          where=[assembly.parts[n].mark for n in names], of=names, measured=both * 1e3, allowed=0.0, unit="mm")


def _both_swung(one: Swing, other: Swing) -> float:
    """By how much the rings of two casters on parallel axes run into one another (m); 0 where one passes over the other."""
    apart = other.pose.inverse().point(one.pose.t)
    if abs(sum(a * b for a, b in zip(one.pose.z_axis, other.pose.z_axis))) < 1.0 - SAME_ANGLE \
            or abs(apart[2]) >= min(one.facet.radius, other.facet.radius):
        return 0.0
    return max(one.reach + other.reach - math.hypot(apart[0], apart[1]), 0.0)


def _finding(assembly: Assembly, swing: Swing, owner: Owner, yaw: float, depth: float) -> Finding:
    name = swing.facet.placement
    degrees = math.degrees(math.remainder(yaw, 2 * math.pi))
    at = "when it swings right round" if abs(abs(degrees) - 180) < 1e-6 else \
        f"when it swings {abs(degrees):.0f}° to the {'left' if degrees > 0 else 'right'}"
    return finding("caster-swing-blocked", f"{name} is {mm(depth)} deep in {owner_words(owner)} {at}; it sweeps "
                   f"{mm(swing.reach)} about its swivel axis",
                   hint="keep that circle free, at the height of wheel and fork: move one of them outwards, or take a caster with "
                   "less trail",
                   where=[assembly.parts[name].mark, owner_mark(assembly, owner)], of=[name, owner[1]],
                   measured=depth * 1e3, allowed=0.0, unit="mm")


def _met(scene: Bodies, swing: Swing) -> Iterator[tuple[Owner, float, float]]:
    """What the wheel is in, at which yaw (rad) and how deep, but for where it already is in it as drawn."""
    heights = [abs(v) for solid, pose in swing.fork for v in (extents(solid, pose)[0][2], extents(solid, pose)[1][2])]
    ring = Crowd([Cylinder(swing.reach, 2 * max([swing.facet.radius, *heights]))], [swing.pose])
    apart = np.abs(scene.crowd.centres - ring.centres[0]) - scene.crowd.extents - ring.extents[0]
    near = [k for k in np.flatnonzero((apart < 0).all(axis=1)).tolist() if scene.owners[k] != ("part", swing.facet.placement)]
    plates = [item for item in scene.plates if scene.near_plate(item, ring, 0.0)]

    def met(swung: list[tuple[Solid, Pose]]) -> Iterator[tuple[Owner, float]]:
        for solid, pose in swung:
            for k in near:
                depth = penetration(solid, pose, scene.bodies[k].solid, scene.poses[k])[0]
                if depth > scene.limit:
                    yield scene.owners[k], depth
            body = Body(swing.facet.placement, "caster", solid, IDENTITY, 0.0, None, swing.facet.mark)
            for item in plates:
                depth = scene.in_plate(item, body, pose)[0]
                if depth > scene.limit:
                    yield ("plate", item.name), depth

    if not (near or plates):
        return
    already = {owner for owner, _ in met(swing.turned(0.0))}
    for step in range(1, _STEPS):
        yaw = 2 * math.pi * step / _STEPS
        yield from ((owner, yaw, depth) for owner, depth in met(swing.turned(yaw)) if owner not in already)
