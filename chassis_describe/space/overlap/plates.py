"""Solids against true plates: prisms of a polygon with holes, from z = -thickness to 0 in the plate's frame. Metres.

A convex solid and a prism overlap exactly where the shadow of the solid's slice between the faces meets the polygon.
The slice is exact for boxes; round solids are cut as polyhedra inside them that leave at most ``FACET`` (0.01 mm).
The depth is the length of the shortest translation found that clears the plate: straight up or down, along the plate
(the boundary of polygon ⊕ -slice, exact for the facets), and obliquely, four heights on either side and then closer
about the best, each at its shortest. Each of them was seen to clear the plate, so a depth is never too small; where a shorter
way exists that none of them is, it is too large.
"""
from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import Any

import numpy as np
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box
from shapely.ops import unary_union
from shapely.prepared import prep

from chassis_describe.space.overlap.convex import Array, bounds_of, distance, spread
from chassis_describe.space.pose import Pose, Vec3
from chassis_describe.space.solids import Box, Cylinder, Hull, Solid, Sphere

#: Largest distance between a round solid and the polyhedron that stands for it in a slice (m).
FACET = 1e-5
#: A slice is taken smaller by this on every side when it looks for a way out, so that what fits exactly slides (m).
SLIP = 1e-6
_OBLIQUE = 4
#: A shadow and a plate that share less than this (m²) only touch: a micrometre along 100 mm is a thousand times more.
_RUBBING = 1e-10
#: So many corners of what is taken are tried as ways out where the nearest points don't clear.
_CORNERS = 64
#: Of the pieces of a plate in another plate, so many ways out are tried, the deepest first, before straight up or down.
_PIECES = 6
_BOX_EDGES = np.array([(i, j) for i in range(8) for j in range(i + 1, 8) if (i ^ j) in (1, 2, 4)])


class Prism:
    """A plate ready for questions: its polygon (with whatever holes should count) and thickness."""

    __slots__ = ("bounds", "polygon", "prepared", "thickness")

    def __init__(self, polygon: Polygon | MultiPolygon, thickness: float) -> None:
        self.polygon = polygon
        self.prepared: Any = prep(polygon)
        self.thickness = thickness
        self.bounds: tuple[float, float, float, float] = polygon.bounds


class Faceted:
    """A convex solid as points (n, 3) with edges (m, 2), or a ball about its one point."""

    __slots__ = ("ball", "edges", "points")

    def __init__(self, points: Array, edges: Any, ball: float = 0.0) -> None:
        self.points, self.edges, self.ball = points, edges, ball

    def heights(self) -> tuple[float, float]:
        """Lowest and highest z."""
        z = self.points[:, 2]
        return float(z.min()) - self.ball, float(z.max()) + self.ball

    def slice(self, low: float, high: float) -> Any:
        """Shadow in x, y of what lies between two heights, as a shapely geometry (empty where nothing does)."""
        z = self.points[:, 2]
        if self.ball:
            near = min(max(float(z[0]), low), high) - float(z[0])
            radius2 = self.ball**2 - near**2
            if radius2 <= 0:
                return Polygon()
            return _disc(self.points[0, :2], math.sqrt(radius2))
        inside = self.points[(z >= low) & (z <= high), :2]
        rows = [inside]
        start, end = self.points[self.edges[:, 0]], self.points[self.edges[:, 1]]
        for height in (low, high):
            a, b = start[:, 2] - height, end[:, 2] - height
            cut = a * b < 0
            share = (a[cut] / (a[cut] - b[cut]))[:, None]
            rows.append(start[cut, :2] + share * (end[cut, :2] - start[cut, :2]))
        points = np.vstack(rows)
        return LineString(points).convex_hull if len(points) > 2 else Polygon()  # (a MultiPoint is built point by point)


def _sides(radius: float) -> int:
    """Corners of a polygon inside a circle with a sagitta of at most FACET: r(1 - cos(π/n)); a multiple of four."""
    if radius <= 2 * FACET:
        return 8
    return max(16, 4 * math.ceil(math.pi / math.acos(1 - FACET / radius) / 4))


def _disc(centre: Array, radius: float) -> Polygon:
    angles = np.arange(_sides(radius)) * (2 * math.pi / _sides(radius))
    return Polygon((centre + radius * np.stack([np.cos(angles), np.sin(angles)], axis=1)).tolist())


