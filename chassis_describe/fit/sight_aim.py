"""Where sensors are meant to look: cameras and rangers at the ceiling, antennas that don't face the sky, `looks`."""
from __future__ import annotations

import math
from collections.abc import Iterator

from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.facts.looks import CEILING
from chassis_describe.facts.sight import RangerView, sight_of
from chassis_describe.findings import Finding, finding
from chassis_describe.fit.sight_words import degrees, marks_of, metres
from chassis_describe.space.pose import Pose

#: A GNSS antenna that leans by more than this (rad) looks sideways: patch antennas receive over about 60° about their axis,
#: and satellites are used from 10° over the horizon on (common practice).
SKY = math.radians(45)


def sensors_aimed(assembly: Assembly) -> Iterator[Finding]:
    """``looks-elsewhere``: at the ceiling, away from the sky, or not at what `looks` says."""
    ground = assembly.rest.base_in_ground if assembly.rest is not None else Pose()
    for facet in assembly.sensors:
        pose = ground @ facet.pose
        if facet.sensor.kind == "gnss" and pose.z_axis[2] < math.cos(SKY):
            yield _antenna(assembly, facet, pose.z_axis[2])
        elif facet.sensor.kind in ("camera", "depth_camera", "ranger"):
            up = math.asin(max(-1.0, min(1.0, pose.x_axis[2])))
            if up > CEILING and facet.sensor.looks != "ceiling":
                yield _ceiling(assembly, facet, up)
            elif up <= 0.0 and facet.sensor.looks == "ceiling":
                yield finding("looks-elsewhere", f"{facet.frame} is meant to look at the ceiling, and its axis points "
                              f"{degrees(-up)} below level", hint="turn it, or correct its `axes` or `looks`",
                              where=marks_of(assembly, facet),
                              of=(facet.placement,), measured=math.degrees(up), allowed=0.0, unit="deg")
    for view in sight_of(assembly).rangers.values():
        looks_up = (ground @ view.facet.pose).x_axis[2] > math.sin(CEILING)  # that was said already
        if not looks_up and view.facet.sensor.looks == "floor" and assembly.rest is not None:
            yield from _floor(assembly, view)
    for camera in sight_of(assembly).cameras.values():
        looks_up = (ground @ camera.facet.pose).x_axis[2] > math.sin(CEILING)  # that was said already
        if not looks_up and camera.facet.sensor.looks == "floor" and camera.covered is not None and camera.nearest_floor is None \
                and assembly.rest:
            yield finding("looks-elsewhere", f"{camera.facet.frame} is meant to look at the floor, and sees none within its range",
                          hint="turn it down; where it shall look ahead, leave `looks` out", where=marks_of(assembly, camera.facet),
                          of=(camera.facet.placement,))


def _ceiling(assembly: Assembly, facet: SensorFacet, up: float) -> Finding:
    floor = facet.sensor.looks == "floor"
    where_to = "is meant to look at the floor, and looks at the ceiling" if floor else "looks at the ceiling"
    instead = "the other way up" if floor else "upright; where it shall look up, `looks: ceiling`"
    return finding("looks-elsewhere", f"{facet.frame} {where_to}: its axis points {degrees(up)} up",
                   hint="a sensor looks along its own x: say with `axes` where that is on the part (`axes: {x: forward, z: up}`), "
                   f"or mount the part {instead}", where=marks_of(assembly, facet),
                   of=(facet.placement,), measured=math.degrees(up), allowed=math.degrees(CEILING), unit="deg")


def _antenna(assembly: Assembly, facet: SensorFacet, up: float) -> Finding:
    off = math.acos(max(-1.0, min(1.0, up)))
    way = "down" if off > math.pi - SKY else "sideways"
    return finding("looks-elsewhere", f"the antenna {facet.frame} looks {way}: its z leans {degrees(off)} from straight up",
                   hint="an antenna faces the sky: mount it flat on top, or say with `axes` where its z points on the part",
                   where=marks_of(assembly, facet), of=(facet.placement,), measured=math.degrees(off),
                   allowed=math.degrees(SKY), unit="deg")


def _floor(assembly: Assembly, view: RangerView) -> Iterator[Finding]:
    """A ranger that is meant to see the floor: within its range, neither too far nor too near."""
    facet, sensor = view.facet, view.facet.sensor
    if sensor.fov is None or sensor.range is None:
        return
    if view.floor is None:
        yield finding("looks-elsewhere", f"{facet.frame} is meant to look at the floor, and no floor is within its range of "
                      f"{metres(sensor.range[1])}", hint="turn it down or lower it; where it shall look ahead, leave `looks` out",
                      where=marks_of(assembly, facet), of=(facet.placement,), allowed=sensor.range[1], unit="m")
    elif view.floor.away < sensor.range[0]:
        yield finding("looks-elsewhere", f"{facet.frame} is meant to look at the floor, which is {metres(view.floor.away)} away: "
                      f"it measures from {metres(sensor.range[0])} on", hint="raise it, or take one that measures nearer",
                      where=marks_of(assembly, facet), of=(facet.placement,), measured=view.floor.away, allowed=sensor.range[0],
                      unit="m")
