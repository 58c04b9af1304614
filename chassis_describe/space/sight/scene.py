"""Many solids at once, as arrays, seen from one place. Metres.

A :class:`Scene` sorts boxes, cylinders, spheres, convex hulls and sheets (flat plates of any outline) by kind, so that a scan plane
or a bundle of rays meets thousands of them in a few array operations. ``scene.seen_from(pose)`` gives the solids in
the axes of an eye, whose origin is then (0, 0, 0); sections and rays start from there.
"""
from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import cached_property
from typing import Any, NamedTuple, Union

import numpy as np
import numpy.typing as npt

from chassis_describe.errors import never
from chassis_describe.space.pose import Pose, Vec3
from chassis_describe.space.sight.hulls import PlacedHull, placed_hull
from chassis_describe.space.solids import Box, Cylinder, Hull, Solid, Sphere
from chassis_describe.values import dataclass

Array = npt.NDArray[Any]

#: How far a point must be inside a solid to count as inside, and a chord to count as a hit (m). Origins sit on the
#: front faces of their cases and scan planes touch lids; rounding must not turn that into a blocked view.
SKIN = 1e-7
#: Edges of sheets are simplified to this for rays (m); rays are much further apart.
RAY_EDGE = 2e-5


@dataclass(frozen=True)
class Sheet:
    """A flat plate from z = -thickness to z = 0.

    ``shape``: its region in x and y (a shapely polygon or multipolygon), or a function that makes it when something
    first comes near; ``around``: bounds of that region (x low, y low, x high, y high), where they are known before.
    """

    shape: Any
    thickness: float
    around: tuple[float, float, float, float] | None = None

    @cached_property
    def region(self) -> Any:
        """The region in x and y, made on first use."""
        return self.shape() if callable(self.shape) else self.shape

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """A box around the region: x low, y low, x high, y high."""
        if self.around is not None:
            return self.around
        x0, y0, x1, y1 = self.region.bounds
        return (x0, y0, x1, y1)

    def near(self, x: float, y: float, margin: float) -> bool:
        """Whether a point is within ``margin`` of those bounds."""
        x0, y0, x1, y1 = self.bounds
        return x0 - margin < x < x1 + margin and y0 - margin < y < y1 + margin

    @cached_property
    def ray_edges(self) -> Array:
        """The edges of the region, (k, 4), simplified to RAY_EDGE."""
        return ring_edges(self.region.simplify(RAY_EDGE))


class SolidGroup(NamedTuple):
    """Solids of one kind. ``half``: half edges (box); radius twice, half length (cylinder, z); radius (sphere)."""

    which: Array  # (n,) int: position in the list that the scene was made from
    centre: Array  # (n, 3)
    turn: Array  # (n, 3, 3) columns are the solid's axes
    half: Array  # (n, 3)
    bound: Array  # (n,) radius of the sphere about the centre that holds it

    def keep(self, which: Any) -> SolidGroup:
        """Only those of a mask, or of a list of rows."""
        return SolidGroup(*(column[which] for column in self))


class PlacedSheet(NamedTuple):
    which: int
    sheet: Sheet
    pose: Pose


@dataclass(frozen=True)
class Scene:
    """Solids in one frame."""

    boxes: SolidGroup
    cylinders: SolidGroup
    spheres: SolidGroup
    sheets: tuple[PlacedSheet, ...]
    hulls: tuple[PlacedHull, ...] = ()

    @property
    def groups(self) -> tuple[SolidGroup, SolidGroup, SolidGroup]:
        """The solids with a centre, by kind."""
        return (self.boxes, self.cylinders, self.spheres)

    def seen_from(self, eye: Pose, without: Iterable[int] = ()) -> Scene:
        """The scene in the axes of ``eye`` (a pose in the scene's frame), less the solids of those indices."""
        r = np.array(eye.r).reshape(3, 3)
        t = np.array(eye.t)
        left_out = np.array(sorted(without), dtype=int)
        back = eye.inverse()
        gone = set(left_out.tolist())
        boxes, cylinders, spheres = (_moved(g, r, t, left_out) for g in self.groups)
        sheets = tuple(PlacedSheet(s.which, s.sheet, back @ s.pose) for s in self.sheets if s.which not in gone)
        return Scene(boxes, cylinders, spheres, sheets, tuple(h.seen_from(r, t) for h in self.hulls if h.which not in gone))

    def holding(self, point: Vec3 = (0.0, 0.0, 0.0), depth: float = SKIN) -> list[int]:
        """Indices of the solids that have the point inside, deeper than ``depth`` (negative: or that near)."""
        found: list[int] = []
        p = np.array(point)
        for kind, group in enumerate(self.groups):
            local = np.abs(np.einsum("nij,ni->nj", group.turn, p - group.centre))
            room = group.half - depth
            if kind == 0:
                inside = (local < room).all(axis=1)
            elif kind == 1:
                inside = (np.hypot(local[:, 0], local[:, 1]) < room[:, 0]) & (local[:, 2] < room[:, 2])
            else:
                inside = np.sqrt((local**2).sum(axis=1)) < room[:, 0]
            found += group.which[inside].tolist()
        found += [hull.which for hull in self.hulls if hull.holds(p, depth)]
        for placed in self.sheets:
            x, y, z = placed.pose.inverse().point(point)
            sheet = placed.sheet
            if (-sheet.thickness + depth < z < -depth and sheet.near(x, y, max(-depth, 0.0))
                    and in_region(sheet.region, x, y, depth)):
                found.append(placed.which)
        return sorted(found)


