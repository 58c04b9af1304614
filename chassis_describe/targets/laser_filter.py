"""config/laser_filter.yaml: the beams that end on the robot itself, for laser_filters' filter chain.

LaserScanAngularBoundsFilterInPlace blanks the beams **strictly between** two angles and knows no wrap-around
(laser_filters ros2:include/laser_filters/angular_bounds_filter_in_place.h). So every sector is written in the angles
that the driver counts in, in one piece unless it lies across the driver's own seam.
"""
from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Literal, NamedTuple

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.targets.headers import header
from chassis_describe.targets.ros_yaml import document
from chassis_describe.targets.topics import filtered, is_scanner, sensor_topics

if TYPE_CHECKING:
    from chassis_describe.assembly.sight import Arc

PATH = "config/laser_filter.yaml"
FILTER = "laser_filters/LaserScanAngularBoundsFilterInPlace"
NODE = "scan_to_scan_filter_chain"  # laser_filters ros2:src/scan_to_scan_filter_chain.cpp, main
#: Angles are rounded outward to this, radians.
_GRID = 1e-6
#: Angles closer than this are one angle, radians; far below a beam step, far above rounding.
_TOUCH = 1e-9


class Sector(NamedTuple):
    """Blocked angles in the driver's own convention, radians, lower below upper, and what stands there."""

    lower: float
    upper: float
    names: tuple[str, ...]


def artifacts(assembly: Assembly) -> Iterable[Artifact]:
    """The file, or nothing where no scan is blocked."""
    blocked = {frame: sectors for frame, sectors in blocked_sectors(assembly).items() if sectors}
    if not blocked:
        return
    doc = header(assembly, PATH, "laser_filters", [
        "Blanks the beams that end on the robot itself. A node for each lidar whose view is blocked; it reads `scan`",
        "and publishes `scan_filtered`, both to be remapped as said at the node. Blanked beams are set to",
        "range_max + 1: consumers neither mark nor clear with them."])
    topics = sensor_topics(assembly)
    for facet in assembly.sensors:
        if facet.frame not in blocked:
            continue
        topic = topics[facet.frame]
        doc.note("", f"{facet.placement}, frame {facet.message_frame}; angles as its driver counts them, "
                     f"{_convention(facet.sensor.angles)}",
                 f"remap: scan:={topic} scan_filtered:={filtered(topic)}; node name {node_name(assembly, facet)}")
        node = doc.parameters(node_name(assembly, facet))
        for number, sector in enumerate(blocked[facet.frame], 1):
            node.note(f"{', '.join(sector.names) or 'the robot'}: {math.degrees(sector.lower):.2f} to "
                      f"{math.degrees(sector.upper):.2f} degrees")
            entry = node.block(f"filter{number}")
            entry.put("name", f"own_body_{number}")
            entry.put("type", FILTER)
            entry.block("params").put("lower_angle", sector.lower).put("upper_angle", sector.upper)
    yield Artifact(path=PATH, data=document(doc).encode("ascii"))


def node_name(assembly: Assembly, facet: SensorFacet) -> str:
    """The filter node's name: the program's own where there is one lidar, else one for each."""
    scanners = [other for other in assembly.sensors if is_scanner(other)]
    if len(scanners) == 1:
        return NODE
    several = sum(other.placement == facet.placement for other in scanners) > 1
    return f"{facet.placement}_{facet.sensor.name}_filter" if several else f"{facet.placement}_filter"


def blocked_sectors(assembly: Assembly) -> Mapping[str, tuple[Sector, ...]]:
    """By frame of each 2D lidar, the sectors to blank, in the driver's angles, in rising order."""
    return {facet.frame: sectors(assembly.arcs.get(facet.frame, ()), facet.sensor.angles, beam_step(facet))
            for facet in assembly.sensors if is_scanner(facet)}


def beam_step(facet: SensorFacet) -> float:
    """Angle between two beams, radians; a degree where the part doesn't say how many there are."""
    sensor = facet.sensor
    return (sensor.fov or 2 * math.pi) / sensor.samples if sensor.samples else math.radians(1.0)


def sectors(arcs: Sequence[Arc], angles: Literal["symmetric", "positive"], step: float) -> tuple[Sector, ...]:
    """Arcs of the sensor frame (-π to π) in the driver's angles, touching ones joined.

    ``step`` (radians) is what a sector that ends at the seam reaches beyond it: the filter spares the bound itself,
    and a driver may count one beam beyond.
    """
    low, high = (-math.pi, math.pi) if angles == "symmetric" else (0.0, 2 * math.pi)
    pieces: list[Sector] = []
    for arc in arcs:
        for turn in (-2 * math.pi, 0.0, 2 * math.pi):
            lower, upper = max(arc.start + turn, low), min(arc.end + turn, high)
            if upper - lower > _TOUCH:
                pieces.append(Sector(lower, upper, tuple(arc.words)))
    pieces.sort()
    joined: list[Sector] = []
    for piece in pieces:
        if joined and piece.lower <= joined[-1].upper + 2 * _GRID:  # rounding would let them overlap
            last = joined.pop()
            piece = Sector(last.lower, max(last.upper, piece.upper), tuple(dict.fromkeys((*last.names, *piece.names))))
        joined.append(piece)
    return tuple(Sector(_down(s.lower - (step if s.lower < low + _TOUCH else 0.0)),
                        _up(s.upper + (step if s.upper > high - _TOUCH else 0.0)), s.names) for s in joined)


def _down(angle: float) -> float:
    return round(math.floor(angle / _GRID + 1e-6) * _GRID, 9)


def _up(angle: float) -> float:
    return round(math.ceil(angle / _GRID - 1e-6) * _GRID, 9)


def _convention(angles: str) -> str:
    return "-pi to pi" if angles == "symmetric" else "0 to 2 pi"
