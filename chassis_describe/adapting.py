"""A plate for a part whose holes don't match: the line for ``adapter``, from a layout to a part file and the layout with it."""
from __future__ import annotations

import os
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

from chassis_describe import compiler
from chassis_describe.assembly.model import Assembly
from chassis_describe.changes.move import Edit
from chassis_describe.changing import edited_layout
from chassis_describe.disk.file import replace_file
from chassis_describe.disk.ours import write_ours
from chassis_describe.errors import TargetError, UsageError
from chassis_describe.layout.edit import written_catalogue, written_keys
from chassis_describe.layout.model import InputFile, Part
from chassis_describe.layout.part_files import read_parts
from chassis_describe.layout.put_between import Between, put_between
from chassis_describe.reports.adapter import HEADLINE, adapter_line, mm_text, part_file
from chassis_describe.search.adapter import AdapterAnswer, AdapterWish, adapter
from chassis_describe.search.adapter_part import Adapter

__all__ = ["AdapterAnswer", "AdapterWish", "adapter", "file_beside", "part_of", "put", "write_part"]

_SAME = 1e-9


def file_beside(layout: str, one: Adapter) -> str:
    """Where the part file goes where nothing is said: beside the layout."""
    return os.path.join(os.path.dirname(layout), f"{one.name}.yaml") if layout != "-" else f"{one.name}.yaml"


def part_of(assembly: Assembly, one: Adapter) -> Part:
    """The adapter's part, as its file reads."""
    return read_parts(f"{one.name}.yaml", text=part_file(assembly, one))[0]


def write_part(assembly: Assembly, one: Adapter, out: str, *, replace: bool = False) -> bool:
    """Write the part file; whether anything changed. Raises TargetError where the file is somebody else's."""
    return write_ours(Path(out), part_file(assembly, one).encode("utf-8"), HEADLINE, replace=replace,
                      inputs=compiler.files_read(assembly))


def put(layout: str, assembly: Assembly, answer: AdapterAnswer, out: str, *, overlays: Sequence[str] = (),
        replace: bool = False) -> str:
    """Write the part file, and the adapter with the part on it into the file that has the placement: the layout, or an overlay.

    Returns that file. Nothing is written where the result does not read, or is another robot than the answer's. Raises UsageError,
    LayoutError, TargetError.
    """
    one, robot = answer.adapter, answer.robot
    assert one is not None and robot is not None
    own = assembly.layout.files[: 1 + len(overlays)]
    holders = [n for n, f in enumerate(own) if written_keys(f.data, f.path, one.placement) is not None]
    if len(holders) > 1:
        raise UsageError(f"`{one.placement}` is said differently in {own[holders[-1]].path}: write the lines there by hand; "
                         "nothing was written")
    number = holders[0] if holders else 0
    path, before = own[number].path, own[number].data
    wants = Between(placement=one.placement, adapter=one.name, line=adapter_line(one), lift=Decimal(mm_text(one.gap)),
                    part_file=_from(path, out), shelves=_shelves(assembly, own, number))
    after = put_between(before, path, wants)
    plate = Edit(os.path.join(os.path.dirname(path), wants.part_file), part_file(assembly, one).encode("utf-8"))
    new = compiler.assemble(edited_layout(layout, assembly.layout, Edit(path, after), overlays, also=plate), prefix=assembly.prefix)
    for name, pose in robot.poses.items():
        then = new.poses.get(name)
        if then is None or any(abs(a - b) > _SAME for a, b in zip((*pose.t, *pose.r), (*then.t, *then.r))):
            raise UsageError(f"{path}: {name} would not be where it should; write the lines by hand; nothing was written")
    new_file = write_part(assembly, one, out, replace=replace)
    try:
        replace_file(path, after, was=before)
    except TargetError as error:
        raise TargetError(f"{error}; {out} is written already" if new_file else str(error)) from error
    return path


def _shelves(assembly: Assembly, own: Sequence[InputFile], number: int) -> tuple[str, ...]:
    """The part files that are in force, as file ``number`` of a layout and its overlays would name them."""
    said = [n for n, f in enumerate(own) if written_catalogue(f.data)]
    if said and said[-1] > number:
        raise UsageError(f"`catalogue` is said anew in {own[said[-1]].path}: add the part file there and write the lines by hand; "
                         "nothing was written")
    from_there = os.path.dirname(own[said[-1]].path) if said else ""
    return tuple(_from(own[number].path, os.path.join(from_there, name)) for name in assembly.layout.catalogue_paths)


def _from(path: str, file: str) -> str:
    """A file's path, counted from another's folder."""
    return os.path.relpath(file, os.path.dirname(path) or ".").replace(os.sep, "/")
