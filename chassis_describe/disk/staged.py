"""Content that waits beside its place, whole and on the disk, until it takes it."""
from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

from chassis_describe.disk.steps import Step


@contextlib.contextmanager
def staged(place: Path, data: bytes, mode: int, step: Step) -> Iterator[Path]:
    """A new file beside ``place`` that holds ``data``, flushed, for as long as the block runs.

    Whatever has its name at the end is removed: itself, where it did not move to its place, or what it was exchanged for.
    Raises OSError.
    """
    step("create")
    handle, name = tempfile.mkstemp(prefix=f".{place.name}.", suffix=".new", dir=place.parent)
    try:
        with open(handle, "wb") as file:
            step("write")
            file.write(data)
            file.flush()
            step("flush")
            os.fsync(file.fileno())
        step("permissions")
        os.chmod(name, mode)
        yield Path(name)
    finally:
        with contextlib.suppress(OSError):
            os.unlink(name)
