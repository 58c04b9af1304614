"""Convex bodies of corners and planes in a scene, exactly: what holds a point, what a plane cuts out, where rays run."""
from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from chassis_describe.space.pose import Pose
from chassis_describe.space.solids import Hull

Array = npt.NDArray[np.float64]

#: Elements of the largest array that one batch of rays makes.
_BATCH = 2_000_000


class PlacedHull(NamedTuple):
    """``which``: position in the list that the scene was made from; ``planes``: outward unit normal and offset."""

    which: int
    points: Array  # (n, 3)
    edges: npt.NDArray[np.intp]  # (m, 2) rows of points
    planes: Array  # (k, 4)

    @property
    def ball(self) -> tuple[Array, float]:
        """Centre and radius of a ball that holds it."""
        middle = np.asarray(self.points.mean(axis=0))
        return middle, float(np.sqrt(((self.points - middle) ** 2).sum(axis=1).max()))

    def seen_from(self, r: Array, t: Array) -> PlacedHull:
        """In the axes (columns of ``r``) of an eye at ``t``."""
        normals, offsets = self.planes[:, :3], self.planes[:, 3]
        return self._replace(points=(self.points - t) @ r, planes=np.column_stack([normals @ r, offsets - normals @ t]))

    def holds(self, point: Array, depth: float) -> bool:
        """Whether a point is inside, deeper than ``depth`` (negative: or that near to all planes)."""
        return bool((self.planes[:, :3] @ point < self.planes[:, 3] - depth).all())

    def smaller(self, by: float) -> PlacedHull:
        """With every face further in by ``by`` or a little more."""
        middle = self.points.mean(axis=0)
        room = float((self.planes[:, 3] - self.planes[:, :3] @ middle).min())
        share = 1.0 - min(by / room, 1.0)
        at = self.planes[:, :3] @ middle
        return self._replace(points=middle + (self.points - middle) * share,
                             planes=np.column_stack([self.planes[:, :3], at + (self.planes[:, 3] - at) * share]))

    def section(self, reach: float) -> Array:
        """Points (p, 2) of its section with z = 0, its corners among them, and where it is left by the circle of radius
        ``reach``: the extreme angles of what is within reach are theirs."""
        from chassis_describe.space.plane.hull import convex_hull

        a, b = self.points[self.edges[:, 0]], self.points[self.edges[:, 1]]
        cut = (a[:, 2] < 0) != (b[:, 2] < 0)
        a, b = a[cut], b[cut]
        share = (a[:, 2] / (a[:, 2] - b[:, 2]))[:, None]
        corners = a[:, :2] + share * (b[:, :2] - a[:, :2])
        far = np.hypot(corners[:, 0], corners[:, 1]) > reach
        if not far.any():
            return np.asarray(corners)
        ring = convex_hull(map(tuple, corners.tolist()))
        out = [p for p in ring if math.hypot(*p) <= reach]
        for (x, y), (u, v) in zip(ring, [*ring[1:], ring[0]]):
            du, dv = u - x, v - y
            qa, qb, qc = du * du + dv * dv, x * du + y * dv, x * x + y * y - reach * reach
            root2 = qb * qb - qa * qc
            if qa > 0 and root2 > 0:
                for s in ((-qb - math.sqrt(root2)) / qa, (-qb + math.sqrt(root2)) / qa):
                    if 0 <= s <= 1:
                        out.append((x + s * du, y + s * dv))
        return np.array(out).reshape(-1, 2)

    def met(self, rays: Array) -> tuple[Array, Array]:
        """Where rays (m, 3) from the origin enter and leave it; what it misses is left before it is entered."""
        entered, left = np.full(len(rays), np.inf), np.full(len(rays), -np.inf)
        middle, bound = self.ball
        near2 = float(middle @ middle) - bound * bound
        some = np.flatnonzero(rays @ middle >= math.sqrt(near2)) if near2 > 0 else np.arange(len(rays))
        offsets = self.planes[:, 3]
        step = max(1, _BATCH // len(offsets))
        for k in range(0, len(some), step):
            rows = some[k:k + step]
            slope = rays[rows] @ self.planes[:, :3].T
            with np.errstate(divide="ignore", invalid="ignore"):
                at = offsets / slope
            outside = ((slope == 0) & (offsets <= 0)).any(axis=1)
            entered[rows] = np.where(outside, np.inf, np.where(slope < 0, at, -np.inf).max(axis=1))
            left[rows] = np.where(slope > 0, at, np.inf).min(axis=1)
        return entered, left


def placed_hull(which: int, hull: Hull, pose: Pose) -> PlacedHull:
    """A hull whose centre frame is at ``pose``."""
    r, t = np.array(pose.r).reshape(3, 3), np.array(pose.t)
    planes = np.array(hull.planes)
    normals = planes[:, :3] @ r.T
    return PlacedHull(which, np.array(hull.points) @ r.T + t, np.array(hull.edges, dtype=np.intp),
                      np.column_stack([normals, planes[:, 3] + normals @ t]))
