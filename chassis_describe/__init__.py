"""From the layout of a robot built on drilled plates to what its ROS 2 software must know of its body."""
from __future__ import annotations

from typing import Any

#: The public names; a test guards the list.
__all__ = ["ChassisError", "Finding", "LayoutError", "Severity", "TargetError", "UsageError",
           "assemble", "check", "compile", "read", "urdf"]

_HOME = {
    "ChassisError": "errors", "LayoutError": "errors", "TargetError": "errors", "UsageError": "errors",
    "Finding": "findings", "Severity": "findings",
    "assemble": "compiler", "check": "compiler", "compile": "compiler", "read": "compiler", "urdf": "compiler",
}


def __getattr__(name: str) -> Any:
    # Looked up on first use: `import chassis_describe` must not cost what only one function needs.
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_HOME[name]}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
