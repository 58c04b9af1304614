"""What is left between two poses, and adjustments turned until least is left (damped Gauss-Newton, numeric derivatives)."""
from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from chassis_describe.layout.model import Adjustment
from chassis_describe.space.pose import Pose, Rotation, Vec3, angle_of, multiply, transpose

Left = tuple[float, float, float, float, float, float]
Values = Mapping[str, float]

#: A turn counts as much as a shift at this distance (m): about as far as sensors are from the middle of their holders.
ARM = 0.1
_ROUNDS = 20


def residual(there: Pose, here: Pose) -> Left:
    """What takes ``here`` to ``there``: shift (m) and rotation vector (rad), in the axes that both are given in."""
    turned = rotation_vector(multiply(there.r, transpose(here.r)))
    return (there.t[0] - here.t[0], there.t[1] - here.t[1], there.t[2] - here.t[2], *turned)


def rotation_vector(r: Rotation) -> Vec3:
    """Axis times angle (rad, 0 to π)."""
    axis = (r[7] - r[5], r[2] - r[6], r[3] - r[1])
    size, angle = math.hypot(*axis), angle_of(r)
    if size > 1e-9:
        return (axis[0] / size * angle, axis[1] / size * angle, axis[2] / size * angle)
    if angle < 1.0:
        return (axis[0] / 2, axis[1] / 2, axis[2] / 2)
    # Half a turn: R + 1 = 2·a·aᵀ, so its largest column is along the axis.
    columns = [(r[k] + (k == 0), r[3 + k] + (k == 1), r[6 + k] + (k == 2)) for k in range(3)]
    best = max(columns, key=lambda c: math.hypot(*c))
    length = math.hypot(*best)
    return (best[0] / length * angle, best[1] / length * angle, best[2] / length * angle)


def settled(left: Callable[[Values], Left], start: Values, free: Sequence[Adjustment]) -> dict[str, float]:
    """``start`` with the free adjustments at the values near it that leave least, within their ranges."""
    values = dict(start)
    if not free:
        return values
    now = _weighed(left(values))
    damping = 1e-9
    for _ in range(_ROUNDS):
        columns = []
        for a in free:
            step = 1e-6 if a.kind == "turn" else 1e-7
            columns.append((_weighed(left({**values, a.name: values[a.name] + step})) - now) / step)
        slope = np.stack(columns, axis=1)
        square = slope.T @ slope
        wish = np.linalg.solve(square + damping * np.eye(len(free)), -slope.T @ now)
        moved = {a.name: _within(a, values[a.name] + float(v)) for a, v in zip(free, wish)}
        then = _weighed(left({**values, **moved}))
        if float(then @ then) < float(now @ now):
            done = max(abs(moved[n] - values[n]) for n in moved) < 1e-9
            values.update(moved)
            now, damping = then, max(damping / 10, 1e-12)
            if done:
                break
        elif damping > 1e3:
            break
        else:
            damping *= 100
    return values


def _weighed(left: Left) -> NDArray[np.float64]:
    return np.array([*left[:3], *(ARM * v for v in left[3:])])


def _within(a: Adjustment, value: float) -> float:
    return value if a.range is None else min(max(value, a.range[0]), a.range[1])
