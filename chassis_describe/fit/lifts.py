"""Remedies in the layout's own key: the ``lift`` that brings a wheel or caster up or down."""
from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import NamedTuple

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, PlacedPart
from chassis_describe.assembly.rollers import rollers
from chassis_describe.layout.model import Face, Layout
from chassis_describe.source import Mark
from chassis_describe.space.ground.support import levelling
from chassis_describe.words import mm, plain


def carrier(assembly: Assembly, name: str) -> PlacedPart:
    """The part whose place decides where a roller is: a caster itself, the motor of a wheel."""
    placed = assembly.parts[name]
    while placed.placement.support == "shaft":
        placed = assembly.parts[placed.placement.on]
    return placed


def lift_mark(assembly: Assembly, name: str) -> Mark:
    """Where the lift of a roller's carrier stands, or would."""
    placed = carrier(assembly, name)
    return placed.placement.marks.get("lift") or placed.placement.marks.get("at") or placed.mark


def new_lift(placed: PlacedPart, up: float) -> float | None:
    """The lift (m) with which a part is higher by ``up`` along base z; None when it is carried sideways.

    A lift moves a part along its own z, which points away from what carries it.
    """
    along = placed.pose.z_axis[2]
    return placed.placement.lift + up / along if abs(along) > 0.5 else None


class LiftChange(NamedTuple):
    """What a remedy writes for a placement."""

    lift: float
    face: Face | None


def levelling_hint(assembly: Assembly) -> str:
    """The lifts with which the robot would stand level, the driven wheels left as they are; what to do where none can."""
    return _levelling(assembly)[0]


def levelled(assembly: Assembly) -> Layout | None:
    """The layout as `levelling_hint` says it; None where it gives no value to write."""
    changes = _levelling(assembly)[1]
    if not changes:
        return None
    layout = assembly.layout
    new = {n: replace(layout.placements[n], lift=c.lift, face=c.face or layout.placements[n].face) for n, c in changes.items()}
    return replace(layout, placements=dict(layout.placements) | new)


@kept
def _levelling(assembly: Assembly) -> tuple[str, Mapping[str, LiftChange]]:
    driven = {w.placement for w in assembly.wheels if w.side is not None}
    ups = levelling(rollers(assembly.wheels, assembly.casters), driven)
    if ups is None:
        return "the driven wheels differ in height: make them alike first", {}
    if not ups:
        return "", {}
    wanted: dict[str, tuple[PlacedPart, float | None, float]] = {}
    for name, up in ups.items():
        placed = carrier(assembly, name)
        wanted[placed.name] = (placed, new_lift(placed, up), up)
    if all(lift is not None and lift > -1e-9 for _, lift, _ in wanted.values()):
        return ("level with " + " and ".join(_lift_words(p, lift or 0.0) for p, lift, _ in wanted.values()),
                {n: LiftChange(lift or 0.0, None) for n, (_, lift, _) in wanted.items()})
    return _other_way(assembly, {n: (p, up) for n, (p, _, up) in wanted.items()}, driven)


def _lift_words(placed: PlacedPart, lift: float) -> str:
    was = placed.placement.lift
    now = f"`lift: {plain(lift * 1e3, 3)}` for {placed.name}"
    return f"{now} (now {plain(was * 1e3, 3)})" if was else now


def _other_way(assembly: Assembly, ups: Mapping[str, tuple[PlacedPart, float]], driven: set[str]
               ) -> tuple[str, Mapping[str, LiftChange]]:
    """Spacers can't be less than nothing: then the driven wheels have to come down, or the part be another."""
    amounts = [up for _, up in ups.values()]
    too_long = " and ".join(f"{p.name} is {mm(abs(up))} too {'low' if up > 0 else 'high'}" for p, up in ups.values())
    if driven and max(amounts) - min(amounts) < 1e-6:
        motors = {carrier(assembly, n).name: carrier(assembly, n) for n in driven}
        lifts = [(m, new_lift(m, -amounts[0])) for _, m in sorted(motors.items())]
        if all(lift is not None and lift > -1e-9 for _, lift in lifts):
            return (f"{too_long}: level with " + " and ".join(_lift_words(m, lift or 0.0) for m, lift in lifts),
                    {m.name: LiftChange(lift or 0.0, None) for m, lift in lifts})
    centres = {c.placement: c.centre for c in assembly.casters}
    for p, up in ups.values():
        if up < 0 and p.face == "top" and p.name in centres and p.pose.inverse().point(centres[p.name])[2] > 0.0:
            return (f"{p.name} stands on top of {p.deck}: mount it with `face: under`",
                    {p.name: LiftChange(p.placement.lift, "under")})
    return f"{too_long}, and no `lift` makes up for it: take a part of another height", {}


def tilt_degrees(normal: tuple[float, float, float]) -> float:
    """Angle between the ground's normal and base z (degrees)."""
    return math.degrees(math.atan2(math.hypot(normal[0], normal[1]), normal[2]))
