"""Wheel speeds for a wanted velocity of the base, and odometry from turned wheels, as the drive controllers compute them.

As in ros2_controllers (jazzy: diff_drive_controller/src/odometry.cpp, mecanum_drive_controller/src/odometry.cpp,
omni_wheel_drive_controller/src/omni_wheel_drive_controller.cpp, steering_controllers_library/src/steering_kinematics.cpp):
x forward, y left, counter-clockwise positive.
"""
from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

from chassis_describe.assembly.model import DriveFacet
from chassis_describe.errors import never
from chassis_describe.facts.turning import smallest_turns


class Motion(NamedTuple):
    """Of the base in its own axes: metres (per second) forward and left, radians (per second) counter-clockwise."""

    forward: float = 0.0
    left: float = 0.0
    turn: float = 0.0


class FloorPose(NamedTuple):
    """Where odometry thinks that the base is: m, m, rad, in its own starting frame."""

    x: float = 0.0
    y: float = 0.0
    yaw: float = 0.0

    def after(self, motion: Motion) -> FloorPose:
        """The place after a small motion, taken along the heading half-way through it (second-order Runge-Kutta)."""
        heading = self.yaw + motion.turn / 2
        c, s = math.cos(heading), math.sin(heading)
        return FloorPose(self.x + motion.forward * c - motion.left * s, self.y + motion.forward * s + motion.left * c,
                         self.yaw + motion.turn)


def wheel_speeds(drive: DriveFacet, motion: Motion, steered: Mapping[str, float] | None = None) -> dict[str, float]:
    """Speed of each driven wheel's joint (rad/s) for a velocity of the base.

    ``steered``: of a drive that steers, the measured value of each steering joint (rad), by which the controller splits the
    speed between left and right; None: as if the wanted angles were reached.
    """
    r = drive.wheel_radius
    if drive.kind == "differential" or drive.kind == "skid_steer":
        half = drive.wheel_separation / 2
        return {w.joint: (motion.forward + side * half * motion.turn) / r
                for side, wheels in ((-1, drive.left), (1, drive.right)) for w in wheels}
    if drive.kind == "mecanum":
        return {joint: (motion.forward + across * motion.left + turn * _lever(drive) * motion.turn) / r
                for joint, across, turn in _mecanum(drive)}
    if drive.kind == "omni":
        return {joint: (s * motion.forward - c * motion.left - drive.circle_radius * motion.turn) / r
                for joint, c, s in _around(drive)}
    if drive.kind == "ackermann":
        bend = _bend(drive, _wanted(drive, motion) if steered is None else _measured(drive, steered))
        half = drive.wheel_separation / 2
        return {w.joint: motion.forward * (1 + side * half * bend) / r
                for side, wheels in ((-1, drive.left), (1, drive.right)) for w in wheels}
    raise never(drive.kind)


def steering_angles(drive: DriveFacet, motion: Motion) -> dict[str, float]:
    """Value of each steering joint (rad) for a velocity of the base; nothing for drives that don't steer.

    Asked to turn without going forward the wheels swing to a quarter turn, and nothing drives.
    """
    if drive.kind == "differential" or drive.kind == "skid_steer" or drive.kind == "mecanum" or drive.kind == "omni":
        return {}
    if drive.kind == "ackermann":
        phi = _wanted(drive, motion)
        # Left, right; or the one in the middle.
        sides = (-0.5, 0.5) if len(drive.steered) == 2 else (0.0,)
        return {s.moving.joint: math.atan2(drive.wheel_base * math.sin(phi),
                                           drive.wheel_base * math.cos(phi) + side * drive.steer_track * math.sin(phi))
                for side, s in zip(sides, drive.steered)}
    raise never(drive.kind)


