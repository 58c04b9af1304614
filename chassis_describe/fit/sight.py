"""Sight: what the sensors see of the robot and the floor, as findings and as key figures."""
from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.sight import blockers_of
from chassis_describe.findings import Finding, finding
from chassis_describe.fit.sight_aim import sensors_aimed
from chassis_describe.fit.sight_camera import camera_sees_robot
from chassis_describe.fit.sight_cloud import cloud_sees_robot
from chassis_describe.fit.sight_lidar import range_outside_case, scan_level, scan_on_floor, view_blocked
from chassis_describe.fit.sight_ranger import cone_on_floor, cone_on_robot
from chassis_describe.fit.sight_words import marks_of
from chassis_describe.fit.sweep import at_values_in_force
from chassis_describe.words import listing

#: Kinds that look out through what surrounds their origin.
_LOOKING = ("lidar", "camera", "depth_camera", "ranger")


def origin_inside(assembly: Assembly) -> Iterator[Finding]:
    """Sensing origins inside a solid that they look through, deeper than rounding; a lidar's own part may be around it."""
    for facet in assembly.sensors:
        if facet.sensor.kind not in _LOOKING:
            continue
        blockers = blockers_of(assembly)
        around = [i for i in blockers.scene.holding(facet.pose.t)
                  if not (facet.sensor.kind == "lidar" and blockers.owners[i] == facet.placement)]
        if not around:
            continue
        owners = tuple(dict.fromkeys(blockers.owners[i] for i in around))
        own = owners == (facet.placement,)
        what = "its own body" if own else listing(dict.fromkeys(blockers.words[i] for i in around))
        yield finding(
            "origin-inside-body", f"the sensing origin of {facet.frame} lies inside {what}, so it can see nothing",
            hint="put the sensor's `at` on the outside of its case, where it looks out" if own
            else "move one of the two, or correct the sensor's `at`",
            where=marks_of(assembly, facet, owners), of=(facet.placement, *(o for o in owners if o != facet.placement)))


#: Rules that find no errors, and wait for the rays of cameras and rangers, which take most of the check's time.
RAYS_WITHOUT_ERRORS: tuple[Callable[[Assembly], Iterable[Finding]], ...] = tuple(map(at_values_in_force, (
    camera_sees_robot, cloud_sees_robot, cone_on_robot, cone_on_floor, sensors_aimed)))
SIGHT_CHECKS: tuple[Callable[[Assembly], Iterable[Finding]], ...] = (
    *map(at_values_in_force, (view_blocked, scan_level, scan_on_floor, origin_inside, range_outside_case)), *RAYS_WITHOUT_ERRORS)
