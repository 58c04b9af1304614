"""An adapter as its part file, as lines for the layout, in words, and as data."""
from __future__ import annotations

import json
import math
from typing import Any

from chassis_describe.assembly.lattice import lattice_point
from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.screws import screws_by_user
from chassis_describe.findings import Severity
from chassis_describe.layout.build.materials import MATERIALS
from chassis_describe.layout.model import Part
from chassis_describe.layout.part_plate import plate_inertial
from chassis_describe.search.adapter import AdapterAnswer
from chassis_describe.search.adapter_part import SEAT, Adapter, in_adapter, with_adapter
from chassis_describe.search.judge import raw_findings
from chassis_describe.values import replace
from chassis_describe.words import clean, clean_degrees, clean_mm, count, listing, mm, pair, plain

#: By which a part file is known to be ours, so that it may be written anew.
HEADLINE = "# An adapter, made by chassis_describe"
CAUTIONS = (
    "Wear eye protection when you cut, drill and countersink, clamp the plate, and deburr both faces: the plate has to lie flat.",
    "A printed plate creeps under load and softens near warm parts (PLA from about 55 °C): look at its screws again.",
    "Where the part carries a battery's or the mains' voltage: disconnect it first, keep screws and spacers clear of its tracks, "
    "and follow its maker's instructions and local rules.")
_DIGITS = 6


def mm_text(value: float) -> str:
    """A length (m) as a number of millimetres."""
    return plain(value * 1e3, _DIGITS)


def _points(points: Any) -> str:
    return f"[{', '.join(pair((x * 1e3, y * 1e3), _DIGITS) for x, y in points)}]"


def part_file(assembly: Assembly, one: Adapter) -> str:
    """The YAML of the adapter's part."""
    own = assembly.parts[one.placement].part
    lattice, r = assembly.decks[one.deck].deck.lattice, one.rect
    centre = in_adapter(assembly, one, ((r.x0 + r.x1) / 2, (r.y0 + r.y1) / 2))
    seat = (*in_adapter(assembly, one, one.origin), one.thickness)
    turn = plain(math.degrees(math.remainder(one.turn, math.tau)), 9)
    known = one.material is not None and MATERIALS.get(one.material) == one.density
    weight = [f"material: {one.material if known else json.dumps(one.material)}"] if one.material else []
    weight += [] if known else [f"density: {plain(one.density, 6)}"]
    bolts = [in_adapter(assembly, one, lattice_point(lattice, h)) for h in one.holes]
    lines = [
        f"{HEADLINE} for a {own.name} on a lattice of {mm(lattice.pitch) if lattice is not None else ''}.",
        "parts:",
        f"  {one.name}:",
        f"    about: plate that takes a {own.name} on the lattice; its {one.part_screw} screws come from behind",
        "    plate:",
        f"      rectangle: [{mm_text(r.x1 - r.x0)}, {mm_text(r.y1 - r.y0)}]",
        f"      corner: {mm_text(one.corner)}",
        f"      centre: {pair((centre[0] * 1e3, centre[1] * 1e3), _DIGITS)}",
        f"      thickness: {mm_text(one.thickness)}",
        *(f"      {w}" for w in weight),
        *([f"      holes: [{', '.join(_relief(assembly, one, h) for h in one.reliefs)}]"] if one.reliefs else []),
        f"    bolts: {_points(bolts)}",
        f"    bolt_hole: {mm_text(one.bolt_hole)}",
        f"    screw: {one.screw}",
        "    seats:",
        f"      {SEAT}:",
        f"        at: [{', '.join(mm_text(v) for v in seat)}]",
        *([f"        rpy: [0, 0, {turn}]"] if turn != "0" else []),
        f"        bolts: {_points(own.bolts)}",
        f"        hole: {mm_text(one.part_hole)}",
        f"        countersink: {mm_text(one.sink)}",
    ]
    return "\n".join(lines) + "\n"


def _relief(assembly: Assembly, one: Adapter, hole: tuple[float, float, float]) -> str:
    x, y = in_adapter(assembly, one, hole[:2])
    return f"{{at: {pair((x * 1e3, y * 1e3), _DIGITS)}, hole: {mm_text(hole[2])}}}"


def adapter_line(one: Adapter) -> str:
    """What the adapter's placement says."""
    face = ", face: under" if one.face == "under" else ""
    return f"{{part: {one.name}, on: {one.deck}{face}, at: {pair(one.at)}}}"


