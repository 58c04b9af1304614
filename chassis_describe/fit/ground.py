"""Standing: contacts, tilt, support and tip-over."""
from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence

from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.footprint import under_a_plate, unrounded_hull
from chassis_describe.facts.standing import Standing, standing
from chassis_describe.findings import Finding, Severity, finding
from chassis_describe.fit.axles import axles_along_y, axles_in_line, left_like_right, motors_named, rollers_form_x
from chassis_describe.fit.clearance import clear_of_ground
from chassis_describe.fit.lifts import carrier, driven_of, levelling_hint, lift_mark, new_lift, remedy_marks, tilt_degrees
from chassis_describe.fit.omni import omni_even
from chassis_describe.fit.steering import steers_alike, steers_left
from chassis_describe.source import Mark
from chassis_describe.space.plane.hull import Vec2, convex_hull, depth, edge_distance, edges
from chassis_describe.tolerances import ON_GROUND, REACHED
from chassis_describe.words import away_from, count, heading, listing, mm, plain


def enough_contacts(assembly: Assembly) -> Iterator[Finding]:
    """``few-contacts``: fewer than three not in line, on a robot with a drive or a caster."""
    rest = assembly.rest
    if rest is None or rest.status != "degenerate" or (assembly.drive is None and not assembly.casters):
        return
    names = [c.name for c in rest.contacts]
    feet = [c.point[:2] for c in rest.contacts]
    mark = assembly.layout.drive.mark if assembly.layout.drive is not None else assembly.parts[names[0]].mark
    hint = "add a caster off the line between the wheels; until then the robot is described as level"
    if len(names) < 3:
        line = ""
    elif in_line(feet):
        line = ", all in one line"
    else:  # three contacts whose plane is too steep to be a ground
        line = ", which lie on no plane that could be a ground: their heights differ too much"
        hint = levelling_hint(assembly) or hint
    yield finding("few-contacts", f"the robot can't stand on {count(len(names), 'ground contact')}{line}: {listing(names)}",
                  hint=hint, where=[mark, *_contact_marks(assembly, names)], of=names, measured=float(len(names)), allowed=3.0)


def stands_level(assembly: Assembly) -> Iterator[Finding]:
    """``rests-tilted``: by more than the limit, with the lift that would level it."""
    rest = assembly.rest
    if rest is None:
        return
    tilt, limit = tilt_degrees(rest.normal), assembly.layout.limits["rest_tilt_deg"]
    if tilt <= limit:
        return
    roll, pitch, _ = (math.degrees(a) for a in rest.base_in_ground.rpy)
    ways = [(roll, "right side down", "left side down"), (pitch, "nose down", "nose up")]
    said = " and ".join(f"{plain(abs(v))}° {plus if v > 0 else minus}" for v, plus, minus in ways if abs(v) >= 0.005)
    off = _not_driven(assembly)
    yield finding("rests-tilted", f"the robot rests tilted by {plain(tilt)}° ({said}) on {listing(rest.touching)}",
                  hint=levelling_hint(assembly),
                  where=[*remedy_marks(assembly), *(lift_mark(assembly, n) for n in off or rest.touching)],
                  of=off or rest.touching, measured=tilt, allowed=limit, unit="deg")


def stands_one_way(assembly: Assembly) -> Iterator[Finding]:
    """``rocks``: two or more stable faces; a note where all that is between them is what a floor and tyres give."""
    rest, stand = assembly.rest, standing(assembly)
    if rest is None or stand is None or rest.status not in ("rocks", "stable"):
        return
    if stand.rocks_by and all(c.gap <= REACHED for c in rest.contacts if any(c.name in f for f in rest.other_faces)):
        yield _rocks_a_little(assembly, stand)
        return
    if rest.status != "rocks":
        return
    other = rest.other_faces[0]
    gap = max(c.gap for c in rest.contacts if c.name in other)
    others = " or ".join(listing(f) for f in rest.other_faces)
    of = tuple(dict.fromkeys((*rest.touching, *(n for f in rest.other_faces for n in f))))
    yield finding("rocks", f"the robot rocks: it stands on {listing(rest.touching)}, and as well on {others}",
                  hint=levelling_hint(assembly) or "move weight towards the contacts that shall touch",
                  where=[lift_mark(assembly, n) for n in _remedy_first(assembly, of)], of=of,
                  measured=gap * 1e3, allowed=0.0, unit="mm")


