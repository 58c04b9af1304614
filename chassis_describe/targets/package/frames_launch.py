"""launch/frames.launch.py: the frames as static transforms, for robots without robot_state_publisher."""
from __future__ import annotations

from collections.abc import Iterable, Iterator

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly
from chassis_describe.targets.names import PythonNames
from chassis_describe.targets.package.launch_files import CAUTIONS, filled, literal, transform_remappings
from chassis_describe.targets.target import Target
from chassis_describe.xmltree import number

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
# A robot alone in its namespace keeps its transforms there; with a prefix all share /tf.
REMAPPINGS = @REMAPPINGS@


def broadcaster(parent, child, translation, rotation, use_sim_time):
    values = zip(('translation.x', 'translation.y', 'translation.z',
                  'rotation.x', 'rotation.y', 'rotation.z', 'rotation.w'), (*translation, *rotation))
    return ComposableNode(
        package='tf2_ros', plugin='tf2_ros::StaticTransformBroadcasterNode', name=f'static_{child}',
        namespace=LaunchConfiguration('namespace'), remappings=REMAPPINGS,
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
        DeclareLaunchArgument('namespace', default_value=@NAMESPACE@, description='namespace of the robot'),
        *(LogInfo(msg=caution) for caution in CAUTIONS),
        ComposableNodeContainer(
            package='rclcpp_components', executable='component_container', name=@CONTAINER@,
            namespace=LaunchConfiguration('namespace'),
            output='screen', parameters=[{'use_sim_time': use_sim_time}],
            composable_node_descriptions=[broadcaster(*frame, use_sim_time) for frame in FRAMES]),
    ])
'''
_ALONE = ("These static transforms are not for use beside robot_state_publisher: it publishes the same frames.",)


def artifacts(assembly: Assembly) -> Iterable[Artifact]:
    """The file."""
    frames = [(joint.parent, joint.child, _floats(joint.placed.t), _floats(joint.placed.quaternion))
              for joint in assembly.joints]
    text = filled(_FRAMES, {
        "TITLE": assembly.robot,
        "FRAMES": literal(frames),
        "CAUTIONS": literal((*_ALONE, *CAUTIONS)),
        "REMAPPINGS": literal(transform_remappings(assembly)),
        "NAMESPACE": repr(assembly.layout.ros.namespace),
        "CONTAINER": repr(f"{assembly.robot}_frames"),
    })
    yield Artifact(path="launch/frames.launch.py", data=text.encode("ascii"))


def _floats(values: tuple[float, ...]) -> tuple[float, ...]:
    """Rounded as everywhere else in the package, and still floats: an integer would be an integer parameter."""
    return tuple(float(number(v)) for v in values)


def _depends(assembly: Assembly) -> Iterator[str]:
    yield from ("launch", "launch_ros", "rclcpp_components", "tf2_ros")


TARGET = Target(artifacts=artifacts, names=PythonNames(frames={"FRAMES": (0, 1)}), depends=_depends,
                takers={"launch/frames.launch.py": "robots without robot_state_publisher only: it publishes the same transforms"})
