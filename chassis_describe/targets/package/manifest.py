"""``package.xml`` of the description package: format 3 (REP-149), dependencies of what is in it and nothing else."""
from __future__ import annotations

from collections.abc import Collection, Iterable

from lxml import etree

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly
from chassis_describe.xmltree import serialise


def package_name(robot: str) -> str:
    """``<robot>_description``: the suffix that REP-144 gives to a package with a robot's model."""
    return f"{robot}_description"


def package_xml(assembly: Assembly, paths: Collection[str], depends: Iterable[str] = ()) -> Artifact:
    """The manifest. ``paths``: every file; ``depends``: the packages that the targets need."""
    ros = assembly.layout.ros
    package = etree.Element("package", {"format": "3"})
    _text(package, "name", package_name(assembly.robot))
    _text(package, "version", ros.version)
    _text(package, "description", f"Body of the robot {assembly.robot}: model, frames and parameter files. "
          "Written by chassis_describe from layout/; edit the layout and compile again.")
    # REP-149 requires both tags; where the layout does not say, the text says where to say it.
    who = ros.maintainer
    maintainer = _text(package, "maintainer", who.name if who else "not stated (layout: ros, maintainer)")
    maintainer.set("email", who.email if who else "maintainer@example.com")
    _text(package, "license", ros.license or "not stated (layout: ros, license)")
    _text(package, "buildtool_depend", "ament_cmake")
    for name in sorted(set(depends)):
        _text(package, "exec_depend", name)
    export = etree.SubElement(package, "export")
    _text(export, "build_type", "ament_cmake")
    if any(path.startswith("meshes/") for path in paths):
        # Gazebo looks for package:// below folders that it is told of: the parent of this package's share folder.
        # ros_gz_sim reads this tag (repository gazebosim/ros_gz, ros_gz_sim/launch/gz_sim.launch.py.in).
        etree.SubElement(export, "gazebo_ros", {"gazebo_model_path": "${prefix}/.."})
    return Artifact(path="package.xml", data=serialise(package).encode("ascii"))


def _text(parent: etree._Element, tag: str, text: str) -> etree._Element:
    element = etree.SubElement(parent, tag)
    element.text = text
    return element
