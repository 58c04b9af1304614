"""Omnidirectional and steered drives: what controllers and Nav2 are told, by distro; wheel speeds by worked numbers.

Short names: RC = ros-controls/ros2_controllers (Lyrical: master), NAV2 = ros-navigation/navigation2. The layouts are invented.
"""
from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import yaml
from lxml import etree

from chassis_describe import assemble, check, read
from chassis_describe.assembly.model import Assembly
from chassis_describe.targets import load
from chassis_describe.targets.closure import closure_faults
from chassis_describe.targets.description.ros2_control import ros2_control_elements
from chassis_describe.targets.stack import controllers, localization, navigation
from chassis_describe.targets.stack.distros import DISTROS
from chassis_describe.targets.stack.drive_controllers import remappings
from chassis_describe.targets.target import Written
from chassis_describe.trial.kinematics import Motion, moved, steering_angles, wheel_speeds

#: RC {branch}:steering_controllers_library/src/steering_controllers_library.yaml and
#: {ackermann,tricycle}_steering_controller/src/*.yaml, without what is deprecated; types as there.
STEERING = {"base_frame_id": str, "odom_frame_id": str, "enable_odom_tf": bool, "pose_covariance_diagonal": list,
            "twist_covariance_diagonal": list, "reference_timeout": float, "wheelbase": float}
BY_AXLE = {"front_steering": bool, "front_wheels_names": list, "rear_wheels_names": list, "use_stamped_vel": bool,
           "front_wheels_radius": float, "rear_wheels_radius": float}
BY_TASK = {"traction_joints_names": list, "steering_joints_names": list, "traction_track_width": float,
           "traction_wheels_radius": float}
#: RC {jazzy,kilted,master}:omni_wheel_drive_controller/src/omni_wheel_drive_controller_parameters.yaml
OMNI = {"wheel_names": list, "wheel_offset": float, "robot_radius": float, "wheel_radius": float, "odom_frame_id": str,
        "base_frame_id": str, "enable_odom_tf": bool, "tf_frame_prefix_enable": bool, "diagonal_covariance": dict}


def parameters(assembly: Any, name: str) -> dict[str, Any]:
    (file,) = controllers.artifacts(assembly)
    found: dict[str, Any] = yaml.safe_load(file.data)[name]["ros__parameters"]
    return found


def nav2(assembly: Any) -> dict[str, Any]:
    (file,) = navigation.artifacts(assembly)
    return {name: node["ros__parameters"] for name, node in yaml.safe_load(file.data).items() if "ros__parameters" in node}


@pytest.mark.parametrize("distro", DISTROS)
def test_ackermann_parameters(robots: Any, distro: str) -> None:
    node = parameters(robots("steered", distro=distro), "ackermann_steering_controller")
    humble = distro == "humble"
    own = BY_AXLE | {"front_wheel_track": float, "rear_wheel_track": float} if humble else BY_TASK | {"steering_track_width": float}
    assert {k: type(v) for k, v in node.items()} == STEERING | own
    # The parameter text of the same files: right joint, then left joint.
    traction, steering = ["rear_right_joint", "rear_left_joint"], ["knuckle_right_steer_joint", "knuckle_left_steer_joint"]
    if humble:
        assert (node["front_steering"], node["front_wheels_names"], node["rear_wheels_names"]) == (True, steering, traction)
        assert (node["front_wheel_track"], node["rear_wheel_track"]) == pytest.approx((0.18, 0.20))
        assert (node["front_wheels_radius"], node["rear_wheels_radius"]) == (0.05, 0.05)
    else:
        assert (node["traction_joints_names"], node["steering_joints_names"]) == (traction, steering)
        assert (node["traction_track_width"], node["steering_track_width"]) == pytest.approx((0.20, 0.18))
        assert node["traction_wheels_radius"] == 0.05
    assert node["wheelbase"] == pytest.approx(0.25)
    assert len(node["pose_covariance_diagonal"]) == len(node["twist_covariance_diagonal"]) == 6


