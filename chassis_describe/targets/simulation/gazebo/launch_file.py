"""launch/gazebo.launch.py: server, robot, bridge, controllers, robot_state_publisher.

gazebosim/ros_gz {branch}:ros_gz_sim/launch/gz_sim.launch.py.in, ros_gz_sim/src/create.cpp. The robot is put down with its root on
the ground. Clouds of depth cameras: ros-perception/image_pipeline {branch}:depth_image_proc/src/point_cloud_xyz.cpp.
"""
from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.covers import deck_covers
from chassis_describe.facts.sensor_topics import absolute, camera_topics
from chassis_describe.space.solids import half_extents
from chassis_describe.targets.names import PythonNames
from chassis_describe.targets.package.launch_files import filled, literal, transform_remappings
from chassis_describe.targets.package.manifest import package_name
from chassis_describe.targets.simulation.gazebo.model import controllers_address, model_of
from chassis_describe.targets.simulation.gazebo.motion import started, uses_plugin
from chassis_describe.targets.stack import distros
from chassis_describe.targets.stack.controllers import PATH as CONTROLLERS
from chassis_describe.targets.target import Target
from chassis_describe.xmltree import number

PATH = "launch/gazebo.launch.py"
_TEXT = '''\
"""Starts Gazebo @RELEASE@ with @TITLE@: server, robot, bridge, controllers, robot_state_publisher, all on the simulator's clock.

    ros2 launch @PACKAGE@ gazebo.launch.py gui:=false

Written by chassis_describe; changes belong into the layout or into a launch file of your own.
"""
import shlex
from pathlib import Path
from xml.sax.saxutils import escape

from ament_index_python.packages import get_package_share_directory
from launch import LaunchDescription
from launch.actions import (
    AppendEnvironmentVariable,
    DeclareLaunchArgument,
    IncludeLaunchDescription,
    OpaqueFunction,
    RegisterEventHandler,
)
from launch.event_handlers import OnProcessExit
from launch.launch_description_sources import PythonLaunchDescriptionSource
from launch.substitutions import LaunchConfiguration
from launch_ros.actions import ComposableNodeContainer, Node
from launch_ros.descriptions import ComposableNode
from launch_ros.parameter_descriptions import ParameterValue

PACKAGE = Path(__file__).resolve().parent.parent
NAME = @NAME@
MODEL = PACKAGE / 'simulation' / @MODEL@
BRIDGE = PACKAGE / 'simulation' / 'bridge.yaml'
# Where the controllers' parameters are, as the model says it and as a path.
PARAMETERS = @PARAMETERS@
NAMESPACE = @NAMESPACE@
DESCRIPTION_TOPIC = @DESCRIPTION@
MANAGER = @MANAGER@
CONTROLLERS = @CONTROLLERS@
# Other packages whose meshes the model names.
MESHES_OF = @MESHES@
# depth image, camera info, cloud: Gazebo's own clouds are not in the optical frame.
CLOUDS = @CLOUDS@
# A robot alone in its namespace keeps its transforms there; with a prefix all share /tf.
REMAPPINGS = @REMAPPINGS@
USE_SIM_TIME = {'use_sim_time': ParameterValue(True, value_type=bool)}


def description():
    """The model's text with every address a path that this machine has."""
    text = MODEL.read_text(encoding='ascii').replace(PARAMETERS[0], escape(PARAMETERS[1]))
    return text if PACKAGE.name == NAME else text.replace(f'package://{NAME}/', f'{PACKAGE.as_uri()}/')


def start(context):
    """The nodes, once the arguments are known."""
    world = LaunchConfiguration('world').perform(context)
    gui = LaunchConfiguration('gui').perform(context) == 'true'
    place = [LaunchConfiguration(name).perform(context) for name in ('x', 'y', 'yaw')]
    spawn = Node(package='ros_gz_sim', executable='create', output='screen', parameters=[USE_SIM_TIME],
                 arguments=['-topic', DESCRIPTION_TOPIC, '-name', @ENTITY@, '-x', place[0], '-y', place[1], '-z', @HEIGHT@,
                            '-Y', place[2]])
    spawners = Node(package='controller_manager', executable='spawner', namespace=NAMESPACE, output='screen',
                    parameters=[USE_SIM_TIME],
                    arguments=[*CONTROLLERS, '--controller-manager', MANAGER, '--param-file', PARAMETERS[1]])
    clouds = ComposableNodeContainer(
        package='rclcpp_components', executable='component_container', name='depth_clouds', namespace=NAMESPACE,
        output='screen', parameters=[USE_SIM_TIME],
        composable_node_descriptions=[
            ComposableNode(package='depth_image_proc', plugin='depth_image_proc::PointCloudXyzNode', name=f'depth_cloud_{number}',
                           namespace=NAMESPACE, parameters=[USE_SIM_TIME],
                           remappings=[('image_rect', image), ('camera_info', info), ('points', cloud)])
            for number, (image, info, cloud) in enumerate(CLOUDS, start=1)])
    return [
        *(AppendEnvironmentVariable('@VARIABLE@', str(Path(folder).parent))
          for folder in (PACKAGE, *map(get_package_share_directory, MESHES_OF))),
        IncludeLaunchDescription(
            PythonLaunchDescriptionSource(
                str(Path(get_package_share_directory('ros_gz_sim')) / 'launch' / 'gz_sim.launch.py')),
            launch_arguments={'gz_args': f"-r {'' if gui else '-s '}{shlex.quote(world)}", 'on_exit_shutdown': 'true'}.items()),
        Node(package='robot_state_publisher', executable='robot_state_publisher', namespace=NAMESPACE, output='screen',
             parameters=[{'robot_description': ParameterValue(description(), value_type=str)}, USE_SIM_TIME],
             remappings=REMAPPINGS),
        spawn,
        Node(package='ros_gz_bridge', executable='parameter_bridge', name='gazebo_bridge', namespace=NAMESPACE, output='screen',
             parameters=[{'config_file': ParameterValue(str(BRIDGE), value_type=str)}, USE_SIM_TIME]),
        *([clouds] if CLOUDS else []),
        *([RegisterEventHandler(OnProcessExit(target_action=spawn, on_exit=[spawners]))] if CONTROLLERS else []),
    ]


def generate_launch_description():
    return LaunchDescription([
        DeclareLaunchArgument('gui', default_value='true', choices=['true', 'false'],
                              description='false starts the server alone'),
        DeclareLaunchArgument('world', default_value=str(PACKAGE / 'simulation' / 'world.sdf'),
                              description='path of the world'),
        DeclareLaunchArgument('x', default_value='0', description='where the robot is put down (m)'),
        DeclareLaunchArgument('y', default_value='0', description='where the robot is put down (m)'),
        DeclareLaunchArgument('yaw', default_value='0', description='where it looks (rad)'),
        OpaqueFunction(function=start),
    ])
'''


