"""How near a simulated camera may draw: not before its view has left the housing that its origin lies in."""
from __future__ import annotations

from collections.abc import Mapping

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.facts.sight import blockers_of
from chassis_describe.facts.usual_sensors import image_fov, pixels_of
from chassis_describe.space.sight.rays import image_grid, way_out

#: Rays of the grid, and what is left between housing and near plane (m; our choice).
_COLUMNS, _ROWS, _GAP = 24, 18, 0.001


@kept
def near_clip(assembly: Assembly) -> Mapping[str, float]:
    """By frame of each camera and depth camera: the distance (m, along the view) of the plane before which its own part's bodies
    that hold its origin end, as far as the image shows them; 0 where none holds it."""
    return {f.frame: _clip(assembly, f) for f in assembly.sensors if f.sensor.kind in ("camera", "depth_camera")}


def _clip(assembly: Assembly, facet: SensorFacet) -> float:
    blockers = blockers_of(assembly)
    others = [i for i, name in enumerate(blockers.owners) if name != facet.placement]
    width, height = pixels_of(facet)
    rays = image_grid(image_fov(facet), height / width, _COLUMNS, _ROWS).reshape(-1, 3)
    out = way_out(blockers.scene.seen_from(facet.pose, others), rays) * rays[:, 0]
    return float(out.max()) + _GAP if out.any() else 0.0
