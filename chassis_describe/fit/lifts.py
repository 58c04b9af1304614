"""Remedies in the layout's own key: the ``lift`` that brings a wheel or caster up or down."""
from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from itertools import islice
from typing import NamedTuple

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, PlacedPart
from chassis_describe.assembly.place import assemble
from chassis_describe.assembly.rollers import rollers
from chassis_describe.errors import LayoutError
from chassis_describe.facts.bodies import bodies_of
from chassis_describe.facts.heights import heights_of
from chassis_describe.layout.model import Face, Layout
from chassis_describe.source import Mark
from chassis_describe.space.ground.support import levelling
from chassis_describe.tolerances import ON_GROUND
from chassis_describe.words import listing, mm, plain

#: How many ways of mounting are tried for each kind of roller, each a robot put together anew, and up to how many bodies; and how
#: often lifts are changed until it stands level: what is on a lifted part moves too.
_MOST_TRIED, _CROWD, _ROUNDS = 6, 400, 3


def driven_of(assembly: Assembly) -> set[str]:
    """The wheels that the drive turns, by placement."""
    return {w.placement for w in assembly.wheels if w.side is not None}


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
    return _with(assembly.layout, changes)


def remedy_marks(assembly: Assembly) -> list[Mark]:
    """Where to edit for what `levelling_hint` says, where that is another face."""
    return [assembly.parts[n].mark for n, c in _levelling(assembly)[1].items() if c.face is not None]


def _with(layout: Layout, changes: Mapping[str, LiftChange]) -> Layout:
    new = {n: replace(layout.placements[n], lift=c.lift, face=c.face or layout.placements[n].face) for n, c in changes.items()}
    return replace(layout, placements=dict(layout.placements) | new)


@kept
def _levelling(assembly: Assembly) -> tuple[str, Mapping[str, LiftChange]]:
    driven = driven_of(assembly)
    ups = levelling(rollers(assembly.wheels, assembly.casters), driven)
    if ups is None:
        return _other_face(assembly) or ("the driven wheels differ in height: make them alike first", {})
    if not ups:
        return "", {}
    lifts = _lifts(assembly, ups)
    if lifts is not None:
        return "level with " + " and ".join(_lift_words(assembly.parts[n], c.lift) for n, c in lifts.items()), lifts
    return _other_way(assembly, {p.name: (p, up) for p, up in ((carrier(assembly, n), up) for n, up in ups.items())}, driven)


def _lifts(assembly: Assembly, ups: Mapping[str, float]) -> Mapping[str, LiftChange] | None:
    """The lifts that raise rollers by so much (m), by what carries them; None where spacers can't."""
    wanted: dict[str, LiftChange] = {}
    for name, up in ups.items():
        placed = carrier(assembly, name)
        lift = new_lift(placed, up)
        if lift is None or lift <= -1e-9:
            return None
        change = LiftChange(max(lift, 0.0), None)
        if abs(wanted.setdefault(placed.name, change).lift - change.lift) > ON_GROUND:
            return None  # two rollers on one part that want different lifts
    return wanted


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
    return _other_face(assembly) or (f"{too_long}, and no `lift` makes up for it: take a part of another height", {})


def _other_face(assembly: Assembly) -> tuple[str, Mapping[str, LiftChange]] | None:
    """What carries wheels or casters on top of a deck and should be under it: the robot is put together that way, and stands
    level then, or a lift levels it, with all its decks above the ground. Casters and idle wheels are tried before driven ones."""
    if len(bodies_of(assembly).bodies) > _CROWD:
        return None
    driven = driven_of(assembly)
    centres = {c.placement: c.centre for c in assembly.casters} | {w.placement: w.centre for w in assembly.wheels}
    for group in ([n for n in centres if n not in driven], [n for n in centres if n in driven]):
        carriers = {p.name: p for n in group if (p := carrier(assembly, n)).deck is not None and p.face == "top"
                    and p.pose.inverse().point(centres[n])[2] > 0.0}
        for names in islice(dict.fromkeys((tuple(carriers), *((n,) for n in carriers))), _MOST_TRIED):
            changes = {n: LiftChange(carriers[n].placement.lift, "under") for n in names}
            if changes and _stands(_with(assembly.layout, changes)):
                said = [n for n in names if carriers[n].placement.mirror_of not in names]
                on = listing(dict.fromkeys(carriers[n].deck or "" for n in names))
                return (f"{listing(said)} {'stands' if len(said) == 1 else 'stand'} on top of {on}: mount "
                        f"{'it' if len(said) == 1 else 'them'} with `face: under`", changes)
    return None


def _stands(layout: Layout, rounds: int = _ROUNDS) -> bool:
    """Whether a robot stands level, or does so with other lifts, and no deck of it is in the ground."""
    try:
        robot = assemble(layout)
    except LayoutError:
        return False
    ups = levelling(rollers(robot.wheels, robot.casters), driven_of(robot))
    if robot.rest is None or ups is None:
        return False
    if ups:
        changes = _lifts(robot, ups) if rounds else None
        return changes is not None and _stands(_with(layout, changes), rounds - 1)
    return robot.rest.status in ("stable", "rocks", "outside") and all(
        h.low > 0.0 for h in heights_of(robot).each if h.kind == "deck")


def tilt_degrees(normal: tuple[float, float, float]) -> float:
    """Angle between the ground's normal and base z (degrees)."""
    return math.degrees(math.atan2(math.hypot(normal[0], normal[1]), normal[2]))