def moved(drive: DriveFacet, turned: Mapping[str, float], steered: Mapping[str, float] | None = None) -> Motion:
    """How the base has moved when its wheels' joints have turned by so much (rad), with the steering joints at these values."""
    r = drive.wheel_radius
    if drive.kind == "differential" or drive.kind == "skid_steer":
        left, right = (sum(turned[w.joint] for w in wheels) / len(wheels) * r for wheels in (drive.left, drive.right))
        return Motion((left + right) / 2, 0.0, (right - left) / drive.wheel_separation)
    if drive.kind == "mecanum":
        rows = [(turned[joint] * r, across, turn) for joint, across, turn in _mecanum(drive)]
        return Motion(sum(d for d, _, _ in rows) / 4, sum(a * d for d, a, _ in rows) / 4,
                      sum(t * d for d, _, t in rows) / (4 * _lever(drive)))
    if drive.kind == "omni":
        # The least squares of three equations and more; at equal angles they are these sums.
        around = [(turned[joint] * r, c, s) for joint, c, s in _around(drive)]
        n = len(around)
        return Motion(2 / n * sum(s * d for d, _, s in around), -2 / n * sum(c * d for d, c, _ in around),
                      -sum(d for d, _, _ in around) / (n * drive.circle_radius))
    if drive.kind == "ackermann":
        bend = _bend(drive, _measured(drive, steered or {}))
        half = drive.wheel_separation / 2
        (left_wheel,), (right_wheel,) = drive.left, drive.right
        forward = (turned[left_wheel.joint] * r / (1 - half * bend) + turned[right_wheel.joint] * r / (1 + half * bend)) / 2
        return Motion(forward, 0.0, forward * bend)
    raise never(drive.kind)


def top_speed(drive: DriveFacet) -> float:
    """Speed forward (m/s) that the slowest motor without load allows; 0 where a driven wheel has no motor."""
    rim = min(w.motor.speed if w.motor is not None else 0.0 for w in drive.wheels) * drive.wheel_radius
    if drive.kind == "omni":
        return rim / max(abs(s) for _, _, s in _around(drive))
    if drive.kind == "differential" or drive.kind == "skid_steer" or drive.kind == "mecanum" or drive.kind == "ackermann":
        return rim
    raise never(drive.kind)


def goes_sideways(drive: DriveFacet) -> bool:
    """Whether the drive can move to the left without turning."""
    if drive.kind == "differential" or drive.kind == "skid_steer" or drive.kind == "ackermann":
        return False
    if drive.kind == "mecanum" or drive.kind == "omni":
        return True
    raise never(drive.kind)


def round_and_round(drive: DriveFacet, speed: float) -> Motion:
    """The tightest turn to the left, wheels at about ``speed`` (m/s): on the spot, or on the smallest circle of one that
    steers; never over 1 rad/s."""
    if drive.kind == "omni":
        return Motion(turn=min(1.0, speed / drive.circle_radius))
    if drive.kind == "differential" or drive.kind == "skid_steer" or drive.kind == "mecanum":
        return Motion(turn=min(1.0, speed / (drive.wheel_separation / 2)))
    if drive.kind == "ackermann":
        radius = max(smallest_turns(drive)[0], drive.wheel_separation / 2 + drive.wheel_radius)
        rate = min(1.0, speed / radius)
        return Motion(forward=rate * radius, turn=rate)
    raise never(drive.kind)


def _around(drive: DriveFacet) -> tuple[tuple[str, float, float], ...]:
    """Of each wheel of an omni drive: its joint, cosine and sine of its direction, as the controller spaces them."""
    step = 2 * math.pi / len(drive.around)
    return tuple((w.joint, math.cos(drive.first_angle + n * step), math.sin(drive.first_angle + n * step))
                 for n, w in enumerate(drive.around))


def _wanted(drive: DriveFacet, motion: Motion) -> float:
    """The angle (rad) of one wheel in the middle that would steer so."""
    if motion.forward == 0.0:
        return math.copysign(math.pi / 2, motion.turn) if motion.turn else 0.0
    return math.atan(motion.turn * drive.wheel_base / motion.forward)


def _measured(drive: DriveFacet, steered: Mapping[str, float]) -> float:
    """The same from where the steering joints are, the mean of two."""
    out = []
    for side, s in zip((-0.5, 0.5) if len(drive.steered) == 2 else (0.0,), drive.steered):
        slope = math.tan(steered[s.moving.joint])
        out.append(math.atan(drive.wheel_base * slope / (drive.wheel_base - side * drive.steer_track * slope)))
    return sum(out) / len(out)


def _bend(drive: DriveFacet, phi: float) -> float:
    """Curvature (1/m) of the path of the driven axle's middle."""
    return math.tan(phi) / drive.wheel_base


def _lever(drive: DriveFacet) -> float:
    """Half the wheel base plus half the separation."""
    return (drive.wheel_base + drive.wheel_separation) / 2


def _mecanum(drive: DriveFacet) -> tuple[tuple[str, int, int], ...]:
    """Of front left, rear left, front right, rear right: the joint, its sign in moving left, its sign in turning."""
    return ((drive.left[0].joint, -1, -1), (drive.left[-1].joint, 1, -1),
            (drive.right[0].joint, 1, 1), (drive.right[-1].joint, -1, 1))
