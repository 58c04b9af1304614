"""Every transform of the robot: as rows, text, JSON, YAML and ``static_transform_publisher`` lines."""
from __future__ import annotations

import json
import math
import shlex
from typing import Any

from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.frames import FrameRow, frame_rows
from chassis_describe.space.pose import Pose, Vec3
from chassis_describe.words import amount_words, clean, plain


def as_data(assembly: Assembly, *, start: str | None = None) -> dict[str, Any]:
    """The rows as plain values (SI, quaternion x y z w)."""
    return {"root": assembly.root, "frames": [
        {"parent": r.parent, "child": r.child, "joint": r.joint, "type": r.type,
         "value": None if r.value is None else clean(r.value), "xyz": [clean(v) for v in r.pose.t],
         "rpy": [clean(v) for v in r.pose.rpy], "quaternion": [clean(v) for v in r.pose.quaternion],
         "play": None if r.shift_mm is None else {"shift_mm": r.shift_mm, "twist_deg": r.twist_deg}}
        for r in frame_rows(assembly, start=start)], **_calibrated(assembly)}


def _calibrated(assembly: Assembly) -> dict[str, Any]:
    """``calibrated``: by frame, the nominal pose in base_link, the true one, and whether the correction was applied."""
    found = {f.frame: {"nominal": _pose_data(f.nominal), "pose": _pose_data(f.pose), "applied": not f.stale,
                       "date": f.calibration.date, "note": f.calibration.note}
             for f in assembly.sensors if f.calibration is not None and f.nominal is not None}
    return {"calibrated": found} if found else {}


def _pose_data(pose: Pose) -> dict[str, Any]:
    return {"xyz": [clean(v) for v in pose.t], "rpy": [clean(v) for v in pose.rpy],
            "quaternion": [clean(v) for v in pose.quaternion]}


def as_json(assembly: Assembly, *, start: str | None = None) -> str:
    """JSON text."""
    return json.dumps(as_data(assembly, start=start), indent=2) + "\n"


def as_yaml(assembly: Assembly, *, start: str | None = None) -> str:
    """YAML text, the same keys as the JSON."""
    import yaml

    return yaml.safe_dump(as_data(assembly, start=start), sort_keys=False, default_flow_style=None, width=120)


def as_commands(assembly: Assembly, *, start: str | None = None) -> str:
    """One ``static_transform_publisher`` line for each fixed transform (flags: ros2/geometry2, tf2_ros, Humble on)."""
    rows = frame_rows(assembly, start=start)
    lines = ["# Not beside robot_state_publisher: it publishes these transforms itself."]
    for r in rows:
        moves = r.type not in (None, "fixed")
        if moves:
            place = f"at {_value(r)}" if r.value else "at zero"
            lines.append(f"# {r.child} {'slides' if r.type == 'prismatic' else 'turns'} ({r.joint}): its transform comes from "
                         f"joint states; shown {place}.")
        flags = [*zip(("--x", "--y", "--z"), r.pose.t), *zip(("--qx", "--qy", "--qz", "--qw"), r.pose.quaternion)]
        values = " ".join(f"{flag} {clean(value):.12g}" for flag, value in flags)
        line = (f"ros2 run tf2_ros static_transform_publisher {values} --frame-id {shlex.quote(r.parent)} "
                f"--child-frame-id {shlex.quote(r.child)}")
        lines.append(f"# {line}" if moves else line)
    return "\n".join(lines) + "\n"


def as_text(assembly: Assembly, *, start: str | None = None) -> str:
    """A table in millimetres and degrees, for reading."""
    rows = frame_rows(assembly, start=start)
    moving = any(r.type in ("revolute", "prismatic") or r.value for r in rows)
    head = ("frame", "in", "x", "y", "z", "roll", "pitch", "yaw", *(["joint at"] if moving else []), "play")
    body = [(r.child, r.parent, *_millimetres(r.pose.t), *_degrees(r.pose.rpy), *([_value(r)] if moving else []),
             _play_words(r)) for r in rows]
    widths = [max(len(row[k]) for row in (head, *body)) for k in range(len(head))]
    lines = [_line(head, widths), *(_line(row, widths) for row in body)]
    notes = ["", "x, y, z in mm; roll, pitch, yaw in degrees about fixed axes;",
             f"play against {assembly.base}: how far screws in their holes let the frame shift (mm) and twist (degrees)."]
    if moving:
        notes.append("Joints are shown at the value in force: as `set`, else at rest.")
    elif any(r.type == "continuous" for r in rows):
        notes.append("Wheels are shown at joint angle 0.")
    for facet in assembly.sensors:
        if facet.nominal is not None:
            what = "not applied: it was measured in another place" if facet.stale else "applied"
            notes.append(f"{facet.frame} is calibrated ({what}); as bolted in {assembly.base}: "
                         f"xyz [{', '.join(_millimetres(facet.nominal.t))}], rpy [{', '.join(_degrees(facet.nominal.rpy))}]")
    return "\n".join([*lines, *notes]) + "\n"


def _value(row: FrameRow) -> str:
    """The value in force of a movable joint: ``12°``, ``5 mm``; nothing for a fixed one."""
    if row.value is None:
        return ""
    return amount_words(row.value, "slide" if row.type == "prismatic" else "turn")


def _millimetres(values: Vec3) -> list[str]:
    return [plain(v * 1e3, 3) for v in values]


def _degrees(values: Vec3) -> list[str]:
    return [plain(math.degrees(v), 4) for v in values]


def _play_words(row: FrameRow) -> str:
    if row.shift_mm is None or row.twist_deg is None:
        return "unknown"
    if row.shift_mm == 0.0 and row.twist_deg == 0.0:
        return "0"
    return f"{row.shift_mm:.2f} mm, {row.twist_deg:.2f}°"


def _line(cells: tuple[str, ...], widths: list[int]) -> str:
    padded = [c.ljust(w) if k < 2 or k == len(widths) - 1 else c.rjust(w) for k, (c, w) in enumerate(zip(cells, widths))]
    return "  ".join(padded).rstrip()
