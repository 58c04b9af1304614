"""launch/filters.launch.py: what stands between the sensors and their consumers, laser filters and box filters alike."""
from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly
from chassis_describe.targets.names import PythonNames
from chassis_describe.targets.package.launch_files import filled, literal, transform_remappings
from chassis_describe.targets.package.manifest import package_name
from chassis_describe.targets.stack import cloud_filter, cloud_scan, depth_scan, laser_filter
from chassis_describe.targets.target import Target

PATH = "launch/filters.launch.py"
_TEXT = '''\
"""Starts the filters between the sensors of @TITLE@ and their consumers.

    ros2 launch @PACKAGE@ filters.launch.py sensors:=@FIRST@

starts those of the named sensors alone (names with commas between them). Written by chassis_describe; changes belong into
the layout or into a launch file of your own.
"""
from pathlib import Path

import yaml
from launch import LaunchDescription
from launch.actions import DeclareLaunchArgument, OpaqueFunction
from launch.substitutions import LaunchConfiguration
from launch_ros.actions import Node
from launch_ros.parameter_descriptions import ParameterValue

PACKAGE = Path(__file__).resolve().parent.parent
SENSORS = @SENSORS@
# sensor, package, executable, node, parameter file, then topics in pairs: in the program, and here
FILTERS = @FILTERS@
# A robot alone in its namespace keeps its transforms there.
REMAPPINGS = @REMAPPINGS@


def parameters(file, node):
    """The node's own block, whatever namespace the file names: the launch may have another one."""
    waiting = [yaml.safe_load((PACKAGE / file).read_text(encoding='ascii'))]
    while waiting:
        block = waiting.pop()
        if node in block:
            return block[node]['ros__parameters']
        waiting.extend(inner for inner in block.values() if isinstance(inner, dict))
    raise RuntimeError(f'{file} has no node {node}')


def start(context):
    """The nodes, once it is known for which sensors."""
    wanted = [name for name in LaunchConfiguration('sensors').perform(context).split(',') if name]
    unknown = sorted(set(wanted) - set(SENSORS))
    if unknown:
        raise RuntimeError(f'no filter of {unknown}; there are {SENSORS}')
    use_sim_time = {'use_sim_time': ParameterValue(LaunchConfiguration('use_sim_time'), value_type=bool)}
    return [
        Node(package=package, executable=executable, name=node, namespace=LaunchConfiguration('namespace'),
             output='screen', parameters=[parameters(file, node), use_sim_time],
             remappings=[*zip(topics[::2], topics[1::2]), *REMAPPINGS])
        for sensor, package, executable, node, file, *topics in FILTERS if sensor in wanted
    ]


def generate_launch_description():
    return LaunchDescription([
        DeclareLaunchArgument('use_sim_time', default_value='false', choices=['true', 'false'],
                              description='true where a simulator publishes /clock'),
        DeclareLaunchArgument('namespace', default_value=@NAMESPACE@, description='namespace of the robot'),
        DeclareLaunchArgument('sensors', default_value=','.join(SENSORS),
                              description='the sensors that run, with commas between them'),
        OpaqueFunction(function=start),
    ])
'''


def artifacts(assembly: Assembly) -> Iterable[Artifact]:
    """The file, or nothing where nothing is filtered."""
    rows = [*laser_filter.nodes(assembly), *cloud_filter.nodes(assembly), *cloud_scan.nodes(assembly),
            *depth_scan.nodes(assembly)]
    if not rows:
        return
    sensors = list(dict.fromkeys(row[0] for row in rows))
    yield Artifact(path=PATH, data=filled(_TEXT, {
        "TITLE": assembly.robot, "PACKAGE": package_name(assembly.robot), "FIRST": sensors[0],
        "SENSORS": repr(sensors), "FILTERS": literal(rows), "REMAPPINGS": literal(transform_remappings(assembly)),
        "NAMESPACE": repr(assembly.layout.ros.namespace)}).encode("ascii"))


def _depends(assembly: Assembly) -> Iterator[str]:
    yield from ("launch", "launch_ros", "python3-yaml")


def _page(assembly: Assembly, paths: Collection[str]) -> Iterator[str]:
    if PATH in paths:
        yield ("`launch/filters.launch.py` starts all filters, or with `sensors:=` those of the sensors that run:\n\n"
               f"    ros2 launch {package_name(assembly.robot)} filters.launch.py\n")


TARGET = Target(artifacts=artifacts, names=PythonNames(topics={"FILTERS": (6, 8, 10)}), depends=_depends, page=_page,
                takers={PATH: "starts the filters"})
