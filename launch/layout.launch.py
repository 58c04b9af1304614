"""Shows the robot of a layout in RViz, writing nothing: ``ros2 launch chassis_describe layout.launch.py layout:=FILE``.

The layout is compiled in memory when the launch starts; an error in it stops the launch with file, line and hint.
"""
import tempfile
from pathlib import Path

from launch.actions import DeclareLaunchArgument, GroupAction, LogInfo, OpaqueFunction, RegisterEventHandler
from launch.conditions import IfCondition, UnlessCondition
from launch.event_handlers import OnShutdown
from launch.substitutions import LaunchConfiguration
from launch_ros.actions import Node
from launch_ros.parameter_descriptions import ParameterValue

from launch import LaunchDescription


def show(context):
    """The nodes, once it is known which layout is meant."""
    import chassis_describe as cd
    from chassis_describe.targets.description.joint_control import joint_zeros
    from chassis_describe.targets.package import rviz
    from chassis_describe.targets.package.launch_files import CAUTIONS, transform_remappings

    assembly = cd.assemble(cd.read(LaunchConfiguration('layout').perform(context)))
    space = LaunchConfiguration('namespace').perform(context) or assembly.layout.ros.namespace
    where_it_lives = {'namespace': space, 'remappings': transform_remappings(assembly)}
    folder = tempfile.TemporaryDirectory(prefix='chassis_describe_')
    view = Path(folder.name) / 'show.rviz'
    for file in rviz.artifacts(assembly):
        view.write_bytes(file.data)
    use_sim_time = {'use_sim_time': ParameterValue(LaunchConfiguration('use_sim_time'), value_type=bool)}
    description = {'robot_description': ParameterValue(cd.urdf(assembly), value_type=str)}
    actions = [
        *(LogInfo(msg=caution) for caution in CAUTIONS),
        Node(package='robot_state_publisher', executable='robot_state_publisher',
             output='screen', parameters=[description, use_sim_time], **where_it_lives),
        Node(package='rviz2', executable='rviz2', output='screen', arguments=['-d', str(view)],
             parameters=[use_sim_time], condition=IfCondition(LaunchConfiguration('rviz')), **where_it_lives),
        RegisterEventHandler(OnShutdown(on_shutdown=lambda event, context: folder.cleanup())),
    ]
    if any(joint.type != 'fixed' for joint in assembly.joints):
        zeros = joint_zeros(assembly)
        where = [{'zeros': zeros}] if zeros else []
        actions.append(GroupAction(
            [
                Node(package='joint_state_publisher', executable='joint_state_publisher', namespace=space,
                     parameters=[*where, use_sim_time], condition=UnlessCondition(LaunchConfiguration('gui'))),
                Node(package='joint_state_publisher_gui', executable='joint_state_publisher_gui', namespace=space,
                     parameters=[*where, use_sim_time], condition=IfCondition(LaunchConfiguration('gui'))),
            ],
            condition=IfCondition(LaunchConfiguration('joint_states'))))
    return actions


def generate_launch_description():
    """Arguments first; the robot is made when their values are known."""
    return LaunchDescription([
        DeclareLaunchArgument('layout', description='the layout file (YAML)'),
        DeclareLaunchArgument('namespace', default_value='',
                              description='namespace of the robot, for several from one layout; else the layout\'s own'),
        DeclareLaunchArgument('use_sim_time', default_value='false', choices=['true', 'false'],
                              description='true where a simulator publishes /clock'),
        DeclareLaunchArgument('rviz', default_value='true', choices=['true', 'false'],
                              description='false leaves RViz out'),
        DeclareLaunchArgument('joint_states', default_value='true', choices=['true', 'false'],
                              description='false where the robot or a simulator publishes joint states'),
        DeclareLaunchArgument('gui', default_value='false', choices=['true', 'false'],
                              description='true turns the joints with sliders'),
        OpaqueFunction(function=show),
    ])
