"""An RViz file that shows the robot: grid, frames and model.

Keys as RViz 2 writes them itself (repository ros2/rviz, rviz_common/default.rviz). The description topic is latched:
with volatile durability an RViz that starts after robot_state_publisher would wait for ever (robot_state_publisher
publishes it transient local, reliable, depth 1).
"""
from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.footprint import footprint_of
from chassis_describe.facts.heights import heights_of
from chassis_describe.facts.sensor_topics import cloud_topics, made_scan_topic, published_by_sensors, scan_topics, source_name
from chassis_describe.facts.slam_lidar import source_of_scan
from chassis_describe.targets.names import Given, RvizNames
from chassis_describe.targets.stack.topics import odometry_topic, sensor_topics
from chassis_describe.targets.target import Target

FOOTPRINT_TOPIC = "local_costmap/published_footprint"  # navigation2 {branch}:nav2_costmap_2d/src/costmap_2d_ros.cpp
_TEXT = """\
Panels:
  - Class: rviz_common/Displays
    Name: Displays
  - Class: rviz_common/Views
    Name: Views
Visualization Manager:
  Class: ""
  Displays:
    - Alpha: 0.5
      Cell Size: @CELL@
      Class: rviz_default_plugins/Grid
      Color: 160; 160; 164
      Enabled: true
      Name: Grid
      Normal Cell Count: 0
      Plane: XY
      Plane Cell Count: 20
      Reference Frame: <Fixed Frame>
      Value: true
    - Alpha: 1
      Class: rviz_default_plugins/RobotModel
      Collision Enabled: false
      Description File: ""
      Description Source: Topic
      Description Topic:
        Depth: 1
        Durability Policy: Transient Local
        History Policy: Keep Last
        Reliability Policy: Reliable
        Value: robot_description
      Enabled: true
      Mass Properties:
        Inertia: false
        Mass: false
      Name: RobotModel
      TF Prefix: ""
      Update Interval: 0
      Value: true
      Visual Enabled: true
    - Class: rviz_default_plugins/TF
      Enabled: true
      Frame Timeout: 15
      Marker Scale: @MARKER@
      Name: TF
      Show Arrows: false
      Show Axes: true
      Show Names: false
      Value: true
@SENSORS@  Enabled: true
  Global Options:
    Background Color: 48; 48; 48
    Fixed Frame: @ROOT@
    Frame Rate: 30
  Name: root
  Tools:
    - Class: rviz_default_plugins/MoveCamera
    - Class: rviz_default_plugins/Measure
  Value: true
  Views:
    Current:
      Class: rviz_default_plugins/Orbit
      Distance: @DISTANCE@
      Focal Point:
        X: @MIDDLE_X@
        Y: @MIDDLE_Y@
        Z: @MIDDLE_Z@
      Name: Current View
      Near Clip Distance: 0.01
      Pitch: 0.45
      Target Frame: <Fixed Frame>
      Value: Orbit (rviz)
      Yaw: 0.8
Window Geometry:
  Height: 800
  Width: 1200
"""


_DISPLAY = """\
    - Class: rviz_default_plugins/@CLASS@
@MORE@      Enabled: @ENABLED@
      Name: @NAME@
      Topic:
        Depth: 5
        Durability Policy: Volatile
        History Policy: Keep Last
        Reliability Policy: @RELIABILITY@
        Value: @TOPIC@
      Value: @ENABLED@
"""
_POINTS = "      Size (Pixels): 3\n      Style: Points\n"
#: Displays that RViz names as the messages that they show: further keys, whether it is on. Best Effort takes what sensors send
#: either way.
_OF_MESSAGE = {"LaserScan": (_POINTS, True), "PointCloud2": (_POINTS, True), "Range": ("", True), "Image": ("", False)}


def artifacts(assembly: Assembly) -> Iterable[Artifact]:
    """The file. The robot's shape sets the view."""
    middle, radius = _extent(assembly)
    size = 2 * radius
    values = {
        "@ROOT@": json.dumps(assembly.root),  # quoted, as YAML would read a frame `on` as True
        "@CELL@": f"{0.1 if size < 2 else 1.0:g}",
        "@MARKER@": f"{size * 0.3:.2g}",
        # A ball of that radius fills a view of 45 degrees (RViz's own), with a tenth around it.
        "@DISTANCE@": f"{1.1 * radius / math.sin(math.radians(22.5)):.3g}",
        **{f"@MIDDLE_{axis}@": f"{round(value, 3) + 0.0:g}" for axis, value in zip("XYZ", middle)},
        "@SENSORS@": "".join(_displays(assembly)),
    }
    text = _TEXT
    for name, value in values.items():
        text = text.replace(name, value)
    yield Artifact(path="rviz/show.rviz", data=text.encode("ascii"))


def _displays(assembly: Assembly) -> Iterator[str]:
    """One for each sensor that RViz can draw by itself, the footprint and odometry."""
    topics = {**sensor_topics(assembly), **scan_topics(assembly), **cloud_topics(assembly)}
    for facet in assembly.sensors:
        message = published_by_sensors(assembly)[facet.frame][0].type.rpartition("/")[2]
        if message in _OF_MESSAGE:
            more, on = _OF_MESSAGE[message]
            yield _display(message, source_name(assembly, facet), topics[facet.frame], "Best Effort", on, more)
    made = source_of_scan(assembly)
    if made is not None:
        name = f"{source_name(assembly, made)} as a scan"
        yield _display("LaserScan", name, made_scan_topic(assembly), "Best Effort", True, _POINTS)
    if assembly.rest is not None:
        yield _display("Polygon", "footprint", FOOTPRINT_TOPIC, "Reliable", True)
    if assembly.drive is not None:
        yield _display("Odometry", "odometry", odometry_topic(assembly), "Best Effort", False)


def _display(kind: str, name: str, topic: str, reliability: str, on: bool, more: str = "") -> str:
    text = _DISPLAY
    for key, value in (("@CLASS@", kind), ("@NAME@", name), ("@TOPIC@", topic), ("@RELIABILITY@", reliability),
                       ("@ENABLED@", str(on).lower()), ("@MORE@", more)):
        text = text.replace(key, value)
    return text


class _Extent(NamedTuple):
    """A ball that holds the robot: its middle over the root, its radius (m)."""

    middle: tuple[float, float, float]
    radius: float


def _extent(assembly: Assembly) -> _Extent:
    """About the middle of the outline and of the height, which on a car is far ahead of the root; frames count where the robot
    has no outline."""
    into_root = assembly.poses[assembly.root].inverse()
    top = max(heights_of(assembly).top, 0.0)
    flat = list(footprint_of(assembly)) or [(into_root @ pose).t[:2] for pose in assembly.poses.values()]
    xs, ys = [p[0] for p in flat], [p[1] for p in flat]
    x, y = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
    reach = max(math.hypot(a - x, b - y) for a, b in flat)
    return _Extent((x, y, top / 2), max(math.hypot(reach, top / 2), 0.025))


def _depends(assembly: Assembly) -> Iterator[str]:
    yield "rviz2"


def _gives(assembly: Assembly) -> Given:
    """What Nav2's costmap publishes, drawn where it runs."""
    return Given(topics=frozenset({FOOTPRINT_TOPIC}))


TARGET = Target(artifacts=artifacts, names=RvizNames(frames=("Fixed Frame", "Target Frame", "Reference Frame")),
                gives=_gives, depends=_depends)