def placement_line(assembly: Assembly, one: Adapter) -> str:
    """What the part's placement says then, its other keys aside."""
    lift = f", lift: {mm_text(one.gap)}" if one.gap else ""
    return f"{{part: {assembly.parts[one.placement].part.name}, on: {one.name}{lift}}}"


def layout_lines(assembly: Assembly, one: Adapter, file: str) -> list[str]:
    """The lines for the layout."""
    width = max(len(one.name), len(one.placement)) + 1
    return [f"catalogue: [{file}]", "placements:", f"  {(one.name + ':').ljust(width)} {adapter_line(one)}",
            f"  {(one.placement + ':').ljust(width)} {placement_line(assembly, one)}"]


def adapter_text(assembly: Assembly, answer: AdapterAnswer, part: Part, file: str, *, written: bool = False) -> str:
    """What it is, how it is held, what it does to the robot, what to write (unless that is ``written``), what to mind."""
    one, robot = answer.adapter, answer.robot
    assert one is not None and robot is not None and part.plate is not None
    weighed = plate_inertial(part, part.plate)
    r = one.rect
    grams = f", {plain(weighed.mass * 1e3, 1)} g" if weighed is not None else ""
    lines = [
        f"{one.name}: plate {plain((r.x1 - r.x0) * 1e3)} x {plain((r.y1 - r.y0) * 1e3)} x {plain(one.thickness * 1e3)} mm, corners "
        f"{plain(one.corner * 1e3)} mm, {one.material or 'density as the deck'}{grams}",
        f"  on {one.deck}{' (under)' if one.face == 'under' else ''} at {pair(one.at)}, in holes "
        f"{listing((pair(h) for h in one.holes), most=8)}: {_screws(robot, one.name)}",
        f"  {one.placement} stays where it is{_turned(assembly, one)}, {plain(abs(one.rise) * 1e3)} mm {_way(one)}: plate "
        f"{plain(one.thickness * 1e3)} mm" + (f", spacers of {plain(one.gap * 1e3)} mm" if one.gap else ""),
        f"  it is screwed on first, from behind the plate, in holes of {plain(one.part_hole * 1e3)} mm countersunk to "
        f"{plain(one.sink * 1e3)} mm: {_screws(robot, one.placement)}",
    ]
    if one.reliefs:
        sizes = listing(dict.fromkeys(plain(d * 1e3) for _, _, d in one.reliefs))
        lines.append(f"  heads or nuts of other screws stay free: {count(len(one.reliefs), 'hole')} of {sizes} mm in the plate")
    lines += _passed_over(one, answer.passed_over)
    better = _better_gap(assembly, answer)
    if better:
        lines.append(f"  {better}")
    lines += [f"  new: {text}" for text in _gained(assembly, robot)]
    if answer.instead is not None:
        lines.append(f"  without an adapter it would fit at `at: {pair(answer.instead)}`")
    if not written:
        lines += ["", "for the layout" + _gone(assembly, one), *layout_lines(assembly, one, file)]
    lines += ["", *CAUTIONS]
    return "\n".join(lines) + "\n"


def _passed_over(one: Adapter, other: Adapter | None) -> list[str]:
    """What a plate costs whose screws are not all round, and which other one there is."""
    size = f"{plain((other.rect.x1 - other.rect.x0) * 1e3)} x {plain((other.rect.y1 - other.rect.y0) * 1e3)} mm" if other else ""
    if one.overhang:
        why = f"the smallest with screws all round, {size}, is more than twice as large" if other else \
            "no plate near it has screws all round"
        return [f"  its holes reach {plain(one.overhang * 1e3, 1)} mm beyond the plate's own screws: what is heavy there bends the "
                f"plate; {why}"]
    return [f"  a smaller plate, {size}, is passed over: the holes of {one.placement} would reach {plain(other.overhang * 1e3, 1)} "
            "mm beyond its screws, and it would bend"] if other else []


def _way(one: Adapter) -> str:
    return f"further from {one.deck}" if one.rise >= 0 else f"nearer to {one.deck}"


def _turned(assembly: Assembly, one: Adapter) -> str:
    by = math.degrees(math.remainder(one.turn - assembly.parts[one.placement].turn, math.tau))
    return f", turned by {plain(by)}°" if abs(by) > 1e-6 else ""


