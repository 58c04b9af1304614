"""Steering as its controller assumes it: upright axes, positive to the left, left like right."""
from __future__ import annotations

import math
from collections.abc import Iterator

from chassis_describe.assembly.model import Assembly, SteeredFacet
from chassis_describe.findings import Finding, Severity, finding
from chassis_describe.source import Mark
from chassis_describe.tolerances import ALONG_Y, SAME_LENGTH
from chassis_describe.words import mm, plain

#: What two steering axes may be off being mirror images (m): about what parts on M3 screws in 3.5 mm holes shift.
OFF_MIRROR = 1e-3
#: Nearer to the driven axle than this (m), steering has no lever.
_BESIDE = 5e-3


def steers_left(assembly: Assembly) -> Iterator[Finding]:
    """``steer-axis``: a positive value must steer to the left: the axis up ahead of the driven axle, down behind it
    (ros2_controllers: steering_controllers_library/src/steering_controllers_library.yaml, steering_joints_names)."""
    drive = assembly.drive
    for steered in drive.steered if drive is not None else ():
        x = steered.point[0]
        name, mark = _name(steered), _mark(assembly, steered)
        of = [steered.moving.placement]
        if abs(x) < _BESIDE:
            yield finding("steer-axis", f"{name} steers {mm(abs(x))} from the driven axle: without a lever it can't steer",
                          hint="put it ahead of the driven wheels, or behind them", where=[mark], of=of,
                          measured=abs(x) * 1e3, allowed=_BESIDE * 1e3, unit="mm")
            continue
        due = math.copysign(1.0, x)
        off = math.atan2(math.hypot(steered.axis[0], steered.axis[1]), abs(steered.axis[2]))
        if off > ALONG_Y:
            yield finding("steer-axis", f"the axis of {name} leans by {plain(math.degrees(off), 2)}°; the controllers assume an "
                          "upright one", hint="`axis: up` or `axis: down` in a part that stands upright", where=[mark], of=of,
                          measured=math.degrees(off), allowed=0.0, unit="deg")
        elif steered.axis[2] * due < 0.0:
            upside_down = assembly.parts[steered.moving.placement].pose.z_axis[2] < 0.0
            word = "up" if (due > 0) != upside_down else "down"
            yield finding("steer-axis", f"a positive value of {name} steers to the right: its axis points "
                          f"{'down' if due > 0 else 'up'}, and it is {'ahead of' if due > 0 else 'behind'} the driven axle",
                          hint=f"`axis: {word}` of the adjustment: its part is {'upside down' if upside_down else 'upright'} there",
                          where=[mark, steered.moving.mark], of=of)
        if not steered.wheels:
            yield finding("steer-axis", f"{name} carries no wheel", where=[mark], of=of,
                          hint="the shaft of the steered wheel moves `with` its seat")


def steers_alike(assembly: Assembly) -> Iterator[Finding]:
    """``steer-unlike``: the controllers know one wheel base, one track and one limit to both sides."""
    drive = assembly.drive
    if drive is None or not drive.steered:
        return
    left, right = drive.steered[0], drive.steered[-1]
    names, of = (_name(left), _name(right)), [s.moving.placement for s in drive.steered]
    if left is right:
        if abs(left.point[1]) > OFF_MIRROR + SAME_LENGTH:
            yield _unlike(assembly, left, right, f"{names[0]} steers {mm(abs(left.point[1]))} off the middle of the driven wheels",
                          "put it on the middle line", of, left.point[1])
        return
    if drive.steer_track <= 0.0:
        yield finding("steer-unlike", f"{names[0]} is listed first, as the left one, and stands on the right",
                      hint=f"`steer: [{names[1]}, {names[0]}]`", where=[_mark(assembly, left)], of=of, severity=Severity.ERROR)
        return
    along, across = left.point[0] - right.point[0], left.point[1] + right.point[1]
    if abs(along) > OFF_MIRROR + SAME_LENGTH:
        yield _unlike(assembly, left, right, f"{names[0]} steers {mm(abs(along))} {'ahead of' if along > 0 else 'behind'} "
                      f"{names[1]}; the controllers know one wheel base", "bring both to one line across the robot", of, along)
    if abs(across) > OFF_MIRROR + SAME_LENGTH:
        yield _unlike(assembly, left, right, f"{names[0]} and {names[1]} are not at equal distances from the middle of the driven "
                      f"wheels: they differ by {mm(abs(across))}", "bring both to one distance", of, across)
    here, there = left.moving.adjustment.range, right.moving.adjustment.range
    if here is not None and there is not None and max(abs(here[0] + there[1]), abs(here[1] + there[0])) > math.radians(0.5):
        yield finding("steer-unlike", f"{names[0]} goes from {_span(here)}, {names[1]} from {_span(there)}: one way it turns "
                      "tighter than the other", hint="give both ranges that mirror each other",
                      where=[_mark(assembly, left), _mark(assembly, right)], of=of)
    radii = [{w.placement: w.radius for w in assembly.wheels}[s.wheels[0]] for s in (left, right) if s.wheels]
    if len(radii) == 2 and abs(radii[0] - radii[1]) > SAME_LENGTH:
        yield _unlike(assembly, left, right, f"the wheels on {names[0]} and {names[1]} have radii of {mm(radii[0])} and "
                      f"{mm(radii[1])}", "use equal wheels on both sides", of, radii[0] - radii[1])


def _unlike(assembly: Assembly, left: SteeredFacet, right: SteeredFacet, says: str, hint: str, of: list[str],
            off: float) -> Finding:
    marks = dict.fromkeys((_mark(assembly, left), _mark(assembly, right)))
    return finding("steer-unlike", says, hint=hint, where=list(marks), of=of, measured=abs(off) * 1e3,
                   allowed=OFF_MIRROR * 1e3, unit="mm")


def _span(span: tuple[float, float]) -> str:
    return f"{plain(math.degrees(span[0]), 1)}° to {plain(math.degrees(span[1]), 1)}°"


def _name(steered: SteeredFacet) -> str:
    m = steered.moving
    return f"{m.placement}.{m.seat}.{m.adjustment.name}"


def _mark(assembly: Assembly, steered: SteeredFacet) -> Mark:
    return assembly.parts[steered.moving.placement].mark
