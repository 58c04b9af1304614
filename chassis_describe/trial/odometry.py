"""Odometry of a simulated robot as its drive controller publishes it: from the wheels and what steers, nothing else."""
from __future__ import annotations

from chassis_describe.trial.engine import Engine
from chassis_describe.trial.kinematics import FloorPose, Motion, moved


class Odometer:
    """Read at the controller's rate: the place since the start, and the mean velocity since the last reading."""

    def __init__(self, engine: Engine) -> None:
        self._engine = engine
        self._last, self._turned = engine.time, engine.turned()

    def read(self) -> tuple[FloorPose, Motion]:
        """FloorPose in the odometry frame (m, m, rad), velocity in the base's axes (m/s, m/s, rad/s)."""
        drive, now, turned = self._engine.assembly.drive, self._engine.time, self._engine.turned()
        passed = now - self._last
        velocity = Motion()
        if drive is not None and passed > 0.0:
            step = moved(drive, {joint: angle - self._turned[joint] for joint, angle in turned.items()}, self._engine.steered())
            velocity = Motion(*(v / passed for v in step))
        self._last, self._turned = now, turned
        return self._engine.odometry, velocity
