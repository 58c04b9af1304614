"""Transforms that a running robot publishes, held against the layout's frames: missing, extra, elsewhere, published twice."""
from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from chassis_describe.assembly.model import Assembly, Joint
from chassis_describe.changes.match import (
    SAME_PLACE,
    SAME_TURN,
    Difference,
    Value,
    angle_between,
    in_degrees,
    in_mm,
    place_differences,
)
from chassis_describe.errors import never
from chassis_describe.facts.play import Play
from chassis_describe.space.pose import IDENTITY, Pose
from chassis_describe.values import dataclass


class HeardFrame(NamedTuple):
    """``pose`` is the child frame in the parent frame; ``static``: from /tf_static."""

    parent: str
    child: str
    pose: Pose
    static: bool


class Silent(NamedTuple):
    """A latched topic with more publishers (the names of their nodes) than were ``heard``."""

    topic: str
    publishers: tuple[str, ...]
    heard: int


@dataclass(frozen=True, kw_only=True)
class Heard:
    """What a running robot said while somebody listened: each description once, every transform in the order of arrival."""

    descriptions: tuple[str, ...]
    frames: tuple[HeardFrame, ...]
    silent: tuple[Silent, ...] = ()


#: Child → parent, and the child in it.
Tree = Mapping[str, tuple[str, Pose]]


def frame_differences(assembly: Assembly, heard: Sequence[HeardFrame], play: Mapping[str, Play | None]) -> Iterator[Difference]:
    """How the frames differ. What is fixed to base_link is compared in base_link; what moves, joint by joint: a joint may have
    any value within its limits, and what is fixed to its link is compared in that link."""
    joints = {j.child: j for j in assembly.joints}
    said: dict[str, list[HeardFrame]] = {}
    for item in heard:
        said.setdefault(item.child, []).append(item)
    yield from _twice(assembly, said)
    tree = {child: _best(joints.get(child), items) for child, items in said.items()}
    there = {*tree, *(parent for parent, _ in tree.values())}
    for name in assembly.poses:
        if name not in there:
            yield Difference("missing", name, name, None, "")
    yield from _extra(assembly, heard)
    for joint in assembly.joints:
        if joint.child not in tree or joint.parent not in there:
            continue
        if joint.type == "fixed":
            anchor = _anchor(assembly, joints, joint.child)
            frame = joint.parent if joint.child == anchor else joint.child  # base_footprint is above base_link
            want: Pose | None = assembly.poses[anchor].inverse() @ assembly.poses[frame]
            have = _place(tree, frame, anchor)
        else:
            frame, anchor = joint.child, joint.parent
            have = _place(tree, frame, anchor)
            want = None if have is None else joint.at(_value(joint, have))
            if have is not None:
                yield from _limits(joint, _value(joint, have))
        if have is None or want is None:
            yield Difference("joint", joint.name, f"{joint.parent} to {joint.child}",
                             f"{tree[joint.child][0]} to {joint.child}", "")
        else:
            yield from place_differences(frame, want, have, play.get(frame))


def _twice(assembly: Assembly, said: Mapping[str, Sequence[HeardFrame]]) -> Iterator[Difference]:
    """Frames of ours with two fixed places, two parents, or that are both fixed and moving."""
    for child, items in said.items():
        if child not in assembly.poses:
            continue
        parents = list(dict.fromkeys(i.parent for i in items))
        fixed = [i for i in items if i.static]
        if len(parents) > 1:
            yield Difference("twice", child, f"in {parents[0]}", f"in {parents[1]}", "")
        elif fixed and len(fixed) < len(items):
            yield Difference("twice", child, "fixed, on tf_static", "moving, on tf", "")
        else:
            for other in fixed[1:]:
                values = _apart(fixed[0].pose, other.pose)
                if values is not None:
                    yield Difference("twice", child, *values)
                    break


def _apart(a: Pose, b: Pose) -> tuple[Value, Value, str] | None:
    """The two places of a frame, where they are two."""
    if math.dist(a.t, b.t) > SAME_PLACE:
        return in_mm(a), in_mm(b), "mm"
    if angle_between(a, b) > SAME_TURN:
        return in_degrees(a), in_degrees(b), "deg"
    return None


def _best(joint: Joint | None, items: Sequence[HeardFrame]) -> tuple[str, Pose]:
    """Of several, the one that the layout means: the others are said as twice, and what hangs on the frame isn't."""
    def wrong(item: HeardFrame) -> tuple[bool, float]:
        if joint is None or item.parent != joint.parent:
            return joint is not None, 0.0
        want = joint.at(_value(joint, item.pose))
        return False, math.dist(want.t, item.pose.t) + angle_between(want, item.pose)

    best = min(reversed(items), key=wrong)
    return best.parent, best.pose


def _extra(assembly: Assembly, heard: Iterable[HeardFrame]) -> Iterator[Difference]:
    """Fixed frames below ours that nobody has described, but for what drivers publish below their sensors."""
    sensors = {f.frame for f in assembly.sensors} | {f.message_frame for f in assembly.sensors}
    told: set[str] = set()
    for item in heard:
        if item.static and item.parent in assembly.poses and item.child not in {*assembly.poses, *sensors, *told} \
                and item.parent not in sensors:
            told.add(item.child)
            yield Difference("extra", item.child, None, item.child, "")


def _anchor(assembly: Assembly, joints: Mapping[str, Joint], frame: str) -> str:
    """The frame in which a frame has one place whatever moves: base_link, or the link of the joint that moves it."""
    name = frame
    while name in joints and joints[name].type == "fixed":
        name = joints[name].parent
    return name if name in joints else assembly.base


def _place(tree: Tree, frame: str, anchor: str) -> Pose | None:
    """A frame in another one of the tree; None where no way leads from one to the other."""
    ways = []
    for start in (frame, anchor):
        pose, name, seen = IDENTITY, start, dict[str, Pose]()
        while name not in seen:
            seen[name] = pose
            if name not in tree:
                break
            parent, here = tree[name]
            name, pose = parent, here @ pose
        ways.append(seen)
    common = next((name for name in ways[0] if name in ways[1]), None)
    return None if common is None else ways[1][common].inverse() @ ways[0][common]


def _value(joint: Joint, have: Pose) -> float:
    """The value of a joint that comes nearest to a pose of its child in its parent (rad, of a slide m)."""
    moved = joint.pose.inverse() @ have
    if joint.type == "fixed":
        return 0.0
    if joint.type == "prismatic":
        return sum(a * b for a, b in zip(joint.axis, moved.t))
    if joint.type == "continuous" or joint.type == "revolute":
        x, y, z, w = moved.quaternion
        half = math.atan2(sum(a * b for a, b in zip(joint.axis, (x, y, z))), w)
        whole = 2.0 * (half if abs(half) <= math.pi / 2 else half - math.copysign(math.pi, half))
        if joint.lower is not None and joint.upper is not None and not joint.lower <= whole <= joint.upper:
            other = whole - math.copysign(2.0 * math.pi, whole)  # a range may reach beyond half a turn
            return other if joint.lower <= other <= joint.upper else whole
        return whole
    raise never(joint.type)


def _limits(joint: Joint, value: float) -> Iterator[Difference]:
    unit = "m" if joint.type == "prismatic" else "rad"
    slack = SAME_PLACE if joint.type == "prismatic" else SAME_TURN
    if joint.lower is not None and value < joint.lower - slack:
        yield Difference("limit", f"{joint.name} lower", joint.lower, value, unit)
    if joint.upper is not None and value > joint.upper + slack:
        yield Difference("limit", f"{joint.name} upper", joint.upper, value, unit)
