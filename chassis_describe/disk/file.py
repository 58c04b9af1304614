"""Putting one file of the user's in place of its old self: whole or not at all."""
from __future__ import annotations

import contextlib
import os
import re
import stat
import time
from pathlib import Path

from chassis_describe.disk.exchange import exchange
from chassis_describe.disk.staged import staged
from chassis_describe.disk.steps import Step, no_step, sync_folder
from chassis_describe.errors import TargetError

_OLD = 60.0  # s; a run needs a fraction of one


def replace_file(path: str | Path, data: bytes, *, was: bytes, step: Step = no_step) -> None:
    """Let ``path`` hold ``data`` instead of ``was``.

    The new content is written beside it, flushed to the disk, and takes the old one's name in one step (an exchange,
    or a rename where there is none; POSIX.1: atomic), with its permissions. A link stays a link: what it points to is
    replaced. Raises TargetError, with the file as it was, when it can't be written or holds something else than
    ``was`` by now.
    """
    target = Path(os.path.realpath(path))
    try:
        mode = stat.S_IMODE(target.stat().st_mode)
        if not os.access(target, os.W_OK):
            raise TargetError(f"{path} may not be written: its permissions forbid it, or its disk is read-only; it is as it was")
        _sweep(target, step)
        with staged(target, data, mode, step) as temporary:
            with contextlib.suppress(OSError, AttributeError):  # only who may give files away keeps the owner
                os.chown(temporary, target.stat().st_uid, target.stat().st_gid)
            if target.read_bytes() != was:
                raise _changed_meanwhile(path)
            step("replace")
            if not exchange(temporary, target):
                os.replace(temporary, target)
            elif not _holds(temporary, was):
                # What was exchanged out is compared once more: it may have been saved since we read it.
                exchange(temporary, target)
                raise _changed_meanwhile(path)
            step("flush folder")
            sync_folder(target.parent)
    except OSError as error:
        raise TargetError(f"{path} can't be written: {error.strerror or error}; it is as it was") from error


def _holds(path: Path, data: bytes) -> bool:
    try:
        return path.read_bytes() == data
    except OSError:  # what can't be read again goes back to its place
        return False


def _changed_meanwhile(path: str | Path) -> TargetError:
    return TargetError(f"{path} was changed by somebody else meanwhile; nothing was written, run it again")


def _sweep(target: Path, step: Step) -> None:
    """Remove what killed runs left beside the file: files of ours by their whole name and owner, and not of this minute."""
    ours = re.compile(rf"\.{re.escape(target.name)}\.[a-z0-9_]{{8}}\.new").fullmatch  # as mkstemp makes them
    with contextlib.suppress(OSError):
        for name in os.listdir(target.parent):
            path = target.parent / name
            if not ours(name):
                continue
            about = path.lstat()
            if stat.S_ISREG(about.st_mode) and about.st_uid == target.stat().st_uid and time.time() - about.st_mtime > _OLD:
                step("sweep")
                path.unlink()
