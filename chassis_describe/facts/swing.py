"""Swivel casters as they turn about their own axis: a robot that drives off backwards turns them round. base_link, metres."""
from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

from chassis_describe.assembly.model import Assembly, CasterFacet
from chassis_describe.assembly.weigh import body_pose
from chassis_describe.layout.build.casters import is_fork
from chassis_describe.space.around import points_around
from chassis_describe.space.pose import Pose, Vec3, rot_z, translation
from chassis_describe.space.solids import Cylinder, Solid
from chassis_describe.values import replace


class Swing(NamedTuple):
    """``pose``: a frame on the swivel axis at the height of the axle, x away from the trail, z along the axis. ``fork``: what
    swings along with the wheel, each with its centre frame in that frame. ``reach``: the radius of the ring that wheel and
    fork sweep about that axis."""

    facet: CasterFacet
    pose: Pose
    trail: float
    fork: tuple[tuple[Solid, Pose], ...] = ()

    @property
    def reach(self) -> float:
        """From the axis to the furthest edge of tread or fork (curves of the fork from outside, to 1 %)."""
        edges = [math.hypot(self.trail + self.facet.radius, self.facet.width / 2)]
        edges += [math.hypot(x, y) for solid, pose in self.fork for x, y, _ in points_around(solid, pose).tolist()]
        return max(edges)

    @property
    def wheel(self) -> Cylinder:
        """The wheel, about its own z."""
        return Cylinder(self.facet.radius, self.facet.width)

    def turned(self, yaw: float) -> list[tuple[Solid, Pose]]:
        """Wheel (z along the axle) and fork when they have swung by ``yaw`` (rad), each with its centre frame."""
        frame = self.pose @ Pose(rot_z(yaw))
        return [(self.wheel, frame @ translation(-self.trail, 0.0, 0.0) @ Pose(_ONTO_Y)),
                *((solid, frame @ pose) for solid, pose in self.fork)]


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
        swivel = translation(*caster.swivel)
        fork = [body_pose(replace(body, moves_with=None), {})
                for body in placed.part.bodies if is_fork(body)]
        yield Swing(facet, placed.pose @ swivel, caster.trail, tuple((solid, swivel.inverse() @ pose) for solid, pose in fork))


def axis_on_ground(swing: Swing, ground: Pose) -> Vec3:
    """Where the swivel axis meets the ground's plane through the axle's height, in base_footprint: the middle of the circle that
    the contact runs on."""
    return (ground @ swing.pose).t
