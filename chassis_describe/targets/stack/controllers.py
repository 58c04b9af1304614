"""config/controllers.yaml: controller_manager, the drive controller, those of other motors, the joint state broadcaster.

Parameter names: ros2_controllers, branch of the distro (Lyrical: master),
joint_state_broadcaster/src/joint_state_broadcaster_parameters.yaml; those of the drive are in
:mod:`chassis_describe.targets.stack.drive_controllers`, what differs in :mod:`chassis_describe.targets.stack.distros`.
"""
from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly, DriveFacet, MovingFacet
from chassis_describe.facts.sensor_topics import absolute
from chassis_describe.facts.turning import smallest_turn
from chassis_describe.targets.description.joint_control import commanded, controller_of, driven_placements, free_joints
from chassis_describe.targets.description.ros2_control import (
    PLACEHOLDER_PLUGIN,
    check_drive,
    is_controlled,
    lacks_controller,
    passive_wheels,
)
from chassis_describe.targets.names import Parameters
from chassis_describe.targets.stack import distros
from chassis_describe.targets.stack.described_hardware import described_hardware
from chassis_describe.targets.stack.drive_controllers import (
    controller_name,
    controller_type,
    drive_parameters,
    remappings,
    speeds,
)
from chassis_describe.targets.stack.headers import header
from chassis_describe.targets.stack.ros_yaml import Block, document
from chassis_describe.targets.stack.topics import (
    COMMAND_TOPIC,
    MEASURED,
    ODOMETRY_TOPIC,
    in_namespace,
    node_block,
    odom_frame,
    robot_block,
)
from chassis_describe.targets.target import Target

PATH = "config/controllers.yaml"
BROADCASTER = "joint_state_broadcaster"
_UPDATE_RATE = 100  # Hz, the default; ros2_control {branch}:controller_manager/src/controller_manager_parameters.yaml


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
    own = robot_block(doc, assembly).note("")
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
    own.note("")
    if passive_wheels(assembly):
        node_block(doc, assembly, BROADCASTER).note("nobody measures these; they are published as 0").put(
            "extra_joints", tuple(w.joint for w in passive_wheels(assembly)))
    if drive is not None:
        node = node_block(doc, assembly, controller_name(drive))
        drive_parameters(node, assembly, drive)
    for placement, moving in driven.items():
        own.note("")
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
_STEERED = """\
The smallest circle of the driven axle's middle has a radius of {radius:.3f} m. Asked to turn without going forward, the
wheels swing to their ends and nothing drives. Steering moves by itself when commanded: keep fingers out.
"""
_NO_CONTROL = """\
## Driving

{why} Whoever drives takes `{command}`, publishes `{odometry}` and the joint states of the
wheels, {transform}.
"""


def _page(assembly: Assembly, paths: Collection[str]) -> Iterator[str]:
    if PATH in paths:
        yield from _starting(assembly)
    if assembly.drive is not None and not is_controlled(assembly):
        why = "The layout asks for no ros2_control."
        if assembly.layout.ros.control == "ros2_control" and lacks_controller(assembly):
            why = "omni_wheel_drive_controller is not in this distro (Jazzy has it), so no controller is written.\n"
        fused, transform = assembly.layout.ros.odometry == "ekf", f"the transform `{odom_frame(assembly)}` to `{assembly.root}`"
        yield _NO_CONTROL.format(why=why, command=COMMAND_TOPIC, odometry=ODOMETRY_TOPIC, transform=(
            f"but not {transform}: that is robot_localization's" if fused else f"and {transform}"))
    yield from described_hardware(assembly)


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
    manager = f"-c {absolute(assembly, 'controller_manager')} " if assembly.layout.ros.namespace else ""
    yield _CONTROL
    yield (" \\\n".join([f"    ros2 run controller_manager ros2_control_node --ros-args{in_namespace(assembly)}",
                         "      --params-file SHARE/config/controllers.yaml", *(f"      -r {rule}" for rule in rules)])
           + f"\n    ros2 run controller_manager spawner {' '.join((BROADCASTER, *names))} \\\n"
             f"      {manager}--param-file SHARE/config/controllers.yaml\n")
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
    if drive is not None and drive.kind == "ackermann":
        yield _STEERED.format(radius=smallest_turn(drive))


def _warns(assembly: Assembly) -> Iterator[str]:
    if is_controlled(assembly) and assembly.layout.ros.hardware is None:
        yield (f"no hardware plugin is named: the description holds {PLACEHOLDER_PLUGIN}, with which the controller manager "
               "seems to wait for robot_description; write `ros: {hardware: your_package/YourPlugin}`, or use the mock hardware "
               "of the xacro")


TARGET = Target(
    artifacts=artifacts, page=_page, warns=_warns,
    names=Parameters(frames=("odom_frame_id", "base_frame_id"),
                     joints=("*wheel_names", "*_joints_names", "*_wheels_names", "extra_joints", "joints",
                             "*_command_joint_name", "*_state_joint_name"),
                     odometry=("enable_odom_tf",)),
    takers={PATH: "the controller manager and its spawner"})
