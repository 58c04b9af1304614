"""Countersinks of 90° about round holes of a plate, in its lower face at z = 0. Metres."""
from __future__ import annotations

import math
from typing import NamedTuple

from chassis_describe.space.mass import Inertial


class Sink(NamedTuple):
    """A hole of diameter ``hole`` about ``at``, widened to ``diameter`` at the lower face; half as deep as it is wider."""

    at: tuple[float, float]
    hole: float
    diameter: float

    @property
    def depth(self) -> float:
        """How far the cone goes up (m): its sides lean by 45°."""
        return (self.diameter - self.hole) / 2


def sink_inertial(sink: Sink, density: float) -> Inertial:
    """What the cone takes beside the hole itself: a frustum less a cylinder, as solids of revolution about z.

    With r(z) falling by 45° from R to r: V = π∫(r(z)² - r²)dz, Izz = ½π∫(r(z)⁴ - r⁴)dz, and Ixx = Izz/2 + ∫z² dm.
    """
    big, small, deep = sink.diameter / 2, sink.hole / 2, sink.depth

    def power(n: int) -> float:
        """∫ r(z)ⁿ dz over the depth, less the cylinder's share."""
        return (big ** (n + 1) - small ** (n + 1)) / (n + 1) - small**n * deep

    # z = big - r: moments of z by those of r.
    def weighted(k: int) -> float:
        """∫ zᵏ (r(z)² - r²) dz for k of 1 and 2."""
        def raw(n: int) -> float:
            return (big ** (n + 1) - small ** (n + 1)) / (n + 1)

        full = big * raw(2) - raw(3) if k == 1 else big * big * raw(2) - 2 * big * raw(3) + raw(4)
        return full - small * small * deep ** (k + 1) / (k + 1)

    mass = density * math.pi * power(2)
    z = weighted(1) / power(2)
    turning = density * math.pi / 2 * power(4)
    across = turning / 2 + density * math.pi * weighted(2) - mass * z * z
    return Inertial(mass, (*sink.at, z), (across, across, turning, 0.0, 0.0, 0.0))
