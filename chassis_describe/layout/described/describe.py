"""From what a part says of its description to the description itself: files found, expanded twice, read strictly."""
from __future__ import annotations

import glob
import os
import posixpath
import re
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

import numpy as np

from chassis_describe.layout.described.expand import (
    NAMESPACE,
    ExpansionError,
    call_of,
    expanded,
    is_xacro,
    macro_parameters,
)
from chassis_describe.layout.described.marked import WORDS, NotAlike, NotXml, marked_tree, parsed
from chassis_describe.layout.described.mesh_points import NoPoints, mesh_points
from chassis_describe.layout.described.model import DescribedJoint, DescribedLink, Description, DescriptionSource
from chassis_describe.layout.described.packages import MissingPackage, Packages, package_of
from chassis_describe.layout.described.urdf import NotAccepted, joints_of, links_of
from chassis_describe.space.hull import hull_solid
from chassis_describe.space.pose import Pose, Vec3
from chassis_describe.space.solids import Solid

if TYPE_CHECKING:
    from lxml import etree

Opener = Callable[[str], bytes]
_OTHERS = ("ros2_control", "gazebo", "transmission")


class NotDescribed(Exception):
    """A description that can't be taken: its message, and the key of ``description`` that it is about ("": the whole)."""

    def __init__(self, message: str, key: str = "file", hint: str = "") -> None:
        super().__init__(message)
        self.key, self.hint = key, hint


def describe(source: DescriptionSource, opener: Opener, packages: Packages) -> Description:
    """Expand and read. Raises NotDescribed."""
    reading = _Reading(source, opener, packages)
    try:
        return reading.description()
    except MissingPackage as error:
        raise NotDescribed(f"{reading.name}: {error}", hint="install it, or source its workspace, or say where it is: "
                           "`packages: {name: path}` at the top of the layout") from None
    except ExpansionError as error:
        own = "" if error.file == reading.path else f" (in {_said(error.file)})"
        raise NotDescribed(f"{reading.name}{own}: xacro says: {error}", hint="it expands by `xacro` alone as well, or does not; "
                           "mend it there, or give it what it needs with `arguments`") from None
    except (NotXml, NotAccepted) as error:
        raise NotDescribed(f"{reading.name}: {error}") from None
    except NotAlike as error:
        raise NotDescribed(f"{reading.name}: what it writes depends on its prefix otherwise than by carrying it, at {error}",
                           "arguments", "let names begin with the prefix, and nothing else follow from it") from None


class _Reading:
    """One description on its way."""

    def __init__(self, source: DescriptionSource, opener: Opener, packages: Packages) -> None:
        self.source, self.opener, self.packages = source, opener, packages
        self.name = _said(source.file)
        self.path = source.file
        self.read: dict[str, bytes] = {}
        self.meshes: dict[str, str] = {}
        self.needs: dict[str, None] = {}

    def description(self) -> Description:
        source = self.source
        self.path = self.packages.path(source.file)
        data = self._opened(self.path)
        root = self._tree(data)
        if root.tag != "robot":
            raise NotAccepted(f"its root is <{root.tag}>, not <robot>")
        self._addresses(root)
        links = links_of(root, self._mesh_solid)
        joints = joints_of(root, links)
        top, attached, order = _tree_of(links, joints, source.root)
        materials = tuple(e for e in root.iterfind("material"))
        others = []
        for element in root:
            if element.tag in _OTHERS:
                others.append(element)
            elif element.tag not in ("link", "joint", "material"):
                raise NotAccepted(f"<{element.tag}> under <robot> is not taken: it is not known which names it holds")
        inputs = {self.packages.address(path) or path: data for path, data in self.read.items()}
        return Description(
            links={n: links[n] for n in _by_tree(top, joints, order)}, joints={n: joints[n] for n in order}, root=top,
            attached=attached, materials=materials, others=tuple(others), meshes=self.meshes, packages=tuple(self.needs),
            inputs=tuple(sorted(inputs.items())), source=source)

    # ------------------------------------------------------------------------------------------------------- expansion
    def _opened(self, path: str) -> bytes:
        path = posixpath.normpath(path)
        if path not in self.read:
            try:
                self.read[path] = self.opener(path)
            except (OSError, ValueError) as error:
                raise NotDescribed(f"{_said(path)} {_reason(error)}", hint="a path counts from the file that names it") from None
        return self.read[path]

    def _tree(self, data: bytes) -> etree._Element:
        source = self.source
        if source.macro is None and not is_xacro(data):
            if source.arguments:
                raise NotDescribed(f"{self.name} is plain URDF and takes no arguments", "arguments", "leave `arguments` out")
            return parsed(data)
        if source.macro is not None and not is_xacro(data):
            raise NotDescribed(f"{self.name} is plain URDF and has no macros", "macro", "leave `macro` out")
        block = self._block(data) if source.macro is not None else None
        one, two = (self._expanded(stem, frame, block) for stem, frame in WORDS)
        return marked_tree((one, two))

    def _block(self, data: bytes) -> str | None:
        """How the macro wants its pose: ``*origin``, ``**origin`` or, None, not at all."""
        macro = self.source.macro or ""
        call = (f'<robot xmlns:xacro="{NAMESPACE}"><xacro:include filename="{_xml(glob.escape(self.path))}"/></robot>')
        _, read = expanded("", call, {}, self._bounded, self.packages)
        found = [p for one in (data, *read.values()) if (p := macro_parameters(one, macro)) is not None]
        if not found:
            raise NotDescribed(f"{self.name} defines no macro {macro}", "macro", "name one that it or what it includes defines")
        blocks = [p for p in found[-1] if p.startswith("*")]
        for block in blocks:
            if block.lstrip("*") != "origin":
                raise NotDescribed(f"the macro {macro} of {self.name} wants a block {block.lstrip('*')}, and only `origin` is "
                                   "given", "macro", "write a macro around it that gives the block")
        return blocks[0] if blocks else None

    def _expanded(self, stem: str, frame: str, block: str | None) -> str:
        source = self.source
        arguments = {name: text.replace("{prefix}", f"{stem}_").replace("{frame}", frame)
                     for name, text in source.arguments.items()}
        if source.macro is None:
            text, read = expanded(self.path, None, arguments, self._bounded, self.packages)
        else:
            call = call_of(glob.escape(self.path), source.macro, arguments, block)
            text, read = expanded("", call, {}, self._bounded, self.packages)
        self.read.update(read)
        return text

    def _bounded(self, path: str) -> bytes:
        return self.opener(posixpath.normpath(path))

    # ---------------------------------------------------------------------------------------------------------- meshes
    def _addresses(self, root: etree._Element) -> None:
        """Every mesh and texture gets the address that it has in the written description, and is looked for."""
        for element in root.iter("mesh", "texture"):
            written = element.get("filename")
            if written:
                element.set("filename", self._address(written, element.tag))

    def _address(self, written: str, tag: str) -> str:
        if written.startswith("file://"):
            written = written.removeprefix("file://")
        if re.match(r"[a-z]+://", written) and package_of(written) is None:
            raise NotAccepted(f"the {tag} {written} is neither a path nor a package:// address")
        if package_of(written) is None:
            beside = posixpath.normpath(posixpath.join(posixpath.dirname(self.path), written))
            written = self.packages.address(beside) or beside
        package = package_of(written)
        if package is not None:
            self.needs.setdefault(package)
        elif tag == "texture":
            raise NotAccepted(f"the texture {written} is a path; only package:// addresses of textures are taken")
        else:
            self.meshes[written] = written
        try:
            self._opened(self.packages.path(written))
        except NotDescribed as error:
            raise NotAccepted(f"the {tag} {error}") from None
        return written

    def _mesh_solid(self, address: str, scale: Vec3) -> tuple[Solid, Vec3]:
        data = self._opened(self.packages.path(address))
        try:
            points = mesh_points(data, posixpath.splitext(address)[1].lower()) * np.array(scale)
            return hull_solid(points)
        except (NoPoints, ValueError) as error:
            raise NotAccepted(f"the mesh {_said(address)} has no convex hull: {error}") from None


