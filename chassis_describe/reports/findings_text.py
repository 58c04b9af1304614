"""Findings, as text for people and as JSON for programs. Prints nothing itself."""
from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import Any

from chassis_describe.findings import Finding, Severity
from chassis_describe.reports.wrapping import COLUMNS, wrapped
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


def findings_text(items: Sequence[Finding], *, colour: bool = False, width: int = COLUMNS) -> str:
    """Findings as compilers print them, place first, in the order given; lines of at most ``width``."""
    return "".join(_paragraph(item, colour, width) for item in items)


def _paragraph(item: Finding, colour: bool, width: int) -> str:
    first, *others = item.where or (None,)
    place = f"{_place(first)}: " if first is not None else ""
    lines = [wrapped(f"{place}{item.severity.value}: {item.message} [{item.code}]", width, 4)]
    if first is not None and len(first.path) > 1 and not re.search(rf"\b{re.escape(first.path[1])}\b", item.message):
        lines.append(wrapped(f"    in {first.where}", width, 7))  # the message does not say whose it is
    if item.hint:
        lines.append(wrapped(f"    hint: {item.hint}", width, 10))
    if others:
        places = ", ".join(f"{_place(mark)} ({mark.where})" if mark.where else _place(mark) for mark in others if mark)
        lines.append(wrapped(f"    see also {places}", width, 13))
    if item.accepted is not None:
        lines.append(wrapped(f"    accepted: {item.accepted}", width, 14))
    text = "\n".join(lines) + "\n"
    label = f"{item.severity.value}:"
    return text.replace(label, f"\x1b[1;{_COLOUR[item.severity]}m{label}\x1b[0m", 1) if colour else text


def _place(mark: Mark) -> str:
    """File, line and column; the built-in catalogue without the folders that it is installed in."""
    return str(mark._replace(file=file_as_said(mark.file)))


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
