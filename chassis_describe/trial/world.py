"""The world around a simulated robot: walls on a grid, from a map or our own few. Unknown cells are free floor."""
from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from typing import TYPE_CHECKING, Any

from chassis_describe.errors import UsageError
from chassis_describe.space.pose import Pose, rot_z
from chassis_describe.trial.engine import WorldBox
from chassis_describe.trial.map_file import OCCUPIED, Grid, read_map

if TYPE_CHECKING:
    import numpy as np

#: How high walls are (m).
HEIGHT = 1.0
#: Boxes that walls may come to: a scanned floor of an office has some thousand.
_MOST_BLOCKS = 20_000
#: Without a map: walls (m) on an empty floor, each from one corner to the other, in cells of so many metres.
_FEW = ((2.5, -2.0, 2.6, 2.0), (-2.0, 2.0, 1.0, 2.1), (-2.5, -3.0, 0.5, -2.9), (1.0, 0.9, 1.2, 1.1), (-3.0, -1.0, -2.9, 1.0))
_CELL, _REACH = 0.1, 4.0


class World(Grid):
    """A map whose occupied cells are walls."""

    @property
    def walls(self) -> np.ndarray[Any, Any]:
        """Where a wall stands (rows, columns)."""
        return self.cells >= OCCUPIED

    def blocks(self) -> list[WorldBox]:
        """The walls as few boxes. Raises UsageError where they are too many."""
        x, y, yaw = self.origin
        rectangles = list(islice(_rectangles(self.walls), _MOST_BLOCKS + 1))
        if len(rectangles) > _MOST_BLOCKS:
            raise UsageError(f"the walls of the map come to more than {_MOST_BLOCKS} boxes, and no engine drives among so many: "
                             "take single dark pixels out, or raise `occupied_thresh`")
        grid, r = Pose(rot_z(yaw), (x, y, 0.0)), self.resolution
        return [WorldBox(grid.point(((left + right) * r / 2, (low + high) * r / 2, HEIGHT / 2)),
                         ((right - left) * r, (high - low) * r, HEIGHT), yaw)
                for left, low, right, high in rectangles]


def few_walls() -> World:
    """An empty floor with a few walls; the robot starts in the middle."""
    import numpy as np

    side = round(2 * _REACH / _CELL)
    cells = np.zeros((side, side), dtype=np.int8)
    for x0, y0, x1, y1 in _FEW:
        left, low, right, high = (round((v + _REACH) / _CELL) for v in (x0, y0, x1, y1))
        cells[low:high, left:right] = OCCUPIED
    return World(cells, _CELL, (-_REACH, -_REACH, 0.0))


def read_world(path: str) -> World:
    """The walls of a map file. Raises LayoutError, UsageError as :func:`read_map` does."""
    return World(*read_map(path))


def _rectangles(walls: np.ndarray[Any, Any]) -> Iterator[tuple[int, int, int, int]]:
    """Rectangles (left, low, right, high; in cells, the ends not included) that cover the walls exactly: runs of a row, and
    equal runs of rows above one another as one."""
    import numpy as np

    open_: dict[tuple[int, int], int] = {}
    for row in range(len(walls) + 1):
        runs: dict[tuple[int, int], None] = {}
        if row < len(walls):
            edges = np.flatnonzero(np.diff(np.concatenate(([0], walls[row].astype(np.int8), [0]))))
            runs = {(int(a), int(b)): None for a, b in zip(edges[::2], edges[1::2])}
        for run in [run for run in open_ if run not in runs]:
            yield run[0], open_.pop(run), run[1], row
        for run in runs:
            open_.setdefault(run, row)
