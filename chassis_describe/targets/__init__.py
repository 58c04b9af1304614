"""Assembly → artifacts: one format per file, and the table of what a description package holds."""
from __future__ import annotations

from typing import TYPE_CHECKING

from chassis_describe.errors import TargetError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from chassis_describe.artifact import Artifact
    from chassis_describe.assembly.model import Assembly
    from chassis_describe.targets.target import Target

#: What a package holds, module by module, in the order in which the bring-up page speaks of it. Each module ends in
#: ``TARGET`` (``targets/target.py`` says what that is); it is imported when a package is made.
TARGETS = (
    "description.plain_urdf",
    "description.xacro_file",
    "description.meshes",
    "package.show_launch",
    "package.frames_launch",
    "package.rviz",
    "package.frames_page",
    "stack.controllers",
    "stack.free_joints",
    "stack.drivers",
    "stack.laser_filter",
    "stack.cloud_filter",
    "stack.cloud_scan",
    "stack.depth_scan",
    "package.filters_launch",
    "stack.localization",
    "stack.navigation",
    "stack.coverage_page",
    "simulation.mjcf",
    "simulation.gazebo.model",
    "simulation.gazebo.world",
    "simulation.gazebo.bridge",
    "simulation.gazebo.launch_file",
    "simulation.gazebo.page",
)


def load() -> tuple[Target, ...]:
    """Every target, in the order of the table."""
    from importlib import import_module

    return tuple(import_module(f"{__name__}.{name}").TARGET for name in TARGETS)


def warnings(assembly: Assembly) -> tuple[str, ...]:
    """What is to be said of a package once it is written."""
    return tuple(text for target in load() for text in target.warns(assembly))


def package_artifacts(assembly: Assembly, documents: Sequence[Artifact] = ()) -> tuple[Artifact, ...]:
    """Every file of the description package. ``documents``: what it holds for people besides.

    Raises TargetError, naming file, key and value, where a file names a frame, link, joint or topic that does not exist.
    """
    from chassis_describe.targets.closure import closure_faults
    from chassis_describe.targets.names import Names
    from chassis_describe.targets.package.bringup_page import bringup
    from chassis_describe.targets.package.whole import description_package
    from chassis_describe.targets.target import Target, Written, nothing

    written = [Written(target=target, files=tuple(target.artifacts(assembly))) for target in load()]
    written.append(bringup(assembly, written))
    written.append(Written(target=Target(artifacts=nothing, names=Names()), files=tuple(documents)))
    faults = closure_faults(assembly, written)
    if faults:
        raise TargetError("the package would not hold together:\n  " + "\n  ".join(faults))
    return description_package(assembly, written)