def scene_of(solids: Sequence[tuple[Union[Solid, Sheet], Pose]]) -> Scene:
    """Sort solids with their poses into a scene; indices are positions in the sequence."""
    rows: tuple[list[tuple[int, Pose, Vec3, float]], ...] = ([], [], [])
    sheets: list[PlacedSheet] = []
    hulls: list[PlacedHull] = []
    for i, (solid, pose) in enumerate(solids):
        if isinstance(solid, Hull):
            hulls.append(placed_hull(i, solid, pose))
        elif isinstance(solid, Box):
            x, y, z = solid.size
            rows[0].append((i, pose, (x / 2, y / 2, z / 2), math.sqrt(x * x + y * y + z * z) / 2))
        elif isinstance(solid, Cylinder):
            r, h = solid.radius, solid.length / 2
            rows[1].append((i, pose, (r, r, h), math.hypot(r, h)))
        elif isinstance(solid, Sphere):
            r = solid.radius
            rows[2].append((i, pose, (r, r, r), r))
        elif isinstance(solid, Sheet):
            sheets.append(PlacedSheet(i, solid, pose))
        else:
            raise never(solid)
    boxes, cylinders, spheres = (_group(r) for r in rows)
    return Scene(boxes, cylinders, spheres, tuple(sheets), tuple(hulls))


def _group(rows: list[tuple[int, Pose, Vec3, float]]) -> SolidGroup:
    n = len(rows)
    return SolidGroup(np.array([r[0] for r in rows], dtype=int),
                      np.array([r[1].t for r in rows], dtype=float).reshape(n, 3),
                      np.array([r[1].r for r in rows], dtype=float).reshape(n, 3, 3),
                      np.array([r[2] for r in rows], dtype=float).reshape(n, 3),
                      np.array([r[3] for r in rows], dtype=float))


def _moved(group: SolidGroup, r: Array, t: Array, left_out: Array) -> SolidGroup:
    if len(left_out):
        group = group.keep(~np.isin(group.which, left_out))
    return SolidGroup(group.which, (group.centre - t) @ r, np.matmul(r.T, group.turn), group.half, group.bound)


def ring_edges(region: Any) -> Array:
    """Segments of every ring of a polygon or multipolygon: array (k, 4) of x0, y0, x1, y1."""
    rows = []
    for polygon in polygons(region):
        for ring in (polygon.exterior, *polygon.interiors):
            points = np.asarray(ring.coords)[:, :2]
            rows.append(np.hstack([points[:-1], points[1:]]))
    return np.vstack(rows) if rows else np.zeros((0, 4))


def polygons(region: Any) -> list[Any]:
    """The polygons of any shapely geometry; points and lines (mere touching) fall away."""
    if region.is_empty:
        return []
    if region.geom_type == "Polygon":
        return [region]
    if hasattr(region, "geoms"):
        return [p for part in region.geoms for p in polygons(part)]
    return []


def in_region(region: Any, x: float, y: float, depth: float = 0.0) -> bool:
    """Whether the point lies in the region, deeper than ``depth`` (negative: or that near)."""
    from shapely.geometry import Point

    point = Point(x, y)
    if depth < 0:
        return bool(region.distance(point) < -depth)
    return bool(region.contains(point) and region.boundary.distance(point) > depth)
