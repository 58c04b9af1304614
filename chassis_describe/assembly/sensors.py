"""Where the sensors of a placement are: their frames, and what a calibration corrects (DEVELOPERS.md, "Sensors")."""
from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from chassis_describe.assembly.attitude import rotation_of
from chassis_describe.assembly.joints import carried
from chassis_describe.assembly.model import PlacedPart, SensorFacet
from chassis_describe.layout.model import Calibration, Sensor
from chassis_describe.layout.names import sensor_frames
from chassis_describe.space.pose import Pose, angle_of, from_rpy, multiply, rot_z
from chassis_describe.tolerances import SAME_NOMINAL, SAME_NOMINAL_TURN

#: REP-103 suffix frames: z forward, x right, y down; rpy (-π/2, 0, -π/2), exact.
OPTICAL_IN_SENSOR = Pose((0.0, 0.0, 1.0, -1.0, 0.0, 0.0, 0.0, -1.0, 0.0))


def sensors_of(prefix: str, placed: PlacedPart,
               poses: Mapping[str, Pose], in_base_deck: Pose) -> Iterable[tuple[SensorFacet, list[tuple[str, str, Pose]]]]:
    """Each sensor with the frames that it adds: (parent, child, child in parent)."""
    part, placement = placed.part, placed.placement
    for sensor, names in zip(part.sensors, sensor_frames(placed.name, part, placement.frames)):
        if sensor.link is not None:
            yield _on_described(placed, sensor, poses), []
            continue
        local = Pose(rotation_of(sensor.attitude), sensor.at)
        if sensor.zero_beam:
            local = Pose(multiply(local.r, rot_z(sensor.zero_beam)), local.t)
        frame = prefix + names.frame
        optical = prefix + names.optical if names.optical is not None else None
        on: str | None = None
        if sensor.moves_with is not None:
            on, seen = carried(part, sensor.moves_with, placed.settings)
            local = seen @ local
        link = placed.link if on is None else placed.moving[on]
        calibration, nominal, stale = placement.calibrated.get(sensor.name), None, False
        pose = placed.pose @ local if on is None else poses[link] @ local
        if calibration is not None:
            nominal, stale = pose, not is_where_calibrated(calibration, in_base_deck @ pose)
            if not stale:
                correction = Pose(from_rpy(*calibration.rpy), calibration.xyz)
                local, pose = local @ correction, pose @ correction
        frames = [(link, frame, local if on is not None else placed.part_in_link @ local)]
        if optical is not None:
            frames.append((frame, optical, OPTICAL_IN_SENSOR))
        yield SensorFacet(placement=placed.name, sensor=sensor, frame=frame, message_frame=prefix + names.message,
                          optical_frame=optical, topic=placement.topics.get(sensor.name, sensor.topic), pose=pose,
                          mark=placed.mark, calibration=calibration, nominal=nominal, stale=stale), frames


def is_where_calibrated(calibration: Calibration, nominal: Pose) -> bool:
    """Whether a sensor is still where it was when it was measured; ``nominal``: its frame in the base deck now."""
    off = Pose(from_rpy(*calibration.nominal_rpy), calibration.nominal_xyz).inverse() @ nominal
    return math.hypot(*off.t) <= SAME_NOMINAL and angle_of(off.r) <= SAME_NOMINAL_TURN


def _on_described(placed: PlacedPart, sensor: Sensor, poses: Mapping[str, Pose]) -> SensorFacet:
    """A sensor that is at a link of the description; an optical link is seen along its z (REP-103)."""
    frame = placed.described[sensor.link or ""]
    optical = frame.endswith("optical_frame")
    pose = poses[frame]
    return SensorFacet(placement=placed.name, sensor=sensor, frame=frame,
                       message_frame=placed.placement.frames.get(sensor.name, frame), optical_frame=None,
                       topic=placed.placement.topics.get(sensor.name, sensor.topic),
                       pose=pose @ OPTICAL_IN_SENSOR.inverse() if optical else pose, mark=placed.mark)
