"""The description package as a whole: what the targets wrote, and everything that makes a package of it."""
from __future__ import annotations

from collections.abc import Sequence

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly
from chassis_describe.targets.description.meshes import paths_on_disk
from chassis_describe.targets.package.cmake import cmake_lists
from chassis_describe.targets.package.layout_copy import inputs_by_name, layout_copy
from chassis_describe.targets.package.manifest import package_name, package_xml
from chassis_describe.targets.package.record import RECORD, record
from chassis_describe.targets.target import Written
from chassis_describe.version import VERSION


def description_package(assembly: Assembly, written: Sequence[Written]) -> tuple[Artifact, ...]:
    """Every file of the package, the record last."""
    copies = layout_copy(assembly.layout, paths_on_disk(assembly))
    files = [*(file for one in written for file in one.files), *copies]
    depends = [name for one in written if one.files for name in one.target.depends(assembly)]
    paths = [file.path for file in files]
    files += [package_xml(assembly, paths, depends),
              cmake_lists(package_name(assembly.robot), [*paths, RECORD])]
    files.sort(key=lambda file: file.path)
    return (*files, record(files, version=VERSION, robot=assembly.robot,
                           inputs=inputs_by_name(assembly.layout, copies)))
