"""The drive controller's name, plugin, private topics and parameters, by kind of drive and distro.

Parameter names: ros2_controllers, branch of the distro (Lyrical: master),
diff_drive_controller/src/diff_drive_controller_parameter.yaml, mecanum_drive_controller/src/mecanum_drive_controller.yaml,
omni_wheel_drive_controller/src/omni_wheel_drive_controller_parameters.yaml,
steering_controllers_library/src/steering_controllers_library.yaml with
{ackermann,tricycle}_steering_controller/src/{ackermann,tricycle}_steering_controller.yaml.
"""
from __future__ import annotations

import math
from typing import NamedTuple

from chassis_describe.assembly.model import Assembly, DriveFacet
from chassis_describe.errors import never
from chassis_describe.facts.turning import smallest_turn
from chassis_describe.targets.description.ros2_control import driven_wheels
from chassis_describe.targets.stack import distros
from chassis_describe.targets.stack.ros_yaml import Block
from chassis_describe.targets.stack.topics import COMMAND_TOPIC, ODOMETRY_TOPIC, odom_frame, transform_topic
from chassis_describe.tolerances import SAME_LENGTH

#: Diagonals that ros2_controllers gives as a good place to start (omni_wheel_drive_controller's parameter file): x, y, z,
#: roll, pitch, yaw. The defaults are zeros, or of the steering controllers the numbers of the diagonal's places.
_COVARIANCE = (0.001, 0.001, 0.001, 0.001, 0.001, 0.01)


class Speeds(NamedTuple):
    """What the motors can do without load, at the wheels' rim: m/s and rad/s. No promise that the robot reaches it."""

    linear: float
    angular: float


def controller_name(drive: DriveFacet) -> str:
    """The drive controller's node name."""
    if drive.kind == "differential" or drive.kind == "skid_steer":
        return "diff_drive_controller"
    if drive.kind == "mecanum":
        return "mecanum_drive_controller"
    if drive.kind == "omni":
        return "omni_wheel_drive_controller"
    if drive.kind == "ackermann":
        return "ackermann_steering_controller" if len(drive.steered) == 2 else "tricycle_steering_controller"
    raise never(drive.kind)


def controller_type(drive: DriveFacet) -> str:
    """Its plugin: package and class are called alike."""
    name = controller_name(drive)
    return f"{name}/{''.join(word.capitalize() for word in name.split('_'))}"


def remappings(assembly: Assembly) -> tuple[str, ...]:
    """Rules that bring the drive controller's private topics to common names, ``~/own:=common``."""
    drive, distro = assembly.drive, assembly.layout.ros.distro
    assert drive is not None
    fused = assembly.layout.ros.odometry == "ekf"
    own = () if fused or transform_topic(assembly) == "/tf" else ("/tf:=tf",)
    if drive.kind == "differential" or drive.kind == "skid_steer":
        return (f"~/{distros.text('diff_drive_command', distro)}:={COMMAND_TOPIC}", f"~/odom:={ODOMETRY_TOPIC}", *own)
    if drive.kind == "omni":
        return (f"~/cmd_vel:={COMMAND_TOPIC}", f"~/odom:={ODOMETRY_TOPIC}", *own)
    if drive.kind == "mecanum" or drive.kind == "ackermann":
        command = distros.text("mecanum_command" if drive.kind == "mecanum" else "steering_command", distro)
        rules = (f"~/{command}:={COMMAND_TOPIC}", f"~/odometry:={ODOMETRY_TOPIC}")
        # These publish their transform under their own name, in every branch.
        return rules if fused else (*rules, f"~/tf_odometry:={transform_topic(assembly)}")
    raise never(drive.kind)


def speeds(assembly: Assembly) -> Speeds | None:
    """The bounds that the motors set; None where a driven wheel's motor isn't known.

    Forward: no-load speed times radius, of the slowest wheel (an omni drive reaches that in every direction). Turning: the
    same rim speed at :func:`lever`.
    """
    drive = assembly.drive
    wheels = driven_wheels(assembly)
    if drive is None or any(w.motor is None for w in wheels):
        return None
    rim = min(w.motor.speed * w.radius for w in wheels if w.motor is not None)
    return Speeds(rim, rim / lever(drive))


