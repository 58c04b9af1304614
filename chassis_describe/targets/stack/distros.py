"""What differs between ROS distros, in one table; every row names the branch and file that it was read in.

Gazebo's releases have branches of their own: Humble goes with Fortress (sdf12, ign-gazebo6, ign-sensors6), Jazzy with Harmonic
(sdf14, gz-sim8, gz-sensors8), Kilted with Ionic (sdf15, gz-sim9, gz-sensors9), Lyrical with Jetty (sdf16, gz-sim10, gz-sensors10).

Branches of the ROS distros: navigation2, ros2_control and ros2_controllers keep ``humble``, ``jazzy`` and ``kilted``;
for Lyrical navigation2 has ``lyrical``, while ros2_control and ros2_controllers serve it from ``master``.
"""
from __future__ import annotations

from typing import Literal, Union, cast

from chassis_describe.values import dataclass

Distro = Literal["humble", "jazzy", "kilted", "lyrical"]
Value = Union[bool, str, None]

DISTROS: tuple[Distro, ...] = ("humble", "jazzy", "kilted", "lyrical")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One difference: what it says, its value by distro, and where it was read (``{}`` stands for the branch)."""

    name: str
    says: str
    humble: Value
    jazzy: Value
    kilted: Value
    lyrical: Value
    source: str


FACTS: tuple[Fact, ...] = (
    Fact(name="wheels_per_side", says="diff_drive_controller has the parameter wheels_per_side",
         humble=True, jazzy=False, kilted=False, lyrical=False,
         source="ros2_controllers {}:diff_drive_controller/src/diff_drive_controller_parameter.yaml"),
    Fact(name="velocity_limit_switch", says="diff_drive_controller wants has_velocity_limits for its limits",
         humble=True, jazzy=False, kilted=False, lyrical=False,
         source="ros2_controllers {}:diff_drive_controller/src/diff_drive_controller_parameter.yaml"),
    Fact(name="use_stamped_vel", says="the drive controllers choose between Twist and TwistStamped by use_stamped_vel",
         humble=True, jazzy=False, kilted=False, lyrical=False,
         source="ros2_controllers {}:diff_drive_controller/src/diff_drive_controller_parameter.yaml and "
                "{}:mecanum_drive_controller/src/mecanum_drive_controller.yaml"),
    Fact(name="cmd_vel_type", says="message type of velocity commands from Nav2 to the controller",
         humble="geometry_msgs/msg/Twist", jazzy="geometry_msgs/msg/TwistStamped",
         kilted="geometry_msgs/msg/TwistStamped", lyrical="geometry_msgs/msg/TwistStamped",
         source="ros2_controllers {}:diff_drive_controller/src/diff_drive_controller.cpp; Humble's Nav2 only publishes "
                "Twist (navigation2 humble:nav2_controller/src/controller_server.cpp)"),
    Fact(name="diff_drive_command", says="private topic of diff_drive_controller for velocity commands",
         humble="cmd_vel_unstamped", jazzy="cmd_vel", kilted="cmd_vel", lyrical="cmd_vel",
         source="ros2_controllers {}:diff_drive_controller/src/diff_drive_controller.cpp, DEFAULT_COMMAND_TOPIC"),
    Fact(name="mecanum_command", says="private topic of mecanum_drive_controller for velocity commands",
         humble="reference_unstamped", jazzy="reference", kilted="reference", lyrical="reference",
         source="ros2_controllers {}:mecanum_drive_controller/src/mecanum_drive_controller.cpp, on_configure"),
    Fact(name="mecanum_limits", says="mecanum_drive_controller has linear and angular velocity limits",
         humble=False, jazzy=True, kilted=True, lyrical=True,
         source="ros2_controllers {}:mecanum_drive_controller/src/mecanum_drive_controller.yaml"),
    Fact(name="mecanum_tf_prefix", says="mecanum_drive_controller puts its namespace before frames unless told not to",
         humble=False, jazzy=True, kilted=True, lyrical=True,
         source="ros2_controllers {}:mecanum_drive_controller/src/mecanum_drive_controller.yaml"),
    Fact(name="omni_controller", says="ros2_controllers has omni_wheel_drive_controller",
         humble=False, jazzy=True, kilted=True, lyrical=True,
         source="ros2_controllers {}:omni_wheel_drive_controller/src/omni_wheel_drive_controller_parameters.yaml"),
    Fact(name="steering_by_axle", says="the steering controllers name wheels and tracks by front and rear instead of by steering "
                                       "and traction, and know one track",
         humble=True, jazzy=False, kilted=False, lyrical=False,
         source="ros2_controllers {}:steering_controllers_library/src/steering_controllers_library.yaml and "
                "{}:ackermann_steering_controller/src/ackermann_steering_controller.yaml"),
    Fact(name="steering_command", says="private topic of the steering controllers for velocity commands",
         humble="reference_unstamped", jazzy="reference", kilted="reference", lyrical="reference",
         source="ros2_controllers {}:steering_controllers_library/src/steering_controllers_library.cpp, on_configure"),
    Fact(name="tf_prefix_enable_deprecated", says="tf_frame_prefix_enable still works but draws a deprecation warning",
         humble=False, jazzy=False, kilted=False, lyrical=True,
         source="ros2_controllers {}:diff_drive_controller/src/diff_drive_controller.cpp and "
                "{}:mecanum_drive_controller/src/mecanum_drive_controller.cpp, on_configure"),
    Fact(name="node_options_args", says="controller_manager hands a controller its remappings from the parameter file",
         humble=False, jazzy=True, kilted=True, lyrical=True,
         source="ros2_control {}:controller_manager/src/controller_manager.cpp, load_controller"),
    Fact(name="description_topic", says="topic on which controller_manager waits for the robot description",
         humble="~/robot_description", jazzy="robot_description", kilted="robot_description",
         lyrical="robot_description",
         source="ros2_control {}:controller_manager/src/controller_manager.cpp, robot_description_subscription_"),
    Fact(name="enforce_command_limits", says="controller_manager clamps commands to the URDF's joint limits by default "
                                             "(None: has no such parameter)",
         humble=None, jazzy=False, kilted=True, lyrical=True,
         source="ros2_control {}:controller_manager/src/controller_manager_parameters.yaml"),
    Fact(name="mimic_by_parameter", says="a joint of ros2_control names its leader by a parameter instead of the URDF's mimic",
         humble=True, jazzy=False, kilted=False, lyrical=False,
         source="ros2_control {}:hardware_interface/src/component_parser.cpp and "
                "humble:hardware_interface/src/mock_components/generic_system.cpp"),
    Fact(name="trajectory_end_velocity", says="default of allow_nonzero_velocity_at_trajectory_end",
         humble=True, jazzy=False, kilted=False, lyrical=False,
         source="ros2_controllers {}:joint_trajectory_controller/src/joint_trajectory_controller_parameters.yaml"),
    Fact(name="angle_wraparound", says="joint_trajectory_controller has to be told which joints turn without end",
         humble=True, jazzy=False, kilted=False, lyrical=False,
         source="ros2_controllers {}:joint_trajectory_controller/src/joint_trajectory_controller_parameters.yaml"),
    Fact(name="enable_stamped_cmd_vel", says="default of Nav2's enable_stamped_cmd_vel (None: no such parameter)",
         humble=None, jazzy=False, kilted=True, lyrical=True,
         source="navigation2 {}:nav2_util/include/nav2_util/twist_publisher.hpp"),
    Fact(name="mppi_model_blocks", says="MPPI's motion_model names a block with a plugin of its own",
         humble=False, jazzy=False, kilted=False, lyrical=True,
         source="navigation2 {}:nav2_mppi_controller/src/optimizer.cpp and motion_models.hpp"),
    Fact(name="costmap_topics_join", says="costmap layers join relative topics to the namespace above the costmap "
                                          "(otherwise a relative topic ends up under the costmap's own name)",
         humble=False, jazzy=False, kilted=True, lyrical=True,
         source="navigation2 {}:nav2_costmap_2d/plugins/obstacle_layer.cpp and range_sensor_layer.cpp, "
                "joinWithParentNamespace"),
    Fact(name="polygon_points", says="form of a collision monitor polygon: a flat list of numbers or a string of pairs",
         humble="list", jazzy="string", kilted="string", lyrical="string",
         source="navigation2 {}:nav2_collision_monitor/src/polygon.cpp, getParameters"),
    Fact(name="monitor_source_timeout", says="collision monitor takes source_timeout for each source",
         humble=False, jazzy=True, kilted=True, lyrical=True,
         source="navigation2 {}:nav2_collision_monitor/src/source.cpp, getCommonParameters"),
    Fact(name="monitor_exclusion_zones", says="collision monitor takes exclusion_zones of a source (Lyrical: binaries since "
                                              "August 2026)",
         humble=False, jazzy=False, kilted=False, lyrical=True,
         source="navigation2 {}:nav2_collision_monitor/src/source.cpp and exclusion_zone.cpp, since pull request 6302"),
    Fact(name="behavior_local_frame", says="behavior_server has local_frame beside global_frame "
                                           "(Humble: global_frame alone, meant as the odometry frame)",
         humble=False, jazzy=True, kilted=True, lyrical=True,
         source="navigation2 {}:nav2_behaviors/src/behavior_server.cpp"),
    Fact(name="docking_server", says="Nav2 brings docking_server and route_server along",
         humble=False, jazzy=True, kilted=True, lyrical=True,
         source="navigation2 {}:nav2_docking/opennav_docking/src/ and {}:nav2_route/src/route_server.cpp"),
    Fact(name="cloud_scan_release", says="release of pointcloud_to_laserscan (the node's source is the same in both)",
         humble="2.0.1", jazzy="2.0.2", kilted="2.0.2", lyrical="2.0.2",
         source="pointcloud_to_laserscan {}:src/pointcloud_to_laserscan_node.cpp and package.xml (humble; rolling for the rest)"),
    Fact(name="depth_scan_release", says="release of depthimage_to_laserscan",
         humble="2.5.1", jazzy="2.5.1", kilted="2.5.1", lyrical="2.5.1",
         source="depthimage_to_laserscan {}:src/DepthImageToLaserScanROS.cpp and CHANGELOG.rst (ros2 for all)"),
    Fact(name="gz_release", says="release of Gazebo that the distro goes with",
         humble="Fortress", jazzy="Harmonic", kilted="Ionic", lyrical="Jetty",
         source="ros_gz {}:ros_gz_sim/CMakeLists.txt, and its README.md, the table of distros and releases"),
    Fact(name="gz_frame_tag", says="element of a sensor that holds the frame of its messages",
         humble="ignition_frame_id", jazzy="gz_frame_id", kilted="frame_id", lyrical="frame_id",
         source="gz-sensors {}:src/Sensor.cc, Load; sdformat sdf15:sdf/1.12/sensor.sdf has frame_id"),
    Fact(name="gz_system_file", says="how the files of Gazebo's systems begin (Ionic and later know no other)",
         humble="ignition-gazebo", jazzy="gz-sim", kilted="gz-sim", lyrical="gz-sim",
         source="gz-sim {}:src/SystemLoader.cc and {}:examples/worlds/sensors_demo.sdf"),
    Fact(name="gz_system_class", says="namespace of the classes of Gazebo's systems",
         humble="ignition::gazebo::systems", jazzy="gz::sim::systems", kilted="gz::sim::systems", lyrical="gz::sim::systems",
         source="gz-sim {}:src/systems/diff_drive/DiffDrive.cc, its plugin aliases"),
    Fact(name="gz_messages", says="package of Gazebo's messages in the bridge's configuration",
         humble="ignition.msgs", jazzy="gz.msgs", kilted="gz.msgs", lyrical="gz.msgs",
         source="ros_gz {}:ros_gz_bridge/README.md"),
    Fact(name="gz_schema", says="prefix of the attribute expressed_in of a friction direction",
         humble="ignition", jazzy="gz", kilted="gz", lyrical="gz",
         source="gz-sim {}:examples/worlds/mecanum_drive.sdf"),
    Fact(name="gz_resource_path", says="variable with the folders in which Gazebo looks for model:// addresses",
         humble="IGN_GAZEBO_RESOURCE_PATH", jazzy="GZ_SIM_RESOURCE_PATH", kilted="GZ_SIM_RESOURCE_PATH",
         lyrical="GZ_SIM_RESOURCE_PATH",
         source="ros_gz {}:ros_gz_sim/launch/gz_sim.launch.py.in"),
    Fact(name="gz_range_since", says="version of ros_gz_bridge from which on it makes Range of LaserScan",
         humble="0.244.17", jazzy="1.0.12", kilted="2.1.7", lyrical="3.0.0",
         source="ros_gz {}:ros_gz_bridge/CHANGELOG.rst, pull request 736"),
    Fact(name="gz_description_by_parameter", says="Gazebo's ros2_control plugin asks robot_state_publisher for the description "
                                                  "(later ones take it from the topic)",
         humble=True, jazzy=False, kilted=False, lyrical=False,
         source="gz_ros2_control {}:gz_ros2_control/src/gz_ros2_control_plugin.cpp (humble:ign_ros2_control/src/"
                "ign_ros2_control_plugin.cpp), getURDF"),
)

_BY_NAME = {fact.name: fact for fact in FACTS}


def value(name: str, distro: str) -> Value:
    """What holds for one distro. Raises KeyError for a name that is not in the table."""
    return cast(Value, getattr(_BY_NAME[name], distro))


def has(name: str, distro: str) -> bool:
    """A yes-or-no row."""
    return value(name, distro) is True


def text(name: str, distro: str) -> str:
    """A row that holds text."""
    held = value(name, distro)
    assert isinstance(held, str)
    return held
