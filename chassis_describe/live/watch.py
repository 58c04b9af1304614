"""Files watched for changes: by inotify where the system has it, else by looking again and again.

Folders are watched, not files, because editors save in many ways: they write into the file, or write another and rename it,
or take the old one away first. What is truly there is asked of ``stat``; events only say when to look. A slow look at all
files goes on beside the events, for network folders, and for folders that were replaced further up.
"""
from __future__ import annotations

import contextlib
import os
import select
import threading
import time
from collections.abc import Callable, Iterable

from chassis_describe.live import notice
from chassis_describe.live.notice import Event, Inotify

#: Seconds to wait after a writer has closed a file or renamed one into place: a burst of saves is one change.
SETTLE = 0.005
#: After something that tells neither the end of a write nor its beginning: a new name, other permissions.
QUIET = 0.25
#: After the last byte of a writer that has not closed its file: what is there may be the first half of a layout, and the first
#: half of a layout is often a layout too. A writer that ends closes its file, so this is for those that go on without writing.
OPEN = 10.0
#: Where the system tells nothing, a file that has become shorter is believed after it has rested for so long: writers cut a file
#: off before they write it anew.
SHORTER = 1.0
#: After a file has gone: editors that save by way of a backup bring it back at once.
GRACE = 0.5
#: However many saves come, files are read again after this; not while one of them is being written.
LONGEST = 2.0
#: Between two looks at all files beside the events, and between two looks without any.
LOOK, POLL = 1.0, 0.1

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
        #: When a writer that has not closed its file began, and files that were cut off.
        self._open: dict[str, float] = {}
        self._shorter: set[str] = set()
        self._told: dict[str, Signature | None] = {}
        self._first: float | None = None
        self._thread = threading.Thread(target=self._run, name="watch", daemon=True)
        self._thread.start()

    @property
    def by_notice(self) -> bool:
        """Whether the system tells of changes; else they are looked for."""
        return self._notice is not None

    @property
    def stirring(self) -> bool:
        """Whether files are changing, so that they will be told of soon."""
        return bool(self._pending)

    def being_written(self, seconds: float = LONGEST) -> list[str]:
        """Files that somebody has been writing for so long without closing them: they are waited for."""
        now = time.monotonic()
        with self._lock:
            return [path for path, since in self._open.items() if now - since >= seconds]

    def follow(self, paths: Iterable[str]) -> None:
        """Follow exactly these files, there or not. Call it before they are read: what changes after that is told."""
        wanted = dict.fromkeys(os.path.abspath(p) for p in paths)
        with self._lock:
            known = self._seen
            self._paths = wanted
            self._seen = {p: known.get(p, s) for p, s in signature(wanted).items()}
            self._told = {p: self._told.get(p, s) for p, s in self._seen.items()}
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
                    self._open.clear()
                    self._shorter.clear()
                    self._seen = signature(self._paths)
                    self._told = dict(self._seen)
            if tell:
                self._changed()

    def _due(self) -> float | None:
        """When the files are to be read: once the last of the changed ones has come to rest."""
        if not self._pending or self._first is None:
            return None
        last = max(self._pending.values())
        return last if self._open or self._shorter else min(last, self._first + LONGEST)

    def _take(self, events: Iterable[Event]) -> None:
        now = time.monotonic()
        rearm = False
        real = {os.path.realpath(p): p for p in self._paths}
        for event in events:
            if event.path is None or event.mask & (notice.DELETE_SELF | notice.MOVE_SELF):
                rearm = True
                for left in self._open:  # whether it is closed may not be told any more
                    self._wait(left, now + QUIET)
                self._open.clear()
                continue
            path = event.path if event.path in self._paths else real.get(event.path)
            if path is None:
                # A folder on the way to a file, or a link on it.
                if event.mask & (notice.CREATE | notice.MOVED_TO | notice.DELETE | notice.MOVED_FROM) and any(
                        p.startswith(event.path + os.sep) for p in (*self._paths, *real)):
                    rearm = True
                continue
            if event.mask & notice.MODIFY:
                self._open.setdefault(path, now)
                self._wait(path, now + OPEN)
                continue
            if event.mask & (notice.CLOSE_WRITE | notice.MOVED_TO | notice.DELETE | notice.MOVED_FROM):
                self._open.pop(path, None)
            if event.mask & (notice.CLOSE_WRITE | notice.MOVED_TO):
                self._wait(path, now + SETTLE)
            elif event.mask & (notice.DELETE | notice.MOVED_FROM):
                self._wait(path, now + GRACE)
                rearm = True
            elif event.mask & notice.CREATE or path not in self._pending:  # else permissions, which may forbid reading
                self._wait(path, now + QUIET)
        if rearm:
            self._rearm()
            self._look(now)

    def _look(self, now: float) -> None:
        """Compare all files with what they were like; without events, a file that changes is waited for until it rests."""
        for path, found in signature(self._paths).items():
            if found != self._seen.get(path):
                self._seen[path] = found
                if self._notice is None or path not in self._pending:
                    self._wait(path, now + self._rest(path, found))
        self._rearm()

    def _rest(self, path: str, found: Signature | None) -> float:
        """How long a file that was found changed is to rest before it is believed."""
        self._shorter.discard(path)
        told = self._told.get(path)
        if found is None:
            return GRACE
        if told is not None and found[2] < told[2]:
            self._shorter.add(path)
            return SHORTER
        return QUIET if self._notice is not None else (self._poll or POLL) * 0.9

    def _wait(self, path: str, until: float) -> None:
        self._pending[path] = until
        if self._first is None:
            self._first = time.monotonic()
