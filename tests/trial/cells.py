"""Rays of the tests' own through a map, cell by cell: what simulated scans are held against."""
from __future__ import annotations

from typing import Any

import numpy as np


def by_cells(world: Any, eye: Any, directions: Any) -> Any:
    """Distances to the nearest wall, each occupied cell a box of its own, met by its slabs (Kay and Kajiya 1986); walls 1 m."""
    rows, columns = np.nonzero(world.walls)
    low = np.stack([columns, rows], axis=1) * world.resolution + np.array(world.origin[:2])
    low, high = np.column_stack([low, np.zeros(len(low))]), np.column_stack([low + world.resolution, np.ones(len(low))])
    out = []
    for d in directions:
        with np.errstate(divide="ignore", invalid="ignore"):
            a, b = (low - eye) / d, (high - eye) / d
        enter, leave = np.fmax.reduce(np.minimum(a, b), axis=1), np.fmin.reduce(np.maximum(a, b), axis=1)
        met = enter[(enter <= leave) & (leave > 0)]
        out.append(met.min() if len(met) else np.inf)
    return np.array(out)


def smooth(distances: Any) -> Any:
    """Where a beam and both its neighbours (round and round) meet much the same: at the edge of a wall the last digit decides."""
    held = np.where(np.isfinite(distances), distances, 99.0)
    return (held < 99.0) & (np.abs(np.roll(held, 1) - held) < 0.1) & (np.abs(np.roll(held, -1) - held) < 0.1)
