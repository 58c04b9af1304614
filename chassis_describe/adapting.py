"""A plate for a part whose holes don't match: the line for ``adapter``, from a layout to a part file and the layout with it."""
from __future__ import annotations

import os
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

from chassis_describe import compiler
from chassis_describe.assembly.model import Assembly
from chassis_describe.disk.file import replace_file
from chassis_describe.disk.ours import write_ours
from chassis_describe.errors import TargetError, UsageError
from chassis_describe.layout.edit import written_keys
from chassis_describe.layout.files import from_disk
from chassis_describe.layout.model import Part
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
        replace: bool = False) -> None:
    """Write the part file, and the adapter with the part on it into the layout. Nothing is written where the result does not read,
    or is another robot than the answer's. Raises UsageError, LayoutError, TargetError."""
    one, robot = answer.adapter, answer.robot
    assert one is not None and robot is not None
    own = assembly.layout.files[: 1 + len(overlays)]
    for over in own[1:]:
        if written_keys(over.data, over.path, one.placement) is not None:
            raise UsageError(f"`{one.placement}` is said differently in {over.path}: write the lines there by hand; nothing was "
                             "written")
    named = os.path.relpath(out, os.path.dirname(layout) or ".").replace(os.sep, "/")
    wants = Between(placement=one.placement, adapter=one.name, line=adapter_line(one), lift=Decimal(mm_text(one.gap)),
                    part_file=named)
    before = own[0].data
    after = put_between(before, own[0].path, wants)
    text = part_file(assembly, one).encode("utf-8")
    there = os.path.normpath(os.path.join(os.path.dirname(layout), named))

    def opener(wanted: str) -> bytes:
        if wanted == own[0].path:
            return after
        if os.path.normpath(wanted) == there:
            return text
        known = next((f.data for f in assembly.layout.files if f.path == wanted), None)
        return known if known is not None else from_disk(wanted)

    new = compiler.assemble(compiler.read(layout, overlays=overlays, opener=opener), prefix=assembly.prefix)
    for name, pose in robot.poses.items():
        then = new.poses.get(name)
        if then is None or any(abs(a - b) > _SAME for a, b in zip((*pose.t, *pose.r), (*then.t, *then.r))):
            raise UsageError(f"{layout}: {name} would not be where it should; write the lines by hand; nothing was written")
    new_file = write_part(assembly, one, out, replace=replace)
    try:
        replace_file(own[0].path, after, was=before)
    except TargetError as error:
        raise TargetError(f"{error}; {out} is written already" if new_file else str(error)) from error
