"""docs/bringup.md: which file goes where in whose stack, for people; what was not tried is said."""
from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.targets.description.ros2_control import PLACEHOLDER_PLUGIN
from chassis_describe.targets.package import bringup_words as words
from chassis_describe.targets.package.launch_files import CAUTIONS
from chassis_describe.targets.stack import distros
from chassis_describe.targets.stack.controllers import BROADCASTER, controller_name, remappings, speeds
from chassis_describe.targets.stack.kinds_of_sensor import is_cloud, is_scanner
from chassis_describe.targets.stack.laser_filter import node_name
from chassis_describe.targets.stack.sectors import blocked_sectors
from chassis_describe.targets.stack.topics import COMMAND_TOPIC, MAP_FRAME, filtered, odom_frame, odometry_topic, sensor_topics

PATH = "docs/bringup.md"
_G = 9.81  # m/s², to the digits that an accelerometer on a bench is read to


def artifacts(assembly: Assembly, others: Iterable[Artifact]) -> Iterator[Artifact]:
    """The page. ``others``: the files of the package; only what is there is spoken of."""
    paths = {file.path for file in others}
    names = {
        "robot": assembly.robot, "distro": assembly.layout.ros.distro, "root": assembly.root,
        "odom": odom_frame(assembly), "map": MAP_FRAME, "command": COMMAND_TOPIC, "odometry": odometry_topic(assembly),
        "plugin": PLACEHOLDER_PLUGIN, "broadcaster": BROADCASTER,
    }
    pieces = [text.format(**names) for text in _pieces(assembly, paths)]
    pieces.append("## Cautions\n\n" + "".join(f"- {caution}\n" for caution in (*CAUTIONS, *words.CAUTIONS)))
    yield Artifact(path=PATH, data="\n".join(pieces).encode("ascii", "replace"))


def _pieces(assembly: Assembly, paths: set[str]) -> Iterator[str]:
    yield words.HEAD
    listed = [(file.format(robot=assembly.robot), taker) for file, taker in words.FILES]
    rows = [f"| `{file}` | {taker} |\n" for file, taker in listed if file in paths]
    if rows:
        yield "| file | goes to |\n|---|---|\n" + "".join(rows)
    yield words.DESCRIPTION
    if f"urdf/{assembly.robot}_macro.xacro" in paths:
        yield words.XACRO
    if "config/controllers.yaml" in paths:
        yield from _control(assembly)
    elif assembly.drive is not None:
        yield words.NO_CONTROL
    if assembly.sensors:
        yield from _sensors(assembly)
    if "config/laser_filter.yaml" in paths:
        yield words.FILTER + "\n" + "\n".join(_filter_commands(assembly))
    if "config/localization.yaml" in paths:
        yield words.LOCALIZATION
        if assembly.layout.ros.odometry == "ekf":
            yield words.FUSED
        if any(is_scanner(f) for f in assembly.sensors):
            yield words.ONE_MAP
    if "config/navigation.yaml" in paths:
        yield words.NAVIGATION
        if any(is_cloud(f) for f in assembly.sensors):
            yield words.FLOOR_NOISE


def _control(assembly: Assembly) -> Iterator[str]:
    drive, distro = assembly.drive, assembly.layout.ros.distro
    assert drive is not None
    name = controller_name(drive)
    rules = []
    if distros.text("description_topic", distro).startswith("~"):
        rules.append("/controller_manager/robot_description:=/robot_description")
    if not distros.has("node_options_args", distro):
        # From the robot's namespace upward: private names and relative ones both begin at the root here.
        for rule in remappings(assembly):
            own, _, common = rule.partition(":=")
            rules.append(f"{own.replace('~', f'/{name}')}:=/{common.lstrip('/')}")
    yield words.CONTROL
    yield (" \\\n".join(["    ros2 run controller_manager ros2_control_node --ros-args",
                         "      --params-file SHARE/config/controllers.yaml", *(f"      -r {rule}" for rule in rules)])
           + f"\n    ros2 run controller_manager spawner {BROADCASTER} {name} \\\n"
             "      --param-file SHARE/config/controllers.yaml\n")
    yield words.COMMANDS.replace("{type}", distros.text("cmd_vel_type", distro))
    if assembly.layout.ros.hardware is None:
        yield words.PLACEHOLDER
    yield words.MOCK
    top = speeds(assembly)
    if top is not None:
        yield (f"Without load the motors would reach {top.linear:.3f} m/s and {top.angular:.2f} rad/s at the wheels. "
               "That is a bound,\nnot a speed to drive at.\n")
    if drive.kind == "skid_steer":
        yield words.SKID_STEER


def _sensors(assembly: Assembly) -> Iterator[str]:
    topics = sensor_topics(assembly)
    rows = [words.SENSORS]
    for facet in assembly.sensors:
        frame = f"below `{facet.frame}`, by its driver" if facet.sensor.driver_tf else f"`{facet.message_frame}`"
        rows.append(f"| {facet.placement} | {facet.sensor.name} | {facet.sensor.kind.replace('_', ' ')} | {frame} | "
                    f"`{topics[facet.frame]}` |\n")
    yield "".join(rows)
    for facet in assembly.sensors:
        if facet.sensor.kind == "lidar":
            yield _scan_check(assembly, facet)
        elif facet.sensor.kind == "imu":
            yield _imu_check(assembly, facet)


def _scan_check(assembly: Assembly, facet: SensorFacet) -> str:
    """Where an object straight ahead must appear in the scan."""
    r = _in_root(assembly, facet)
    ahead = round(math.degrees(math.atan2(r[1], r[0])), 1)
    if facet.sensor.angles == "positive":
        ahead %= 360.0
    text = f"`{facet.placement}`: an object straight ahead appears at {ahead + 0.0:g} degrees of the scan;\n"
    return text + (words.HANGING if r[8] < 0 else words.UPRIGHT)


def _imu_check(assembly: Assembly, facet: SensorFacet) -> str:
    """What an accelerometer shows at rest: +g along the world's up (REP-145), in the axes printed on the board."""
    r = _in_root(assembly, facet)
    shown = ", ".join(f"{name} {round(_G * v, 2) + 0.0:.2f}" for name, v in zip(("ax", "ay", "az"), r[6:9]))
    text = (f"`{facet.placement}`: standing still on level ground, `linear_acceleration` in the board's own axes\n"
            f"reads about {shown} m/s2 (REP-145).\n")
    return text + (words.FLIPPED_IMU if r[8] < -0.5 else "")


def _in_root(assembly: Assembly, facet: SensorFacet) -> tuple[float, ...]:
    return (assembly.poses[assembly.root].inverse() @ facet.pose).r


def _filter_commands(assembly: Assembly) -> Iterator[str]:
    topics, blocked = sensor_topics(assembly), blocked_sectors(assembly)
    for facet in assembly.sensors:
        if blocked.get(facet.frame):
            topic = topics[facet.frame]
            yield ("    ros2 run laser_filters scan_to_scan_filter_chain --ros-args \\\n"
                   f"      -r __node:={node_name(assembly, facet)} \\\n"
                   f"      -r scan:={topic} -r scan_filtered:={filtered(topic)} \\\n"
                   "      --params-file SHARE/config/laser_filter.yaml\n")
