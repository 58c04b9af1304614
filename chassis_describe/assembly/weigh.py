"""Bodies and mass properties of parts, standoffs and decks (DEVELOPERS.md, "Mass").

A part is uniform bodies that share its mass by volume, unless a body states its own. A weighed total rescales. Measured
``com`` and ``inertia`` win over what the bodies give. Spacers under a part belong to the part, standoffs to the deck
that they stand on.
"""
from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

from chassis_describe.assembly.attitude import rotation_of
from chassis_describe.assembly.joints import carried
from chassis_describe.assembly.model import Body, MeshVisual, Role
from chassis_describe.assembly.seats import seat_moves, values_in_force
from chassis_describe.errors import never
from chassis_describe.layout.model import BoxForm, CylinderForm, Form, Part, PartBody, SphereForm, StandoffGroup
from chassis_describe.space.mass import Inertial, combined, of_solid
from chassis_describe.space.plate.plate import Plate
from chassis_describe.space.pose import IDENTITY, IDENTITY_ROTATION, Pose, multiply, rot_x, rot_y
from chassis_describe.space.solids import Box, Cylinder, Solid, Sphere

#: Cylinders are along z; these turn z onto the axis named.
_ALONG = {"x": rot_y(math.pi / 2), "y": rot_x(-math.pi / 2), "z": IDENTITY_ROTATION}
#: Outer diameter of the spacers under a lifted part (m): a common M3 spacer, common practice.
SPACER_DIAMETER = 0.0055


class Weighed(NamedTuple):
    """What one part is made of, in part axes: bodies, meshes, and the sum (None: it has no mass)."""

    bodies: tuple[Body, ...]
    meshes: tuple[MeshVisual, ...]
    inertial: Inertial | None


def solid_of(form: Form) -> tuple[Solid, Pose]:
    """The solid about its own z, and how it lies in the body's axes."""
    if isinstance(form, BoxForm):
        return Box(form.size), IDENTITY
    if isinstance(form, CylinderForm):
        return Cylinder(form.diameter / 2, form.length), Pose(_ALONG[form.axis])
    if isinstance(form, SphereForm):
        return Sphere(form.diameter / 2), IDENTITY
    raise never(form)


def body_pose(body: PartBody, moves: Mapping[str, Pose]) -> tuple[Solid, Pose]:
    """The solid of a part's body, and its centre frame in part axes, moved with its seat where it has one."""
    solid, own = solid_of(body.form)
    pose = Pose(multiply(rotation_of(body.attitude), own.r), body.at)
    move = moves.get(body.moves_with) if body.moves_with else None
    return solid, pose if move is None else move @ pose


def weigh_part(part: Part, *, moves: Mapping[str, Pose], mass: float | None, spacers: float,
               spacer_density: float) -> Weighed:
    """Bodies and sum of one part.

    ``moves``: how each seat has moved from its zero, S·S₀⁻¹ in part axes. ``mass``: weighed on this robot (kg).
    ``spacers``: their height under the part (m), 0 for none.
    """
    forms: list[tuple[Solid, Pose, PartBody | None]] = [(*body_pose(b, moves), b) for b in part.bodies]
    if not forms:  # a wheel or caster without bodies is its rolling solid
        forms = [(*rolling, None) for rolling in _rolling(part)]
    total = mass if mass is not None else part.mass
    masses = _shares(forms, part.mass, total)
    rolls = part.wheel is not None or part.caster is not None
    role: Role = "wheel" if part.wheel is not None else "caster" if part.caster is not None else "part"
    bodies = [Body("", role, solid, pose, m, b.color if b else None, b.mark if b else part.mark,
                   collides=part.wheel is None or b is None)
              for (solid, pose, b), m in zip(forms, masses)]
    if rolls and part.bodies:  # drawn by its bodies, rolling on the true wheel or ball
        bodies += [Body("", role, solid, pose, 0.0, None, part.mark, visible=False) for solid, pose in _rolling(part)
                   if not any(b.solid == solid and b.pose == pose and b.collides for b in bodies)]
    own = combined(of_solid(b.solid, b.mass, b.pose) for b in bodies)
    own = _measured(part, own, total)
    feet: list[Body] = []
    if spacers > 0:
        solid = Cylinder(SPACER_DIAMETER / 2, spacers)
        feet = [Body("", "spacer", solid, Pose(IDENTITY_ROTATION, (x, y, -spacers / 2)), solid.volume * spacer_density,
                     None, part.mark) for x, y in part.bolts]
    all_of_it = combined([*([own] if own else []), *(of_solid(f.solid, f.mass, f.pose) for f in feet)])
    meshes = tuple(MeshVisual("", m.file, m.scale,
                              moves.get(m.moves_with or "", IDENTITY) @ Pose(rotation_of(m.attitude), m.at),
                              m.color, m.mark) for m in part.meshes)
    return Weighed((*bodies, *feet), meshes, all_of_it if own or not forms else None)


