"""Facts that follow from an assembly, each worked out on first asking and kept with it."""
from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import TypeVar

from chassis_describe.assembly.model import Assembly

Fact = TypeVar("Fact")


def kept(work_out: Callable[[Assembly], Fact]) -> Callable[[Assembly], Fact]:
    """A function of an assembly that is worked out once for each: the record stays pure, the cost is paid once."""
    @wraps(work_out)
    def once(assembly: Assembly) -> Fact:
        found = assembly.kept
        if once not in found:
            found[once] = work_out(assembly)
        fact: Fact = found[once]
        return fact

    return once
