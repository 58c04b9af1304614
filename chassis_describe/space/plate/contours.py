"""Closed contours of straight and round edges: of a plate as it is cut, and of what solids hide behind one another. Metres.

Where nothing crosses, a contour is the shape's own loop, exactly. Where shapes cross, their faceted union or difference
is taken, and every run of chords that lies on a known circle becomes one arc again.
"""
from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from chassis_describe.space.plate.loops import Loop, loop_of
from chassis_describe.space.plate.plate import Plate
from chassis_describe.space.plate.regions import Regions, sort_out
from chassis_describe.space.plate.shapes import Disc, Polygon, Rectangle, Shape, Slot, Vec2

#: Chords per full circle where shapes cross: a corner there is off by r·1e-5 at most.
CHORDS = 720


class Edge(NamedTuple):
    """``start → end``: straight (``centre`` None), or round about ``centre``, counter-clockwise where ``left``."""

    start: Vec2
    end: Vec2
    centre: Vec2 | None = None
    left: bool = True

    @property
    def sweep(self) -> float:
        """Turn of a round edge (rad), signed, less than a full one; 0 for a straight edge."""
        if self.centre is None:
            return 0.0
        (x, y), (u, v), (a, b) = self.start, self.end, self.centre
        turn = math.atan2((x - a) * (v - b) - (y - b) * (u - a), (x - a) * (u - a) + (y - b) * (v - b))
        if self.left and turn < 0:
            turn += 2 * math.pi
        return turn if self.left or turn < 0 else turn - 2 * math.pi


Contour = tuple[Edge, ...]


class Cut(NamedTuple):
    """What a cutter follows: ``outer`` contours counter-clockwise, ``inner`` ones and ``slots``, round ``holes``.

    Holes and slots are those that are whole; one that crosses an edge is part of that contour.
    """

    outer: tuple[Contour, ...]
    inner: tuple[Contour, ...]
    slots: tuple[Slot, ...]
    holes: tuple[tuple[float, float, float], ...]  # x, y, diameter


def cut_of(plate: Plate) -> Cut:
    """The contours of a plate."""
    regions = sort_out(plate.outline, plate.cutouts, plate.slots, plate.holes)
    whole = [contour_of(shape) for shape in regions.apart if not isinstance(shape, Slot)]
    slots = tuple(shape for shape in regions.apart if isinstance(shape, Slot))
    holes = tuple((x, y, 2 * r) for x, y, r in regions.holes)
    if not regions.crossing:
        return Cut((contour_of(plate.outline),), tuple(whole), slots, holes)
    outer, inner = _crossed(regions)
    return Cut(outer, (*inner, *whole), slots, holes)


def contour_of(shape: Shape) -> Contour:
    """The boundary of one shape, counter-clockwise."""
    return _edges(loop_of(shape))


def _edges(loop: Loop) -> Contour:
    return tuple(Edge(p.start, p.end, p.centre if p.radius else None) for p in loop)


def _crossed(regions: Regions) -> tuple[tuple[Contour, ...], tuple[Contour, ...]]:
    from chassis_describe.space.plate.facets import face_polygon

    face = face_polygon(regions._replace(apart=(), holes=()), CHORDS, "inscribed")
    circles = [circle for shape in (regions.outline, *regions.crossing) for circle in _circles(shape)]
    return contours_of(face, circles)


def contours_of(face: Any, circles: Sequence[tuple[Vec2, float]]) -> tuple[tuple[Contour, ...], tuple[Contour, ...]]:
    """Outer and inner contours of a shapely polygon or several; ``circles``: centre and radius of what its chords came from."""
    from shapely.geometry.polygon import orient

    outer: list[Contour] = []
    inner: list[Contour] = []
    for part in getattr(face, "geoms", [face]):
        if part.is_empty or part.geom_type != "Polygon":
            continue
        part = orient(part)
        outer.append(with_arcs(list(part.exterior.coords)[:-1], circles))
        inner += [with_arcs(list(ring.coords)[:-1], circles) for ring in part.interiors]
    return tuple(outer), tuple(inner)


def _circles(shape: Shape) -> Iterable[tuple[Vec2, float]]:
    if isinstance(shape, Disc):
        yield shape.centre, shape.radius
    elif isinstance(shape, Slot):
        yield from ((end, shape.width / 2) for end in shape.ends)
    elif isinstance(shape, Rectangle) and shape.corner:
        yield from {(p.centre, p.radius) for p in loop_of(shape) if p.radius}
    else:
        assert isinstance(shape, (Polygon, Rectangle))


def with_arcs(points: Sequence[Vec2], circles: Sequence[tuple[Vec2, float]]) -> Contour:
    """A closed polygon with its chords on known circles made into arcs, each less than half a turn."""
    n = len(points)
    on = [_circle_of(points[k], points[(k + 1) % n], circles) for k in range(n)]
    start = next((k for k in range(n) if on[k] is None or on[k] != on[k - 1]), 0)
    edges: list[Edge] = []
    k = 0
    while k < n:
        first = (start + k) % n
        which = on[first]
        last = k
        if which is not None:
            centre = circles[which][0]
            turned = _turn(points[first], points[(first + 1) % n], centre)
            left = turned > 0
            while last + 1 < n and on[(start + last + 1) % n] == which:
                a, b = points[(start + last + 1) % n], points[(start + last + 2) % n]
                more = _turn(a, b, centre)
                if (more > 0) != left or abs(turned + more) > math.pi * 0.99:
                    break
                turned, last = turned + more, last + 1
            edges.append(Edge(points[first], points[(start + last + 1) % n], centre, left))
        else:
            edges.append(Edge(points[first], points[(first + 1) % n]))
        k = last + 1
    return tuple(edges)


def _turn(a: Vec2, b: Vec2, centre: Vec2) -> float:
    x, y, u, v = a[0] - centre[0], a[1] - centre[1], b[0] - centre[0], b[1] - centre[1]
    return math.atan2(x * v - y * u, x * u + y * v)


def _circle_of(a: Vec2, b: Vec2, circles: Sequence[tuple[Vec2, float]]) -> int | None:
    """The circle whose chord ``a b`` is (or is a bit of), by its index."""
    length = math.dist(a, b)
    for k, (centre, radius) in enumerate(circles):
        slack = 2 * radius * (1 - math.cos(math.pi / CHORDS)) + 1e-9
        if length < 2 * radius * math.sin(math.pi / CHORDS) * 1.01 + 1e-9 \
                and abs(math.dist(a, centre) - radius) < slack and abs(math.dist(b, centre) - radius) < slack:
            return k
    return None


def bounds_of(contours: Iterable[Contour]) -> tuple[float, float, float, float]:
    """The least box around contours; arcs by their end points and the extremes that they pass."""
    xs: list[float] = []
    ys: list[float] = []
    for contour in contours:
        for edge in contour:
            xs += [edge.start[0], edge.end[0]]
            ys += [edge.start[1], edge.end[1]]
            if edge.centre is not None:
                r, begin = math.dist(edge.start, edge.centre), math.atan2(edge.start[1] - edge.centre[1],
                                                                          edge.start[0] - edge.centre[0])
                for k in range(-6, 7):
                    turn = k * math.pi / 2 - begin
                    if 0 < turn < edge.sweep or edge.sweep < turn < 0:
                        xs.append(edge.centre[0] + r * math.cos(k * math.pi / 2))
                        ys.append(edge.centre[1] + r * math.sin(k * math.pi / 2))
    return min(xs), min(ys), max(xs), max(ys)
