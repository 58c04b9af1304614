"""Swivel casters that turn: fork and wheel as links of their own, on joints that nothing drives."""
from __future__ import annotations

from collections.abc import Iterable, Mapping

from chassis_describe.layout.language.reading import Reading
from chassis_describe.layout.model import Adjustment, Attitude, CylinderForm, Layout, Part, PartBody, Placement, Seat
from chassis_describe.values import replace

#: The seat that carries fork and wheel of a turning caster, and its two adjustments.
SWIVEL, ROLL = "swivel", "roll"


def why_still(part: Part) -> str | None:
    """Why a caster can't turn, in words; None where it can, and where it is no swivel caster."""
    caster = part.caster
    if caster is None or caster.kind == "ball":
        return None
    if not any(body.moves_with == SWIVEL for body in part.bodies):
        return "no body of its part is the fork: say `with: swivel` on it"
    if _wheel_body(part) is None:
        return "no body of its part is the wheel: add the cylinder that `caster` describes"
    if part.com is not None or part.inertia is not None:
        return "its part has a measured centre of mass or inertia, which fork and wheel can't share"
    return None


def _wheel_body(part: Part) -> PartBody | None:
    caster = part.caster
    assert caster is not None
    form = CylinderForm(diameter=caster.diameter, length=caster.width or 0.0, axis="y")
    return next((b for b in part.bodies if b.form == form and b.at == caster.at and b.attitude == Attitude()), None)


def is_fork(body: PartBody) -> bool:
    """Whether a body swings with the wheel, in a part as it is written and in one from ``turning``."""
    return body.moves_with in (SWIVEL, f"{SWIVEL}.{SWIVEL}")


def turning(part: Part) -> Part:
    """The part with its fork on a joint about the swivel axis and its wheel on one about the axle; others as they are.

    The frame of the fork is on the swivel axis at the height of the axle, x forward, away from the trail. The ground is
    where the wheel is, seen from the base plane, so the wheel rolls forward about -y where that is along z.
    """
    caster = part.caster
    if caster is None or caster.kind == "ball" or why_still(part) is not None:
        return part
    wheel = _wheel_body(part)
    free = [Adjustment(name=SWIVEL, axis=(0.0, 0.0, 1.0), motion="free", range=None, mark=caster.mark),
            Adjustment(name=ROLL, axis=(0.0, -1.0 if caster.at[2] > 0 else 1.0, 0.0), motion="free", pivot=caster.at, range=None,
                       mark=caster.mark)]
    bodies = tuple(replace(b, moves_with=f"{SWIVEL}.{ROLL}") if b is wheel else
                   replace(b, moves_with=f"{SWIVEL}.{SWIVEL}") if b.moves_with == SWIVEL else b for b in part.bodies)
    meshes = tuple(replace(m, moves_with=f"{SWIVEL}.{SWIVEL}") if m.moves_with == SWIVEL else m for m in part.meshes)
    return replace(part, bodies=bodies, meshes=meshes,
                   seats={**part.seats, SWIVEL: Seat(name=SWIVEL, at=caster.swivel, adjust=tuple(free), mark=caster.mark)})


def all_turning(placements: Mapping[str, Placement]) -> dict[str, Placement]:
    """The same placements with every swivel caster that can turn on its joints; equal parts stay one."""
    parts: dict[int, Part] = {}
    return {name: p if p.part.caster is None else replace(p, part=parts.setdefault(id(p.part), turning(p.part)))
            for name, p in placements.items()}


def with_turning_casters(layout: Layout) -> Layout:
    """The same robot with casters that turn, as simulators need it."""
    return replace(layout, placements=all_turning(layout.placements), ros=replace(layout.ros, casters="turning"))


def turning_casters(placements: Iterable[Placement], r: Reading) -> None:
    """Report casters that are asked to turn and can't."""
    for placed in placements:
        why = why_still(placed.part)
        if why is not None:
            r.fault("bad-value", f"`{placed.name}` can't turn: {why}", placed.mark,
                    hint="mend the part, or write `casters: still` under `ros`", also=[placed.part.mark])
