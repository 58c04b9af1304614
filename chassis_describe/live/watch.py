"""Files watched for changes: by inotify where the system has it, else by looking again and again.

Folders are watched, not files, because editors save in many ways: they write into the file, or write another and rename it,
or take the old one away first. What is truly there is asked of ``stat``; events only say when to look. A slow look at all
files goes on beside the events, for network folders, and for folders that were replaced further up.
"""
from __future__ import annotations

import contextlib
import ctypes
import os
import select
import struct
import threading
import time
from collections.abc import Callable, Iterable
from typing import NamedTuple

#: Seconds to wait after a writer has closed a file or renamed one into place: a burst of saves is one change.
SETTLE = 0.005
#: After the last byte of a writer that keeps its file open: it may be in the middle of a line.
QUIET = 0.25
#: After a file has gone: editors that save by way of a backup bring it back at once.
GRACE = 0.5
#: However much goes on, files are read again after this.
LONGEST = 2.0
#: Between two looks at all files beside the events, and between two looks without any.
LOOK, POLL = 1.0, 0.1

# From inotify(7) and <sys/inotify.h>.
_MODIFY, _ATTRIB, _CLOSE_WRITE, _MOVED_FROM, _MOVED_TO, _CREATE, _DELETE = 0x2, 0x4, 0x8, 0x40, 0x80, 0x100, 0x200
_DELETE_SELF, _MOVE_SELF = 0x400, 0x800
_WANTED = (_MODIFY | _ATTRIB | _CLOSE_WRITE | _MOVED_FROM | _MOVED_TO | _CREATE | _DELETE | _DELETE_SELF | _MOVE_SELF)
_HEAD = struct.Struct("iIII")



#: Device, inode, size and time of change of a file.
Signature = tuple[int, int, int, int]


def signature(paths: Iterable[str]) -> dict[str, Signature | None]:
    """What each file is like now, without reading it; None for what is not there."""
    found: dict[str, Signature | None] = {}
    for path in paths:
        try:
            s = os.stat(path)
            found[path] = (s.st_dev, s.st_ino, s.st_size, s.st_mtime_ns)
        except (OSError, ValueError):
            found[path] = None
    return found


class _Event(NamedTuple):
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

    def read(self) -> list[_Event]:
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
            events += [_Event(mask, os.path.join(f, name) if name else None) for f in folders] if folders else [_Event(mask, None)]
        return events

    def close(self) -> None:
        os.close(self.handle)


