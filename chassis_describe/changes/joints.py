"""Joints that start elsewhere, or go another way, than before."""
from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from chassis_describe.assembly.model import Assembly, Joint


class Course(NamedTuple):
    """Where a joint is at first, and how far it goes (rad, of a prismatic one m; None: without stops)."""

    value: float
    lower: float | None
    upper: float | None


class JointChange(NamedTuple):
    """``joint``: its name now."""

    joint: str
    prismatic: bool
    before: Course
    after: Course


def joint_changes(old: Assembly, new: Assembly, frames: Mapping[str, str]) -> tuple[JointChange, ...]:
    """Of every joint that both have, by the frame that it carries (``frames``: old name → new name)."""
    here = {j.child: j for j in new.joints if j.type != "fixed"}
    out = []
    for joint in old.joints:
        now = here.get(frames.get(joint.child, ""))
        if joint.type == "fixed" or now is None or (now.type == "prismatic") != (joint.type == "prismatic"):
            continue
        before, after = _course(joint), _course(now)
        if any((a is None) != (b is None) or abs((a or 0.0) - (b or 0.0)) > 1e-9 for a, b in zip(before, after)):
            out.append(JointChange(now.name, now.type == "prismatic", before, after))
    return tuple(out)


def _course(joint: Joint) -> Course:
    return Course(joint.value, joint.lower, joint.upper)
