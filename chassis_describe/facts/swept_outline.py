"""The outline of the robot wherever its joints are: all combinations of the values of each chain, bounded from outside.

In base_footprint, metres. Between two steps of a turn a point leaves their hull by the chord error r·(1 - cos(step / 2)), which
is added. What follows another joint of its own chain is taken as free of it, which is outside as well.
"""
from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

import numpy as np

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, Joint
from chassis_describe.facts.footprint import GRID, footprint_of, unrounded_hull, written_outline
from chassis_describe.facts.sweep import swept
from chassis_describe.space.around import placed, points_around
from chassis_describe.space.plane.hull import Vec2, convex_hull

#: Steps of turns (rad), and the most combinations of a chain: with more the steps are wider, and so is what is added.
OUTLINE_STEP, MOST = math.radians(10.0), 8000
#: Corners of a polygon around a circle.
_FACETS = 24


@kept
def swept_footprint_of(assembly: Assembly) -> tuple[Vec2, ...]:
    """The footprint of the robot wherever its joints are: the hull of all combinations of each chain's values, from outside.

    Empty without ground; the footprint itself where nothing moves.
    """
    if assembly.rest is None or not swept(assembly):
        return footprint_of(assembly)
    return written_outline(_swept_hull(assembly, ("driven", "free")))


@kept
def driven_leave(assembly: Assembly) -> bool:
    """Whether something that a motor moves gets out of the resting footprint, by more than its grid."""
    if assembly.rest is None or not any(m.adjustment.motion == "driven" for m in swept(assembly)):
        return False
    rest = footprint_of(assembly)
    sides = list(zip(rest, (*rest[1:], rest[0])))
    return any((bx - ax) * (y - ay) - (by - ay) * (x - ax) < -GRID * math.dist((ax, ay), (bx, by))
               for x, y in _swept_hull(assembly, ("driven",)) for (ax, ay), (bx, by) in sides)


def driving_outline(assembly: Assembly) -> tuple[Vec2, ...]:
    """The outline to drive by: the swept footprint where motors move something out of the resting one."""
    return swept_footprint_of(assembly) if driven_leave(assembly) else footprint_of(assembly)


def driving_hull(assembly: Assembly) -> tuple[Vec2, ...]:
    """The same before it is rounded."""
    return _swept_hull(assembly, ("driven", "free")) if driven_leave(assembly) else unrounded_hull(assembly)


def _swept_hull(assembly: Assembly, motions: tuple[str, ...]) -> tuple[Vec2, ...]:
    """The hull with those motions at all their values, the others where they are."""
    assert assembly.rest is not None
    moves = {m.joint for m in assembly.moving if m.adjustment.motion in motions
             and assembly.parts[m.placement].part.caster is None}
    children: dict[str, list[Joint]] = {}
    for joint in assembly.joints:
        children.setdefault(joint.parent, []).append(joint)
    points = list(unrounded_hull(assembly))
    inside: set[str] = set()
    for joint in assembly.joints:
        if joint.parent in inside or joint.child in inside:
            inside.add(joint.child)
        elif joint.name in moves:
            inside.add(joint.child)
            step = _outline_step(joint, children, moves)
            cloud, pad = _cloud(assembly, joint, children, moves, step)
            pose = assembly.rest.base_in_ground @ assembly.poses[joint.parent]
            flat = cloud @ np.array(pose.r).reshape(3, 3)[:2].T + np.array(pose.t[:2])
            hull = convex_hull({(x, y) for x, y in np.round(flat, 9).tolist()})
            wide = pad / math.cos(math.pi / _FACETS)
            points += [(x + wide * math.cos(a), y + wide * math.sin(a)) for x, y in hull
                       for a in (2 * math.pi * k / _FACETS for k in range(_FACETS))]
    return convex_hull(points)


def _outline_step(top: Joint, children: dict[str, list[Joint]], moves: set[str]) -> float:
    """The step of every turn of what a joint carries, so that no chain has more than MOST combinations."""
    def turns(joint: Joint) -> list[float]:
        below = max((turns(child) for child in children.get(joint.child, ())), key=len, default=[])
        own = [_width(joint)] if joint.name in moves and joint.type != "prismatic" else []
        return own + below

    step, widths = OUTLINE_STEP, turns(top)
    while math.prod(math.ceil(w / step) + 1 for w in widths) > MOST:
        step *= 1.25
    return step


def _width(joint: Joint) -> float:
    return 2 * math.pi if joint.lower is None or joint.upper is None else joint.upper - joint.lower


def _cloud(assembly: Assembly, joint: Joint, children: dict[str, list[Joint]], moves: set[str],
           step: float) -> tuple[Any, float]:
    """Points (n, 3) in the joint's parent whose hull, padded, holds all that the joint carries at all values."""
    parts = [points_around(body.solid, body.pose) for body in assembly.link_of[joint.child].bodies]
    pads = [0.0]
    for child in children.get(joint.child, ()):
        below, pad = _cloud(assembly, child, children, moves, step)
        parts.append(below)
        pads.append(pad)
    points, pad = np.concatenate(parts) if parts else np.zeros((0, 3)), max(pads)
    if joint.name not in moves:
        return placed(points, joint.at(joint.value)), pad
    if joint.type == "prismatic":
        values: Iterable[float] = (joint.lower or 0.0, joint.upper or 0.0)
    else:
        low = joint.lower if joint.lower is not None else -math.pi
        count = max(math.ceil(_width(joint) / step - 1e-9), 1)
        values = [low + _width(joint) * k / count for k in range(count + 1)]
        axis = np.array(joint.axis)
        off = points - np.outer(points @ axis, axis)
        reach = float(np.sqrt((off**2).sum(axis=1)).max(initial=0.0)) + pad
        pad += reach * (1 - math.cos(_width(joint) / count / 2))
    return np.concatenate([placed(points, joint.at(v)) for v in values]), pad
