"""What takes longer than a save may wait, worked out in a thread of its own: meanwhile the graph is answered and saves are read."""
from __future__ import annotations

import threading
from collections.abc import Callable
from typing import NamedTuple

from chassis_describe.errors import our_fault
from chassis_describe.live.following import Following, Good, ToldLater


class Worked(NamedTuple):
    """What came of it. ``told`` is None where all has been said before, or where it was ``stopped`` for what is more urgent."""

    good: Good
    told: ToldLater | None = None
    stopped: bool = False
    fault: str = ""


class Telling:
    """One at a time. ``urgent`` is asked in the thread, between two rules, whether something goes before; ``ready`` is called there
    when there is something to :meth:`take`."""

    def __init__(self, following: Following, *, urgent: Callable[[], bool], ready: Callable[[], None]) -> None:
        self._following, self._urgent, self._ready = following, urgent, ready
        self._thread: threading.Thread | None = None
        self._worked: Worked | None = None

    @property
    def running(self) -> bool:
        """Whether it is under way, or not taken yet."""
        return self._thread is not None

    def start(self, good: Good) -> None:
        """Begin with the layout that was published last."""
        self._thread = threading.Thread(target=self._work, args=(good,), name="telling")
        self._thread.start()

    def take(self) -> Worked | None:
        """What came of it, once; None where nothing is ready."""
        if self._thread is None or self._worked is None:
            return None
        self._thread.join()
        worked, self._thread, self._worked = self._worked, None, None
        return worked

    def close(self) -> None:
        """Wait for the thread, which ends at the next rule if ``urgent`` says so."""
        if self._thread is not None:
            self._thread.join()

    def _work(self, good: Good) -> None:
        stopped = False

        def stop() -> bool:
            nonlocal stopped
            stopped = self._urgent() or self._following.good is not good
            return stopped

        try:
            told = self._following.told(stop)
            self._worked = Worked(good, told, stopped)
        except Exception as error:  # a fault of ours here must not take the robot's description along
            self._worked = Worked(good, fault=our_fault(error))
        self._ready()
