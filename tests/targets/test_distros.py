"""What differs between ROS distros, each fact against the branch and file that it was read in (August 2026 and before).

Short names: N2 = ros-navigation/navigation2, RC = ros-controls/ros2_controllers, R2C = ros-controls/ros2_control.
Commits: N2 humble 3c3db59d6969, jazzy f4108e5b1c2b, kilted 71a1d84f49dc, lyrical aa3dab8da45b; RC humble ad559d9c8054,
jazzy ed360c97d6e9, kilted 0f8eb14e1a73, master (Lyrical) 94e74de35f9d; R2C humble 0941f73c3c03, jazzy 9ffbf97fd679,
kilted cbe7d2c38b71, master 53b9999d1990. GZ = gazebosim (humble, jazzy, kilted, lyrical): gz-sim ign-gazebo6 aab5556f43bd, gz-sim8
b81e26dab4ac, gz-sim9 b12613fc8227, gz-sim10 ccd66949f74f; gz-sensors ign-sensors6 7cfaddf77180, gz-sensors8 c8159af0a0e5, gz-sensors9
baeb6a51f522, gz-sensors10 ff8c92bd1e29; ros_gz humble 5cc92f804739, jazzy 739cb42a5846, ros2 a4d00a90a1a5 (2024) and the changelogs at
docs.ros.org. GZC = ros-controls/gz_ros2_control humble 4cb90a24a985, jazzy fa9ced4713b6, rolling e19b0eff2618 (2024).
"""
from __future__ import annotations

import re

import pytest

from chassis_describe.targets.stack import distros

