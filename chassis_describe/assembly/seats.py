"""Where the seats of a part are, adjustments at their values in force (DEVELOPERS.md, "Seats")."""
from __future__ import annotations

from collections.abc import Mapping

from chassis_describe.assembly.attitude import rotation_of
from chassis_describe.layout.model import Adjustment, Part, Seat
from chassis_describe.space.pose import IDENTITY, IDENTITY_ROTATION, Pose, Vec3, about_axis, translation

Values = Mapping[str, float]


def values_in_force(part: Part, written: Values) -> dict[str, float]:
    """The value of every adjustment of the part: as set, else at rest, followers behind their leaders (rad, m)."""
    out = {a.name: written.get(a.name, a.rest) for a in part.adjustments}
    for a in part.adjustments:
        if a.follows is not None:
            out[a.name] = a.follows.times * out[a.follows.of] + a.follows.plus
    return out


def seat_zero(seat: Seat) -> Pose:
    """S₀: the seat in part axes with every adjustment at its zero."""
    return Pose(rotation_of(seat.attitude), seat.at)


def pivot_in_seat(seat: Seat, adjustment: Adjustment) -> Vec3:
    """The point of the axis in the seat's zero axes."""
    if adjustment.pivot is None:
        return (0.0, 0.0, 0.0)
    return seat_zero(seat).inverse().point(adjustment.pivot)


def displacement(adjustment: Adjustment, value: float) -> Pose:
    """What the adjustment does about its own pivot: a turn about its axis, or a shift along it (rad, m)."""
    if value == 0.0:
        return IDENTITY
    if adjustment.kind == "turn":
        return Pose(about_axis(adjustment.axis, value), (0.0, 0.0, 0.0))
    x, y, z = adjustment.axis
    return translation(value * x, value * y, value * z)


def seat_motion(seat: Seat, adjustment: Adjustment, value: float) -> Pose:
    """T(q)·R(axis, angle)·T(-q), of a slide T(value·axis), in the seat's zero axes."""
    move = displacement(adjustment, value)
    pivot = pivot_in_seat(seat, adjustment)
    if adjustment.kind == "slide" or not any(pivot) or value == 0.0:
        return move
    return translation(*pivot) @ move @ translation(-pivot[0], -pivot[1], -pivot[2])


def seat_pose(seat: Seat, values: Values, last: str | None = None) -> Pose:
    """S = S₀ · Π M: adjustments in the part's order, up to ``last`` where that is given."""
    pose = seat_zero(seat)
    for adjustment in seat.adjust:
        value = values[adjustment.name]
        if value != 0.0:
            pose = pose @ seat_motion(seat, adjustment, value)
        if adjustment.name == last:
            break
    return pose


def seat_moves(part: Part, written: Values) -> dict[str, Pose]:
    """How what moves with each ``seat`` and ``seat.adjustment`` has moved from the zero, S·S₀⁻¹ in part axes."""
    values = values_in_force(part, written)
    moves: dict[str, Pose] = {}
    still = Pose(IDENTITY_ROTATION, (0.0, 0.0, 0.0))
    for name, seat in part.seats.items():
        back = seat_zero(seat).inverse()
        moved = False
        for adjustment in seat.adjust:
            moved = moved or values[adjustment.name] != 0.0
            moves[f"{name}.{adjustment.name}"] = seat_pose(seat, values, adjustment.name) @ back if moved else still
        moves[name] = moves[f"{name}.{seat.adjust[-1].name}"] if seat.adjust else still
    return moves