def artifacts(assembly: Assembly) -> Iterable[Artifact]:
    """The file; nothing with ``simulation: none``."""
    if assembly.layout.ros.simulation == "none":
        return
    model = model_of(assembly)
    space = assembly.layout.ros.namespace
    parts = ", ".join(map(repr, CONTROLLERS.split("/")))
    parameters = f"(\n    {controllers_address(model)!r},\n    str(PACKAGE.joinpath({parts})),\n)"
    yield Artifact(path=PATH, data=filled(_TEXT, {
        "RELEASE": distros.text("gz_release", assembly.layout.ros.distro), "TITLE": assembly.robot,
        "PACKAGE": package_name(assembly.robot), "NAME": repr(package_name(assembly.robot)),
        "MODEL": repr(f"{assembly.robot}_gazebo.urdf"), "PARAMETERS": parameters,
        "NAMESPACE": repr(space), "DESCRIPTION": repr(absolute(assembly, "robot_description")),
        "MANAGER": repr(absolute(assembly, "controller_manager")), "CONTROLLERS": literal(started(model)),
        "MESHES": literal(_mesh_packages(assembly)), "CLOUDS": literal(_clouds(model)),
        "REMAPPINGS": literal(transform_remappings(assembly)), "ENTITY": repr(f"{assembly.prefix}{assembly.robot}"),
        "HEIGHT": repr(number(height(model))),
        "VARIABLE": distros.text("gz_resource_path", assembly.layout.ros.distro)}).encode("ascii"))


def height(model: Assembly) -> float:
    """How high the root is put (m): on the ground, which a robot on wheels or casters has its root on; others lie on their lowest
    point."""
    if model.rest is not None:
        return 0.0
    into = model.poses[model.root].inverse()
    solids = [(body.solid, model.poses[link.name] @ body.pose) for link in model.links for body in link.bodies if body.collides]
    solids += [(solid, facet.pose @ pose) for name, facet in model.decks.items() for solid, pose in deck_covers(model)[name]]
    return max((half_extents(solid, into @ pose)[2] - (into @ pose).t[2] for solid, pose in solids), default=0.0)


def _clouds(model: Assembly) -> list[tuple[str, str, str]]:
    """Depth image, camera info and cloud of each depth camera, from the root."""
    return [(absolute(model, own.depth), absolute(model, own.info), absolute(model, own.cloud))
            for own in camera_topics(model).values() if own.cloud]


def _mesh_packages(assembly: Assembly) -> list[str]:
    """Packages of ``package://`` meshes, but this one."""
    found = {mesh.file.removeprefix("package://").partition("/")[0] for link in assembly.links for mesh in link.meshes
             if mesh.file.startswith("package://")}
    found |= {name for placed in assembly.parts.values() if placed.part.description is not None
              for name in placed.part.description.packages}
    return sorted(found - {package_name(assembly.robot)})


def _depends(assembly: Assembly) -> Iterator[str]:
    yield from ("ament_index_python", "launch", "launch_ros", "robot_state_publisher", "ros_gz_bridge", "ros_gz_sim")
    model = model_of(assembly)
    if uses_plugin(model):
        yield "controller_manager"
    if _clouds(model):
        yield from ("depth_image_proc", "rclcpp_components")


_PAGE = """\
## Gazebo

    ros2 launch {package} gazebo.launch.py

starts {release} with the robot, its sensors and its controllers on the simulator's clock; `gui:=false` is the server alone,
`world:=` another world. `docs/simulation.md` says what is modelled. Other launch files and nodes get `use_sim_time:=true`.
"""


def _page(assembly: Assembly, paths: Collection[str]) -> Iterator[str]:
    if PATH in paths:
        yield _PAGE.format(package=package_name(assembly.robot), release=distros.text("gz_release", assembly.layout.ros.distro))


TARGET = Target(artifacts=artifacts, names=PythonNames(topics={"CLOUDS": (0, 1, 2)}), depends=_depends, page=_page,
                takers={PATH: "starts Gazebo with the robot"})
