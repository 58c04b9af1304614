"""A URDF tree → links and joints, read strictly: what a consumer would refuse is refused here, by name.

Rules as urdfdom has them (ros/urdfdom, urdf_parser/src/link.cpp, joint.cpp, model.cpp).
"""
from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from chassis_describe.layout.described.elements import BadElement, axis, inertial, numbers, origin
from chassis_describe.layout.described.model import DescribedJoint, DescribedLink
from chassis_describe.layout.described.names import FRAME, plain
from chassis_describe.space.mass import Inertial
from chassis_describe.space.pose import IDENTITY_ROTATION, Pose, Vec3, unit
from chassis_describe.space.solids import Box, Cylinder, Solid, Sphere

if TYPE_CHECKING:
    from lxml import etree

_TYPES = ("fixed", "continuous", "revolute", "prismatic")
#: From the attributes of a ``<mesh>`` (file and scale) to its hull and the middle of that in the mesh's axes.
MeshSolid = Callable[[str, Vec3], tuple[Solid, Vec3]]


class NotAccepted(Exception):
    """What is wrong with a description, naming the element."""


def links_of(root: etree._Element, mesh_solid: MeshSolid) -> dict[str, DescribedLink]:
    """By plain name. Raises NotAccepted."""
    out: dict[str, DescribedLink] = {}
    for element in root.iterfind("link"):
        full = _named(element)
        name = plain(full)
        if full == FRAME:
            raise NotAccepted("it makes a link with the name that it was given for the link to stand on ({frame}); that link is "
                              "ours: leave that argument empty, and a fixed joint is made for it")
        if name in out:
            raise NotAccepted(f"two links are called {name}")
        what = f"link {name}"
        with _of(what):
            drawn = [_shape(e, what, mesh_solid) for e in element.iterfind("collision")] or \
                [_shape(e, what, mesh_solid) for e in element.iterfind("visual")]
            out[name] = DescribedLink(full, _inertial(element, what), tuple(drawn), element)
    if not out:
        raise NotAccepted("it has no links")
    return out


def joints_of(root: etree._Element, links: dict[str, DescribedLink]) -> dict[str, DescribedJoint]:
    """By plain name, in the order of the file. Raises NotAccepted."""
    out: dict[str, DescribedJoint] = {}
    held: dict[str, str] = {}
    for element in root.iterfind("joint"):
        full = _named(element)
        name = plain(full)
        if name in out:
            raise NotAccepted(f"two joints are called {name}")
        with _of(f"joint {name}"):
            joint = _joint(element, full, name)
        for end, which in ((joint.parent, "parent"), (joint.child, "child")):
            if end not in links and (end or which == "child"):
                raise NotAccepted(f"joint {name}: its {which} {end or '{frame}'} is no link of it")
        if joint.child in held:
            raise NotAccepted(f"link {joint.child} hangs on two joints, {held[joint.child]} and {name}")
        held[joint.child] = name
        out[name] = joint
    for name, joint in out.items():
        if joint.mimic is not None and (joint.mimic[0] not in out or out[joint.mimic[0]].type == "fixed"):
            raise NotAccepted(f"joint {name} follows {joint.mimic[0]}, which is no joint of it that moves")
    return out


@contextlib.contextmanager
def _of(what: str) -> Iterator[None]:
    """Says whose element it is that can't be read."""
    try:
        yield
    except BadElement as error:
        raise NotAccepted(f"{what}: {error}") from None


def _named(element: etree._Element) -> str:
    name = element.get("name", "")
    if not name.strip():
        raise NotAccepted(f"a <{element.tag}> has no name")
    return name


def _joint(element: etree._Element, full: str, name: str) -> DescribedJoint:
    what, kind = f"joint {name}", element.get("type", "")
    if kind not in _TYPES:
        raise NotAccepted(f"{what}: the type {kind or '(none)'} is not taken, only {', '.join(_TYPES)}")
    ends = []
    for tag in ("parent", "child"):
        end = element.find(tag)
        if end is None or not end.get("link"):
            raise NotAccepted(f"{what} has no <{tag} link=...>")
        ends.append(end.get("link"))
    along, limit = axis(element), element.find("limit")
    if not any(along) and kind != "fixed":
        raise NotAccepted(f"{what}: its axis has no direction")
    lower = upper = effort = velocity = None
    if kind in ("revolute", "prismatic"):
        if limit is None:
            raise NotAccepted(f"{what} is {kind} and has no <limit>")
        (lower,), (upper,) = numbers(limit, "lower", 1, "0"), numbers(limit, "upper", 1, "0")
        if lower > upper:
            raise NotAccepted(f"{what}: its lower limit {lower:g} is above its upper one {upper:g}")
    if limit is not None:
        (effort,), (velocity,) = numbers(limit, "effort", 1, None), numbers(limit, "velocity", 1, None)
    mimic = element.find("mimic")
    follows = None
    if mimic is not None:
        follows = (plain(mimic.get("joint", "")), *numbers(mimic, "multiplier", 1, "1"), *numbers(mimic, "offset", 1, "0"))
    return DescribedJoint(full, kind, "" if ends[0] == FRAME else plain(ends[0]), plain(ends[1]),  # type: ignore[arg-type]
                          origin(element), unit(along) if any(along) else (1.0, 0.0, 0.0), lower, upper, effort, velocity,
                          follows, element)  # type: ignore[arg-type]


def _inertial(link: etree._Element, what: str) -> Inertial | None:
    found = inertial(link)
    if found is not None and found.mass < 0:
        raise NotAccepted(f"{what}: a mass of {found.mass:g} kg can't be")
    return found if found is not None and found.mass > 0 else None


def _shape(element: etree._Element, what: str, mesh_solid: MeshSolid) -> tuple[Solid, Pose]:
    geometry = element.find("geometry")
    shape = geometry[0] if geometry is not None and len(geometry) else None
    if shape is None:
        raise NotAccepted(f"{what}: a <{element.tag}> has no geometry")
    pose = origin(element)
    solid: Solid
    if shape.tag == "box":
        solid = Box(_positive(numbers(shape, "size", 3, None), what))  # type: ignore[arg-type]
    elif shape.tag == "cylinder":
        solid = Cylinder(*_positive((*numbers(shape, "radius", 1, None), *numbers(shape, "length", 1, None)), what))
    elif shape.tag == "sphere":
        solid = Sphere(*_positive(numbers(shape, "radius", 1, None), what))
    elif shape.tag == "mesh":
        if not shape.get("filename"):
            raise NotAccepted(f"{what}: a <mesh> names no file")
        solid, middle = mesh_solid(shape.get("filename", ""), numbers(shape, "scale", 3, "1 1 1"))  # type: ignore[arg-type]
        return solid, pose @ Pose(IDENTITY_ROTATION, middle)
    else:
        raise NotAccepted(f"{what}: <{shape.tag}> is no geometry of URDF 1.0: box, cylinder, sphere or mesh")
    return solid, pose


def _positive(values: tuple[float, ...], what: str) -> tuple[float, ...]:
    if min(values) <= 0:
        raise NotAccepted(f"{what}: a size of {min(values):g} m can't be")
    return values
