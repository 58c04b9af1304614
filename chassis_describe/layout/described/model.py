"""What a description says, as values: links, joints, and whatever else stands in it. SI; names by ``names.real``."""
from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Literal, NamedTuple

from chassis_describe.layout.described import names
from chassis_describe.source import Mark
from chassis_describe.space.mass import Inertial
from chassis_describe.space.pose import IDENTITY, Pose, Vec3, about_axis, translation
from chassis_describe.space.solids import Solid
from chassis_describe.values import dataclass, field

if TYPE_CHECKING:
    from lxml import etree

JointType = Literal["fixed", "continuous", "revolute", "prismatic"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DescriptionSource:
    """``description`` of a part as written. ``file``: a path on disk, or a ``package://`` address."""

    file: str
    macro: str | None = None
    arguments: Mapping[str, str] = field(default_factory=dict)
    root: str | None = None
    mark: Mark
    marks: Mapping[str, Mark] = field(default_factory=dict)


class DescribedLink(NamedTuple):
    """``name`` with marks; ``bodies``: collision solids (where it has none, the visual ones) and their centre frames in it;
    ``element``: as expanded, with marks."""

    name: str
    inertial: Inertial | None
    bodies: tuple[tuple[Solid, Pose], ...]
    element: etree._Element


class DescribedJoint(NamedTuple):
    """``parent`` and ``child`` by plain names; ``parent`` "" is the placement's link. ``mimic``: leader (plain), times, plus."""

    name: str
    type: JointType
    parent: str
    child: str
    pose: Pose
    axis: Vec3
    lower: float | None
    upper: float | None
    effort: float | None
    velocity: float | None
    mimic: tuple[str, float, float] | None
    element: etree._Element

    def at(self, value: float) -> Pose:
        """The child frame in the parent frame."""
        if self.type == "fixed" or value == 0.0:
            return self.pose
        if self.type == "prismatic":
            x, y, z = self.axis
            return self.pose @ translation(value * x, value * y, value * z)
        return self.pose @ Pose(about_axis(self.axis, value))


@dataclass(frozen=True, slots=True, kw_only=True)
class Description:
    """One description, expanded. Mappings by plain names, parents before children.

    ``root``: the top link; ``attached`` the pose of its frame in part axes, where no joint of the description's own
    (with parent "") says so. ``materials``: those of the whole robot; ``others``: ros2_control, gazebo, transmission.
    ``meshes``: as written in the elements → a path on disk. ``packages``: those that it needs when the robot runs.
    """

    links: Mapping[str, DescribedLink]
    joints: Mapping[str, DescribedJoint]
    root: str
    attached: Pose | None
    materials: tuple[etree._Element, ...] = ()
    others: tuple[etree._Element, ...] = ()
    meshes: Mapping[str, str] = field(default_factory=dict)
    packages: tuple[str, ...] = ()
    inputs: tuple[tuple[str, bytes], ...] = ()  # path on disk or package:// address, and bytes of every file it opened
    source: DescriptionSource

    def values(self, written: Mapping[str, float]) -> dict[str, float]:
        """The value in force of every movable joint: as set, else 0 or the nearest allowed; followers behind their leaders."""
        out = {n: written[n] if n in written else min(max(0.0, j.lower if j.lower is not None else 0.0),
                                                     j.upper if j.upper is not None else 0.0)
               for n, j in self.joints.items() if j.type != "fixed"}
        for name, joint in self.joints.items():
            chain, times, plus = [name], 1.0, 0.0
            while joint.mimic is not None and joint.mimic[0] in out and joint.mimic[0] not in chain:
                plus += times * joint.mimic[2]
                times *= joint.mimic[1]
                chain.append(joint.mimic[0])
                joint = self.joints[joint.mimic[0]]
            if len(chain) > 1:
                out[name] = times * out[chain[-1]] + plus
        return out

    def poses(self, values: Mapping[str, float]) -> dict[str, Pose]:
        """Every link in part axes."""
        out = {} if self.attached is None else {self.root: self.attached}
        for name, joint in self.joints.items():
            parent = out[joint.parent] if joint.parent else IDENTITY
            out[joint.child] = parent @ joint.at(values.get(name, 0.0))
        return out

    def link_name(self, link: str, prefix: str, placement: str) -> str:
        """What a link is called on the robot."""
        return names.real(self.links[link].name, prefix, placement)

    def joint_name(self, joint: str, prefix: str, placement: str) -> str:
        """What a joint is called on the robot."""
        return names.real(self.joints[joint].name, prefix, placement)
