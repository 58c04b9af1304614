"""config/controllers.yaml: controller_manager, the drive controller, those of other motors, the joint state broadcaster.

Parameter names: ros2_controllers, branch of the distro (Lyrical: master),
diff_drive_controller/src/diff_drive_controller_parameter.yaml,
mecanum_drive_controller/src/mecanum_drive_controller.yaml,
joint_state_broadcaster/src/joint_state_broadcaster_parameters.yaml; what differs is in
:mod:`chassis_describe.targets.stack.distros`.
"""
from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator
from typing import NamedTuple

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly, DriveFacet, MovingFacet
from chassis_describe.targets.description.joint_control import commanded, controller_of, driven_placements, free_joints
from chassis_describe.targets.description.ros2_control import (
    PLACEHOLDER_PLUGIN,
    check_drive,
    driven_wheels,
    is_controlled,
    passive_wheels,
)
from chassis_describe.targets.names import Parameters
from chassis_describe.targets.stack import distros
from chassis_describe.targets.stack.headers import header
from chassis_describe.targets.stack.ros_yaml import Block, document
from chassis_describe.targets.stack.topics import (
    COMMAND_TOPIC,
    MEASURED,
    ODOMETRY_TOPIC,
    absolute,
    node_block,
    odom_frame,
    odometry_topic,
    transform_topic,
)
from chassis_describe.targets.target import Target
from chassis_describe.tolerances import SAME_LENGTH

PATH = "config/controllers.yaml"
BROADCASTER = "joint_state_broadcaster"
_UPDATE_RATE = 100  # Hz, the default; ros2_control {branch}:controller_manager/src/controller_manager_parameters.yaml


class Speeds(NamedTuple):
    """What the motors can do without load, at the wheels' rim: m/s and rad/s. No promise that the robot reaches it."""

    linear: float
    angular: float


def artifacts(assembly: Assembly) -> Iterable[Artifact]:
    """The file, or nothing where nothing is driven, or with ``control: none``."""
    driven = driven_placements(assembly)
    drive = assembly.drive if is_controlled(assembly) else None
    if drive is None and not driven:
        return
    distro = assembly.layout.ros.distro
    doc = header(assembly, PATH, "ros2_control", [
        *([f"Velocity commands are {distros.text('cmd_vel_type', distro)}. Yours to decide: speed limits below what the",
           "motors can do, accelerations, covariances, timeouts."] if drive is not None else
          ["Yours to decide: tolerances of trajectories, timeouts."])])
    doc.note("")
    manager = node_block(doc, assembly, "controller_manager")
    manager.put("update_rate", _UPDATE_RATE, "the default, Hz")
    enforced = distros.value("enforce_command_limits", distro)
    if enforced is False:
        manager.note("without it the limits of the joints in the URDF, min and max of the interfaces too, are ignored here")
        manager.put("enforce_command_limits", True)
    elif enforced is None:
        manager.note("the limits of the joints in the URDF, min and max of the interfaces too, are ignored in this distro")
    else:
        manager.note("enforce_command_limits is on by default here: the limits of the wheel joints in the URDF, which "
                     "are the motors', really clamp")
    manager.block(BROADCASTER).put("type", "joint_state_broadcaster/JointStateBroadcaster")
    if drive is not None:
        check_drive(assembly)
        _entry(manager.block(controller_name(drive)), assembly, drive)
    for placement in driven:
        manager.block(controller_of(placement)).put("type", "joint_trajectory_controller/JointTrajectoryController")
    doc.note("")
    if passive_wheels(assembly):
        node_block(doc, assembly, BROADCASTER).note("nobody measures these; they are published as 0").put(
            "extra_joints", tuple(w.joint for w in passive_wheels(assembly)))
    if drive is not None:
        node = node_block(doc, assembly, controller_name(drive))
        (_mecanum if drive.kind == "mecanum" else _diff_drive)(node, assembly, drive)
    for placement, moving in driven.items():
        doc.note("")
        _trajectory(node_block(doc, assembly, controller_of(placement)), assembly, moving)
    yield Artifact(path=PATH, data=document(doc).encode("ascii"))


def _entry(entry: Block, assembly: Assembly, drive: DriveFacet) -> None:
    """The drive controller as the manager loads it."""
    distro, name = assembly.layout.ros.distro, controller_name(drive)
    entry.put("type", controller_type(drive))
    if distros.has("node_options_args", distro):
        entry.note("brings the controller's own topics to the names that the rest of the stack uses")
        entry.put("node_options_args", tuple(arg for rule in remappings(assembly) for arg in ("-r", rule)))
    else:
        entry.note("to be remapped where the controller_manager starts (docs/bringup.md):",
                   *(f"  {absolute(assembly, name)}/{rule.replace('~/', '')}" for rule in remappings(assembly)))


