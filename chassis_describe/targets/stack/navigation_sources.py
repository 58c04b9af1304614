"""What of a robot's sensors marks obstacles for Nav2: names, topics, frames and the heights that count."""
from __future__ import annotations

import math
from typing import NamedTuple

from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.facts.heights import HEADROOM, heights_of
from chassis_describe.facts.kinds_of_sensor import is_cloud, is_scanner
from chassis_describe.facts.looks import measures_around
from chassis_describe.facts.sensor_topics import cloud_topics, scan_topics, source_name
from chassis_describe.targets.stack.topics import sensor_topics

#: Parameters that stand beside the blocks of sources in Nav2's own namespaces: no source may be called so
#: (navigation2 {branch}:nav2_costmap_2d/plugins/obstacle_layer.cpp, nav2_collision_monitor/src/).
_TAKEN = frozenset({
    "base_frame_id", "base_shift_correction", "cmd_vel_in_topic", "cmd_vel_out_topic", "combination_method",
    "enable_stamped_cmd_vel", "enabled", "footprint_clearing_enabled", "max_obstacle_height", "min_obstacle_height",
    "observation_sources", "odom_frame_id", "plugin", "polygons", "source_timeout", "state_topic", "stop_pub_timeout",
    "tf_filter_tolerance", "track_unknown_space", "transform_tolerance", "use_sim_time"})


class ObservationSource(NamedTuple):
    """One observation source: its name in the parameter file, kind, topic, and the heights (m) that count."""

    name: str
    kind: str  # scan, pointcloud, range: the collision monitor's words
    topic: str
    frame: str | None  # None: the driver's own, known only from its messages
    low: float
    high: float
    facet: SensorFacet


def sources(assembly: Assembly) -> tuple[ObservationSource, ...]:
    """Everything that measures obstacles, in the order of the layout, with the heights over ground that count.

    From the clearance under the body (what is lower passes beneath) to a little over the robot's top (what is higher
    passes above). A 2D scan always lies inside its own band, also when it looks out under the body or over the top.
    A ranger that looks at the floor or the ceiling is none: Nav2 lays its reading flat, whatever its height, and would find
    an obstacle in the robot's own outline (navigation2 {branch}:nav2_collision_monitor/src/range.cpp, getData).
    """
    clearance, top, _ = heights_of(assembly)
    topics, scans, clouds = sensor_topics(assembly), scan_topics(assembly), cloud_topics(assembly)
    base_in_root = assembly.poses[assembly.root].inverse()
    found: list[ObservationSource] = []
    for facet in assembly.sensors:
        frame = None if facet.sensor.driver_tf else facet.message_frame
        name = source_name(assembly, facet)
        name += "_source" if name in _TAKEN else ""
        if is_scanner(facet):
            height = (base_in_root @ facet.pose).t[2]
            low = min(clearance, max(height, 0.0) / 2)
            found.append(ObservationSource(name, "scan", scans[facet.frame], frame, _down(low),
                                _up(max(top, height) + HEADROOM), facet))
        elif is_cloud(facet):
            found.append(ObservationSource(name, "pointcloud", clouds[facet.frame], frame, _down(clearance),
                                _up(top + HEADROOM), facet))
        elif facet.sensor.kind == "ranger" and measures_around(assembly, facet):
            found.append(ObservationSource(name, "range", topics[facet.frame], frame, 0.0, _up(top + HEADROOM), facet))
    return tuple(found)


def _down(height: float) -> float:
    return math.floor(height * 1e3 + 1e-6) / 1e3


def _up(height: float) -> float:
    return math.ceil(height * 1e3 - 1e-6) / 1e3
