"""What others describe, in place: links and joints of a placement whose part has a description of its own.

The tree hangs on the placement's link, by a fixed joint of ours or by the description's own. Masses and inertias are
taken as they stand.
"""
from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from chassis_describe.assembly.model import Body, Joint, Link, Mimic, PlacedPart
from chassis_describe.layout.names import joint_of

if TYPE_CHECKING:
    from chassis_describe.layout.described.model import Description


def described_links(placed: PlacedPart) -> Iterator[Link]:
    """Every link of the description, parents first."""
    description = placed.part.description
    for name, link in description.links.items() if description is not None else ():
        bodies = tuple(Body(placed.name, "part", solid, pose, 0.0, None, placed.mark) for solid, pose in link.bodies)
        yield Link(name=placed.described[name], owner=placed.name, bodies=bodies, inertial=link.inertial, mark=placed.mark,
                   described=name)


def described_joints(placed: PlacedPart, prefix: str) -> Iterator[Joint]:
    """Every joint of the description, parents first; the one that attaches it comes first of all."""
    description = placed.part.description
    if description is None:
        return
    values = placed.settings
    if description.attached is not None:
        child = placed.described[description.root]
        yield Joint(name=_attaching(description, child, prefix, placed.name), type="fixed", parent=placed.link, child=child,
                    pose=description.attached)
    for name, joint in description.joints.items():
        mimic = joint.mimic
        yield Joint(name=description.joint_name(name, prefix, placed.name), type=joint.type,
                    parent=placed.described[joint.parent] if joint.parent else placed.link,
                    child=placed.described[joint.child], pose=joint.pose, axis=joint.axis, effort=joint.effort,
                    velocity=joint.velocity, lower=joint.lower, upper=joint.upper, value=values.get(name, 0.0),
                    mimic=Mimic(description.joint_name(mimic[0], prefix, placed.name), mimic[1], mimic[2]) if mimic else None,
                    described=(placed.name, name))


def _attaching(description: Description, child: str, prefix: str, placement: str) -> str:
    """A name for our fixed joint that none of the description's has."""
    taken = {description.joint_name(n, prefix, placement) for n in description.joints}
    name = joint_of(child)
    while name in taken:
        name = f"{name.removesuffix('_joint')}_fixed_joint"
    return name
