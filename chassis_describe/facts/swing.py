"""Swivel casters as they turn about their own axis: a robot that drives off backwards turns them round. base_link, metres."""
from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

from chassis_describe.assembly.model import Assembly, CasterFacet
from chassis_describe.space.pose import Pose, Vec3, rot_z, translation
from chassis_describe.space.solids import Cylinder


class Swing(NamedTuple):
    """``pose``: a frame on the swivel axis at the height of the axle, x away from the trail, z along the axis. ``reach``: the
    radius of the ring that the wheel sweeps about that axis."""

    facet: CasterFacet
    pose: Pose
    trail: float

    @property
    def reach(self) -> float:
        """From the axis to the tread's furthest edge."""
        return math.hypot(self.trail + self.facet.radius, self.facet.width / 2)

    @property
    def wheel(self) -> Cylinder:
        """The wheel, about its own z."""
        return Cylinder(self.facet.radius, self.facet.width)

    def turned(self, yaw: float) -> Pose:
        """The wheel's centre frame (z along the axle) when it has swung by ``yaw`` (rad)."""
        return self.pose @ Pose(rot_z(yaw)) @ translation(-self.trail, 0.0, 0.0) @ Pose(_ONTO_Y)


#: Turns z onto -y: a wheel lies the same either way.
_ONTO_Y = (1.0, 0.0, 0.0, 0.0, 0.0, -1.0, 0.0, 1.0, 0.0)


def swings_of(assembly: Assembly) -> tuple[Swing, ...]:
    """Every caster that swivels, in the order of the file; a ball and a wheel without trail stay in place."""
    return tuple(_swings(assembly))


def _swings(assembly: Assembly) -> Iterable[Swing]:
    for facet in assembly.casters:
        placed = assembly.parts[facet.placement]
        caster = placed.part.caster
        if caster is None or caster.kind != "wheel" or caster.trail <= 0.0:
            continue
        x, y, z = caster.at
        yield Swing(facet, placed.pose @ translation(x + caster.trail, y, z), caster.trail)


def axis_on_ground(swing: Swing, ground: Pose) -> Vec3:
    """Where the swivel axis meets the ground's plane through the axle's height, in base_footprint: the middle of the circle that
    the contact runs on."""
    return (ground @ swing.pose).t
