"""The catalogue for people and programs: one line a part, or all that there is to say of one."""
from __future__ import annotations

import difflib
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from chassis_describe.assembly.describe import describe_part
from chassis_describe.layout.model import Part
from chassis_describe.source import UsageError

#: Order of the list, each with what makes a part belong there.
_GROUPS = ("lidars", "cameras", "rangers", "other sensors", "drive", "wheels", "casters", "holders", "others")


def chosen_parts(name: str | None, layout_path: str | None) -> tuple[Part, ...]:
    """The parts that are asked for: a part file, one part by name, or the whole catalogue.

    ``layout_path``: a layout whose own parts and part files count too. Raises UsageError for a name that is neither a
    part nor a file, LayoutError for a file that doesn't read.
    """
    from chassis_describe.layout.catalogue import all_parts, builtin_names, builtin_part
    from chassis_describe.layout.read import read, read_parts

    if name is not None and (name.endswith((".yaml", ".yml")) or "/" in name):
        return read_parts(name)
    if layout_path is None:
        if name is None:
            return tuple(all_parts().values())
        part, known = builtin_part(name), builtin_names()
    else:
        parts = all_parts(read(layout_path))
        if name is None:
            return tuple(parts.values())
        part, known = parts.get(name), tuple(parts)
    if part is None:
        near = difflib.get_close_matches(name, known, n=3)
        raise UsageError(f"there is no part {name!r}" + (f"; did you mean {', '.join(near)}?" if near else "")
                         + " - `chassis_describe parts` lists all; a part file is given by its path")
    return (part,)


def parts_text(name: str | None, layout_path: str | None) -> str:
    """One part in words; several as a list by kind."""
    parts = chosen_parts(name, layout_path)
    if name is not None and not Path(name).suffix:
        return describe_part(parts[0])
    width = max((len(p.name) for p in parts), default=0)
    lines: list[str] = []
    for group in _GROUPS:
        members = [p for p in parts if _group(p) == group]
        if members:
            lines += ["", group, *(f"  {p.name.ljust(width)}  {_weight(p)}  {p.about}".rstrip() for p in members)]
    closing = ["", f"{len(parts)} parts; `chassis_describe parts NAME` says all about one."]
    return "\n".join([*lines[1:], *closing]) + "\n"


def parts_data(name: str | None, layout_path: str | None) -> list[dict[str, Any]]:
    """For programs: SI, part axes."""
    return [{"name": p.name, "group": _group(p), "about": p.about, "mass": p.mass,
             "bolts": [list(b) for b in p.bolts],
             "sensors": [{"name": s.name, "kind": s.kind, "at": list(s.at)} for s in p.sensors],
             "seats": list(p.seats), "shafts": list(p.shafts)} for p in chosen_parts(name, layout_path)]


def _group(part: Part) -> str:
    kinds = {s.kind for s in part.sensors}
    rules: Iterable[tuple[bool, str]] = (
        ("lidar" in kinds, "lidars"), (bool(kinds & {"camera", "depth_camera"}), "cameras"),
        ("ranger" in kinds, "rangers"), (bool(kinds), "other sensors"), (bool(part.shafts), "drive"),
        (part.wheel is not None, "wheels"), (part.caster is not None, "casters"), (bool(part.seats), "holders"))
    return next((group for holds, group in rules if holds), "others")


def _weight(part: Part) -> str:
    return f"{part.mass * 1e3:6.0f} g" if part.mass is not None else "        "