@pytest.mark.parametrize("distro", DISTROS)
def test_tricycle_parameters(robots: Any, distro: str) -> None:
    node = parameters(robots("three_wheeler", distro=distro), "tricycle_steering_controller")
    own = BY_AXLE | {"wheel_track": float} if distro == "humble" else BY_TASK
    assert {k: type(v) for k, v in node.items()} == STEERING | own
    assert node["wheelbase"] == pytest.approx(0.25)
    assert node["wheel_track" if distro == "humble" else "traction_track_width"] == pytest.approx(0.20)
    assert node["front_wheels_names" if distro == "humble" else "steering_joints_names"] == ["fork_steer_joint"]


@pytest.mark.parametrize("distro", ["jazzy", "kilted", "lyrical"])
def test_omni_parameters(robots: Any, distro: str) -> None:
    node = parameters(robots("four_omni", distro=distro), "omni_wheel_drive_controller")
    assert {k: type(v) for k, v in node.items()} == OMNI
    assert node["wheel_names"] == [f"wheel_{n}_joint" for n in (1, 2, 3, 4)]
    assert (node["wheel_offset"], node["robot_radius"], node["wheel_radius"]) == pytest.approx((math.pi / 4, 0.1, 0.03))
    assert {k: len(v) for k, v in node["diagonal_covariance"].items()} == {"pose": 6, "twist": 6}


def test_humble_has_no_omni_controller_and_that_is_said(robots: Any) -> None:
    """RC humble has no folder omni_wheel_drive_controller."""
    assembly = robots("three_omni", distro="humble")
    assert not list(controllers.artifacts(assembly))
    assert not ros2_control_elements(assembly)
    page = "\n".join(controllers.TARGET.page(assembly, {"config/navigation.yaml"}))
    assert "omni_wheel_drive_controller is not in this distro" in page


@pytest.mark.parametrize(("robot", "name"), [("steered", "ackermann_steering_controller"),
                                             ("three_wheeler", "tricycle_steering_controller"),
                                             ("three_omni", "omni_wheel_drive_controller")])
def test_plugins_are_named_as_in_the_packages(robots: Any, robot: str, name: str) -> None:
    """RC master: *_steering_controller.xml, omni_wheel_drive_plugin.xml."""
    plugin = {"ackermann_steering_controller": "ackermann_steering_controller/AckermannSteeringController",
              "tricycle_steering_controller": "tricycle_steering_controller/TricycleSteeringController",
              "omni_wheel_drive_controller": "omni_wheel_drive_controller/OmniWheelDriveController"}[name]
    assert parameters(robots(robot), "controller_manager")[name]["type"] == plugin


@pytest.mark.parametrize(("odometry", "tf"), [("controller", ("~/tf_odometry:=/tf",)), ("ekf", ())])
@pytest.mark.parametrize("distro", DISTROS)
def test_private_topics_of_the_steering_controllers(robots: Any, distro: str, odometry: str, tf: tuple[str, ...]) -> None:
    """RC {branch}:steering_controllers_library/src/steering_controllers_library.cpp, on_configure."""
    own = "reference_unstamped" if distro == "humble" else "reference"
    assert remappings(robots("steered", distro=distro, odometry=odometry)) == (
        f"~/{own}:=cmd_vel", "~/odometry:=odom", *tf)
    page = "\n".join(controllers.TARGET.page(robots("steered", distro=distro), {"config/controllers.yaml"}))
    assert "spawner joint_state_broadcaster ackermann_steering_controller" in page
    assert ("/ackermann_steering_controller/reference_unstamped:=/cmd_vel" in page) is (distro == "humble")


def test_private_topics_of_the_omni_controller(robots: Any) -> None:
    """RC jazzy:omni_wheel_drive_controller/src/omni_wheel_drive_controller.cpp, DEFAULT_COMMAND_IN_TOPIC and others."""
    assert remappings(robots("three_omni")) == ("~/cmd_vel:=cmd_vel", "~/odom:=odom")


