"""The flat plate of a part, from what was read of it."""
from __future__ import annotations

from chassis_describe.layout.build.materials import MATERIALS, material
from chassis_describe.layout.build.part_taken import PartTaken
from chassis_describe.layout.language.reading import Reading
from chassis_describe.layout.language.record import Taken
from chassis_describe.layout.model import PartPlate
from chassis_describe.tolerances import SAME_LENGTH
from chassis_describe.units import LENGTH, show


def part_plate(p: PartTaken, r: Reading) -> PartPlate | None:
    """The plate, or None where there is none or after a report."""
    t: Taken | None = p.get("plate")
    if t is None:
        return None
    size, corner, thickness = t.get("rectangle"), t.get("corner"), t.get("thickness")
    name, density = t.get("material"), t.get("density")
    known = material(name, {}) if name is not None else None
    if name is not None and known is None and density is None and not t.faulty("density"):
        r.unknown("unknown-name", "a known material", name, MATERIALS, t.at("material"), t.within("material"))
    if size is None or thickness is None:
        return None
    if corner > min(size) / 2 + SAME_LENGTH:
        r.fault("bad-value", f"a corner radius of {show(corner, LENGTH)} is more than half the shorter side", t.at("corner"),
                t.within("corner"), hint=f"at most {show(min(size) / 2, LENGTH)}")
    for key, why in (("wheel", "a wheel is no plate"), ("description", "its `description` says what it is made of")):
        if p.has(key):
            r.fault("meaningless-key", why, t.node, t.path, hint="leave `plate` out", also=[p.mark(key)])
    if p.has("bolts") and not p.has("bolt_hole") and not p.has("tapped"):
        r.fault("missing-key", "a plate is drilled for its own bolts, and needs `bolt_hole`", t.node, t.path,
                hint="write `bolt_hole: 3.4` for M3 (ISO 273, medium)")
    for seat in (p.get("seats") or {}).values():
        wide, hole = (seat.get("countersink"), seat.get("hole")) if seat is not None else (None, None)
        if seat is not None and wide is not None and hole is not None and (wide - hole) / 2 > thickness - SAME_LENGTH:
            r.fault("bad-value", f"a countersink of {show(wide, LENGTH)} about a hole of {show(hole, LENGTH)} is "
                    f"{show((wide - hole) / 2, LENGTH)} deep, and the plate is {show(thickness, LENGTH)} thick",
                    seat.at("countersink"), seat.within("countersink"), hint="take a thicker plate, or a smaller screw")
    return PartPlate(size=size, corner=min(corner, min(size) / 2), centre=t.get("centre"), thickness=thickness,
                     material=known[0] if known is not None else name,
                     holes=tuple((*h.get("at"), h.get("hole")) for h, _ in t.get("holes", ())
                                 if h.get("at") is not None and h.get("hole") is not None),
                     density=density if density is not None else known and known[1], mark=t.mark())
