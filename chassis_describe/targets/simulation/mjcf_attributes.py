"""Attributes of MJCF elements: where something is, what shape it has, what it collides with, how it grips."""
from __future__ import annotations

from collections.abc import Iterable

from lxml import etree

from chassis_describe.errors import never
from chassis_describe.space.mass import Inertial
from chassis_describe.space.pose import Pose
from chassis_describe.space.solids import Box, Cylinder, Solid, Sphere
from chassis_describe.xmltree import child, number, numbers

#: What collides with what, as bits: the robot's own parts never with one another, rollers with the floor alone.
ROBOT_BIT, FLOOR_BIT, ROLLER_BIT = 1, 2, 4
#: Groups of geoms: what is seen, what collides (MuJoCo's viewers show groups 0 to 2 unless told otherwise).
SEEN_GROUP, COLLIDING_GROUP = 2, 3


def floor_bits() -> list[tuple[str, str]]:
    """Attributes of whatever the robot stands on or runs into."""
    return [("contype", str(FLOOR_BIT)), ("conaffinity", str(ROBOT_BIT | ROLLER_BIT))]


def weigh(body: etree._Element, inertial: Inertial) -> None:
    """Mass, centre and inertia of a body, in its own axes."""
    child(body, "inertial", [("pos", numbers(inertial.com)), ("mass", number(inertial.mass)),
                             ("fullinertia", numbers(inertial.inertia))])


def placed_at(pose: Pose) -> list[tuple[str, str]]:
    """Attributes of where something is; none where it is at its parent."""
    out = []
    if any(pose.t):
        out.append(("pos", numbers(pose.t)))
    x, y, z, w = pose.quaternion
    if w != 1.0:
        out.append(("quat", numbers((w, x, y, z))))
    return out


def shape_of(solid: Solid) -> list[tuple[str, str]]:
    """Attributes of a solid but a hull, which MuJoCo takes as a mesh."""
    if isinstance(solid, Box):
        return [("type", "box"), ("size", numbers([s / 2 for s in solid.size]))]
    if isinstance(solid, Cylinder):
        return [("type", "cylinder"), ("size", numbers((solid.radius, solid.length / 2)))]
    if isinstance(solid, Sphere):
        return [("type", "sphere"), ("size", number(solid.radius))]
    raise never(solid)


def tread_of(solid: Solid) -> list[tuple[str, str]]:
    """What rolls: a wheel as a crowned tread that touches in its mid-plane, where the controllers' separation is measured.

    A cylinder would touch at both edges, which can't both roll in a turn: one of them would carry all of the drive.
    """
    if isinstance(solid, Cylinder):
        return [("type", "ellipsoid"), ("size", numbers((solid.radius, solid.radius, solid.length / 2)))]
    return shape_of(solid)


def only_seen(rgba: Iterable[float]) -> list[tuple[str, str]]:
    """Of what beams and cameras meet, and nothing touches."""
    return [("contype", "0"), ("conaffinity", "0"), ("group", str(SEEN_GROUP)), ("rgba", numbers(rgba))]


def only_colliding() -> list[tuple[str, str]]:
    """Of what touches the floor, and is not seen."""
    return [("contype", str(ROBOT_BIT)), ("conaffinity", str(FLOOR_BIT)), ("group", str(COLLIDING_GROUP)),
            ("rgba", "0.6 0.6 0.6 0")]


def gripping(friction: float) -> list[tuple[str, str]]:
    """Of what rolls or slides on the floor: its friction counts, whatever the floor's is."""
    return [("friction", numbers((friction, 0.005, 0.0001))), ("condim", "3"), ("priority", "1")]
