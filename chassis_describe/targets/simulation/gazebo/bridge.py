"""simulation/bridge.yaml: every topic between ROS and Gazebo with its direction.

Form: gazebosim/ros_gz {branch}:ros_gz_bridge/README.md and src/bridge_config.cpp.
"""
from __future__ import annotations

from collections.abc import Iterable, Iterator

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.sensor_topics import camera_topics
from chassis_describe.targets.names import Given, Parameters
from chassis_describe.targets.simulation.gazebo.model import model_of
from chassis_describe.targets.simulation.gazebo.motion import command_topic, motion_streams, positioned
from chassis_describe.targets.simulation.gazebo.sensors import bumper_collisions
from chassis_describe.targets.simulation.gazebo.streams import Stream, sensor_streams
from chassis_describe.targets.stack import distros
from chassis_describe.targets.target import Target

PATH = "simulation/bridge.yaml"
_HEAD = """\
# bridge.yaml: topics between ROS 2 {distro} and Gazebo {release}, for {robot}.
# Computed from the layout by chassis_describe; changes belong there, this file is written anew.
"""
_ENTRY = """\
- ros_topic_name: "{0}"
  gz_topic_name: "{1}"
  ros_type_name: "{2}"
  gz_type_name: "{3}.{4}"
  direction: {5}
"""


def streams(assembly: Assembly) -> tuple[Stream, ...]:
    """Every topic, the clock first."""
    model = model_of(assembly)
    felt = [f for f in model.sensors if f.sensor.kind != "contact" or bumper_collisions(model, f)]
    return (Stream("/clock", "/clock", "rosgraph_msgs/msg/Clock", "Clock"),
            *(s for facet in felt for s in sensor_streams(model, facet)), *motion_streams(model))


def artifacts(assembly: Assembly) -> Iterable[Artifact]:
    """The file; nothing with ``simulation: none``."""
    if assembly.layout.ros.simulation == "none":
        return
    distro = assembly.layout.ros.distro
    head = _HEAD.format(distro=distro, release=distros.text("gz_release", distro), robot=assembly.robot)
    rows = [_ENTRY.format(s.ros_topic, s.gz_topic, s.ros_type, distros.text("gz_messages", distro), s.gz_type, s.direction)
            for s in streams(assembly)]
    yield Artifact(path=PATH, data=(head + "".join(rows)).encode("ascii"))


def _gives(assembly: Assembly) -> Given:
    if assembly.layout.ros.simulation == "none":
        return Given()
    model = model_of(assembly)
    cameras = {topic for own in camera_topics(model).values() for topic in own if topic}
    commands = {command_topic(model, joint).removeprefix(f"/{model.layout.ros.namespace}/") for joint in positioned(model)}
    return Given(topics=frozenset({"clock", *cameras, *commands}))


def _depends(assembly: Assembly) -> Iterator[str]:
    yield "ros_gz_bridge"


TARGET = Target(artifacts=artifacts, names=Parameters(topics=("ros_topic_name",)), gives=_gives, depends=_depends,
                takers={PATH: "ros_gz_bridge, as `config_file`"})
