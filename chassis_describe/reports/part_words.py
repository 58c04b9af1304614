"""One part in plain words, for ``parts NAME``: what it is, how its axes lie, how it fits a lattice, what it carries."""
from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from chassis_describe.assembly.attitude import rotation_of
from chassis_describe.assembly.fitting import lattice_fit
from chassis_describe.assembly.model import bounds
from chassis_describe.assembly.seats import seat_moves
from chassis_describe.assembly.weigh import body_pose, weigh_part
from chassis_describe.layout.described.model import Description, DescriptionSource
from chassis_describe.layout.language.table_decks import LATTICE
from chassis_describe.layout.language.table_parts import WHEEL
from chassis_describe.layout.model import Adjustment, Caster, ImuNoise, Part, PartBody, Seat, Sensor, Wheel
from chassis_describe.space.pose import Pose
from chassis_describe.space.solids import half_extents
from chassis_describe.words import amount, millimetres

_WORDS: tuple[tuple[str, str], ...] = (("forward", "back"), ("left", "right"), ("up", "down"))
_LABEL = 12


def describe_part(part: Part) -> str:
    """All that a builder asks before drilling. Lengths in mm, weights in g, directions in the part's own words."""
    lines = [part.name + (f" - {part.about}" if part.about else "")]
    lines += [_row(label, text) for label, text in _rows(part)]
    return "\n".join(lines) + "\n"


def _row(label: str, text: str) -> str:
    return f"  {label:<{_LABEL}}{text}"


def _described(source: DescriptionSource) -> Iterable[tuple[str, str]]:
    """What a part with a description says of it; the rest is known where it is placed and expanded."""
    call = f", macro {source.macro}" if source.macro else ""
    yield "described", f"in {source.file}{call}; masses, links and joints come from there"
    for name, text in source.arguments.items():
        yield "", f"  {name}: {text}"
    if source.root is not None:
        yield "", f"  its link {source.root} is on the part's origin"


def _said(description: Description) -> Iterable[tuple[str, str]]:
    """Mass, links, and the joints that `set` moves, with what they may be and where they are unless `set`."""
    masses = [link.inertial.mass for link in description.links.values() if link.inertial is not None]
    yield "mass", f"{sum(masses) * 1e3:.4g} g in {len(masses)} links" if masses else "none of its links has any"
    yield "links", ", ".join(description.links) + f"; {description.root} is its root"
    at_rest = description.values({})
    for name, joint in description.joints.items():
        if joint.type == "fixed":
            continue
        scale, unit = (1e3, "mm") if joint.type == "prismatic" else (math.degrees(1.0), "degrees")
        span = ("without end" if joint.lower is None or joint.upper is None else
                f"{joint.lower * scale:.4g} to {joint.upper * scale:.4g} {unit}")
        follows = f", follows {joint.mimic[0]}" if joint.mimic else ""
        rest = f", at {at_rest[name] * scale:.4g} unless `set`" if abs(at_rest[name]) > 1e-9 and not joint.mimic else ""
        yield "joint", (f"{name}: {span} {'along' if joint.type == 'prismatic' else 'about'} {joint.child}'s "
                        f"{direction(joint.axis)}{follows}{rest}")


def _rows(part: Part) -> Iterable[tuple[str, str]]:
    if part.described is not None:
        yield from _described(part.described)
        if part.description is not None:
            yield from _said(part.description)
        yield "axes", "origin in the base plane; z away from what it is fixed to; x its own forward, y left"
        yield from _bolts(part)
        for sensor in part.sensors:
            yield from _sensor(sensor)
        for seat in part.seats.values():
            yield from _seat(part, seat)
        yield from _provenance(part)
        return
    weighed = weigh_part(part, moves=seat_moves(part, {}), mass=None, spacers=0.0, spacer_density=0.0)
    if weighed.bodies:
        low, high = bounds(weighed.bodies)
        yield "size", " x ".join(_mm(h - w) for w, h in zip(low, high)) + " mm: " + ", ".join(
            f"{name} {_mm(w)} to {_mm(h)}" for name, w, h in zip("xyz", low, high))
    else:
        yield "size", "no bodies"
    if weighed.inertial is not None:
        yield "mass", f"{weighed.inertial.mass * 1e3:.4g} g, centre at {_point(weighed.inertial.com)}"
    else:
        yield "mass", "not given: weigh it"
    if part.wheel is not None:
        yield "axes", "origin in the wheel's centre; y outward along the shaft"
    else:
        yield "axes", "origin in the base plane; z away from what it is fixed to; x its own forward, y left"
    if part.plate is not None:
        yield "plate", (f"{_mm(part.plate.size[0])} x {_mm(part.plate.size[1])} x {_mm(part.plate.thickness)} mm"
                        + (f", {part.plate.material}" if part.plate.material else ""))
    yield from _bolts(part)
    if part.wheel is not None:
        yield "wheel", _wheel(part.wheel)
    if part.caster is not None:
        yield "caster", _caster(part.caster)
    if part.motor is not None:
        yield "motor", f"{part.motor.torque:.4g} N·m stalled, {part.motor.speed * 30 / math.pi:.4g} rpm without load"
    for name, shaft in part.shafts.items():
        yield "shaft", f"{name} at {_point(shaft.at)}, out of the motor {direction(shaft.axis)}"
    for sensor in part.sensors:
        yield from _sensor(sensor)
    for seat in part.seats.values():
        yield from _seat(part, seat)
    for body in part.keep_clear:
        yield "keep clear", _clear(body)
    yield from _provenance(part)


