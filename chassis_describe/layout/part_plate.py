"""The flat plate of a part as it is cut: its outline, every hole through it, and what it weighs. Metres, part axes."""
from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

from chassis_describe.layout.model import BoxForm, GivenInertia, Part, PartBody, PartPlate, Seat, Vec2
from chassis_describe.space.mass import Inertial, combined
from chassis_describe.space.plate.plate import Plate, Rectangle, Slot
from chassis_describe.space.pose import cos_sin
from chassis_describe.space.sunk import Sink, sink_inertial
from chassis_describe.tolerances import SAME_LENGTH
from chassis_describe.values import replace


class CutPlate(NamedTuple):
    """``plate``: its top face at z = 0 and the part's base plane at z = -thickness; ``sinks``: countersinks in its lower face."""

    plate: Plate
    sinks: tuple[Sink, ...]


def cut_plate(part: Part, flat: PartPlate) -> CutPlate:
    """The plate with the part's bolt holes and those of seats on its upper face. Raises ValueError where nothing is left."""
    holes: list[tuple[float, float, float]] = list(flat.holes)
    slots: list[Slot] = []
    sinks: list[Sink] = []
    for n, (x, y) in enumerate(part.bolts):
        slot = part.bolt_slots.get(n)
        if slot is not None:
            slots.append(Slot(length=slot.length, width=slot.width, centre=(x, y), turn=slot.turn))
        elif part.tapped is None and part.bolt_hole is not None:
            holes.append((x, y, part.bolt_hole))
    for seat in part.seats.values():
        for at, hole, sink in _through(seat, flat):
            holes.append((*at, hole))
            if sink is not None:
                sinks.append(Sink(at, hole, sink))
    outline = Rectangle(size=flat.size, corner=flat.corner, centre=flat.centre)
    return CutPlate(Plate(outline=outline, holes=tuple(holes), slots=tuple(slots), thickness=flat.thickness), tuple(sinks))


def _through(seat: Seat, flat: PartPlate) -> Iterable[tuple[Vec2, float, float | None]]:
    """Middle, diameter and countersink of the holes that a seat on the plate's upper face has, in part axes."""
    turn = _turn(seat)
    if turn is None or abs(seat.at[2] - flat.thickness) > SAME_LENGTH:
        return
    c, s = cos_sin(turn)
    for bolt in seat.bolts:
        if bolt.hole is not None:
            x, y = bolt.at
            yield (seat.at[0] + c * x - s * y, seat.at[1] + s * x + c * y), bolt.hole, bolt.countersink


def _turn(seat: Seat) -> float | None:
    """How a seat is turned about its z (rad), where that points up; None where it leans."""
    if seat.attitude.axes is not None:
        known = dict(seat.attitude.axes)
        if known.get("z") != "up":
            return None
        ways = {"forward": 0.0, "left": math.pi / 2, "back": math.pi, "right": -math.pi / 2}
        return ways[known["x"]] if "x" in known else ways[known["y"]] - math.pi / 2
    roll, pitch, yaw = seat.attitude.rpy
    return yaw if abs(roll) < 1e-12 and abs(pitch) < 1e-12 else None


def plate_inertial(part: Part, flat: PartPlate) -> Inertial | None:
    """Mass, centre and inertia of the drilled plate in part axes; None where its density is not known."""
    if flat.density is None:
        return None
    cut = cut_plate(part, flat)
    whole = cut.plate.inertial(flat.density)
    x, y, z = whole.com
    lifted = Inertial(whole.mass, (x, y, z + flat.thickness), whole.inertia)
    return combined([lifted, *(sink_inertial(s, -flat.density) for s in cut.sinks)])


def with_plate(part: Part, color: tuple[float, float, float, float] | None) -> Part:
    """The part with its plate as its first body. Where it has no others, mass, centre and inertia are those of the drilled plate;
    what was measured of it wins."""
    flat = part.plate
    if flat is None:
        return part
    own = plate_inertial(part, flat)
    alone = not part.bodies
    mass = own.mass if own is not None and not (alone and part.mass is not None) else None
    body = PartBody(form=BoxForm(size=(*flat.size, flat.thickness)), at=(*flat.centre, flat.thickness / 2), mass=mass, color=color,
                    mark=flat.mark)
    out = replace(part, bodies=(body, *part.bodies))
    if own is None or not alone:
        return out
    whole = own if part.mass is None else own.scaled(part.mass)
    xx, yy, zz, xy, xz, yz = whole.inertia
    given = GivenInertia(ixx=xx, iyy=yy, izz=zz, ixy=xy, ixz=xz, iyz=yz, mark=flat.mark)
    return replace(out, com=part.com if part.com is not None else whole.com,
                   inertia=part.inertia if part.inertia is not None else given)