def faceted(solid: Solid, pose: Pose) -> Faceted:
    """The solid at a pose, for slicing."""
    r, t = np.array(pose.r).reshape(3, 3), np.array(pose.t)
    if isinstance(solid, Sphere):
        return Faceted(t[None, :], np.zeros((0, 2), int), solid.radius)
    if isinstance(solid, Hull):
        return Faceted(np.array(solid.points) @ r.T + t, np.array(solid.edges, dtype=int))
    if isinstance(solid, Box):
        corners = np.array([[(k >> axis & 1) - 0.5 for axis in range(3)] for k in range(8)]) * np.array(solid.size)
        return Faceted(corners @ r.T + t, _BOX_EDGES)
    assert isinstance(solid, Cylinder)
    n = _sides(solid.radius)
    angles = np.arange(n) * (2 * math.pi / n)
    ring = solid.radius * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    return _faceted_prism(ring, solid.length / 2, -solid.length / 2, r, t)


def _faceted_prism(ring: Array, top: float, bottom: float, r: Array, t: Array) -> Faceted:
    n = len(ring)
    k = np.arange(n)
    points = np.vstack([np.column_stack([ring, np.full(n, top)]), np.column_stack([ring, np.full(n, bottom)])])
    edges = np.vstack([np.column_stack([k, (k + 1) % n]), np.column_stack([k + n, (k + 1) % n + n]),
                       np.column_stack([k, k + n])])
    return Faceted(points @ r.T + t, edges)


def plate_penetration(plate: Prism, plate_pose: Pose, solid: Solid, pose: Pose) -> tuple[float, Vec3]:
    """Depth of a solid in a plate and the unit direction in which the solid moves by it to clear the plate.

    0 where they don't overlap.
    """
    depth, d = _clear(plate, faceted(solid, plate_pose.inverse() @ pose))
    return depth, plate_pose.vector(d)


def plate_meets(plate: Prism, plate_pose: Pose, solid: Solid, pose: Pose, limit: float) -> bool:
    """Whether a solid goes into a plate by more than about ``limit``, quickly: its slice, taken smaller by that much
    all round, still meets the polygon."""
    body = faceted(solid, plate_pose.inverse() @ pose)
    low, high = body.heights()
    if -low <= limit or high + plate.thickness <= limit:
        return False
    shadow = body.slice(-plate.thickness, 0.0)
    if shadow.is_empty or not plate.prepared.intersects(shadow):
        return False
    shadow = shadow.buffer(-limit)
    return not shadow.is_empty and bool(plate.prepared.intersects(shadow))


def plates_penetration(a: Prism, pose_a: Pose, b: Prism, pose_b: Pose) -> tuple[float, Vec3]:
    """The same of plate b in plate a, in convex pieces and by straight ways out only: one that takes every piece out."""
    low_x, low_y, high_x, high_y = b.bounds
    b_in_a = pose_a.inverse() @ pose_b
    whole = spread(Box((high_x - low_x, high_y - low_y, b.thickness)),
                   b_in_a @ Pose(t=((low_x + high_x) / 2, (low_y + high_y) / 2, -b.thickness / 2)))
    low, high = bounds_of(whole)
    if high[2] <= -a.thickness or low[2] >= 0 or not box(low[0], low[1], high[0], high[1]).intersects(a.polygon):
        return 0.0, (0.0, 0.0, 1.0)
    r, t = np.array(b_in_a.r).reshape(3, 3), np.array(b_in_a.t)
    span = (float(low[2]), float(high[2]))
    pieces = [_faceted_prism(ring, 0.0, -b.thickness, r, t) for ring in _convex_pieces(_strip(b, b_in_a, a.thickness))]
    ways = sorted((w for w in (_clear(a, piece, span) for piece in pieces) if w[0] > 0.0), key=lambda w: -w[0])
    if not ways:
        return 0.0, (0.0, 0.0, 1.0)
    up, down = -span[0], span[1] + a.thickness
    best = (up, (0.0, 0.0, 1.0)) if up <= down else (down, (0.0, 0.0, -1.0))
    # What clears the deepest piece must clear the others as well.
    for depth, way in ways[:_PIECES]:
        if depth < best[0] and all(_clears(a, piece, depth, way) for piece in pieces):
            best = (depth, way)
            break
    return best[0], pose_a.vector(best[1])


