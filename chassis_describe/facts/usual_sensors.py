"""What a sensor is taken to be like where the layout says nothing: the same in every simulator.

Our choice: what such sensors usually have (common practice).
"""
from __future__ import annotations

import math

from chassis_describe.assembly.model import SensorFacet

#: Nearest and furthest distance (m), measurements per second (Hz), horizontal field of view or full cone (rad), image size.
RANGES = {"lidar": (0.1, 12.0), "camera": (0.02, 100.0), "depth_camera": (0.2, 8.0), "ranger": (0.02, 4.0)}
RATES = {"lidar": 10.0, "camera": 15.0, "depth_camera": 15.0, "ranger": 10.0, "imu": 100.0, "gnss": 5.0, "contact": 50.0}
VIEWS = {"camera": math.radians(60), "depth_camera": math.radians(70), "ranger": math.radians(15)}
PIXELS = (640, 480)
#: Widest field of view that is still taken for a pinhole camera's (rad); fisheyes are not judged, and simulated with this one.
WIDEST_IMAGE = math.radians(170)


def rate_of(facet: SensorFacet) -> float:
    """Measurements per second."""
    return facet.sensor.rate or RATES[facet.sensor.kind]


def range_of(facet: SensorFacet) -> tuple[float, float]:
    """Nearest and furthest distance that it measures (m)."""
    return facet.sensor.range or RANGES[facet.sensor.kind]


def fov_of(facet: SensorFacet) -> float:
    """Horizontal field of view of a camera, or a ranger's cone (rad)."""
    return facet.sensor.fov or VIEWS[facet.sensor.kind]


def image_fov(facet: SensorFacet) -> float:
    """Horizontal field of view of a camera's image (rad), which a plane can hold."""
    return min(fov_of(facet), WIDEST_IMAGE)


def pixels_of(facet: SensorFacet) -> tuple[int, int]:
    """Width and height of a camera's image."""
    return facet.sensor.resolution or PIXELS