def _provenance(part: Part) -> Iterable[tuple[str, str]]:
    """Terms, source, revision and who measured it, as they were written."""
    for key, text in part.provenance.items():
        yield key.replace("_", " "), text


def direction(v: Sequence[float]) -> str:
    """A direction in words: ``forward``; ``forward, 10 degrees up``; else the vector."""
    size = math.sqrt(sum(c * c for c in v))
    parts = sorted(((abs(c) / size, _WORDS[k][0 if c > 0 else 1]) for k, c in enumerate(v)), reverse=True)
    if parts[1][0] < 1e-9:
        return parts[0][1]
    if parts[2][0] < 1e-9:
        angle = math.degrees(math.atan2(parts[1][0], parts[0][0]))
        return f"{parts[0][1]}, {angle:.3g} degrees {parts[1][1]}"
    return "along [" + ", ".join(f"{c / size:.3g}" for c in v) + "]"


def _bolts(part: Part) -> Iterable[tuple[str, str]]:
    pitch, hole = LATTICE.defaults["pitch"], LATTICE.defaults["hole"]  # what a layout has that says nothing else
    fit = lattice_fit(part, pitch, hole)
    if part.bolts:
        how = (f"threads {_mm(part.tapped)} mm deep" if part.tapped is not None else
               f"holes of {_mm(part.bolt_hole)} mm" if part.bolt_hole is not None else "holes of the lattice's size")
        screw = f"{part.screw or 'screw of the lattice'}, "
        under = "" if part.tapped is not None else f", {_mm(part.flange)} mm under the screw head"
        round_ones = [at for n, at in enumerate(part.bolts) if n not in part.bolt_slots]
        slots = [f"slot of {_mm(slot.length)} x {_mm(slot.width)} mm at {_points([part.bolts[n]])}, along "
                 f"{direction((math.cos(slot.turn), math.sin(slot.turn), 0.0))}" for n, slot in part.bolt_slots.items()]
        holes = [f"{how} at {_points(round_ones)}"] if round_ones else []
        yield "bolts", f"{screw}{'; '.join([*holes, *slots])}{under}"
    lattice = f"a lattice of {_mm(pitch)} mm with holes of {_mm(hole)} mm: " if fit.places else ""
    yield "fits", lattice + fit.sentence


def _wheel(wheel: Wheel) -> str:
    text = (f"{_mm(wheel.diameter)} mm by {_mm(wheel.width)} mm, mid-plane {_mm(wheel.offset)} mm out from the shaft "
            "point")
    if wheel.rollers == "across":
        text += ", rollers along the rim"
    elif wheel.rollers:
        text += f", {wheel.rollers}-hand rollers"
    return text + (f", friction {wheel.friction:g}" if wheel.friction != WHEEL.defaults["friction"] else "")


def _caster(caster: Caster) -> str:
    height = f"{_mm(caster.at[2] + caster.diameter / 2)} mm from support to ground"
    if caster.kind == "ball":
        return f"ball of {_mm(caster.diameter)} mm, {height}"
    return (f"wheel of {_mm(caster.diameter)} mm by {_mm(caster.width or 0.0)} mm, trailing {_mm(caster.trail)} mm, "
            f"{height}")


def _sensor(sensor: Sensor) -> Iterable[tuple[str, str]]:
    pose = Pose(rotation_of(sensor.attitude))
    if sensor.link is not None:
        yield "sensor", f"{sensor.name} ({sensor.kind.replace('_', ' ')}) at the link {sensor.link}"
    else:
        yield "sensor", (f"{sensor.name} ({sensor.kind.replace('_', ' ')}) at {_point(sensor.at)}: x points "
                         f"{direction(pose.x_axis)}, z {direction(pose.z_axis)}")
    facts = list(_facts(sensor))
    if facts:
        yield "", "  " + ", ".join(facts)


