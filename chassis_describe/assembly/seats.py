"""Where the seats of a part are, adjustments baked in (model: "On a seat")."""
from __future__ import annotations

from collections.abc import Mapping

from chassis_describe.assembly.attitude import rotation_of
from chassis_describe.layout.model import Part, Seat
from chassis_describe.space.pose import IDENTITY_ROTATION, Pose, about_axis, translation


def seat_zero(seat: Seat) -> Pose:
    """S₀: the seat in part axes with every adjustment at its zero."""
    return Pose(rotation_of(seat.attitude), seat.at)


def seat_pose(seat: Seat, settings: Mapping[str, float]) -> Pose:
    """S = S₀ · Π [T(q)·R(axis, angle)·T(-q)]: adjustments in the part's order, pivot q and axis in the seat's zero axes.

    ``settings`` gives angles in radians by adjustment name; the others are at rest.
    """
    zero = seat_zero(seat)
    pose = zero
    for adjustment in seat.adjust:
        angle = settings.get(adjustment.name, adjustment.rest)
        if angle == 0.0:
            continue
        pivot = zero.inverse().point(adjustment.pivot) if adjustment.pivot is not None else (0.0, 0.0, 0.0)
        turn = Pose(about_axis(adjustment.axis, angle), (0.0, 0.0, 0.0))
        if any(pivot):
            turn = translation(*pivot) @ turn @ translation(-pivot[0], -pivot[1], -pivot[2])
        pose = pose @ turn
    return pose


def settings_in_force(part: Part, written: Mapping[str, float]) -> dict[str, float]:
    """The angle of every adjustment of the part, as set or at rest (radians)."""
    return {a.name: written.get(a.name, a.rest) for seat in part.seats.values() for a in seat.adjust}


def seat_moves(part: Part, written: Mapping[str, float]) -> dict[str, Pose]:
    """S·S₀⁻¹ of every seat: how bodies ``with`` the seat have moved, in part axes."""
    moves: dict[str, Pose] = {}
    for name, seat in part.seats.items():
        if any(written.get(a.name, a.rest) for a in seat.adjust):
            moves[name] = seat_pose(seat, written) @ seat_zero(seat).inverse()
        else:
            moves[name] = Pose(IDENTITY_ROTATION, (0.0, 0.0, 0.0))
    return moves
