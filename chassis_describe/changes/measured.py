"""A pose as it was measured, whole or in part: what somebody read off a calibration or off ``tf2_echo``."""
from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from chassis_describe.space.pose import Pose, Rotation, Vec3, from_rpy, to_rpy


class Measured(NamedTuple):
    """Of ``of`` (a placement, ``placement.sensor`` or frame; None: the sensor that rides there) in ``start`` (None:
    base_link). Metres, radians. ``xyz`` has None where nothing was measured; at most one of ``rotation`` and ``yaw`` is
    given, ``yaw`` about the z of ``start``."""

    xyz: tuple[float | None, float | None, float | None] = (None, None, None)
    rotation: Rotation | None = None
    yaw: float | None = None
    start: str | None = None
    of: str | None = None

    @property
    def whole(self) -> bool:
        """Whether place and attitude are known."""
        return self.rotation is not None and None not in self.xyz

    def filled(self, guess: Pose) -> Pose:
        """The whole pose: what was not measured is as in ``guess``."""
        t: Vec3 = tuple(g if v is None else v for v, g in zip(self.xyz, guess.t))  # type: ignore[assignment]
        if self.rotation is not None:
            return Pose(self.rotation, t)
        if self.yaw is None:
            return Pose(guess.r, t)
        roll, pitch, _ = to_rpy(guess.r)
        if abs(abs(pitch) - math.pi / 2) < 1e-9:  # looks straight up or down: yaw and roll are one, and the roll is 0
            return Pose(from_rpy(0.0, pitch, self.yaw), t)
        return Pose(from_rpy(roll, pitch, self.yaw), t)


def rotation_from_quaternion(q: Sequence[float]) -> Rotation:
    """The rotation of a quaternion x, y, z, w. Raises ValueError where it is none: its length is not 1 to 1 %."""
    size = math.sqrt(sum(v * v for v in q))
    if not 0.99 <= size <= 1.01:
        raise ValueError(f"a quaternion has length 1, and this one has {size:.3g}; the order is x, y, z, w")
    x, y, z, w = (v / size for v in q)
    return (1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w),
            2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w),
            2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y))
