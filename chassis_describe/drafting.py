"""A part file begun from a mesh: the line for ``new --part``."""
from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from chassis_describe.disk.ours import write_new
from chassis_describe.errors import UsageError
from chassis_describe.facts.fasteners import ISO_273
from chassis_describe.inputs import open_input
from chassis_describe.layout.build.materials import MATERIALS, material
from chassis_describe.layout.described.mesh_points import NoPoints
from chassis_describe.layout.mesh_triangles import mesh_triangles
from chassis_describe.layout.meshes import mesh_suffix
from chassis_describe.layout.names import slip
from chassis_describe.layout.part_starter import Drafted, Weight, part_file
from chassis_describe.units import LENGTH
from chassis_describe.words import listing, mm, nearest, plain

if TYPE_CHECKING:
    from chassis_describe.layout.mesh_base import MeshBase

#: Units that meshes are drawn in.
UNITS = ("mm", "cm", "m", "in")
#: A mesh whose longest side is at most this many units is taken to be drawn in metres: no part is a millimetre long (our choice).
IN_METRES = 2.0
#: No part for such a robot is longer, none shorter (m): beyond, the unit is wrong.
LONGEST, SHORTEST = 2.0, 0.002
#: A hole may be narrower by so much than ISO 273's fine series and still let the screw pass: chords of a meshed circle (m).
_CHORDS = 0.05e-3


def draft(name: str, file: str, *, unit: str | None = None, up: str = "z", front: str | None = None, mass: float | None = None,
          of: str | None = None) -> Drafted:
    """Write ``NAME.yaml`` here, for a part whose mesh is ``file`` (STL or OBJ).

    ``up``, ``front``: axes of the mesh that are the part's z and x, such as ``-y``; ``mass`` in kg, or ``of`` which material it
    is all through. Raises UsageError for what can't be used, TargetError for what can't be written; nothing is overwritten.
    """
    from chassis_describe.layout.mesh_base import AXES, mesh_base, rotation_of

    fault = slip(name, plain=True)
    if fault is not None:
        raise UsageError(f"`{name}` can't be a part's name: {fault[0]}; {fault[1]}")
    if Path(f"{name}.yaml").exists():
        raise UsageError(f"{name}.yaml exists already and stays as it is; choose another name")
    density = _density(of)
    data, suffix = _read(file)
    try:
        triangles = mesh_triangles(data, suffix)
        taken = unit or ("m" if _extent(triangles) <= IN_METRES else "mm")
        up_factor, down_factor = LENGTH.units[taken]
        scale = up_factor / down_factor
        _plausible(file, _extent(triangles) * scale, taken, guessed=unit is None)
        base = mesh_base(triangles, rotation_of(up, front or _front_for(up)), scale)
        better = None
        if not base.bolts:
            sides = {a: len(mesh_base(triangles, rotation_of(a, _front_for(a)), scale).bolts) for a in AXES}
            better = max(AXES, key=lambda a: sides[a]) if any(sides.values()) else None
    except (NoPoints, ValueError) as error:
        raise UsageError(f"{file} can't be used: {error}") from None
    weight = Weight(mass, "as given") if mass is not None else None
    if of is not None and density is not None:
        weight = _weighed(file, base, *density)
    passes = _passes(base)
    beside = _beside(name, file, suffix, data)
    text = part_file(name, beside or Path(file).as_posix(), base, scale=scale, weight=weight, passes=passes)
    if not write_new(Path(f"{name}.yaml"), text.encode("utf-8")):
        raise UsageError(f"{name}.yaml exists already and stays as it is; choose another name")
    return Drafted(f"{name}.yaml", beside, base, taken, unit is None, weight, passes, better)


def _front_for(up: str) -> str:
    """The axis that is forward where none is named: x, or y for a mesh that stands along x."""
    return "y" if up[-1] == "x" else "x"


def _read(file: str) -> tuple[bytes, str]:
    from chassis_describe.layout.meshes import FORMATS, fault_of

    suffix = mesh_suffix(file)
    if suffix not in (".stl", ".obj"):
        raise UsageError(f"{file}: a part is begun from an STL or OBJ file; save the mesh as one of them")
    try:
        data = open_input(file)
    except OSError as error:
        raise UsageError(f"{file} can't be read: {error.strerror or error}") from error
    wrong = fault_of(data, suffix)
    if wrong:
        raise UsageError(f"{file} is no {FORMATS[suffix]} file: {wrong}")
    return data, suffix


def _extent(triangles: object) -> float:
    import numpy as np

    return float(np.ptp(np.asarray(triangles).reshape(-1, 3), axis=0).max())


def _plausible(file: str, length: float, unit: str, *, guessed: bool) -> None:
    if SHORTEST <= length <= LONGEST:
        return
    others = [u for u in UNITS if SHORTEST <= length / _metres(unit) * _metres(u) <= LONGEST]
    what = f"{file} would be {mm(length)} long, taken to be drawn in {unit}"
    raise UsageError(f"{what}: no part is; say --unit {' or '.join(others)}" if others else f"{what}: no part is" + (
        "" if guessed else "; leave --unit out"))


def _metres(unit: str) -> float:
    numerator, denominator = LENGTH.units[unit]
    return numerator / denominator


def _density(of: str | None) -> tuple[str, float] | None:
    if of is None:
        return None
    found = material(of, {})
    if found is None:
        near = nearest(of, MATERIALS)
        raise UsageError(f"`{of}` is no material that is known here; " + (f"did you mean {near}?" if near else "")
                         + f" there are: {listing(MATERIALS, most=len(MATERIALS))}; or say --mass")
    return found


def _weighed(file: str, base: MeshBase, name: str, density: float) -> Weight:
    if base.volume is None:
        why = f"{base.open_edges} open edges" if base.open_edges else "no volume"
        raise UsageError(f"{file} has {why}, so how much material is in it can't be said; weigh the part and say --mass")
    return Weight(base.volume * density, f"measure: {plain(base.volume * 1e6, 2)} cm³ of {name}, solid all through", solid=True)


def _passes(base: MeshBase) -> str:
    """The largest screw that passes through all bolts' holes (ISO 273); empty where it can't be said."""
    if not base.bolts or any(h.widens or h.depth is not None for h in base.bolts):
        return ""
    width = min(h.width for h in base.bolts)
    fitting = [s for s, hole in ISO_273.items() if hole.fine <= width + _CHORDS]
    return f"{fitting[-1]} passes (ISO 273)" if fitting else ""


def _beside(name: str, file: str, suffix: str, data: bytes) -> str | None:
    """A part file travels with its mesh, so one that is not below this folder is copied; None where it is."""
    where = Path(file).resolve()
    if where.is_relative_to(Path.cwd().resolve()) and not Path(file).is_absolute() and ".." not in Path(file).parts:
        return None
    copy = f"{name}{suffix}"
    if not write_new(Path(copy), data) and open_input(copy) != data:
        raise UsageError(f"{copy}, where the mesh would be copied to, exists already and is another; choose another name")
    return copy
