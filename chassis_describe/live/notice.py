"""The system's own notice of changes: inotify(7), by way of the C library."""
from __future__ import annotations

import ctypes
import os
import struct
from collections.abc import Iterable
from typing import NamedTuple

# From inotify(7) and <sys/inotify.h>.
MODIFY, ATTRIB, CLOSE_WRITE, MOVED_FROM, MOVED_TO, CREATE, DELETE = 0x2, 0x4, 0x8, 0x40, 0x80, 0x100, 0x200
DELETE_SELF, MOVE_SELF = 0x400, 0x800  # of a folder; 0x4000, too many events, comes without a path as well
_WANTED = (MODIFY | ATTRIB | CLOSE_WRITE | MOVED_FROM | MOVED_TO | CREATE | DELETE | DELETE_SELF | MOVE_SELF)
_HEAD = struct.Struct("iIII")


class Event(NamedTuple):
    """``path`` of the file in a watched folder; None: of the folder itself, or events were lost."""

    mask: int
    path: str | None


class Inotify:
    """The system's own notice of changes. Raises OSError where there is none."""

    def __init__(self) -> None:
        try:
            self._libc = ctypes.CDLL(None, use_errno=True)
            self.handle: int = self._libc.inotify_init1(os.O_NONBLOCK | os.O_CLOEXEC)
        except (AttributeError, TypeError) as error:
            raise OSError("this system has no inotify") from error
        if self.handle < 0:
            raise OSError(ctypes.get_errno(), "inotify_init1")
        self._folders: dict[int, set[str]] = {}

    def follow(self, folders: Iterable[str]) -> None:
        """Watch exactly these folders, each as it is found by its path now."""
        found: dict[int, set[str]] = {}
        for folder in folders:
            number = self._libc.inotify_add_watch(self.handle, os.fsencode(folder), _WANTED)
            if number >= 0:
                found.setdefault(number, set()).add(folder)
            elif ctypes.get_errno() not in (2, 13, 20):  # not there, forbidden, no folder: the slow look is left
                raise OSError(ctypes.get_errno(), "inotify_add_watch")
        for number in self._folders.keys() - found.keys():
            self._libc.inotify_rm_watch(self.handle, number)
        self._folders = found

    def read(self) -> list[Event]:
        """The events since the last time."""
        try:
            data = os.read(self.handle, 65536)
        except BlockingIOError:
            return []
        events, at = [], 0
        while at < len(data):
            number, mask, _, length = _HEAD.unpack_from(data, at)
            name = os.fsdecode(data[at + _HEAD.size:at + _HEAD.size + length].rstrip(b"\0"))
            at += _HEAD.size + length
            folders = self._folders.get(number, set())
            events += [Event(mask, os.path.join(f, name) if name else None) for f in folders] if folders else [Event(mask, None)]
        return events

    def close(self) -> None:
        os.close(self.handle)
