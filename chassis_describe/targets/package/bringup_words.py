"""The sentences of docs/bringup.md; names in braces are filled in by the page."""
from __future__ import annotations

HEAD = """\
# Bringing {robot} up

Written by chassis_describe for ROS 2 {distro} from the layout in `layout/`. Every file here holds what the geometry
decides; your own parameter files come after it and win.

**Not tried on a robot.** Names and types were taken from the consumers' sources, and the files are read back by YAML
and URDF parsers; nobody has driven this robot with them. Read them before you do.

In the commands `SHARE` stands for `$(ros2 pkg prefix --share {robot}_description)`.
"""

#: File (``{robot}`` filled in) → who takes it. Only the files of the package are listed.
FILES = (
    ("urdf/{robot}.urdf", "robot_state_publisher, simulators"),
    ("urdf/{robot}_macro.xacro", "a xacro of your own"),
    ("config/controllers.yaml", "the controller manager and its spawner"),
    ("config/laser_filter.yaml", "a filter node between each lidar with blind angles and the rest"),
    ("config/localization.yaml", "slam_toolbox, AMCL or robot_localization, before your own file"),
    ("config/navigation.yaml", "Nav2's nodes, before your own file"),
    ("launch/frames.launch.py", "robots without robot_state_publisher only: it publishes the same transforms"),
)

DESCRIPTION = """\
## robot_state_publisher

Gets `urdf/{robot}.urdf` as the parameter `robot_description`: the text, not the path. The tree's root is `{root}`.
To look at it:

    ros2 launch {robot}_description show.launch.py

In a launch file of your own the node takes `ParameterValue(Command(['xacro ', path]), value_type=str)`, with the path
of `urdf/{robot}.urdf` or of your xacro.
"""

XACRO = """\
In a xacro of your own include `urdf/{robot}_macro.xacro` and call, once for each robot:

    <xacro:{robot} prefix="left_" parent="world"><origin xyz="0 0 0" rpy="0 0 0"/></xacro:{robot}>

Leave `parent` out where the robot's root is the tree's. A prefix in the description needs the same prefix in the
layout (`ros: {{prefix: left_}}`), so that the parameter files carry it too; robot_state_publisher's `frame_prefix`
stays empty. Several robots on one network get a ROS namespace each; their parameter files then stand below a key of
that name, or are started with Nav2's own rewriting of namespaces.
"""

CONTROL = """\
## ros2_control

The `<ros2_control>` block is in the description. Start, beside robot_state_publisher (`joint_states:=false` after
`show.launch.py` starts that one, and RViz, without a joint_state_publisher):
"""

COMMANDS = """\
It takes {type} on `{command}`. Joint states come from {broadcaster} alone:
start no joint_state_publisher beside it.
"""

PLACEHOLDER = """\
**Your hardware plugin is not named yet.** `{plugin}` in the description is a placeholder that
nothing provides: name yours in the layout (`ros: {{hardware: ...}}`).
"""

MOCK = """\
Without hardware, expand the xacro with `use_mock_hardware:=true`. In Gazebo the simulator's plugin brings its own
controller_manager: start no other.
"""

SKID_STEER = """\
Calibrate `wheel_separation_multiplier` on the floor that you drive on.
"""

NO_CONTROL = """\
## Driving

The layout asks for no ros2_control. Whoever drives takes `{command}`, publishes `{odometry}` and the transform
`{odom}` to `{root}`, and the joint states of the wheels.
"""

SENSORS = """\
## Sensor drivers

Each driver puts this `frame_id` into its messages and publishes on this topic. Tell a driver that would publish frames
of its own not to, unless the table says that it does.

| placement | sensor | kind | `frame_id` | topic |
|---|---|---|---|---|
"""

UPRIGHT = "angles grow counter-clockwise seen from above.\n"

HANGING = """\
it hangs upside down, so its angles grow clockwise seen from above. The frame says so already: leave the driver's own
inversion off.
"""

FLIPPED_IMU = """\
It is mounted upside down. The frame turns its data, so neither the driver nor the filter may turn them once more.
"""

FILTER = """\
## laser_filters

Blanks the beams that end on the robot itself; consumers take the filtered topic.
"""

LOCALIZATION = """\
## Localisation

`config/localization.yaml` holds the frames `{map}`, `{odom}`, `{root}` and the scan topic. Give it to the node that you
use, before your own parameters.
"""

FUSED = """\
robot_localization publishes the transform from odometry; the drive controller doesn't. What to fuse (`odom0_config`,
`imu0_config`) is yours to decide: without it the filter stands still.
"""

ONE_MAP = """\
slam_toolbox while mapping, AMCL with a finished map, never both: each publishes `{map}` to `{odom}`.
"""

NAVIGATION = """\
## Nav2

Copy the blocks of `config/navigation.yaml` over those of your own Nav2 parameters, or give the nodes both files, yours
last. `plugins` lists the layers that this robot's sensors feed; put your own beside them. Footprint, frames and topics
are the geometry's; sizes, rates, speeds, zones and plugins are yours.

The collision monitor's `Outline` is the robot itself. It is no protective field: zones with room to stop are yours to
size, and a stop that people rely on is not made of software like this.
"""

FLOOR_NOISE = """\
Raise `min_obstacle_height` of a point cloud where floor noise marks the costmap.
"""

CAUTIONS = (
    "Batteries, lasers and motors: follow their makers' instructions and local rules.",
    "Tip-over and load figures are static estimates of a rigid model.",
)
