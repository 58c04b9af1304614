"""Closure: every frame, link, joint and topic that a file of the package names exists, and odometry has one publisher.

A navigation stack that is told of a frame which nobody publishes drops its data without a word; so the names are
checked before anything is written. Files are read back from their bytes, whoever made them.
"""
from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Literal, NamedTuple

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly
from chassis_describe.targets.stack.kinds_of_sensor import is_scanner
from chassis_describe.targets.stack.topics import (
    COMMAND_TOPIC,
    CONSUMER_TOPICS,
    FUSED_ODOMETRY_TOPIC,
    MAP_FRAME,
    ODOMETRY_TOPIC,
    filtered,
    odom_frame,
    sensor_topics,
)

Kind = Literal["frame", "link", "joint", "topic"]
Tree = Any  # what YAML holds: mappings, lists, scalars

#: Parameters that name frames, of any consumer that we write for.
FRAME_KEYS = frozenset({
    "global_frame", "robot_base_frame", "local_frame", "base_frame_id", "odom_frame_id", "global_frame_id",
    "base_frame", "odom_frame", "map_frame", "world_frame", "base_link_frame", "fixed_frame", "route_frame",
    "sensor_frame", "box_frame", "frame_id", "Fixed Frame", "Target Frame", "Reference Frame"})
_FIXED_WORDS = frozenset({"<Fixed Frame>", ""})  # RViz's own words in place of a frame
JOINT_KEYS = frozenset({"left_wheel_names", "right_wheel_names", "extra_joints", "joints"})
JOINT_ENDINGS = ("_command_joint_name", "_state_joint_name")
TOPIC_KEYS = frozenset({"topic", "topics", "odom_topic", "scan_topic", "cmd_vel_in_topic", "cmd_vel_out_topic",
                        "footprint_topic", "odom0", "imu0", "imu1", "imu2"})
#: Elements of a URDF whose text is a frame: sensor headers in Gazebo (sdformat, sensor.sdf and camera.sdf).
_FRAME_ELEMENTS = frozenset({"gz_frame_id", "ignition_frame_id", "frame_id", "optical_frame_id"})


_FRAME_IN_PAGE = re.compile(r"`([a-z0-9_]+_(?:link|frame|footprint|joint))`")


class Use(NamedTuple):
    """One name in one file: where it stands, what it should be, and the name."""

    path: str
    key: str
    kind: Kind
    name: str


def closure_faults(assembly: Assembly, artifacts: Iterable[Artifact]) -> list[str]:
    """What doesn't resolve: file, key, value and the nearest name that exists. Empty when all is well."""
    files = list(artifacts)
    known = known_names(assembly)
    faults = [_says(use, known[use.kind]) for file in files for use in uses(file, assembly)
              if _plain(use) not in known[use.kind]]
    for file in files:
        faults.extend(_lists(file))
    return [*faults, *_publishers(assembly, files)]


def known_names(assembly: Assembly) -> Mapping[str, frozenset[str]]:
    """By kind, every name that something of this robot or its stack carries."""
    frames = frozenset(assembly.poses) | {MAP_FRAME, odom_frame(assembly)}
    own = [t.lstrip("/") for t in sensor_topics(assembly).values()]
    scans = [sensor_topics(assembly)[f.frame].lstrip("/") for f in assembly.sensors if is_scanner(f)]
    topics = {*own, *(filtered(t) for t in scans), COMMAND_TOPIC, ODOMETRY_TOPIC, FUSED_ODOMETRY_TOPIC,
              *CONSUMER_TOPICS}
    return {"frame": frames, "link": frozenset(link.name for link in assembly.links),
            "joint": frozenset(joint.name for joint in assembly.joints), "topic": frozenset(topics)}


def uses(file: Artifact, assembly: Assembly) -> Iterator[Use]:
    """Every name that a file uses, by the form of the file."""
    if file.path.endswith((".yaml", ".rviz")) and not file.path.startswith("layout/"):
        yield from _yaml_uses(file.path, "", "", _yaml(file))
    elif file.path.endswith((".urdf", ".xacro")):
        yield from _xml_uses(file, assembly.prefix)
    elif file.path.startswith("launch/") and file.path.endswith(".py"):
        yield from _launch_uses(file)
    elif file.path.startswith("docs/") and file.path.endswith(".md"):
        yield from _page_uses(file)


def _plain(use: Use) -> str:
    return use.name.lstrip("/") if use.kind == "topic" else use.name


def _says(use: Use, known: frozenset[str]) -> str:
    nearest = difflib.get_close_matches(_plain(use), sorted(known), n=1, cutoff=0.0)
    hint = f" (nearest: {nearest[0]})" if nearest else ""
    return f"{use.path}: {use.key}: there is no {use.kind} {use.name!r}{hint}"


