"""What a placement's own motors follow: points in time, between them a line, or with velocities a cubic.

As joint_trajectory_controller takes them (ros2_controllers jazzy:joint_trajectory_controller/src/trajectory.cpp and
doc/trajectory.rst): a new trajectory takes the place of the old one and begins where the joint was sent last.
"""
from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from chassis_describe.assembly.model import Assembly
from chassis_describe.targets.description.joint_control import controller_of


class Point(NamedTuple):
    """``at``: seconds from the trajectory's start; positions (rad, of a slide m) and, where given, velocities, by joint."""

    at: float
    positions: Mapping[str, float]
    velocities: Mapping[str, float] = {}


class Follower:
    """The wanted position of each joint of one controller, as time goes by."""

    def __init__(self, positions: Mapping[str, float]) -> None:
        self._points: tuple[Point, ...] = (Point(0.0, dict(positions), dict.fromkeys(positions, 0.0)),)
        self.joints = tuple(positions)

    def take(self, points: Sequence[Point], now: float, start: float | None = None) -> str | None:
        """Follow these from ``start`` on (seconds; None: now). What is wrong with them, or None: then they are followed."""
        if not points:
            self._points = (self._held(now),)
            return None
        wrong = self._wrong(points)
        if wrong is None:
            begin = now if start is None else start
            self._points = (self._held(now), *(p._replace(at=begin + p.at) for p in points))
        return wrong

    def wanted(self, now: float) -> dict[str, float]:
        """Where the joints are to be at a time."""
        before = self._points[0]
        for point in self._points[1:]:
            if point.at > now:
                return {joint: _between(before, point, joint, now) for joint in self.joints}
            before = point
        return dict(before.positions)

    def _held(self, now: float) -> Point:
        return Point(now, self.wanted(now), dict.fromkeys(self.joints, 0.0))

    def _wrong(self, points: Sequence[Point]) -> str | None:
        last = -math.inf
        for n, point in enumerate(points, start=1):
            if sorted(point.positions) != sorted(self.joints):
                return f"point {n} gives no position to each of {', '.join(self.joints)}, and to nothing else"
            if not all(map(math.isfinite, (point.at, *point.positions.values(), *point.velocities.values()))):
                return f"point {n} is not finite"
            if point.at <= last or point.at < 0.0:
                return f"point {n} is not later than the one before it"
            last = point.at
        return None


def followers(assembly: Assembly) -> dict[str, Follower]:
    """By controller, what the motors of each placement follow; steering is the drive's, and what follows a joint the joint's."""
    joints: dict[str, dict[str, float]] = {}
    for moving in assembly.moving:
        if moving.adjustment.motion == "driven" and not moving.steers and moving.adjustment.follows is None:
            joints.setdefault(controller_of(moving.placement), {})[moving.joint] = moving.value
    return {controller: Follower(positions) for controller, positions in joints.items()}


def _between(a: Point, b: Point, joint: str, now: float) -> float:
    """A cubic where both ends have a velocity (Hermite), else a line."""
    length = b.at - a.at
    s = min(max((now - a.at) / length, 0.0), 1.0)
    p, q = a.positions[joint], b.positions[joint]
    if joint not in b.velocities or joint not in a.velocities:
        return p + s * (q - p)
    u, v = a.velocities[joint] * length, b.velocities[joint] * length
    return p + s * (u + s * (3 * (q - p) - 2 * u - v + s * (2 * (p - q) + u + v)))
