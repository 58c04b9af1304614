"""Numbers for the page: millimetres with few decimals, so that what is sent stays small."""
from __future__ import annotations

from collections.abc import Sequence

from chassis_describe.space.pose import Pose


def short(value: float, digits: int = 4) -> float:
    """A number with so many decimals at most, never -0."""
    found = round(value, digits) + 0.0
    return int(found) if found == int(found) else found


def point(values: Sequence[float], digits: int = 4) -> list[float]:
    """Coordinates."""
    return [short(v, digits) for v in values]


def pose_numbers(pose: Pose) -> list[float]:
    """Twelve numbers: the rotation row by row, then the shift in millimetres."""
    return [*(short(v, 9) for v in pose.r), *(short(v * 1e3) for v in pose.t)]
