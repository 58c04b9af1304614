"""Findings that the builder accepts, with the reason (``checks: accept:``)."""
from __future__ import annotations

from collections.abc import Collection, Iterable

from chassis_describe.findings import Finding, Severity, finding
from chassis_describe.layout.model import Waiver
from chassis_describe.values import replace
from chassis_describe.words import nearest


def accepted(findings: Iterable[Finding], waivers: tuple[Waiver, ...],
             names: Collection[str]) -> list[Finding]:
    """The findings, accepted ones turned into notes that carry the reason; waivers that match nothing are reported.

    ``names``: what findings can be about, decks, placements and frames. A waiver matches a finding of its code that is
    about all the names under its ``of`` (and maybe about more).
    """
    used: set[int] = set()
    out: list[Finding] = []
    for item in findings:
        match = next((n for n, w in enumerate(waivers) if w.finding == item.code and set(w.of) <= set(item.of)), None)
        if match is None:
            out.append(item)
            continue
        # Others that match it too are not unused: say only what would change nothing when it was taken out.
        used |= {n for n, w in enumerate(waivers) if w.finding == item.code and set(w.of) <= set(item.of)}
        out.append(replace(item, severity=Severity.NOTE, accepted=waivers[match].because))
    for n, waiver in enumerate(waivers):
        if n not in used:
            of = f" of {', '.join(waiver.of)}" if waiver.of else ""
            out.append(finding("accept-unused", f"nothing to accept: there is no {waiver.finding}{of}",
                               hint=_hint(waiver, names), where=[waiver.mark], of=waiver.of))
    return out


def _hint(waiver: Waiver, names: Collection[str]) -> str:
    """What to do with a waiver that matches nothing; names in it that nothing has come first."""
    unknown = [name for name in waiver.of if name not in names]
    near = {n: nearest(n, names) for n in unknown}
    said = [f"nothing is called {n}" + (f", did you mean {near[n]}?" if near[n] else "") for n in unknown]
    return "; ".join([*said, "take the waiver out, or correct its names"])
