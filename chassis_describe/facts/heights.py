"""How high everything on the robot is over the ground, from true plates and solids. Metres, in the root frame."""
from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal, NamedTuple

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly
from chassis_describe.source import Mark
from chassis_describe.space.plate.plate import Plate
from chassis_describe.space.pose import Pose
from chassis_describe.space.solids import extents

#: What is this much over the highest point passes above the robot (m): our choice.
HEADROOM = 0.05


class Height(NamedTuple):
    """Lowest and highest point of a deck's plate, of the standoffs on a deck, or of a part. ``mark``: of what is lowest;
    ``rolls``: whether it is a wheel or caster."""

    kind: Literal["deck", "standoff", "part"]
    owner: str
    low: float
    high: float
    mark: Mark | None
    rolls: bool


class Heights(NamedTuple):
    """``clearance``: lowest point of everything but wheels and casters (never below 0); ``top``: the highest of
    everything; both 0 for a robot of nothing. ``each``: by owner, in the order of the links."""

    clearance: float
    top: float
    each: tuple[Height, ...]


@kept
def heights_of(assembly: Assembly) -> Heights:
    """Over the ground that the root stands on; without wheels and casters the root is base_link."""
    lowest: dict[tuple[str, str], Height] = {}
    for found in _heights(assembly):
        key = found.kind, found.owner
        known = lowest.get(key, found)
        low = found if found.low < known.low else known
        lowest[key] = low._replace(high=max(found.high, known.high))
    each = tuple(lowest.values())
    clearance = min((h.low for h in each if not h.rolls), default=0.0)
    return Heights(max(clearance, 0.0), max((h.high for h in each), default=0.0), each)


def _heights(assembly: Assembly) -> Iterator[Height]:
    rolling = {w.placement for w in assembly.wheels} | {c.placement for c in assembly.casters}
    base_in_root = assembly.poses[assembly.root].inverse() if assembly.rest is None else assembly.rest.base_in_ground
    for link in assembly.links:
        pose = base_in_root @ assembly.poses[link.name]
        if link.plate is not None:
            low, high = _plate(link.plate, pose)
            yield Height("deck", link.owner, low, high, link.mark, rolls=False)
        for body in link.bodies:
            body_pose = pose @ body.pose
            lowest, highest = extents(body.solid, body_pose)
            yield Height("standoff" if body.role == "standoff" else "part", body.owner, lowest[2], highest[2], body.mark,
                         rolls=link.owner in rolling)


def _plate(plate: Plate, pose: Pose) -> tuple[float, float]:
    """Lowest and highest z of a plate: its support along z in its own plane, and its thickness."""
    x, y, z = pose.r[6:]
    through = -plate.thickness * z  # from the plate's top to its underside
    middle, flat = pose.t[2], math.hypot(x, y)
    up, down = (flat * plate.support((s * x / flat, s * y / flat)) if flat > 0 else 0.0 for s in (1, -1))
    return middle - down + min(0.0, through), middle + up + max(0.0, through)
