"""Rigid poses as values: a rotation (row-major nine numbers) and a translation in metres.

Written with plain floats: a layout composes tens of thousands of them one at a time, where array overhead would be
most of the work. Rotations by quarter turns come out exact.
Conventions: REP-103 axes; roll, pitch, yaw about fixed axes, R = Rz(yaw)·Ry(pitch)·Rx(roll) (URDF, wiki.ros.org/urdf/XML/joint).
"""
from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

Vec3 = tuple[float, float, float]
Rotation = tuple[float, float, float, float, float, float, float, float, float]

IDENTITY_ROTATION: Rotation = (1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0)


def cos_sin(angle: float) -> tuple[float, float]:
    """Cosine and sine of an angle in radians, exact at multiples of a quarter turn."""
    quarters = angle / (math.pi / 2)
    nearest = round(quarters)
    if abs(quarters - nearest) < 1e-12:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[nearest % 4]
    return math.cos(angle), math.sin(angle)


def rot_x(angle: float) -> Rotation:
    """Rotation about x by an angle in radians."""
    c, s = cos_sin(angle)
    return (1.0, 0.0, 0.0, 0.0, c, -s, 0.0, s, c)


def rot_y(angle: float) -> Rotation:
    """Rotation about y by an angle in radians."""
    c, s = cos_sin(angle)
    return (c, 0.0, s, 0.0, 1.0, 0.0, -s, 0.0, c)


def rot_z(angle: float) -> Rotation:
    """Rotation about z by an angle in radians."""
    c, s = cos_sin(angle)
    return (c, -s, 0.0, s, c, 0.0, 0.0, 0.0, 1.0)


def multiply(a: Rotation, b: Rotation) -> Rotation:
    """The product a·b of two rotations."""
    a0, a1, a2, a3, a4, a5, a6, a7, a8 = a
    b0, b1, b2, b3, b4, b5, b6, b7, b8 = b
    return (a0 * b0 + a1 * b3 + a2 * b6, a0 * b1 + a1 * b4 + a2 * b7, a0 * b2 + a1 * b5 + a2 * b8,
            a3 * b0 + a4 * b3 + a5 * b6, a3 * b1 + a4 * b4 + a5 * b7, a3 * b2 + a4 * b5 + a5 * b8,
            a6 * b0 + a7 * b3 + a8 * b6, a6 * b1 + a7 * b4 + a8 * b7, a6 * b2 + a7 * b5 + a8 * b8)


def transpose(r: Rotation) -> Rotation:
    """The inverse of a rotation."""
    return (r[0], r[3], r[6], r[1], r[4], r[7], r[2], r[5], r[8])


def apply(r: Rotation, v: Sequence[float]) -> Vec3:
    """The vector r·v."""
    x, y, z = v
    return (r[0] * x + r[1] * y + r[2] * z, r[3] * x + r[4] * y + r[5] * z, r[6] * x + r[7] * y + r[8] * z)


def from_rpy(roll: float, pitch: float, yaw: float) -> Rotation:
    """Rz(yaw)·Ry(pitch)·Rx(roll), radians."""
    if roll == 0.0 and pitch == 0.0:
        return IDENTITY_ROTATION if yaw == 0.0 else rot_z(yaw)
    return multiply(rot_z(yaw), multiply(rot_y(pitch), rot_x(roll)))


def about_axis(axis: Sequence[float], angle: float) -> Rotation:
    """Rotation about any axis (need not be unit) by an angle in radians (Rodrigues' formula)."""
    x, y, z = axis
    n = math.sqrt(x * x + y * y + z * z)
    if n == 0.0:
        raise ValueError("a rotation axis must not be zero")
    x, y, z = x / n, y / n, z / n
    c, s = cos_sin(angle)
    k = 1.0 - c
    return (c + x * x * k, x * y * k - z * s, x * z * k + y * s,
            y * x * k + z * s, c + y * y * k, y * z * k - x * s,
            z * x * k - y * s, z * y * k + x * s, c + z * z * k)


def smallest_between(a: Sequence[float], b: Sequence[float]) -> Rotation:
    """The smallest rotation that takes direction a onto direction b; a half turn about z (or x) when they are opposed."""
    ax, ay, az = unit(a)
    bx, by, bz = unit(b)
    c = ax * bx + ay * by + az * bz
    cross = (ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx)
    s = math.sqrt(cross[0] ** 2 + cross[1] ** 2 + cross[2] ** 2)
    if s < 1e-12:
        if c > 0:
            return IDENTITY_ROTATION
        # Opposed: any axis square to a will do; z keeps wheels upright, x serves when a is along z.
        return rot_x(math.pi) if abs(az) > 0.9 else about_axis((0.0, 0.0, 1.0), math.pi)
    return about_axis(cross, math.atan2(s, c))


def unit(v: Sequence[float]) -> Vec3:
    """The vector scaled to length 1. Raises ValueError when it has none."""
    x, y, z = v
    n = math.sqrt(x * x + y * y + z * z)
    if n == 0.0:
        raise ValueError("a direction must not be zero")
    return (x / n, y / n, z / n)


