"""The robot within the shape that Nav2 makes of what is written: footprint or radius, with its padding.

navigation2 {humble,jazzy,kilted,lyrical}:nav2_costmap_2d/src/footprint.cpp: makeFootprintFromRadius puts 16 points on the circle,
the first at angle 0; padFootprint moves each coordinate outward by the padding, and one that is 0 not at all (sign0).
"""
from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import yaml
from shapely.geometry import MultiPoint, Polygon

from chassis_describe import assemble, read
from chassis_describe.facts.sight import blockers_of
from chassis_describe.space.sight.scene import Sheet
from chassis_describe.space.solids import Box, Cylinder, Hull, Sphere
from chassis_describe.targets.stack import navigation
from tests.demos import DEMOS

TOP = Path(__file__).resolve().parents[2]
ROBOTS = [*DEMOS, *(TOP / "tests/targets/layouts" / f"{n}.yaml" for n in (
    "two_wheels", "disc", "mecanum", "clouds"))]


def drawn(costmap: dict[str, Any]) -> list[tuple[float, float]]:
    """The polygon that a costmap has in the end."""
    if "footprint" in costmap:
        points = [tuple(p) for p in json.loads(costmap["footprint"])]
    else:
        radius = costmap["robot_radius"]
        points = [(radius * math.cos(k * 2 * math.pi / 16), radius * math.sin(k * 2 * math.pi / 16)) for k in range(16)]
    padding = costmap["footprint_padding"]
    return [tuple(v + padding * ((v > 0) - (v < 0)) for v in p) for p in points]  # type: ignore[misc]


def points_of(assembly: Any) -> Any:
    """Corners and rims of every true solid, seen from above in the root frame."""
    into_root = assembly.poses[assembly.root].inverse()
    turn = np.linspace(0, 2 * math.pi, 48, endpoint=False)
    rows = []
    for solid, pose in blockers_of(assembly).solids:
        if isinstance(solid, Sheet):
            flat = np.asarray(solid.region.convex_hull.exterior.coords)[:, :2]
            local = np.vstack([np.column_stack([flat, np.full(len(flat), z)]) for z in (0.0, -solid.thickness)])
        elif isinstance(solid, Hull):
            local = np.array(solid.points)
        elif isinstance(solid, Box):
            local = np.array([(x, y, z) for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)]) * np.array(solid.size) / 2
        elif isinstance(solid, Cylinder):
            rim = np.column_stack([np.cos(turn), np.sin(turn)]) * solid.radius
            local = np.vstack([np.column_stack([rim, np.full(len(rim), s * solid.length / 2)]) for s in (-1, 1)])
        else:
            assert isinstance(solid, Sphere)
            local = np.vstack([np.column_stack([np.cos(turn), np.sin(turn), 0 * turn]),
                               np.column_stack([np.cos(turn), 0 * turn, np.sin(turn)])]) * solid.radius
        placed = into_root @ pose
        rows.append((local @ np.array(placed.r).reshape(3, 3).T + np.array(placed.t))[:, :2])
    return np.vstack(rows)


@pytest.mark.parametrize("path", ROBOTS, ids=lambda p: p.stem)
def test_nothing_of_the_robot_is_outside(path: Path) -> None:
    assembly = assemble(read(path))
    (file,) = navigation.artifacts(assembly)
    text = yaml.safe_load(file.data)
    hull = MultiPoint(points_of(assembly)).convex_hull
    for name in ("local_costmap", "global_costmap"):
        shape = Polygon(drawn(text[name][name]["ros__parameters"]))
        assert shape.is_valid
        assert hull.difference(shape.buffer(1e-6)).is_empty, name
        # and no more than it needs: a grid of millimetres, sixteen corners, and what moves or swings
        if path.stem in ("draught_scout", "two_wheels", "disc"):
            assert shape.area < 1.08 * hull.area
