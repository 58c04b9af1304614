"""config/cloud_filter.yaml: the robot's own points out of its clouds, by boxes that pcl_ros cuts out.

Each box is one node, pcl_ros::CropBox (perception_pcl ros2:pcl_ros/src/pcl_ros/filters/crop_box.cpp and filter.cpp, the
same in all four distros): with ``negative`` the points inside min … max in ``input_frame`` are removed; an empty
``output_frame`` leaves the cloud in its own frame. Several boxes of one cloud stand in a row.
"""
from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from typing import NamedTuple

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.own_cloud import NOISE, OwnBox, OwnCloud, own_clouds
from chassis_describe.facts.sensor_topics import filtered, source_name
from chassis_describe.targets.names import Given, Parameters
from chassis_describe.targets.stack.headers import header
from chassis_describe.targets.stack.ros_yaml import document
from chassis_describe.targets.stack.topics import node_block, robot_block, sensor_topics
from chassis_describe.targets.target import Target
from chassis_describe.words import listing, significant

PATH = "config/cloud_filter.yaml"
PACKAGE, EXECUTABLE = "pcl_ros", "filter_crop_box_node"


class Crop(NamedTuple):
    """One node: its name, the topics that it reads and writes, and what it takes out."""

    sensor: str
    node: str
    input: str
    output: str
    box: OwnBox


def crops(assembly: Assembly) -> tuple[Crop, ...]:
    """Every node, in the order in which the points pass them."""
    topics = sensor_topics(assembly)
    out: list[Crop] = []
    for frame, cloud in own_clouds(assembly).items():
        name = source_name(assembly, cloud.facet)
        here = topics[frame]
        for number, box in enumerate(cloud.boxes, 1):
            last = number == len(cloud.boxes)
            there = filtered(topics[frame]) if last else f"{topics[frame]}_without_{number}"
            out.append(Crop(name, f"{name}_own_body" + (f"_{number}" if len(cloud.boxes) > 1 else ""), here, there, box))
            here = there
    return tuple(out)


def nodes(assembly: Assembly) -> list[tuple[str, ...]]:
    """Each node as filters.launch.py starts it."""
    return [(c.sensor, PACKAGE, EXECUTABLE, c.node, PATH, "input", c.input, "output", c.output) for c in crops(assembly)]


def artifacts(assembly: Assembly) -> Iterable[Artifact]:
    """The file, or nothing where no cloud holds the robot."""
    found = crops(assembly)
    if not found:
        return
    doc = header(assembly, PATH, "pcl_ros", [
        "Takes the points on the robot's own body out of each cloud that has some. launch/filters.launch.py starts the",
        "nodes; consumers take the last topic. Boxes are in the root frame, padded by the play of the mounting and",
        f"{NOISE * 1e3:.0f} mm for the sensor's noise. Nothing inside a box is seen by this sensor, obstacles neither."])
    clouds = {source_name(assembly, c.facet): c for c in own_clouds(assembly).values()}
    for crop in found:
        cloud = clouds[crop.sensor]
        robot_block(doc, assembly).note(
            "", f"{crop.sensor}: {', '.join(crop.box.owners)}; {share_words(cloud)}; "
                f"padded by up to {cloud.padded_by * 1e3:.1f} mm of play",
            f"remap: input:={crop.input} output:={crop.output}")
        node = node_block(doc, assembly, crop.node)
        node.put("input_frame", assembly.root)
        for side, corner in (("min", crop.box.low), ("max", crop.box.high)):
            for axis, value in zip("xyz", corner):
                node.put(f"{side}_{axis}", float(value))
        node.put("negative", True, "the inside goes, the rest stays")
    yield Artifact(path=PATH, data=document(doc).encode("ascii"))


def share_words(cloud: OwnCloud) -> str:
    """``31 % of all its points are the robot, and more when neck_pan_joint moves``."""
    words = f"{significant(cloud.share * 100, 2)} % of all its points are the robot"
    if not cloud.moving:
        return words
    return f"{words}, and more where {', '.join(cloud.moved_by)} take{'s' if len(cloud.moved_by) == 1 else ''} it"


def _gives(assembly: Assembly) -> Given:
    return Given(topics=frozenset(crop.output for crop in crops(assembly)))


def _depends(assembly: Assembly) -> Iterator[str]:
    yield PACKAGE


_PAGE = """\
## Own body in the clouds

These sensors see the robot itself. Nav2's collision monitor would count those points and stop; boxes of pcl_ros take
them out, and costmaps and monitor take the filtered topic:

| cloud | share | who | filtered topic |
|---|---|---|---|
"""


def _page(assembly: Assembly, paths: Collection[str]) -> Iterator[str]:
    clouds = own_clouds(assembly)
    still = [f"`{name}`" for name in _with_ranges(assembly) if any(name not in cloud.moved_by for cloud in clouds.values())]
    if PATH in paths:
        topics = sensor_topics(assembly)
        rows = [_PAGE]
        for frame, cloud in clouds.items():
            if cloud.boxes:
                who = ", ".join((*(name for name, _ in cloud.shares), *(f"{name} (moved)" for name in cloud.moving)))
                rows.append(f"| {source_name(assembly, cloud.facet)} | {significant(cloud.share * 100, 2)} % | {who} | "
                            f"`{filtered(topics[frame])}` |\n")
        yield "".join(rows)
        moved = {joint: None for cloud in clouds.values() if cloud.boxes for joint in cloud.moved_by}
        if moved:
            yield ("(moved): in some position of " + ", ".join(f"`{joint}`" for joint in moved) + ".\n"
                   "The boxes hold over their whole range.\n")
    elif still:
        yield "## Own body in the clouds\n\nAs the layout has the robot, no cloud holds points of it.\n"
    if still:
        yield (f"What {listing(still, most=12)} move{'s' if len(still) == 1 else ''} counts where the layout has it: if it comes "
               "into a sensor's view by moving,\nits points are not taken out, and the collision monitor stops the robot for them. "
               "Keep such moves out of the view,\nor drive with the moving parts stowed as the layout has them.\n")
    if PATH in paths:
        yield "Inside a box the sensor is blind for obstacles too; the numbers are in `config/cloud_filter.yaml`.\n"


def _with_ranges(assembly: Assembly) -> Iterator[str]:
    """Joints that move within limits, but those that steer: what they carry are wheels."""
    steering = {s.moving.joint for s in assembly.drive.steered} if assembly.drive is not None else set()
    for joint in assembly.joints:
        if joint.type in ("revolute", "prismatic") and joint.name not in steering:
            yield joint.name


TARGET = Target(artifacts=artifacts, gives=_gives, depends=_depends, page=_page,
                names=Parameters(frames=("input_frame",)),
                takers={PATH: "box filters between each cloud that holds the robot and the rest"})