def test_the_drive_has_the_steering_joints_in_its_system_and_nobody_else(robots: Any) -> None:
    assembly = robots("steered")
    (system,) = ros2_control_elements(assembly)
    found = {j.get("name"): ([c.get("name") for c in j.findall("command_interface")],
                             [s.get("name") for s in j.findall("state_interface")]) for j in system.findall("joint")}
    wheel, steer = (["velocity"], ["position", "velocity"]), (["position"], ["position"])
    assert found == {"rear_left_joint": wheel, "rear_right_joint": wheel,
                     "knuckle_left_steer_joint": steer, "knuckle_right_steer_joint": steer}
    limits = {p.get("name"): float(p.text) for p in system.findall("joint")[2].find("command_interface")}
    assert limits == pytest.approx({"min": -math.radians(40), "max": math.radians(40)})
    assert "knuckle_left_controller" not in parameters(assembly, "controller_manager")
    # Who rolls along is published by the broadcaster: nobody measures it.
    assert parameters(assembly, "joint_state_broadcaster")["extra_joints"] == ["front_left_joint", "front_right_joint"]


@pytest.mark.parametrize(("robot", "model"), [("steered", "Differential"), ("three_wheeler", "Differential"), ("three_omni", "Omni"),
                                              ("mecanum", "Omni"), ("two_wheels", "Differential")])
def test_amcl_model(robots: Any, robot: str, model: str) -> None:
    """NAV2 {branch}:nav2_amcl/plugins.xml: these two; only the second knows motion to the side."""
    assert localization.amcl_model(robots(robot).drive) == f"nav2_amcl::{model}MotionModel"


@pytest.mark.parametrize("distro", DISTROS)
def test_nav2_for_a_robot_that_steers(robots: Any, distro: str) -> None:
    """NAV2 {branch}:nav2_mppi_controller/src/optimizer.cpp; lyrical: motion_model names a block. R = L/tan(d) + t/2 of the inner
    wheel (plane geometry): 0.25/tan 40° + 0.09 = 0.387938."""
    servers = nav2(robots("steered", distro=distro))
    plugin = servers["controller_server"]["FollowPath"]
    if distro == "lyrical":
        assert plugin["motion_model"] == "ackermann"
        assert plugin["ackermann"] == {"plugin": "mppi::AckermannMotionModel", "min_turning_r": 0.388}
    else:
        assert (plugin["motion_model"], plugin["AckermannConstraints"]) == ("Ackermann", {"min_turning_r": 0.388})
    assert plugin["use_rotate_to_heading"] is False
    assert servers["planner_server"]["GridBased"]["minimum_turning_radius"] == 0.388
    assert "spin" not in servers["behavior_server"]["behavior_plugins"]
    assert "max_velocity" not in servers["velocity_smoother"]


@pytest.mark.parametrize("robot", ["three_omni", "mecanum"])
@pytest.mark.parametrize("distro", DISTROS)
def test_nav2_for_a_robot_that_goes_sideways(robots: Any, robot: str, distro: str) -> None:
    """NAV2 {branch}:nav2_velocity_smoother/src/velocity_smoother.cpp: arrays of three, decelerations negative; the defaults have
    y = 0."""
    servers = nav2(robots(robot, distro=distro))
    assert servers["controller_server"]["FollowPath"]["motion_model"] == ("omni" if distro == "lyrical" else "Omni")
    smoother = servers["velocity_smoother"]
    for key, sign in (("max_velocity", 1), ("min_velocity", -1), ("max_accel", 1), ("max_decel", -1)):
        assert len(smoother[key]) == 3
        assert all(sign * v > 0 for v in smoother[key])
    assert "behavior_plugins" not in servers["behavior_server"]


@pytest.mark.parametrize("robot", ["steered", "three_wheeler", "three_omni", "four_omni"])
@pytest.mark.parametrize("distro", DISTROS)
def test_every_name_in_the_files_exists(robots: Any, robot: str, distro: str) -> None:
    assembly = robots(robot, distro=distro)
    assert not closure_faults(assembly, [Written(target=one, files=tuple(one.artifacts(assembly))) for one in load()])


# ------------------------------------------------------------------------------------------------------- worked numbers
#: RC jazzy:steering_controllers_library/src/steering_kinematics.cpp, get_commands, worked by hand with L 0.25 m, r 0.05 m,
#: traction track 0.20 m, steering track 0.18 m, steering settled: right and left wheel (rad/s), right and left angle (rad).
ACKERMANN = [((0.5, 0.5), (11.0, 9.0), (0.225458366, 0.268110783)),
             ((0.5, -0.5), (9.0, 11.0), (-0.268110783, -0.225458366)),
             ((-0.3, 0.4), (-5.2, -6.8), (-0.362087408, -0.289271006))]