def _rocks_a_little(assembly: Assembly, stand: Standing) -> Finding:
    lifted = sorted(stand.rocks_by, key=lambda n: -stand.rocks_by[n])
    by = stand.rocks_by[lifted[0]]
    return finding("rocks", f"the robot rocks by {mm(by)}: it stands on {listing(stand.touching)}, and {listing(lifted)} "
                   f"{'hangs' if len(lifted) == 1 else 'hang'} just over the ground; loads and tip angles count all of them",
                   hint=levelling_hint(assembly) or f"a washer of {mm(by)} under {lifted[0]} would bring it down",
                   where=[lift_mark(assembly, n) for n in lifted], of=(*lifted, *stand.touching), measured=by * 1e3,
                   allowed=0.0, unit="mm", severity=Severity.NOTE)


def contacts_reach(assembly: Assembly) -> Iterator[Finding]:
    """``contact-lifted``: a wheel or caster off the ground at rest; an error for a driven wheel."""
    rest = assembly.rest
    if rest is None or rest.status == "degenerate":
        return
    driven = driven_of(assembly)
    for contact in rest.contacts:
        if contact.gap <= REACHED:
            continue
        name = contact.name
        level = levelling_hint(assembly)
        if name not in driven and not level:
            lift = new_lift(carrier(assembly, name), -contact.gap / rest.normal[2])
            level = f"`lift: {plain(lift * 1e3, 3)}` for {name}" if lift is not None and lift >= 0 else ""
        what = "driven wheel " if name in driven else ""
        yield finding("contact-lifted", f"{what}{name} is {mm(contact.gap)} off the ground while the robot stands on "
                      f"{listing(rest.touching)}", hint=level, of=[name],
                      where=[lift_mark(assembly, n) for n in (_not_driven(assembly) if name in driven else ())]
                      + [lift_mark(assembly, name)],
                      measured=contact.gap * 1e3, allowed=REACHED * 1e3, unit="mm",
                      severity=Severity.ERROR if name in driven else None)


def mass_over_support(assembly: Assembly) -> Iterator[Finding]:
    """``outside-support``: the centre of mass projects outside the support polygon."""
    stand = standing(assembly)
    if assembly.rest is None or assembly.rest.status != "outside" or stand is None or stand.com is None:
        return
    feet = convex_hull(stand.feet)
    target = _nearest_point(feet, stand.com[:2])
    dx, dy = target[0] - stand.com[0], target[1] - stand.com[1]
    moves = [(dx, "forward", "back"), (dy, "left", "right")]
    said = " and ".join(f"{mm(abs(v))} {plus if v > 0 else minus}" for v, plus, minus in moves if abs(v) > 5e-6)
    away = math.hypot(dx, dy)
    yield finding("outside-support", f"the centre of mass lies {mm(away)} outside the support polygon of "
                  f"{listing(stand.touching)}: the robot falls over", where=_contact_marks(assembly, stand.touching),
                  hint=f"it must come more than {said}: move the heaviest parts, or a caster to the other side",
                  of=stand.touching, measured=-away * 1e3, allowed=0.0, unit="mm")


