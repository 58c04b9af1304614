"""What sensors look at, as the page shows it: fields of view with the arcs in them that the robot blocks."""
from __future__ import annotations

import math
from typing import Any

from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.drawings.robot_views import ground_pose
from chassis_describe.facts.sight import arcs_of, view_of
from chassis_describe.facts.usual_sensors import pixels_of
from chassis_describe.page.numbers import pose_numbers, short

#: Kinds that look somewhere; a fisheye is drawn as wide as a pinhole camera can be.
_LOOKING = ("lidar", "camera", "depth_camera", "ranger")
_WIDEST = math.radians(160)


def eyes_data(assembly: Assembly) -> list[dict[str, Any]]:
    """Each sensor: pose in ground axes, angles in radians, reach in millimetres (None: not known)."""
    return [_eye(assembly, facet) for facet in assembly.sensors]


def _eye(assembly: Assembly, facet: SensorFacet) -> dict[str, Any]:
    sensor = facet.sensor
    several = len(assembly.parts[facet.placement].part.sensors) > 1
    data: dict[str, Any] = {
        "name": f"{facet.placement}.{sensor.name}" if several else facet.placement, "owner": facet.placement,
        "frame": facet.frame, "kind": sensor.kind if sensor.kind in _LOOKING else "none",
        "pose": pose_numbers(ground_pose(assembly) @ facet.pose), "what": sensor.kind.replace("_", " "),
        "reach": short(sensor.range[1] * 1e3) if sensor.range is not None else None}
    if sensor.kind == "lidar":
        arcs = arcs_of(assembly).get(facet.frame, ())
        data |= {"fov": short(view_of(facet), 6),
                 "blocked": [[short(a.start, 6), short(a.end, 6), ", ".join(a.words)] for a in arcs],
                 "blocked_deg": short(math.degrees(math.fsum(a.end - a.start for a in arcs)), 1)}
    elif sensor.kind == "ranger":
        data |= {"fov": short(sensor.fov or 0.0, 6)}
    elif data["kind"] != "none":
        width, height = pixels_of(facet)
        data |= {"fov": short(min(sensor.fov or 0.0, _WIDEST), 6), "aspect": short(height / width, 6)}
    return data
