"""Packages of one name in folders side by side, which no workspace can hold."""
from __future__ import annotations

import contextlib
import os
import re
from pathlib import Path

_NAME = re.compile(rb"<name>\s*([^<\s]+)\s*</name>")
#: Folders beside the package that are looked at; a workspace's `src` has fewer.
_MOST = 200
_BYTES = 65536


def of_that_name(out: Path, package: str) -> list[str]:
    """The folders beside ``out`` whose ``package.xml`` names the package, in alphabetical order; what can't be read is none."""
    here = Path(os.path.realpath(out))
    found = []
    with contextlib.suppress(OSError):
        for folder in sorted(here.parent.iterdir())[:_MOST]:
            manifest = folder / "package.xml"
            if folder == here or not manifest.is_file():
                continue
            with contextlib.suppress(OSError), manifest.open("rb") as file:
                name = _NAME.search(file.read(_BYTES))
                if name is not None and name[1] == package.encode("utf-8"):
                    found.append(folder.name)
    return found
