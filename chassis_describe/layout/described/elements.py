"""Elements of a URDF that hold numbers, read strictly: attributes, an origin, an inertial. Format: wiki.ros.org/urdf/XML."""
from __future__ import annotations

import math
from typing import TYPE_CHECKING

from chassis_describe.space.mass import TENSOR, Inertial
from chassis_describe.space.pose import IDENTITY_ROTATION, Pose, Vec3, from_rpy

if TYPE_CHECKING:
    from lxml import etree


class BadElement(Exception):
    """What is wrong with an ``element``; whoever knows its link, joint or file says where it is."""

    def __init__(self, element: etree._Element, problem: str) -> None:
        super().__init__(problem)
        self.element = element


def numbers(element: etree._Element, key: str, count: int, default: str | None) -> tuple[float, ...]:
    """An attribute as so many finite numbers. Raises BadElement, where there is none and no default as well."""
    text = element.get(key, default)
    if text is None:
        raise BadElement(element, f"<{element.tag}> has no {key}")
    try:
        values = tuple(float(v) for v in text.split())
    except ValueError:
        values = ()
    if len(values) != count or not all(math.isfinite(v) for v in values):
        raise BadElement(element, f"{key}=\"{text}\" of <{element.tag}> is not {count} number{'s' if count > 1 else ''}")
    return values


def origin(element: etree._Element) -> Pose:
    """The pose that its ``<origin>`` gives; the identity where it has none. Raises BadElement."""
    found = element.find("origin")
    if found is None:
        return Pose()
    x, y, z = numbers(found, "xyz", 3, "0 0 0")
    rpy = numbers(found, "rpy", 3, "0 0 0")
    return Pose(from_rpy(*rpy) if any(rpy) else IDENTITY_ROTATION, (x, y, z))


def axis(joint: etree._Element) -> Vec3:
    """As written; where it is not, x (urdfdom's default). Raises BadElement."""
    found = joint.find("axis")
    return (1.0, 0.0, 0.0) if found is None else numbers(found, "xyz", 3, "1 0 0")  # type: ignore[return-value]


def inertial(link: etree._Element) -> Inertial | None:
    """What a link weighs, in the link's axes, as written: a mass of 0 or less is the caller's to judge. Raises BadElement."""
    element = link.find("inertial")
    if element is None:
        return None
    mass, inertia = element.find("mass"), element.find("inertia")
    if mass is None or inertia is None:
        raise BadElement(element, "<inertial> needs <mass> and <inertia>")
    (kilograms,) = numbers(mass, "value", 1, None)
    pose = origin(element)
    tensor = tuple(numbers(inertia, key, 1, None)[0] for key in TENSOR)
    return Inertial(kilograms, (0.0, 0.0, 0.0), tensor).moved(pose)  # type: ignore[arg-type]
