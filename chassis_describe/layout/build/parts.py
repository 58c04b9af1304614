"""Parts from what was read of them, and the rules that join two of their keys."""
from __future__ import annotations

import math
from typing import Any

from chassis_describe.layout.build.adjustments import moving_bodies, seat_adjustments
from chassis_describe.layout.build.decks import attitude, lattice
from chassis_describe.layout.build.described import described_source, resolved
from chassis_describe.layout.build.flat import part_plate
from chassis_describe.layout.build.part_taken import PartTaken
from chassis_describe.layout.build.plausible import check_bolts, check_position, check_reach, check_view
from chassis_describe.layout.language.reading import Reading
from chassis_describe.layout.language.record import Taken
from chassis_describe.layout.language.table_parts import SENSOR_KEYS, SENSOR_OWN_KEYS
from chassis_describe.layout.model import (
    PROVENANCE,
    Adjustment,
    BoltSlot,
    BoxForm,
    Caster,
    CylinderForm,
    Form,
    GivenInertia,
    ImuNoise,
    Motor,
    Part,
    PartBody,
    PartMesh,
    Seat,
    SeatBolt,
    Sensor,
    Shaft,
    SphereForm,
    Vec2,
    Wheel,
)
from chassis_describe.layout.part_plate import with_plate
from chassis_describe.space.mass import TENSOR
from chassis_describe.space.realisable import fault_of_moments
from chassis_describe.tolerances import SAME_LENGTH
from chassis_describe.units import LENGTH, show, shown
from chassis_describe.yaml_text.nodes import Node, Scalar, Seq, mark_of


def build_part(p: PartTaken, r: Reading) -> Part | None:
    """One part, or None after a report."""
    before = len(r.findings)
    bodies, meshes = _bodies(p, r)
    clear = _keep_clear(p, r)
    adjust = seat_adjustments(p.get("seats") or {}, r)
    seats = {name: s for name, t in (p.get("seats") or {}).items() if t and (s := _seat(name, t, adjust[name], r)) is not None}
    for t in (p.get("seats") or {}).values():
        if t is not None:
            _link(p, t, r)
    shafts = {name: _shaft(p, name, t, r) for name, t in (p.get("shafts") or {}).items() if t and t.get("axis") is not None}
    sensors = tuple(_sensor(p, name, t, r) for name, t in (p.get("sensors") or {}).items()
                    if t and t.get("kind") is not None)
    inertia = _inertia(p, r)
    motor, wheel, caster = _motor(p), _wheel(p), _caster(p, r)
    source = described_source(p, r)
    flat = part_plate(p, r)
    _joined(p, r, bodies, meshes, clear)
    _moving(p, r, seats, bodies)
    if p.has("com"):
        check_position(p.source["com"], "com", "a centre of mass", r)
    halves = (wheel is None and p.has("wheel")) or (caster is None and p.has("caster"))  # what is wrong inside was reported
    if len(r.findings) > before or halves or any(p.source[k].faulty(k) for k in p.source):
        return None
    bolts = _bolts(p)
    part = Part(
        name=p.name, about=p.get("about", ""), provenance={k: v for k in PROVENANCE if (v := p.get(k))},
        mass=p.get("mass"), bodies=bodies, plate=flat, meshes=meshes, com=p.get("com"),
        inertia=inertia, bolts=tuple(at for at, _, _ in bolts),
        bolt_slots={n: slot for n, (_, slot, _) in enumerate(bolts) if slot is not None},
        bolt_marks=tuple(mark_of(n, p.source["bolts"].within("bolts")) for _, _, n in bolts),
        bolt_hole=p.get("bolt_hole"), tapped=p.get("tapped"), screw=p.get("screw"),
        flange=flat.thickness if flat is not None and not p.has("flange") else p.get("flange"),
        keep_clear=clear, sensors=sensors, seats=seats, shafts=shafts, motor=motor, wheel=wheel, caster=caster,
        described=source, mark=p.own.mark(), marks={k: t.mark(k) for k, t in p.source.items()})
    return part if flat is None else with_plate(part, p.get("plate").get("color"))


def _bolts(p: PartTaken) -> list[tuple[Vec2, BoltSlot | None, Node]]:
    """Where each bolt is, the slot that it stands in if any, and where that was written; faulty ones have been reported."""
    out: list[tuple[Vec2, BoltSlot | None, Node]] = []
    for value, node in p.get("bolts") or ():
        if not isinstance(value, Taken):
            out.append((value, None, node))
        elif value.get("at") is not None and value.get("slot") is not None:
            length, width = value.get("slot")
            out.append((value.get("at"), BoltSlot(length=length, width=width, turn=value.get("turn")),
                        value.at("at")))
    return out


