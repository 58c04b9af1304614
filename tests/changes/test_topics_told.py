"""`compare` tells every topic that changed: held against the two packages' files, which other programs read.

The topics of a package are those of its bring-up page (one row a sensor) and of the bridge to Gazebo (all streams of cameras),
taken out of the files as text and by PyYAML.
"""
from __future__ import annotations

import re
from functools import cache
from pathlib import Path
from typing import NamedTuple

import pytest
import yaml

import chassis_describe as cd
from chassis_describe.changes.compare import Change, Side, compare
from chassis_describe.changing import checked
from chassis_describe.facts.sensor_topics import published_by_sensors
from chassis_describe.reports.change import change_data, change_text
from chassis_describe.targets import package_artifacts

FILES = ("docs/bringup.md", "simulation/bridge.yaml")
CONFIG = Path(__file__).resolve().parents[2] / "config"
SCOUT = (CONFIG / "draught_scout.yaml").read_text()
LIDAR = "  lidar:       {part: lidar_d70, on: upper, at: [0, 0], points: back, frame: laser_frame}\n"
SECOND = LIDAR + "  low_lidar: {part: lidar_d70, on: lower, face: under, at: [4, 0]}\n"


class Written(NamedTuple):
    """Topics in the files: of the bring-up page by frame, of the bridge with their types (its depth cameras' clouds are made
    from depth images)."""

    page: dict[str, str]
    bridge: dict[str, str]


@cache
def side(text: str) -> Side:
    return checked(cd.assemble(cd.read(CONFIG / "robot.yaml", text=text)))


@cache
def written(text: str) -> Written:
    files = {a.path: a.data.decode() for a in package_artifacts(side(text).assembly) if a.path in FILES}
    rows = re.findall(r"(?m)^\| \S+ \| \S+ \| [a-z ]+ \| (?:below )?`([^`]+)`[^|]*\| `([^`]+)` \|", files["docs/bringup.md"])
    bridge = yaml.safe_load(files["simulation/bridge.yaml"])
    return Written(dict(rows), {row["ros_topic_name"]: row["ros_type_name"] for row in bridge})


def between(old: str, new: str) -> Change:
    return compare(side(old), side(new))


def from_root(topic: str, space: str) -> str:
    return topic if topic.startswith("/") else f"/{space}/{topic}" if space else f"/{topic}"


#: One change each of what topics follow from, and the namespaces before and after.
CHANGES = {
    "its own topic": (SCOUT.replace("frame: laser_frame}", "frame: laser_frame, topic: sweep}"), ""),
    "another lidar": (SCOUT.replace(LIDAR, SECOND), ""),
    "a camera's topic": (SCOUT.replace("part: depth_camera, on: holder", "part: depth_camera, on: holder, topic: eye"), ""),
    "namespace": (SCOUT.replace("ros:\n", "ros:\n  namespace: squad/one\n"), "squad/one"),
    "nothing of topics": (SCOUT.replace("pitch: 15", "pitch: 20"), ""),
}


@pytest.mark.parametrize("name", CHANGES)
def test_every_topic_that_changed_in_the_files_is_told(name: str) -> None:
    new, space = CHANGES[name]
    before, now = written(SCOUT), written(new)
    rooted = bool(space)
    assert before.page.keys() == {s.message_frame for s in side(SCOUT).assembly.sensors}
    told = between(SCOUT, new).changed.topics_of_stayed
    shown = {frame: tuple(from_root(t, s) if rooted else t for t, s in ((before.page[frame], ""), (now.page[frame], space)))
             for frame in before.page.keys() & now.page.keys()}
    assert {frame: (pair.old, pair.new) for frame, pair in told.items() if "." not in frame} == {
        frame: topics for frame, topics in shown.items() if topics[0] != topics[1]}
    sensors = {t: k for t, k in before.bridge.items() if k.startswith("sensor_msgs/") and not k.endswith("JointState")}
    gone = set(sensors) - set(now.bridge)
    assert gone <= {from_root(pair.old, "") for pair in told.values() if pair.old is not None}
    assert bool(told) == (name != "nothing of topics")
    text = change_text(between(SCOUT, new))
    assert ("restart subscribers: another topic: " in text) == bool(told)
    for frame, pair in told.items():
        label = frame if "." not in frame else frame.replace(".", ": ")
        assert f"{label}{'' if '.' in frame else ':'} topic {pair.old or 'none'} before, {pair.new or 'none'} now" in text


def test_streams_beside_the_measurement_are_told() -> None:
    change = between(SCOUT, CHANGES["a camera's topic"][0])
    told = {name: pair.new for name, pair in change.changed.topics.items()}
    assert told == {"depth_optical_frame": "eye/points", "depth_optical_frame.image": "eye/image",
                    "depth_optical_frame.depth": "eye/depth_image", "depth_optical_frame.info": "eye/camera_info"}
    data = change_data(change)["changed"]
    assert data["depth_optical_frame.topic"][1] == "eye/points"
    assert data["depth_optical_frame.info_topic"][1] == "eye/camera_info"


def test_a_scan_that_is_made_of_a_cloud_is_told() -> None:
    change = between(SCOUT, SCOUT.replace("ros:\n", "ros:\n  scan_from: depth\n"))
    assert "depth_optical_frame: scan topic none before, depth/scan now" in change_text(change)


def test_types_are_those_of_the_bridge() -> None:
    """The bridge's types are checked against ros_gz in the tests of Gazebo; contacts, which a simulator tells otherwise, are left
    out."""
    robot = side(SCOUT).assembly
    known = written(SCOUT).bridge
    for streams in published_by_sensors(robot).values():
        for one in streams:
            if from_root(one.topic, "") in known:
                assert known[from_root(one.topic, "")] == one.type
    assert {s.frame for streams in published_by_sensors(robot).values() for s in streams} <= set(robot.poses)


def test_who_must_know_that_a_sensor_came_or_went() -> None:
    """navigation2 {branch}:nav2_collision_monitor/src/collision_monitor_node.cpp: a source that sends nothing stops the robot."""
    more = SCOUT.replace(LIDAR, SECOND)
    told = "restart Nav2 costmaps and collision monitor: other sensors mark obstacles: low_lidar_frame"
    came, went = " ".join(change_text(between(SCOUT, more)).split()), " ".join(change_text(between(more, SCOUT)).split())
    assert told in came and "a source that is gone" not in came
    assert f"{told}; a source that is gone stops the robot" in went
    assert "mark obstacles" not in change_text(between(SCOUT, SCOUT.replace("at: [0, 0], points: back", "at: [2, 0], points: back")))
