"""A URDF tree → links and joints, read strictly: what a consumer would refuse is refused here, by name.

Rules as urdfdom has them (ros/urdfdom, urdf_parser/src/link.cpp, joint.cpp, model.cpp).
"""
from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

from chassis_describe.layout.described.model import DescribedJoint, DescribedLink
from chassis_describe.layout.described.names import FRAME, plain
from chassis_describe.space.mass import Inertial, rotated
from chassis_describe.space.pose import IDENTITY_ROTATION, Pose, Vec3, from_rpy, unit
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
    axis_element, limit = element.find("axis"), element.find("limit")
    axis = _numbers(axis_element, "xyz", 3, what, "1 0 0") if axis_element is not None else (1.0, 0.0, 0.0)
    if not any(axis) and kind != "fixed":
        raise NotAccepted(f"{what}: its axis has no direction")
    lower = upper = effort = velocity = None
    if kind in ("revolute", "prismatic"):
        if limit is None:
            raise NotAccepted(f"{what} is {kind} and has no <limit>")
        (lower,), (upper,) = _numbers(limit, "lower", 1, what, "0"), _numbers(limit, "upper", 1, what, "0")
        if lower > upper:
            raise NotAccepted(f"{what}: its lower limit {lower:g} is above its upper one {upper:g}")
    if limit is not None:
        (effort,), (velocity,) = _numbers(limit, "effort", 1, what, None), _numbers(limit, "velocity", 1, what, None)
    mimic = element.find("mimic")
    follows = None
    if mimic is not None:
        follows = (plain(mimic.get("joint", "")), *_numbers(mimic, "multiplier", 1, what, "1"),
                   *_numbers(mimic, "offset", 1, what, "0"))
    return DescribedJoint(full, kind, "" if ends[0] == FRAME else plain(ends[0]), plain(ends[1]),  # type: ignore[arg-type]
                          _origin(element, what), unit(axis) if any(axis) else (1.0, 0.0, 0.0), lower, upper, effort, velocity,
                          follows, element)  # type: ignore[arg-type]


def _inertial(link: etree._Element, what: str) -> Inertial | None:
    element = link.find("inertial")
    if element is None:
        return None
    mass, inertia = element.find("mass"), element.find("inertia")
    if mass is None or inertia is None:
        raise NotAccepted(f"{what}: <inertial> needs <mass> and <inertia>")
    (kilograms,) = _numbers(mass, "value", 1, what, None)
    if kilograms < 0:
        raise NotAccepted(f"{what}: a mass of {kilograms:g} kg can't be")
    pose = _origin(element, what)
    six = tuple(_numbers(inertia, n, 1, what, None)[0] for n in ("ixx", "iyy", "izz", "ixy", "ixz", "iyz"))
    if kilograms == 0.0:
        return None
    return Inertial(kilograms, pose.t, rotated(six, pose.r))  # type: ignore[arg-type]


def _shape(element: etree._Element, what: str, mesh_solid: MeshSolid) -> tuple[Solid, Pose]:
    geometry = element.find("geometry")
    shape = geometry[0] if geometry is not None and len(geometry) else None
    if shape is None:
        raise NotAccepted(f"{what}: a <{element.tag}> has no geometry")
    pose = _origin(element, what)
    solid: Solid
    if shape.tag == "box":
        solid = Box(_positive(_numbers(shape, "size", 3, what, None), what))  # type: ignore[arg-type]
    elif shape.tag == "cylinder":
        solid = Cylinder(*_positive((*_numbers(shape, "radius", 1, what, None), *_numbers(shape, "length", 1, what, None)), what))
    elif shape.tag == "sphere":
        solid = Sphere(*_positive(_numbers(shape, "radius", 1, what, None), what))
    elif shape.tag == "mesh":
        if not shape.get("filename"):
            raise NotAccepted(f"{what}: a <mesh> names no file")
        solid, middle = mesh_solid(shape.get("filename", ""), _numbers(shape, "scale", 3, what, "1 1 1"))  # type: ignore[arg-type]
        return solid, pose @ Pose(IDENTITY_ROTATION, middle)
    else:
        raise NotAccepted(f"{what}: <{shape.tag}> is no geometry of URDF 1.0: box, cylinder, sphere or mesh")
    return solid, pose


def _positive(values: tuple[float, ...], what: str) -> tuple[float, ...]:
    if min(values) <= 0:
        raise NotAccepted(f"{what}: a size of {min(values):g} m can't be")
    return values


def _origin(element: etree._Element, what: str) -> Pose:
    origin = element.find("origin")
    if origin is None:
        return Pose()
    x, y, z = _numbers(origin, "xyz", 3, what, "0 0 0")
    rpy = _numbers(origin, "rpy", 3, what, "0 0 0")
    return Pose(from_rpy(*rpy) if any(rpy) else IDENTITY_ROTATION, (x, y, z))


def _numbers(element: etree._Element, key: str, count: int, what: str, default: str | None) -> tuple[float, ...]:
    text = element.get(key, default)
    if text is None:
        raise NotAccepted(f"{what}: <{element.tag}> has no {key}")
    try:
        values = tuple(float(v) for v in text.split())
    except ValueError:
        values = ()
    if len(values) != count or not all(math.isfinite(v) for v in values):
        raise NotAccepted(f"{what}: {key}=\"{text}\" of <{element.tag}> is not {count} number{'s' if count > 1 else ''}")
    return values