def _slots(p: PartTaken, r: Reading) -> None:
    """Rules about the slots among the bolts."""
    for value, _ in p.get("bolts") or ():
        if not isinstance(value, Taken) or value.get("slot") is None:
            continue
        length, width = value.get("slot")
        if length < width - SAME_LENGTH:
            r.fault("bad-value", "a slot is at least as long as it is wide", value.at("slot"), value.within("slot"),
                    hint=f"length first: `[{_text(value.at('slot'), 1)}, {_text(value.at('slot'), 0)}]`")
        if p.has("tapped"):
            r.fault("meaningless-key", "a slot has no thread", value.keys["slot"], value.within("slot"),
                    hint="leave `tapped` out: screws go through the slots, with nuts", also=[p.mark("tapped")])


def _form(t: Taken) -> Form | None:
    v = t.values
    if "box" in v:
        return BoxForm(size=v["box"])
    if "cylinder" in v:
        return CylinderForm(diameter=v["cylinder"][0], length=v["cylinder"][1], axis=t.get("axis"))
    return SphereForm(diameter=v["sphere"]) if "sphere" in v else None


def _bodies(p: PartTaken, r: Reading) -> tuple[tuple[PartBody, ...], tuple[PartMesh, ...]]:
    bodies, meshes = [], []
    for t, _ in p.get("bodies") or ():
        _only_with(t, r, "axis", ("cylinder",), "only a cylinder has an axis; turn others with `rpy`")
        _only_with(t, r, "scale", ("mesh",), "only a mesh has a scale")
        if t.has("mesh"):
            if t.has("mass"):
                r.fault("meaningless-key", "a mesh is for the eye only and has no mass", t.keys["mass"],
                        t.within("mass"), hint="give the mass to a solid beside it, or to the part")
            if t.get("mesh") is not None:
                scale = t.get("scale")
                meshes.append(PartMesh(
                    file=resolved(t.get("mesh"), t.at("mesh").file), scale=scale if isinstance(scale, tuple) else (scale,) * 3,
                    at=t.get("at"), attitude=attitude(t), moves_with=_with(p, t, r, swivels=True), color=t.get("color"),
                    mark=t.mark()))
            continue
        form = _form(t)
        check_position(t, "at", "the middle of a body", r)
        if form is not None:
            bodies.append(PartBody(form=form, at=t.get("at"), attitude=attitude(t), mass=t.get("mass"),
                                   color=t.get("color"), moves_with=_with(p, t, r, swivels=True), mark=t.mark()))
    return tuple(bodies), tuple(meshes)


def _keep_clear(p: PartTaken, r: Reading) -> tuple[PartBody, ...]:
    out = []
    for t, _ in p.get("keep_clear") or ():
        _only_with(t, r, "axis", ("cylinder",), "only a cylinder has an axis; turn others with `rpy`")
        for key, why in (("mesh", "space to keep clear is a box, a cylinder or a sphere"),
                         ("scale", "only a mesh has a scale"), ("mass", "empty space has no mass")):
            if t.has(key):
                r.fault("meaningless-key", why, t.keys[key], t.within(key), hint=f"leave `{key}` out")
        form = _form(t)
        if form is not None:
            out.append(PartBody(form=form, at=t.get("at"), attitude=attitude(t), color=t.get("color"),
                                moves_with=_with(p, t, r, swivels=True), mark=t.mark()))
    return tuple(out)


def _only_with(t: Taken, r: Reading, key: str, needs: tuple[str, ...], why: str) -> None:
    if t.has(key) and not any(t.has(n) for n in needs) and any(t.has(n) for n in ("box", "cylinder", "sphere", "mesh")):
        r.fault("meaningless-key", why, t.keys[key], t.within(key), hint=f"leave `{key}` out")


