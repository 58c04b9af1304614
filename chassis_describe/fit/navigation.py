"""What the navigation stack would get wrong, or not get at all."""
from __future__ import annotations

import math
from collections.abc import Iterator

from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.coverage import MEASURING, coverage_of, measures
from chassis_describe.facts.coverage_words import blind_sectors, blind_words
from chassis_describe.facts.depth_rows import MOST_LEAN, depth_rows_of
from chassis_describe.facts.depth_words import unfit_words
from chassis_describe.facts.kinds_of_sensor import is_scanner
from chassis_describe.facts.slam_lidar import depth_for_scan, localises_by, turned_round
from chassis_describe.findings import Finding, finding


def odometry_there(assembly: Assembly) -> Iterator[Finding]:
    """``odometry: ekf`` with nothing to fuse."""
    ros = assembly.layout.ros
    if ros.odometry == "ekf" and assembly.drive is None and not any(f.sensor.kind == "imu" for f in assembly.sensors):
        yield finding(
            "odometry-missing", "`odometry: ekf` has nothing to fuse: there is no drive and no imu, so the frame odom never comes",
            hint="name the driven wheels under `drive`, add an imu, or leave `odometry` out",
            where=[ros.marks.get("odometry")], of=())


def scan_not_mirrored(assembly: Assembly) -> Iterator[Finding]:
    """A lidar for mapping whose scan slam_toolbox reverses the wrong way."""
    facet = localises_by(assembly)
    if facet is not None and is_scanner(facet) and turned_round(assembly, facet):
        yield finding(
            "scan-asymmetric-inverted", f"{facet.frame} hangs upside down and its driver counts its angles from 0 on: "
            "slam_toolbox turns such a scan round as if it lay evenly about zero",
            hint="mount it upright, let the driver count from -180° to 180° (`angles: symmetric`), or choose another with "
                 "`ros: {slam_lidar: NAME}`", where=[facet.mark], of=(facet.placement,))


def rows_are_level(assembly: Assembly) -> Iterator[Finding]:
    """A scan out of rows of a depth image that are not level, move, or hold the robot."""
    facet = depth_for_scan(assembly)
    rows = depth_rows_of(assembly).get(facet.frame) if facet is not None else None
    if rows is not None and not rows.fits:
        yield finding(
            "depth-scan-wrong", f"the scan from the depth image of {rows.facet.placement} would be wrong: {unfit_words(rows)}",
            hint="mount the camera level and clear of the robot, or leave `scan_by` out: a scan from the cloud takes any attitude",
            where=[assembly.layout.ros.marks.get("scan_by"), rows.facet.mark], of=(rows.facet.placement,),
            measured=math.degrees(rows.lean), allowed=math.degrees(MOST_LEAN), unit="deg")


def sees_all_round(assembly: Assembly) -> Iterator[Finding]:
    """Sectors in which low obstacles go unseen, on a robot that measures distances at all."""
    limit = assembly.layout.limits["blind_height_mm"]
    coverage = coverage_of(assembly)
    if coverage is None or not measures(assembly):
        return
    sectors = blind_sectors(coverage, limit * 1e-3)
    if sectors:
        eyes = [facet for facet in assembly.sensors if facet.sensor.kind in MEASURING]
        heights = [sector.height for sector in sectors if sector.height is not None]
        yield finding(
            "blind-sector", f"half a metre around the outline {'; '.join(blind_words(sectors))}",
            hint="add a sensor that looks there, keep people and things away from there, or raise `blind_height_mm`",
            where=[facet.mark for facet in eyes[:1]], of=tuple(dict.fromkeys(facet.placement for facet in eyes)),
            measured=max(heights) * 1e3 if heights else None, allowed=limit, unit="mm")


STACK_CHECKS = (odometry_there, scan_not_mirrored, rows_are_level, sees_all_round)