def _yaml(file: Artifact) -> Tree:
    import yaml

    loaded: Tree = yaml.load(file.data, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    return loaded


def _yaml_uses(path: str, where: str, key: str, value: Tree) -> Iterator[Use]:
    if isinstance(value, Mapping):
        # RViz names topics by {Topic: {Value: /name}}.
        if key.endswith("Topic") and isinstance(value.get("Value"), str) and value["Value"]:
            yield Use(path, f"{where} > Value", "topic", str(value["Value"]))
        for name, inner in value.items():
            yield from _yaml_uses(path, f"{where} > {name}" if where else str(name), str(name), inner)
    elif isinstance(value, list):
        for item in value:
            yield from _yaml_uses(path, where, key, item)
    elif isinstance(value, str):
        if key in FRAME_KEYS and value not in _FIXED_WORDS:
            yield Use(path, where, "frame", value)
        elif key in JOINT_KEYS or key.endswith(JOINT_ENDINGS):
            yield Use(path, where, "joint", value)
        elif key in TOPIC_KEYS:
            yield Use(path, where, "topic", value)


def _xml_uses(file: Artifact, prefix: str) -> Iterator[Use]:
    """Names that a URDF or macro refers to; a macro's ``${prefix}`` is read as the robot's own prefix."""
    from lxml import etree

    for node in etree.fromstring(file.data).iter(etree.Element):
        tag = etree.QName(node).localname
        above = node.getparent()
        inside = etree.QName(above).localname if above is not None else ""
        name: str | None = None
        kind: Kind = "link"
        if tag in ("parent", "child") and inside == "joint":
            name = node.get("link")
        elif tag == "joint" and inside == "ros2_control":
            name, kind = node.get("name"), "joint"
        elif tag == "mimic":
            name, kind = node.get("joint"), "joint"
        elif tag == "gazebo" and node.get("reference"):
            name = node.get("reference")
            if (name or "").endswith("_joint"):
                kind = "joint"
        elif tag in _FRAME_ELEMENTS:
            name, kind = node.text, "frame"
        if name and name != "${parent}":
            yield Use(file.path, f"{inside} > {tag}" if inside else tag, kind, name.replace("${prefix}", prefix))


def _launch_uses(file: Artifact) -> Iterator[Use]:
    """The parents and children in a launch file's list ``FRAMES``."""
    import ast

    for node in ast.parse(file.data).body:
        if isinstance(node, ast.Assign) and any(isinstance(t, ast.Name) and t.id == "FRAMES" for t in node.targets):
            for parent, child, *_ in ast.literal_eval(node.value):
                yield Use(file.path, "FRAMES", "frame", parent)
                yield Use(file.path, "FRAMES", "frame", child)


def _page_uses(file: Artifact) -> Iterator[Use]:
    """Words set in code type on a page that have the form of a frame or joint of ours."""
    for number, line in enumerate(file.data.decode("utf-8", "replace").splitlines(), start=1):
        for name in _FRAME_IN_PAGE.findall(line):
            yield Use(file.path, f"line {number}", "joint" if name.endswith("_joint") else "frame", name)


def _lists(file: Artifact) -> Iterator[str]:
    """Lists of names whose blocks stand beside them: plugins, observation sources, polygons."""
    if not (file.path.startswith("config/") and file.path.endswith(".yaml")):
        return
    stack: list[tuple[str, Tree]] = [("", _yaml(file))]
    while stack:
        where, value = stack.pop()
        if not isinstance(value, Mapping):
            continue
        for key in ("plugins", "observation_sources", "polygons"):
            listed = value.get(key)
            names = listed.split() if isinstance(listed, str) else listed if isinstance(listed, list) else []
            for name in names:
                if not isinstance(value.get(str(name)), Mapping):
                    yield f"{file.path}: {where} > {key}: {name!r} has no block of its own"
        stack.extend((f"{where} > {k}" if where else str(k), inner) for k, inner in value.items())


def _publishers(assembly: Assembly, files: Iterable[Artifact]) -> Iterator[str]:
    """More than one node that publishes the transform from the odometry frame to the root."""
    found: list[str] = []
    for file in files:
        if not (file.path.startswith("config/") and file.path.endswith(".yaml")):
            continue
        tree = _yaml(file)
        for node, inner in (tree.items() if isinstance(tree, Mapping) else ()):
            parameters = inner.get("ros__parameters") if isinstance(inner, Mapping) else None
            if not isinstance(parameters, Mapping):
                continue
            if parameters.get("enable_odom_tf") is True or (
                    parameters.get("publish_tf") is True and "base_link_frame" in parameters):
                found.append(f"{node} ({file.path})")
    if len(found) > 1:
        yield (f"{odom_frame(assembly)} to {assembly.root} would be published by {len(found)} nodes: "
               f"{' and '.join(found)}")
