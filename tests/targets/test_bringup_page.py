"""docs/bringup.md and localization.yaml: what people and localisers are told."""
from __future__ import annotations

import math
import re
from typing import Any

import pytest
import yaml

from chassis_describe.targets import load
from chassis_describe.targets.package.bringup_page import bringup
from chassis_describe.targets.stack import localization
from chassis_describe.targets.target import Written


def page(assembly: Any) -> str:
    (file,) = bringup(assembly, [Written(target=t, files=tuple(t.artifacts(assembly))) for t in load()]).files
    assert file.path == "docs/bringup.md"
    text = file.data.decode("ascii")
    assert "{" not in re.sub(r"`ros: \{.*?\}`", "", text), "nothing is left to fill in"
    return text


@pytest.mark.parametrize("name", ["two_wheels", "four_wheels", "mecanum", "disc", "pushed", "shelf"])
def test_page_is_honest_and_cautious_for_every_robot(robots: Any, name: str) -> None:
    text = page(robots(name))
    assert "Not tried on a robot" in text
    assert "not a safety function" in text
    assert "wheels off the ground" in text


def test_it_speaks_only_of_what_is_there(robots: Any) -> None:
    text = page(robots("shelf"))
    assert not re.search(r"controllers\.yaml|navigation\.yaml|laser_filter|localization\.yaml", text)
    assert "nobody" not in page(robots("two_wheels", control="none")).split("## Sensor")[0].split("## Driving")[1]
    alone = page(robots("two_wheels", control="none", odometry="ekf"))
    assert "## ros2_control" not in alone
    assert "controllers.yaml" not in alone
    assert "publishes `odom` and the joint states of the\nwheels, but not the transform `odom` to `base_footprint`" in alone


def test_the_files_of_the_package_are_listed_with_who_takes_them(robots: Any) -> None:
    rows = re.findall(r"^\| `((?:urdf|config|launch)/[^`]+)` \| (.+) \|$", page(robots("two_wheels")), re.MULTILINE)
    assert {"config/navigation.yaml", "config/controllers.yaml", "config/localization.yaml"} <= {file for file, _ in rows}
    assert all(file.startswith("urdf/") or file in ("launch/frames.launch.py", "launch/gazebo.launch.py") for file, _ in re.findall(
        r"^\| `((?:urdf|config|launch)/[^`]+)` \| (.+) \|$", page(robots("shelf")), re.MULTILINE))


@pytest.mark.thorough
def test_humble_remaps_at_the_manager_and_others_in_the_file(robots: Any) -> None:
    """ros2_control humble:controller_manager/src/controller_manager.cpp: ~/robot_description, and no node_options_args."""
    old, new = page(robots("two_wheels", distro="humble")), page(robots("two_wheels", distro="jazzy"))
    for rule in ("/controller_manager/robot_description:=/robot_description",
                 "/diff_drive_controller/cmd_vel_unstamped:=/cmd_vel", "/diff_drive_controller/odom:=/odom"):
        assert f"-r {rule}" in old
        assert rule not in new
    assert "geometry_msgs/msg/Twist on" in old
    assert "geometry_msgs/msg/TwistStamped on" in new
    assert "-r /mecanum_drive_controller/tf_odometry:=/tf" in page(robots("mecanum", distro="humble"))


def test_expected_reading_of_an_imu_mounted_upside_down(robots: Any) -> None:
    """REP-145: at rest the specific force is +g along the world's up; the board's z points down, so az is -9.81."""
    text = page(robots("two_wheels"))
    assert "ax 0.00, ay 0.00, az -9.81" in text
    assert "mounted upside down" in text


def test_where_an_object_ahead_appears(robots: Any) -> None:
    assert "`lidar`: an object straight ahead appears at 180 degrees" in page(robots("two_wheels"))
    text = page(robots("mecanum"))
    assert "`upright`: an object straight ahead appears at 0 degrees" in text
    # Turned by 30 degrees about its own axis, which points down: forward is at -30 in the frame, 330 for this driver.
    assert "`hanging`: an object straight ahead appears at 330 degrees" in text
    assert "leave the driver's own\ninversion off" in text