def lever(drive: DriveFacet) -> float:
    """Rim speed over turning speed on the spot, metres: half the separation; of mecanum the controller's lx + ly; of omni the
    wheels' distance from the middle; of ackermann that of the outer wheel on the smallest circle."""
    if drive.kind == "differential" or drive.kind == "skid_steer":
        return drive.wheel_separation / 2
    if drive.kind == "mecanum":
        return drive.wheel_separation / 2 + drive.wheel_base / 2
    if drive.kind == "omni":
        return drive.circle_radius
    if drive.kind == "ackermann":
        return smallest_turn(drive) + drive.wheel_separation / 2
    raise never(drive.kind)


def drive_parameters(node: Block, assembly: Assembly, drive: DriveFacet) -> None:
    """The controller's parameters."""
    if drive.kind == "differential" or drive.kind == "skid_steer":
        _diff_drive(node, assembly, drive)
    elif drive.kind == "mecanum":
        _mecanum(node, assembly, drive)
    elif drive.kind == "omni":
        _omni(node, assembly, drive)
    elif drive.kind == "ackermann":
        _steering(node, assembly, drive)
    else:
        raise never(drive.kind)


def _diff_drive(node: Block, assembly: Assembly, drive: DriveFacet) -> None:
    distro = assembly.layout.ros.distro
    node.note("front to rear")
    node.put("left_wheel_names", tuple(w.joint for w in drive.left))
    node.put("right_wheel_names", tuple(w.joint for w in drive.right))
    node.put("wheel_separation", _rounded(drive.wheel_separation), "m, between the wheels' middle planes")
    if distros.has("wheels_per_side", distro):
        node.put("wheels_per_side", len(drive.left))
    node.put("wheel_radius", _rounded(drive.wheel_radius), "m")
    if drive.kind == "skid_steer":
        node.note("Skid steering slips sideways: the robot turns as if its wheels stood further apart. Calibrate: turn",
                  "on the spot by a known angle and divide the angle that odometry reports by it.")
        node.put("wheel_separation_multiplier", 1.0)
    for side, wheels in (("left", drive.left), ("right", drive.right)):
        radius = sum(w.radius for w in wheels) / len(wheels)
        if abs(radius - drive.wheel_radius) > SAME_LENGTH:
            node.put(f"{side}_wheel_radius_multiplier", round(radius / drive.wheel_radius, 9), "unlike wheels")
    _frames(node, assembly, True)
    _covariances(node, drive)
    if distros.has("use_stamped_vel", distro):
        node.put("use_stamped_vel", False, "Nav2 publishes Twist here")
    top = speeds(assembly)
    if top is None:
        node.note("No velocity limits: the layout knows no motor for some driven wheel.")
        return
    node.note("Upper bounds from the motors' no-load speed; put your own, lower ones in your own file.")
    _limits(node.block("linear").block("x"), top.linear, distro)
    _limits(node.block("angular").block("z"), top.angular, distro)