def _facts(sensor: Sensor) -> Iterable[str]:
    if sensor.zero_beam:
        yield f"zero beam turned by {math.degrees(sensor.zero_beam):g} degrees"
    if sensor.kind == "ranger" and sensor.fov is not None:
        yield f"cone of {math.degrees(sensor.fov):.4g} degrees"
    elif sensor.fov is not None and sensor.fov < 2 * math.pi - 1e-9:
        yield f"sees {math.degrees(sensor.fov):.4g} degrees across"
    elif sensor.kind == "lidar":
        yield "sees all round"
    if sensor.layers > 1:
        span = sensor.vertical
        yield f"{sensor.layers} layers" + (
            f" from {math.degrees(span[0]):.4g} to {math.degrees(span[1]):.4g} degrees" if span else "")
    if sensor.samples:
        yield f"{sensor.samples} beams"
    if sensor.resolution:
        yield f"{sensor.resolution[0]} x {sensor.resolution[1]} pixels"
    if sensor.range:
        yield f"{sensor.range[0]:g} to {sensor.range[1]:g} m"
    if isinstance(sensor.noise, ImuNoise):
        yield f"noise of {math.degrees(sensor.noise.gyro):.4g} degrees/s and {sensor.noise.accel:.4g} m/s2"
    elif sensor.noise:
        yield f"noise of {sensor.noise * 1e3:.4g} mm"
    if sensor.rate:
        yield f"{sensor.rate:g} Hz"
    if sensor.radiation:
        yield sensor.radiation
    if sensor.looks:
        yield f"looks at the {sensor.looks}"
    if sensor.driver_tf:
        yield "its driver publishes the frames below"


def _seat(part: Part, seat: Seat) -> Iterable[tuple[str, str]]:
    pose = Pose(rotation_of(seat.attitude), seat.at)
    on = f" on {seat.link}" if seat.link is not None else ""
    text = f"{seat.name}{on} at {_point(seat.at)}: z points {direction(pose.z_axis)}, x {direction(pose.x_axis)}"
    if seat.lattice is not None:
        text += f"; lattice of {_mm(seat.lattice.pitch)} mm, holes of {_mm(seat.lattice.hole)} mm"
    yield "seat", text
    kinds: dict[str, list[tuple[float, float]]] = {}
    for bolt in seat.bolts:
        how = (f"threads {_mm(bolt.tapped)} mm deep" if bolt.tapped is not None else
               f"holes of {_mm(bolt.hole)} mm" if bolt.hole is not None else "holes")
        if bolt.countersink is not None:
            how += f", sunk behind to {_mm(bolt.countersink)} mm,"
        kinds.setdefault(how, []).append(bolt.at)
    for how, points in kinds.items():
        yield "", f"  {how} at {_points(points)}"
    for adjustment in seat.adjust:
        yield "", "  " + _adjustment(adjustment, pose)
    if not seat.bolts and seat.lattice is None:
        yield "", "  no holes: strap or glue what sits here"
    moving = sum((b.moves_with or "").partition(".")[0] == seat.name for b in part.bodies)
    if moving and seat.adjust:
        yield "", f"  {moving} {'body moves' if moving == 1 else 'bodies move'} along"


_MOTION = {"by_hand": "set", "driven": "driven", "free": "free"}


def _adjustment(adjustment: Adjustment, seat_in_part: Pose) -> str:
    axis = direction(adjustment.axis)
    where = f" through {_point(adjustment.pivot)}" if adjustment.pivot is not None else ""
    turns = adjustment.kind == "turn"
    unit = "degrees" if turns else "mm"
    if adjustment.range is None:
        span = "without end"
    else:
        low, high = (amount(v, adjustment.kind) for v in adjustment.range)
        span = f"{low} to {high} {unit}"
    kind = "follower" if adjustment.follows is not None else _MOTION[adjustment.motion]
    text = f"{kind} {adjustment.name}: {span} {'about' if turns else 'along'} the seat's {axis}{where}"
    if adjustment.follows is not None:
        follows = adjustment.follows
        plus = f" and {amount(follows.plus, adjustment.kind)} {unit}" if follows.plus else ""
        text += f", follows {follows.of}{plus}"
    elif adjustment.rest:
        text += f", at rest {amount(adjustment.rest, adjustment.kind)}"
    if adjustment.motor is not None:
        push = (f"{adjustment.motor.torque:.4g} N·m, {adjustment.motor.speed * 30 / math.pi:.4g} rpm" if turns else
                f"{adjustment.motor.torque:.4g} N, {adjustment.motor.speed * 1e3:.4g} mm/s")
        text += f" ({push})"
    lean = _lean(adjustment, seat_in_part) if turns else ""
    return text + (f"; positive turns {lean}" if lean else "")


def _lean(adjustment: Adjustment, seat_in_part: Pose) -> str:
    """Which way the seat's x starts to move for a positive angle: the cross product of axis and x, in part words."""
    a = adjustment.axis
    move = seat_in_part.vector((0.0, a[2], -a[1]))  # a × (1, 0, 0)
    if math.sqrt(sum(c * c for c in move)) < 0.5:
        return ""
    return f"its x {direction(move)}"


def _clear(body: PartBody) -> str:
    solid, pose = body_pose(PartBody(form=body.form, at=body.at, attitude=body.attitude, mark=body.mark), {})
    half = half_extents(solid, pose)
    return " x ".join(_mm(2 * h) for h in half) + f" mm around {_point(body.at)}"


def _mm(value: float) -> str:
    return millimetres(value, 3)


def _point(p: Sequence[float]) -> str:
    return "[" + ", ".join(_mm(c) for c in p) + "]"


def _points(points: Sequence[Sequence[float]]) -> str:
    return ", ".join(_point(p) for p in points)
