"""Wheel speeds for a wanted velocity of the base, and odometry from turned wheels, as the drive controllers compute them.

Differential and mecanum as in ros2_controllers (jazzy: diff_drive_controller/src/odometry.cpp,
mecanum_drive_controller/src/odometry.cpp): x forward, y left, counter-clockwise positive, wheels parallel to base_link.
"""
from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

from chassis_describe.assembly.model import DriveFacet
from chassis_describe.errors import never


class Motion(NamedTuple):
    """Of the base in its own axes: metres (per second) forward and left, radians (per second) counter-clockwise."""

    forward: float = 0.0
    left: float = 0.0
    turn: float = 0.0


class Place(NamedTuple):
    """Where odometry thinks that the base is: m, m, rad, in its own starting frame."""

    x: float = 0.0
    y: float = 0.0
    yaw: float = 0.0

    def after(self, motion: Motion) -> Place:
        """The place after a small motion, taken along the heading half-way through it (second-order Runge-Kutta)."""
        heading = self.yaw + motion.turn / 2
        c, s = math.cos(heading), math.sin(heading)
        return Place(self.x + motion.forward * c - motion.left * s, self.y + motion.forward * s + motion.left * c,
                     self.yaw + motion.turn)


def wheel_speeds(drive: DriveFacet, motion: Motion) -> dict[str, float]:
    """Speed of each driven wheel's joint (rad/s) for a velocity of the base."""
    r = drive.wheel_radius
    if drive.kind == "differential" or drive.kind == "skid_steer":
        half = drive.wheel_separation / 2
        return {w.joint: (motion.forward + side * half * motion.turn) / r
                for side, wheels in ((-1, drive.left), (1, drive.right)) for w in wheels}
    if drive.kind == "mecanum":
        return {joint: (motion.forward + across * motion.left + turn * _lever(drive) * motion.turn) / r
                for joint, across, turn in _mecanum(drive)}
    raise never(drive.kind)


def moved(drive: DriveFacet, turned: Mapping[str, float]) -> Motion:
    """How the base has moved when its wheels' joints have turned by so much (rad)."""
    r = drive.wheel_radius
    if drive.kind == "differential" or drive.kind == "skid_steer":
        left, right = (sum(turned[w.joint] for w in wheels) / len(wheels) * r for wheels in (drive.left, drive.right))
        return Motion((left + right) / 2, 0.0, (right - left) / drive.wheel_separation)
    if drive.kind == "mecanum":
        rows = [(turned[joint] * r, across, turn) for joint, across, turn in _mecanum(drive)]
        return Motion(sum(d for d, _, _ in rows) / 4, sum(a * d for d, a, _ in rows) / 4,
                      sum(t * d for d, _, t in rows) / (4 * _lever(drive)))
    raise never(drive.kind)


def top_speed(drive: DriveFacet) -> float:
    """Speed forward (m/s) that the slowest motor without load allows; 0 where a driven wheel has no motor."""
    motors = [w.motor for w in (*drive.left, *drive.right)]
    return min(m.speed if m is not None else 0.0 for m in motors) * drive.wheel_radius


def goes_sideways(drive: DriveFacet) -> bool:
    """Whether the drive can move to the left without turning."""
    if drive.kind == "differential" or drive.kind == "skid_steer":
        return False
    if drive.kind == "mecanum":
        return True
    raise never(drive.kind)


def _lever(drive: DriveFacet) -> float:
    """Half the wheel base plus half the separation."""
    return (drive.wheel_base + drive.wheel_separation) / 2


def _mecanum(drive: DriveFacet) -> tuple[tuple[str, int, int], ...]:
    """Of front left, rear left, front right, rear right: the joint, its sign in moving left, its sign in turning."""
    return ((drive.left[0].joint, -1, -1), (drive.left[-1].joint, 1, -1),
            (drive.right[0].joint, 1, 1), (drive.right[-1].joint, -1, 1))