def _mecanum(node: Block, assembly: Assembly, drive: DriveFacet) -> None:
    distro = assembly.layout.ros.distro
    for name, wheel in (("front_left", drive.left[0]), ("front_right", drive.right[0]),
                        ("rear_right", drive.right[1]), ("rear_left", drive.left[1])):
        node.put(f"{name}_wheel_command_joint_name", wheel.joint)
    kinematics = node.block("kinematics")
    kinematics.put("wheels_radius", _rounded(drive.wheel_radius), "m")
    kinematics.put("sum_of_robot_center_projection_on_X_Y_axis", _rounded(lever(drive)),
                   "m, half the wheel base plus half the separation")
    x, y = _centre(assembly)
    offset = kinematics.block("base_frame_offset")
    offset.put("x", x).put("y", y).put("theta", 0.0)
    _frames(node, assembly, distros.has("mecanum_tf_prefix", distro))
    _covariances(node, drive)
    if distros.has("use_stamped_vel", distro):
        node.put("use_stamped_vel", False, "Nav2 publishes Twist here")
    node.note("The controller's default 0.0 drops a command after one cycle; 0.5 s is diff_drive_controller's. "
              "Yours to decide.")
    node.put("reference_timeout", 0.5)
    top = speeds(assembly)
    if top is None or not distros.has("mecanum_limits", distro):
        node.note("No velocity limits: " + ("the controller has none in this distro." if top else
                                            "the layout knows no motor for some driven wheel."))
        return
    node.note("Upper bounds from the motors' no-load speed; put your own, lower ones in your own file.")
    linear = node.block("linear")
    _limits(linear.block("x"), top.linear, distro)
    _limits(linear.block("y"), top.linear, distro)
    _limits(node.block("angular").block("z"), top.angular, distro)


def _omni(node: Block, assembly: Assembly, drive: DriveFacet) -> None:
    node.note("counter-clockwise; positive speeds of all wheels turn the robot clockwise, as the joints' axes point outward")
    node.put("wheel_names", tuple(w.joint for w in drive.around))
    node.put("wheel_offset", _rounded(drive.first_angle), "rad, direction of the first wheel from +x")
    node.put("robot_radius", _rounded(drive.circle_radius), "m, from the middle to the wheels' middle planes")
    node.put("wheel_radius", _rounded(drive.wheel_radius), "m")
    _frames(node, assembly, True)
    node.note("The defaults are zeros, which no filter can weigh. Yours to measure.")
    pose, twist = variances(drive)
    node.block("diagonal_covariance").put("pose", pose).put("twist", twist)
    node.note("No velocity limits: the controller has none.")


def _steering(node: Block, assembly: Assembly, drive: DriveFacet) -> None:
    distro = assembly.layout.ros.distro
    node.note("right, then left; positive values steer to the left")
    traction = tuple(w.joint for w in (*drive.right, *drive.left))
    steering = tuple(s.moving.joint for s in drive.steered[::-1])
    base, radius = _rounded(drive.wheel_base), _rounded(drive.wheel_radius)
    if distros.has("steering_by_axle", distro):
        _by_axle(node, assembly, drive, traction, steering)
    else:
        node.put("traction_joints_names", traction).put("steering_joints_names", steering)
        node.put("wheelbase", base, "m, from the driven axle to the steering axes")
        node.put("traction_track_width", _rounded(drive.wheel_separation), "m, between the driven wheels' middle planes")
        if len(steering) == 2:
            node.put("steering_track_width", _rounded(drive.steer_track), "m, between the steering axes")
        node.put("traction_wheels_radius", radius, "m")
    _frames(node, assembly, False)
    if distros.has("use_stamped_vel", distro):
        node.put("use_stamped_vel", False, "Nav2 publishes Twist here")
    node.note("The defaults are 0, 7, 14, 21, 28, 35: no covariances. Yours to measure.")
    pose, twist = variances(drive)
    node.put("pose_covariance_diagonal", pose).put("twist_covariance_diagonal", twist)
    node.note("The controller's default is 1.0; 0.5 s is diff_drive_controller's. Yours to decide.")
    node.put("reference_timeout", 0.5)
    node.note("No velocity limits: the controller has none.")


