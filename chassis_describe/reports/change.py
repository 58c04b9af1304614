"""A change between two robots as text, as Markdown for a pull request, and as JSON. Prints nothing itself."""
from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from chassis_describe.changes.compare import Change, Moved
from chassis_describe.changes.consumers import Restart
from chassis_describe.findings import Finding
from chassis_describe.reports.findings_text import bare, finding_data

if TYPE_CHECKING:
    from chassis_describe.changes.result import MoveResult

#: Figures whose values are lengths (m) shown in millimetres, and what people call them.
_NAMES = {
    "mass": "mass", "com": "centre of mass", "inertia": "inertia", "footprint": "footprint",
    "circumscribed_radius": "outer radius", "inscribed_radius": "inner radius", "wheel_separation": "wheel separation",
    "wheel_radius": "wheel radius", "rest": "rest pose", "contacts": "contacts", "tip": "tip angles",
}


def change_data(change: Change) -> dict[str, Any]:
    """For JSON: millimetres and degrees where a name says so, else SI."""
    data = bare({
        "moved": [_moved_data(m, "base_link") for m in change.moved],
        "base_moved": _moved_data(change.base, "base deck") if change.base is not None else None,
        "added": list(change.added), "removed": list(change.removed),
        "renamed": [list(pair) for pair in change.renamed],
        "changed": {name: list(pair) for name, pair in change.changed.items()},
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
        ("figures", _figure_rows(change.changed)),
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
    return rows + [f"{_listed(frames)}: {words}" for words, frames in groups.items()]


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


def _listed(names: Sequence[str], most: int = 8) -> str:
    return ", ".join(names) if len(names) <= most else f"{', '.join(names[:most])} and {len(names) - most} more"


def _told_rows(restart: Sequence[Restart]) -> list[str]:
    groups: dict[tuple[str, str], list[str]] = {}
    for r in restart:
        groups.setdefault((r.action, r.because), []).append(r.consumer)
    return [f"{action}: {because}" if action.endswith(" again") else f"{action} {', '.join(consumers)}: {because}"
            for (action, because), consumers in groups.items()]


def _shift_words(moved: Moved) -> str:
    words = [f"{axis} {v * 1e3:+.3f} mm" for axis, v in zip("xyz", moved.shift) if abs(v) >= 5e-7]
    words += [f"{name} {math.degrees(v):+.3f}°" for name, v in zip(("roll", "pitch", "yaw"), moved.rpy)
              if abs(v) >= 1e-7]
    return ", ".join(words) or "by less than a micrometre"


def _figure_rows(changed: Mapping[str, tuple[Any, Any]]) -> list[str]:
    rows: list[str] = []
    for name, (old, new) in changed.items():
        if name.endswith(".play"):
            continue
        if name == "tip":
            rows += _named(old, new, lambda t: " - ".join(sorted(t["edge"])), "tips over {}",
                           lambda t: f"at {t['angle_deg']:.1f}°", lambda t: float(t["angle_deg"]), 0.05)
        elif name == "contacts":
            rows += _named(old, new, lambda c: str(c["of"]), "load on {}", _load, lambda c: float(c["load_share"] or 0.0), 0.005)
        elif name != "tip_angle_deg":
            rows += _figure(name, old, new)
    return rows + _play_rows(changed)


def _play_rows(changed: Mapping[str, tuple[Any, Any]]) -> list[str]:
    """How far frames can be off by the play of screws, alike ones together; hundredths of a millimetre count."""
    groups: dict[str, list[str]] = {}
    for name, (old, new) in changed.items():
        if name.endswith(".play") and old and new and _play(old) != _play(new):
            groups.setdefault(f"{_play(old)} before, {_play(new)} now", []).append(name.removesuffix(".play"))
    return [f"play of {_listed(frames)}: {words}" for words, frames in groups.items()]


def _play(play: Mapping[str, float]) -> str:
    return "turns freely" if play["twist_deg"] >= 180 else f"{play['shift_mm']:.2f} mm and {play['twist_deg']:.2f}°"


def _load(contact: Any) -> str:
    return "unknown" if contact["load_share"] is None else f"{contact['load_share'] * 100:.0f} %"


def _named(old: Sequence[Any] | None, new: Sequence[Any] | None, name: Callable[[Any], str], label: str, text: Callable[[Any], str],
           value: Callable[[Any], float], least: float) -> list[str]:
    """One row for each entry that is in both lists and differs by what the text shows."""
    before = {name(item): item for item in old or ()}
    rows = []
    for item in new or ():
        was = before.get(name(item))
        if was is not None and text(was) != text(item) and abs(value(item) - value(was)) >= least:
            rows.append(f"{label.format(name(item))}: {text(was)} before, {text(item)} now")
        elif was is None:
            rows.append(f"{label.format(name(item))}: {text(item)}, new")
    return rows


def _figure(name: str, old: Any, new: Any) -> list[str]:
    frame, dot, figure = name.rpartition(".")
    label = frame if dot else _NAMES.get(name, name.replace("_", " "))
    if name == "inertia" or figure in ("blocked_deg", "blocked_by"):
        return []  # follows from what stands beside it; in the JSON for those who need it
    if (old is None or new is None) and frame != "ros":
        return _came_or_went(frame, figure, label, old, new)
    if name == "mass":
        return [f"{label}: {old * 1e3:.1f} g before, {new * 1e3:.1f} g now ({(new - old) * 1e3:+.1f} g)"]
    if name == "com":
        steps = [f"{axis} {(b - a) * 1e3:+.2f} mm" for axis, a, b in zip("xyz", old, new) if abs(b - a) >= 5e-6]
        return [f"{label}: {', '.join(steps)}"] if steps else []
    if name == "footprint":
        return [f"{label}: {_extent(old)} before, {_extent(new)} now" if _extent(old) != _extent(new)
                else f"{label}: its corners have changed within {_extent(new)}"]
    if name == "rest":
        keys = ("roll_deg", "pitch_deg", "height")
        steps = [f"{_REST[k]} {_rest(k, old[k])} before, {_rest(k, new[k])} now" for k in keys if abs(new[k] - old[k]) > 1e-6]
        return [f"stands: {step}" for step in steps]
    if figure == "arcs":
        return [f"{label}: the robot blocks {_arcs(old)} before, {_arcs(new)} now"]
    if figure == "layers":
        return [f"{label}: what the robot covers of its layers has changed"]
    if figure == "robot_percent":
        return [f"{label}: {old:.1f} % of the image is the robot before, {new:.1f} % now"]
    if figure in _DISTANCES:
        return [f"{label}: {_DISTANCES[figure]} {old:.2f} m before, {new:.2f} m now"]
    if isinstance(old, str) or isinstance(new, str):
        return [f"{label}: {figure} {old or 'none'} before, {new or 'none'} now"]
    if isinstance(old, (int, float)) and isinstance(new, (int, float)):
        return [f"{label}: {old * 1e3:.1f} mm before, {new * 1e3:.1f} mm now"]
    return [f"{label}: {figure.replace('_', ' ')} has changed"] if dot else [f"{label} has changed"]


_REST = {"roll_deg": "roll", "pitch_deg": "pitch", "height": "base_link above the ground"}
_DISTANCES = {"nearest_floor": "sees the floor from", "floor_at": "its cone meets the floor at"}


def _came_or_went(frame: str, figure: str, label: str, old: Any, new: Any) -> list[str]:
    """A figure that only one of the two robots has; those of a frame that came or went say nothing more."""
    if figure in _DISTANCES:
        return [f"{label}: {_DISTANCES[figure]} {new:.2f} m now, not before" if old is None
                else f"{label}: {_DISTANCES[figure]} {old:.2f} m before, not any more"]
    if frame:
        return []
    return [f"{label}: there now, not before" if old is None else f"{label}: was there before, is not any more"]


def _rest(key: str, value: float) -> str:
    return f"{value * 1e3:.2f} mm" if key == "height" else f"{value + 0.0:.3f}°"


def _extent(points: Sequence[Sequence[float]]) -> str:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return (f"x {min(xs) * 1e3:.0f} to {max(xs) * 1e3:.0f}, y {min(ys) * 1e3:.0f} to {max(ys) * 1e3:.0f} mm"
            if points else "none")


def _arcs(arcs: Sequence[Any]) -> str:
    def one(arc: Any) -> str:
        by = f" ({', '.join(arc[2])})" if len(arc) > 2 and arc[2] else ""
        return f"{math.degrees(arc[0]):.1f}° to {math.degrees(arc[1]):.1f}°{by}"

    return ", ".join(one(arc) for arc in arcs) or "nothing"


def _finding(item: Finding, *, hint: bool = True) -> str:
    place = f" ({item.where[0]})" if item.where else ""
    what_to_do = f"; {item.hint}" if item.hint and hint else ""
    return f"{item.severity.value} {item.code}: {item.message}{what_to_do}{place}"
