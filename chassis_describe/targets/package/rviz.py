"""An RViz file that shows the robot: grid, frames and model.

Keys as RViz 2 writes them itself (repository ros2/rviz, rviz_common/default.rviz). The description topic is latched:
with volatile durability an RViz that starts after robot_state_publisher would wait for ever (robot_state_publisher
publishes it transient local, reliable, depth 1).
"""
from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly
from chassis_describe.targets.names import RvizNames
from chassis_describe.targets.target import Target

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
        Value: /robot_description
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
  Enabled: true
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
        X: 0
        Y: 0
        Z: @HEIGHT@
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


def artifacts(assembly: Assembly) -> Iterable[Artifact]:
    """The file. The robot's largest extent sets the view."""
    size = _extent(assembly)
    cell = 0.1 if size < 2 else 1.0
    values = {
        "@ROOT@": json.dumps(assembly.root),  # quoted, as YAML would read a frame `on` as True
        "@CELL@": f"{cell:g}",
        "@MARKER@": f"{max(size, 0.05) * 0.3:.2g}",
        "@DISTANCE@": f"{max(size, 0.05) * 3:.3g}",
        "@HEIGHT@": f"{max(size, 0.05) * 0.25:.2g}",
    }
    text = _TEXT
    for name, value in values.items():
        text = text.replace(name, value)
    yield Artifact(path="rviz/show.rviz", data=text.encode("ascii"))


def _extent(assembly: Assembly) -> float:
    """How far the frames reach from base_link at most, twice, in metres: enough to set a view by."""
    return 2 * max((math.hypot(*pose.t) for pose in assembly.poses.values()), default=0.0)


def _depends(assembly: Assembly) -> Iterator[str]:
    yield "rviz2"


TARGET = Target(artifacts=artifacts, names=RvizNames(frames=("Fixed Frame", "Target Frame", "Reference Frame")),
                depends=_depends)