def _by_axle(node: Block, assembly: Assembly, drive: DriveFacet, traction: tuple[str, ...], steering: tuple[str, ...]) -> None:
    """Names and sizes as Humble has them, by front and rear axle."""
    ahead = sum(s.point[0] for s in drive.steered) > 0
    axles = (steering, traction) if ahead else (traction, steering)
    carried = {w.placement: w.radius for w in assembly.wheels}
    loose = [carried[name] for s in drive.steered for name in s.wheels] or [drive.wheel_radius]
    radii, tracks = [sum(loose) / len(loose), drive.wheel_radius], [drive.steer_track, drive.wheel_separation]
    if not ahead:
        radii, tracks = radii[::-1], tracks[::-1]
    node.put("front_steering", ahead)
    node.put("front_wheels_names", axles[0]).put("rear_wheels_names", axles[1])
    node.put("wheelbase", _rounded(drive.wheel_base), "m, from the driven axle to the steering axes")
    if len(steering) == 2:
        node.note("this distro's controller takes the driven axle's track for both axles")
        node.put("front_wheel_track", _rounded(tracks[0]), "m").put("rear_wheel_track", _rounded(tracks[1]), "m")
    else:
        node.put("wheel_track", _rounded(drive.wheel_separation), "m, between the driven wheels' middle planes")
    node.put("front_wheels_radius", _rounded(radii[0]), "m").put("rear_wheels_radius", _rounded(radii[1]), "m")


def _frames(node: Block, assembly: Assembly, prefixes: bool) -> None:
    fused, distro = assembly.layout.ros.odometry == "ekf", assembly.layout.ros.distro
    node.put("odom_frame_id", odom_frame(assembly))
    node.put("base_frame_id", assembly.root, "the tree's root: a frame has one parent")
    node.put("enable_odom_tf", not fused,
             "robot_localization publishes this transform" if fused else "and nobody else publishes this transform")
    if prefixes:
        told = ", deprecated here with a warning" if distros.has("tf_prefix_enable_deprecated", distro) else ""
        node.put("tf_frame_prefix_enable", False, f"else the node's namespace goes before both frames{told}")


#: Variances to begin with (m²/s², rad²/s²), of wheels that slip a little: tried, with an imu of 2.5e-5 rad²/s² the fused
#: heading of a robot whose track was 8 to 10 % wider than told came out right, which zeros did not give (ours; 1e6 stands
#: for "not measured", 1e-6 for a drive that can't move to its side).
_TWIST_VARIANCE = (0.001, 1e-6, 1e6, 1e6, 1e6, 0.03)
_POSE_VARIANCE = (0.001, 0.001, 1e6, 1e6, 1e6, 0.03)


def variances(drive: DriveFacet) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Diagonals of the covariances of pose and twist that a drive's controller is told to publish."""
    if drive.kind == "differential" or drive.kind == "skid_steer":
        return _POSE_VARIANCE, _TWIST_VARIANCE
    if drive.kind == "mecanum":
        along, _, *rest = _TWIST_VARIANCE
        return _POSE_VARIANCE, (along, along, *rest)
    if drive.kind == "omni" or drive.kind == "ackermann":
        return _COVARIANCE, _COVARIANCE
    raise never(drive.kind)


def _covariances(node: Block, drive: DriveFacet) -> None:
    pose, twist = variances(drive)
    node.note("placeholders to begin with, yours to tune: x y z, roll pitch yaw. The defaults make a filter trust the wheels",
              "alone, or not at all.")
    node.put("pose_covariance_diagonal", pose).put("twist_covariance_diagonal", twist)


def _limits(axis: Block, top: float, distro: str) -> None:
    if distros.has("velocity_limit_switch", distro):
        axis.put("has_velocity_limits", True)
    axis.put("max_velocity", _below(top))
    axis.put("min_velocity", -_below(top))


def _centre(assembly: Assembly) -> tuple[float, float]:
    """Middle of the driven wheels in the root frame: 0, 0 unless the robot rests tilted. Metres."""
    wheels = driven_wheels(assembly)
    middle = [sum(w.centre[k] for w in wheels) / len(wheels) for k in range(3)]
    x, y, _ = assembly.poses[assembly.root].inverse().point(middle)
    return _rounded(x), _rounded(y)


def _rounded(length: float) -> float:
    """To a nanometre: what is left of rounded sums doesn't show."""
    return round(length, 9) + 0.0


def _below(speed: float) -> float:
    """Rounded down to 1e-6: a bound stays one."""
    return math.floor(speed * 1e6 + 1e-3) / 1e6
