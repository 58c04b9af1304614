"""RViz opens with the whole robot in view, and near: every demo, by the geometry of its orbit camera.

ros2/rviz jazzy: rviz_default_plugins/src/rviz_default_plugins/view_controllers/orbit/orbit_view_controller.cpp (the eye at
yaw, pitch and distance about the focal point); an Ogre camera's vertical view is 45 degrees (Ogre::Frustum, default).
"""
from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import yaml

from chassis_describe import assemble, read
from chassis_describe.facts.heights import heights_of
from chassis_describe.targets.package import rviz
from tests.demos import DEMOS
from tests.targets.test_shape_in_nav2 import points_of


@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_the_robot_fills_the_view(path: Path) -> None:
    assembly = assemble(read(path))
    (file,) = rviz.artifacts(assembly)
    view = yaml.safe_load(file.data)["Visualization Manager"]["Views"]["Current"]
    focus = np.array([view["Focal Point"][axis] for axis in "XYZ"])
    yaw, pitch = view["Yaw"], view["Pitch"]
    back = np.array([math.cos(yaw) * math.cos(pitch), math.sin(yaw) * math.cos(pitch), math.sin(pitch)])
    right = np.array([-math.sin(yaw), math.cos(yaw), 0.0])
    flat = points_of(assembly)
    spots = np.vstack([np.column_stack([flat, np.full(len(flat), z)]) for z in (0.0, heights_of(assembly).top)])
    off = spots - (focus + view["Distance"] * back)
    depth = -(off @ back)
    assert (depth > view["Near Clip Distance"]).all()
    up, across = off @ np.cross(back, right) / depth, off @ right / depth
    half = math.tan(math.radians(22.5))
    assert np.abs(up).max() < half and np.abs(across).max() < half, "all of it, in a square window as well"
    assert max(np.ptp(up), np.ptp(across)) > 0.5 * 2 * half, "and no speck in the distance"
