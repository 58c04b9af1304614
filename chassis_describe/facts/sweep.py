"""What moves while the robot runs, over its range: what gets in its way. SI, radians.

One joint at a time, its followers along, the others at the values in force. Swivel casters are not asked about here: what
is in their rings is a finding of its own.
"""
from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, Body, Joint, MovingFacet
from chassis_describe.facts.bodies import Owner, bodies_of
from chassis_describe.space.overlap.pairs import Crowd
from chassis_describe.space.overlap.penetration import meets
from chassis_describe.space.pose import IDENTITY, Pose
from chassis_describe.space.solids import half_extents

#: Steps over the range of a joint (rad, m); no point moves further than FURTHEST in one (m).
STEP, FURTHEST = {"turn": math.radians(2.0), "slide": 0.002}, 0.010
#: Where something begins to touch is found to this (rad, m).
FINE = {"turn": math.radians(0.02), "slide": 0.00002}


class Way(NamedTuple):
    """How far a joint goes from its value in force: free from ``low`` to ``high``; what is in the way beyond each (empty:
    that is the end of its range). ``clear`` False: it touches something where it is."""

    facet: MovingFacet
    low: float
    high: float
    below: tuple[Owner, ...]
    above: tuple[Owner, ...]
    clear: bool = True


def swept(assembly: Assembly) -> list[MovingFacet]:
    """What is moved over its range: leaders, no casters."""
    return [m for m in assembly.moving if m.adjustment.follows is None and assembly.parts[m.placement].part.caster is None]


def span_of(facet: MovingFacet) -> tuple[float, float]:
    """The range of an adjustment; of an endless one a full turn about the value in force."""
    return facet.adjustment.range or (facet.value - math.pi, facet.value + math.pi)


def links_at(assembly: Assembly, facet: MovingFacet, value: float) -> dict[str, Pose]:
    """Every link that moves with a joint, in base_link, with that joint at a value and its followers along."""
    return links_with(assembly, {facet.joint: value})


def links_with(assembly: Assembly, values: Mapping[str, float]) -> dict[str, Pose]:
    """Every link that moves with some joints, in base_link, with those at the given values and their followers along."""
    out: dict[str, Pose] = {}
    for joint in assembly.joints:  # parents first
        own = values.get(joint.name)
        if own is None and joint.mimic is not None and joint.mimic.joint in values:
            own = joint.mimic.times * values[joint.mimic.joint] + joint.mimic.plus
        if own is None and joint.parent not in out:
            continue
        parent = out[joint.parent] if joint.parent in out else assembly.poses[joint.parent]
        out[joint.child] = parent @ joint.at(joint.value if own is None else own)
    return out


def carriers_of(assembly: Assembly, frame: str) -> tuple[Joint, ...]:
    """The joints that move a frame against base_link, the nearest to it first; of a follower, the joint that it follows."""
    above = {joint.child: joint for joint in assembly.joints}
    by_name = {joint.name: joint for joint in assembly.joints}
    found: dict[str, Joint] = {}
    while frame in above and frame != assembly.base:
        joint = above[frame]
        if joint.type != "fixed":
            leader = by_name[joint.mimic.joint] if joint.mimic is not None else joint
            found[leader.name] = leader
        frame = joint.parent
    return tuple(found.values())


@kept
def ways_of(assembly: Assembly) -> tuple[Way, ...]:
    """How far each joint goes before something is in its way."""
    return tuple(_way(assembly, facet) for facet in swept(assembly))


def _way(assembly: Assembly, facet: MovingFacet) -> Way:
    touched = _touching(assembly, facet)
    low, high = span_of(facet)
    if touched(facet.value):
        return Way(facet, facet.value, facet.value, (), (), clear=False)
    step = _step(assembly, facet)
    down, below = _walk(touched, facet, low, step)
    up, above = _walk(touched, facet, high, step)
    return Way(facet, down, up, below, above)


