"""The layout on disk, read again whenever one of its files changes; the last good robot stays."""
from __future__ import annotations

import hashlib
import threading
from collections.abc import Sequence

from chassis_describe import changing, compiler
from chassis_describe.assembly.model import Assembly
from chassis_describe.changes.compare import Side
from chassis_describe.errors import LayoutError, UsageError, our_fault
from chassis_describe.layout.files import from_disk, input_file
from chassis_describe.layout.model import InputFile
from chassis_describe.live.watch import Watch
from chassis_describe.page.board import Board
from chassis_describe.page.picture import findings_data, picture, verdict
from chassis_describe.values import dataclass


@dataclass(frozen=True, kw_only=True)
class Shown:
    """A robot that is on the page; ``revision``: a hash of the layout and what is laid over it."""

    assembly: Assembly
    own: tuple[InputFile, ...]
    revision: str


class Watching:
    """Reads, shows, checks. ``lock`` is held while the file is read or written; the check runs beside it."""

    def __init__(self, path: str, overlays: Sequence[str], *, edit: bool) -> None:
        self.path, self.overlays, self.edit = path, tuple(overlays), edit
        self.board = Board()
        self.lock = threading.RLock()
        self.shown: Shown | None = None
        self.broken = False
        self.data: bytes | None = None
        self._opened: dict[str, bytes | None] = {}
        self._stop = threading.Event()
        self._checked: tuple[str, Side | None] | None = None
        self._to_check = threading.Condition()
        self._watch: Watch | None = None
        self._checker = threading.Thread(target=self._check, daemon=True)

    def start(self) -> None:
        """Read once, then watch. Raises UsageError where the layout can't be opened at all."""
        input_file(self.path, None, from_disk)
        self._watch = Watch(self._changed)
        self._watch.follow((self.path, *self.overlays))
        with self.lock:
            self.refresh()
        self._checker.start()

    def stop(self) -> None:
        """End the threads and every page that waits."""
        self._stop.set()
        with self._to_check:
            self._to_check.notify_all()
        self.board.close()
        with self.lock:  # who is reading now is not to follow files with it any more
            watch, self._watch = self._watch, None
        if watch is not None:
            watch.close()
        if self._checker.is_alive():
            self._checker.join(5.0)

    # ---------------------------------------------------------------------------------------------------------- reading
    def refresh(self) -> None:
        """Read the files again and show what they say. Call it with the lock held."""
        opened: dict[str, bytes | None] = dict.fromkeys((self.path, *self.overlays))

        def opener(path: str) -> bytes:
            opened[path] = None
            opened[path] = data = from_disk(path)
            return data

        try:
            assembly = compiler.assemble(compiler.read(self.path, overlays=self.overlays, opener=opener))
        except LayoutError as error:
            self._trouble({"findings": findings_data(error.findings), "words": ""})
        except UsageError as error:
            self._trouble({"findings": [], "words": str(error)})
        except Exception as error:  # the page goes on, and says so
            self._trouble({"findings": [], "words": fault_words(error)})
        else:
            self._show(assembly)
        # Of a file that does not read no more is known than what was opened; what was known before may mend it.
        self._opened = {**(self._opened if self.broken else {}), **opened}
        self.data = opened[self.path]
        if self._watch is not None:
            self._watch.follow(self._opened)
            if not self._same():  # it was changed while nobody watched it yet, or while it was read
                self._watch.again()
        self.noticed()

    def noticed(self) -> None:
        """Called whenever the files were read."""

    def _trouble(self, words: dict[str, object]) -> None:
        self.broken = True
        self.board.post("trouble", words)

    def _show(self, assembly: Assembly) -> None:
        own = assembly.layout.files[: 1 + len(self.overlays)]
        every = hashlib.sha256()
        for file in assembly.layout.files:
            every.update(len(file.data).to_bytes(8, "big") + file.data)
        self.broken = False
        self.shown = Shown(assembly=assembly, own=own, revision=every.hexdigest()[:16])
        self.board.post("picture", {**picture(assembly, own if self.edit else None), "revision": self.shown.revision,
                                    "edit": self.edit, "live": True})
        self.board.post("trouble", None)
        with self._to_check:
            self._to_check.notify_all()

    # --------------------------------------------------------------------------------------------------------- threads
    def _changed(self) -> None:
        """In the watch's thread, when a writer is done."""
        with self.lock:
            if not self._stop.is_set() and not self._same():  # what we wrote ourselves is on the page already
                self.refresh()

    def _same(self) -> bool:
        """Whether every file still holds what was read of it."""
        return all(_content(path) == data for path, data in self._opened.items())

    def _check(self) -> None:
        while not self._stop.is_set():
            with self._to_check:
                self._to_check.wait_for(lambda: self._stop.is_set() or self._waits(), 1.0)
            shown = self.shown
            if shown is not None and self._waits() and not self._stop.is_set():
                try:
                    side = changing.checked(shown.assembly)
                    said = verdict(shown.assembly, side.findings)
                except Exception as error:  # the page goes on, and says so
                    self._checked = (shown.revision, None)
                    self._trouble({"findings": [], "words": fault_words(error)})
                    continue
                with self._to_check:
                    self._checked = (shown.revision, side)
                    self._to_check.notify_all()
                if self.shown is shown:
                    self.board.post("verdict", {**said, "revision": shown.revision})

    def _waits(self) -> bool:
        return self.shown is not None and (self._checked is None or self._checked[0] != self.shown.revision)

    def checked(self, shown: Shown) -> Side:
        """The robot with its findings; waits for the check that runs beside."""
        with self._to_check:
            self._to_check.wait_for(lambda: self._stop.is_set() or self.shown is not shown
                                    or (self._checked is not None and self._checked[0] == shown.revision), 60.0)
            found = self._checked
        return (found[1] if found is not None and found[0] == shown.revision else None) or changing.checked(shown.assembly)


def fault_words(error: Exception) -> str:
    """What a page says of a fault of ours."""
    return f"{our_fault(error)}; please report it with the layout and what `check --traceback` prints"


def _content(path: str) -> bytes | None:
    try:
        return from_disk(path)
    except (OSError, ValueError):
        return None
