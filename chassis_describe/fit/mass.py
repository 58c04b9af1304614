"""Numbers of mass that can't be, or that smell of a wrong unit."""
from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from chassis_describe.assembly.model import Assembly, Link, PlacedPart
from chassis_describe.findings import Finding, finding
from chassis_describe.source import Mark
from chassis_describe.space.overlap.pairs import Crowd
from chassis_describe.space.realisable import principal_moments, why_impossible
from chassis_describe.words import plain, significant

#: Mass of a part over the volume of its bounding box, kg/m³ (common practice: a printed cover to solid titanium).
DENSITY = (100.0, 4000.0)
#: A weighed plate over its true volume, kg/m³: foam board to steel.
PLATE_DENSITY = (100.0, 9000.0)
#: Largest radius of gyration over half the bounding box's diagonal: a point in a large box to a hollow shell's corners.
GYRATION = (0.2, 1.0)
#: Share of the weighed mass by which the parts' sum may differ.
WEIGHED = 0.1
#: A measured centre of mass may lie this much of a part's diagonal outside the box around its bodies, which are drawn roughly.
COM_OUTSIDE = 0.1

#: Factors between units that get mixed up, and what was probably written.
_MASS_SLIPS = ((1e3, "the mass looks like kilograms where grams are due"),
               (1e-3, "the mass looks 1000 times too large (milligrams, or grams written as kilograms), or the size 10 times "
                "too small (centimetres where millimetres are due)"),
               (1e-9, "the size looks 1000 times too small: metres where millimetres are due"),
               (25.4**-3, "the size looks like inches where millimetres are due"))
_INERTIA_SLIPS = ((1e-6, "kg·mm² where kg·m² are due"), (1e-9, "g·mm² where kg·m² are due"),
                  (1e-7, "g·cm² where kg·m² are due"), (1e-4, "kg·cm² where kg·m² are due"),
                  (1e-3, "g·m² where kg·m² are due"), (1e6, "divided twice: kg·m² are due as they are"))


def links_have_mass(assembly: Assembly) -> Iterable[Finding]:
    """``mass-missing`` and ``inertia-impossible`` of every link with geometry."""
    seen: dict[tuple[object, ...], str | None] = {}
    for link in assembly.links:
        if not (link.bodies or link.meshes or link.plate is not None):
            continue
        if link.described is not None:
            continue  # as its own makers describe it
        if link.inertial is None or not link.inertial.mass > 0.0:
            what = f"deck {link.owner}" if link.plate is not None else link.owner
            give = "`material`, `density` or `mass`" if link.plate is not None else "`mass` to the part or the placement"
            yield finding("mass-missing", f"{what} has geometry but no mass", hint=f"give {give}",
                          where=[*_marks(assembly, link)], of=[link.owner])
            continue
        key = link.inertial.inertia
        if key not in seen:
            seen[key] = why_impossible(link.inertial.mass, link.inertial.inertia)
        why = seen[key]
        if why is not None:
            yield finding("inertia-impossible", f"no body can have the inertia of {link.owner}: {why}",
                          hint="inertia is about the centre of mass, in kg·m², with ixy = -∫xy dm",
                          where=[*_marks(assembly, link)], of=[link.owner])


def _marks(assembly: Assembly, link: Link) -> list[Mark | None]:
    placed = assembly.parts.get(link.owner)
    if placed is None:
        return [link.mark]
    inertia = placed.part.inertia
    return [inertia.mark if inertia is not None else placed.part.mark, placed.mark]


