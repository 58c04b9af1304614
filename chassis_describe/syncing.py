"""The user's own parameter files and the layout: the line for ``sync``."""
from __future__ import annotations

import os
from collections.abc import Mapping, Sequence

from chassis_describe import compiler
from chassis_describe.assembly.model import Assembly
from chassis_describe.changes.identity import frame_keys, renamed_owners
from chassis_describe.changing import side
from chassis_describe.disk.file import replace_file
from chassis_describe.disk.revision import Source
from chassis_describe.errors import TargetError, UsageError
from chassis_describe.inputs import open_input
from chassis_describe.sync.edit import FileSync, plan
from chassis_describe.sync.wanted import wanted
from chassis_describe.words import listing


def sync(layout: str, files: Sequence[str], *, text: bytes | None = None, overlays: Sequence[str] = (),
         since: Source | None = None, write: bool = False) -> tuple[FileSync, ...]:
    """What has to change in these files so that they say what the layout says; with ``write`` it is changed.

    Every file is read and worked out before the first one is written, and each is replaced in one step. Raises LayoutError,
    UsageError where a file can't be read, TargetError where one can't be written.
    """
    assembly = compiler.assemble(compiler.read(layout, text=text, overlays=overlays))
    renamed = renamed_frames(side(since, overlays=overlays).assembly, assembly) if since is not None else {}
    read: dict[str, tuple[str, bytes]] = {}
    for file in files:
        read.setdefault(os.path.realpath(file), (file, _bytes(file)))
    done = plan(list(read.values()), wanted(assembly), renamed)
    written: list[str] = []
    for one in done if write else ():
        if one.data != one.was:
            try:
                replace_file(one.file, one.data, was=one.was)
            except TargetError as error:
                raise TargetError(f"{error}; changed already: {listing(written)}" if written else str(error)) from error
            written.append(one.file)
    return done


def renamed_frames(old: Assembly, new: Assembly) -> Mapping[str, str]:
    """Old name → new name of frames that are the same thing in both robots and have another name."""
    owners = renamed_owners(old, new)
    now = frame_keys(new)
    out = {}
    for key, name in frame_keys(old).items():
        there = now.get(key) or now.get(key._replace(owner=owners.get(key.owner, key.owner)))
        if there is not None and there != name:
            out[name] = there
    return out


def _bytes(file: str) -> bytes:
    try:
        return open_input(file)
    except OSError as error:
        raise UsageError(f"{file} can't be read: {error.strerror or error}") from error
