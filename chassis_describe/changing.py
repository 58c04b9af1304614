"""Two robots from files or revisions, and one robot moved in its file: the line for ``compare`` and ``move``."""
from __future__ import annotations

import os
from collections.abc import Sequence
from typing import NamedTuple

from chassis_describe import compiler
from chassis_describe.assembly.model import Assembly
from chassis_describe.changes.compare import Change, Side, compare
from chassis_describe.changes.move import Edit, Request, faults, moved_along, plan
from chassis_describe.changes.result import MoveResult, patch
from chassis_describe.disk.file import replace_file
from chassis_describe.disk.revision import Revision, Source
from chassis_describe.errors import LayoutError, UsageError
from chassis_describe.facts.figures import figures_of
from chassis_describe.findings import Finding
from chassis_describe.layout.files import from_disk
from chassis_describe.layout.model import Layout
from chassis_describe.source import Mark, is_built_in
from chassis_describe.values import replace


def side(source: Source, *, text: bytes | None = None, overlays: Sequence[str] = ()) -> Side:
    """One robot, read, put together and checked. Places in a revision are named ``git:REV:path``."""
    if source.rev is None:
        return checked(compiler.assemble(compiler.read(source.path, text=text, overlays=overlays)))
    then = Revision(source)
    try:
        done = checked(compiler.assemble(compiler.read(source.path, overlays=overlays, opener=then)))
    except LayoutError as error:
        raise LayoutError(tuple(_in_revision(f, then) for f in error.findings)) from None
    except UsageError as error:
        raise UsageError(f"git:{source.rev}: {error}") from None
    return replace(done, findings=tuple(_in_revision(f, then) for f in done.findings))


def checked(assembly: Assembly) -> Side:
    """A robot with its findings and figures."""
    return Side(assembly=assembly, findings=compiler.check(assembly), figures=figures_of(assembly))


def _in_revision(item: Finding, then: Revision) -> Finding:
    def there(mark: Mark) -> Mark:
        return mark if is_built_in(mark.file) else mark._replace(file=f"git:{then.rev}:{mark.file}")

    return replace(item, where=tuple(there(m) for m in item.where))


class Prepared(NamedTuple):
    """A move that is worked out, and not written: the file with its content before and after, the robot that it makes."""

    path: str
    before: bytes
    after: bytes
    new: Assembly
    change: Change
    along: tuple[tuple[str, str], ...]

    @property
    def patch(self) -> str:
        """What changes in the file."""
        return patch(self.before, self.after, self.path)


def prepare(path: str, request: Request, old: Assembly, *, overlays: Sequence[str] = (),
            before: Side | None = None) -> Prepared | None:
    """Work a move out, from the files as ``old`` was read from them; None where nothing has to be written.

    ``before``: the old robot with its findings, where they are known. Raises UsageError where the move can't be made, or would
    make something else; LayoutError where its result does not read.
    """
    layout = old.layout
    own = layout.files[: 1 + len(overlays)]
    edit = plan(request, old, own)
    if edit is None:
        return None
    new = compiler.assemble(edited_layout(path, layout, edit, overlays))
    wrong = faults(request, old, new)
    if wrong is not None:
        raise UsageError(f"{wrong}; nothing was written")
    return Prepared(edit.path, next(f.data for f in own if f.path == edit.path), edit.data, new,
                    compare(before or checked(old), checked(new)), moved_along(request, old, new))


def move(path: str, request: Request, *, overlays: Sequence[str] = (), dry_run: bool = False) -> MoveResult:
    """Move a placement in its file. Nothing is written where the result does not read, or says something else."""
    old = compiler.assemble(compiler.read(path, overlays=overlays))
    done = prepare(path, request, old, overlays=overlays)
    if done is None:
        before = checked(old)
        return MoveResult(change=compare(before, before), along=(), path=path, patch="", written=False)
    if not dry_run:
        replace_file(done.path, done.after, was=done.before)
    return MoveResult(change=done.change, along=done.along, path=done.path, patch=done.patch, written=not dry_run)


def edited_layout(path: str, layout: Layout, edit: Edit, overlays: Sequence[str] = (), *, also: Edit | None = None) -> Layout:
    """A layout as it will read once one of its files is written (``also``: and a new one), all else as it was read. Raises
    LayoutError."""
    written = {os.path.normpath(e.path): e.data for e in (edit, also) if e is not None}

    def opener(wanted: str) -> bytes:
        if (data := written.get(os.path.normpath(wanted))) is not None:
            return data
        known = next((f.data for f in layout.files if f.path == wanted), None)
        if known is None and wanted in layout.meshes:
            known = layout.meshes[wanted].data
        return known if known is not None else from_disk(wanted)

    return compiler.read(path, overlays=overlays, opener=opener)
