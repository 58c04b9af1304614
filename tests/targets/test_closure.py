"""Closure: what a package names exists; what doesn't is refused by file, key and value."""
from __future__ import annotations

from typing import Any

import pytest

from chassis_describe.artifact import Artifact
from chassis_describe.targets.closure import closure_faults
from chassis_describe.targets.description import xacro_file
from chassis_describe.targets.description.urdf_file import urdf
from chassis_describe.targets.stack import controllers, laser_filter, localization, navigation
from chassis_describe.targets.stack.distros import DISTROS

ALL = ("two_wheels", "four_wheels", "mecanum", "disc", "pushed", "shelf")
TARGETS = (navigation, controllers, laser_filter, localization, xacro_file)


def files(assembly: Any) -> list[Artifact]:
    out = [file for target in TARGETS for file in target.artifacts(assembly)]
    return [*out, Artifact(path=f"urdf/{assembly.robot}.urdf", data=urdf(assembly).encode())]


@pytest.mark.parametrize("prefix", ["", "r1_"])
@pytest.mark.parametrize("odometry", ["controller", "ekf"])
@pytest.mark.parametrize("distro", DISTROS)
@pytest.mark.parametrize("name", ALL)
def test_our_own_files_are_closed(robots: Any, name: str, distro: str, odometry: str, prefix: str) -> None:
    assembly = robots(name, distro=distro, odometry=odometry, prefix=prefix)
    assert closure_faults(assembly, files(assembly)) == []


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
    changed = []
    for file in files(assembly):
        text = file.data.decode()
        if file.path == path:
            assert old in text
            file = Artifact(path=path, data=text.replace(old, new).encode())
        changed.append(file)
    faults = closure_faults(assembly, changed)
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
    from chassis_describe.targets import package_artifacts

    assembly = robots("two_wheels")
    changed = []
    for file in package_artifacts(assembly):
        if file.path == path:
            text = file.data.decode()
            assert old in text
            file = Artifact(path=path, data=text.replace(old, new).encode())
        changed.append(file)
    faults = closure_faults(assembly, changed)
    assert faults
    assert all(fault.startswith(f"{path}: ") and repr(new.strip("'`")) in fault for fault in faults)


def test_a_package_with_a_slip_is_refused(robots: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """compile writes nothing: the artifacts themselves can't be had."""
    from chassis_describe import targets
    from chassis_describe.errors import TargetError

    slip = Artifact(path="config/extra.yaml", data=b'node:\n  ros__parameters:\n    base_frame: "base_lnk"\n')
    monkeypatch.setattr(targets, "TARGETS", (*targets.TARGETS, lambda assembly: [slip]))
    with pytest.raises(TargetError, match=r"config/extra\.yaml: .*base_frame: .*'base_lnk' \(nearest: base_link\)"):
        targets.package_artifacts(robots("two_wheels"))


def test_two_publishers_of_odometry_are_named(robots: Any) -> None:
    assembly = robots("two_wheels", odometry="ekf")
    changed = [Artifact(path=f.path, data=f.data.replace(b"enable_odom_tf: false", b"enable_odom_tf: true"))
               for f in files(assembly)]
    (fault,) = closure_faults(assembly, changed)
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
    faults = closure_faults(assembly, [rviz, gazebo])
    assert len(faults) == 4
    for name in ("base_lnk", "/robot_descr", "imu_lnk", "lidar_fram"):
        assert any(repr(name) in fault for fault in faults)