def _with(p: PartTaken, t: Taken, r: Reading, *, swivels: bool = False) -> str | None:
    """What a thing moves with, when that exists. ``swivels``: the fork of a swivel caster will do, too."""
    name: str | None = t.get("with")
    if name is None:
        return None
    seats = p.get("seats") or {}
    caster: Taken | None = p.get("caster")
    if swivels and name == "swivel" and name not in seats and caster is not None and caster.has("wheel"):
        return name
    seat, dot, adjustment = name.partition(".")
    taken: Taken | None = seats.get(seat)
    inner = [a.get("name") for a, _ in taken.get("adjust", ())] if taken is not None else []
    if seat in seats and (not dot or taken is None or adjustment in inner or taken.faulty("adjust")):
        return name
    also = [p.mark("seats")] if p.has("seats") else []
    if t.path[:2] == p.own.path[:2]:
        if seat in seats:
            r.unknown("unknown-name", f"an adjustment of the seat `{seat}`", adjustment, [n for n in inner if n], t.at("with"),
                      t.within("with"), also=also)
        else:
            r.unknown("unknown-name", "a seat of this part", name, seats, t.at("with"), t.within("with"), also=also)
    else:  # the fault is in what this part says differently from the one that it is like
        r.fault("unknown-name", f"a body that `{p.name}` takes over moves with the {'adjustment' if seat in seats else 'seat'} "
                f"`{name}`, which `{p.name}` doesn't have", p.own.mark("seats"),
                hint=f"keep a seat `{seat}`, or give `bodies` here as well", also=[t.mark("with")])
    return name


def _sensor(p: PartTaken, name: str, t: Taken, r: Reading) -> Sensor:
    v, kind = t.values, t.get("kind")
    for key in t.keys:
        if key in SENSOR_OWN_KEYS and key not in SENSOR_KEYS[kind]:
            of = [k for k, keys in SENSOR_KEYS.items() if key in keys]
            r.fault("meaningless-key", f"`{key}` means nothing for a sensor of kind `{kind}`", t.keys[key],
                    t.within(key), hint=f"it belongs to {', '.join(of)}; leave it out here")
    layers = t.get("layers")
    if layers > 1 and not t.has("vertical"):
        r.fault("missing-key", f"a lidar of {layers} layers needs `vertical`", t.keys["layers"], t.within("layers"),
                hint="the lowest and highest elevation, like `vertical: [-15, 15]`")
    for key, words in (("range", "nearest first"), ("vertical", "lowest first")):
        pair: Vec2 | None = v.get(key)
        if pair is not None and (pair[0] > pair[1] or (key == "range" and pair[1] == 0.0)):
            r.fault("bad-value", f"`{key}` goes up: {words}", t.at(key), t.within(key),
                    hint=f"write it as `[{_text(t.at(key), 1)}, {_text(t.at(key), 0)}]`")
        elif key == "range":
            check_reach(t, kind, r)
    check_view(t, kind, r)
    check_position(t, "at", "a sensor", r)
    noise = v.get("noise")
    if noise is not None and isinstance(noise, Taken) != (kind == "imu"):
        r.fault("wrong-type", f"the noise of {'an imu' if kind == 'imu' else f'a {kind}'} is "
                f"{'a mapping: it measures two things' if kind == 'imu' else 'one number, of its distances'}", t.at("noise"),
                t.within("noise"), hint="write `{gyro: 0.1, accel: 0.02}`" if kind == "imu" else "write `noise: 5` for 5 mm")
        noise = None
    if isinstance(noise, Taken):
        noise = ImuNoise(noise.get("gyro"), noise.get("accel"))
    fov = v.get("fov", 2 * math.pi if kind == "lidar" else None)
    return Sensor(
        name=name, kind=kind, at=t.get("at"), attitude=attitude(t), range=v.get("range"), rate=v.get("rate"),
        topic=v.get("topic"), driver_tf=t.get("driver_tf"), fov=fov, samples=v.get("samples"), layers=layers,
        vertical=v.get("vertical"), zero_beam=t.get("zero_beam"), angles=t.get("angles"),
        resolution=v.get("resolution"), radiation=v.get("radiation"), noise=noise, looks=v.get("looks"),
        moves_with=_with(p, t, r), link=_link(p, t, r), mark=t.mark())


def _link(p: PartTaken, t: Taken, r: Reading) -> str | None:
    """The link of the description that a seat or sensor names; whether it exists is asked when it is expanded."""
    if t.has("link") and not p.has("description"):
        r.fault("meaningless-key", "`link` names a link of the part's `description`, and it has none", t.keys["link"],
                t.within("link"), hint="leave it out, or give the part a `description`")
    link: str | None = t.get("link")
    return link


def _text(node: Node, index: int) -> str:
    items = getattr(node, "items", None)
    item = items[index] if isinstance(items, list) and len(items) > index else None
    return shown(item.text, 20) if isinstance(item, Scalar) else "…"


