"""The steps of a write, told to whoever wants to know (a test that kills at each), and flushing of folders."""
from __future__ import annotations

import contextlib
import os
from collections.abc import Callable
from pathlib import Path

Step = Callable[[str], None]


def no_step(name: str) -> None:
    """Called before everything that touches the disk; tests stop the process here."""


def sync_folder(folder: Path) -> None:
    """Have the names in a folder reach the disk, where the system lets one ask."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
