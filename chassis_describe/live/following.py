"""The layout as it is on the disk, read anew, and the last good one that is kept: what the node says and publishes, as values."""
from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from hashlib import blake2b

from chassis_describe import compiler
from chassis_describe.assembly.model import Assembly
from chassis_describe.changes.compare import Change, Side, compare
from chassis_describe.changing import checked
from chassis_describe.errors import ChassisError, LayoutError, our_fault
from chassis_describe.findings import Finding, Severity
from chassis_describe.fit import CHECKS, ERROR_CHECKS, answer, check
from chassis_describe.layout.files import from_disk
from chassis_describe.live.watch import Signature, signature
from chassis_describe.values import dataclass


@dataclass(frozen=True, kw_only=True)
class Good:
    """A layout that can be published: put together, without errors, its URDF."""

    assembly: Assembly
    urdf: str


@dataclass(frozen=True, kw_only=True)
class Bad:
    """Why a layout is not published: what the reader or the check found, or one sentence where there was nothing to read."""

    words: str
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, kw_only=True)
class ToldLater:
    """What takes longer to work out than to publish: all findings, and the change against the layout before, if there was one."""

    findings: tuple[Finding, ...]
    change: Change | None


class Following:
    """One layout over time. ``good`` is the last one that was published; ``inputs`` all files that were opened for it, or
    that were asked for, absolute."""

    def __init__(self, path: str, overlays: Sequence[str] = (), *, prefix: str | None = None, strict: bool = False) -> None:
        self.path, self.overlays, self.prefix, self.strict = path, tuple(overlays), prefix, strict
        self.good: Good | None = None
        self.inputs: tuple[str, ...] = tuple(map(os.path.abspath, (path, *overlays)))
        self._bytes: dict[str, bytes] = {}
        self._read_as: dict[str, Signature | None] = {}
        self._start: Assembly | None = None  # published, and not told of yet
        self._seen: Side | None = None

    def read(self, *, again: bool = False) -> Good | Bad | None:
        """Read the files; None where every byte is as it was at the last time (``again``: read all the same)."""
        was, self._bytes, self._read_as = self._bytes, {}, {}
        if not again and was and self._unchanged(was):
            self._bytes = was
            return None
        try:
            found: Good | Bad = self._made()
        except LayoutError as error:
            found = Bad(words=_first(error.findings), findings=error.findings)
        except ChassisError as error:
            found = Bad(words=str(error))
        except Exception as error:  # a fault of ours must not take the robot's description along
            found = Bad(words=our_fault(error))
        # Files that are only named by what did not read are not known now, but they were before.
        self.inputs = tuple(dict.fromkeys((*self._read_as, *(self.inputs if isinstance(found, Bad) else ()))))
        return found

    def keep(self, good: Good) -> None:
        """It is published. What was read while somebody wrote is not, and may be the half of a file."""
        self.good = good
        if self._seen is None and self._start is None:
            self._start = good.assembly

    def outdated(self) -> bool:
        """Whether a file has changed since it was read, while nobody watched it yet."""
        return signature(self._read_as) != self._read_as

    def torn(self) -> bool:
        """Whether somebody has written into a file since it was read: then half of it may have been read."""
        now = signature(self._read_as)
        return any(was is not None and found is not None and was != found and was[:2] == found[:2]
                   for was, found in ((s, now[p]) for p, s in self._read_as.items()))

    def told(self, stop: Callable[[], bool] = lambda: False) -> ToldLater | None:
        """The rest of what is to be said of the good one; None where it has been said, or where it was stopped: between two rules
        ``stop`` is asked whether something is more urgent."""
        if self.good is None or (self._seen is not None and self._seen.assembly is self.good.assembly):
            return None
        assembly = self.good.assembly
        for rule in CHECKS:
            if stop():
                return None
            answer(assembly, rule)
        if self._seen is None and self._start is not None and self._start is not assembly:
            self._seen = checked(self._start)  # a save came before the start was told of, and listeners know the start
        before, self._seen, self._start = self._seen, checked(assembly), None
        return ToldLater(findings=tuple(self._seen.findings), change=None if before is None else compare(before, self._seen))

    def _made(self) -> Good | Bad:
        assembly = compiler.assemble(compiler.read(self.path, overlays=self.overlays, opener=self._open), prefix=self.prefix)
        findings = check(assembly) if self.strict else check(assembly, ERROR_CHECKS)
        refused = {Severity.ERROR, Severity.WARNING} if self.strict else {Severity.ERROR}
        wrong = tuple(f for f in findings if f.severity in refused)
        if wrong:
            return Bad(words=_first(wrong), findings=wrong)
        return Good(assembly=assembly, urdf=compiler.urdf(assembly))

    def _open(self, path: str) -> bytes:
        where = os.path.abspath(path)
        self._read_as[where] = signature([where])[where]
        data = from_disk(path)
        self._bytes[where] = blake2b(data).digest()
        return data

    def _unchanged(self, was: dict[str, bytes]) -> bool:
        for path in self.inputs:
            self._read_as[path] = signature([path])[path]
            try:
                if was.get(path) != blake2b(from_disk(path)).digest():
                    return False
            except (OSError, ValueError):
                if path in was:
                    return False
        return True


def _first(findings: Sequence[Finding]) -> str:
    """The first finding in full, and how many more there are."""
    more = len(findings) - 1
    return f"{findings[0]}" + (f"; and {more} more" if more else "")