def test_placeholder_is_called_one(robots: Any) -> None:
    assert "hardware plugin is not named yet" in page(robots("two_wheels"))
    assert "hardware plugin is not named yet" not in page(robots("two_wheels", hardware="acme_drive/AcmeSystem"))


# ------------------------------------------------------------------------------------------------------- localization.yaml
def local(assembly: Any) -> dict[str, Any]:
    files = list(localization.artifacts(assembly))
    return yaml.safe_load(files[0].data) if files else {}


def test_frames_of_the_filter(robots: Any) -> None:
    """cra-ros-pkg/robot_localization ros2:params/ekf.yaml: world_frame = odom_frame publishes odometry to the base."""
    read = local(robots("four_wheels", odometry="ekf", prefix="p_"))
    assert list(read) == ["ekf_filter_node"]
    parameters = read["ekf_filter_node"]["ros__parameters"]
    assert {k: v for k, v in parameters.items() if not k.startswith(("odom0", "imu"))} == {
        "two_d_mode": True, "publish_tf": True, "map_frame": "map", "odom_frame": "p_odom",
        "base_link_frame": "p_base_footprint", "world_frame": "p_odom"}


@pytest.mark.parametrize("name", ["two_wheels", "four_wheels", "mecanum"])
def test_what_the_filter_fuses(robots: Any, name: str) -> None:
    """robot_localization ros2:doc/state_estimation_nodes.rst: x y z, roll pitch yaw, vx vy vz, vroll vpitch vyaw, ax ay az."""
    parameters = local(robots(name, odometry="ekf"))["ekf_filter_node"]["ros__parameters"]
    assert parameters["odom0"] == "odom"
    assert parameters["odom0_config"] == [False] * 6 + [True, True, False] + [False, False, True] + [False] * 3
    words = "".join(localization.TARGET.page(robots(name, odometry="ekf"), {localization.PATH}))
    assert ("the wheels' speeds and the imu's turning rate, nothing else" in words) is (name == "two_wheels")
    assert ("imu driver" in words) is (name == "two_wheels")
    if name == "two_wheels":  # its imu hangs upside down: still its own z that stands upright
        assert parameters["imu0"] == "imu/data"
        assert parameters["imu0_config"] == [False] * 11 + [True] + [False] * 3


@pytest.mark.parametrize(("rpy", "rate"), [
    ([0, 0, 0], "vyaw"), ([180, 0, 30], "vyaw"), ([90, 0, 0], "vpitch"), ([-90, 0, 45], "vpitch"), ([0, 90, 0], "vroll"),
    ([0, -90, 10], "vroll"), ([40, 0, 0], "vyaw"), ([50, 0, 0], "vpitch")])
def test_the_axis_of_an_imu_that_stands_upright(robots: Any, rpy: list[int], rate: str) -> None:
    """Rz(yaw)·Ry(pitch)·Rx(roll) (REP-103): rolled by 90 degrees y points up or down, pitched by 90 degrees x does."""
    swap = (("catalogue: [parts.yaml]", "catalogue: [parts.yaml]\nparts: {board: {like: imu, sensors: {imu: {kind: imu, "
             f"at: [0, 0, 3], rpy: {rpy}, topic: imu/data}}}}}}}}"),
            ("imu:         {part: imu, on: lower, face: under, at: [-1.5, 0]}", "imu: {part: board, on: upper, at: [-1.5, 0]}"))
    assembly = robots("two_wheels", odometry="ekf", swap=swap)
    config = local(assembly)["ekf_filter_node"]["ros__parameters"]["imu0_config"]
    assert [name for name, on in zip(localization.VALUES, config) if on] == [rate]


