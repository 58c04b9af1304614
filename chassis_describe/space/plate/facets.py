"""Plates with their curves turned into chords or tangents. Metres."""
from __future__ import annotations

import math
from collections.abc import Sequence
from functools import reduce
from typing import Any, Literal

import numpy as np

from chassis_describe.space.plate.circles import HoleCircle
from chassis_describe.space.plate.depth import Array
from chassis_describe.space.plate.loops import Loop, Piece, loop_of, shifted
from chassis_describe.space.plate.regions import Regions, middle_of
from chassis_describe.space.plate.shapes import Disc, Polygon, Shape, Vec2
from chassis_describe.space.plate.slabs import curves_about, curves_of, slab_moments, slabs_of
from chassis_describe.tolerances import SAME_LENGTH


def facet_loop(loop: Loop, segments: int, outside: bool = False) -> Array:
    """Corners (n, 2), counter-clockwise. Arcs as chords with corners on the arc, or ``outside``: as tangents.

    Each arc of the loop gets its share of ``segments`` per full circle, rounded up.
    """
    points: list[tuple[float, float]] = []
    for (x, y), (u, v), (cx, cy), r in loop:
        points.append((x, y))
        if r == 0:
            continue
        start = math.atan2(y - cy, x - cx)
        sweep = math.atan2((x - cx) * (v - cy) - (y - cy) * (u - cx), (x - cx) * (u - cx) + (y - cy) * (v - cy))
        count = max(1, math.ceil(sweep / (2 * math.pi) * segments - 1e-9))
        if outside:
            # Tangents at count + 1 points of the arc, its ends included, so that neighbours join without a step.
            step = sweep / count
            reach = r / math.cos(step / 2)
            middles = [start + (k + 0.5) * step for k in range(count)]
            points += [(cx + reach * math.cos(a), cy + reach * math.sin(a)) for a in middles]
        else:
            points += [(cx + r * math.cos(start + k * sweep / count), cy + r * math.sin(start + k * sweep / count))
                       for k in range(1, count)]
    return np.array(points)


def face_polygon(regions: Regions, segments: int, facets: Literal["inscribed", "cover", "core"]) -> Any:
    """A shapely geometry of the face."""
    from shapely.geometry import Polygon as Area
    from shapely.ops import unary_union

    def ring(shape: Shape, outside: bool) -> Array:
        return facet_loop(loop_of(shape), segments, outside)

    outside_out, outside_in = facets == "cover", facets == "core"
    outer = ring(regions.outline, outside_out)
    face = Area(outer)
    if regions.crossing:
        face = _difference(outer, [ring(s, outside_in) for s in regions.crossing])
    rings = [ring(s, outside_in) for s in regions.apart] + hole_rings(regions.holes, segments, outside_in)
    if not rings:
        return face
    parts = list(getattr(face, "geoms", [face]))
    if len(parts) == 1:
        return Area(parts[0].exterior, [*parts[0].interiors, *rings])
    return face.difference(unary_union([Area(r) for r in rings]))


def _difference(outer: Array, inner: list[Array]) -> Any:
    """Outer ring less the union of inner rings.

    Overlays of nearly coincident edges have been seen to lose a whole polygon without an error (GEOS 3.13), so the area
    is checked against the exact one, and other ways are tried where it differs.
    """
    from shapely.errors import ShapelyError
    from shapely.geometry import Polygon as Area
    from shapely.ops import unary_union

    exact = slab_moments(slabs_of(curves_of([ring_loop(r) for r in (outer, *inner)])))[0]
    best: tuple[float, Any] | None = None
    for rounded in (None, 11, 10, 9):
        rings = [r if rounded is None else np.round(r, rounded) for r in (outer, *inner)]
        cut = [Area(r) for r in rings[1:]]
        face = Area(rings[0])
        for together in (True, False):
            try:
                result = face.difference(unary_union(cut)) if together else reduce(lambda a, b: a.difference(b), cut, face)
            except ShapelyError:  # GEOS gave up
                continue
            result = unary_union([g for g in getattr(result, "geoms", [result]) if g.geom_type == "Polygon"])
            off = abs(result.area - exact)
            if best is None or off < best[0]:
                best = (off, result)
            if off <= 1e-8 * exact + 1e-11:
                return result
    if best is None:
        raise ValueError("the edges of the plate's cutouts could not be joined")
    return best[1]


def ring_loop(points: Array) -> Loop:
    """A ring of corners (n, 2), either way round, as a loop."""
    return loop_of(Polygon(points=tuple(map(tuple, points.tolist()))))


def hole_rings(holes: Sequence[HoleCircle], segments: int, outside: bool) -> list[Array]:
    """Rings (n, 2) of round holes, counter-clockwise."""
    if not holes:
        return []
    rows = np.array(holes)
    unit = facet_loop(loop_of(Disc(radius=1.0)), segments, outside)
    return list(rows[:, None, :2] + rows[:, 2, None, None] * unit)


def hull_points(regions: Regions, segments: int) -> Array:
    """Points whose convex hull contains the plate tightly."""
    if not regions.crossing:
        return facet_loop(loop_of(regions.outline), segments, outside=True)
    straight, arcs = _outer_edges(regions)
    points = [straight, *(facet_loop([arc], segments, outside=True) for arc in arcs)]
    return np.unique(np.concatenate(points), axis=0) + middle_of(regions.outline)


def support(regions: Regions, direction: Vec2) -> float:
    """The furthest that the plate reaches along a unit direction: in a corner, or where an arc runs square to it."""
    (x, y), (ox, oy) = direction, middle_of(regions.outline)
    if regions.crossing:
        ends, arcs = _outer_edges(regions)
    else:
        arcs = shifted(loop_of(regions.outline), (ox, oy))
        ends = np.array([piece.start for piece in arcs])
    reach = float((ends @ np.array([x, y])).max())
    for (sx, sy), (ex, ey), (cx, cy), radius in arcs:
        # An arc spans a quarter turn at most, counter-clockwise.
        if radius and (sx - cx) * y - (sy - cy) * x >= 0 and x * (ey - cy) - y * (ex - cx) >= 0:
            reach = max(reach, cx * x + cy * y + radius)
    return reach + ox * x + oy * y


def _outer_edges(regions: Regions) -> tuple[Array, list[Piece]]:
    """Ends (n, 2) of what bounds a plate with crossing cutouts, and the arcs of its outline among it, about its middle."""
    origin = middle_of(regions.outline)
    slabs = slabs_of(curves_about(regions.outline, regions.crossing, origin), SAME_LENGTH)
    below = np.concatenate([[False], slabs.plate[:-1]])
    edge = np.flatnonzero(slabs.plate != below)
    c, x0, x1 = slabs.curves.take(edge), slabs.x0[edge], slabs.x1[edge]
    y0, y1 = c.at(x0), c.at(x1)
    arcs = []
    round_ = np.flatnonzero((c.side != 0) & (c.shape == 0))  # arcs of cutouts are hollow: their ends are enough
    for k in round_.tolist():
        left, right = (float(x0[k]), float(y0[k])), (float(x1[k]), float(y1[k]))
        # Forward along the upper half runs clockwise.
        start, end = (right, left) if c.side[k] > 0 else (left, right)
        arcs.append(Piece(start, end, (float(c.cx[k]), float(c.cy[k])), float(c.radius[k])))
    return np.concatenate([np.stack([x0, y0], axis=1), np.stack([x1, y1], axis=1)]), arcs
