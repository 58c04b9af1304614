"""Wheels as the drive controllers assume them: axes along y, left like right, mecanum rollers in an X."""
from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal

from chassis_describe.assembly.model import Assembly, DriveFacet, PlacedPart, WheelFacet
from chassis_describe.findings import Finding, Severity, finding
from chassis_describe.fit.lifts import lift_mark, new_lift
from chassis_describe.fit.omni import from_the_front
from chassis_describe.fit.remedy_words import points_inwards, turn_as_written
from chassis_describe.source import Mark
from chassis_describe.space.pose import Vec3
from chassis_describe.tolerances import ALONG_Y, ON_GROUND, SAME_ANGLE
from chassis_describe.words import count, listing, mm, plain

#: By how much the wheels of one axle may be shifted against each other (m): about what two motors on M3 screws in 3.5 mm
#: holes shift (0.5 mm each).
STAGGER = 1e-3


def axles_along_y(assembly: Assembly) -> Iterator[Finding]:
    """``axle-skewed``: a wheel whose axis is not along base y, steering straight ahead; of an omni drive see ``omni-uneven``."""
    for wheel in assembly.wheels:
        angle = _skew(wheel)
        if angle <= ALONG_Y or wheel.side == "around":
            continue
        x, y, z = wheel.zero_axis
        motor = assembly.parts[wheel.motor_placement]
        yaw, lean = math.degrees(math.atan2(abs(x), math.hypot(y, z))), math.degrees(math.atan2(abs(z), math.hypot(x, y)))
        ways = [f"{plain(a)}° {w}" for a, w in ((yaw, "in the plane of the deck"), (lean, "out of it")) if a > 1e-6]
        yield finding("axle-skewed", f"the axis of {wheel.placement} is not along the robot's y: it points "
                      f"{' and '.join(ways) or 'elsewhere'}", where=[_turn_mark(assembly, wheel), wheel.mark],
                      hint=_straight(motor, wheel.zero_axis, wheel.side),
                      of=[wheel.placement, motor.name], measured=math.degrees(angle), allowed=0.0, unit="deg")


def _skew(wheel: WheelFacet) -> float:
    """The angle between a wheel's axis and base y (rad)."""
    x, y, z = wheel.zero_axis
    return math.atan2(math.hypot(x, z), abs(y))


def _straight(motor: PlacedPart, axis: Vec3, side: str | None) -> str:
    """The turn that brings a shaft onto base y, where a turn does."""
    x, y, z = axis
    outward = motor.pose.z_axis[2]
    if motor.deck is None or abs(z) > SAME_ANGLE or abs(outward) < 1 - SAME_ANGLE:
        return f"mount {motor.name} so that its shaft points straight left or right"
    to = y
    if abs(y) < 0.5 * math.hypot(x, y):  # neither way is much nearer: outward
        to = {"left": 1.0, "right": -1.0}.get(side or "", y)
    by = math.remainder(math.copysign(math.pi / 2, to) - math.atan2(y, x), 2 * math.pi)
    return f"`{turn_as_written(motor.placement, motor.turn + math.copysign(by, by * outward))}` for {motor.name}"


def left_like_right(assembly: Assembly) -> Iterator[Finding]:
    """``axles-unlike``: wheels of one axle that differ in radius or height; an error where they are listed in wrong places."""
    drive = assembly.drive
    if drive is None:
        return
    yield from _front_to_rear(assembly, drive)
    for left, right in zip(drive.left, drive.right):
        where = [lift_mark(assembly, left.placement), lift_mark(assembly, right.placement)]
        of = [left.placement, right.placement]
        if left.centre[1] <= right.centre[1]:
            yield finding("axles-unlike", f"{left.placement} is listed on the left and {right.placement} on the right, but "
                          "they stand the other way round", hint=_other_way_round(assembly, left, right),
                          where=[assembly.layout.drive.mark if assembly.layout.drive else None, left.mark, right.mark],
                          of=of, measured=(left.centre[1] - right.centre[1]) * 1e3, allowed=0.0, unit="mm",
                          severity=Severity.ERROR)
        radii, heights = abs(left.radius - right.radius), abs(left.centre[2] - right.centre[2])
        if radii > ON_GROUND:
            yield finding("axles-unlike", f"{left.placement} has a radius of {mm(left.radius)}, {right.placement} of "
                          f"{mm(right.radius)}; the controllers assume one", hint="use equal wheels on both sides",
                          where=[left.mark, right.mark], of=of, measured=radii * 1e3, allowed=0.0, unit="mm")
        if heights > ON_GROUND:
            high = left if left.centre[2] > right.centre[2] else right
            yield finding("axles-unlike", f"the centre of {high.placement} is {mm(heights)} higher than that of "
                          f"{(right if high is left else left).placement}", where=where, of=of,
                          hint=_alike(assembly, high, right if high is left else left),
                          measured=heights * 1e3, allowed=0.0, unit="mm")


