"""A change between two robots as text, as Markdown for a pull request, and as JSON. Prints nothing itself."""
from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from chassis_describe.changes.compare import Change, Moved
from chassis_describe.findings import Finding
from chassis_describe.report import bare, finding_data

if TYPE_CHECKING:
    from chassis_describe.changing import MoveResult

#: Figures whose values are lengths (m) shown in millimetres, and what people call them.
_NAMES = {
    "mass": "mass", "com": "centre of mass", "inertia": "inertia", "footprint": "footprint",
    "circumscribed_radius": "outer radius", "inscribed_radius": "inner radius", "wheel_separation": "wheel separation",
    "wheel_radius": "wheel radius", "rest": "rest pose", "tip_angle_deg": "least tip angle",
}


def change_data(change: Change) -> dict[str, Any]:
    """For JSON: millimetres and degrees where a name says so, else SI."""
    data = bare({
        "moved": [{"frame": m.frame, "relative_to": "base_link", "dxyz_mm": [v * 1e3 for v in m.shift],
                   "drpy_deg": [math.degrees(v) for v in m.rpy]} for m in change.moved],
        "added": list(change.added), "removed": list(change.removed),
        "renamed": [list(pair) for pair in change.renamed],
        "changed": {name: list(pair) for name, pair in change.changed.items()},
        "findings": {"gained": [finding_data(f) for f in change.gained],
                     "lost": [finding_data(f) for f in change.lost]},
        "work": [w._asdict() for w in change.work],
        "restart": [r._asdict() for r in change.restart]})
    assert isinstance(data, dict)
    return data


def change_text(change: Change) -> str:
    """For people; what to do first, then what it does to the numbers."""
    if change.nothing:
        return "nothing changed\n"
    blocks = [(title, rows) for title, rows in _blocks(change) if rows]
    return "\n".join(f"{title}\n" + "".join(f"  {row}\n" for row in rows) for title, rows in blocks)


def move_text(done: MoveResult, name: str, *, dry_run: bool) -> str:
    """What a move did, or (``dry_run``) would do."""
    if not done.patch:
        return f"{name} is there already; nothing was written\n"
    head = done.patch + "\n" if dry_run else f"{done.path}: {name} moved\n"
    along = "".join(f"{other} moves along: it mirrors {of}\n" for other, of in done.along)
    tail = "nothing was written (--dry-run)\n" if dry_run else ""
    return f"{head}{along}\n{change_text(done.change)}{tail}"


def change_markdown(change: Change, *, title: str) -> str:
    """A page for a pull request."""
    if change.nothing:
        return f"## {title}\n\nNothing changed.\n"
    out = [f"## {title}\n"]
    for heading, rows in _blocks(change):
        if rows:
            out.append(f"\n### {heading.capitalize()}\n\n" + "".join(f"- {_escaped(row)}\n" for row in rows))
    return "".join(out)


def _escaped(text: str) -> str:
    for mark in ("\\", "*", "_", "<", "|", "`"):
        text = text.replace(mark, f"\\{mark}")
    return text


def _blocks(change: Change) -> list[tuple[str, list[str]]]:
    return [
        ("with the screwdriver", [f"{w.verb} {w.name}: {w.words}" for w in change.work]),
        ("frames that moved, against base_link", _moved_rows(change.moved)),
        ("frames added", list(change.added)),
        ("frames removed", list(change.removed)),
        ("frames renamed", [f"{old} is now {new}" for old, new in change.renamed]),
        ("figures", [row for name, (old, new) in change.changed.items() for row in _figure(name, old, new)]),
        ("findings gained", [_finding(f) for f in change.gained]),
        ("findings gone", [_finding(f) for f in change.lost]),
        ("to be told", [f"{r.action} {r.consumer}: {r.because}" for r in change.restart]),
    ]


def _moved_rows(moved: Sequence[Moved]) -> list[str]:
    """Frames that moved alike on one line: a deck takes all that stands on it along."""
    groups: dict[str, list[str]] = {}
    for m in moved:
        groups.setdefault(_shift_words(m), []).append(m.frame)
    return [f"{', '.join(frames)}: {words}" for words, frames in groups.items()]


def _shift_words(moved: Moved) -> str:
    words = [f"{axis} {v * 1e3:+.3f} mm" for axis, v in zip("xyz", moved.shift) if abs(v) >= 5e-7]
    words += [f"{name} {math.degrees(v):+.3f}°" for name, v in zip(("roll", "pitch", "yaw"), moved.rpy)
              if abs(v) >= 1e-7]
    return ", ".join(words) or "by less than a micrometre"


def _figure(name: str, old: Any, new: Any) -> list[str]:
    label = _NAMES.get(name, name.replace("_", " "))
    if old is None or new is None:
        return [f"{label}: {'none' if old is None else 'was there'} before, {'none' if new is None else 'there'} now"]
    if name == "mass":
        return [f"{label}: {old * 1e3:.1f} g to {new * 1e3:.1f} g ({(new - old) * 1e3:+.1f} g)"]
    if name == "com":
        steps = [f"{axis} {(b - a) * 1e3:+.2f} mm" for axis, a, b in zip("xyz", old, new) if abs(b - a) >= 5e-6]
        return [f"{label}: {', '.join(steps)}"] if steps else []
    if name == "inertia":
        return []  # follows from what stands above; in the JSON for those who need it
    if name == "footprint":
        return [f"{label}: {_extent(old)} to {_extent(new)}"]
    if name == "rest":
        keys = ("roll_deg", "pitch_deg", "height")
        steps = [f"{k.removesuffix('_deg')} {_rest(k, old[k])} to {_rest(k, new[k])}" for k in keys
                 if abs(new[k] - old[k]) > 1e-9]
        return [f"{label}: {', '.join(steps)}"]
    if name.endswith(".arcs"):
        return [f"{name.removesuffix('.arcs')}: blocked arcs {_arcs(old)} to {_arcs(new)}"]
    if name.endswith("layers"):
        return [f"{name.removesuffix('.layers')}: what the robot covers of its layers has changed"]
    if isinstance(old, (int, float)) and isinstance(new, (int, float)):
        if name.endswith("_deg"):
            return [f"{label.removesuffix(' deg')}: {old:.2f}° to {new:.2f}°"]
        if name.endswith("percent"):
            return [f"{label}: {old:.2f} % to {new:.2f} %"]
        return [f"{label}: {old * 1e3:.1f} mm to {new * 1e3:.1f} mm"]
    return [f"{label} has changed"]


def _rest(key: str, value: float) -> str:
    return f"{value * 1e3:.2f} mm" if key == "height" else f"{value:.3f}°"


def _extent(points: Sequence[Sequence[float]]) -> str:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return (f"x {min(xs) * 1e3:.0f}..{max(xs) * 1e3:.0f}, y {min(ys) * 1e3:.0f}..{max(ys) * 1e3:.0f} mm"
            if points else "none")


def _arcs(arcs: Sequence[Any]) -> str:
    return ", ".join(f"{math.degrees(a[0]):.1f}..{math.degrees(a[1]):.1f}°" for a in arcs) or "none"


def _finding(item: Finding) -> str:
    place = f" ({item.where[0]})" if item.where else ""
    return f"{item.severity.value} {item.code}: {item.message}{place}"
