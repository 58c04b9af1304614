"""One file that we make, written whole or not at all, never over somebody else's."""
from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable
from pathlib import Path

from chassis_describe.disk.staged import staged
from chassis_describe.disk.steps import Step, no_step, sync_folder
from chassis_describe.errors import TargetError


def write_ours(path: Path, data: bytes, mark: str | None, *, replace: bool = False, inputs: Iterable[str] = (),
               folder: bool = False, step: Step = no_step) -> bool:
    """Let ``path`` hold ``data``; returns whether anything changed.

    A file that is there and does not hold ``mark`` (None: any file) is somebody else's. Raises TargetError then, unless
    ``replace``, and where the file can't be written: it is as it was. One of ``inputs`` is never written over, whatever it
    is called here. A pipe or device (``/dev/stdout``) just takes the bytes. ``folder``: its folder is made where there is none.
    """
    refuse_inputs(path, inputs)
    target = Path(os.path.realpath(path))
    made = folder and not target.parent.exists()
    try:
        if made:
            target.parent.mkdir(parents=True)
        if target.exists() and not target.is_file():
            with target.open("wb") as stream:
                stream.write(data)
            return True
        was = target.read_bytes() if target.exists() else None
        if was == data:
            return False
        refuse_others(path, mark, replace=replace)
        with staged(target, data, target.stat().st_mode & 0o777 if was is not None else 0o666 & ~_umask(), step) as temporary:
            step("replace")
            os.replace(temporary, target)
        sync_folder(target.parent)
    except OSError as error:
        if made:
            with contextlib.suppress(OSError):
                target.parent.rmdir()
        raise TargetError(f"{path} can't be written: {error.strerror or error}") from error
    return True


def write_new(path: Path, data: bytes, *, step: Step = no_step) -> bool:
    """Make a file that is not there yet; False where it is, which stays as it is. What can't be written whole, as on a full
    disk, leaves nothing: it is written beside its place and linked there (POSIX: only where the name is free). Raises
    TargetError."""
    try:
        with staged(path, data, 0o666 & ~_umask(), step) as temporary:
            try:
                os.link(temporary, path)
            except FileExistsError:
                return False
            except OSError:  # a file system without links: the name is taken by an empty file, which is then replaced
                try:
                    os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
                except FileExistsError:
                    return False
                os.replace(temporary, path)
        sync_folder(path.parent)
    except OSError as error:
        raise TargetError(f"{path} can't be written here: {error.strerror or error}; nothing was left behind") from error
    return True


def refuse_others(path: Path, mark: str | None, *, replace: bool = False) -> None:
    """Raises TargetError where ``path`` is a file that does not hold ``mark``, unless ``replace``."""
    try:
        was = path.read_bytes() if path.exists() else b""
    except OSError as error:
        raise TargetError(f"{path} can't be read: {error.strerror or error}") from error
    if was and not replace and (mark is None or mark.encode("ascii") not in was):
        raise TargetError(f"{path} was not made by this program and stays as it is; choose another name, or --replace it")


def refuse_inputs(path: Path, inputs: Iterable[str]) -> None:
    """Raises TargetError where ``path`` is a file that was read, by whatever name."""
    for read in inputs:
        with contextlib.suppress(OSError):
            if os.path.samefile(path, read):
                raise TargetError(f"{path} is what is read here ({read}) and stays as it is; choose another name")


def _umask() -> int:
    now = os.umask(0)
    os.umask(now)
    return now
