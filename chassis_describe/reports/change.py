"""A change between two robots as text, as Markdown for a pull request, and as JSON. Prints nothing itself."""
from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from chassis_describe.changes.compare import Change, Moved
from chassis_describe.changes.consumers import Restart
from chassis_describe.changes.joints import Course, JointChange
from chassis_describe.findings import Finding
from chassis_describe.reports.changed_figures import figure_changes_data, figure_rows
from chassis_describe.reports.findings_text import bare, finding_data
from chassis_describe.source import file_as_said
from chassis_describe.words import listing

if TYPE_CHECKING:
    from chassis_describe.changes.result import MoveResult


def change_data(change: Change) -> dict[str, Any]:
    """For JSON: millimetres and degrees where a name says so, else SI."""
    data = bare({
        "moved": [_moved_data(m, "base_link") for m in change.moved],
        "base_moved": _moved_data(change.base, "base deck") if change.base is not None else None,
        "added": list(change.added), "removed": list(change.removed),
        "renamed": [list(pair) for pair in change.renamed],
        "joints": [{"joint": j.joint, "before": j.before._asdict(), "after": j.after._asdict()} for j in change.joints],
        "changed": figure_changes_data(change.changed),
        "findings": {"gained": [finding_data(f) for f in change.gained],
                     "lost": [finding_data(f) for f in change.lost]},
        "work": [w._asdict() for w in change.work],
        "restart": [r._asdict() for r in change.restart]})
    assert isinstance(data, dict)
    return data


def _moved_data(moved: Moved, against: str) -> dict[str, Any]:
    return {"frame": moved.frame, "relative_to": against, "dxyz_mm": [v * 1e3 for v in moved.shift],
            "drpy_deg": [math.degrees(v) for v in moved.rpy]}


def change_text(change: Change) -> str:
    """For people; what to do first, then what it does to the numbers."""
    if change.nothing:
        return "nothing changed\n"
    blocks = [(title, rows) for title, rows in _blocks(change) if rows]
    text = "\n".join(f"{title}\n" + "".join(f"  {row}\n" for row in rows) for title, rows in blocks)
    return text if change.gained or change.lost else f"{text}\nno finding came or went\n"


def move_text(done: MoveResult, name: str, *, dry_run: bool) -> str:
    """What a move did, or (``dry_run``) would do."""
    if not done.patch:
        return f"{name} is there already; nothing was written\n"
    head = done.patch if dry_run else f"{done.path}: {name} moved\n"
    along = "".join(f"{other} moves along: it mirrors {of}\n" for other, of in done.along)
    tail = "\nnothing was written (--dry-run)\n" if dry_run else ""
    return f"{head}{along}\n{change_text(done.change)}{tail}"


def change_markdown(change: Change, *, title: str) -> str:
    """A page for a pull request."""
    if change.nothing:
        return f"## {title}\n\nNothing changed.\n"
    out = [f"## {title}\n"]
    for heading, rows in _blocks(change):
        if rows:
            out.append(f"\n### {heading[0].upper()}{heading[1:]}\n\n" + "".join(f"- {_escaped(row)}\n" for row in rows))
    if not change.gained and not change.lost:
        out.append("\nNo finding came or went.\n")
    return "".join(out)


def _escaped(text: str) -> str:
    for mark in ("\\", "*", "_", "<", "|", "`"):
        text = text.replace(mark, f"\\{mark}")
    return text


def _blocks(change: Change) -> list[tuple[str, list[str]]]:
    return [
        ("with the screwdriver", [f"{w.verb} {w.name}: {w.words}" for w in change.work]),
        ("frames that moved, against base_link", _moved_rows(change)),
        ("frames added", list(change.added)),
        ("frames removed", list(change.removed)),
        ("frames renamed", _renamed_rows(change.renamed)),
        ("joints", [_joint_row(j) for j in change.joints]),
        ("figures", figure_rows(change.changed)),
        ("findings gained", [_finding(f) for f in change.gained]),
        ("findings gone", [_finding(f, hint=False) for f in change.lost]),
        ("to be told", _told_rows(change.restart)),
    ]


def _moved_rows(change: Change) -> list[str]:
    """Frames that moved alike on one line: a deck takes all that stands on it along."""
    groups: dict[str, list[str]] = {}
    for m in change.moved:
        groups.setdefault(_shift_words(m), []).append(m.frame)
    rows = []
    if change.base is not None:
        rows.append(f"{change.base.frame} itself has moved against the base deck: {_shift_words(change.base)}")
        carried = max(groups, key=lambda words: len(groups[words]), default="")
        if len(groups.get(carried, ())) > 4:
            # What stayed where it was bolted is one fact, not twenty frames.
            rows.append(f"so the {len(groups[carried])} frames that stayed on the robot now count from elsewhere: {carried}")
            del groups[carried]
    return rows + [f"{listing(frames, most=8, last=', ')}: {words}" for words, frames in groups.items()]


def _renamed_rows(renamed: Sequence[tuple[str, str]]) -> list[str]:
    """One row each, or one for all where a prefix came, went or changed."""
    if len(renamed) > 4:
        old, new = (_beginning([pair[k] for pair in renamed]) for k in (0, 1))
        if all(a[len(old):] == b[len(new):] for a, b in renamed):
            was = f"began with {old} before" if old else "had no prefix before"
            now = f"begin with {new} now" if new else "have none now"
            return [f"all {len(renamed)} {was} and {now}"]
    return [f"{old} is now {new}" for old, new in renamed]


def _beginning(names: Sequence[str]) -> str:
    """What all of them begin with: what the first and the last of the alphabet share."""
    first, last = min(names), max(names)
    return first[: next((k for k, (a, b) in enumerate(zip(first, last)) if a != b), len(first))]


def _told_rows(restart: Sequence[Restart]) -> list[str]:
    groups: dict[tuple[str, str], list[str]] = {}
    for r in restart:
        groups.setdefault((r.action, r.because), []).append(r.consumer)
    return [f"{action}: {because}" if action.endswith(" again") else f"{action} {', '.join(consumers)}: {because}"
            for (action, because), consumers in groups.items()]


def _joint_row(change: JointChange) -> str:
    def said(value: float) -> str:
        return f"{value * 1e3:.6g} mm" if change.prismatic else f"{math.degrees(value):.6g}°"

    def span(course: Course) -> str:
        return "without stops" if course.lower is None or course.upper is None else (
            f"from {said(course.lower)} to {said(course.upper)}")

    before, after = change.before, change.after
    words = []
    if said(before.value) != said(after.value):
        words.append(f"starts at {said(before.value)} before, at {said(after.value)} now")
    if span(before) != span(after):
        words.append(f"goes {span(before)} before, {span(after)} now")
    return f"{change.joint}: {'; '.join(words) or 'by less than is written'}"


def _shift_words(moved: Moved) -> str:
    words = [f"{axis} {v * 1e3:+.3f} mm" for axis, v in zip("xyz", moved.shift) if abs(v) >= 5e-7]
    words += [f"{name} {math.degrees(v):+.3f}°" for name, v in zip(("roll", "pitch", "yaw"), moved.rpy)
              if abs(v) >= 1e-7]
    return ", ".join(words) or "by less than a micrometre"


def _finding(item: Finding, *, hint: bool = True) -> str:
    place = f"{item.where[0]._replace(file=file_as_said(item.where[0].file))}: " if item.where else ""
    what_to_do = f"; {item.hint}" if item.hint and hint else ""
    return f"{place}{item.severity.value}: {item.message} [{item.code}]{what_to_do}"
