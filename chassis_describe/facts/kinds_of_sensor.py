"""Which sensors give scans, and which clouds."""
from __future__ import annotations

from chassis_describe.assembly.model import SensorFacet


def is_scanner(facet: SensorFacet) -> bool:
    """A lidar of one layer: it publishes LaserScan (several layers: PointCloud2)."""
    return facet.sensor.kind == "lidar" and facet.sensor.layers == 1


def is_cloud(facet: SensorFacet) -> bool:
    """A sensor that publishes PointCloud2."""
    return facet.sensor.kind == "depth_camera" or (facet.sensor.kind == "lidar" and facet.sensor.layers > 1)
