"""config/scan_from_depth.yaml: a flat scan out of rows of a depth image, where the layout says ``scan_by: depth_image``.

depthimage_to_laserscan (ros-perception/depthimage_to_laserscan ros2 79b60bf, release 2.5.1, which serves all four distros):
src/DepthImageToLaserScanROS.cpp has the parameters and topics, include/depthimage_to_laserscan/DepthImageToLaserScan.hpp the
arithmetic. It takes ``scan_height`` rows about the principal point, reads each pixel as if its row were level, and keeps the
nearest of each column. ``output_frame`` is the body frame of the camera (x ahead), not the optical one. Its subscriptions have
the system's default reliability: Fast DDS makes best effort of that, Cyclone DDS reliable.
"""
from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.facts.depth_rows import DepthRows, depth_rows_of
from chassis_describe.facts.depth_words import unfit_words
from chassis_describe.facts.sensor_topics import camera_topics, made_scan_topic, source_name
from chassis_describe.facts.slam_lidar import depth_for_scan
from chassis_describe.targets.names import Given, Parameters
from chassis_describe.targets.stack.distros import text
from chassis_describe.targets.stack.headers import header
from chassis_describe.targets.stack.ros_yaml import document
from chassis_describe.targets.stack.topics import node_block, robot_block
from chassis_describe.targets.target import Target

PATH = "config/scan_from_depth.yaml"
PACKAGE, EXECUTABLE, NODE = "depthimage_to_laserscan", "depthimage_to_laserscan_node", "depthimage_to_laserscan"


def nodes(assembly: Assembly) -> list[tuple[str, ...]]:
    """The node as filters.launch.py starts it."""
    facet = depth_for_scan(assembly)
    if facet is None:
        return []
    own = camera_topics(assembly)[facet.frame]
    return [(source_name(assembly, facet), PACKAGE, EXECUTABLE, NODE, PATH, "depth", own.depth, "scan", made_scan_topic(assembly),
             "depth_camera_info", own.info)]


def artifacts(assembly: Assembly) -> Iterable[Artifact]:
    """The file, or nothing where nobody asks for it."""
    facet = depth_for_scan(assembly)
    if facet is None:
        return
    rows, own = depth_rows_of(assembly).get(facet.frame), camera_topics(assembly)[facet.frame]
    doc = header(assembly, PATH, f"{PACKAGE} {text('depth_scan_release', assembly.layout.ros.distro)}", [
        "Makes a flat scan of a few rows in the middle of a depth image. launch/filters.launch.py starts it. Nothing takes the",
        "robot itself out of an image."])
    robot_block(doc, assembly).note(
        "", f"{source_name(assembly, facet)}: remap depth:={own.depth} depth_camera_info:={own.info} "
        f"scan:={made_scan_topic(assembly)}", *_warnings(rows))
    node = node_block(doc, assembly, NODE)
    node.put("output_frame", facet.frame, "x ahead, z up: not the optical frame of the image")
    if rows is not None:
        node.note(_row_words(facet, rows))
    node.put("scan_height", rows.height if rows is not None else 1)
    if facet.sensor.range is not None:
        node.put("range_min", float(facet.sensor.range[0])).put("range_max", float(facet.sensor.range[1]))
    if facet.sensor.rate:
        node.put("scan_time", 1.0 / facet.sensor.rate)
    yield Artifact(path=PATH, data=document(doc).encode("ascii"))


def _row_words(facet: SensorFacet, rows: DepthRows) -> str:
    if facet.sensor.resolution is None:
        return "One row: how many pixels the image has is not known (`resolution` of the sensor)."
    width, height = facet.sensor.resolution
    return (f"Rows of an image of {width:g} by {height:g} pixels that stay within the heights of obstacles as far as it sees: "
            f"{rows.low * 1e3:.0f} to {rows.high * 1e3:.0f} mm there.")


def _warnings(rows: DepthRows | None) -> Iterator[str]:
    """Lines of the file on what makes the scan wrong, or may."""
    if rows is None:
        yield "Whether its rows are right was not looked into: the view of the camera, or the ground, isn't known."
        return
    if not rows.fits:
        yield f"WRONG as the camera is mounted: {unfit_words(rows)}. A scan from the cloud is right (`scan_by: cloud`)."
    elif rows.floor is not None:
        yield (f"Tipped by the play of its mounting, {math.degrees(rows.tip):.1f} degrees, the lowest row meets the floor from "
               f"{rows.floor:.1f} m on: level the camera")
        yield "with care, or lower range_max where walls appear that are none."


def _gives(assembly: Assembly) -> Given:
    facet = depth_for_scan(assembly)
    if facet is None:
        return Given()
    own = camera_topics(assembly)[facet.frame]
    return Given(topics=frozenset({made_scan_topic(assembly), own.depth, own.info}))


def _depends(assembly: Assembly) -> Iterator[str]:
    yield PACKAGE


_PAGE = """\
## A scan from a depth image

`{package}` makes the scan `{scan}` of {count} of {camera}'s depth image (`{path}`);
`launch/filters.launch.py` starts it. It listens to the depth image `{depth}` (rectified, in mm or m) and `{info}`;
a driver that calls them otherwise is remapped. Fast DDS hears the camera either way; with Cyclone DDS the node asks for
reliable images, and hears nothing of a camera that sends best effort.
"""
_LEVEL = """\
The rows are right as long as the camera is level ({lean:.1f} deg off as mounted). {far:g} m away they see heights of
{low:.0f} to {high:.0f} mm, nearer by fewer; costmaps take the whole cloud.
"""


def _page(assembly: Assembly, paths: Collection[str]) -> Iterator[str]:
    facet = depth_for_scan(assembly)
    if facet is None or PATH not in paths:
        return
    own, rows = camera_topics(assembly)[facet.frame], depth_rows_of(assembly).get(facet.frame)
    count = rows.height if rows is not None else 1
    yield _PAGE.format(package=PACKAGE, scan=made_scan_topic(assembly), camera=source_name(assembly, facet), path=PATH,
                       count="one row" if count == 1 else f"{count} rows", depth=own.depth, info=own.info)
    if rows is not None and rows.fits:
        yield _LEVEL.format(lean=math.degrees(rows.lean), low=rows.low * 1e3, high=rows.high * 1e3, far=rows.far)
    told = "\n".join(_warnings(rows))
    if told:
        yield told + "\n"


TARGET = Target(artifacts=artifacts, gives=_gives, depends=_depends, page=_page, names=Parameters(frames=("output_frame",)),
                takers={PATH: "makes a flat scan of rows of a depth image"})
