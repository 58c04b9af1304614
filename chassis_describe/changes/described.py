"""What a URDF says of a robot's tree, read without our own model of it: links with masses, joints, and every frame's place.

Format: wiki.ros.org/urdf/XML (link, joint); defaults as urdfdom has them: no origin is the identity, no axis is x.
"""
from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, NamedTuple

from chassis_describe.errors import UsageError
from chassis_describe.space.mass import Inertial
from chassis_describe.space.pose import IDENTITY, Pose, Vec3, from_rpy
from chassis_describe.units import shown
from chassis_describe.values import dataclass

#: In the order of `Inertial`.
_TENSOR = ("ixx", "iyy", "izz", "ixy", "ixz", "iyz")


class DescribedJoint(NamedTuple):
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
class Described:
    """``joints`` by the link that each carries. ``twice``: links defined twice, or carried by two joints."""

    links: Mapping[str, Inertial | None]
    joints: Mapping[str, DescribedJoint]
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


def described(text: str | bytes, file: str) -> Described:
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
    reader = _Reader(file)
    links: dict[str, Inertial | None] = {}
    joints: dict[str, DescribedJoint] = {}
    twice: list[str] = []
    for node in root.findall("link"):
        name = reader.text(node, "name")
        twice += [name] if name in links else []
        links.setdefault(name, reader.massed(node))
    for node in root.findall("joint"):
        joint = reader.joint(node)
        twice += [joint.child] if joint.child in joints else []
        joints.setdefault(joint.child, joint)
        for end in (joint.parent, joint.child):
            if end not in links:
                raise UsageError(f"{file}:{node.sourceline}: joint {shown(joint.name)} names a link {shown(end)} that is not there")
    return Described(links=links, joints=joints, twice=tuple(dict.fromkeys(twice)))


class _Reader:
    def __init__(self, file: str) -> None:
        self.file = file

    def text(self, node: Any, key: str) -> str:
        value: str | None = node.get(key)
        if not value:
            raise UsageError(f"{self.file}:{node.sourceline}: <{node.tag}> lacks its `{key}`")
        return value

    def numbers(self, node: Any, key: str, count: int, default: tuple[float, ...] | None) -> tuple[float, ...]:
        value = node.get(key) if node is not None else None
        if value is None and default is not None:
            return default
        try:
            found = tuple(float(word) for word in (value or "").split())
        except ValueError:
            found = ()
        if len(found) != count or not all(map(math.isfinite, found)):
            raise UsageError(f"{self.file}:{node.sourceline}: `{key}` of <{node.tag}> is {shown(repr(value))}, where {count} "
                             f"number{'s are' if count > 1 else ' is'} due")
        return found

    def pose(self, node: Any) -> Pose:
        origin = node.find("origin")
        x, y, z = self.numbers(origin, "xyz", 3, (0.0, 0.0, 0.0))
        return Pose(from_rpy(*self.numbers(origin, "rpy", 3, (0.0, 0.0, 0.0))), (x, y, z))

    def massed(self, link: Any) -> Inertial | None:
        node = link.find("inertial")
        if node is None:
            return None
        mass, inertia = node.find("mass"), node.find("inertia")
        if mass is None or inertia is None:
            raise UsageError(f"{self.file}:{node.sourceline}: <inertial> lacks its <{'mass' if mass is None else 'inertia'}>")
        pose = self.pose(node)
        tensor = tuple(self.numbers(inertia, key, 1, None)[0] for key in _TENSOR)
        return Inertial(self.numbers(mass, "value", 1, None)[0], (0.0, 0.0, 0.0), tensor).moved(pose)  # type: ignore[arg-type]

    def joint(self, node: Any) -> DescribedJoint:
        parent, child = node.find("parent"), node.find("child")
        if parent is None or child is None:
            raise UsageError(f"{self.file}:{node.sourceline}: a joint needs <parent> and <child>")
        limit, mimic = node.find("limit"), node.find("mimic")
        x, y, z = self.numbers(node.find("axis"), "xyz", 3, (1.0, 0.0, 0.0))
        return DescribedJoint(
            self.text(node, "name"), self.text(node, "type"), self.text(parent, "link"), self.text(child, "link"), self.pose(node),
            (x, y, z),
            {key: self.numbers(limit, key, 1, None)[0] for key in ("lower", "upper", "effort", "velocity")
             if limit is not None and limit.get(key) is not None},
            None if mimic is None else (self.text(mimic, "joint"), self.numbers(mimic, "multiplier", 1, (1.0,))[0],
                                        self.numbers(mimic, "offset", 1, (0.0,))[0]))
