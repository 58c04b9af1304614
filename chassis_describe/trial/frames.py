"""Transforms of a simulated robot: those that never change, and those of joints that move."""
from __future__ import annotations

from builtin_interfaces.msg import Time
from geometry_msgs.msg import TransformStamped

from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.assembly.sensors import OPTICAL_IN_SENSOR
from chassis_describe.live.frames import transform
from chassis_describe.space.pose import IDENTITY
from chassis_describe.trial.engine import Engine


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

    def transforms(self, stamp: Time) -> list[TransformStamped]:
        """Of every joint that moves, where it is now."""
        return [transform(joint.parent, joint.child, joint.at(float(self._data.qpos[q])), stamp)
                for joint, (q, _) in zip(self.moving, self._places)]


def described_frames(assembly: Assembly) -> list[TransformStamped]:
    """The fixed frames, as robot_state_publisher gives them."""
    return [transform(j.parent, j.child, j.pose) for j in assembly.joints if j.type == "fixed"]


def as_stamped(assembly: Assembly) -> tuple[SensorFacet, ...]:
    """The sensors with the frames that their messages carry here. Images are stamped with an optical frame (REP-103), with one
    of our own below the sensor's where the layout leaves that to a driver."""
    out = []
    for facet in assembly.sensors:
        looks_along_x = facet.message_frame == facet.frame and facet.pose == assembly.poses[facet.frame]
        if facet.sensor.kind in ("camera", "depth_camera") and looks_along_x:
            facet = facet._replace(message_frame=f"{facet.frame.removesuffix('_frame')}_optical_frame")
        out.append(facet)
    return tuple(out)


def driver_frames(assembly: Assembly) -> list[TransformStamped]:
    """What drivers publish below a sensor's frame, and no description holds."""
    return [transform(s.frame, s.message_frame,
                      OPTICAL_IN_SENSOR if s.sensor.kind in ("camera", "depth_camera") else IDENTITY)
            for s in as_stamped(assembly) if s.message_frame not in assembly.poses]