def _alike(assembly: Assembly, high: WheelFacet, low: WheelFacet) -> str:
    """What to do about wheels of different heights: what the motors' placements differ in, or the lift that makes up for it."""
    one, other = (assembly.parts[w.motor_placement] for w in (high, low))
    differ = [word for word, a, b in (("face", one.face, other.face), ("lift", one.placement.lift, other.placement.lift),
                                      ("offset", one.placement.offset[2], other.placement.offset[2])) if a != b]
    if differ:
        return f"give both motors the same {' and the same '.join(f'`{word}`' for word in differ)}"
    if one.part.name != other.part.name:
        return f"{one.name} is a {one.part.name}, {other.name} a {other.part.name}: take the same motor on both sides"
    lifts = [(m, new_lift(m, up)) for m, up in ((other, high.centre[2] - low.centre[2]), (one, low.centre[2] - high.centre[2]))]
    ways = [f"`lift: {plain(lift * 1e3, 3)}` for {m.name}" for m, lift in lifts if lift is not None and lift > -1e-9]
    cause = "the way that they are turned" if abs(math.remainder(one.turn - other.turn, 2 * math.pi)) > SAME_ANGLE else \
        "what carries them" if (one.placement.on, one.placement.seat) != (other.placement.on, other.placement.seat) else \
        "their settings"
    return f"face and lift are alike: it comes from {cause}{f'; {ways[0]} makes up for it' if ways else ''}"


def axles_in_line(assembly: Assembly) -> Iterator[Finding]:
    """``axles-staggered``: a wheel further forward than its partner on the other side, by more than motors shift in their
    holes. One finding for a drive, the worst axle named: where a whole side is shifted, all are."""
    drive = assembly.drive
    if drive is None or len(drive.left) != len(drive.right):
        return
    sides = [sorted(side, key=lambda w: -w.centre[0]) for side in (drive.left, drive.right)]
    pairs = sorted(zip(*sides), key=lambda p: -abs(p[0].centre[0] - p[1].centre[0]))
    off = [p for p in pairs if abs(p[0].centre[0] - p[1].centre[0]) > STAGGER + ON_GROUND
           and not any(_skew(w) > ALONG_Y for w in p)]  # a skewed one is further off already: said by ``axle-skewed``
    if not off:
        return
    ahead, behind = sorted(off[0], key=lambda w: -w.centre[0])
    by = ahead.centre[0] - behind.centre[0]
    more = f", and {count(len(off) - 1, 'more axle')} likewise" if len(off) > 1 else ""
    yield finding("axles-staggered", f"{behind.placement} is {mm(by)} behind {ahead.placement}{more}; the controllers assume "
                  "that the wheels of an axle face each other: it scrubs when it turns",
                  hint=f"bring {behind.motor_placement} {mm(by)} forward, or {ahead.motor_placement} back",
                  where=[_place_mark(assembly, behind), _place_mark(assembly, ahead)], of=[behind.placement, ahead.placement],
                  measured=by * 1e3, allowed=STAGGER * 1e3, unit="mm")


def _place_mark(assembly: Assembly, wheel: WheelFacet) -> Mark:
    """Where the motor of a wheel was put."""
    motor = assembly.parts[wheel.motor_placement]
    return motor.placement.screws_mark or motor.placement.marks.get("at") or motor.mark


def motors_named(assembly: Assembly) -> Iterator[Finding]:
    """``wheel-not-driven``: wheels on motors that no ``drive`` names; one finding for all of them, the cause is one."""
    idle = [w for w in assembly.wheels if w.motor is not None and w.side is None]
    if not idle:
        return
    sides = {side: sorted((w for w in assembly.wheels if w.motor is not None and (w.centre[1] > 0) == (side == "left")),
                          key=lambda w: -w.centre[0]) for side in ("left", "right")}
    names = [w.placement for w in idle]
    even = len(sides["left"]) == len(sides["right"]) > 0
    kind = "mecanum" if all(w.rollers for side in sides.values() for w in side) and len(sides["left"]) == 2 else \
        "differential" if len(sides["left"]) == 1 else "skid_steer"
    lists = ", ".join(f"{side}: [{', '.join(w.placement for w in wheels)}]" for side, wheels in sides.items())
    motors = [w for w in assembly.wheels if w.motor is not None]
    if len(motors) >= 3 and all(w.rollers == "across" for w in motors):
        even, kind, lists = True, "omni", f"wheels: [{', '.join(w.placement for w in from_the_front(motors))}]"
    drive = assembly.layout.drive
    why = "the layout has no `drive`" if drive is None else "`drive` does not name it" if len(idle) == 1 else \
        "`drive` names none of them"
    verb = "is on a motor" if len(idle) == 1 else "are on motors"
    yield finding("wheel-not-driven", f"{listing(names)} {verb}, and {why}: no controller turns "
                  f"{'it' if len(idle) == 1 else 'them'}",
                  hint=f"`drive: {{kind: {kind}, {lists}}}`" if even else "name the driven wheels under `drive`, as many on the "
                  "left as on the right; a wheel that only rolls along goes on a part without `motor`",
                  where=[drive.mark if drive is not None else idle[0].mark, *(w.mark for w in idle)], of=names)