def _gone(assembly: Assembly, one: Adapter) -> str:
    keys = [k for k in ("face", "at", "screws", "turn", "points", "offset")
            if k in assembly.parts[one.placement].placement.marks]
    return f" ({listing(f'`{k}`' for k in keys)} of {one.placement} {'goes' if len(keys) == 1 else 'go'}, its other keys stay)" \
        if keys else ""


def _screws(robot: Assembly, name: str) -> str:
    found: dict[str, int] = {}
    for screw in screws_by_user(robot).get(name, ()):
        word = screw.name if screw.length is not None else f"{screw.thread} ({screw.why})"
        found[word] = found.get(word, 0) + 1
    return listing(f"{n} x {word}" for word, n in found.items())


def _better_gap(assembly: Assembly, answer: AdapterAnswer) -> str:
    """Which spacers go with a screw that there is, where these do not: whole millimetres, up to 10 more."""
    one, robot = answer.adapter, answer.robot
    assert one is not None and robot is not None
    if one.gap == 0.0 or all(s.length is not None for s in screws_by_user(robot).get(one.placement, ())):
        return ""
    first = math.floor(one.gap * 1e3 + 1e-6) + 1
    for gap in range(first, first + 10):
        screws = screws_by_user(with_adapter(assembly, replace(one, gap=gap * 1e-3))).get(one.placement, [])
        if screws and all(s.length is not None for s in screws):
            return f"with `--gap {gap}`, {screws[0].name} fits"
    return ""


def _gained(assembly: Assembly, robot: Assembly) -> list[str]:
    before = {(f.code, f.of) for f in raw_findings(assembly)}
    return [f"{f.severity.value}[{f.code}] {f.message}" for f in raw_findings(robot)
            if f.severity is not Severity.NOTE and (f.code, f.of) not in before]


def adapter_data(assembly: Assembly, answer: AdapterAnswer, part: Part | None, file: str | None) -> dict[str, Any]:
    """For programs: millimetres, degrees, grams; points in deck coordinates, holes as the layout counts them."""
    one, robot = answer.adapter, answer.robot
    base: dict[str, Any] = {"placement": answer.placement, "needed": answer.needed, "why": answer.why or None,
                            "instead": [clean(v) for v in answer.instead] if answer.instead is not None else None}
    if one is None or robot is None or part is None or part.plate is None:
        return {**base, "adapter": None}
    weighed, r = plate_inertial(part, part.plate), one.rect

    def point(p: tuple[float, float]) -> list[float]:
        return [clean(round(v * 1e3, _DIGITS)) for v in p]

    return {**base, "adapter": {
        "name": one.name, "on": one.deck, "face": one.face, "at": list(one.at), "file": file,
        "plate": {"low_mm": point((r.x0, r.y0)), "high_mm": point((r.x1, r.y1)), "corner_mm": clean_mm(one.corner),
                  "thickness_mm": clean_mm(one.thickness), "area_mm2": clean(round(r.area * 1e6, 3)),
                  "material": one.material, "mass_g": clean(round(weighed.mass * 1e3, 6)) if weighed is not None else None},
        "bolts": {"holes": [list(h) for h in one.holes], "hole_mm": clean_mm(one.bolt_hole), "screw": one.screw,
                  "screws": sorted({s.name for s in screws_by_user(robot).get(one.name, ())})},
        "part": {"holes_mm": [point(p) for p in one.wanted], "hole_mm": clean_mm(one.part_hole),
                 "countersink_mm": clean_mm(one.sink), "screw": one.part_screw,
                 "screws": sorted({s.name for s in screws_by_user(robot).get(one.placement, ())}),
                 "gap_mm": clean_mm(one.gap), "rise_mm": clean_mm(one.rise),
                 "turn": clean_degrees(one.turn), "overhang_mm": clean_mm(one.overhang)},
        "passed_over": None if (less := answer.passed_over) is None else {
            "low_mm": point((less.rect.x0, less.rect.y0)), "high_mm": point((less.rect.x1, less.rect.y1)),
            "area_mm2": clean(round(less.rect.area * 1e6, 3)), "overhang_mm": clean_mm(less.overhang)},
        "reliefs_mm": [[*point((x, y)), clean_mm(d)] for x, y, d in one.reliefs],
        "placements": {one.name: adapter_line(one), one.placement: placement_line(assembly, one)},
        "gained": sorted({f.code for f in raw_findings(robot)} - {f.code for f in raw_findings(assembly)}),
    }}