#: name → values for humble, jazzy, kilted, lyrical, and where they stand.
READ = {
    # RC {branch}:diff_drive_controller/src/diff_drive_controller_parameter.yaml: `wheels_per_side` in humble alone
    "wheels_per_side": (True, False, False, False),
    # the same files: `has_velocity_limits` false in humble, deprecated and true in jazzy, gone in kilted and master
    "velocity_limit_switch": (True, False, False, False),
    # the same files, and RC {branch}:mecanum_drive_controller/src/mecanum_drive_controller.yaml: in humble alone
    "use_stamped_vel": (True, False, False, False),
    # RC humble:diff_drive_controller/src/diff_drive_controller.cpp, DEFAULT_COMMAND_UNSTAMPED_TOPIC; others cmd_vel
    "diff_drive_command": ("cmd_vel_unstamped", "cmd_vel", "cmd_vel", "cmd_vel"),
    # RC {branch}:mecanum_drive_controller/src/mecanum_drive_controller.cpp, on_configure
    "mecanum_command": ("reference_unstamped", "reference", "reference", "reference"),
    # RC {branch}:mecanum_drive_controller/src/mecanum_drive_controller.yaml: `linear`, `tf_frame_prefix_enable`
    "mecanum_limits": (False, True, True, True),
    "mecanum_tf_prefix": (False, True, True, True),
    # RC master:diff_drive_controller/src/diff_drive_controller.cpp, on_configure: a warning when it is not true
    "tf_prefix_enable_deprecated": (False, False, False, True),
    # R2C {branch}:controller_manager/src/controller_manager.cpp, load_controller: `{}.node_options_args`
    "node_options_args": (False, True, True, True),
    # the same files: the subscription in subscribe_to_robot_description_topic, init_robot_description_callback
    "description_topic": ("~/robot_description", "robot_description", "robot_description", "robot_description"),
    # R2C {branch}:controller_manager/src/controller_manager_parameters.yaml
    "enforce_command_limits": (None, False, True, True),
    # R2C {branch}:hardware_interface/src/component_parser.cpp: mimic joints of the URDF are read in all but humble
    "mimic_by_parameter": (True, False, False, False),
    # RC {branch}:joint_trajectory_controller/src/joint_trajectory_controller_parameters.yaml
    "trajectory_end_velocity": (True, False, False, False),
    "angle_wraparound": (True, False, False, False),
    # N2 {branch}:nav2_util/include/nav2_util/twist_publisher.hpp
    "enable_stamped_cmd_vel": (None, False, True, True),
    # N2 {branch}:nav2_costmap_2d/plugins/obstacle_layer.cpp, range_sensor_layer.cpp: joinWithParentNamespace
    "costmap_topics_join": (False, False, True, True),
    # N2 {branch}:nav2_collision_monitor/src/polygon.cpp, getParameters: PARAMETER_DOUBLE_ARRAY or _STRING
    "polygon_points": ("list", "string", "string", "string"),
    # N2 {branch}:nav2_collision_monitor/src/source.cpp, getCommonParameters: `.source_timeout` from jazzy on
    "monitor_source_timeout": (False, True, True, True),
    # N2 lyrical:nav2_collision_monitor/src/source.cpp since pull request 6302: `.exclusion_zones`
    "monitor_exclusion_zones": (False, False, False, True),
    # N2 {branch}:nav2_behaviors/src/behavior_server.cpp: `local_frame`
    "behavior_local_frame": (False, True, True, True),
    # GZ gz-sensors {branch}:src/Sensor.cc, Load
    "gz_frame_tag": ("ignition_frame_id", "gz_frame_id", "frame_id", "frame_id"),
    # GZ ros_gz {branch}:README.md, the table of distros and releases
    "gz_release": ("Fortress", "Harmonic", "Ionic", "Jetty"),
    # GZ gz-sim {branch}:src/systems/diff_drive/DiffDrive.cc (aliases) and CMakeLists.txt (file names)
    "gz_system_class": ("ignition::gazebo::systems", "gz::sim::systems", "gz::sim::systems", "gz::sim::systems"),
    "gz_system_file": ("ignition-gazebo", "gz-sim", "gz-sim", "gz-sim"),
    # GZ gz-sim {branch}:examples/worlds/mecanum_drive.sdf: `ignition:expressed_in`, `gz:expressed_in`
    "gz_schema": ("ignition", "gz", "gz", "gz"),
    # GZ ros_gz {humble,jazzy,ros2}:ros_gz_bridge/README.md, the table of types
    "gz_messages": ("ignition.msgs", "gz.msgs", "gz.msgs", "gz.msgs"),
    # GZ ros_gz {branch}:ros_gz_sim/launch/gz_sim.launch.py.in
    "gz_resource_path": ("IGN_GAZEBO_RESOURCE_PATH", "GZ_SIM_RESOURCE_PATH", "GZ_SIM_RESOURCE_PATH", "GZ_SIM_RESOURCE_PATH"),
    # docs.ros.org/en/{humble,jazzy,kilted,rolling}/p/ros_gz_bridge/__CHANGELOG.html: Added LaserScan-Range bridge
    "gz_range_since": ("0.244.17", "1.0.12", "2.1.7", "3.0.0"),
    # ros-perception/pointcloud_to_laserscan humble 59bf9964, rolling d71ed2e1:package.xml; depthimage_to_laserscan ros2 79b60bf1:
    # package.xml, and ros/rosdistro lyrical/distribution.yaml
    "cloud_scan_release": ("2.0.1", "2.0.2", "2.0.2", "2.0.2"),
    "depth_scan_release": ("2.5.1", "2.5.1", "2.5.1", "2.5.1"),
    # GZC humble:ign_ros2_control/src/ign_ros2_control_plugin.cpp, getURDF; {jazzy,rolling}:gz_ros2_control_plugin.cpp waits for the topic
    "gz_description_by_parameter": (True, False, False, False),
}


@pytest.mark.parametrize("name", READ)
def test_fact(name: str) -> None:
    assert tuple(distros.value(name, d) for d in distros.DISTROS) == READ[name]


@pytest.mark.parametrize("fact", distros.FACTS, ids=lambda fact: fact.name)
def test_each_row_names_repository_branch_and_file(fact: distros.Fact) -> None:
    assert re.search(r"\b(navigation2|ros2_control|ros2_controllers|ros_gz|gz_ros2_control|pointcloud_to_laserscan|depthimage_to_laserscan|gz-sim|gz-sensors) ", fact.source)
    assert "{}:" in fact.source
    assert re.search(r"[a-z_]+/\S+", fact.source.partition("{}:")[2])
    assert fact.says


def test_rows_are_told_apart() -> None:
    assert len({fact.name for fact in distros.FACTS}) == len(distros.FACTS)
    with pytest.raises(KeyError):
        distros.value("no_such_row", "jazzy")
