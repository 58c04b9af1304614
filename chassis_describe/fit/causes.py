"""One cause, one finding: what goes away when a robot that stands askew is put level is said with that, not beside it."""
from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from chassis_describe.assembly.model import Assembly
from chassis_describe.assembly.place import assemble
from chassis_describe.errors import LayoutError
from chassis_describe.findings import Finding, Severity
from chassis_describe.fit.lifts import levelled
from chassis_describe.words import count, listing

#: What says that a robot does not stand as it should, the most telling first.
_STANDING = ("few-contacts", "rocks", "contact-lifted", "rests-tilted")
#: How often the remedy is followed: a caster that was on the wrong face still needs its spacers.
_STEPS = 2
#: With more placements than this the check is not asked again.
_MOST = 300
_WORST = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}


def by_cause(assembly: Assembly, findings: Sequence[Finding],
             ask: Callable[[Assembly], Sequence[Finding]]) -> list[Finding]:
    """The findings, with those that follow from the way the robot stands joined to the one that says how it stands.

    The remedy is followed, the check asked again (``ask``), and what is gone then followed from it. The finding that
    stays is as severe as the worst of them; what the builder accepted is left alone.
    """
    standing = [f for f in findings if f.code in _STANDING and f.accepted is None and f.severity is not Severity.NOTE]
    if not standing or len(findings) < 2 or len(assembly.parts) > _MOST:
        return list(findings)
    left = _after(assembly, ask)
    if left is None:
        return list(findings)
    gone = [f for f in findings if f.accepted is None and f.severity is not Severity.NOTE and (f.code, f.of) not in left]
    cause = min((f for f in standing if f in gone), key=lambda f: _STANDING.index(f.code), default=None)
    if cause is None or len(gone) < 2:
        return list(findings)
    rest = [f for f in gone if f is not cause]
    names: dict[str, dict[str, None]] = {}
    for item in rest:
        names.setdefault(item.code, {}).update(dict.fromkeys(item.of[:1]))
    follows = "; ".join(f"{code}{f' ({listing(of, most=6)})' if of else ''}" for code, of in names.items())
    joined = replace(cause, severity=min((f.severity for f in gone), key=_WORST.__getitem__),
                     message=f"{cause.message}. {count(len(rest), 'more finding')} {'follows' if len(rest) == 1 else 'follow'} "
                     f"from this: {follows}", where=tuple(dict.fromkeys((*cause.where, *(f.where[0] for f in rest if f.where)))))
    return [joined if f is cause else f for f in findings if f is cause or f not in rest]


def _after(assembly: Assembly, ask: Callable[[Assembly], Sequence[Finding]]) -> set[tuple[str, tuple[str, ...]]] | None:
    """Codes and names of what is found once the remedy was followed; None where there is none to follow, or it fails."""
    now = assembly
    for _ in range(_STEPS):
        layout = levelled(now)
        if layout is None:
            break
        try:
            now = assemble(layout)
        except LayoutError:
            return None
    return None if now is assembly else {(f.code, f.of) for f in ask(now)}
