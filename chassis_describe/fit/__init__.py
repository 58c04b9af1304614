"""The check: an assembly in, findings out. One rule family a file, all of them in the table ``CHECKS``."""
from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly
from chassis_describe.findings import Finding, Severity
from chassis_describe.fit.bolts import bolts_on_holes, held_at_all, holes_shared, screws_pass
from chassis_describe.fit.calibration import calibrations_hold
from chassis_describe.fit.casters import casters_swing
from chassis_describe.fit.causes import by_cause
from chassis_describe.fit.clear import space_kept_clear
from chassis_describe.fit.edges import edges_of_holes
from chassis_describe.fit.ground import GROUND_CHECKS
from chassis_describe.fit.mass import frames_unique, links_have_mass, numbers_plausible, weighed_agrees
from chassis_describe.fit.meshes import meshes_fit, meshes_there, world_there
from chassis_describe.fit.navigation import STACK_CHECKS, sees_all_round
from chassis_describe.fit.overlap import bodies_overlap
from chassis_describe.fit.part_files import names_once
from chassis_describe.fit.plate_files import plate_files_read
from chassis_describe.fit.plates import decks_whole, drilled_in_plate, skips_needed
from chassis_describe.fit.sight import RAYS_WITHOUT_ERRORS, SIGHT_CHECKS
from chassis_describe.fit.standoffs import decks_held, standoffs_on_holes
from chassis_describe.fit.sweep import range_free
from chassis_describe.fit.waivers import accepted
from chassis_describe.fit.wheels import wheels_turn
from chassis_describe.tolerances import MOST_TOLD

Check = Callable[[Assembly], Iterable[Finding]]

_ORDER = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}


#: Every rule, in the order in which they are asked.
CHECKS: tuple[Check, ...] = (
    bolts_on_holes, standoffs_on_holes, holes_shared, screws_pass, held_at_all, decks_held, edges_of_holes,
    decks_whole, skips_needed, drilled_in_plate, plate_files_read, bodies_overlap, space_kept_clear, range_free, wheels_turn,
    casters_swing, links_have_mass, weighed_agrees, numbers_plausible, meshes_there, world_there, meshes_fit, frames_unique,
    *GROUND_CHECKS, *SIGHT_CHECKS, calibrations_hold, names_once, *STACK_CHECKS)
#: Rules that find no errors and take time: who asks whether there are errors leaves them out.
LATE_CHECKS: tuple[Check, ...] = (*RAYS_WITHOUT_ERRORS, sees_all_round, wheels_turn, space_kept_clear, numbers_plausible,
                                  edges_of_holes, range_free, casters_swing)
ERROR_CHECKS: tuple[Check, ...] = tuple(c for c in CHECKS if c not in LATE_CHECKS)


def check(assembly: Assembly, checks: Sequence[Check] | None = None) -> list[Finding]:
    """All findings, worst first, then by place in the file; what the builder accepted comes last, as notes."""
    rules = CHECKS if checks is None else checks
    names = (*assembly.decks, *assembly.parts, *assembly.poses)
    listed = sorted(accepted(_asked(assembly, rules), assembly.layout.waivers, names), key=_place)
    return _told(sorted(by_cause(assembly, listed, lambda robot: list(_asked(robot, rules))), key=_place))


def _asked(assembly: Assembly, rules: Sequence[Check]) -> dict[Finding, None]:
    """What the rules find, each once."""
    found: dict[Finding, None] = {}
    for rule in rules:
        found.update(dict.fromkeys(answer(assembly, rule)))
    return found


def answer(assembly: Assembly, rule: Check) -> tuple[Finding, ...]:
    """What one rule finds, asked once for each robot: who asks for errors first asks the rest of the rules later."""
    answers = _answers(assembly)
    if rule not in answers:
        answers[rule] = tuple(rule(assembly))
    return answers[rule]


@kept
def _answers(assembly: Assembly) -> dict[Check, tuple[Finding, ...]]:
    return {}


def _told(findings: Iterable[Finding]) -> list[Finding]:
    """The first findings of each kind in full, and one for each kind that counts the rest."""
    out: list[Finding] = []
    numbers: dict[tuple[str, Severity, bool], int] = {}
    for item in findings:
        key = (item.code, item.severity, item.accepted is not None)
        numbers[key] = numbers.get(key, 0) + bool(item.of)
        if numbers[key] <= MOST_TOLD or not item.of:  # one without names counts what was not judged: always told
            out.append(item)
    for (code, severity, known), number in numbers.items():
        if number > MOST_TOLD:
            last = next(f for f in reversed(out) if (f.code, f.severity, f.accepted is not None) == (code, severity, known))
            out.append(replace(last, message=f"{number - MOST_TOLD} more findings of this kind", of=(), measured=None,
                               allowed=None, unit=None, hint="mend the first, check again"))
    return sorted(out, key=lambda f: (_ORDER[f.severity], f.accepted is not None)) if len(out) > MOST_TOLD else out


#: What follows from things that are in a wrong place, and so comes after them.
_FOLLOWS = ("outside-support", "low-clearance", "base-outside-footprint", "view-blocked")


def _place(item: Finding) -> tuple[int, bool, bool, bool, str, int, int, str, tuple[str, ...]]:
    first = item.where[0] if item.where else None
    return (_ORDER[item.severity], item.accepted is not None, not item.of, item.code in _FOLLOWS,
            first.file if first else "", first.line if first else 0, first.column if first else 0, item.code, item.of)
