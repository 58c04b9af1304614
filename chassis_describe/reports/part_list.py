"""The catalogue for people and programs: one line a part, or all that there is to say of one."""
from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from chassis_describe.errors import UsageError
from chassis_describe.findings import Finding
from chassis_describe.layout.build.described import alone
from chassis_describe.layout.model import PROVENANCE, Layout, Part
from chassis_describe.reports.part_words import describe_part
from chassis_describe.words import near_names, with_words


def is_file(name: str) -> bool:
    """Whether a word on the command line names a part file and not a part."""
    return name.endswith((".yaml", ".yml")) or "/" in name or "\\" in name


def chosen_parts(name: str | None, layout: Layout | None, in_file: str | None = None) -> tuple[Part, ...]:
    """The parts that are asked for: a part file or one part of it, one part by name, those with a word in
    their names or that sense in that way (``lidar``), or the whole catalogue.

    ``in_file``: the part of the file ``name``. ``layout``: its own parts and part files count too.
    Raises UsageError for a name that is neither a part nor a file, LayoutError for a file that doesn't read.
    """
    from chassis_describe.layout.catalogue import builtin_names, builtin_part
    from chassis_describe.layout.part_files import all_parts, read_parts

    if name is not None and is_file(name):
        listed = {part.name: part for part in read_parts(name)}
        if in_file is None:
            return tuple(listed.values())
        return (_named(in_file, listed.get(in_file), tuple(listed)),)
    if in_file is not None:
        raise UsageError(f"{name} {in_file}: a second name is a part of the file that the first one names")
    if layout is None:
        if name is None:
            return tuple(all_parts().values())
        part, known = builtin_part(name), builtin_names()
        if part is None:
            return _of_kind(name, all_parts())
    else:
        parts = all_parts(layout)
        if name is None:
            return tuple(parts.values())
        if name not in parts:
            return _of_kind(name, parts)
        part, known = parts[name], tuple(parts)
    return (_named(name, part, known),)


def _of_kind(word: str, parts: Mapping[str, Part]) -> tuple[Part, ...]:
    """The parts with that word in their names, or that sense in that way; raises UsageError where there are none."""
    named = frozenset(with_words(word, parts))
    found = tuple(p for p in parts.values() if p.name in named or any(s.kind == word for s in p.sensors))
    return found or (_named(word, None, tuple(parts)),)


def _named(name: str, part: Part | None, known: Sequence[str]) -> Part:
    if part is None:
        near = near_names(name, known, most=3)
        rest = (f"; there are: {', '.join(known)}" if len(known) <= 12 else
                " - `chassis_describe parts` lists all; a part file is given by its path")
        raise UsageError(f"there is no part `{name}`" + (f"; did you mean {', '.join(near)}?" if near else "") + rest)
    return part


def parts_text(name: str | None, layout: Layout | None, in_file: str | None = None) -> str:
    """One part in words; several as a list by the file that they stand in."""
    parts = chosen_parts(name, layout, in_file)
    if _is_one(name, in_file, parts):
        return describe_part(alone(parts[0], _packages(layout)))
    width = max((len(p.name) for p in parts), default=0)
    lines: list[str] = []
    for group in sorted({_group(p) for p in parts}):
        members = [p for p in parts if _group(p) == group]
        lines += ["", group, *(f"  {p.name.ljust(width)}  {_weight(p)}  {p.about}".rstrip() for p in members)]
    call = f"parts {name} NAME" if name is not None and is_file(name) else "parts NAME"
    closing = ["", f"{len(parts)} part{'' if len(parts) == 1 else 's'}; `chassis_describe {call}` says all about one."]
    return "\n".join([*lines[1:], *closing]) + "\n"


def judged(name: str | None, layout: Layout | None, in_file: str | None = None) -> tuple[Finding, ...]:
    """What is wrong with the parts of a part file, each judged by itself; nothing where no file is named."""
    from chassis_describe.fit.part_alone import judged_alone

    if name is None or not is_file(name):
        return ()
    return tuple(f for part in chosen_parts(name, layout, in_file) for f in judged_alone(part))


def parts_data(name: str | None, layout: Layout | None, in_file: str | None = None) -> list[dict[str, Any]]:
    """For programs: SI, part axes. ``joints`` of a described part: when it is asked for alone, else null.
    ``findings``: of the parts of a part file, each judged by itself."""
    from chassis_describe.fit.part_alone import judged_alone
    from chassis_describe.reports.findings_text import finding_data

    parts = chosen_parts(name, layout, in_file)
    if _is_one(name, in_file, parts):
        parts = (alone(parts[0], _packages(layout)),)
    in_a_file = name is not None and is_file(name)
    return [{"name": p.name, "group": _group(p), "about": p.about, **{k: p.provenance.get(k) for k in PROVENANCE}, "mass": p.mass,
             "bolts": [list(b) for b in p.bolts],
             "bolt_slots": {str(n): {"length": s.length, "width": s.width, "turn": s.turn} for n, s in p.bolt_slots.items()},
             "sensors": [{"name": s.name, "kind": s.kind, "at": list(s.at)} for s in p.sensors],
             "plate": None if p.plate is None else {"size": list(p.plate.size), "thickness": p.plate.thickness,
                                                    "corner": p.plate.corner, "material": p.plate.material},
             "seats": list(p.seats), "shafts": list(p.shafts),
             "joints": _joints(p), "findings": [finding_data(f) for f in judged_alone(p)] if in_a_file else []} for p in parts]


def _is_one(name: str | None, in_file: str | None, parts: Sequence[Part]) -> bool:
    return in_file is not None or (name is not None and not is_file(name) and len(parts) == 1)


def _packages(layout: Layout | None) -> Mapping[str, str]:
    return {} if layout is None else layout.packages


def _joints(part: Part) -> list[dict[str, Any]] | None:
    """What moves while the robot runs, in radians and metres; limits are null where there are none."""
    if part.description is not None:
        return [{"name": name, "type": j.type, "lower": j.lower, "upper": j.upper, "follows": j.mimic[0] if j.mimic else None}
                for name, j in part.description.joints.items() if j.type != "fixed"]
    if part.described is not None:
        return None
    return [{"name": a.name, "type": "prismatic" if a.kind == "slide" else "continuous" if a.range is None else "revolute",
             "lower": a.range[0] if a.range else None, "upper": a.range[1] if a.range else None,
             "follows": a.follows.of if a.follows else None} for a in part.adjustments if a.moves]


def _group(part: Part) -> str:
    """The file that the part stands in names its kind: ``small_sensors.yaml`` holds small sensors."""
    return Path(part.mark.file).stem.replace("_", " ")


def _weight(part: Part) -> str:
    return f"{part.mass * 1e3:6.0f} g" if part.mass is not None else "        "
