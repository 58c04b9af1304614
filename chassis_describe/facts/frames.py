"""Every frame of a robot as a row: its parent, its pose, and its play."""
from __future__ import annotations

import math
from typing import NamedTuple

from chassis_describe.assembly.model import Assembly
from chassis_describe.errors import UsageError
from chassis_describe.facts.play import play_of
from chassis_describe.space.pose import Pose
from chassis_describe.words import clean, not_known


class FrameRow(NamedTuple):
    """``pose`` is the child frame in the parent, movable joints at ``value``, the one in force (rad, of a slide m; None: a
    fixed joint, or no joint). Play is against base_link."""

    parent: str
    child: str
    joint: str | None
    type: str | None
    value: float | None
    pose: Pose
    shift_mm: float | None
    twist_deg: float | None


def frame_rows(assembly: Assembly, *, start: str | None = None) -> list[FrameRow]:
    """One row for each joint, in tree order; with ``start`` one for each frame, seen from that frame.

    Raises UsageError when there is no frame ``start``.
    """
    if start is None:
        return [FrameRow(j.parent, j.child, j.name, j.type, None if j.type == "fixed" else j.value, j.placed,
                         *_play(assembly, j.child)) for j in assembly.joints]
    if start not in assembly.poses:
        own = [link.name for link in assembly.links if link.owner == start]
        if own:
            kind = "deck" if start in assembly.decks else "placement"
            raise UsageError(f"`{start}` is a {kind}, not a frame; its "
                             + (f"frames are {', '.join(own)}" if len(own) > 1 else f"frame is {own[0]}"))
        raise UsageError(not_known(start, "frame", assembly.poses))
    into_start = assembly.poses[start].inverse()
    return [FrameRow(start, name, None, None, None, into_start @ pose, *_play(assembly, name))
            for name, pose in assembly.poses.items() if name != start]


def _play(assembly: Assembly, frame: str) -> tuple[float | None, float | None]:
    play = play_of(assembly).get(frame)
    return (None, None) if play is None else (clean(play.shift * 1e3), clean(math.degrees(play.twist)))