def _seat(name: str, t: Taken, adjust: tuple[Adjustment, ...], r: Reading) -> Seat | None:
    check_position(t, "at", "a seat", r)
    own = t.get("lattice")
    grid = None if own in (None, "none") else lattice(own, None, own.mark(), r)
    bolts = tuple(b for b in (_seat_bolt(v, n, t, r) for v, n in t.get("bolts", ())) if b is not None)
    places = [(b.at, n) for b, (_, n) in zip(bolts, t.get("bolts", ())) if isinstance(n, Seq)]
    if places:
        check_bolts(places, "two fixing holes", t.within("bolts"), r)
    _sunk(t, r)
    for key in ("hole", "tapped", "countersink"):
        if t.has(key) and not t.has("bolts"):
            r.fault("meaningless-key", f"`{key}` says how the seat's `bolts` are made, and there are none", t.keys[key],
                    t.within(key), hint="add `bolts`, or leave it out")
    return Seat(name=name, link=t.get("link"), at=t.get("at"), attitude=attitude(t), lattice=grid, bolts=bolts,
                adjust=adjust, mark=t.mark())


def _sunk(t: Taken, r: Reading) -> None:
    """A countersink is wider than the holes that it is about."""
    wide = t.get("countersink")
    holes = [t.get("hole"), *(v.get("hole") for v, _ in t.get("bolts", ()) if isinstance(v, Taken))]
    narrow = max((d for d in holes if d), default=0.0)
    if wide is not None and wide <= narrow + SAME_LENGTH:
        r.fault("bad-value", f"a countersink of {show(wide, LENGTH)} is no wider than its hole of {show(narrow, LENGTH)}",
                t.at("countersink"), t.within("countersink"), hint="say how wide it is at the back: 6.8 for M3 (ISO 10642)")


def _seat_bolt(value: Any, node: Node, seat: Taken, r: Reading) -> SeatBolt | None:
    hole, tapped, at = seat.get("hole"), seat.get("tapped"), value
    if isinstance(value, Taken):
        at = value.get("at")
        if value.has("hole") or value.has("tapped"):
            hole, tapped = value.get("hole"), value.get("tapped")
        if value.faulty("hole") or value.faulty("tapped"):
            return None
    if at is None:
        return None
    if hole is None and tapped is None:
        if not (seat.faulty("hole") or seat.faulty("tapped")):
            r.fault("missing-key", "this fixing hole is neither a `hole` nor `tapped`", node, seat.within("bolts"),
                    hint="add `hole: 3.5` (through, diameter) or `tapped: 6` (thread, depth) to the seat")
        return None
    return SeatBolt(at=at, hole=hole, tapped=tapped, countersink=seat.get("countersink") if hole is not None else None,
                    mark=mark_of(node, seat.within("bolts")))


def _shaft(p: PartTaken, name: str, t: Taken, r: Reading) -> Shaft:
    check_position(t, "at", "a shaft", r)
    return Shaft(name=name, at=t.get("at"), axis=t.get("axis"), moves_with=_with(p, t, r), mark=t.mark())


def _inertia(p: PartTaken, r: Reading) -> GivenInertia | None:
    t: Taken | None = p.get("inertia")
    if t is None or not all(k in t.values for k in TENSOR[:3]):
        return None
    six = tuple(t.get(k) for k in TENSOR)
    fault = fault_of_moments(six)
    if fault is not None:
        r.fault("inertia-impossible", f"no body has this inertia: {fault}", t.node, t.path, hint="check the digits, the "
                "units (kg·m²) and the factor of the products; a flat plate just reaches the sum")
    return GivenInertia(**dict(zip(TENSOR, six)), mark=t.mark())


def _motor(p: PartTaken) -> Motor | None:
    t: Taken | None = p.get("motor")
    if t is None or not all(k in t.values for k in ("torque", "speed")):
        return None
    return Motor(torque=t.get("torque"), speed=t.get("speed"), mark=t.mark())


def _wheel(p: PartTaken) -> Wheel | None:
    t: Taken | None = p.get("wheel")
    if t is None or not all(k in t.values for k in ("diameter", "width")):
        return None
    return Wheel(**{**t.record.defaults, **t.values}, mark=t.mark())


def _caster(p: PartTaken, r: Reading) -> Caster | None:
    t: Taken | None = p.get("caster")
    if t is None:
        return None
    if t.has("trail") and t.has("ball"):
        r.fault("meaningless-key", "a ball does not trail", t.keys["trail"], t.within("trail"), hint="leave `trail` out")
    at = t.get("at")
    check_position(t, "at", "the ball or axle of a caster", r)
    if "ball" in t.values:
        return Caster(kind="ball", diameter=t.get("ball"), at=at, friction=t.get("friction"), mark=t.mark())
    if "wheel" in t.values:
        diameter, width = t.get("wheel")
        return Caster(kind="wheel", diameter=diameter, width=width, trail=t.get("trail"), at=at,
                      friction=t.get("friction"), mark=t.mark())
    return None