def _walk(touched: Callable[[float], tuple[Owner, ...]], facet: MovingFacet, end: float,
          step: float) -> tuple[float, tuple[Owner, ...]]:
    """From the value in force towards an end: the last free value, and what is in the way beyond it."""
    count = math.ceil(abs(end - facet.value) / step - 1e-9)
    free = facet.value
    for k in range(1, count + 1):
        value = facet.value + (end - facet.value) * k / count
        found = touched(value)
        if found:
            while abs(value - free) > FINE[facet.adjustment.kind]:
                middle = (value + free) / 2
                met = touched(middle)
                if met:
                    value, found = middle, met
                else:
                    free = middle
            return free, found
        free = value
    return end, ()


def _step(assembly: Assembly, facet: MovingFacet) -> float:
    """The step of a joint: the usual one, less where something reaches far out from its axis."""
    if facet.adjustment.kind == "slide":
        return STEP["slide"]
    pivot = assembly.poses[facet.link].t
    reach = 0.0
    for name in links_at(assembly, facet, facet.value):
        link = assembly.link_of[name]
        pose = assembly.poses[name]
        reach = max(reach, *(math.dist(pivot, pose.point(b.pose.t)) + math.hypot(*half_extents(b.solid, IDENTITY))
                             for b in link.bodies), 0.0)
    return min(STEP["turn"], FURTHEST / reach) if reach else STEP["turn"]


def _touching(assembly: Assembly, facet: MovingFacet) -> Callable[[float], tuple[Owner, ...]]:
    """A function from a value of the joint to whatever what moves with it is in there, deeper than the limit."""
    all_bodies = bodies_of(assembly)
    carrier = _carriers(assembly, facet)
    rows: list[tuple[int, str, Body]] = []
    count = 0
    for link in assembly.links:
        for body in link.bodies:
            if link.name in carrier:
                rows.append((count, link.name, body))
            count += 1
    still = np.ones(count, dtype=bool)
    still[[k for k, _, _ in rows]] = False
    several = len(set(carrier.values())) > 1

    def touched(value: float) -> tuple[Owner, ...]:
        links = links_at(assembly, facet, value)
        poses = [links[name] @ body.pose for _, name, body in rows]
        if not poses:
            return ()
        crowd = Crowd([body.solid for _, _, body in rows], poses)
        met: dict[Owner, None] = {}
        for n, (row, _, body) in enumerate(rows):
            mine = all_bodies.owners[row]
            for k in all_bodies.meeting(crowd, n, still):
                other = all_bodies.owners[k]
                if other != mine and not all_bodies.allowed(mine, other) and meets(
                        body.solid, poses[n], all_bodies.bodies[k].solid, all_bodies.poses[k], all_bodies.limit):
                    met[other] = None
        for item in all_bodies.plates:
            for n in all_bodies.near_plate(item, crowd, -all_bodies.limit):
                if all_bodies.meets_plate(item, rows[n][2], poses[n]):
                    met["plate", item.name] = None
        for n, (row, name, body) in enumerate(rows) if several else ():
            for m, (other_row, other_name, other_body) in enumerate(rows[:n]):
                mine, other = all_bodies.owners[row], all_bodies.owners[other_row]
                if carrier[name] != carrier[other_name] and mine != other and not all_bodies.allowed(mine, other) and meets(
                        body.solid, poses[n], other_body.solid, poses[m], all_bodies.limit):
                    met[other] = None
        return tuple(met)

    return touched


def _carriers(assembly: Assembly, facet: MovingFacet) -> dict[str, str]:
    """By moving link, the joint among the leader and its followers that carries it most nearly."""
    out: dict[str, str] = {}
    for joint in assembly.joints:
        if joint.name == facet.joint or (joint.mimic is not None and joint.mimic.joint == facet.joint):
            out[joint.child] = joint.name
        elif joint.parent in out:
            out[joint.child] = out[joint.parent]
    return out