def _trajectory(node: Block, assembly: Assembly, moving: tuple[MovingFacet, ...]) -> None:
    """What a placement's own motors move. Parameters: ros2_controllers {branch}:joint_trajectory_controller/src/
    joint_trajectory_controller_parameters.yaml."""
    distro = assembly.layout.ros.distro
    if any(m.adjustment.follows for m in moving):
        node.note("what follows another joint takes no command of its own")
    node.put("joints", commanded(moving))
    node.put("command_interfaces", ("position",))
    node.put("state_interfaces", ("position",))
    if distros.has("trajectory_end_velocity", distro):
        node.put("allow_nonzero_velocity_at_trajectory_end", False, "the default of later distros")
    endless = [m.joint for m in moving if m.adjustment.range is None and m.adjustment.follows is None]
    if distros.has("angle_wraparound", distro):
        for joint in endless:
            node.block("gains").block(joint).put("angle_wraparound", True, "it turns without end")


def controller_name(drive: DriveFacet) -> str:
    """The drive controller's node name."""
    return "mecanum_drive_controller" if drive.kind == "mecanum" else "diff_drive_controller"


def controller_type(drive: DriveFacet) -> str:
    """Its plugin."""
    return ("mecanum_drive_controller/MecanumDriveController" if drive.kind == "mecanum"
            else "diff_drive_controller/DiffDriveController")


def remappings(assembly: Assembly) -> tuple[str, ...]:
    """Rules that bring the drive controller's private topics to common names, ``~/own:=common``."""
    drive, distro = assembly.drive, assembly.layout.ros.distro
    assert drive is not None
    fused = assembly.layout.ros.odometry == "ekf"
    if drive.kind == "mecanum":
        rules = [f"~/{distros.text('mecanum_command', distro)}:={COMMAND_TOPIC}", f"~/odometry:={ODOMETRY_TOPIC}"]
        # This controller publishes its transform under its own name, in every branch.
        return tuple(rules if fused else [*rules, f"~/tf_odometry:={transform_topic(assembly)}"])
    own = () if fused or transform_topic(assembly) == "/tf" else ("/tf:=tf",)
    return (f"~/{distros.text('diff_drive_command', distro)}:={COMMAND_TOPIC}", f"~/odom:={ODOMETRY_TOPIC}", *own)


def speeds(assembly: Assembly) -> Speeds | None:
    """The bounds that the motors set; None where a driven wheel's motor isn't known.

    Forward: no-load speed times radius, of the slowest wheel. Turning on the spot: the same rim speed at the wheel's
    lever arm (half the separation; for mecanum half the separation plus half the wheel base).
    """
    drive = assembly.drive
    wheels = driven_wheels(assembly)
    if drive is None or any(w.motor is None for w in wheels):
        return None
    rim = min(w.motor.speed * w.radius for w in wheels if w.motor is not None)
    return Speeds(rim, rim / lever(drive))


def lever(drive: DriveFacet) -> float:
    """Rim speed over turning speed on the spot, metres (mecanum: the controller's lx + ly)."""
    along = drive.wheel_base / 2 if drive.kind == "mecanum" else 0.0
    return drive.wheel_separation / 2 + along


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


def _covariances(node: Block, drive: DriveFacet) -> None:
    along, _, *rest = _TWIST_VARIANCE
    node.note("placeholders to begin with, yours to tune: x y z, roll pitch yaw. The defaults make a filter trust the wheels",
              "alone, or not at all.")
    node.put("pose_covariance_diagonal", _POSE_VARIANCE)
    node.put("twist_covariance_diagonal", (along, along, *rest) if drive.kind == "mecanum" else _TWIST_VARIANCE)


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


