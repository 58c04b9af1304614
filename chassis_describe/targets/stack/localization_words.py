"""What docs/bringup.md says of localisation: start commands, lifecycle steps, what each filter input needs."""
from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.facts.kinds_of_sensor import is_scanner
from chassis_describe.facts.slam_lidar import depth_for_scan, free_view, turned_round
from chassis_describe.targets.description.ros2_control import is_controlled
from chassis_describe.targets.stack.drive_controllers import speeds
from chassis_describe.targets.stack.topics import (
    MAP_FRAME,
    ODOMETRY_TOPIC,
    in_namespace,
    odom_frame,
    sensor_topics,
    with_transforms,
)
from chassis_describe.words import listing

_PAGE = """\
## Localisation

`config/localization.yaml` holds the frames `{map}`, `{odom}`, `{root}`, topics and ranges. Give it to the node that you
use, before your own parameters.
"""
_FUSED = """\
robot_localization publishes the transform from odometry, and the fused odometry on `odometry/filtered`; nothing
else may publish that transform. It fuses {fused}:

    ros2 run robot_localization ekf_node --ros-args -r __node:=ekf_filter_node{tf} \\
      --params-file SHARE/config/localization.yaml

Each input needs a covariance that is not 0: with zeros from wheels and imu the fused heading ends half wrong.
"""
_OF_CONTROLLER = "The controller's are in `config/controllers.yaml` as placeholders.\n"
_OF_DRIVER = "Whoever drives sets those of `{odometry}`.\n"
_OF_IMU = """\
Fill in the imu driver's: a gyro's variance is about 2.5e-5 rad2/s2. An imu message with another `frame_id` than the
table's is dropped without a word.
"""
_SCAN = """\
The scan of {lidar}{why} goes to one of the two, never to both:
each publishes `{map}` to `{odom}`. Both are lifecycle nodes and silent until configured and activated.

    ros2 run slam_toolbox async_slam_toolbox_node --ros-args{tf} \\
      --params-file SHARE/config/localization.yaml
    ros2 run nav2_amcl amcl --ros-args{tf} --params-file SHARE/config/localization.yaml
    ros2 lifecycle set {node} configure && ros2 lifecycle set {node} activate

`{node}` is {slam} or {amcl}. slam_toolbox in Humble is no lifecycle node: it starts by itself. AMCL also needs a map,
from a lifecycle node of its own, and a first pose:

    ros2 run nav2_map_server map_server --ros-args{ns} -p yaml_filename:=MAP.yaml
    ros2 lifecycle set {map_server} configure && ros2 lifecycle set {map_server} activate

The pose comes from RViz's "2D Pose Estimate", or from `set_initial_pose: true` and `initial_pose` (x, y, z, yaw) in your
own AMCL parameters. Until then it publishes no transform.
"""


def page(assembly: Assembly, lidar: SensorFacet | None) -> Iterator[str]:
    """The chapter."""
    space, ns = assembly.layout.ros.namespace, in_namespace(assembly)
    tf = with_transforms(assembly)
    names = {"map": MAP_FRAME, "odom": odom_frame(assembly), "root": assembly.root, "ns": ns, "tf": tf}
    yield _PAGE.format(**names)
    if assembly.layout.ros.odometry == "ekf":
        yield _fused(assembly, names)
        yield from _levers(assembly)
    if lidar is not None:
        root = f"/{space}" if space else ""
        yield _SCAN.format(lidar=lidar.placement, why=_why(assembly, lidar), node="NODE",
                           slam=f"`{root}/slam_toolbox`", amcl=f"`{root}/amcl`",
                           map_server=f"{root}/map_server", **names)
    for facet in assembly.sensors:
        if facet.sensor.kind == "gnss":
            fused = assembly.layout.ros.odometry == "ekf"
            rules = [f"gps/fix:={sensor_topics(assembly)[facet.frame]}",
                     *([] if fused else [f"odometry/filtered:={ODOMETRY_TOPIC}"])]
            yield (f"`{facet.placement}`: the antenna is {_where(assembly, facet)} `{assembly.root}`. navsat_transform_node\n"
                   "takes that from the frames:\n\n"
                   f"    ros2 run robot_localization navsat_transform_node --ros-args{tf} \\\n"
                   f"      {' '.join(f'-r {rule}' for rule in rules)} \\\n"
                   "      --params-file SHARE/config/localization.yaml\n\n"
                   "It is silent until it knows a heading too: remap `imu` to messages whose orientation counts from east, or say\n"
                   "`use_odometry_yaw: true` where the odometry's does. Its output, `odometry/gps`, is for a second ekf_node of\n"
                   "yours, one for `map`.\n")


def _fused(assembly: Assembly, names: Mapping[str, str]) -> str:
    """What the filter takes, and what each input needs."""
    wheels, imus = assembly.drive is not None, any(f.sensor.kind == "imu" for f in assembly.sensors)
    inputs = [*(["the wheels' speeds"] if wheels else []), *(["the imu's turning rate"] if imus else [])]
    more = ", nothing else" if wheels else " alone, so it knows no places before you give it an `odom0`" if imus else ""
    own = _OF_CONTROLLER if is_controlled(assembly) else _OF_DRIVER.format(odometry=ODOMETRY_TOPIC) if wheels else ""
    return _FUSED.format(fused=listing(inputs) + more, **names) + own + (_OF_IMU if imus else "")


def _where(assembly: Assembly, facet: SensorFacet) -> str:
    """A sensor's place against the tree's root, ``10 mm ahead of, 40 mm to the right of and 196 mm above``."""
    words = (("ahead of", "behind"), ("to the left of", "to the right of"), ("above", "below"))
    place = (assembly.poses[assembly.root].inverse() @ facet.pose).t
    x, y, z = (f"{abs(v) * 1e3:.0f} mm {pair[v < 0]}" for v, pair in zip(place, words))
    return f"{x}, {y} and {z}"


def _why(assembly: Assembly, chosen: SensorFacet) -> str:
    """Why this sensor, where there is a choice."""
    if not is_scanner(chosen):
        return f", made of its {'depth image' if depth_for_scan(assembly) is not None else 'cloud'},"
    others = [facet for facet in assembly.sensors if is_scanner(facet) and facet is not chosen]
    if not others:
        return ""
    if assembly.layout.ros.slam_lidar is not None:
        return " (`slam_lidar` in the layout)"
    if any(turned_round(assembly, facet) and free_view(assembly, facet) > free_view(assembly, chosen) for facet in others):
        return ", which hangs so that slam_toolbox reads it right (another: `ros: {slam_lidar: NAME}`),"
    return ", which has the widest free view (another: `ros: {slam_lidar: NAME}`),"


def _levers(assembly: Assembly) -> Iterator[str]:
    """How far each imu is from the turning centre, and what its accelerometer shows of that."""
    top = speeds(assembly)
    for facet in assembly.sensors:
        if facet.sensor.kind == "imu":
            lever = math.hypot(*facet.pose.t[:2])
            text = f"`{facet.placement}` is {lever * 1e3:.0f} mm from the turning centre"
            if top is not None:
                text += (f": turning at {top.angular:.1f} rad/s, the most that the motors could, adds\n"
                         f"{top.angular**2 * lever:.2f} m/s2 to its acceleration")
            yield text + ". Its accelerations are not fused.\n"