def test_ranges_are_doubles(robots: Any) -> None:
    """AMCL and slam_toolbox declare them as doubles; ``12`` would be an integer, and they abort."""
    (file,) = localization.artifacts(robots("two_wheels"))
    text = file.data.decode()
    for key, value in (("max_laser_range", 8.0), ("min_laser_range", 0.1), ("laser_max_range", 8.0), ("laser_min_range", 0.1)):
        assert f"{key}: {value!r}" in text


def test_the_lidar_with_the_wider_free_view_maps(robots: Any) -> None:
    assembly = robots("mecanum")
    assert local(assembly)["slam_toolbox"]["ros__parameters"]["scan_topic"].startswith("upright/")
    named = robots("mecanum", slam_lidar="hanging")
    assert local(named)["slam_toolbox"]["ros__parameters"]["scan_topic"].startswith("hanging/")


@pytest.mark.thorough
def test_the_page_says_why_this_sensor_maps(robots: Any) -> None:
    assert "The scan of lidar goes to one of the two" in page(robots("two_wheels"))
    assert "The scan of ring, made of its cloud, goes" in page(robots("clouds"))
    assert "The scan of front, made of its depth image, goes" in page(robots("clouds", scan_from="front", scan_by="depth_image"))
    assert "The scan of upright, which has the widest free view" in page(robots("mecanum"))
    assert "The scan of hanging (`slam_lidar` in the layout) goes" in page(robots("mecanum", slam_lidar="hanging"))


def test_frames_and_scan_of_slam_and_amcl(robots: Any) -> None:
    """SteveMacenski/slam_toolbox ros2:src/slam_toolbox_common.cpp; navigation2 jazzy:nav2_amcl/src/amcl_node.cpp."""
    read = local(robots("two_wheels"))
    assert read["slam_toolbox"]["ros__parameters"] == {
        "map_frame": "map", "odom_frame": "odom", "base_frame": "base_footprint", "scan_topic": "scan_filtered",
        "min_laser_range": 0.1, "max_laser_range": 8.0}
    assert read["amcl"]["ros__parameters"]["robot_model_type"] == "nav2_amcl::DifferentialMotionModel"
    assert local(robots("mecanum"))["amcl"]["ros__parameters"]["robot_model_type"] == "nav2_amcl::OmniMotionModel"
    assert "ekf_filter_node" not in read


def test_nothing_to_say_no_file(robots: Any) -> None:
    blind = robots("pushed", swap=(("  camera: {part: depth_camera_own_frames, on: plate, at: [4, 0]}\n", ""),))
    for assembly in (robots("four_wheels"), blind, robots("shelf")):
        assert local(assembly) == {}


def test_shared_topics_get_the_placements_name(robots: Any) -> None:
    from chassis_describe.errors import TargetError
    from chassis_describe.targets.stack.topics import sensor_topics

    assembly = robots("mecanum")
    assert sensor_topics(assembly) == {"upright_frame": "upright/scan", "hanging_frame": "hanging/scan"}
    named = (("upright:  {part: lidar,", "upright:  {part: lidar, topic: /high_scan,"),)
    assert sensor_topics(robots("mecanum", swap=named)) == {"upright_frame": "/high_scan", "hanging_frame": "scan"}
    same = (*named, ("hanging:  {part: lidar_positive,", "hanging:  {part: lidar_positive, topic: high_scan,"))
    with pytest.raises(TargetError, match=r"mecanum\.yaml:\d+:\d+.*both publish on high_scan"):
        sensor_topics(robots("mecanum", swap=same))


def test_heights_by_hand(robots: Any) -> None:
    """two_wheels: shaft 15 mm under the lower deck, wheel 32.5: the deck's underside is 47.5 mm up, motors hang 30 mm.

    The IMU board (3 mm) and the motors hang under it; the ball's holder doesn't count. Top: 47.5 + 4 + 60 + 3 + 25 (camera).
    """
    from chassis_describe.facts.heights import heights_of

    found = heights_of(robots("two_wheels"))
    assert found.clearance == pytest.approx(0.0175, abs=1e-9)
    assert found.top == pytest.approx(0.1395, abs=1e-9)
    assert math.isfinite(heights_of(robots("shelf")).top)
