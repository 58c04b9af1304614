"""Frames that a parameter file names: those that have another name since, and those that don't exist."""
from __future__ import annotations

from collections.abc import Mapping

from chassis_describe.sync.wanted import Wanted
from chassis_describe.words import nearest

#: Parameters that name a frame of the robot. Nav2, robot_localization, slam_toolbox, laser_filters, pcl_ros, ros2_controllers.
OF_THE_ROBOT = frozenset({
    "robot_base_frame", "base_frame_id", "base_frame", "base_link_frame", "sensor_frame", "frame_id", "input_frame", "box_frame",
    "polygon_frame", "target_frame"})


def frame_of(leaf: str, name: str, want: Wanted, renamed: Mapping[str, str]) -> tuple[str | None, str | None]:
    """The name that is due, or the reason why this one stays although it can't be right; neither where there is nothing to say."""
    if leaf not in OF_THE_ROBOT or not name or name in want.frames or name in want.above:
        return None, None
    now = renamed.get(name)
    if now is not None:
        return now, None
    near = nearest(name, sorted(want.frames))
    return None, (f"there is no frame `{name}` in this robot" + (f"; did you mean `{near}`?" if near else "")
                  + "; if it was renamed, --since OLD renames it here too")