def _clears(plate: Prism, body: Faceted, depth: float, way: Vec3) -> bool:
    """Whether a body that is moved so is clear of a plate."""
    moved = Faceted(body.points + depth * np.array(way), body.edges, body.ball)
    low, high = moved.heights()
    if low >= -SLIP or high <= -plate.thickness + SLIP:
        return True
    shadow = moved.slice(-plate.thickness, 0.0)
    return shadow.is_empty or float(plate.polygon.intersection(shadow.buffer(-2 * SLIP)).area) <= _RUBBING


def plate_gap(plate: Prism, plate_pose: Pose, solid: Solid, pose: Pose, limit: float) -> float:
    """Distance of a solid to a plate; 0 where they touch or overlap, infinite where it is over ``limit``."""
    local = plate_pose.inverse() @ pose
    body = spread(solid, local)
    low, high = bounds_of(body)
    low, high = low - limit, high + limit
    if low[2] > 0 or high[2] < -plate.thickness:
        return math.inf
    window = box(low[0], low[1], high[0], high[1])
    if not plate.prepared.intersects(window):
        return math.inf
    best = math.inf
    for ring in _convex_pieces(plate.polygon.intersection(window)):
        n = len(ring)
        corners = np.vstack([np.column_stack([ring, np.full(n, z)]) for z in (0.0, -plate.thickness)])
        best = min(best, distance(corners, body)[0])
        if best == 0.0:
            return 0.0
    return best if best <= limit else math.inf


def _strip(b: Prism, b_in_a: Pose, thickness: float) -> Any:
    """The part of b's polygon that can lie between the faces of the other plate, in b's own plane."""
    zx, zy, zz = b_in_a.r[6], b_in_a.r[7], b_in_a.r[8]
    slope = math.hypot(zx, zy)
    if slope < 1e-12:
        return b.polygon
    # Height over a's top of b's point (u, v, w) is zx·u + zy·v + zz·w + tz with w from -b.thickness to 0.
    slack = [min(0.0, -zz * b.thickness), max(0.0, -zz * b.thickness)]
    along = (zx / slope, zy / slope)
    near = (-thickness - b_in_a.t[2] - slack[1]) / slope
    far = (0.0 - b_in_a.t[2] - slack[0]) / slope
    reach = 2 * max(abs(v) for v in b.bounds) + 1.0
    across = (-along[1], along[0])
    corners = [(along[0] * p + across[0] * q, along[1] * p + across[1] * q)
               for p, q in ((near, -reach), (far, -reach), (far, reach), (near, reach))]
    return b.polygon.intersection(Polygon(corners))


def _polygons(shape: Any) -> Iterator[Polygon]:
    for part in getattr(shape, "geoms", (shape,)):
        if part.geom_type == "Polygon" and part.area > 0:
            yield part


def _convex_pieces(shape: Any) -> Iterator[Array]:
    """Rings (n, 2) of trapezoids that fill a polygon with holes: cut at the height of every corner."""
    for whole in _polygons(shape):
        if not whole.interiors and abs(whole.convex_hull.area - whole.area) <= 1e-9 * whole.area:
            yield np.array(whole.exterior.coords)[:-1]
            continue
        xs = sorted({round(x, 9) for ring in (whole.exterior, *whole.interiors) for x, _ in ring.coords})
        _, low, _, high = whole.bounds
        for left, right in itertools.pairwise(xs):
            for piece in _polygons(whole.intersection(box(left, low - 1, right, high + 1))):
                yield np.array(piece.convex_hull.exterior.coords)[:-1]


