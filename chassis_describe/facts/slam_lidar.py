"""Which sensor maps and localises, and whether the mapper would turn its scan round."""
from __future__ import annotations

import math

from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.facts.kinds_of_sensor import is_cloud, is_scanner
from chassis_describe.facts.sight import lidars_of, view_of


def slam_lidar(assembly: Assembly) -> SensorFacet | None:
    """The flat lidar that the layout names, else the one with the widest free view; one whose scan slam_toolbox would
    turn round only where there is no other. The first of equals."""
    scanners = [facet for facet in assembly.sensors if is_scanner(facet)]
    named = [f for f in scanners if f.placement == assembly.layout.ros.slam_lidar]
    if named:
        return named[0]
    return max(scanners, key=lambda f: (not turned_round(assembly, f), round(free_view(assembly, f), 6)), default=None)


def source_of_scan(assembly: Assembly) -> SensorFacet | None:
    """The sensor of whose cloud or depth image a scan is made: what ``scan_from`` names, else, where there is no flat lidar, the
    one with the widest view; the first of equals. Of a depth image where ``scan_by`` says so."""
    ros, clouds = assembly.layout.ros, [facet for facet in assembly.sensors if is_cloud(facet)]
    if ros.scan_by == "depth_image":
        clouds = [facet for facet in clouds if facet.sensor.kind == "depth_camera"]
    if ros.scan_from is not None:
        clouds = [facet for facet in clouds if facet.placement == ros.scan_from]
    elif any(map(is_scanner, assembly.sensors)):
        return None
    return max(clouds, key=lambda f: round(view_of(f), 6), default=None)


def cloud_for_scan(assembly: Assembly) -> SensorFacet | None:
    """The sensor of whose cloud a scan is made."""
    return source_of_scan(assembly) if assembly.layout.ros.scan_by == "cloud" else None


def depth_for_scan(assembly: Assembly) -> SensorFacet | None:
    """The camera of whose depth image a scan is made."""
    return source_of_scan(assembly) if assembly.layout.ros.scan_by == "depth_image" else None


def localises_by(assembly: Assembly) -> SensorFacet | None:
    """Whose scan goes to mapper and localiser: the flat lidar that the layout names, else a cloud or depth image that it asks a
    scan of, else the flat lidar that serves best, else any cloud."""
    ros, cloud = assembly.layout.ros, source_of_scan(assembly)
    return slam_lidar(assembly) if ros.slam_lidar is not None or cloud is None else cloud


def free_view(assembly: Assembly, facet: SensorFacet) -> float:
    """What a lidar sees besides the robot (rad)."""
    return view_of(facet) - lidars_of(assembly)[facet.frame].blocked


def turned_round(assembly: Assembly, facet: SensorFacet) -> bool:
    """Whether slam_toolbox mirrors the scan wrongly: it hangs upside down, and its angles don't lie evenly about zero.

    slam_toolbox ros2:src/laser_utils.cpp reverses the ranges of an inverted laser and keeps angle_min and angle_max, which
    is right for angles even about zero and for a whole turn alone (slam_toolbox #462, #582).
    """
    inverted = (assembly.poses[assembly.root].inverse() @ facet.pose).r[8] < 0
    return inverted and facet.sensor.angles == "positive" and view_of(facet) < 2 * math.pi - 1e-6
