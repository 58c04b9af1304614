"""Wheels of an omni drive, as its controller assumes them: on one circle at equal angles, axles outward."""
from __future__ import annotations

import cmath
import math
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

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
    """What is off: one wheel against all others, where they agree without it; else each against the mean of all."""
    yield from _unequal(drive)
    circle = _Circle((0.0, 0.0), drive.circle_radius, drive.first_angle)
    wrong = [n for n, wheel in enumerate(drive.around) if _worse(_off(wheel, n, len(drive.around), circle)) > 1.0]
    if not wrong:
        return
    whose = "of all wheels"
    odd = _odd_one(drive.around)
    if odd is not None:
        wrong, circle, whose = [odd[0]], odd[1], "of the others"
    for n in wrong:
        yield _misplaced(drive.around, n, circle, whose)


class _Circle(NamedTuple):
    """Where wheels would stand: middle and radius (base_link, m), and the direction of the first (rad)."""

    middle: tuple[float, float]
    radius: float
    first: float


class _Off(NamedTuple):
    """How far a wheel is outside its circle (m), off its direction, and its axle off that (rad), due there."""

    outside: float
    angle: float
    lean: float
    due: float


def _off(wheel: WheelFacet, n: int, count: int, circle: _Circle) -> _Off:
    x, y = wheel.centre[0] - circle.middle[0], wheel.centre[1] - circle.middle[1]
    due = circle.first + 2 * math.pi * n / count
    lean = math.acos(max(-1.0, min(1.0, wheel.axis[0] * math.cos(due) + wheel.axis[1] * math.sin(due))))
    return _Off(math.hypot(x, y) - circle.radius, math.remainder(math.atan2(y, x) - due, 2 * math.pi), lean, due)


def _worse(off: _Off) -> float:
    """The worst of what is off, in what is allowed."""
    return max((abs(off.outside) - ON_GROUND) / OFF_CIRCLE, abs(off.angle) / OFF_ANGLE, off.lean / OFF_ANGLE)


def _odd_one(around: Sequence[WheelFacet]) -> tuple[int, _Circle] | None:
    """The one wheel without which all others are as they shall be, and the circle on which those stand; None: there is none.

    Places at equal angles are c + z·wⁿ in the complex plane, w = exp(2πi/count): c and z by least squares from the others. Two
    wheels alone always have such a circle: it is their axles that have to point out of its middle.
    """
    count = len(around)
    found = []
    for odd in range(count):
        rest = [(cmath.exp(2j * math.pi * n / count), complex(*w.centre[:2])) for n, w in enumerate(around) if n != odd]
        turns, places = sum(w for w, _ in rest), sum(p for _, p in rest)
        turned = sum(p * w.conjugate() for w, p in rest)
        whole = len(rest) ** 2 - abs(turns) ** 2
        if whole < 1e-9:
            return None
        middle = (places * len(rest) - turned * turns) / whole
        first = (turned * len(rest) - places * turns.conjugate()) / whole
        circle = _Circle((middle.real, middle.imag), abs(first), cmath.phase(first))
        worst = max(_worse(_off(w, n, count, circle)) for n, w in enumerate(around) if n != odd)
        if worst <= 1.0:
            found.append((worst, odd, circle))
    found.sort()
    return found[0][1:] if found and (len(found) == 1 or found[0][0] < found[1][0] / 2) else None


def _misplaced(around: Sequence[WheelFacet], n: int, circle: _Circle, whose: str) -> Finding:
    wheel, count = around[n], len(around)
    off = _off(wheel, n, count, circle)
    x, y = wheel.centre[0] - circle.middle[0], wheel.centre[1] - circle.middle[1]
    along = x * math.cos(off.due) + y * math.sin(off.due) - circle.radius
    left = y * math.cos(off.due) - x * math.sin(off.due)
    says, hints = [], []
    outside, aside = off.outside, 0.0
    if off.lean <= OFF_ANGLE:  # turned as it shall be: it was shifted, not turned about the middle
        outside, aside = along, left if abs(off.angle) > OFF_ANGLE else 0.0
    if abs(outside) > OFF_CIRCLE + ON_GROUND:
        says.append(f"stands {mm(abs(outside))} {'outside' if outside > 0 else 'inside'} the circle {whose}; the controller "
                    "assumes one distance from the middle")
        hints.append(f"bring {wheel.motor_placement} {mm(abs(outside))} {'in' if outside > 0 else 'out'}")
    if aside:
        says.append(f"stands {mm(abs(aside))} to the {'left' if aside > 0 else 'right'} of where its axle would point out of the "
                    "middle, seen from there")
        hints.append(f"bring {wheel.motor_placement} {mm(abs(aside))} to the {'right' if aside > 0 else 'left'}")
    elif abs(off.angle) > OFF_ANGLE:
        says.append(f"stands at {_degrees(off.due + off.angle)}; at equal angles it would be at {_degrees(off.due)}")
        hints.append(f"{count} wheels stand {plain(360 / count, 1)}° apart")
    elif off.lean > OFF_ANGLE:
        says.append(f"has its axle {plain(math.degrees(off.lean), 2)}° off the line out of the middle")
        hints.append(f"point its shaft outward, at {_degrees(off.due)}")
    measured, allowed, unit = (max(outside, aside, key=abs) * 1e3, OFF_CIRCLE * 1e3, "mm") \
        if aside or abs(outside) > OFF_CIRCLE + ON_GROUND else \
        (math.degrees(off.angle if abs(off.angle) > OFF_ANGLE else off.lean), math.degrees(OFF_ANGLE), "deg")
    return _of([wheel], f"{wheel.placement} {', and '.join(says)}", "; ".join(hints), measured, allowed, unit)


def _unequal(drive: DriveFacet) -> Iterator[Finding]:
    """Wheels of other radii than most."""
    radii = [w.radius for w in drive.around]
    usual = max(radii, key=lambda r: (sum(abs(r - other) <= ON_GROUND for other in radii), r))
    odd = [w for w in drive.around if abs(w.radius - usual) > ON_GROUND]
    if odd:
        sizes = listing(dict.fromkeys(mm(w.radius) for w in odd))
        yield _of(odd, f"{listing(w.placement for w in odd)} {'has a radius' if len(odd) == 1 else 'have radii'} of {sizes}, the "
                  f"other wheels of {mm(usual)}; the controller assumes one", "use equal wheels",
                  max((w.radius - usual for w in odd), key=abs) * 1e3, 0.0, "mm")


def _of(wheels: Sequence[WheelFacet], says: str, hint: str, measured: float | None = None, allowed: float | None = None,
        unit: str | None = None) -> Finding:
    return finding("omni-uneven", says, hint=hint, where=[w.mark for w in wheels], of=[w.placement for w in wheels],
                   measured=measured, allowed=allowed, unit=unit)


def _degrees(angle: float) -> str:
    return f"{plain(math.degrees(math.remainder(angle, 2 * math.pi)), 1)}°"