def _clear(plate: Prism, body: Faceted, span: tuple[float, float] | None = None) -> tuple[float, Vec3]:
    """Shortest way found for a body, in the plate's frame, to clear the plate; 0 where it does already.

    ``span``: lowest and highest z of the thing that the body is a piece of; then no oblique ways are tried.
    """
    low, high = span or body.heights()
    t = plate.thickness
    up, down = -low, high + t
    if up <= 0 or down <= 0:
        return 0.0, (0.0, 0.0, 1.0)
    shadow = body.slice(-t, 0.0)
    if shadow.is_empty or not plate.prepared.intersects(shadow) or plate.polygon.intersection(shadow).area <= 1e-14:
        return 0.0, (0.0, 0.0, 1.0)
    best, way = (up, (0.0, 0.0, 1.0)) if up <= down else (down, (0.0, 0.0, -1.0))
    if plate.prepared.contains(_window(body.points[:, :2], best + body.ball)):
        return best, way  # no edge is nearer than the way through a face
    flat = _sideways(plate, shadow, best)
    if flat is not None and flat[0] < best:
        best, way = flat[0], (flat[1], flat[2], 0.0)
    if span:
        return best, way
    reach = (min(up, best), -min(down, best))
    rises = [height * k / (_OBLIQUE + 1) for k in range(1, _OBLIQUE + 1) for height in reach]
    step = min(max(up, down), best) / (_OBLIQUE + 1)
    at = 0.0
    while rises:
        for rise in rises:
            if abs(rise) >= best:
                continue
            shadow = body.slice(-t - rise, -rise)
            found = (0.0, 0.0, 0.0) if shadow.is_empty else _sideways(plate, shadow, math.sqrt(best**2 - rise**2))
            if found is not None and math.hypot(found[0], rise) < best:
                best, at = math.hypot(found[0], rise), rise
                way = (found[1] * found[0] / best, found[2] * found[0] / best, rise / best)
        step /= 2
        rises = [at - step, at + step] if at and step > 2 * FACET else []
    return best, way


def _window(points: Array, margin: float) -> Any:
    (x0, y0), (x1, y1) = points.min(axis=0) - margin, points.max(axis=0) + margin
    return box(x0, y0, x1, y1)


def _sideways(plate: Prism, shadow: Any, limit: float) -> tuple[float, float, float] | None:
    """Shortest move in the plane that takes a convex shadow off the polygon, (length, dx, dy); None: over ``limit``."""
    if not plate.prepared.intersects(shadow):
        return (0.0, 0.0, 0.0)
    corners = np.array(shadow.exterior.coords)[:-1] if shadow.geom_type == "Polygon" else np.array(shadow.coords)
    window = _window(corners, limit)
    if plate.prepared.contains(window):
        return None
    near = plate.polygon.intersection(window)
    middle = (corners.max(axis=0) + corners.min(axis=0)) / 2
    corners = middle + (corners - middle) * (1 - 2 * SLIP / max(SLIP * 4, float(np.ptp(corners, axis=0).max())))
    pieces: list[Any] = []
    for part in _polygons(near):
        moved = np.array(part.exterior.coords) - corners[0]
        pieces.append(Polygon(moved.tolist(), [(np.array(i.coords) - corners[0]).tolist() for i in part.interiors]))
        for ring in (part.exterior, *part.interiors):
            ends = np.array(ring.coords)
            for start, end in itertools.pairwise(ends):
                pieces.append(LineString(np.vstack([start - corners, end - corners])).convex_hull)
    taken = unary_union([p for p in pieces if p.geom_type == "Polygon"])
    origin = Point(0.0, 0.0)
    if not taken.contains(origin):
        return (0.0, 0.0, 0.0)
    for x, y in _ways_out(taken.boundary, origin, limit):
        # A union of nearly coincident edges may have sliver holes, or lose a piece: only what really clears is a way out.
        if _overlap(near, corners + np.array((x, y))) <= _RUBBING:
            length = math.hypot(x, y)
            return (length, x / length, y / length) if length > 0.0 else (0.0, 0.0, 0.0)
    return None


def _overlap(near: Any, corners: Array) -> float:
    """Area (m²) that a convex shadow and a polygon share."""
    shape = LineString(np.vstack([corners, corners[:1]])).convex_hull
    return float(near.intersection(shape).area)


def _ways_out(rim: Any, origin: Point, limit: float) -> Iterator[tuple[float, float]]:
    """Points of a rim within ``limit``, the nearest of each ring first, then corners, each further than the last."""
    lines = [line for line in getattr(rim, "geoms", (rim,)) if isinstance(line, LineString)]
    found = []
    for line in lines:
        point = line.interpolate(line.project(origin))
        found.append((float(point.x), float(point.y)))
    corners = sorted((p for line in lines for p in line.coords), key=lambda p: math.hypot(*p))
    step = max(1, len(corners) // _CORNERS)
    yield from (p for p in sorted(found, key=lambda p: math.hypot(*p)) if math.hypot(*p) < limit)
    yield from (p for p in corners[::step] if math.hypot(*p) < limit)