def weighed_agrees(assembly: Assembly) -> Iterable[Finding]:
    """``weighed-differs``: the robot on the scale against the sum of its parts."""
    weighed, whole = assembly.layout.weighed, assembly.inertial
    if weighed is None or whole is None or not weighed > 0:
        return
    off = (whole.mass - weighed) / weighed
    if abs(off) > WEIGHED + 1e-12:
        more, hint = ("more", "a part's mass is too large, or something listed is not mounted") if off > 0 else \
            ("less", "something is missing (cables, screws, battery?), or a part's mass is too small")
        slip = next((unit for unit, factor in (("kg", 1e3), ("mg", 1e-3)) if abs(whole.mass / (weighed * factor) - 1) < 0.5), None)
        if slip is not None:
            hint = f"a bare number is grams: write `weighed: {weighed * 1e3:.12g} {slip}` if that is meant"
        by = f"{abs(off) * 100:.0f} % {more} than" if abs(off) < 10 else f"{whole.mass / weighed:.0f} times"
        yield finding("weighed-differs", f"the parts add up to {plain(whole.mass * 1e3, 1)} g, {by} the "
                      f"{plain(weighed * 1e3, 1)} g on the scale", hint=hint,
                      where=[assembly.layout.weighed_mark or assembly.layout.mark], of=[assembly.robot],
                      measured=whole.mass, allowed=weighed, unit="kg")


def numbers_plausible(assembly: Assembly) -> Iterable[Finding]:
    """``implausible``: density of bounding boxes, radius of gyration, weighed plates. Once for each kind of part."""
    said: set[tuple[object, ...]] = set()
    for name, placed in assembly.parts.items():
        key = (id(placed.part), placed.placement.mass)
        if key in said:
            continue
        said.add(key)
        if placed.part.description is not None:
            continue
        link = assembly.as_one(name)
        if link.inertial is None or not link.bodies or not link.inertial.mass > 0:
            continue
        yield from _part(placed, link, name)
    for name, facet in assembly.decks.items():
        deck = facet.deck
        if deck.mass is None:
            continue
        density = deck.mass / facet.plate.volume
        if not PLATE_DENSITY[0] <= density <= PLATE_DENSITY[1]:
            yield finding("implausible", f"deck {name} weighs {plain(deck.mass * 1e3, 1)} g, which makes its material "
                          f"{significant(density, 3)} kg/m³", hint=_mass_slip(density, PLATE_DENSITY) or "weigh it again",
                          where=[deck.marks.get("mass") or deck.mark], of=[name], measured=density,
                          allowed=PLATE_DENSITY[0 if density < PLATE_DENSITY[0] else 1], unit="kg/m³")


def _part(placed: PlacedPart, link: Link, name: str) -> Iterable[Finding]:
    bodies = [b for b in link.bodies if b.role != "spacer"]
    inertial = link.inertial
    assert inertial is not None
    mass = inertial.mass - sum(b.mass for b in link.bodies if b.role == "spacer")
    crowd = Crowd([b.solid for b in bodies], [b.pose for b in bodies])
    size = (crowd.centres + crowd.extents).max(axis=0) - (crowd.centres - crowd.extents).min(axis=0)
    density = mass / float(size.prod())
    part = placed.part
    marks = placed.placement.marks.get("mass") if placed.placement.mass is not None else part.marks.get("mass")
    if not DENSITY[0] <= density <= DENSITY[1]:
        bounds = " × ".join(plain(s * 1e3, 1) for s in sorted(size.tolist(), reverse=True))
        yield finding("implausible", f"{_called(name, part.name)} weighs {plain(mass * 1e3)} g in a box of {bounds} mm: "
                      f"{significant(density, 3)} kg/m³, where parts have {DENSITY[0]:g} to {DENSITY[1]:g}",
                      hint=_mass_slip(density, DENSITY) or "check its mass and its size",
                      where=[marks or part.mark, placed.mark], of=[name], measured=density,
                      allowed=DENSITY[0 if density < DENSITY[0] else 1], unit="kg/m³")
    if part.com is not None:
        away = np.maximum(np.maximum((crowd.centres - crowd.extents).min(axis=0) - inertial.com,
                                     inertial.com - (crowd.centres + crowd.extents).max(axis=0)), 0.0)
        out = float(np.hypot.reduce(away))
        limit = COM_OUTSIDE * float(np.hypot.reduce(size))
        if out > limit:
            yield finding("implausible", f"the centre of mass of {_called(name, part.name)} lies {plain(out * 1e3, 1)} mm outside "
                          "the box around its bodies", hint="`com` is in part axes, in mm: check its signs and its unit, or the "
                          "`at` of the bodies", where=[part.marks.get("com") or part.mark, placed.mark], of=[name],
                          measured=out * 1e3, allowed=limit * 1e3, unit="mm")
    if part.inertia is None:
        return
    yield from _about_axle(placed, name)
    half = math.sqrt(float((size**2).sum())) / 2
    gyration = math.sqrt(principal_moments(inertial.inertia)[2] / inertial.mass)
    share = gyration / half
    if not GYRATION[0] <= share <= GYRATION[1]:
        slip = next((f"looks like {text}" for factor, text in _INERTIA_SLIPS
                     if GYRATION[0] <= share * math.sqrt(factor) <= GYRATION[1]), "check it")
        yield finding("implausible", f"the inertia of {_called(name, part.name)} means a radius of gyration of "
                      f"{significant(gyration * 1e3, 3)} mm, {significant(share, 2)} times its half diagonal of "
                      f"{significant(half * 1e3, 3)} mm",
                      hint=slip, where=[part.inertia.mark, placed.mark], of=[name], measured=share,
                      allowed=GYRATION[0 if share < GYRATION[0] else 1], unit="1")


