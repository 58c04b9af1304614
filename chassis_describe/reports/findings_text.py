"""Findings and the summary, as text for people and as JSON for programs. Prints nothing itself."""
from __future__ import annotations

import math
import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

from chassis_describe.findings import Finding, Severity
from chassis_describe.source import Mark, file_as_said
from chassis_describe.words import away_from, heading

#: Width of the summary: what fits beside a terminal's edge (common practice: 80 to 100).
COLUMNS = 100
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


def summary_text(robot: str, summary: Mapping[str, Any]) -> str:
    """The key figures on one screen, millimetres and degrees."""
    rows: list[tuple[str, str]] = []
    if summary["mass"] is not None:
        rows.append(("mass", f"{summary['mass']:.3f} kg, centre of mass {_where(summary['com'])} base_link"))
    if summary["rest"] is not None:
        rows += _ground_rows(summary)
    if summary["wheel_separation"] is not None:
        separation, radius = _mm(summary["wheel_separation"]), _mm(summary["wheel_radius"], 2)
        rows.append(("drive", f"wheels {separation} mm apart, radius {radius} mm"))
    elif summary["contacts"]:
        rows.append(("drive", "none: `drive` names no driven wheels, so no controller is written"))
    if summary["footprint"]:
        xs, ys = [p[0] for p in summary["footprint"]], [p[1] for p in summary["footprint"]]
        size = f"{_mm(max(xs) - min(xs), 0)} x {_mm(max(ys) - min(ys), 0)} mm, {len(xs)} corners"
        outer, inner = _mm(summary["circumscribed_radius"]), _mm(summary["inscribed_radius"])
        rows.append(("footprint", f"{size}; turns within {outer} mm, inner radius {inner} mm"))
    rows += _sight_rows(summary)
    rows += _play_rows(summary)
    width = max((len(name) for name, _ in rows), default=0)
    return f"{robot}\n" + "".join(f"  {name.ljust(width)}  {_wrapped(text, width + 4)}\n" for name, text in rows)


def _wrapped(text: str, indent: int) -> str:
    """Long rows on several lines of a terminal of ``COLUMNS``, each below the first."""
    return textwrap.fill(text, max(COLUMNS - indent, 40), break_long_words=False,
                         break_on_hyphens=False).replace("\n", "\n" + " " * indent)


def _ground_rows(summary: Mapping[str, Any]) -> list[tuple[str, str]]:
    rest = summary["rest"]
    level = max(abs(rest["roll_deg"]), abs(rest["pitch_deg"])) < 0.005
    ways = ((rest["roll_deg"], "right side down", "left side down"), (rest["pitch_deg"], "nose down", "nose up"))
    tilt = "level" if level else " and ".join(f"{abs(angle):.2f}° {plus if angle > 0 else minus}"
                                              for angle, plus, minus in ways if abs(angle) >= 0.005)
    rows = [("stands", f"{tilt}, base_link {_mm(rest['height'])} mm above the ground")]
    loads = [f"{c['of']} {c['load_share'] * 100:.0f} %" for c in summary["contacts"] if c["load_share"] is not None]
    if loads:
        rows.append(("load", ", ".join(loads)))
    tips = sorted(summary["tip"], key=lambda t: float(t["angle_deg"]))
    feet = {c["of"]: c["xyz"] for c in summary["contacts"]}
    touching = [feet[name] for name in dict.fromkeys(name for tip in tips for name in tip["edge"])]
    fallen = [tip for tip in tips if tip["angle_deg"] < 0]
    for k, tip in enumerate((fallen or tips)[:4]):
        over = f"{_towards(tip['edge'], feet, touching)} over {' - '.join(tip['edge'])}"
        if fallen:
            rows.append(("" if k else "falls", f"{over}: the centre of mass lies outside"))
        else:
            rows.append(("" if k else "tips", f"{over}: at {tip['angle_deg']:.1f}° or {tip['acceleration']:.1f} m/s²"))
    return rows


def _towards(edge: Sequence[str], feet: Mapping[str, Sequence[float]], touching: Sequence[Sequence[float]]) -> str:
    """The way that the robot falls over an edge, seen from the middle of its contacts: ``forward``."""
    a, b = feet[edge[0]], feet[edge[1]]
    return heading(*away_from((b[1] - a[1], a[0] - b[0]), a, touching))


def _sight_rows(summary: Mapping[str, Any]) -> list[tuple[str, str]]:
    rows = []
    for frame, lidar in summary["lidars"].items():
        by = f" by {_some(lidar['blocked_by'])}" if lidar["blocked_by"] else ""
        rows.append((frame, f"{lidar['blocked_deg']:.1f}° of its scan blocked{by}"))
        layers = [layer["covered_percent"] for layer in lidar.get("layers") or ()]
        if any(layers):
            rows.append(("", f"the robot covers up to {max(layers):.1f} % of one of its {len(layers)} layers"))
    for frame, camera in summary["cameras"].items():
        if camera["robot_percent"] is None:
            rows.append((frame, "not judged: its field of view is not given, or is a fisheye's"))
            continue
        floor = camera["nearest_floor"]
        seen = "sees no floor" if floor is None else f"sees the floor from {floor:.2f} m"
        rows.append((frame, f"{camera['robot_percent']:.1f} % of its image is the robot, {seen}"))
    for frame, ranger in summary["rangers"].items():
        at = ranger["floor_at"]
        rows.append((frame, "cone clear of the floor" if at is None else f"cone meets the floor at {at:.2f} m"))
    return rows


def _play_rows(summary: Mapping[str, Any]) -> list[tuple[str, str]]:
    known = {f: p for f, p in summary["play"].items() if p is not None and (p["shift_mm"] or p["twist_deg"])}
    if not known:
        return []
    frame, worst = max(known.items(), key=lambda item: (item[1]["twist_deg"], item[1]["shift_mm"]))
    shift = max(p["shift_mm"] for p in known.values())
    return [("play", f"up to {shift:.2f} mm and {worst['twist_deg']:.2f}° (most: {frame})")]


def _some(names: Sequence[str], most: int = 4) -> str:
    shown = ", ".join(names[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"


def _mm(value: float, digits: int = 1) -> str:
    text = f"{value * 1e3:.{digits}f}"
    return f"{0:.{digits}f}" if float(text) == 0 else text


def _where(com: Sequence[float]) -> str:
    words = [(com[0], "ahead of", "behind"), (com[1], "left of", "right of"), (com[2], "above", "below")]
    parts = [f"{abs(v) * 1e3:.1f} mm {plus if v > 0 else minus}" for v, plus, minus in words if abs(v) >= 5e-5]
    if not parts:
        return "at"
    # "12 mm ahead of, 3 mm left of and 40 mm above base_link"
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"


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
