"""launch/show.launch.py: the robot in RViz."""
from __future__ import annotations

from collections.abc import Iterable, Iterator

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly
from chassis_describe.targets.description.joint_control import joint_zeros
from chassis_describe.targets.names import Given, Names
from chassis_describe.targets.package.launch_files import CAUTIONS, filled, literal, transform_remappings
from chassis_describe.targets.target import Target

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
# A robot alone in its namespace keeps its transforms there; with a prefix all share /tf.
REMAPPINGS = @REMAPPINGS@
@WHERE@

def generate_launch_description():
    namespace = LaunchConfiguration('namespace')
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


@ARGUMENTS@        DeclareLaunchArgument('namespace', default_value=@NAMESPACE@, description='namespace of the robot'),
        *(LogInfo(msg=caution) for caution in CAUTIONS),
        Node(package='robot_state_publisher', executable='robot_state_publisher',
             output='screen', parameters=[description, use_sim_time], namespace=namespace, remappings=REMAPPINGS),


@JOINTS@        Node(package='rviz2', executable='rviz2', output='screen', arguments=['-d', str(VIEW)],
             parameters=[use_sim_time], namespace=namespace, remappings=REMAPPINGS,
             condition=IfCondition(LaunchConfiguration('rviz'))),
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
                     parameters=[@ZEROS@use_sim_time], namespace=namespace,
                     condition=UnlessCondition(LaunchConfiguration('gui'))),
                Node(package='joint_state_publisher_gui', executable='joint_state_publisher_gui',
                     parameters=[@ZEROS@use_sim_time], namespace=namespace,
                     condition=IfCondition(LaunchConfiguration('gui'))),
            ],
            condition=IfCondition(LaunchConfiguration('joint_states'))),
'''
_WHERE = '''\
# Where joints are before somebody moves them (rad, of a slide m).
ZEROS = @VALUES@
'''


def artifacts(assembly: Assembly) -> Iterable[Artifact]:
    """The file."""
    moving, zeros = _moves(assembly), joint_zeros(assembly)
    text = filled(_SHOW, {
        "TITLE": assembly.robot,
        "NAMESPACE": repr(assembly.layout.ros.namespace),
        "REMAPPINGS": literal(transform_remappings(assembly)),
        "URDF": repr(f"{assembly.robot}.urdf"),
        "CAUTIONS": literal(CAUTIONS),
        "ACTIONS": "DeclareLaunchArgument, GroupAction, LogInfo" if moving else "DeclareLaunchArgument, LogInfo",
        "CONDITIONS": "IfCondition, UnlessCondition" if moving else "IfCondition",
        "ARGUMENTS": _JOINT_ARGUMENTS if moving else "",
        "JOINTS": _JOINT_NODES if moving else "",
        "WHERE": _WHERE.replace("@VALUES@", _dictionary(zeros)) if zeros else "",
        "ZEROS": "{'zeros': ZEROS}, " if zeros else "",
    })
    yield Artifact(path="launch/show.launch.py", data=text.encode("ascii"))


def _dictionary(values: dict[str, float]) -> str:
    """A dictionary with one entry a line."""
    return "{\n" + "".join(f"    {name!r}: {value!r},\n" for name, value in values.items()) + "}"


def _moves(assembly: Assembly) -> bool:
    return any(joint.type != "fixed" for joint in assembly.joints)


def _gives(assembly: Assembly) -> Given:
    return Given(topics=frozenset({"robot_description", "joint_states", "tf", "tf_static"}))


def _depends(assembly: Assembly) -> Iterator[str]:
    yield from ("launch", "launch_ros", "robot_state_publisher", "rviz2")
    if _moves(assembly):
        yield from ("joint_state_publisher", "joint_state_publisher_gui")


TARGET = Target(artifacts=artifacts, names=Names(), gives=_gives, depends=_depends)
