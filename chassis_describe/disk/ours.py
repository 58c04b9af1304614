"""One file that we make, written whole or not at all, never over somebody else's."""
from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from chassis_describe.disk.steps import Step, no_step, sync_folder
from chassis_describe.errors import TargetError


def write_ours(path: Path, data: bytes, mark: str | None, *, replace: bool = False, step: Step = no_step) -> bool:
    """Let ``path`` hold ``data``; returns whether anything changed.

    A file that is there and does not hold ``mark`` (None: any file) is somebody else's. Raises TargetError then, unless
    ``replace``, and where the file can't be written: it is as it was.
    """
    target = Path(os.path.realpath(path))
    temporary = None
    try:
        was = target.read_bytes() if target.exists() else None
        if was == data:
            return False
        refuse_others(path, mark, replace=replace)
        step("create")
        handle, temporary = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".new", dir=target.parent)
        with open(handle, "wb") as file:
            step("write")
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, target.stat().st_mode & 0o777 if was is not None else 0o666 & ~_umask())
        step("replace")
        os.replace(temporary, target)
        temporary = None
        sync_folder(target.parent)
    except OSError as error:
        raise TargetError(f"{path} can't be written: {error.strerror or error}") from error
    finally:
        if temporary is not None:
            with contextlib.suppress(OSError):
                os.unlink(temporary)
    return True


def refuse_others(path: Path, mark: str | None, *, replace: bool = False) -> None:
    """Raises TargetError where ``path`` is a file that does not hold ``mark``, unless ``replace``."""
    try:
        was = path.read_bytes() if path.exists() else b""
    except OSError as error:
        raise TargetError(f"{path} can't be read: {error.strerror or error}") from error
    if was and not replace and (mark is None or mark.encode("ascii") not in was):
        raise TargetError(f"{path} was not made by this program and stays as it is; choose another name, or --replace it")


def _umask() -> int:
    now = os.umask(0)
    os.umask(now)
    return now
