"""What a sensor sees of the robot when the joints that carry it move: solids, and where they are then.

Samples over the ranges of those joints, all of them together; everything that they don't move stands where the layout has it.
What is hidden by something else counts as seen, which is more and never less. Metres, in the root frame.
"""
from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import product

import numpy as np

from chassis_describe.assembly.model import Assembly, Joint, SensorFacet
from chassis_describe.facts.sight import Blockers, blockers_of, left_out_of, reach_of
from chassis_describe.facts.sweep import carriers_of, links_with
from chassis_describe.space.pose import Pose, Vec3
from chassis_describe.space.sight.rays import cast
from chassis_describe.space.sight.scene import Array, Sheet, scene_of
from chassis_describe.space.solids import Box, extents

#: Most poses of a sensor that are looked at, and of its rays one in so many: another one in each pose, so that all have their turn.
MOST, ONE_IN = 130, 32

Bounds = tuple[Vec3, Vec3]


def bounds_of(blockers: Blockers, which: int, placed: Pose) -> Bounds:
    """Of a solid of the scene; ``placed``: it, in the axes of the bounds."""
    solid = blockers.solids[which][0]
    if isinstance(solid, Sheet):
        x0, y0, x1, y1 = solid.bounds
        placed = placed @ Pose(t=((x0 + x1) / 2, (y0 + y1) / 2, -solid.thickness / 2))
        solid = Box((x1 - x0, y1 - y0, solid.thickness))
    return extents(solid, placed)


def seen_moving(assembly: Assembly, facet: SensorFacet, rays: Array) -> Mapping[int, Bounds]:
    """By index in the scene, what is seen in some pose of the sensor: bounds over all of those in which it is. Empty for a
    sensor that nothing moves."""
    joints = carriers_of(assembly, facet.frame)
    found: dict[int, Bounds] = {}
    blockers, into_root = blockers_of(assembly), assembly.poses[assembly.root].inverse()
    out = left_out_of(assembly, facet) if joints else set()
    for number, values in enumerate(_values(joints)):
        links = links_with(assembly, values)
        eye, some = links[facet.frame], rays[number % ONE_IN::ONE_IN]
        moving = [i for i, name in enumerate(blockers.links) if name in links]
        still = blockers.scene.seen_from(eye, {*moving, *out})
        seen = set(cast(still, some, reach_of(facet)).which.tolist()) - {-1}
        here = {i: blockers.solids[i][1] for i in seen}
        rest = [i for i in moving if i not in out]
        if rest:
            placed = {i: links[name] @ (assembly.poses[name].inverse() @ blockers.solids[i][1])
                      for i, name in enumerate(blockers.links) if i in rest}
            hits = cast(scene_of([(blockers.solids[i][0], placed[i]) for i in rest]).seen_from(eye), some, reach_of(facet))
            here |= {rest[k]: placed[rest[k]] for k in set(hits.which.tolist()) - {-1}}
        for i, pose in here.items():
            found[i] = joined(found.get(i), bounds_of(blockers, i, into_root @ pose))
    return found


def _values(joints: Sequence[Joint]) -> Iterator[Mapping[str, float]]:
    """Values over the ranges of all joints; of very many joints, of one at a time."""
    if not joints:
        return
    each = int(MOST ** (1 / len(joints)) + 1e-9)
    if each >= 2:
        for combination in product(*(_steps(joint, each) for joint in joints)):
            yield {joint.name: value for joint, value in zip(joints, combination)}
    else:
        for joint in joints:
            yield from ({joint.name: value} for value in _steps(joint, MOST // len(joints) + 2))


def _steps(joint: Joint, count: int) -> list[float]:
    low, high = (-math.pi, math.pi) if joint.lower is None or joint.upper is None else (joint.lower, joint.upper)
    return [float(v) for v in np.linspace(low, high, count)]


def joined(a: Bounds | None, b: Bounds) -> Bounds:
    """Around both."""
    if a is None:
        return b
    return (_three(map(min, a[0], b[0])), _three(map(max, a[1], b[1])))


def _three(values: Iterator[float]) -> Vec3:
    x, y, z = values
    return x, y, z
