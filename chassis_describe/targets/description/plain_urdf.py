"""urdf/<robot>.urdf: the description as one plain file."""
from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly
from chassis_describe.targets.description.meshes import mesh_address
from chassis_describe.targets.description.urdf_file import urdf
from chassis_describe.targets.names import XmlNames
from chassis_describe.targets.package.manifest import package_name
from chassis_describe.targets.target import Target

#: Where a description refers to what it holds: the tree, ros2_control, and headers of simulated sensors (sdformat,
#: sensor.sdf and camera.sdf).
URDF_NAMES = XmlNames(uses_of={
    "joint>parent": ("link", "link"), "joint>child": ("link", "link"), "ros2_control>joint": ("name", "joint"),
    "mimic": ("joint", "joint"), "gazebo": ("reference", "link"), "gz_frame_id": ("", "frame"),
    "ignition_frame_id": ("", "frame"), "frame_id": ("", "frame"), "optical_frame_id": ("", "frame")},
    parameters=("${parent}",))
_PAGE = """\
## robot_state_publisher

Gets `urdf/{robot}.urdf` as the parameter `robot_description`: the text, not the path. The tree's root is `{root}`.
To look at it:

    ros2 launch {package} show.launch.py

In a launch file of your own the node takes the text of the file, or of a xacro of your own, in a way that works with
blanks and quotes in the path:

    'robot_description': ParameterValue(Path(path).read_text(), value_type=str)
    'robot_description': ParameterValue(xacro.process_file(str(path)).toxml(), value_type=str)

Two robots of this package in one launch file: include `show.launch.py` twice, with another `namespace` each. Their
transforms stay apart in `/NAMESPACE/tf`.

PyBullet gives every link without inertia 1 kg, `{root}` among them: after `loadURDF` call
`changeDynamics(body, link, mass=0)` for those, or load with `flags=URDF_MERGE_FIXED_LINKS`, which adds the sensors' empty
frames to what carries them.
"""


def artifacts(assembly: Assembly) -> Iterable[Artifact]:
    """The file, drawn as the layout wants it."""
    text = urdf(assembly, visual=assembly.layout.ros.visual, mesh_address=mesh_address(assembly))
    yield Artifact(path=f"urdf/{assembly.robot}.urdf", data=text.encode("ascii"))


def _page(assembly: Assembly, paths: Collection[str]) -> Iterator[str]:
    yield _PAGE.format(robot=assembly.robot, root=assembly.root, package=package_name(assembly.robot))


def _depends(assembly: Assembly) -> Iterator[str]:
    """Packages whose meshes a description of others names."""
    for placed in assembly.parts.values():
        if placed.part.description is not None:
            yield from placed.part.description.packages


TARGET = Target(artifacts=artifacts, names=URDF_NAMES, depends=_depends, page=_page,
                takers={"urdf/{robot}.urdf": "robot_state_publisher, simulators"})
