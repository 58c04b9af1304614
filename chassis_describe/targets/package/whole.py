"""The description package as a whole: what the other targets wrote, and everything that makes a package of it."""
from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly
from chassis_describe.targets.description.meshes import mesh_artifacts, paths_on_disk
from chassis_describe.targets.package.cmake import cmake_lists
from chassis_describe.targets.package.frames_page import frames_page
from chassis_describe.targets.package.launch_files import frames_launch, show_launch
from chassis_describe.targets.package.layout_copy import inputs_by_name, layout_copy
from chassis_describe.targets.package.manifest import package_name, package_xml
from chassis_describe.targets.package.record import RECORD, record
from chassis_describe.targets.package.rviz import rviz_file
from chassis_describe.version import VERSION


def description_package(assembly: Assembly, others: Sequence[Artifact], *,
                        depends: Iterable[str] = ()) -> tuple[Artifact, ...]:
    """Every file of the package, the record last. ``others``: URDF, xacro, config; ``depends``: packages they need."""
    copies = layout_copy(assembly.layout, paths_on_disk(assembly))
    files = [*others, *mesh_artifacts(assembly), show_launch(assembly), frames_launch(assembly),
             rviz_file(assembly.root, extent(assembly)), frames_page(assembly), *copies]
    paths = [file.path for file in files]
    files += [package_xml(assembly, paths, depends),
              cmake_lists(package_name(assembly.robot), [*paths, RECORD])]
    files.sort(key=lambda file: file.path)
    return (*files, record(files, version=VERSION, robot=assembly.robot,
                           inputs=inputs_by_name(assembly.layout, copies)))


def extent(assembly: Assembly) -> float:
    """How far the frames reach from base_link at most, twice, in metres: enough to set a view by."""
    return 2 * max((math.hypot(*pose.t) for pose in assembly.poses.values()), default=0.0)
