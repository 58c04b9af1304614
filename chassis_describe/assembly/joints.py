"""The links of a part that move while the robot runs: where each is, and what it carries.

The frame of a moving link is at the pivot of its adjustment, with the seat's axes at zero; the joint's value is the
adjustment's. Adjustments that are set by hand move the frame of those after them; after the last one they are baked into
what hangs on it.
"""
from __future__ import annotations

from typing import NamedTuple

from chassis_describe.assembly.seats import Values, pivot_in_seat, seat_motion, seat_zero
from chassis_describe.layout.model import Adjustment, Part, Seat
from chassis_describe.space.pose import IDENTITY, Pose, translation


class MovingLink(NamedTuple):
    """``origin``: the link's frame at joint zero, in the link before it (``on``: that one's adjustment; None: the part)."""

    seat: str
    adjustment: Adjustment
    on: str | None
    origin: Pose


def moving_links(part: Part, values: Values) -> tuple[MovingLink, ...]:
    """Every link of the part that moves, those nearer to the part first. ``values``: of every adjustment (rad, m)."""
    out: list[MovingLink] = []
    for name, seat in part.seats.items():
        on: str | None = None
        reached = seat_zero(seat)  # the seat so far, in the frame of the link before
        for adjustment in seat.adjust:
            if not adjustment.moves:
                if values[adjustment.name] != 0.0:
                    reached = reached @ seat_motion(seat, adjustment, values[adjustment.name])
                continue
            pivot = pivot_in_seat(seat, adjustment)
            out.append(MovingLink(name, adjustment, on, reached @ translation(*pivot) if any(pivot) else reached))
            on = adjustment.name
            reached = translation(-pivot[0] + 0.0, -pivot[1] + 0.0, -pivot[2] + 0.0) if any(pivot) else IDENTITY
    return tuple(out)


def carried(part: Part, moves_with: str | None, values: Values) -> tuple[str | None, Pose]:
    """What carries a thing that moves with ``seat`` or ``seat.adjustment``: the adjustment whose link it is, and how a
    place in part axes at zero is seen from there. None: the part's own link, in part axes."""
    name, _, last = (moves_with or "").partition(".")
    seat = part.seats.get(name)
    if seat is None or not seat.adjust:
        return None, IDENTITY
    on, reached = _reached(seat, values, last)
    return on, IDENTITY if reached is None else reached @ seat_zero(seat).inverse()


def seat_in_link(seat: Seat, values: Values) -> tuple[str | None, Pose]:
    """The adjustment whose link carries what is fixed to a seat (None: the part's own), and the seat in it."""
    on, reached = _reached(seat, values, "")
    return on, seat_zero(seat) if reached is None else reached


def _reached(seat: Seat, values: Values, last: str) -> tuple[str | None, Pose | None]:
    """The last moving adjustment, up to ``last``, and the seat in its link; None where the seat is at its zero."""
    on: str | None = None
    reached: Pose | None = None
    for adjustment in seat.adjust:
        value = values[adjustment.name]
        if adjustment.moves:
            pivot = pivot_in_seat(seat, adjustment)
            on, reached = adjustment.name, translation(-pivot[0] + 0.0, -pivot[1] + 0.0, -pivot[2] + 0.0)
        elif value != 0.0:
            reached = (seat_zero(seat) if reached is None else reached) @ seat_motion(seat, adjustment, value)
        if adjustment.name == last:
            break
    return on, reached