class Watch:
    """Calls ``changed``, in a thread of its own, when the files followed are worth reading again.

    ``poll``: seconds between two looks at the files without inotify; 0 where the system's notice is to be used if there is one.
    """

    def __init__(self, changed: Callable[[], None], *, poll: float = 0.0) -> None:
        self._changed, self._poll = changed, poll
        self._lock = threading.Lock()
        self._paths: dict[str, None] = {}
        self._seen: dict[str, Signature | None] = {}
        self._notice: Inotify | None = None
        if not poll:
            with contextlib.suppress(OSError):
                self._notice = Inotify()
        self._wake, self._waker = os.pipe()
        self._ended = False
        self._pending: dict[str, float] = {}
        self._first: float | None = None
        self._thread = threading.Thread(target=self._run, name="watch", daemon=True)
        self._thread.start()

    @property
    def by_notice(self) -> bool:
        """Whether the system tells of changes; else they are looked for."""
        return self._notice is not None

    def follow(self, paths: Iterable[str]) -> None:
        """Follow exactly these files, there or not. Call it before they are read: what changes after that is told."""
        wanted = dict.fromkeys(os.path.abspath(p) for p in paths)
        with self._lock:
            known = self._seen
            self._paths = wanted
            self._seen = {p: known.get(p, s) for p, s in signature(wanted).items()}
            self._rearm()
        os.write(self._waker, b".")

    def again(self) -> None:
        """Tell once more, when the files have come to rest: one has changed before it was followed."""
        with self._lock:
            self._wait("", time.monotonic() + QUIET)
        os.write(self._waker, b".")

    def close(self) -> None:
        """End the thread and give everything back."""
        self._ended = True
        os.write(self._waker, b".")
        self._thread.join()
        if self._notice is not None:
            self._notice.close()
        os.close(self._wake)
        os.close(self._waker)

    # ------------------------------------------------------------------------------------------------------ in the thread
    def _rearm(self) -> None:
        """Watch the folders that the files are in now; of one that is not there, the nearest above it that is."""
        if self._notice is None:
            return
        folders: dict[str, None] = {}
        for path in self._paths:
            for folder in (os.path.dirname(path), os.path.dirname(os.path.realpath(path))):
                while not os.path.isdir(folder) and folder != os.path.dirname(folder):
                    folder = os.path.dirname(folder)
                folders[folder] = None
        try:
            self._notice.follow(folders)
        except OSError:  # the user's watches are used up (fs.inotify.max_user_watches): look instead
            self._notice.close()
            self._notice = None

    def _run(self) -> None:
        looked = time.monotonic()
        while not self._ended:
            period = self._poll or (LOOK if self._notice is not None else POLL)
            until = looked + period
            due = self._due()
            if due is not None:
                until = min(until, due)
            handles = [self._wake, *([self._notice.handle] if self._notice is not None else [])]
            ready, _, _ = select.select(handles, [], [], max(0.0, until - time.monotonic()))
            if self._wake in ready:
                os.read(self._wake, 4096)
            with self._lock:
                if self._notice is not None and self._notice.handle in ready:
                    self._take(self._notice.read())
                now = time.monotonic()
                if now - looked >= period:
                    looked = now
                    self._look(now)
                due = self._due()
                tell = due is not None and now >= due and not self._ended
                if tell:
                    self._pending.clear()
                    self._first = None
                    self._seen = signature(self._paths)
            if tell:
                self._changed()

    def _due(self) -> float | None:
        """When the files are to be read: once the last of the changed ones has come to rest."""
        if not self._pending or self._first is None:
            return None
        return min(max(self._pending.values()), self._first + LONGEST)

    def _take(self, events: Iterable[_Event]) -> None:
        now = time.monotonic()
        rearm = False
        real = {os.path.realpath(p): p for p in self._paths}
        for event in events:
            if event.path is None or event.mask & (_DELETE_SELF | _MOVE_SELF):
                rearm = True
                continue
            path = event.path if event.path in self._paths else real.get(event.path)
            if path is None:
                # A folder on the way to a file, or a link on it.
                if event.mask & (_CREATE | _MOVED_TO | _DELETE | _MOVED_FROM) and any(
                        p.startswith(event.path + os.sep) for p in (*self._paths, *real)):
                    rearm = True
                continue
            if event.mask & (_CLOSE_WRITE | _MOVED_TO):
                self._wait(path, now + SETTLE)
            elif event.mask & (_DELETE | _MOVED_FROM):
                self._wait(path, now + GRACE)
                rearm = True
            elif event.mask & (_MODIFY | _CREATE) or path not in self._pending:  # else permissions, which may forbid reading
                self._wait(path, now + QUIET)
        if rearm:
            self._rearm()
            self._look(now)

    def _look(self, now: float) -> None:
        """Compare all files with what they were like; without events, a file that changes is waited for until it rests."""
        for path, found in signature(self._paths).items():
            if found != self._seen.get(path):
                self._seen[path] = found
                quiet = GRACE if found is None else QUIET if self._notice is not None else (self._poll or POLL) * 0.9
                if self._notice is None or path not in self._pending:
                    self._wait(path, now + quiet)
        self._rearm()

    def _wait(self, path: str, until: float) -> None:
        self._pending[path] = until
        if self._first is None:
            self._first = time.monotonic()