@pytest.mark.parametrize(("motion", "wheels", "angles"), ACKERMANN)
def test_ackermann_commands_and_odometry(robots: Any, motion: tuple[float, float], wheels: tuple[float, float],
                                         angles: tuple[float, float]) -> None:
    drive = robots("steered").drive
    wanted = Motion(motion[0], 0.0, motion[1])
    speeds, steered = wheel_speeds(drive, wanted), steering_angles(drive, wanted)
    assert (speeds["rear_right_joint"], speeds["rear_left_joint"]) == pytest.approx(wheels, abs=1e-8)
    assert (steered["knuckle_right_steer_joint"], steered["knuckle_left_steer_joint"]) == pytest.approx(angles, abs=1e-8)
    assert moved(drive, speeds, steered) == pytest.approx(wanted, abs=1e-9)
    # By measured angles the same, once they are reached; the wheels split as they now stand.
    assert wheel_speeds(drive, wanted, steered) == pytest.approx(speeds)


#: The same formulas for one steered wheel: its angle (rad), and the driven wheels v ± ω·track/2 over r (rad/s).
TRICYCLE = [((0.5, 0.5), 0.244978663, (11.0, 9.0)), ((0.0, 1.0), math.pi / 2, (0.0, 0.0)),
            ((-0.3, 0.4), -0.321750554, (-5.2, -6.8))]


@pytest.mark.parametrize(("motion", "angle", "wheels"), TRICYCLE)
def test_tricycle_commands(robots: Any, motion: tuple[float, float], angle: float, wheels: tuple[float, float]) -> None:
    drive = robots("three_wheeler").drive
    wanted = Motion(motion[0], 0.0, motion[1])
    speeds, steered = wheel_speeds(drive, wanted), steering_angles(drive, wanted)
    assert steered == {"fork_steer_joint": pytest.approx(angle, abs=1e-9)}
    assert (speeds["rear_right_joint"], speeds["rear_left_joint"]) == pytest.approx(wheels, abs=1e-8)


def rear_steered(axis: str) -> Assembly:
    """The car turned round: driven wheels in front, the knuckles that steer behind them."""
    text = (Path(__file__).parent / "layouts" / "steered.yaml").read_text(encoding="utf-8")
    for old, new in (("at: [-12, 6]", "at: [12, 6]"), ("at: [13, 9]", "at: [-13, 9]"), ("at: [-3, 0]", "at: [3, 0]"),
                     ("axis: down", f"axis: {axis}")):
        assert old in text
        text = text.replace(old, new)
    return assemble(read("rear.yaml", text=text))


def test_rear_steering_turns_about_base_z_downward() -> None:
    """A positive value steers left (RC steering_controllers_library: rear steering has the axis 0 0 -1). By plane geometry: the
    steered wheels' axles meet the line of the driven axle on the left, at R = L/tan(phi) about which all turn."""
    robot = rear_steered("up")
    assert not [f for f in check(robot) if f.code == "steer-axis"]
    assert [f.code for f in check(rear_steered("down")) if f.code == "steer-axis"]
    joint = next(j for j in robot.joints if j.name == "knuckle_left_steer_joint")
    assert robot.poses[joint.child].vector(joint.axis) == pytest.approx((0, 0, -1), abs=1e-12)
    node = parameters(robot, "ackermann_steering_controller")
    assert node["wheelbase"] == pytest.approx(0.25)
    drive = robot.drive
    assert drive is not None
    angles = steering_angles(drive, Motion(0.5, 0.0, 0.5))
    for steered in drive.steered:
        phi = angles[steered.moving.joint]
        x, y = steered.point[:2]
        axle = (math.sin(phi), math.cos(phi))  # left along the axle, turned about -z by phi
        assert x == pytest.approx(-0.25)
        assert y - x / axle[0] * axle[1] == pytest.approx(1.0)  # R of the motion, on the left


