"""Assembly → artifacts: one format per file, and the table of what a description package holds."""
from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Protocol

from chassis_describe.artifact import Artifact
from chassis_describe.errors import TargetError

if TYPE_CHECKING:
    from chassis_describe.assembly.model import Assembly


class Target(Protocol):
    """A function from the robot to files; nothing where the robot has nothing of what the file is about."""

    def __call__(self, assembly: Assembly) -> Iterable[Artifact]: ...


def _plain_urdf(assembly: Assembly) -> Iterable[Artifact]:
    from chassis_describe.targets.description.meshes import mesh_address
    from chassis_describe.targets.description.urdf_file import urdf

    text = urdf(assembly, visual="mesh", mesh_address=mesh_address(assembly))
    yield Artifact(path=f"urdf/{assembly.robot}.urdf", data=text.encode("ascii"))


def _xacro(assembly: Assembly) -> Iterable[Artifact]:
    from chassis_describe.targets.description import xacro_file
    from chassis_describe.targets.description.meshes import mesh_address

    return xacro_file.artifacts(assembly, visual="mesh", mesh_address=mesh_address(assembly))


def _navigation(assembly: Assembly) -> Iterable[Artifact]:
    from chassis_describe.targets.stack import navigation

    return navigation.artifacts(assembly)


def _controllers(assembly: Assembly) -> Iterable[Artifact]:
    from chassis_describe.targets.stack import controllers

    return controllers.artifacts(assembly)


def _laser_filter(assembly: Assembly) -> Iterable[Artifact]:
    from chassis_describe.targets.stack import laser_filter

    return laser_filter.artifacts(assembly)


def _localization(assembly: Assembly) -> Iterable[Artifact]:
    from chassis_describe.targets.stack import localization

    return localization.artifacts(assembly)


#: What the geometry decides, a function each; imports wait until the function is called. The bring-up page, the meshes
#: and what makes a package of it all are added in ``package_artifacts``.
TARGETS: tuple[Target, ...] = (_plain_urdf, _xacro, _navigation, _controllers, _laser_filter, _localization)


def package_artifacts(assembly: Assembly) -> tuple[Artifact, ...]:
    """Every file of the description package.

    Raises TargetError, naming file, key and value, where a file names a frame, link, joint or topic that does not exist.
    """
    from chassis_describe.targets.closure import closure_faults
    from chassis_describe.targets.package import bringup_page
    from chassis_describe.targets.package.whole import description_package

    files = [artifact for target in TARGETS for artifact in target(assembly)]
    files += bringup_page.artifacts(assembly, files)
    whole = description_package(assembly, files)
    faults = closure_faults(assembly, whole)
    if faults:
        raise TargetError("the package would not hold together:\n  " + "\n  ".join(faults))
    return whole
