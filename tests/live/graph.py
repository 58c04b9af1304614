"""Processes and a listener for tests of the live node over real DDS."""
from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

TOP = Path(__file__).resolve().parents[2]


class Process:
    """A node of ours, or the stand-in; ended by SIGTERM."""

    def __init__(self, words: Sequence[str], environment: dict[str, str], log: Path) -> None:
        self.log = log
        self._file = log.open("w")
        self._process = subprocess.Popen([sys.executable, *words], env=environment, cwd=TOP, stdout=self._file, stderr=subprocess.STDOUT)

    @property
    def said(self) -> str:
        return self.log.read_text()

    @property
    def running(self) -> bool:
        return self._process.poll() is None

    def end(self, *, kill: bool = False) -> int:
        if kill:
            self._process.kill()
        else:
            self._process.terminate()
        try:
            return self._process.wait(timeout=60)
        finally:
            self._process.kill()  # one that did not hear would be in the next tests' way
            self._file.close()


class Ears:
    """A listener: the last messages of each topic that it hears."""

    def __init__(self, node: Any) -> None:
        self.node = node
        self.heard: dict[str, list[Any]] = {}
        self._subscriptions: list[Any] = []

    def listen(self, topic: str, kind: Any, *, latched: bool = True) -> None:
        from rclpy.qos import DurabilityPolicy, QoSProfile

        self.heard.setdefault(topic, [])
        durability = DurabilityPolicy.TRANSIENT_LOCAL if latched else DurabilityPolicy.VOLATILE
        self._subscriptions.append(self.node.create_subscription(
            kind, topic, self.heard[topic].append, QoSProfile(depth=10, durability=durability)))

    def until(self, holds: Callable[[], Any], why: Callable[[], object] = lambda: "") -> Any:
        """Spin until something is true; what is true is returned."""
        end = time.monotonic() + 120  # a process that was killed is believed to be there for 20 s
        while time.monotonic() < end:
            found = holds()
            if found:
                return found
            self.node.spin(0.05)
        raise AssertionError(f"waited in vain: {why()}; last on /diagnostics: {self.statuses()}")

    def last(self, topic: str) -> Any:
        return self.heard[topic][-1] if self.heard[topic] else None

    def frame(self, child: str) -> tuple[float, float, float] | None:
        """Where the newest message on /tf_static has a frame in its parent (m)."""
        for message in reversed(self.heard["/tf_static"]):
            for t in message.transforms:
                if t.child_frame_id == child:
                    v = t.transform.translation
                    return (v.x, v.y, v.z)
        return None

    def statuses(self) -> dict[str, tuple[int, str]]:
        """The newest diagnostics: name without the node → level and message."""
        message = self.last("/diagnostics")
        return {} if message is None else {s.name.split(": ", 1)[1]: (s.level[0], s.message) for s in message.status}

    def publishers(self, topic: str) -> list[str]:
        return sorted(p.node_name for p in self.node.get_publishers_info_by_topic(topic))