def _about_axle(placed: PlacedPart, name: str) -> Iterable[Finding]:
    """A measured wheel whose largest moment is not about its axle, the part's y, where that of its tread's cylinder is.

    A cylinder has m·r²/2 about its axle and m·(3r² + w²)/12 across it (handbook); the first is larger while w < r·√3.
    """
    inertia, wheel = placed.part.inertia, placed.part.wheel
    if inertia is None or wheel is None or wheel.width >= wheel.diameter / 2 * math.sqrt(3):
        return
    moments = {"x": inertia.ixx, "y": inertia.iyy, "z": inertia.izz}
    largest = max(moments, key=lambda axis: (moments[axis], axis == "y"))
    if largest != "y":
        yield finding("implausible", f"the inertia of {_called(name, placed.part.name)} is largest about {largest}, "
                      f"{moments[largest]:.3g} kg·m², "
                      f"and about y, its axle, {inertia.iyy:.3g} kg·m²: a wheel of {plain(wheel.diameter * 1e3)} × "
                      f"{plain(wheel.width * 1e3)} mm has its largest moment about the axle",
                      hint="a wheel's +y points along its shaft: "
                      f"exchange `i{largest}{largest}` and `iyy`, if the axle was taken for {largest}",
                      where=[inertia.mark, placed.mark], of=[name],
                      measured=inertia.iyy,
                      allowed=moments[largest], unit="kg·m²")


def _mass_slip(density: float, allowed: tuple[float, float]) -> str:
    """The slip that would bring the density into the plausible range."""
    for factor, text in _MASS_SLIPS:
        if allowed[0] <= density * factor <= allowed[1]:
            return f"factor {factor:g}: {text}" if factor in (1e3, 1e-3, 1e-9) else text
    return ""


def frames_unique(assembly: Assembly) -> Iterable[Finding]:
    """``frame-clash``: two links or joints of one name (the reader refuses what it can see by names alone)."""
    for kind, items in (("frames", assembly.links), ("joints", assembly.joints)):
        seen: set[str] = set()
        for item in items:
            if item.name in seen:
                owner = getattr(item, "owner", "")
                placed = assembly.parts.get(owner)
                yield finding("frame-clash", f"two {kind} are named {item.name}",
                              hint="rename one placement, or its `frame`",
                              where=[placed.mark if placed else assembly.layout.mark], of=[item.name])
            seen.add(item.name)


def _called(placement: str, part: str) -> str:
    """``motor (motor_left)``; a part that is judged by itself is placed by its own name."""
    return part if part == placement else f"{part} ({placement})"