def _joined(p: PartTaken, r: Reading, bodies: tuple[PartBody, ...], meshes: tuple[PartMesh, ...],
            clear: tuple[PartBody, ...]) -> None:
    """Rules about the part as a whole."""
    _slots(p, r)
    bolts = [(at, node) for at, _, node in _bolts(p)]
    seen: dict[Vec2, Node] = {}
    for at, node in bolts:
        if at in seen:
            path = p.source["bolts"].within("bolts")
            r.fault("bad-value", "two bolts in the same place", node, path, hint="leave one out",
                    also=[mark_of(seen[at], path)])
        seen[at] = node
    if bolts:
        check_bolts(bolts, "two bolts", p.source["bolts"].within("bolts"), r)
    for key in ("bolt_hole", "tapped", "flange"):
        if p.has(key) and not p.has("bolts"):
            r.fault("meaningless-key", f"`{key}` says how the part's bolts are made, and it has no `bolts`",
                    p.mark(key), hint="add `bolts`, or leave it out")
    faulty = p.has("bodies") and p.source["bodies"].faulty("bodies")
    solid = bool(bodies) or p.has("plate") or p.has("wheel") or p.has("caster") or faulty
    if meshes and not solid and not any(t.has(k) for t, _ in p.get("bodies") or () for k in ("box", "cylinder", "sphere")):
        r.fault("missing-key", "a mesh is for the eye only; the part needs at least one solid beside it",
                meshes[0].mark, hint="add a box, cylinder or sphere that fills about the same space to `bodies`")
    elif not solid and not p.get("bodies") and p.has("mass"):
        r.fault("missing-key", "a part that has a mass needs `bodies`", p.mark("mass"),
                hint="say what space it takes: `bodies: [{box: [40, 30, 12], at: [0, 0, 6]}]`")
    for name, shaft in (p.get("shafts") or {}).items():
        if name in (p.get("seats") or {}) and shaft is not None:
            r.fault("bad-name", f"`{name}` is a seat of this part as well as a shaft", shaft.mark(),
                    hint="give the shaft another name", also=[p.mark("seats")])
    adjustments: dict[str, Taken] = {}
    for seat in (p.get("seats") or {}).values():
        for t, _ in (seat.get("adjust", ()) if seat is not None else ()):
            name = t.get("name")
            if name in adjustments:
                r.fault("bad-name", f"two adjustments of this part are called `{name}`", t.at("name"), t.within("name"),
                        hint="a placement sets them by name: give each its own", also=[adjustments[name].mark("name")])
            elif name is not None:
                adjustments[name] = t
    known = [b.mass for b in bodies]
    total = p.get("mass")
    if total is not None and bodies and None in known and sum(m or 0 for m in known) >= total:
        r.fault("bad-value", "the bodies with a mass of their own leave nothing for the others", p.mark("mass"),
                hint="the part's mass is the total of all bodies")


def _moving(p: PartTaken, r: Reading, seats: dict[str, Seat], bodies: tuple[PartBody, ...]) -> None:
    """Rules of parts that move while the robot runs: each link has a body of its own, nothing measured of the whole."""
    written = sum(len(t.get("adjust", ())) for t in (p.get("seats") or {}).values() if t is not None)
    moving = [(seat.name, a) for seat in seats.values() for a in seat.adjust if a.moves]
    if not moving or written != sum(len(seat.adjust) for seat in seats.values()):
        return  # a faulty one would leave bodies without what they move with
    carried = moving_bodies(seats, bodies)
    solids = sum(not t.has("mesh") for t, _ in p.get("bodies") or ())
    faulty = p.has("bodies") and (p.source["bodies"].faulty("bodies") or len(bodies) < solids)
    for seat, adjustment in moving:
        if adjustment.name not in carried and not faulty:
            r.fault("bad-value", f"no body of the part moves with `{adjustment.name}`, and its link needs mass",
                    adjustment.mark, hint=f"say `with: {seat}.{adjustment.name}` on the body that it moves")
    for key in ("com", "inertia"):
        if p.has(key) and carried:
            first = next(iter(carried))
            r.fault("meaningless-key", f"bodies move with `{first}`: the part has no one "
                    f"{'centre of mass' if key == 'com' else 'inertia'}", p.mark(key),
                    hint="give the bodies their own `mass` instead", also=[carried[first].mark])
