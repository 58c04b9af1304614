"""What of Nav2's parameters follows from how the robot drives: motion models, the smallest circle, sideways limits.

Sources, branches of navigation2: nav2_mppi_controller/src/optimizer.cpp, motion_models.hpp; nav2_smac_planner/src/
smac_planner_hybrid.cpp; nav2_regulated_pure_pursuit_controller/src/parameter_handler.cpp; nav2_velocity_smoother/src/
velocity_smoother.cpp; nav2_behaviors/src/behavior_server.cpp. Speeds stay the user's: only what Nav2's own files have wrong
for the drive is written. Differential and skid-steer drives are what those files are for.
"""
from __future__ import annotations

import math

from chassis_describe.assembly.model import Assembly, DriveFacet
from chassis_describe.errors import never
from chassis_describe.facts.turning import smallest_turn
from chassis_describe.targets.stack import distros
from chassis_describe.targets.stack.ros_yaml import Block
from chassis_describe.targets.stack.topics import node_block

#: Nav2's defaults along x and about z, and for y what it has along x: m/s, m/s, rad/s and their accelerations
#: (navigation2, all four branches: nav2_velocity_smoother/src/velocity_smoother.cpp).
_SPEED, _ACCELERATION = (0.5, 0.5, 2.5), (2.5, 2.5, 3.2)


def holonomic(drive: DriveFacet) -> bool:
    """Whether the robot goes sideways without turning."""
    if drive.kind == "mecanum" or drive.kind == "omni":
        return True
    if drive.kind == "differential" or drive.kind == "skid_steer" or drive.kind == "ackermann":
        return False
    raise never(drive.kind)


def radius_up(drive: DriveFacet) -> float:
    """The smallest radius (m), rounded up to millimetres: a bound stays one."""
    return math.ceil(smallest_turn(drive) * 1e3 - 1e-6) / 1e3


def controller_lines(node: Block, assembly: Assembly) -> None:
    """For controller_server; ``FollowPath`` is the plugin's name in Nav2's own files."""
    drive, distro = assembly.drive, assembly.layout.ros.distro
    if drive is None:
        return
    if holonomic(drive):
        node.note("below this the robot counts as standing, sideways too; Nav2's own files have 0.5")
        node.put("min_y_velocity_threshold", 0.001)
    plugin = node.block("FollowPath")
    if holonomic(drive):
        plugin.note("MPPI: this robot goes sideways")
        _motion_model(plugin, "Omni", distro)
    elif drive.kind == "ackermann" and math.isfinite(smallest_turn(drive)):
        plugin.note("MPPI: this robot steers; the radius is that of the driven axle's middle, where base_link is")
        model = _motion_model(plugin, "Ackermann", distro)
        (model or plugin.block("AckermannConstraints")).put("min_turning_r", radius_up(drive), "m")
        plugin.note("Regulated Pure Pursuit: it can't turn on the spot, and no Rotation Shim helps; where the planner backs up,",
                    "it has to follow")
        plugin.put("use_rotate_to_heading", False).put("allow_reversing", True)


def _motion_model(plugin: Block, name: str, distro: str) -> Block | None:
    """The model's name; the block of its own where the distro wants one."""
    if not distros.has("mppi_model_blocks", distro):
        plugin.put("motion_model", name)
        return None
    plugin.put("motion_model", name.lower())
    return plugin.block(name.lower()).put("plugin", f"mppi::{name}MotionModel")


def server_lines(doc: Block, assembly: Assembly) -> None:
    """For the planner."""
    drive = assembly.drive
    if drive is None or drive.kind != "ackermann" or not math.isfinite(smallest_turn(drive)):
        return
    plugin = node_block(doc, assembly, "planner_server").block("GridBased")
    plugin.note("Smac Hybrid; NavFn and Theta* plan turns that this robot can't drive. GridBased is the name in Nav2's own files")
    plugin.put("minimum_turning_radius", radius_up(drive), "m")
    plugin.put("motion_model_for_search", "REEDS_SHEPP", "forward and back; DUBIN: forward alone")


def behavior_lines(node: Block, assembly: Assembly) -> None:
    """For behavior_server."""
    drive = assembly.drive
    if drive is not None and drive.kind == "ackermann":
        node.note("without spin, which this robot can't: take it out of the behaviour tree too, for a tree with <Spin> does not",
                  "load without its server. The plugin of each name is in your own file")
        node.put("behavior_plugins", ("backup", "drive_on_heading", "wait"))


def smoother_lines(node: Block, assembly: Assembly) -> None:
    """For velocity_smoother."""
    if assembly.drive is None or not holonomic(assembly.drive):
        return
    node.note("Nav2's defaults, but along y as along x: their 0 there takes every motion to the side away. Yours to decide.")
    node.put("max_velocity", _SPEED).put("min_velocity", tuple(-v for v in _SPEED))
    node.put("max_accel", _ACCELERATION).put("max_decel", tuple(-v for v in _ACCELERATION))
