"""The launch files of the description package, as Python source.

Values stand in the source as Python literals (``repr``), never pasted as text. Both files find their neighbours by
their own place, so they run from the source folder, from an install and from a symlink install alike. Parameters are
typed: launch would otherwise guess at the description, and at a frame called ``on``, as YAML
(repository ros2/launch_ros, launch_ros/utilities/evaluate_parameters.py).
"""
from __future__ import annotations

from collections.abc import Sequence

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly
from chassis_describe.xmltree import number

CAUTIONS = (
    "A generated model is not a safety function: speed limits, protective fields and emergency stops are sized by "
    "people qualified for it.",
    "First drive after any change: wheels off the ground, then at walking pace with an emergency stop in hand.",
)

_SHOW = '''\
"""Shows @TITLE@ in RViz: robot_state_publisher, joint states, RViz.

Written by chassis_describe; changes belong into the layout or into a launch file of your own.
"""
from pathlib import Path

from launch import LaunchDescription
from launch.actions import @ACTIONS@
from launch.conditions import @CONDITIONS@
from launch.substitutions import LaunchConfiguration
from launch_ros.actions import Node
from launch_ros.parameter_descriptions import ParameterValue

PACKAGE = Path(__file__).resolve().parent.parent
DESCRIPTION = PACKAGE / 'urdf' / @URDF@
VIEW = PACKAGE / 'rviz' / 'show.rviz'
CAUTIONS = @CAUTIONS@


def generate_launch_description():
    use_sim_time = {
        'use_sim_time': ParameterValue(LaunchConfiguration('use_sim_time'), value_type=bool),
    }
    description = {
        'robot_description': ParameterValue(DESCRIPTION.read_text(encoding='ascii'), value_type=str),
    }
    return LaunchDescription([
        DeclareLaunchArgument('use_sim_time', default_value='false', choices=['true', 'false'],
                              description='true where a simulator publishes /clock'),
        DeclareLaunchArgument('rviz', default_value='true', choices=['true', 'false'],
                              description='false leaves RViz out'),


@ARGUMENTS@        *(LogInfo(msg=caution) for caution in CAUTIONS),
        Node(package='robot_state_publisher', executable='robot_state_publisher',
             output='screen', parameters=[description, use_sim_time]),


@JOINTS@        Node(package='rviz2', executable='rviz2', output='screen', arguments=['-d', str(VIEW)],
             parameters=[use_sim_time], condition=IfCondition(LaunchConfiguration('rviz'))),
    ])
'''
_JOINT_ARGUMENTS = '''\
        DeclareLaunchArgument('joint_states', default_value='true', choices=['true', 'false'],
                              description='false where the robot or a simulator publishes joint states'),
        DeclareLaunchArgument('gui', default_value='false', choices=['true', 'false'],
                              description='true turns the joints with sliders'),
'''
_JOINT_NODES = '''\
        GroupAction(
            [
                Node(package='joint_state_publisher', executable='joint_state_publisher',
                     parameters=[use_sim_time], condition=UnlessCondition(LaunchConfiguration('gui'))),
                Node(package='joint_state_publisher_gui', executable='joint_state_publisher_gui',
                     parameters=[use_sim_time], condition=IfCondition(LaunchConfiguration('gui'))),
            ],
            condition=IfCondition(LaunchConfiguration('joint_states'))),
'''
_FRAMES = '''\
"""The frames of @TITLE@ as static transforms, all in one process; what can move stands still.

Not for use beside robot_state_publisher, which publishes the same frames from the URDF: two publishers of one frame
make it jump. Written by chassis_describe; changes belong into the layout.
"""
from launch import LaunchDescription
from launch.actions import DeclareLaunchArgument, LogInfo
from launch.substitutions import LaunchConfiguration
from launch_ros.actions import ComposableNodeContainer
from launch_ros.descriptions import ComposableNode
from launch_ros.parameter_descriptions import ParameterValue

# parent, child, translation x y z (m), rotation x y z w
FRAMES = @FRAMES@
CAUTIONS = @CAUTIONS@


def broadcaster(parent, child, translation, rotation, use_sim_time):
    values = zip(('translation.x', 'translation.y', 'translation.z',
                  'rotation.x', 'rotation.y', 'rotation.z', 'rotation.w'), (*translation, *rotation))
    return ComposableNode(
        package='tf2_ros', plugin='tf2_ros::StaticTransformBroadcasterNode', name=f'static_{child}',
        parameters=[{
            'frame_id': ParameterValue(parent, value_type=str),
            'child_frame_id': ParameterValue(child, value_type=str),
            **{name: ParameterValue(value, value_type=float) for name, value in values},
            'use_sim_time': use_sim_time,
        }])


def generate_launch_description():
    use_sim_time = ParameterValue(LaunchConfiguration('use_sim_time'), value_type=bool)
    return LaunchDescription([
        DeclareLaunchArgument('use_sim_time', default_value='false', choices=['true', 'false'],
                              description='true where a simulator publishes /clock'),
        *(LogInfo(msg=caution) for caution in CAUTIONS),
        ComposableNodeContainer(
            package='rclcpp_components', executable='component_container', name=@CONTAINER@, namespace='',
            output='screen', parameters=[{'use_sim_time': use_sim_time}],
            composable_node_descriptions=[broadcaster(*frame, use_sim_time) for frame in FRAMES]),
    ])
'''
_ALONE = ("These static transforms are not for use beside robot_state_publisher: it publishes the same frames.",)


def show_launch(assembly: Assembly) -> Artifact:
    """``launch/show.launch.py``."""
    moving = any(joint.type != "fixed" for joint in assembly.joints)
    text = _filled(_SHOW, {
        "TITLE": assembly.robot,
        "URDF": repr(f"{assembly.robot}.urdf"),
        "CAUTIONS": _literal(CAUTIONS),
        "ACTIONS": "DeclareLaunchArgument, GroupAction, LogInfo" if moving else "DeclareLaunchArgument, LogInfo",
        "CONDITIONS": "IfCondition, UnlessCondition" if moving else "IfCondition",
        "ARGUMENTS": _JOINT_ARGUMENTS if moving else "",
        "JOINTS": _JOINT_NODES if moving else "",
    })
    return Artifact(path="launch/show.launch.py", data=text.encode("ascii"))


def frames_launch(assembly: Assembly) -> Artifact:
    """``launch/frames.launch.py``."""
    frames = [(joint.parent, joint.child, _floats(joint.placed.t), _floats(joint.placed.quaternion))
              for joint in assembly.joints]
    text = _filled(_FRAMES, {
        "TITLE": assembly.robot,
        "FRAMES": _literal(frames),
        "CAUTIONS": _literal((*_ALONE, *CAUTIONS)),
        "CONTAINER": repr(f"{assembly.robot}_frames"),
    })
    return Artifact(path="launch/frames.launch.py", data=text.encode("ascii"))


def _filled(text: str, values: dict[str, str]) -> str:
    for name, value in values.items():
        text = text.replace(f"@{name}@", value)
    return text


def _literal(values: Sequence[object]) -> str:
    """A list with one item a line."""
    return "[\n" + "".join(f"    {value!r},\n" for value in values) + "]"


def _floats(values: tuple[float, ...]) -> tuple[float, ...]:
    """Rounded as everywhere else in the package, and still floats: an integer would be an integer parameter."""
    return tuple(float(number(v)) for v in values)
