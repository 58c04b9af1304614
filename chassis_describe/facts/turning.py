"""How tightly a robot that steers by its wheels can turn: the circle of its driven axle's middle."""
from __future__ import annotations

import math

from chassis_describe.assembly.model import DriveFacet, SteeredFacet

#: Steered further than this, a wheel no longer limits the turn (rad).
_ACROSS = math.pi / 2 - 1e-9


def smallest_turns(drive: DriveFacet) -> tuple[float, float]:
    """The radii (m) of the tightest turn to the left and to the right of an ``ackermann`` drive.

    Each steered wheel allows R = L/tan(d) + t/2 as the inner one and L/tan(d) - t/2 as the outer one, d the end of its
    range, L the wheel base and t the steering track; the wheel that allows less decides. 0 where nothing limits it, and for
    drives that don't steer.
    """
    return _turn(drive, 1), _turn(drive, -1)


def smallest_turn(drive: DriveFacet) -> float:
    """The radius (m) of a circle that it can turn on to either side."""
    return max(smallest_turns(drive))


def _turn(drive: DriveFacet, way: int) -> float:
    inner_first = drive.steered if way > 0 else drive.steered[::-1]
    sides = (0.5, -0.5) if len(inner_first) == 2 else (0.0,)
    radii = [_alone(drive, s, way) + side * drive.steer_track for side, s in zip(sides, inner_first)
             if _reach(s, way) < _ACROSS]
    return max([0.0, *radii])


def _alone(drive: DriveFacet, steered: SteeredFacet, way: int) -> float:
    reach = _reach(steered, way)
    return drive.wheel_base / math.tan(reach) if reach > 0.0 else math.inf


def _reach(steered: SteeredFacet, way: int) -> float:
    """How far it steers to the left (1) or right (-1), rad."""
    span = steered.moving.adjustment.range
    return math.inf if span is None else span[1] if way > 0 else -span[0]
