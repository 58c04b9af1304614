"""A rotation as written in a layout, as numbers."""
from __future__ import annotations

from functools import lru_cache

from chassis_describe.layout.model import Attitude
from chassis_describe.space.pose import IDENTITY_ROTATION, Rotation, Vec3, from_rpy

#: REP-103: x forward, y left, z up.
DIRECTIONS: dict[str, Vec3] = {
    "forward": (1.0, 0.0, 0.0), "back": (-1.0, 0.0, 0.0), "left": (0.0, 1.0, 0.0), "right": (0.0, -1.0, 0.0),
    "up": (0.0, 0.0, 1.0), "down": (0.0, 0.0, -1.0),
}


def _cross(a: Vec3, b: Vec3) -> Vec3:
    return (a[1] * b[2] - a[2] * b[1] + 0.0, a[2] * b[0] - a[0] * b[2] + 0.0, a[0] * b[1] - a[1] * b[0] + 0.0)


@lru_cache(maxsize=1024)
def rotation_of(attitude: Attitude) -> Rotation:
    """The rotation of an attitude in its parent. ``axes`` come out exact; the reader has seen to it that they are square."""
    if attitude.axes is None:
        return from_rpy(*attitude.rpy) if any(attitude.rpy) else IDENTITY_ROTATION
    known = {axis: DIRECTIONS[word] for axis, word in attitude.axes}
    # The third axis by the right-hand rule: x = y × z and so on round.
    for missing, first, second in (("x", "y", "z"), ("y", "z", "x"), ("z", "x", "y")):
        if missing not in known:
            known[missing] = _cross(known[first], known[second])
    x, y, z = known["x"], known["y"], known["z"]
    return (x[0], y[0], z[0], x[1], y[1], z[1], x[2], y[2], z[2])