def test_asked_to_turn_without_going_forward_the_wheels_swing_and_nothing_drives(robots: Any) -> None:
    """The same source: phi = atan(omega L / 0), a quarter turn; the traction is v/r = 0."""
    drive = robots("steered").drive
    assert set(wheel_speeds(drive, Motion(turn=1.0)).values()) == {0.0}
    angles = steering_angles(drive, Motion(turn=1.0))
    assert angles["knuckle_left_steer_joint"] == pytest.approx(math.atan2(2 * 0.25, -0.18))
    assert angles["knuckle_right_steer_joint"] == pytest.approx(math.atan2(2 * 0.25, 0.18))


#: RC jazzy:omni_wheel_drive_controller/src/omni_wheel_drive_controller.cpp, update_and_write_commands, worked by hand with
#: R 0.1 m, r 0.03 m: forward, left (m/s), turn (rad/s); wheels (rad/s).
OMNIS = [("three_omni", (0.2, 0.0, 0.0), (0.0, 5.773503, -5.773503)),
         ("three_omni", (0.0, 0.2, 0.0), (-6.666667, 3.333333, 3.333333)),
         ("three_omni", (0.0, 0.0, 1.0), (-3.333333, -3.333333, -3.333333)),
         ("four_omni", (0.2, 0.1, 0.5), (0.690356, 5.404401, -4.023689, -8.737734))]


@pytest.mark.parametrize(("robot", "motion", "wheels"), OMNIS)
def test_omni_commands_and_odometry(robots: Any, robot: str, motion: tuple[float, float, float], wheels: tuple[float, ...]) -> None:
    drive = robots(robot).drive
    speeds = wheel_speeds(drive, Motion(*motion))
    assert tuple(speeds.values()) == pytest.approx(wheels, abs=2e-6)
    assert moved(drive, speeds) == pytest.approx(motion, abs=1e-9)


# --------------------------------------------------------------------------------------------------------------- frames
def test_omni_wheel_links_have_y_outward_and_turn_about_it(robots: Any) -> None:
    """RC jazzy, as above: the wheel at angle th is turned about (cos th, sin th, 0)."""
    assembly = robots("three_omni")
    for n, wheel in enumerate(assembly.wheels):
        th = 2 * math.pi * n / 3
        pose = assembly.poses[wheel.link]
        assert pose.y_axis == pytest.approx((math.cos(th), math.sin(th), 0.0), abs=1e-8)
        assert pose.z_axis == pytest.approx((0.0, 0.0, 1.0), abs=1e-12)
        assert pose.t == pytest.approx((0.1 * math.cos(th), 0.1 * math.sin(th), 0.0), abs=1e-8)
        (joint,) = (j for j in assembly.joints if j.name == wheel.joint)
        assert joint.axis == (0.0, 1.0, 0.0)


@pytest.mark.parametrize("robot", ["steered", "three_wheeler"])
def test_base_link_is_at_the_middle_of_the_driven_axle(robots: Any, robot: str) -> None:
    assembly = robots(robot)
    rear = [assembly.poses[f"rear_{side}_link"].t for side in ("left", "right")]
    assert tuple(sum(p[k] for p in rear) / 2 for k in range(3)) == pytest.approx((0.0, 0.0, 0.0), abs=1e-12)


def test_steered_values_leave_the_kingpins_where_they_are(robots: Any) -> None:
    """Wheel base and track are those of the axes, whatever the wheels' angle is now."""
    straight = robots("steered")
    placements = {n: replace(p, settings={"steer": 0.4}) if n.startswith("knuckle") else p
                  for n, p in straight.layout.placements.items()}
    from chassis_describe import assemble

    turned = assemble(replace(straight.layout, placements=placements))
    assert turned.drive is not None
    assert turned.wheels[2].centre != straight.wheels[2].centre
    assert (turned.drive.wheel_base, turned.drive.steer_track) == pytest.approx((0.25, 0.18))


def test_the_urdf_of_a_drive_that_steers_has_limits(robots: Any) -> None:
    from chassis_describe.targets.description.plain_urdf import TARGET

    (file,) = (a for a in TARGET.artifacts(robots("steered")) if a.path.endswith(".urdf"))
    joints = {j.get("name"): j for j in etree.fromstring(file.data).findall("joint")}
    assert joints["knuckle_left_steer_joint"].get("type") == "revolute"
    assert joints["front_left_joint"].find("parent").get("link") == "knuckle_left_steer_link"
