"""Lidars: what the robot hides from them, and whether a flat scan is level and clear of the floor."""
from __future__ import annotations

import math
from collections.abc import Iterator

from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.kinds_of_sensor import is_scanner
from chassis_describe.facts.own_cloud import own_clouds
from chassis_describe.facts.sight import LAYER_STEP, LidarView, lidars_of
from chassis_describe.findings import Finding, Severity, finding
from chassis_describe.fit.sight_words import degrees, marks_of, metres, percent, span
from chassis_describe.space.sight.floor import lean, steepest_beam
from chassis_describe.tolerances import SAME_LENGTH
from chassis_describe.words import listing, mm

#: A scan plane that leans more than this is not level (rad): the default of the robot's own rest tilt.
LEVEL = math.radians(0.5)
#: More than this blocked is an error (rad): half of the full turn (our choice).
HALF_TURN = math.pi
#: Share of all layers of a 3D lidar that may see the robot unmentioned; the level plane may not.
LAYERS_COVERED = 0.05


def view_blocked(assembly: Assembly) -> Iterator[Finding]:
    """Arcs of each lidar's scan that the robot cuts, by whom; of a 3D lidar, the share of each layer."""
    for view in lidars_of(assembly).values():
        frame, sensor = view.facet.frame, view.facet.placement
        owners = tuple(dict.fromkeys(name for arc in view.arcs for name in arc.owners))
        where = marks_of(assembly, view.facet, owners)
        if view.arcs:
            severe = view.blocked > HALF_TURN
            arcs = "; ".join(f"{span(a.start, a.end)} {listing(a.words)}" for a in view.arcs)
            yield finding(
                "view-blocked", f"the robot hides {degrees(view.blocked)} of the scan of {frame}: {arcs}{_layers(view)}",
                hint="raise the lidar, or move it or what blocks it" if severe
                else f"{_filter(assembly, view)}raise the lidar or move what blocks it to see there",
                where=where, of=(sensor, *owners), measured=math.degrees(view.blocked), allowed=180.0 if severe else 0.0,
                unit="deg", severity=Severity.ERROR if severe else None)
        elif view.covered > LAYERS_COVERED:
            yield finding(
                "view-blocked", f"the robot hides {percent(view.covered)} of the layers of {frame}{_layers(view)}",
                hint=f"{_filter(assembly, view)}raise the lidar to see past it", where=where, of=(sensor,),
                measured=100 * view.covered, allowed=100 * LAYERS_COVERED, unit="percent")


def range_outside_case(assembly: Assembly) -> Iterator[Finding]:
    """``range-inside-case``: lidars that state a nearest distance which still lies in their own case."""
    for view in lidars_of(assembly).values():
        sensor = view.facet.sensor
        if sensor.range is None or sensor.range[0] >= view.case - SAME_LENGTH:
            continue
        yield finding(
            "range-inside-case", f"{view.facet.frame} measures from {mm(sensor.range[0])} on, and its own case reaches "
            f"{mm(view.case)} from the sensing origin in the scan plane: simulators and the stack would see the case",
            hint=f"write the data sheet's nearest distance under `range`, at least {mm(math.ceil(view.case * 1e3 - 1e-6) / 1e3)}, "
            "or correct the bodies of the part", where=[sensor.mark, view.facet.mark], of=(view.facet.placement,),
            measured=sensor.range[0] * 1e3, allowed=view.case * 1e3, unit="mm")


def _filter(assembly: Assembly, view: LidarView) -> str:
    """What the compiled package does about it; nothing where it does nothing."""
    if is_scanner(view.facet):
        return "the laser filter cuts these angles out; "
    return "the cloud filter takes these points out; " if own_clouds(assembly)[view.facet.frame].boxes else ""


def _layers(view: LidarView) -> str:
    """The layers that see the robot, with the resolution of their figures."""
    met = [f"{degrees(layer.elevation)} {percent(layer.covered)}" for layer in view.layers if layer.covered > 0]
    if not met:
        return ""
    return f" (layers, in steps of {degrees(LAYER_STEP)}: {listing(met, 8)})"


def scan_level(assembly: Assembly) -> Iterator[Finding]:
    """Flat scans that are not level as the robot rests."""
    for view in lidars_of(assembly).values():
        if view.lean is None or view.lean <= LEVEL or assembly.rest is None:
            continue
        mounted = lean(view.facet.pose)
        is_mounted = "is mounted level" if mounted < 1e-6 else f"is mounted within {degrees(mounted, 2)} of level"
        down = steepest_beam(assembly.rest.base_in_ground @ view.facet.pose)
        yield finding(
            "scan-tilted", f"the scan plane of {view.facet.frame} leans {degrees(view.lean, 2)} at rest, "
            f"lowest at {degrees(down)} of the scan",
            hint=f"the robot itself rests tilted: level it, for the lidar {is_mounted}" if mounted <= LEVEL
            else "set its holder, or shim its mount, until the scan is level",
            where=marks_of(assembly, view.facet), of=(view.facet.placement,), measured=math.degrees(view.lean),
            allowed=math.degrees(LEVEL), unit="deg")


def scan_on_floor(assembly: Assembly) -> Iterator[Finding]:
    """Flat scans that meet the floor within range."""
    for view in lidars_of(assembly).values():
        if view.floor is None or view.facet.sensor.range is None:
            continue
        reach = view.facet.sensor.range[1]
        arcs = listing(span(p.start, p.end) for p in view.floor_arcs)
        yield finding(
            "scan-hits-floor", f"the scan of {view.facet.frame} meets the floor from {metres(view.floor.along)} on, "
            f"between {arcs}, within its range of {metres(reach)}",
            hint="what it sees there is taken for an obstacle: level the scan, or give the stack a shorter range",
            where=marks_of(assembly, view.facet), of=(view.facet.placement,), measured=view.floor.along, allowed=reach,
            unit="m")
