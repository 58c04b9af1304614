"""Names in a description: which of them follow the prefix that it is given, and what each is called on a robot.

A description is expanded with made-up words for prefix and frame. Where they come back they stand as marks, so one
expansion serves every placement and every prefix of a robot.
"""
from __future__ import annotations

#: Stand for ``<robot's prefix><placement>`` and for the placement's link: private characters, which no name has.
STEM, FRAME = "\ue000", "\ue001"


def real(name: str, prefix: str, placement: str) -> str:
    """What a link, joint, material or system of a description is called on the robot: names that follow the prefix as they
    are, all others behind ``<prefix><placement>_``."""
    if name == FRAME or STEM in name or FRAME in name:
        return filled(name, prefix, placement)
    return f"{prefix}{placement}_{name}"


def filled(text: str, prefix: str, placement: str) -> str:
    """Any other text, marks replaced."""
    return text.replace(FRAME, f"{prefix}{placement}_link").replace(STEM, f"{prefix}{placement}")


def plain(name: str) -> str:
    """The name without prefix, which layouts use."""
    return name.replace(f"{STEM}_", "").replace(STEM, "").replace(FRAME, "frame")
