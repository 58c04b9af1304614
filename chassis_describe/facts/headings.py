"""Whose forward: the directions of a deck, where they are not the robot's."""
from __future__ import annotations

from chassis_describe.assembly.model import Assembly
from chassis_describe.tolerances import SAME_ANGLE


def whose_forward(assembly: Assembly, deck: str | None) -> str:
    """``, as upper points``, to follow holes that are counted forward or left on a deck that is turned or tilted in the
    robot; nothing where the deck points as the robot does, or for a seat (None)."""
    if deck is None:
        return ""
    pose = assembly.decks[deck].pose
    along = pose.x_axis[0] > 1.0 - SAME_ANGLE and pose.z_axis[2] > 1.0 - SAME_ANGLE
    return "" if along else f", as {deck} points"