def _other_way_round(assembly: Assembly, left: WheelFacet, right: WheelFacet) -> str:
    """What to do about wheels on the wrong side: where both shafts point inwards, the motors are the wrong way round."""
    motors = [assembly.parts[w.motor_placement] for w in (left, right)]
    if not all(points_inwards(assembly, m) for m in motors):
        return "exchange `left` and `right` under `drive`"
    written = [m for m in motors if m.placement.mirror_of not in {w.name for w in motors}]
    ways = " and ".join(f"`{turn_as_written(m.placement, m.turn + math.pi)}` for {m.name}" for m in written)
    return f"both shafts point inwards: turn the motors round, {ways}"


def _front_to_rear(assembly: Assembly, drive: DriveFacet) -> Iterator[Finding]:
    """Wheels of one side listed rear first: controllers go by the place in the list (front left, rear left)."""
    layout = assembly.layout.drive
    for side, wheels in (("left", drive.left), ("right", drive.right)):
        for first, then in zip(wheels, wheels[1:]):
            if first.centre[0] >= then.centre[0] - ON_GROUND:
                continue
            order = ", ".join(w.placement for w in sorted(wheels, key=lambda w: -w.centre[0]))
            yield finding("axles-unlike", f"{first.placement} is listed before {then.placement} but stands behind it",
                          hint=f"front to rear: `{side}: [{order}]`", where=[layout.mark if layout else None, first.mark],
                          of=[first.placement, then.placement], measured=(first.centre[0] - then.centre[0]) * 1e3,
                          allowed=0.0, unit="mm", severity=Severity.ERROR)
            break


def rollers_form_x(assembly: Assembly) -> Iterator[Finding]:
    """``rollers-wrong``: mecanum wheels whose rollers don't form an X seen from above.

    The controller turns the front left wheel at (vx - vy - k·ω)/r (ros2_controllers jazzy:
    mecanum_drive_controller/src/mecanum_drive_controller.cpp, ``update_and_write_commands``). A roller lets the contact
    slip across its own axis e only: r·w = vx + vy·ey/ex, so at the ground e = (1, -1) there, and (1, 1) on top of the
    wheel, where one sees it: towards the middle of the robot. Sold as "left": the wheel for front left and rear right, whose
    roller, seen by who stands before the wheel, rises to the left (common practice).
    """
    drive = assembly.drive
    if drive is None or drive.kind != "mecanum":
        return
    middle = sum(w.centre[0] for w in (*drive.left, *drive.right)) / len((*drive.left, *drive.right))
    wrong = [w for w in (*drive.left, *drive.right) if w.rollers != expected_hand(w, middle)]
    unknown = [w for w in wrong if w.rollers is None]
    for wheel in unknown:
        yield finding("rollers-wrong", f"{wheel.placement} drives a mecanum robot but its part states no rollers",
                      hint=f"`rollers: {expected_hand(wheel, middle)}` under `wheel` of the part, if it has those",
                      where=[wheel.mark, assembly.parts[wheel.placement].part.mark], of=[wheel.placement])
    wrong = [w for w in wrong if w.rollers is not None]
    if wrong:
        yield _rollers(drive, wrong, middle)


def expected_hand(wheel: WheelFacet, middle: float) -> Literal["left", "right"]:
    """The hand of the rollers that belong there; ``middle``: x between front and rear axle (base_link, m)."""
    front = wheel.centre[0] >= middle
    return "left" if front == (wheel.side == "left") else "right"


def _rollers(drive: DriveFacet, wrong: list[WheelFacet], middle: float) -> Finding:
    names = [w.placement for w in wrong]
    wanted = listing((f"{expected_hand(w, middle)}-hand rollers on {w.placement}" for w in wrong), most=8)
    if len(wrong) == len(drive.left) + len(drive.right):
        says = "the rollers form an O seen from above, the controller assumes an X: the robot would not turn"
        hint = f"exchange the wheels of the two sides: {wanted}"
    else:
        says = f"the rollers of {listing(names)} don't form an X seen from above, as the controller assumes"
        hint = f"it takes {wanted}"
    return finding("rollers-wrong", says, hint=hint, where=[w.mark for w in wrong], of=names)


def _turn_mark(assembly: Assembly, wheel: WheelFacet) -> Mark:
    motor = assembly.parts[wheel.motor_placement]
    marks = motor.placement.marks
    return marks.get("turn") or marks.get("points") or motor.mark
