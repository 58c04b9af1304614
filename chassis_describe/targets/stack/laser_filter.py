"""config/laser_filter.yaml: the beams that end on the robot itself, for laser_filters' filter chain.

LaserScanAngularBoundsFilterInPlace blanks the beams **strictly between** two angles and knows no wrap-around
(laser_filters ros2:include/laser_filters/angular_bounds_filter_in_place.h). So every sector is written in the angles
that the driver counts in, in one piece unless it lies across the driver's own seam.
"""
from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.facts.kinds_of_sensor import is_scanner
from chassis_describe.facts.sectors import blocked_sectors
from chassis_describe.facts.self_hits import self_hits_of
from chassis_describe.facts.sensor_topics import filtered, source_name
from chassis_describe.facts.sweep import carriers_of
from chassis_describe.targets.names import Given, Parameters
from chassis_describe.targets.stack.headers import header
from chassis_describe.targets.stack.ros_yaml import document
from chassis_describe.targets.stack.topics import in_namespace, node_block, robot_block, sensor_topics
from chassis_describe.targets.target import Target

PATH = "config/laser_filter.yaml"
FILTER = "laser_filters/LaserScanAngularBoundsFilterInPlace"
NODE = "scan_to_scan_filter_chain"  # laser_filters ros2:src/scan_to_scan_filter_chain.cpp, main


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
        robot_block(doc, assembly).note(
            "", f"{facet.placement}, frame {facet.message_frame}; angles as its driver counts them, "
                f"{_convention(facet.sensor.angles)}",
            _padding(assembly, facet), *_moved(assembly, facet),
            f"remap: scan:={topic} scan_filtered:={filtered(topic)}; node name {node_name(assembly, facet)}")
        node = node_block(doc, assembly, node_name(assembly, facet))
        for number, sector in enumerate(blocked[facet.frame], 1):
            node.note(f"{', '.join(sector.names) or 'the robot'}: {math.degrees(sector.lower):.2f} to "
                      f"{math.degrees(sector.upper):.2f} degrees")
            entry = node.block(f"filter{number}")
            entry.put("name", f"own_body_{number}")
            entry.put("type", FILTER)
            entry.block("params").put("lower_angle", sector.lower).put("upper_angle", sector.upper)
    yield Artifact(path=PATH, data=document(doc).encode("ascii"))


def nodes(assembly: Assembly) -> list[tuple[str, ...]]:
    """Each node as filters.launch.py starts it."""
    topics, blocked = sensor_topics(assembly), blocked_sectors(assembly)
    return [(source_name(assembly, f), "laser_filters", NODE, node_name(assembly, f), PATH, "scan", topics[f.frame],
             "scan_filtered", filtered(topics[f.frame])) for f in assembly.sensors if blocked.get(f.frame)]


def node_name(assembly: Assembly, facet: SensorFacet) -> str:
    """The filter node's name: the program's own where there is one lidar, else one for each."""
    scanners = [other for other in assembly.sensors if is_scanner(other)]
    if len(scanners) == 1:
        return NODE
    several = sum(other.placement == facet.placement for other in scanners) > 1
    return f"{facet.placement}_{facet.sensor.name}_filter" if several else f"{facet.placement}_filter"


def _padding(assembly: Assembly, facet: SensorFacet) -> str:
    """By how much the sectors are wider than what the robot fills when all is where the layout says."""
    play = self_hits_of(assembly)[facet.frame].play
    if play is None:
        return "padded by half a beam; how it is held gives no figure of play, so compare with a real scan"
    if not (play.shift or play.twist):
        return "padded by half a beam; its mounting has no play"
    return (f"padded by half a beam, and by the play of its mounting: {math.degrees(play.twist):.2f} degrees, and "
            f"{play.shift * 1e3:.2f} mm seen at the distance of what stands there")


def _moved(assembly: Assembly, facet: SensorFacet) -> Iterator[str]:
    joints = carriers_of(assembly, facet.frame)
    if joints:
        yield (f"WARNING: {', '.join(joint.name for joint in joints)} "
               f"{'carries' if len(joints) == 1 else 'carry'} it; these angles are right only where the layout has it, "
               "elsewhere it may see the robot")


def _convention(angles: str) -> str:
    return "-pi to pi" if angles == "symmetric" else "0 to 2 pi"


_PAGE = """\
## laser_filters

Blanks the beams that end on the robot itself; consumers take the filtered topic.
"""


def _gives(assembly: Assembly) -> Given:
    topics, blocked = sensor_topics(assembly), blocked_sectors(assembly)
    return Given(topics=frozenset(filtered(topics[frame]) for frame, found in blocked.items() if found))


def _depends(assembly: Assembly) -> Iterator[str]:
    yield "laser_filters"


def _page(assembly: Assembly, paths: Collection[str]) -> Iterator[str]:
    if PATH in paths:
        yield _PAGE + "\n" + "\n".join(_commands(assembly))


def _commands(assembly: Assembly) -> Iterator[str]:
    topics, blocked = sensor_topics(assembly), blocked_sectors(assembly)
    for facet in assembly.sensors:
        if blocked.get(facet.frame):
            topic = topics[facet.frame]
            yield (f"    ros2 run laser_filters scan_to_scan_filter_chain --ros-args{in_namespace(assembly)} \\\n"
                   f"      -r __node:={node_name(assembly, facet)} \\\n"
                   f"      -r scan:={topic} -r scan_filtered:={filtered(topic)} \\\n"
                   "      --params-file SHARE/config/laser_filter.yaml\n")


TARGET = Target(artifacts=artifacts, names=Parameters(), gives=_gives, depends=_depends, page=_page,
                takers={PATH: "a filter node between each lidar with blind angles and the rest"})
