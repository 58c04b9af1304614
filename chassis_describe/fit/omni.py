"""Wheels of an omni drive, as its controller assumes them: on one circle at equal angles, axles outward."""
from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from chassis_describe.assembly.model import Assembly, DriveFacet, WheelFacet
from chassis_describe.findings import Finding, finding
from chassis_describe.tolerances import ON_GROUND
from chassis_describe.words import listing, mm, plain

#: How far wheels may be off their circle (m), and off their angle or axle (rad): about what motors on M3 screws in 3.5 mm
#: holes shift and twist.
OFF_CIRCLE, OFF_ANGLE = 1e-3, math.radians(1.0)


def from_the_front(wheels: Iterable[WheelFacet]) -> list[WheelFacet]:
    """Counter-clockwise about their middle, beginning with the one nearest to straight ahead."""
    found = list(wheels)
    x, y = (sum(w.centre[k] for w in found) / len(found) for k in (0, 1))
    angle = {w.placement: math.atan2(w.centre[1] - y, w.centre[0] - x) for w in found}
    found.sort(key=lambda w: angle[w.placement] % (2 * math.pi))
    first = min(range(len(found)), key=lambda n: (round(abs(angle[found[n].placement]), 9), angle[found[n].placement] < 0))
    return found[first:] + found[:first]


def omni_even(assembly: Assembly) -> Iterator[Finding]:
    """``omni-uneven``: what the controller's one radius, one circle and equal angles can't describe (ros2_controllers jazzy:
    omni_wheel_drive_controller/src/omni_wheel_drive_controller.cpp, ``update_and_write_commands``)."""
    drive = assembly.drive
    if drive is None or drive.kind != "omni":
        return
    plain_treads = [w for w in drive.around if w.rollers != "across"]
    if plain_treads:
        yield _of(plain_treads, f"{listing(w.placement for w in plain_treads)}: an omni drive slides along its wheels' axles, and "
                  "these parts state no rollers along the rim", "`rollers: across` under `wheel` of the part, if it has those")
    inward = [w for w in drive.around if w.axis[0] * w.centre[0] + w.axis[1] * w.centre[1] < 0.0]
    if inward:
        yield _of(inward, f"the axles of {listing(w.placement for w in inward)} point inward, the controller turns wheels whose "
                  "axles point outward: it would drive backwards", "turn the motors round, shafts outward")
        return
    ordered = from_the_front(drive.around)
    names, due = [w.placement for w in drive.around], [w.placement for w in ordered]
    if not any(names[n:] + names[:n] == due for n in range(len(names))):
        yield finding("omni-uneven", "the wheels are not listed counter-clockwise", hint=f"`wheels: [{', '.join(due)}]`",
                      where=[assembly.layout.drive.mark if assembly.layout.drive else None], of=names)
        return
    yield from _uneven(drive)


def _uneven(drive: DriveFacet) -> Iterator[Finding]:
    count = len(drive.around)
    for n, wheel in enumerate(drive.around):
        x, y = wheel.centre[:2]
        due = drive.first_angle + 2 * math.pi * n / count
        off = math.remainder(math.atan2(y, x) - due, 2 * math.pi)
        lean = math.acos(max(-1.0, min(1.0, wheel.axis[0] * math.cos(due) + wheel.axis[1] * math.sin(due))))
        apart = math.hypot(x, y) - drive.circle_radius
        radius = wheel.radius - drive.wheel_radius
        if abs(apart) > OFF_CIRCLE + ON_GROUND:
            yield _of([wheel], f"{wheel.placement} stands {mm(abs(apart))} {'outside' if apart > 0 else 'inside'} the circle of "
                      "all wheels; the controller assumes one distance from the middle", "bring all wheels to one distance",
                      apart * 1e3, OFF_CIRCLE * 1e3, "mm")
        if abs(off) > OFF_ANGLE:
            yield _of([wheel], f"{wheel.placement} stands at {_degrees(due + off)}; at equal angles it would be at {_degrees(due)}",
                      f"{count} wheels stand {plain(360 / count, 1)}° apart", math.degrees(off), math.degrees(OFF_ANGLE), "deg")
        elif lean > OFF_ANGLE:
            yield _of([wheel], f"the axle of {wheel.placement} is {plain(math.degrees(lean), 2)}° off the line out of the middle",
                      f"point its shaft outward, at {_degrees(due)}", math.degrees(lean), math.degrees(OFF_ANGLE), "deg")
        if abs(radius) > ON_GROUND:
            yield _of([wheel], f"{wheel.placement} has a radius of {mm(wheel.radius)}, the wheels' mean is "
                      f"{mm(drive.wheel_radius)}; the controller assumes one", "use equal wheels", radius * 1e3, 0.0, "mm")


def _of(wheels: Sequence[WheelFacet], says: str, hint: str, measured: float | None = None, allowed: float | None = None,
        unit: str | None = None) -> Finding:
    return finding("omni-uneven", says, hint=hint, where=[w.mark for w in wheels], of=[w.placement for w in wheels],
                   measured=measured, allowed=allowed, unit=unit)


def _degrees(angle: float) -> str:
    return f"{plain(math.degrees(math.remainder(angle, 2 * math.pi)), 1)}°"
