"""Which of many solids can overlap at all: boxes along the axes, then widths along each pair's own axes. Metres.

Everything here works on whole arrays, so that thousands of solids take milliseconds; what is left goes to the exact
test one pair at a time.
"""
from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import numpy.typing as npt

from chassis_describe.space.overlap.convex import Array
from chassis_describe.space.pose import Pose
from chassis_describe.space.solids import Box, Cylinder, Solid, Sphere

Indices = npt.NDArray[np.intp]

#: Pairs looked at in one go: some tens of milliseconds, some megabytes.
_CHUNK = 100_000


class Crowd:
    """Solids in one frame as arrays: centres (n, 3), axes (n, 3, 3) by rows, half-segments (n, 3), disc radii about
    the last axis (n,), ball radii (n,), and half extents along the frame's axes (n, 3)."""

    __slots__ = ("axes", "balls", "centres", "extents", "halves", "radii")

    def __init__(self, solids: Sequence[Solid], poses: Sequence[Pose]) -> None:
        n = len(solids)
        self.centres = np.array([p.t for p in poses], float).reshape(n, 3)
        self.axes = np.array([p.r for p in poses], float).reshape(n, 3, 3).transpose(0, 2, 1)
        shapes = np.zeros((n, 5))
        for row, solid in zip(shapes, solids):
            if isinstance(solid, Box):
                row[:3] = solid.size
            elif isinstance(solid, Cylinder):
                row[2:4] = solid.length, solid.radius
            else:
                assert isinstance(solid, Sphere)
                row[4] = solid.radius
        self.halves, self.radii, self.balls = shapes[:, :3] / 2, shapes[:, 3], shapes[:, 4]
        across = np.sqrt(np.maximum(0.0, 1.0 - self.axes[:, 2] ** 2))
        self.extents = (np.einsum("nik,ni->nk", np.abs(self.axes), self.halves) + self.radii[:, None] * across
                        + self.balls[:, None])

    def widths(self, rows: Indices, directions: Array) -> Array:
        """Half-width of each given solid along its own unit direction (k, 3)."""
        along = np.einsum("kij,kj->ki", self.axes[rows], directions)
        across = np.sqrt(np.maximum(0.0, 1.0 - along[:, 2] ** 2))
        out: Array = (np.abs(along) * self.halves[rows]).sum(axis=1) + self.radii[rows] * across + self.balls[rows]
        return out

    def along(self, direction: Sequence[float]) -> Array:
        """Half-width of every solid along one unit direction."""
        n = len(self.centres)
        return self.widths(np.arange(n), np.broadcast_to(np.asarray(direction, float), (n, 3)))


def near_pairs(crowd: Crowd, group: Indices, margin: float = 0.0, *, chunk: int = _CHUNK) -> Iterator[tuple[Indices, Indices]]:
    """Pairs (i, j), i < j, of different groups whose boxes along the axes overlap by more than ``-margin`` in all three.

    Some at a time, ascending among themselves: about ``chunk`` pairs are looked at for each, so that whoever has had enough
    of them need not wait for the rest.
    """
    low, high = crowd.centres - crowd.extents - margin / 2, crowd.centres + crowd.extents + margin / 2
    n = len(low)
    if n < 2:
        return
    sweep = int(np.argmax(crowd.centres.std(axis=0) / (crowd.extents.mean(axis=0) + 1e-12)))
    order = np.argsort(low[:, sweep], kind="stable")
    starts = low[order, sweep]
    ends = np.searchsorted(starts, high[order, sweep], side="left")
    counts = np.maximum(0, ends - np.arange(n) - 1)
    others = [axis for axis in range(3) if axis != sweep]
    begin = 0
    while begin < n:
        stop = min(max(begin + 1, int(np.searchsorted(np.cumsum(counts[begin:]), chunk)) + begin), n)
        part = counts[begin:stop]
        first = np.repeat(np.arange(begin, stop), part)
        offset = np.arange(len(first)) - np.repeat(np.cumsum(part) - part, part)
        i, j = order[first], order[first + 1 + offset]
        for axis in others:
            keep = (low[i, axis] < high[j, axis]) & (low[j, axis] < high[i, axis])
            i, j = i[keep], j[keep]
        keep = group[i] != group[j]
        i, j = i[keep], j[keep]
        i, j = np.minimum(i, j), np.maximum(i, j)
        by = np.lexsort((j, i))
        yield i[by], j[by]
        begin = stop


def deep_pairs(crowd: Crowd, i: Indices, j: Indices, limit: float) -> tuple[Indices, Indices]:
    """Those pairs that overlap by more than ``limit`` along all of their own axes and the line of their centres."""
    for which in range(7):
        if not len(i):
            break
        between = crowd.centres[j] - crowd.centres[i]
        if which < 6:
            d = crowd.axes[i if which < 3 else j, which % 3]
        else:
            length = np.sqrt((between * between).sum(axis=1))
            d = np.where(length[:, None] > 1e-12, between / np.maximum(length, 1e-12)[:, None], [0.0, 0.0, 1.0])
        overlap = crowd.widths(i, d) + crowd.widths(j, d) - np.abs((between * d).sum(axis=1))
        keep = overlap > limit
        i, j = i[keep], j[keep]
    return i, j
