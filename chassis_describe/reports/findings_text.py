"""Findings, as text for people and as JSON for programs. Prints nothing itself."""
from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from chassis_describe.findings import Finding, Severity
from chassis_describe.source import Mark, file_as_said

_COLOUR = {Severity.ERROR: "31", Severity.WARNING: "33", Severity.NOTE: "36"}
_PLURAL = {Severity.ERROR: ("error", "errors"), Severity.WARNING: ("warning", "warnings"),
           Severity.NOTE: ("note", "notes")}


def finding_data(item: Finding) -> dict[str, Any]:
    """One finding for JSON."""
    data: dict[str, Any] = {
        "code": item.code, "severity": item.severity.value, "message": item.message, "hint": item.hint,
        "where": [{"file": file_as_said(m.file), "line": m.line, "column": m.column, "path": m.where} for m in item.where],
        "of": list(item.of), "measured": item.measured, "allowed": item.allowed, "unit": item.unit}
    if item.accepted is not None:
        data["accepted"] = item.accepted
    return data


def findings_text(items: Sequence[Finding], *, colour: bool = False) -> str:
    """Findings as paragraphs, in the order given."""
    return "".join(_paragraph(item, colour) for item in items)


def _paragraph(item: Finding, colour: bool) -> str:
    label = f"{item.severity.value}: {item.code}"
    if colour:
        label = f"\x1b[1;{_COLOUR[item.severity]}m{label}\x1b[0m"
    first, *others = item.where or (None,)
    place = f"  {_place(first)}" if first is not None else ""
    lines = [f"{label}{place}", f"    {item.message}"]
    if item.hint:
        lines.append(f"    -> {item.hint}")
    lines += [f"    see also {_place(mark)}" for mark in others if mark is not None]
    if item.accepted is not None:
        lines.append(f"    accepted: {item.accepted}")
    return "\n".join(lines) + "\n"


def _place(mark: Mark) -> str:
    """File, line, column and path of names; the built-in catalogue without the folders that it is installed in."""
    text = str(mark._replace(file=file_as_said(mark.file)))
    return f"{text}  {mark.where}" if mark.where else text


def count_text(items: Sequence[Finding]) -> str:
    """``1 error, 2 warnings``, or ``no findings``."""
    counts = []
    for severity, (one, many) in _PLURAL.items():
        n = sum(1 for item in items if item.severity is severity)
        if n:
            counts.append(f"{n} {one if n == 1 else many}")
    return ", ".join(counts) or "no findings"


def bare(value: Any) -> Any:
    """Values for JSON: tuples as lists, remains of rounding as 0, 12 significant digits."""
    if isinstance(value, float):
        if not math.isfinite(value):
            return None
        return 0.0 if abs(value) < 1e-15 else float(format(value, ".12g"))
    if isinstance(value, Mapping):
        return {k: bare(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [bare(v) for v in value]
    return value
