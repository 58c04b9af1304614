"""Whether a description, or a running robot, is the one that the layout describes: what is missing, extra, or otherwise."""
from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Literal, NamedTuple, Union

from chassis_describe.changes.urdf_tree import UrdfJoint, UrdfTree
from chassis_describe.facts.play import Play
from chassis_describe.space.mass import Inertial
from chassis_describe.space.pose import Pose, multiply, transpose

Kind = Literal["missing", "extra", "moved", "mass", "joint", "limit", "twice"]
Value = Union[str, float, tuple[float, ...], None]

#: Where nothing has play: 0.1 mm and 0.01 degrees.
SAME_PLACE, SAME_TURN = 1e-4, math.radians(0.01)
#: Masses, limits and axes are one within what 12 written digits and a reader's arithmetic leave; of an inertia's largest term.
_RELATIVE = 1e-6


class Difference(NamedTuple):
    """One thing that is otherwise: of which link, frame or joint, what the layout says and what was found."""

    kind: Kind
    of: str
    expected: Value
    found: Value
    unit: str


def match(expected: UrdfTree, found: UrdfTree, base: str, play: Mapping[str, Play | None], *,
          exact: bool = False) -> tuple[Difference, ...]:
    """All differences, worst to live with first: names, places, then the rest.

    Frames are compared against ``base``, every joint at its zero; one may be off by its ``play`` (by frame), and by 0.1 mm and
    0.01 degrees where it has none or with ``exact``.
    """
    return (*(Difference("twice", name, 1.0, 2.0, "") for name in found.twice),
            *(Difference("missing", name, name, None, "") for name in expected.links if name not in found.links),
            *(Difference("extra", name, None, name, "") for name in found.links if name not in expected.links),
            *_moved(expected, found, base, {} if exact else play),
            *_joints(expected, found), *_masses(expected, found))


def place_differences(name: str, want: Pose, have: Pose, play: Play | None) -> Iterator[Difference]:
    """How a frame is elsewhere: its origin (mm), its axes (roll, pitch, yaw in degrees)."""
    shift = max(SAME_PLACE, play.shift if play is not None else 0.0)
    twist = max(SAME_TURN, play.twist if play is not None else 0.0)
    if math.dist(want.t, have.t) > shift:
        yield Difference("moved", name, in_mm(want), in_mm(have), "mm")
    if angle_between(want, have) > twist:
        yield Difference("moved", name, in_degrees(want), in_degrees(have), "deg")


def angle_between(a: Pose, b: Pose) -> float:
    """The angle (rad) of the turn from one attitude to the other; well behaved near 0 and π."""
    r = multiply(transpose(a.r), b.r)
    sine = math.sqrt((r[7] - r[5]) ** 2 + (r[2] - r[6]) ** 2 + (r[3] - r[1]) ** 2)
    return math.atan2(sine, r[0] + r[4] + r[8] - 1.0)


def _moved(expected: UrdfTree, found: UrdfTree, base: str, play: Mapping[str, Play | None]) -> Iterator[Difference]:
    if base not in found.links:
        return
    for name in expected.links:
        if name not in found.links or name == base:
            continue
        want, have = expected.place(name, base), found.place(name, base)
        if want is None:
            continue
        if have is None:
            yield Difference("joint", name, f"a way to {base}", None, "")
        else:
            yield from place_differences(name, want, have, play.get(name))


def _joints(expected: UrdfTree, found: UrdfTree) -> Iterator[Difference]:
    for child, want in expected.joints.items():
        have = found.joints.get(child)
        if have is None:
            if child in found.links:
                yield Difference("joint", want.name, f"{want.parent} to {child}", None, "")
            continue
        yield from _joint(want, have)
    for child, have in found.joints.items():
        if child in expected.links and child not in expected.joints:
            yield Difference("joint", have.name, None, f"{have.parent} to {child}", "")


def _joint(want: UrdfJoint, have: UrdfJoint) -> Iterator[Difference]:
    for one, other in ((want.name, have.name), (want.type, have.type), (want.parent, have.parent)):
        if one != other:
            yield Difference("joint", want.name, one, other, "")
    if want.type != "fixed" and want.type == have.type and math.dist(_unit(want.axis), _unit(have.axis)) > SAME_TURN:
        yield Difference("joint", want.name, want.axis, have.axis, "")
    if (want.mimic is None) != (have.mimic is None) or (want.mimic and have.mimic and (
            want.mimic[0] != have.mimic[0] or any(not _same(a, b) for a, b in zip(want.mimic[1:], have.mimic[1:])))):
        yield Difference("joint", want.name, _mimic(want), _mimic(have), "")
    slides = want.type == "prismatic"
    units = {"lower": "m" if slides else "rad", "upper": "m" if slides else "rad", "effort": "N" if slides else "N m",
             "velocity": "m/s" if slides else "rad/s"}
    for key, unit in units.items():
        a, b = want.limits.get(key), have.limits.get(key)
        if a != b and (a is None or b is None or not _same(a, b)):
            yield Difference("limit", f"{want.name} {key}", a, b, unit)


def _masses(expected: UrdfTree, found: UrdfTree) -> Iterator[Difference]:
    for name, want in expected.links.items():
        if name not in found.links:
            continue
        have = found.links[name]
        if want is None or have is None:
            if want is not have:
                yield Difference("mass", name, want.mass if want else None, have.mass if have else None, "kg")
            continue
        yield from _mass(name, want, have)


def _mass(name: str, want: Inertial, have: Inertial) -> Iterator[Difference]:
    if not _same(want.mass, have.mass):
        yield Difference("mass", name, want.mass, have.mass, "kg")
    if math.dist(want.com, have.com) > SAME_PLACE:
        yield Difference("mass", name, tuple(v * 1e3 for v in want.com), tuple(v * 1e3 for v in have.com), "mm")
    largest = max(map(abs, want.inertia))
    if any(abs(a - b) > _RELATIVE * largest for a, b in zip(want.inertia, have.inertia)):
        yield Difference("mass", name, want.inertia, have.inertia, "kg m^2")


def _same(a: float, b: float) -> bool:
    return abs(a - b) <= _RELATIVE * max(abs(a), abs(b), 1e-6)


def _unit(v: tuple[float, float, float]) -> tuple[float, ...]:
    length = math.hypot(*v) or 1.0
    return tuple(c / length for c in v)


def _mimic(joint: UrdfJoint) -> str | None:
    return None if joint.mimic is None else f"{joint.mimic[0]} * {joint.mimic[1]:g} + {joint.mimic[2]:g}"


def in_mm(pose: Pose) -> tuple[float, ...]:
    """The origin."""
    return tuple(round(v * 1e3, 6) + 0.0 for v in pose.t)


def in_degrees(pose: Pose) -> tuple[float, ...]:
    """Roll, pitch, yaw."""
    return tuple(round(math.degrees(v), 6) + 0.0 for v in pose.rpy)