def weigh_links(part: Part, *, written: Mapping[str, float], mass: float | None, spacers: float,
                spacer_density: float) -> dict[str | None, Weighed]:
    """The same by link: under None in part axes, under each moving adjustment in the axes of its link.

    ``written``: the values that the layout sets (rad, m); the others are at rest.
    """
    moves = seat_moves(part, written) if part.seats else {}
    whole = weigh_part(part, moves=moves, mass=mass, spacers=spacers, spacer_density=spacer_density)
    moving = [a.name for a in part.adjustments if a.moves]
    if not moving:
        return {None: whole}
    values = values_in_force(part, written)
    bodies: dict[str | None, list[Body]] = {None: [], **{name: [] for name in moving}}
    meshes: dict[str | None, list[MeshVisual]] = {None: [], **{name: [] for name in moving}}
    own = len(part.bodies)
    for stated, body in zip(part.bodies, whole.bodies):
        on, seen = carried(part, stated.moves_with, values)
        bodies[on].append(body if on is None else body._replace(pose=seen @ body_pose(stated, {})[1]))
    for m, mesh in zip(part.meshes, whole.meshes):
        on, seen = carried(part, m.moves_with, values)
        meshes[on].append(mesh if on is None else mesh._replace(pose=seen @ Pose(rotation_of(m.attitude), m.at)))
    bodies[None] += whole.bodies[own:]
    return {on: Weighed(tuple(group), tuple(meshes[on]),
                        combined(of_solid(b.solid, b.mass, b.pose) for b in group) if whole.inertial else None)
            for on, group in bodies.items()}


def _rolling(part: Part) -> list[tuple[Solid, Pose]]:
    """The solid that touches the ground, in part axes."""
    if part.wheel is not None:
        return [(Cylinder(part.wheel.diameter / 2, part.wheel.width), Pose(_ALONG["y"]))]
    if part.caster is not None:
        caster = part.caster
        if caster.kind == "ball":
            return [(Sphere(caster.diameter / 2), Pose(IDENTITY_ROTATION, caster.at))]
        return [(Cylinder(caster.diameter / 2, caster.width or 0.0), Pose(_ALONG["y"], caster.at))]
    return []


def _shares(forms: list[tuple[Solid, Pose, PartBody | None]], own: float | None, total: float | None) -> list[float]:
    """Mass of each body, ``own`` being the part's mass and ``total`` what this one weighs (kg).

    In the part's own mass the stated ones keep theirs, and the rest is shared by volume; what this one weighs rescales
    them all. Where every body states its own, a total rescales them all; stated masses that exceed the total are rescaled
    too: the scale is believed, the shares are kept.
    """
    if own is not None and total is not None and total != own:
        return [m * (total / own) for m in _shares(forms, own, own)]
    stated = [b.mass if b is not None else None for _, _, b in forms]
    known = sum(m for m in stated if m is not None)
    free = [solid.volume if m is None else 0.0 for (solid, _, _), m in zip(forms, stated)]
    if total is None:
        return [m or 0.0 for m in stated]
    if not any(free) or known >= total:
        scale = total / known if known else 0.0
        return [(m or 0.0) * scale for m in stated]
    density = (total - known) / sum(free)
    return [m if m is not None else v * density for m, v in zip(stated, free)]


def _measured(part: Part, own: Inertial | None, total: float | None) -> Inertial | None:
    """Given centre of mass and inertia instead of the computed ones."""
    mass = total if total is not None else own.mass if own else None
    if mass is None or (own is None and (part.com is None or part.inertia is None)):
        return own
    if own is not None:
        com, inertia = own.com, own.inertia
    if part.com is not None:
        com = part.com
    if part.inertia is not None:
        i = part.inertia
        # Measured on a part of `part.mass`; the same shape with another weight scales alike.
        measured_on = part.mass if part.mass is not None else sum(b.mass or 0.0 for b in part.bodies)
        k = mass / measured_on if measured_on else 1.0
        inertia = (k * i.ixx, k * i.iyy, k * i.izz, k * i.ixy, k * i.ixz, k * i.iyz)
    return Inertial(mass, com, inertia)


def standoff_bodies(deck: str, group: StandoffGroup, points: list[tuple[float, float]], bottom: float) -> list[Body]:
    """The standoffs of one group as uniform cylinders in the frame of the deck that they stand on; ``bottom``: their
    lower end's z in that frame."""
    solid = Cylinder(group.diameter / 2, group.length)
    mass = group.mass if group.mass is not None else solid.volume * group.density
    return [Body(deck, "standoff", solid, Pose(IDENTITY_ROTATION, (x, y, bottom + group.length / 2)), mass, None, mark,
                 material=group.material)
            for (x, y), mark in zip(points, group.hole_marks)]


def plate_inertial(plate: Plate, density: float | None, mass: float | None) -> Inertial | None:
    """The drilled plate; a weighed mass rescales. None when neither is known."""
    if density is None and mass is None:
        return None
    uniform = plate.inertial(density or 1.0)
    return uniform.scaled(mass) if mass is not None else uniform