_CONTROL = """\
## ros2_control

The `<ros2_control>` block is in the description. Start, beside robot_state_publisher (`joint_states:=false` after
`show.launch.py` starts that one, and RViz, without a joint_state_publisher):
"""
_COMMANDS = """\
It takes {type} on `{command}`.
"""
_TRAJECTORY = """\
`{controller}` takes trajectories of {joints}
on `{controller}/joint_trajectory` and by the action `{controller}/follow_joint_trajectory`. Keep hands out of what moves.
"""
_STATES = """\
Joint states come from {broadcaster} alone: start no joint_state_publisher beside it.
"""
_FREE_STATES = """\
{broadcaster} publishes on `{measured}`; joint_state_publisher, below, passes that on as `joint_states`.
"""
_PLACEHOLDER = """\
**Your hardware plugin is not named yet.** `{plugin}` in the description is a placeholder that
nothing provides: name yours in the layout (`ros: {{hardware: ...}}`).
Until then the controller manager fails, and says misleadingly that it waits for `robot_description`.
"""
_PLACEHOLDER_OF = """\
**No hardware plugin is named yet for {placements}.** Name each in the layout (`ros: {{hardware_of: ...}}`).
"""
_MOCK = """\
Without hardware, expand the xacro with `use_mock_hardware:=true`. In Gazebo the simulator's plugin brings its own
controller_manager: start no other.
"""
_SKID_STEER = """\
Calibrate `wheel_separation_multiplier` on the floor that you drive on.
"""
_NO_CONTROL = """\
## Driving

The layout asks for no ros2_control. Whoever drives takes `{command}`, publishes `{odometry}` and the transform
`{odom}` to `{root}`, and the joint states of the wheels.
"""


def _page(assembly: Assembly, paths: Collection[str]) -> Iterator[str]:
    if PATH in paths:
        yield from _starting(assembly)
    elif assembly.drive is not None:
        yield _NO_CONTROL.format(command=COMMAND_TOPIC, odometry=odometry_topic(assembly), odom=odom_frame(assembly),
                                 root=assembly.root)


def _starting(assembly: Assembly) -> Iterator[str]:
    distro = assembly.layout.ros.distro
    drive, driven = assembly.drive if is_controlled(assembly) else None, driven_placements(assembly)
    names = [*([controller_name(drive)] if drive is not None else []), *map(controller_of, driven)]
    rules = [f"joint_states:={MEASURED}"] if free_joints(assembly) else []
    if distros.text("description_topic", distro).startswith("~"):
        rules.append(f"{absolute(assembly, 'controller_manager')}/robot_description:="
                     f"{absolute(assembly, 'robot_description')}")
    if drive is not None and not distros.has("node_options_args", distro):
        # From the robot's namespace upward: private names and relative ones both begin at the root here.
        for rule in remappings(assembly):
            own, _, common = rule.partition(":=")
            rules.append(f"{own.replace('~', absolute(assembly, names[0]))}:="
                         f"{common if common.startswith('/') else absolute(assembly, common)}")
    yield _CONTROL
    yield (" \\\n".join(["    ros2 run controller_manager ros2_control_node --ros-args",
                         "      --params-file SHARE/config/controllers.yaml", *(f"      -r {rule}" for rule in rules)])
           + f"\n    ros2 run controller_manager spawner {' '.join((BROADCASTER, *names))} \\\n"
             "      --param-file SHARE/config/controllers.yaml\n")
    if drive is not None:
        yield _COMMANDS.format(type=distros.text("cmd_vel_type", distro), command=COMMAND_TOPIC)
    for placement, moving in driven.items():
        yield _TRAJECTORY.format(controller=controller_of(placement),
                                 joints=", ".join(f"`{joint}`" for joint in commanded(moving)))
    yield (_FREE_STATES if free_joints(assembly) else _STATES).format(broadcaster=BROADCASTER, measured=MEASURED)
    if drive is not None and assembly.layout.ros.hardware is None:
        yield _PLACEHOLDER.format(plugin=PLACEHOLDER_PLUGIN)
    unnamed = [placement for placement in driven if placement not in assembly.layout.ros.hardware_of]
    if unnamed:
        yield _PLACEHOLDER_OF.format(placements=", ".join(unnamed))
    yield _MOCK
    top = speeds(assembly)
    if top is not None and drive is not None:
        yield (f"Without load the motors would reach {top.linear:.3f} m/s and {top.angular:.2f} rad/s at the wheels. "
               "That is a bound,\nnot a speed to drive at.\n")
    if drive is not None and drive.kind == "skid_steer":
        yield _SKID_STEER


def _warns(assembly: Assembly) -> Iterator[str]:
    if is_controlled(assembly) and assembly.layout.ros.hardware is None:
        yield (f"no hardware plugin is named: the description holds {PLACEHOLDER_PLUGIN}, with which the controller manager "
               "seems to wait for robot_description; write `ros: {hardware: your_package/YourPlugin}`, or use the mock hardware "
               "of the xacro")


TARGET = Target(
    artifacts=artifacts, page=_page, warns=_warns,
    names=Parameters(frames=("odom_frame_id", "base_frame_id"),
                     joints=("left_wheel_names", "right_wheel_names", "extra_joints", "joints", "*_command_joint_name",
                             "*_state_joint_name"),
                     odometry=("enable_odom_tf",)),
    takers={PATH: "the controller manager and its spawner"})
