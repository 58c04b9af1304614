"""The one family of exceptions that leaves this package."""
from __future__ import annotations

from typing import TYPE_CHECKING, NoReturn

if TYPE_CHECKING:
    from chassis_describe.findings import Finding


class ChassisError(Exception):
    """Base of every exception that this package raises for bad input or a target that can't be written."""


class LayoutError(ChassisError):
    """A layout or part file that can't be taken as it is; ``findings`` holds every fault of the run, in file order."""

    def __init__(self, findings: tuple[Finding, ...]) -> None:
        self.findings = findings
        super().__init__("\n".join(str(f) for f in findings))


class UsageError(ChassisError):
    """Arguments that can't be followed: no such file, frame or placement; the message says what would be accepted."""


class TargetError(ChassisError):
    """An output that can't be written without losing something, or that would not hold together."""


def our_fault(error: Exception) -> str:
    """What is said of an exception that no input explains."""
    return f"a fault of this program, not of your file: {type(error).__name__}: {error}"


def never(value: NoReturn) -> NoReturn:
    """Ends a choice between all the kinds that there are: the type checker refuses it while one is left out."""
    raise AssertionError(value)
