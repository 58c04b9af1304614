"""A robot that follows its file: ``ros2 launch chassis_describe live.launch.py layout:=FILE``.

robot_state_publisher gets the description of the layout as it is now, and the live node sets it anew with every save that has
no errors; RViz shows both. Where the layout does not read, the launch stops with file, line and hint.
"""
import tempfile
from pathlib import Path

from launch.actions import DeclareLaunchArgument, LogInfo, OpaqueFunction, RegisterEventHandler
from launch.conditions import IfCondition
from launch.event_handlers import OnShutdown
from launch.substitutions import LaunchConfiguration
from launch_ros.actions import Node
from launch_ros.parameter_descriptions import ParameterValue

from launch import LaunchDescription


def follow(context):
    """The nodes, once it is known which layout is meant."""
    import chassis_describe as cd
    from chassis_describe.targets.description.joint_control import joint_zeros
    from chassis_describe.targets.package import rviz
    from chassis_describe.targets.package.launch_files import CAUTIONS, transform_remappings

    def said(name):
        return LaunchConfiguration(name).perform(context)

    layout = said('layout')
    overlays = [path for path in said('overlays').split(',') if path]
    prefix = None if said('prefix') == '-' else said('prefix')
    assembly = cd.assemble(cd.read(layout, overlays=overlays), prefix=prefix)
    namespace = said('namespace') or assembly.layout.ros.namespace
    remappings = transform_remappings(assembly)
    folder = tempfile.TemporaryDirectory(prefix='chassis_describe_')
    view = Path(folder.name) / 'show.rviz'
    for file in rviz.artifacts(assembly):
        view.write_bytes(file.data)
    use_sim_time = {'use_sim_time': ParameterValue(LaunchConfiguration('use_sim_time'), value_type=bool)}
    description = {'robot_description': ParameterValue(cd.urdf(assembly), value_type=str)}
    followed = {'layout': ParameterValue(layout, value_type=str), 'prefix': ParameterValue(said('prefix'), value_type=str),
                'strict': ParameterValue(LaunchConfiguration('strict'), value_type=bool)}
    topics = [topic for topic in said('footprint_topics').split(',') if topic]
    if topics:
        followed['footprint_topics'] = topics
    if overlays:
        followed['overlays'] = overlays
    actions = [
        *(LogInfo(msg=caution) for caution in CAUTIONS),
        Node(package='robot_state_publisher', executable='robot_state_publisher', namespace=namespace, remappings=remappings,
             output='screen', parameters=[description, use_sim_time]),
        Node(package='chassis_describe', executable='chassis_describe_live', namespace=namespace, remappings=remappings,
             output='screen', parameters=[followed]),
        Node(package='rviz2', executable='rviz2', namespace=namespace, remappings=remappings, output='screen',
             arguments=['-d', str(view)], parameters=[use_sim_time], condition=IfCondition(LaunchConfiguration('rviz'))),
        RegisterEventHandler(OnShutdown(on_shutdown=lambda event, context: folder.cleanup())),
    ]
    if any(joint.type != 'fixed' for joint in assembly.joints):
        zeros = joint_zeros(assembly)
        actions.append(Node(package='joint_state_publisher', executable='joint_state_publisher', namespace=namespace,
                            parameters=[*([{'zeros': zeros}] if zeros else []), use_sim_time],
                            condition=IfCondition(LaunchConfiguration('joint_states'))))
    return actions


def generate_launch_description():
    """Arguments first; the nodes are made when their values are known."""
    return LaunchDescription([
        DeclareLaunchArgument('layout', description='the layout file (YAML) that is followed'),
        DeclareLaunchArgument('overlays', default_value='', description='files that are laid over it, with commas between them'),
        DeclareLaunchArgument('prefix', default_value='-',
                              description="before every frame and joint name; - for the layout's own"),
        DeclareLaunchArgument('namespace', default_value='',
                              description='namespace of the robot, for several from one layout; else the layout\'s own'),
        DeclareLaunchArgument('strict', default_value='false', choices=['true', 'false'],
                              description='true keeps saves with warnings back, too'),
        DeclareLaunchArgument('footprint_topics', default_value='',
                              description='topics that get the footprint, with commas between them: it changes the shape that a '
                                          'driving robot avoids collisions with'),
        DeclareLaunchArgument('use_sim_time', default_value='false', choices=['true', 'false'],
                              description='true where a simulator publishes /clock'),
        DeclareLaunchArgument('rviz', default_value='true', choices=['true', 'false'], description='false leaves RViz out'),
        DeclareLaunchArgument('joint_states', default_value='true', choices=['true', 'false'],
                              description='false where the robot or a simulator publishes joint states'),
        OpaqueFunction(function=follow),
    ])
