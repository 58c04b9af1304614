"""Wheels and casters: how a wheel lies on the shaft that carries it, and its link's axes (DEVELOPERS.md, "Shafts")."""
from __future__ import annotations

import math

from chassis_describe.assembly.joints import carried
from chassis_describe.assembly.model import CasterFacet, Joint, PlacedPart, WheelFacet
from chassis_describe.layout.model import Placement
from chassis_describe.layout.names import joint_of
from chassis_describe.space.pose import IDENTITY_ROTATION, Pose, Rotation, Vec3, multiply, rot_z, smallest_between
from chassis_describe.tolerances import SAME_ANGLE

_HALF_TURN = rot_z(math.pi)


def wheel_in_carrier(carrier: PlacedPart, placement: Placement) -> tuple[str | None, Pose]:
    """What carries the wheel (an adjustment that moves, or None: the motor), and its axes there: centre on the shaft, +y
    laid along it."""
    shaft = carrier.part.shafts[placement.shaft or ""]
    wheel = placement.part.wheel
    offset = wheel.offset if wheel is not None else 0.0
    centre = tuple(p + offset * a for p, a in zip(shaft.at, shaft.axis))
    local = Pose(smallest_between((0.0, 1.0, 0.0), shaft.axis), centre)  # type: ignore[arg-type]
    if shaft.moves_with is None:
        return None, local
    on, seen = carried(carrier.part, shaft.moves_with, carrier.settings)
    return on, seen @ local


def wheel_axes(axis: Vec3) -> tuple[Rotation, Rotation]:
    """Link rotation in the base (identity unless the shaft is skewed) and the wheel part's rotation in its link.

    ``axis`` is the outward shaft direction in base axes; a wheel that points right is turned by Rz(180°) in its link.
    """
    outward = 1.0 if axis[1] >= 0.0 else -1.0
    forwards = (axis[0] * outward, axis[1] * outward, axis[2] * outward)
    skew = math.hypot(axis[0], axis[2])
    link = IDENTITY_ROTATION if skew < SAME_ANGLE else smallest_between((0.0, 1.0, 0.0), forwards)
    return link, IDENTITY_ROTATION if outward > 0 else _HALF_TURN


def radial_axes(axis: Vec3) -> tuple[Rotation, Rotation]:
    """The same of an omni drive's wheel: y along its axle, out of the motor, z up as far as the axle lets it."""
    flat = math.hypot(axis[0], axis[1])
    if flat < SAME_ANGLE:
        return smallest_between((0.0, 1.0, 0.0), axis), IDENTITY_ROTATION
    x, y = axis[0] / flat, axis[1] / flat
    level: Rotation = (y, x, 0.0, -x, y, 0.0, 0.0, 0.0, 1.0)
    lean = IDENTITY_ROTATION if abs(axis[2]) < SAME_ANGLE else smallest_between((x, y, 0.0), axis)
    return multiply(lean, level), IDENTITY_ROTATION


def wheel_of(placed: PlacedPart, carrier: PlacedPart, link_pose: Pose, side: str | None) -> tuple[WheelFacet, Joint]:
    """A wheel and the joint that it turns about; ``link_pose``: its link in base_link, ``side``: of the drive."""
    wheel, motor = placed.part.wheel, carrier.part.motor
    assert wheel is not None
    joint = Joint(name=joint_of(placed.link), type="continuous", parent=placed.support_link, child=placed.link,
                  pose=placed.part_in_support @ placed.part_in_link.inverse(), axis=(0.0, 1.0, 0.0),
                  effort=motor.torque if motor else None, velocity=motor.speed if motor else None)
    return WheelFacet(placement=placed.name, link=placed.link, joint=joint.name, centre=link_pose.t,
                      axis=placed.pose.y_axis, radius=wheel.diameter / 2, width=wheel.width, friction=wheel.friction,
                      rollers=wheel.rollers, motor=motor, motor_placement=carrier.name,
                      side=side, mark=placed.mark,  # type: ignore[arg-type]
                      zero_axis=placed.at_zero.y_axis), joint


def caster_of(placed: PlacedPart) -> CasterFacet:
    """A caster as it stands on the ground."""
    caster = placed.part.caster
    assert caster is not None
    return CasterFacet(placement=placed.name, link=placed.link, kind=caster.kind,
                       centre=placed.pose.point(caster.at), axis=placed.pose.y_axis, radius=caster.diameter / 2,
                       width=caster.width or caster.diameter, friction=caster.friction, mark=placed.mark)
