"""Room between the robot's belly and the ground, from true plates and solids."""
from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from chassis_describe.assembly.model import Assembly, Body
from chassis_describe.findings import Finding, Severity, finding
from chassis_describe.fit.lifts import new_lift
from chassis_describe.source import Mark
from chassis_describe.space.pose import Pose
from chassis_describe.space.solids import Box, Cylinder
from chassis_describe.tolerances import SAME_LENGTH
from chassis_describe.words import mm, plain


def clear_of_ground(assembly: Assembly) -> Iterator[Finding]:
    """``low-clearance``: anything but wheels and casters too near the ground at rest; one finding an owner."""
    if assembly.rest is None:
        return
    least = assembly.layout.limits["clearance_mm"] * 1e-3
    lowest: dict[tuple[str, str], tuple[float, Mark | None]] = {}
    for key, height, mark in _heights(assembly):
        if key not in lowest or height < lowest[key][0]:
            lowest[key] = (height, mark)
    for (kind, name), (height, mark) in lowest.items():
        if height < least - SAME_LENGTH:
            yield _finding(assembly, kind, name, height, least, mark)


def _finding(assembly: Assembly, kind: str, name: str, height: float, least: float, mark: Mark | None) -> Finding:
    what = {"deck": f"deck {name}", "standoff": f"a standoff on {name}"}.get(kind, name)
    says = f"is {mm(height)} above the ground" if height >= 0 else f"reaches {mm(-height)} below the ground"
    hint = f"it needs {mm(least - height)} more: larger wheels, or spacers under the motors and casters"
    where = [mark]
    if kind == "part":
        placed = assembly.parts[name]
        marks = placed.placement.marks
        where = [marks.get("lift") or marks.get("at") or placed.mark]
        lift = new_lift(placed, least - height)
        if lift is not None and placed.placement.lift > 0 and lift > -1e-9:
            hint = f"`lift: {plain(lift * 1e3, 3)}` for {name}, or {hint}"
    # Touching the ground is rounding away from reaching below it.
    severity = Severity.ERROR if height < -SAME_LENGTH else None
    return finding("low-clearance", f"{what} {says}", hint=hint, where=where, of=[name], measured=height * 1e3,
                   allowed=least * 1e3, unit="mm", severity=severity)


def _heights(assembly: Assembly) -> Iterable[tuple[tuple[str, str], float, Mark | None]]:
    """Lowest point of everything (m over the ground), by kind and name of its owner."""
    assert assembly.rest is not None
    ground = assembly.rest.base_in_ground
    for link in assembly.links:
        if not link.bodies and link.plate is None:
            continue
        pose = ground @ assembly.poses[link.name]
        if link.plate is not None:
            yield ("deck", link.owner), _plate_height(link.plate.outer_points(), link.plate.thickness, pose), link.mark
        part = assembly.parts.get(link.owner)
        if part is not None and (part.part.wheel is not None or part.part.caster is not None):
            continue
        for body in link.bodies:
            kind = "standoff" if body.role == "standoff" else "part"
            yield (kind, body.owner), _body_height(body, pose), body.mark


def _plate_height(points: Iterable[tuple[float, float]], thickness: float, pose: Pose) -> float:
    x, y, z = pose.r[6:]
    return pose.t[2] + min(x * p[0] + y * p[1] for p in points) + min(0.0, -thickness * z)


def _body_height(body: Body, link: Pose) -> float:
    """Support of a solid straight down (m over the ground)."""
    pose = link @ body.pose
    x, y, z = pose.r[6:]
    solid = body.solid
    if isinstance(solid, Box):
        reach = (abs(x) * solid.size[0] + abs(y) * solid.size[1] + abs(z) * solid.size[2]) / 2
    elif isinstance(solid, Cylinder):
        reach = solid.radius * math.hypot(x, y) + abs(z) * solid.length / 2
    else:
        reach = solid.radius
    return pose.t[2] - reach
