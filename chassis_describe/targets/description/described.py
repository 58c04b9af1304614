"""What others describe, as XML: the elements of their own expansion with the names that they have on this robot.

Nothing is written anew: visuals, collisions, inertias, limits and dynamics stand as xacro left them. Changed are names, the
addresses of meshes that are copied, and what refers to either.
"""
from __future__ import annotations

import copy
from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING, NamedTuple

from chassis_describe.assembly.model import Assembly, PlacedPart
from chassis_describe.layout.described import names
from chassis_describe.layout.described.describe import materials_used
from chassis_describe.layout.described.model import Description

if TYPE_CHECKING:
    from lxml import etree

#: Elements whose ``name`` is global in a robot.
_GLOBAL = frozenset(("link", "joint", "material", "ros2_control", "transmission", "actuator"))
#: Elements of ros2_control whose ``name`` is that of an interface or of a parameter, never of a link or joint.
_PLAIN = frozenset(("param", "command_interface", "state_interface", "plugin"))
Address = Callable[[str], str]


class Renaming(NamedTuple):
    """The names of one placement: with marks → on the robot. ``placed`` has a description."""

    prefix: str
    placement: str
    known: Mapping[str, str]

    def real(self, name: str) -> str:
        return names.real(name, self.prefix, self.placement)

    def text(self, text: str) -> str:
        """Any text: a name of a link or joint, or one in which the prefix stands."""
        return self.known.get(text.strip()) or names.filled(text, self.prefix, self.placement)


def described_placements(assembly: Assembly) -> Iterator[tuple[PlacedPart, Description, Renaming]]:
    """Placements whose part others describe."""
    for name, placed in assembly.parts.items():
        found = placed.part.description
        if found is not None:
            own = [*(link.name for link in found.links.values()), *(joint.name for joint in found.joints.values())]
            known = {one: names.real(one, assembly.prefix, name) for one in own}
            yield placed, found, Renaming(assembly.prefix, name, known)


def described_elements(assembly: Assembly, address: Address) -> dict[str, etree._Element]:
    """By its name on the robot, every link and joint that others describe; a link's under its name, a joint's under ``joint NAME``.

    ``address``: of a mesh on disk, what to write for it.
    """
    out: dict[str, etree._Element] = {}
    for _, found, renaming in described_placements(assembly):
        for link in found.links.values():
            out[renaming.real(link.name)] = _renamed(link.element, found, renaming, address)
        for joint in found.joints.values():
            out[f"joint {renaming.real(joint.name)}"] = _renamed(joint.element, found, renaming, address)
    return out


def described_materials(assembly: Assembly, address: Address) -> Iterator[etree._Element]:
    """Materials of the whole robot; those that a description takes for granted get a plain grey."""
    from lxml import etree

    for _, found, renaming in described_placements(assembly):
        for element in found.materials:
            yield _renamed(element, found, renaming, address)
        for name in materials_used(found):
            material = etree.Element("material", {"name": renaming.real(name)})
            etree.SubElement(material, "color", {"rgba": "0.6 0.6 0.6 1"})
            yield material


def described_others(assembly: Assembly, *, hardware: str | None = None) -> Iterator[etree._Element]:
    """ros2_control, gazebo and transmission elements. ``hardware``: a plugin in place of those that they name."""
    from lxml import etree

    for _, found, renaming in described_placements(assembly):
        for element in found.others:
            out = _renamed(element, found, renaming, str)
            if hardware is not None and out.tag == "ros2_control":
                for old in out.findall("hardware"):
                    for inside in list(old):
                        old.remove(inside)
                    etree.SubElement(old, "plugin").text = hardware
            yield out


def has_system(found: Description) -> bool:
    """Whether a description brings a ros2_control system of its own."""
    return any(e.tag == "ros2_control" for e in found.others)


def _renamed(element: etree._Element, found: Description, renaming: Renaming, address: Address) -> etree._Element:
    out = copy.deepcopy(element)
    inside_link = out.tag == "link"
    for node in out.iter():
        for key, value in [(str(k), str(v)) for k, v in node.attrib.items()]:
            if key == "name" and (node.tag in _GLOBAL or (node is out and node.tag != "gazebo")):
                node.set(key, renaming.real(value))
            elif key == "filename" and node.tag == "mesh":
                node.set(key, address(value) if value in found.meshes else value)
            elif key == "name" and (inside_link or node.tag in _PLAIN):
                node.set(key, names.filled(value, renaming.prefix, renaming.placement))
            elif (node.tag, key) in (("parent", "link"), ("child", "link"), ("mimic", "joint")):
                node.set(key, renaming.real(value))
            else:
                node.set(key, renaming.text(value))
        if node.text:
            node.text = renaming.text(node.text)
        node.tail = None
    return out
