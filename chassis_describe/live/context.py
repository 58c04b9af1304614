"""How nodes of this package begin: a context of their own, and what ROS refuses then, said as an error of the command."""
from __future__ import annotations

import contextlib
from collections.abc import Iterator, Sequence

import rclpy
from rclpy.exceptions import NameValidationException, ParameterException
from rclpy.signals import SignalHandlerOptions

from chassis_describe.errors import UsageError


def ros_context(arguments: Sequence[str]) -> rclpy.Context:
    """A context; ``arguments`` are what follows ``--ros-args``. Signals stay the caller's. Raises UsageError."""
    context = rclpy.Context()
    try:
        rclpy.init(args=["--ros-args", *arguments] if arguments else [], context=context,
                   signal_handler_options=SignalHandlerOptions.NO)
    except Exception as error:  # of several kinds, all of them about the arguments or the middleware
        raise UsageError(f"ROS does not start with --ros-args {' '.join(arguments)}: {error}") from None
    return context


@contextlib.contextmanager
def refusals() -> Iterator[None]:
    """Names and parameters that ROS does not take are the user's, so they are UsageErrors."""
    try:
        yield
    except NameValidationException as error:  # its text is three lines: why, the name, a mark below it
        why, name = str(error).splitlines()[:2]
        raise UsageError(f"{name.strip()}: {why.rstrip(':')}") from None
    except ParameterException as error:
        raise UsageError(f"ROS does not take a parameter: {error}") from None
