"""Sectors of a lidar's scan that the robot itself fills, in the driver's own angles."""
from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Literal, NamedTuple

from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.beams import beam_step
from chassis_describe.facts.kinds_of_sensor import is_scanner
from chassis_describe.facts.self_hits import self_hits_of

if TYPE_CHECKING:
    from chassis_describe.facts.sight import Arc

#: Angles are rounded outward to this, radians.
_GRID = 1e-6

#: Angles closer than this are one angle, radians; far below a beam step, far above rounding.
_TOUCH = 1e-9


class Sector(NamedTuple):
    """Blocked angles in the driver's own convention, radians, lower below upper, and what stands there."""

    lower: float
    upper: float
    names: tuple[str, ...]


def blocked_sectors(assembly: Assembly) -> Mapping[str, tuple[Sector, ...]]:
    """By frame of each 2D lidar, the sectors to blank, in the driver's angles, in rising order; padded by its play."""
    hits = self_hits_of(assembly)
    return {facet.frame: sectors(hits[facet.frame].arcs, facet.sensor.angles, beam_step(facet))
            for facet in assembly.sensors if is_scanner(facet)}


def sectors(arcs: Sequence[Arc], angles: Literal["symmetric", "positive"], step: float) -> tuple[Sector, ...]:
    """Arcs of the sensor frame (-π to π) in the driver's angles, touching ones joined.

    ``step`` (radians) is what a sector that ends at the seam reaches beyond it: the filter spares the bound itself,
    and a driver may count one beam beyond.
    """
    low, high = (-math.pi, math.pi) if angles == "symmetric" else (0.0, 2 * math.pi)
    pieces: list[Sector] = []
    for arc in arcs:
        for turn in (-2 * math.pi, 0.0, 2 * math.pi):
            lower, upper = max(arc.start + turn, low), min(arc.end + turn, high)
            if upper - lower > _TOUCH:
                pieces.append(Sector(lower, upper, tuple(arc.words)))
    pieces.sort()
    joined: list[Sector] = []
    for piece in pieces:
        if joined and piece.lower <= joined[-1].upper + 2 * _GRID:  # rounding would let them overlap
            last = joined.pop()
            piece = Sector(last.lower, max(last.upper, piece.upper), tuple(dict.fromkeys((*last.names, *piece.names))))
        joined.append(piece)
    return tuple(Sector(_down(s.lower - (step if s.lower < low + _TOUCH else 0.0)),
                        _up(s.upper + (step if s.upper > high - _TOUCH else 0.0)), s.names) for s in joined)


def _down(angle: float) -> float:
    return round(math.floor(angle / _GRID + 1e-6) * _GRID, 9)


def _up(angle: float) -> float:
    return round(math.ceil(angle / _GRID - 1e-6) * _GRID, 9)
