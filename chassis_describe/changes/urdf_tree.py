"""What a URDF says of a robot's tree, read without our own model of it: links with masses, joints, and every frame's place.

Format: wiki.ros.org/urdf/XML (link, joint); defaults as urdfdom has them: no origin is the identity, no axis is x.
"""
from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

from chassis_describe.errors import UsageError
from chassis_describe.layout.described.elements import BadElement, axis, inertial, numbers, origin
from chassis_describe.space.mass import Inertial
from chassis_describe.space.pose import IDENTITY, Pose, Vec3
from chassis_describe.units import shown
from chassis_describe.values import dataclass

if TYPE_CHECKING:
    from lxml import etree


class UrdfJoint(NamedTuple):
    """As written; ``limits``: lower, upper (rad, m), effort and velocity, where given; ``mimic``: joint, multiplier, offset."""

    name: str
    type: str
    parent: str
    child: str
    pose: Pose
    axis: Vec3
    limits: Mapping[str, float]
    mimic: tuple[str, float, float] | None


@dataclass(frozen=True, kw_only=True)
class UrdfTree:
    """``joints`` by the link that each carries. ``twice``: links defined twice, or carried by two joints."""

    links: Mapping[str, Inertial | None]
    joints: Mapping[str, UrdfJoint]
    twice: tuple[str, ...]

    def place(self, frame: str, base: str) -> Pose | None:
        """The frame in ``base``, every joint at its zero; None where no way leads from one to the other."""
        to_root, root = self._up(frame)
        base_to_root, other = self._up(base)
        return base_to_root.inverse() @ to_root if root == other and root is not None else None

    def _up(self, frame: str) -> tuple[Pose, str | None]:
        pose, seen = IDENTITY, set()
        while frame in self.joints:
            if frame in seen:
                return IDENTITY, None
            seen.add(frame)
            joint = self.joints[frame]
            pose, frame = joint.pose @ pose, joint.parent
        return pose, frame if frame in self.links else None


def urdf_tree(text: str | bytes, file: str) -> UrdfTree:
    """Read a URDF. Raises UsageError, naming file and line, for what is none."""
    from lxml import etree

    data = text.encode("utf-8") if isinstance(text, str) else text
    try:
        root = etree.fromstring(data, etree.XMLParser(resolve_entities=False, no_network=True))
    except etree.XMLSyntaxError as error:
        raise UsageError(f"{file}:{error.lineno}: this is no XML: {error.msg}") from None
    if root.tag != "robot":
        raise UsageError(f"{file}:{root.sourceline}: a URDF begins with <robot>, and this is <{shown(str(root.tag))}>")
    if any("xacro" in uri for uri in root.nsmap.values()) and any(
            "xacro" in str(node.tag) for node in root.iter(etree.Element)):
        raise UsageError(f"{file}: this is a xacro; expand it first: xacro {file} > robot.urdf")
    try:
        return _tree(root)
    except BadElement as error:
        raise UsageError(f"{file}:{error.element.sourceline}: {error}") from None


def _tree(root: etree._Element) -> UrdfTree:
    links: dict[str, Inertial | None] = {}
    joints: dict[str, UrdfJoint] = {}
    twice: list[str] = []
    for node in root.findall("link"):
        name = _named(node, "name")
        twice += [name] if name in links else []
        links.setdefault(name, inertial(node))
    for node in root.findall("joint"):
        joint = _joint(node)
        twice += [joint.child] if joint.child in joints else []
        joints.setdefault(joint.child, joint)
        for end in (joint.parent, joint.child):
            if end not in links:
                raise BadElement(node, f"joint {shown(joint.name)} names a link {shown(end)} that is not there")
    return UrdfTree(links=links, joints=joints, twice=tuple(dict.fromkeys(twice)))


def _named(node: etree._Element, key: str) -> str:
    value = node.get(key)
    if not value:
        raise BadElement(node, f"<{node.tag}> lacks its `{key}`")
    return value


def _joint(node: etree._Element) -> UrdfJoint:
    parent, child = node.find("parent"), node.find("child")
    if parent is None or child is None:
        raise BadElement(node, "a joint needs <parent> and <child>")
    limit, mimic = node.find("limit"), node.find("mimic")
    return UrdfJoint(
        _named(node, "name"), _named(node, "type"), _named(parent, "link"), _named(child, "link"), origin(node), axis(node),
        {key: numbers(limit, key, 1, None)[0] for key in ("lower", "upper", "effort", "velocity")
         if limit is not None and limit.get(key) is not None},
        None if mimic is None else (_named(mimic, "joint"), numbers(mimic, "multiplier", 1, "1")[0],
                                    numbers(mimic, "offset", 1, "0")[0]))