def to_rpy(r: Rotation) -> Vec3:
    """Roll, pitch, yaw in radians, pitch in [-π/2, π/2], the others in (-π, π]; at pitch ±π/2 the roll is 0 by choice."""
    sp = -r[6]
    cp = math.hypot(r[0], r[3])
    if cp < 1e-9:
        # Gimbal lock: only the sum or difference of roll and yaw is fixed.
        pitch = math.pi / 2 if sp > 0 else -math.pi / 2
        return (0.0, pitch, math.atan2(-r[1] + 0.0, r[4]))
    # Adding 0.0 turns -0.0 into 0.0: half a turn is then +π, never -π, and no pitch comes out as -0.
    return (math.atan2(r[7] + 0.0, r[8]), math.atan2(sp + 0.0, cp), math.atan2(r[3] + 0.0, r[0]))


def angle_of(r: Rotation) -> float:
    """How far a rotation turns, 0 to π (rad); good near 0, where the trace alone is not."""
    sine = math.sqrt((r[7] - r[5]) ** 2 + (r[2] - r[6]) ** 2 + (r[3] - r[1]) ** 2) / 2
    return math.atan2(sine, (r[0] + r[4] + r[8] - 1.0) / 2)


def to_quaternion(r: Rotation) -> tuple[float, float, float, float]:
    """Unit quaternion x, y, z, w with w ≥ 0 (Shepperd's method: divide by the largest component)."""
    t = r[0] + r[4] + r[8]
    options = (t, r[0], r[4], r[8])
    k = options.index(max(options))
    if k == 0:
        w = math.sqrt(1.0 + t) / 2
        q = ((r[7] - r[5]) / (4 * w), (r[2] - r[6]) / (4 * w), (r[3] - r[1]) / (4 * w), w)
    elif k == 1:
        x = math.sqrt(1.0 + r[0] - r[4] - r[8]) / 2
        q = (x, (r[1] + r[3]) / (4 * x), (r[2] + r[6]) / (4 * x), (r[7] - r[5]) / (4 * x))
    elif k == 2:
        y = math.sqrt(1.0 - r[0] + r[4] - r[8]) / 2
        q = ((r[1] + r[3]) / (4 * y), y, (r[5] + r[7]) / (4 * y), (r[2] - r[6]) / (4 * y))
    else:
        z = math.sqrt(1.0 - r[0] - r[4] + r[8]) / 2
        q = ((r[2] + r[6]) / (4 * z), (r[5] + r[7]) / (4 * z), z, (r[3] - r[1]) / (4 * z))
    if q[3] < 0 or (q[3] == 0 and next((v for v in q[:3] if v), 1.0) < 0):
        q = (-q[0], -q[1], -q[2], -q[3])
    return q


class Pose(NamedTuple):
    """Pose of one frame in another: ``x_in_y`` takes coordinates in x to coordinates in y. Metres."""

    r: Rotation = IDENTITY_ROTATION
    t: Vec3 = (0.0, 0.0, 0.0)

    def __matmul__(self, other: Pose) -> Pose:
        if other.r is IDENTITY_ROTATION:
            return Pose(self.r, self.point(other.t))
        if self.r is IDENTITY_ROTATION:
            s, o = self.t, other.t
            return Pose(other.r, (s[0] + o[0], s[1] + o[1], s[2] + o[2]))
        return Pose(multiply(self.r, other.r), self.point(other.t))

    def point(self, p: Sequence[float]) -> Vec3:
        """The point p of the inner frame, in the outer frame."""
        r, t = self.r, self.t
        x, y, z = p
        return (r[0] * x + r[1] * y + r[2] * z + t[0], r[3] * x + r[4] * y + r[5] * z + t[1],
                r[6] * x + r[7] * y + r[8] * z + t[2])

    def vector(self, v: Sequence[float]) -> Vec3:
        """The free vector v of the inner frame, in the outer frame."""
        return apply(self.r, v)

    def inverse(self) -> Pose:
        """The outer frame in the inner one."""
        rt = transpose(self.r)
        x, y, z = apply(rt, self.t)
        return Pose(rt, (-x, -y, -z))

    @property
    def rpy(self) -> Vec3:
        """Roll, pitch, yaw in radians."""
        return to_rpy(self.r)

    @property
    def quaternion(self) -> tuple[float, float, float, float]:
        """x, y, z, w."""
        return to_quaternion(self.r)

    @property
    def x_axis(self) -> Vec3:
        """Direction of the inner frame's x in the outer frame."""
        return (self.r[0], self.r[3], self.r[6])

    @property
    def y_axis(self) -> Vec3:
        """Direction of the inner frame's y in the outer frame."""
        return (self.r[1], self.r[4], self.r[7])

    @property
    def z_axis(self) -> Vec3:
        """Direction of the inner frame's z in the outer frame."""
        return (self.r[2], self.r[5], self.r[8])


IDENTITY = Pose()


def translation(x: float, y: float, z: float) -> Pose:
    """A pose that only shifts, metres."""
    return Pose(IDENTITY_ROTATION, (x, y, z))
