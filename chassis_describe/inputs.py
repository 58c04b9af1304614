"""Opening the files that a run reads: regular ones alone, of a bounded size, and never waiting.

Layouts, overlays, part files, meshes and whatever else a user names go through here; what can be said of a file is asked
before a byte of it is read.
"""
from __future__ import annotations

import errno
import os
import stat
from collections.abc import Callable

#: A layout of ten thousand parts is smaller than 1 MiB.
TEXT_BYTES = 4 * 1024 * 1024
#: A mesh for the eye is larger than this only by mistake: half a million triangles of binary STL are 25 MB, which RViz
#: already feels (our choice). Every mesh is held in memory and copied into the package.
MESH_BYTES = 64 * 1024 * 1024
#: A plate of 12 000 holes is 1.2 MB of DXF; what is larger is a whole machine.
PLATE_BYTES = 16 * 1024 * 1024
_MESHES = (".stl", ".obj", ".dae", ".glb", ".gltf")
#: What a path can lead to beside a regular file (inode(7)), in the words of an error.
_KINDS: tuple[tuple[Callable[[int], bool], str], ...] = (
    (stat.S_ISFIFO, "a pipe"), (stat.S_ISSOCK, "a socket"), (stat.S_ISCHR, "a device"), (stat.S_ISBLK, "a device"))


class NotAnInput(OSError):
    """A file that is there and is not taken as an input; the message says why."""


class TooLarge(NotAnInput):
    """A file of more bytes than are read."""


def most_bytes(path: str) -> int:
    """How large an input may be, by its name: a mesh, a plate file or a text."""
    if path.lower().endswith(".dxf"):
        return PLATE_BYTES
    return MESH_BYTES if path.lower().endswith(_MESHES) else TEXT_BYTES


def open_input(path: str, *, most: int | None = None) -> bytes:
    """The bytes of a regular file of at most ``most`` bytes (None: as its name allows).

    What it is and how large is asked before anything is read, and opening never waits: a pipe without a writer, a
    terminal or a device would hang the program or fill its memory. Raises OSError.
    """
    most = most_bytes(path) if most is None else most
    _regular(os.stat(path), path, most)  # before it is opened: opening alone does things to some devices
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
    with open(handle, "rb") as file:
        _regular(os.fstat(handle), path, most)
        data = file.read(most + 1)
    if len(data) > most:  # it grew, or its size is not known beforehand
        raise too_large(most)
    return data


def too_large(most: int) -> TooLarge:
    """The error for an input of more than ``most`` bytes."""
    return TooLarge(f"it is larger than {most // 1024 // 1024} MiB")


def _regular(about: os.stat_result, path: str, most: int) -> None:
    if stat.S_ISDIR(about.st_mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), path)
    if not stat.S_ISREG(about.st_mode):
        what = next((words for test, words in _KINDS if test(about.st_mode)), "no regular file")
        raise NotAnInput(f"it is {what}, and only regular files are read (a layout also from standard input, as `-`)")
    if about.st_size > most:
        raise too_large(most)