def _tree_of(links: Mapping[str, DescribedLink], joints: Mapping[str, DescribedJoint],
             wanted: str | None) -> tuple[str, Pose | None, list[str]]:
    """The top link, where it is in part axes (None: a joint of its own says so), and the joints, parents before children."""
    children = {j.child for j in joints.values()}
    roots = [n for n in links if n not in children]
    own = [n for n, j in joints.items() if not j.parent]
    if wanted is not None and wanted not in links:
        raise NotDescribed(f"it has no link {wanted}; there are {', '.join(links)}", "root")
    if len(own) > 1 or (own and roots):
        names = [joints[n].child for n in own] + roots
        raise NotAccepted(f"it has {len(names)} roots: {', '.join(names)}; all links hang on one")
    if not own and len(roots) != 1:
        raise NotAccepted(f"it has {len(roots)} roots{': ' if roots else ', so its joints make a loop'}{', '.join(roots)}"
                          + ("; all links hang on one" if roots else ""))
    top = joints[own[0]].child if own else roots[0]
    by_parent: dict[str, list[str]] = {}
    for name, joint in joints.items():
        by_parent.setdefault(joint.parent, []).append(name)
    order: list[str] = list(own)
    waiting = [top]
    while waiting:
        for name in by_parent.get(waiting.pop(0), ()):
            order.append(name)
            waiting.append(joints[name].child)
    if len(order) != len(joints):
        raise NotAccepted(f"joints in a loop: {', '.join(n for n in joints if n not in order)}")
    if own:
        if wanted not in (None, top):
            raise NotDescribed(f"its own joint from {{frame}} puts {top} on the part's origin, not {wanted}", "root",
                               "leave `root` out, or leave the argument with `{frame}` out")
        return top, None, order
    back = Pose()
    link = wanted or top
    while link != top:
        joint = next(j for j in joints.values() if j.child == link)
        if joint.type != "fixed":
            raise NotDescribed(f"{wanted} moves against {top}, so it can't be what lies on the part's origin", "root",
                               f"leave `root` out: {top} is its root")
        back, link = back @ joint.pose.inverse(), joint.parent
    return top, back, order


def _by_tree(top: str, joints: Mapping[str, DescribedJoint], order: list[str]) -> list[str]:
    return list(dict.fromkeys([top, *(joints[n].child for n in order)]))


def _xml(text: str) -> str:
    return text.replace("&", "&amp;").replace('"', "&quot;").replace("<", "&lt;").replace("${", "$${").replace("$(", "$$(")


def _said(path: str) -> str:
    from chassis_describe.units import shown

    return shown(path if path.startswith("package://") else os.path.relpath(path) if os.path.isabs(path) and
                 os.path.abspath(path).startswith(os.getcwd() + os.sep) else path, 200)


def _reason(error: Exception) -> str:
    from chassis_describe.layout.files import reason_of

    return reason_of(error)


def materials_used(description: Description) -> dict[str, None]:
    """Materials that links name without saying their colour, and that the description defines nowhere."""
    defined = {m.get("name") for m in description.materials}
    elements = [m for link in description.links.values() for m in link.element.iter("material")]
    defined |= {m.get("name") for m in elements if len(m)}
    return dict.fromkeys(m.get("name", "") for m in elements if m.get("name") and m.get("name") not in defined)
