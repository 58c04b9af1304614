"""What the launch files of the description package share. They are Python source.

Values stand in the source as Python literals (``repr``), never pasted as text. The files find their neighbours by
their own place, so they run from the source folder, from an install and from a symlink install alike. Parameters are
typed: launch would otherwise guess at the description, and at a frame called ``on``, as YAML
(repository ros2/launch_ros, launch_ros/utilities/evaluate_parameters.py).
"""
from __future__ import annotations

from collections.abc import Sequence

from chassis_describe.assembly.model import Assembly

CAUTIONS = (
    "A generated model is not a safety function: speed limits, protective fields and emergency stops are sized by "
    "people qualified for it.",
    "First drive after any change: wheels off the ground, then at walking pace with an emergency stop in hand.",
)


def filled(text: str, values: dict[str, str]) -> str:
    """The text with every ``@NAME@`` replaced."""
    for name, value in values.items():
        text = text.replace(f"@{name}@", value)
    return text


def literal(values: Sequence[object]) -> str:
    """A list with one item a line."""
    return "[\n" + "".join(f"    {value!r},\n" for value in values) + "]"


def transform_remappings(assembly: Assembly) -> list[tuple[str, str]]:
    """Rules that make a node's transforms the robot's own; without a namespace they change nothing. With a prefix the
    robots share ``/tf``."""
    return [] if assembly.prefix else [("/tf", "tf"), ("/tf_static", "tf_static")]
