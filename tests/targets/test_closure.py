"""Closure: what a package names exists; what doesn't is refused by file, key and value."""
from __future__ import annotations

from typing import Any

import pytest

from chassis_describe.artifact import Artifact
from chassis_describe.targets import load
from chassis_describe.targets.closure import closure_faults
from chassis_describe.targets.names import Names, Parameters
from chassis_describe.targets.package.bringup_page import bringup
from chassis_describe.targets.stack.distros import DISTROS
from chassis_describe.targets.target import Target, Written

ALL = ("two_wheels", "four_wheels", "mecanum", "disc", "pushed", "shelf")


def written(assembly: Any) -> list[Written]:
    out = [Written(target=target, files=tuple(target.artifacts(assembly))) for target in load()]
    return [*out, bringup(assembly, out)]


def with_slip(package: list[Written], path: str, old: str, new: str) -> list[Written]:
    """The package with other words in one file."""
    assert any(file.path == path and old.encode() in file.data for one in package for file in one.files)
    return [Written(target=one.target, files=tuple(
        Artifact(path=path, data=file.data.replace(old.encode(), new.encode())) if file.path == path else file
        for file in one.files)) for one in package]


@pytest.mark.parametrize(("odometry", "prefix"), [("controller", "r1_"), ("ekf", "")])
@pytest.mark.parametrize("distro", DISTROS)
@pytest.mark.parametrize("name", ALL)
def test_our_own_files_are_closed(robots: Any, name: str, distro: str, odometry: str, prefix: str) -> None:
    assembly = robots(name, distro=distro, odometry=odometry, prefix=prefix)
    assert closure_faults(assembly, written(assembly)) == []


#: What somebody might get wrong: (file, what stands there, what is put there, words of the fault).
SLIPS = [
    ("config/navigation.yaml", 'sensor_frame: "lidar_frame"', 'sensor_frame: "laser"', ["sensor_frame", "'laser'"]),
    ("config/navigation.yaml", 'robot_base_frame: "base_footprint"', 'robot_base_frame: "base_footprnt"',
     ["robot_base_frame", "'base_footprnt'", "nearest: base_footprint"]),
    ("config/navigation.yaml", '"/ranger_left/range"', '"/ranger_lft/range"', ["topics", "nearest: ranger_left/range"]),
    ("config/navigation.yaml", 'observation_sources: "lidar camera"', 'observation_sources: "lidar camra"',
     ["'camra'", "no block"]),
    ("config/navigation.yaml", 'points"', 'pionts"', ["topic", "depth/pionts", "nearest: depth/points"]),
    ("config/controllers.yaml", '"wheel_left_joint"', '"wheel_lift_joint"', ["left_wheel_names", "nearest: wheel_left_joint"]),
    ("config/controllers.yaml", 'base_frame_id: "base_footprint"', 'base_frame_id: "base"', ["base_frame_id", "'base'"]),
    ("config/localization.yaml", 'scan_topic: "scan_filtered"', 'scan_topic: "scan_fltered"', ["scan_topic", "scan_filtered"]),
    ("config/localization.yaml", 'odom_frame: "odom"', 'odom_frame: "odom_combined"', ["odom_frame", "odom_combined"]),
    ("urdf/two_wheels.urdf", '<child link="imu_link"/>', '<child link="imv_link"/>', ["child", "imv_link", "nearest: imu_link"]),
    ("urdf/two_wheels.urdf", '<joint name="wheel_left_joint">', '<joint name="wheel_l_joint">', ["joint", "wheel_l_joint"]),
    ("urdf/two_wheels_macro.xacro", '<child link="${prefix}imu_link"/>', '<child link="${prefix}im_link"/>', ["im_link"]),
]


@pytest.mark.parametrize(("path", "old", "new", "words"), SLIPS, ids=[s[2][:40] for s in SLIPS])
def test_a_slip_is_named(robots: Any, path: str, old: str, new: str, words: list[str]) -> None:
    assembly = robots("two_wheels")
    faults = closure_faults(assembly, with_slip(written(assembly), path, old, new))
    assert faults
    assert all(any(word in fault for fault in faults) for word in words), faults
    assert all(fault.startswith(f"{path}: ") for fault in faults)


