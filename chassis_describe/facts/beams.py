"""The beams of a lidar: at which angles they are, and how far apart."""
from __future__ import annotations

import math

from chassis_describe.assembly.model import SensorFacet
from chassis_describe.facts.sight import view_of


def layer_of_beams(facet: SensorFacet) -> tuple[float, float, int]:
    """First angle, step (rad, about the sensor's z from its x) and number of beams of one layer of a lidar.

    0 and 2π are one beam: a full turn has as many steps as beams; a sector has a beam at each end.
    """
    fov = view_of(facet)
    count = facet.sensor.samples or 360
    if fov >= 2 * math.pi - 1e-9:
        first = 0.0 if facet.sensor.angles == "positive" else -math.pi
        return first, 2 * math.pi / count, count
    return -fov / 2, fov / (count - 1) if count > 1 else 0.0, count


def beam_step(facet: SensorFacet) -> float:
    """Angle between two beams, radians; a degree where the part doesn't say how many there are."""
    return layer_of_beams(facet)[1] if facet.sensor.samples else math.radians(1.0)
