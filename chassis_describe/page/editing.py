"""Moving parts on the page: what a move would do, writing it, taking it back. Only the layout itself is ever written."""
from __future__ import annotations

import threading
from collections.abc import Sequence
from typing import Any, NamedTuple

from chassis_describe.assembly.model import Assembly
from chassis_describe.changes.move import Request
from chassis_describe.changing import Prepared, prepare
from chassis_describe.disk.file import replace_file
from chassis_describe.drawings.views import deck_views
from chassis_describe.errors import ChassisError, LayoutError, UsageError, never
from chassis_describe.facts.bodies import bodies_of
from chassis_describe.facts.root_decks import root_decks
from chassis_describe.findings import Severity
from chassis_describe.page.decks import part_outline
from chassis_describe.page.movable import fits_data, locked, written_in
from chassis_describe.page.questions import PageQuestion
from chassis_describe.page.ranking import Ranking
from chassis_describe.page.solids import solids_data
from chassis_describe.page.watching import Shown, Watching
from chassis_describe.reports.change import change_text
from chassis_describe.words import listing

_SAVED_ELSEWHERE = "the file was saved by another program; undo and redo go no further than that"


class Refused(ChassisError):
    """What was asked for can't be done now; the message says why."""


class _Step(NamedTuple):
    """One change of ours: the layout's bytes before and after, and what it was in words."""

    before: bytes
    after: bytes
    words: str


class Editing(Watching):
    """The layout on disk, with moves, undo and redo."""

    def __init__(self, path: str, overlays: Sequence[str]) -> None:
        super().__init__(path, overlays, edit=True)
        self._done: list[_Step] = []
        self._undone: list[_Step] = []
        self._stopped: str | None = None
        self._ours: bytes | None = None
        self._one_preview = threading.Lock()
        self._ranking = Ranking()

    def noticed(self) -> None:
        """An external save ends what can be taken back."""
        if self._ours is not None and self.data != self._ours:
            if self._done or self._undone:
                self._stopped = _SAVED_ELSEWHERE
            self._done, self._undone = [], []
        self._ours = self.data
        self._tell()

    def _tell(self) -> None:
        self.board.post("history", {"undo": self._done[-1].words if self._done else None, "stopped": self._stopped,
                                    "redo": self._undone[-1].words if self._undone else None})

    def answer(self, asked: PageQuestion) -> dict[str, Any]:
        """What the page wanted to know, or what was done. Raises Refused, with the file as it was."""
        try:
            if asked.task == "fits":
                shown = self._now(asked)
                self._known(shown, asked.of)
                turn = float(asked.turn) if asked.turn is not None else 0.0
                return {**fits_data(shown.assembly, asked.of, turn), "revision": shown.revision}
            if asked.task == "places":
                shown = self._now(asked)
                self._known(shown, asked.of)
                turn = float(asked.turn) if asked.turn is not None else 0.0
                return {**self._ranking.answer(shown.assembly, shown.revision, asked.of, turn), "revision": shown.revision}
            if asked.task == "preview":
                return self._preview(asked)
            if asked.task == "write":
                return self._write(asked)
            if asked.task == "undo":
                return self._back(asked, self._done, self._undone, undo=True)
            if asked.task == "redo":
                return self._back(asked, self._undone, self._done, undo=False)
            raise never(asked.task)
        except LayoutError as error:
            raise Refused(f"the layout would not read any more: {error.findings[0].message}") from None
        except Refused:
            raise
        except ChassisError as error:
            raise Refused(str(error)) from None

    # ------------------------------------------------------------------------------------------------------------ moves
    def _now(self, asked: PageQuestion) -> Shown:
        """What is shown, where that is what was asked of."""
        if self.broken or self.shown is None:
            raise Refused("the file does not read as it is now; editing goes on when it does")
        if asked.revision != self.shown.revision:
            raise Refused("the file has changed since; look again")
        return self.shown

    def _known(self, shown: Shown, name: str) -> None:
        if name not in shown.assembly.parts:
            raise Refused("there is no such placement")
        reason = locked(shown.assembly, name, written_in(shown.own))
        if reason is not None:
            raise Refused(f"{name} {reason}")

    def _prepared(self, shown: Shown, asked: PageQuestion) -> Prepared | None:
        self._known(shown, asked.of)
        request = Request(placement=asked.of, to=asked.to, turn=asked.turn)
        done = prepare(self.path, request, shown.assembly, overlays=self.overlays, before=self.checked(shown))
        if done is not None and done.path != self.path:
            raise UsageError(f"that would change {done.path}, and only {self.path} is written here")
        return done

    def _preview(self, asked: PageQuestion) -> dict[str, Any]:
        shown = self._now(asked)
        with self._one_preview:
            done = self._prepared(shown, asked)
        if done is None:
            return {"nothing": True, "revision": shown.revision}
        moved = goes_along(asked.of, shown.assembly, done)
        decks = root_decks(done.new)
        views = deck_views(done.new)
        return {"nothing": False, "revision": shown.revision, "words": change_text(done.change), "patch": done.patch,
                "along": along_words(asked.of, shown.assembly, done), "moved": sorted(moved),
                "errors": sum(f.severity is Severity.ERROR for f in done.change.gained),
                "outlines": [{**part_outline(p), "deck": view.name} for view in views.values() for p in view.parts
                             if p.name in moved and decks[p.name][0] == view.name],
                "solids": [s for s in solids_data(done.new) if s[0] in moved and s[1] != "standoff"]}

    def _write(self, asked: PageQuestion) -> dict[str, Any]:
        shown = self._now(asked)
        done = self._prepared(shown, asked)
        if done is None:
            return {"nothing": True, "revision": shown.revision}
        with self.lock:
            self._now(asked)
            replace_file(self.path, done.after, was=done.before)
            self._done.append(_Step(done.before, done.after, f"move {asked.of}"))
            self._undone, self._stopped = [], None
            return self._wrote(done.after)

    def _back(self, asked: PageQuestion, source: list[_Step], target: list[_Step], *, undo: bool) -> dict[str, Any]:
        with self.lock:
            self._now(asked)
            if not source:
                raise Refused(self._stopped or f"there is nothing to {'undo' if undo else 'redo'}")
            step = source[-1]
            before, after = (step.after, step.before) if undo else (step.before, step.after)
            replace_file(self.path, after, was=before)
            target.append(source.pop())
            return {**self._wrote(after), "words": step.words}

    def _wrote(self, data: bytes) -> dict[str, Any]:
        self._ours = data
        self.refresh()
        return {"nothing": False, "revision": self.shown.revision if self.shown is not None else ""}


def goes_along(name: str, old: Assembly, done: Prepared) -> frozenset[str]:
    """The placement that is moved, what it carries, its mirror images and what those carry."""
    carried = bodies_of(old).carried_by
    return frozenset().union(*(carried(n) for n in (name, *(twin for twin, _ in done.along))))


def along_words(name: str, old: Assembly, done: Prepared) -> list[str]:
    """A sentence for the children, and one for each mirror image."""
    def riders(of: str) -> list[str]:
        carried = bodies_of(old).carried_by(of)
        return [n for n in old.parts if n in carried and n != of]

    own = riders(name)
    words = [f"{listing(own, most=12)} {'goes' if len(own) == 1 else 'go'} along on {name}"] if own else []
    for twin, first in done.along:
        takes = f", and takes {listing(riders(twin), most=12)} along" if riders(twin) else ""
        words.append(f"{twin} moves too, the mirror image of {first}{takes}")
    return words