@pytest.mark.parametrize("name", ALL)
def test_the_whole_package_is_closed(robots: Any, name: str) -> None:
    """Launch files, RViz file and pages included; package_artifacts would refuse it otherwise."""
    from chassis_describe.targets import package_artifacts

    whole = package_artifacts(robots(name, prefix="p_"))
    assert {"launch/frames.launch.py", "docs/frames.md", "docs/bringup.md", "rviz/show.rviz"} <= {f.path for f in whole}


@pytest.mark.parametrize(("path", "old", "new"), [
    ("launch/frames.launch.py", "'imu_link'", "'imv_link'"), ("docs/frames.md", "`imu_link`", "`imv_link`"),
    ("docs/bringup.md", "`imu_frame`", "`imv_frame`"), ("rviz/show.rviz", "base_footprint", "base_footpoint")])
def test_slips_in_other_files_are_named(robots: Any, path: str, old: str, new: str) -> None:
    assembly = robots("two_wheels")
    faults = closure_faults(assembly, with_slip(written(assembly), path, old, new))
    assert faults
    assert all(fault.startswith(f"{path}: ") and repr(new.strip("'`")) in fault for fault in faults)


def test_a_package_with_a_slip_is_refused(robots: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """compile writes nothing: the artifacts themselves can't be had."""
    from chassis_describe import targets
    from chassis_describe.errors import TargetError

    slip = Artifact(path="config/extra.yaml", data=b'node:\n  ros__parameters:\n    base_frame: "base_lnk"\n')
    extra = Target(artifacts=lambda assembly: [slip], names=Parameters(frames=("base_frame",)))
    monkeypatch.setattr(targets, "load", lambda: (*load(), extra))
    with pytest.raises(TargetError, match=r"config/extra\.yaml: .*base_frame: .*'base_lnk' \(nearest: base_link\)"):
        targets.package_artifacts(robots("two_wheels"))


def test_two_publishers_of_odometry_are_named(robots: Any) -> None:
    assembly = robots("two_wheels", odometry="ekf")
    (fault,) = closure_faults(assembly, with_slip(written(assembly), "config/controllers.yaml", "enable_odom_tf: false",
                                                  "enable_odom_tf: true"))
    assert "diff_drive_controller (config/controllers.yaml) and ekf_filter_node (config/localization.yaml)" in fault


def test_rviz_and_simulator_names_are_seen(robots: Any) -> None:
    assembly = robots("two_wheels")
    rviz = Artifact(path="rviz/show.rviz", data=b"""
Visualization Manager:
  Global Options: {Fixed Frame: base_lnk}
  Displays:
    - {Class: rviz_default_plugins/RobotModel, Description Topic: {Value: /robot_descr}}
    - {Class: rviz_default_plugins/Grid, Reference Frame: <Fixed Frame>}
""")
    gazebo = Artifact(path="urdf/two_wheels.urdf", data=b"""<robot name="r"><gazebo reference="imu_lnk"/>
      <gazebo reference="lidar_link"><sensor name="s" type="gpu_lidar"><gz_frame_id>lidar_fram</gz_frame_id></sensor></gazebo>
      </robot>""")
    package = written(assembly)
    by_path = {file.path: one.target for one in package for file in one.files}
    faults = closure_faults(assembly, [*(Written(target=one.target, files=()) for one in package),
                                       *(Written(target=by_path[f.path], files=(f,)) for f in (rviz, gazebo))])
    assert len(faults) == 4
    for name in ("base_lnk", "/robot_descr", "imu_lnk", "lidar_fram"):
        assert any(repr(name) in fault for fault in faults)


@pytest.mark.parametrize("name", ["lidar_link", "lidar_joint", "odom_frame"])
def test_names_of_placements_are_not_taken_for_frames(robots: Any, name: str) -> None:
    """The pages speak of placements in code type; what is a frame there is what a table's column says."""
    swap = (("  lidar:", f"  {name}:"),)
    assembly = robots("two_wheels", swap=swap)
    assert name in assembly.parts
    assert closure_faults(assembly, written(assembly)) == []


def test_every_parameter_file_declares_its_names(robots: Any) -> None:
    """A target that forgot to say where its names are would never be refused."""
    for robot in ALL:
        for one in written(robots(robot, odometry="ekf")):
            for file in one.files:
                if file.path.endswith((".yaml", ".rviz", ".urdf", ".xacro")):
                    assert type(one.target.names) is not Names, file.path