def tips_late(assembly: Assembly) -> Iterator[Finding]:
    """``tips-early``: an edge of the support polygon over which the robot tips at less than the limit."""
    stand = standing(assembly)
    if stand is None or assembly.rest is None or assembly.rest.status in ("outside", "degenerate"):
        return
    limit = assembly.layout.limits["tip_angle_deg"]
    for tip in stand.tips:
        angle = math.degrees(tip.angle)
        if angle >= limit or stand.com is None:
            continue
        names = [stand.reached[k] for k in tip.ends]
        short = stand.com[2] * math.tan(math.radians(limit)) - tip.distance
        (ax, ay), (bx, by) = (stand.feet[k] for k in tip.ends)
        towards = away_from((by - ay, ax - bx), (ax, ay), stand.feet)
        inwards = f"{mm(short)} {heading(-towards[0], -towards[1])}"
        yield finding("tips-early", f"the robot tips {heading(*towards)}, over the line {names[0]} - {names[1]}, on a slope of "
                      f"{plain(angle, 1)}°, or at "
                      f"{plain(max(tip.acceleration, 0.0))} m/s² on level ground",
                      hint=f"bring the centre of mass {inwards}, or lower it from "
                      f"{mm(stand.com[2])} to {mm(tip.distance / math.tan(math.radians(limit)))}"
                      if 0 < limit < 90 and tip.distance > 0 else f"bring the centre of mass {inwards}",
                      where=_contact_marks(assembly, names), of=names, measured=angle, allowed=limit, unit="deg")


def base_in_footprint(assembly: Assembly) -> Iterator[Finding]:
    """``base-outside-footprint``: consumers take the base origin for the middle of the robot."""
    if assembly.rest is None or under_a_plate(assembly):
        return
    hull = unrounded_hull(assembly)
    if len(hull) < 3:
        return
    inside = depth(hull, (0.0, 0.0))
    if inside <= 0:
        mark = assembly.layout.drive.mark if assembly.layout.drive is not None else assembly.layout.base_deck.mark
        yield finding("base-outside-footprint", f"the base origin lies {mm(-inside)} outside the footprint; planners turn "
                      "and measure the robot about it", hint="the base origin is midway between the driven wheels, or at the "
                      "base deck's [0, 0] where there are none: put one of them under the robot", where=[mark],
                      measured=inside * 1e3, allowed=0.0, unit="mm")


def in_line(points: Sequence[Vec2]) -> bool:
    """Whether all points lie on one line, seen from above, to a micrometre."""
    hull = convex_hull(points)
    return len(hull) < 3 or min(max(edge_distance(a, b, p) for p in hull) for a, b in edges(hull)) <= ON_GROUND


def _contact_marks(assembly: Assembly, names: Iterable[str]) -> list[Mark]:
    return [assembly.parts[n].mark for n in names]


def _not_driven(assembly: Assembly) -> tuple[str, ...]:
    """Casters and idle wheels: what one would lift to level the robot."""
    return (*(w.placement for w in assembly.wheels if w.side is None), *(c.placement for c in assembly.casters))


def _remedy_first(assembly: Assembly, names: Iterable[str]) -> list[str]:
    """What one would lift before the driven wheels, which stay."""
    movable = _not_driven(assembly)
    return sorted(names, key=lambda n: n not in movable)


def _nearest_point(polygon: tuple[Vec2, ...], p: Vec2) -> Vec2:
    if len(polygon) == 1:
        return polygon[0]
    best: list[tuple[float, Vec2]] = []
    for (ax, ay), (bx, by) in edges(polygon):
        dx, dy = bx - ax, by - ay
        s = min(1.0, max(0.0, ((p[0] - ax) * dx + (p[1] - ay) * dy) / (dx * dx + dy * dy)))
        q = (ax + s * dx, ay + s * dy)
        best.append((math.dist(p, q), q))
    return min(best)[1]


#: The rules about the ground, for the table of checks.
GROUND_CHECKS: tuple[Callable[[Assembly], Iterable[Finding]], ...] = (
    enough_contacts, stands_level, stands_one_way, contacts_reach, clear_of_ground, mass_over_support, tips_late,
    base_in_footprint, axles_along_y, left_like_right, axles_in_line, motors_named, rollers_form_x,
    omni_even, steers_left, steers_alike)
