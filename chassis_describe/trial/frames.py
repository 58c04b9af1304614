"""Transforms of a simulated robot: those that never change, and those of joints that move."""
from __future__ import annotations

from geometry_msgs.msg import TransformStamped

from chassis_describe.assembly.model import Assembly
from chassis_describe.assembly.place import OPTICAL_IN_SENSOR
from chassis_describe.space.pose import IDENTITY
from chassis_describe.trial.engine import Engine
from chassis_describe.trial.messages import transform


class Joints:
    """Positions and velocities of the joints that the description has."""

    def __init__(self, engine: Engine, assembly: Assembly) -> None:
        self._data = engine.data
        self.moving = tuple(j for j in assembly.joints if j.type != "fixed")
        self._places = [(int(engine.model.joint(j.name).qposadr[0]), int(engine.model.joint(j.name).dofadr[0]))
                        for j in self.moving]

    def read(self) -> dict[str, tuple[float, float]]:
        """rad and rad/s, of a slide m and m/s, by name."""
        return {joint.name: (float(self._data.qpos[q]), float(self._data.qvel[v]))
                for joint, (q, v) in zip(self.moving, self._places)}

    def transforms(self, stamp: int) -> list[TransformStamped]:
        """Of every joint that moves, where it is now."""
        return [transform(stamp, joint.parent, joint.child, joint.at(float(self._data.qpos[q])))
                for joint, (q, _) in zip(self.moving, self._places)]


def described_frames(assembly: Assembly) -> list[TransformStamped]:
    """The fixed frames, as robot_state_publisher gives them."""
    return [transform(0, j.parent, j.child, j.pose) for j in assembly.joints if j.type == "fixed"]


def driver_frames(assembly: Assembly) -> list[TransformStamped]:
    """What drivers publish below a sensor's frame, and no description holds."""
    return [transform(0, s.frame, s.message_frame,
                      OPTICAL_IN_SENSOR if s.sensor.kind in ("camera", "depth_camera") else IDENTITY)
            for s in assembly.sensors if s.message_frame not in assembly.poses]
