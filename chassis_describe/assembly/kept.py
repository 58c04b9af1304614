"""Facts that follow from an assembly, each worked out on first asking and kept with it."""
from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import TypeVar

from chassis_describe.assembly.model import Assembly

Found = TypeVar("Found")


def kept(work_out: Callable[[Assembly], Found]) -> Callable[[Assembly], Found]:
    """A function of an assembly that is worked out once for each: the record stays pure, the cost is paid once."""
    @wraps(work_out)
    def once(assembly: Assembly) -> Found:
        found = assembly.kept
        if once not in found:
            found[once] = work_out(assembly)
        fact: Found = found[once]
        return fact

    return once
