"""Room between the robot's belly and the ground, from true plates and solids."""
from __future__ import annotations

from collections.abc import Iterator

from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.heights import heights_of
from chassis_describe.findings import Finding, Severity, finding
from chassis_describe.fit.lifts import new_lift
from chassis_describe.source import Mark
from chassis_describe.tolerances import SAME_LENGTH
from chassis_describe.words import mm, plain


def clear_of_ground(assembly: Assembly) -> Iterator[Finding]:
    """``low-clearance``: anything but wheels and casters too near the ground at rest; one finding an owner."""
    if assembly.rest is None:
        return
    least = assembly.layout.limits["clearance_mm"] * 1e-3
    for found in heights_of(assembly).each:
        if not found.rolls and found.low < least - SAME_LENGTH:
            yield _finding(assembly, found.kind, found.owner, found.low, least, found.mark)


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
