"""Rollers of mecanum and omnidirectional wheels, as bodies of their own.

A roller is a barrel on an axle that is fixed in the wheel's rim, of an outline that makes the wheel round. An ellipsoid of
revolution stands for it: the wheel stands at its radius on the middle of a roller and where the next one takes over, and
within a thousandth of it between (the tests measure that).
"""
from __future__ import annotations

import math
from typing import Literal, NamedTuple

from chassis_describe.space.mass import Inertial, combined
from chassis_describe.space.pose import Pose, multiply, rot_y, rot_z
from chassis_describe.space.realisable import why_impossible

Hand = Literal["left", "right", "across"]
#: Share of the wheel's radius that a roller's largest radius is (common practice: a fifth to a tenth of the diameter).
_THICK = 0.2
#: How much further than its share of the turn a roller reaches, so that the next one touches before it leaves.
_OVERLAP = 1.2
#: Share of the wheel's mass that its rollers have (our choice; the wheel as a whole keeps its mass and inertia).
MASS_SHARE = 0.2


class SmallRoller(NamedTuple):
    """``pose``: the roller in the wheel's link, its axle along z. Half-axes (m): ``radius`` across, ``half_length`` along."""

    pose: Pose
    radius: float
    half_length: float


def rollers_of(radius: float, width: float, hand: Hand) -> tuple[SmallRoller, ...]:
    """The rollers of a wheel about y.

    ``hand``: on top of the wheel, rollers of a ``left`` one point forward and left, of a ``right`` one forward and right;
    those of ``across`` lie along the rim. At the ground, where they grip, the direction is mirrored: a left one's axle
    lies along (1, -1, 0), as the kinematics of the drive controllers have it.
    """
    slant = {"left": -math.pi / 4, "right": math.pi / 4, "across": 0.0}[hand]
    thick = _THICK * radius
    inner = radius - thick
    count = _count(inner, width, hand)
    # Half-way to the next roller the wheel has turned by `share`, and the roller's axle dips by `dip`: there the lowest
    # point of the ellipsoid is to be at the wheel's radius, as it is in the middle.
    share = math.pi / count
    dip = math.sin(share) * math.cos(slant)
    half = math.sqrt((radius - inner * math.cos(share)) ** 2 - thick ** 2 * (1.0 - dip ** 2)) / dip
    out = []
    for n in range(count):
        turned = rot_y(2 * math.pi * n / count)
        # The lowest roller, its axle (z) laid along the ground at the slant: x forward, then about z.
        lying = multiply(rot_z(slant), rot_y(math.pi / 2))
        r = multiply(turned, lying)
        x, y, z = turned[2], turned[5], turned[8]
        out.append(SmallRoller(Pose(r, (-inner * x, -inner * y, -inner * z)), thick, half))
    return tuple(out)


def _count(inner: float, width: float, hand: Hand) -> int:
    """How many rollers: as many as the width lets overlap, at least nine of them."""
    if hand == "across":
        return 12
    # At a slant of 45° a roller that carries over an angle reaches as far sideways as along the rim.
    return max(9, math.ceil(_OVERLAP * math.pi / math.atan(width / (2 * inner))))


def without_rollers(whole: Inertial, rolling: tuple[SmallRoller, ...]) -> tuple[Inertial, float]:
    """A wheel less its rollers, so that hub and rollers together have its mass and inertia; and the mass of one roller."""
    if not rolling:
        return whole, 0.0
    share = whole.mass * MASS_SHARE / len(rolling)
    for _ in range(20):  # a very light or thin wheel: lighter rollers, until what is left is a possible body
        taken = [roller_inertial(r, -share).moved(r.pose) for r in rolling]
        rest = combined([whole, *taken])
        assert rest is not None
        if why_impossible(rest.mass, rest.inertia) is None:
            return rest, share
        share /= 2
    raise AssertionError("a wheel of no possible inertia")


def roller_inertial(roller: SmallRoller, mass: float) -> Inertial:
    """A uniform ellipsoid of revolution: I = m (a² + b²)/5 about each axis (any handbook of mechanics)."""
    across = mass * (roller.radius ** 2 + roller.half_length ** 2) / 5
    return Inertial(mass, (0.0, 0.0, 0.0), (across, across, mass * 2 * roller.radius ** 2 / 5, 0.0, 0.0, 0.0))
