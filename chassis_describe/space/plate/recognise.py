"""Which plain shape a closed contour is: a disc, a rectangle along the axes, a slot, else a polygon of chords. Metres."""
from __future__ import annotations

import math

from chassis_describe.errors import never
from chassis_describe.space.plate.chains import along, chords_of, length_of
from chassis_describe.space.plate.contours import Contour, bounds_of
from chassis_describe.space.plate.shapes import Disc, Polygon, Rectangle, Shape, Slot, Vec2

#: Chords from which on corners on a circle are taken for one: programs that write arcs as chords make more, and a nut has six.
_ROUND = 12
#: What is on a line or circle that is written with a few decimals (m): a tenth of what a workshop measures.
_ON = 1e-6


def shape_of(contour: Contour, off: float) -> Shape:
    """The shape, exact where it is a plain one; as a polygon it is at most ``off`` from the contour."""
    area, around = area_of(contour), length_of(contour)
    for found, slack in ((_disc(contour, off), off), (_rectangle(contour), _ON), (_slot(contour), _ON)):
        if found is not None and abs(_area(found) - area) <= slack * around:  # arcs may go the other way round
            return found
    return Polygon(points=tuple(chords_of(contour, off)))


def area_of(contour: Contour) -> float:
    """What a contour encloses: the polygon of its corners, and the segment between each arc and its chord (m²)."""
    twice = math.fsum(e.start[0] * e.end[1] - e.end[0] * e.start[1] for e in contour)
    return abs(twice + math.fsum(math.dist(e.start, e.centre) ** 2 * (e.sweep - math.sin(e.sweep))
                                 for e in contour if e.centre is not None)) / 2


def _area(shape: Disc | Rectangle | Slot) -> float:
    if isinstance(shape, Disc):
        return math.pi * shape.radius ** 2
    if isinstance(shape, Rectangle):
        return shape.size[0] * shape.size[1] - (4 - math.pi) * shape.corner ** 2
    if isinstance(shape, Slot):
        return math.pi / 4 * shape.width ** 2 + shape.width * (shape.length - shape.width)
    raise never(shape)


def _disc(contour: Contour, off: float) -> Disc | None:
    """All edges round about one centre; or chords enough with their corners on a circle, and no further from it than ``off``."""
    centre = contour[0].centre
    if centre is not None:
        radius = math.dist(contour[0].start, centre)
        return Disc(radius=radius, centre=centre) if _about(contour, [centre], radius) else None
    if len(contour) < _ROUND or any(edge.centre is not None for edge in contour):
        return None
    x0, y0, x1, y1 = bounds_of([contour])
    if abs((x1 - x0) - (y1 - y0)) > 4 * off:
        return None
    found = _fitted([edge.start for edge in contour])
    if found is None:
        return None
    middle, radius = found
    on_it = all(abs(math.dist(e.start, middle) - radius) <= off for e in contour)
    return Disc(radius=radius, centre=middle) if on_it and all(
        math.dist(along(e, 0.5), middle) >= radius - 2 * off for e in contour) else None


def _fitted(points: list[Vec2]) -> tuple[Vec2, float] | None:
    """The circle with the least squares of x² + y² - 2ax - 2by - c (I. Kåsa, IEEE Trans. Instrum. Meas. 25, 1976)."""
    n = len(points)
    mx, my = math.fsum(x for x, _ in points) / n, math.fsum(y for _, y in points) / n
    rows = [(x - mx, y - my) for x, y in points]
    xx, xy, yy = math.fsum(u * u for u, _ in rows), math.fsum(u * v for u, v in rows), math.fsum(v * v for _, v in rows)
    zx = math.fsum((u * u + v * v) * u for u, v in rows) / 2
    zy = math.fsum((u * u + v * v) * v for u, v in rows) / 2
    det = xx * yy - xy * xy
    if det <= 1e-12 * (xx + yy) ** 2:
        return None
    a, b = (zx * yy - zy * xy) / det, (zy * xx - zx * xy) / det
    return (mx + a, my + b), math.sqrt(a * a + b * b + (xx + yy) / n)


def _about(contour: Contour, centres: list[Vec2], radius: float) -> bool:
    """Whether every edge is round with that radius, about one of those centres."""
    return all(e.centre is not None and abs(math.dist(e.start, e.centre) - radius) <= _ON
               and any(math.dist(e.centre, c) <= _ON for c in centres) for e in contour)


def _rectangle(contour: Contour) -> Rectangle | None:
    """Straight edges on the box around it, and round corners of one radius that just touch two of its sides."""
    x0, y0, x1, y1 = bounds_of([contour])
    arcs = tuple(e for e in contour if e.centre is not None)
    r = math.dist(arcs[0].start, arcs[0].centre) if arcs and arcs[0].centre is not None else 0.0
    if 2 * r > min(x1 - x0, y1 - y0) + _ON:
        return None
    centres = [(x, y) for x in (x0 + r, x1 - r) for y in (y0 + r, y1 - r)]
    sides = [(axis, side) for axis, pair in enumerate(((x0, x1), (y0, y1))) for side in pair]
    straight = all(any(abs(e.start[a] - s) <= _ON and abs(e.end[a] - s) <= _ON for a, s in sides)
                   for e in contour if e.centre is None)
    if not (straight and _about(arcs, centres, r)):
        return None
    return Rectangle(size=(x1 - x0, y1 - y0), corner=min(r, (x1 - x0) / 2, (y1 - y0) / 2), centre=((x0 + x1) / 2, (y0 + y1) / 2))


def _slot(contour: Contour) -> Slot | None:
    """Two round ends of one radius, joined by straight edges at that distance from the line between their centres."""
    arcs = tuple(e for e in contour if e.centre is not None)
    centres: list[Vec2] = []
    for edge in arcs:
        if edge.centre is not None and all(math.dist(edge.centre, c) > _ON for c in centres):
            centres.append(edge.centre)
    if len(centres) != 2:
        return None
    (ax, ay), (bx, by) = centres
    r, reach = math.dist(arcs[0].start, arcs[0].centre or (0.0, 0.0)), math.dist(*centres)

    def beside(p: Vec2) -> float:
        return abs((bx - ax) * (p[1] - ay) - (by - ay) * (p[0] - ax)) / reach

    straight = [p for e in contour if e.centre is None for p in (e.start, e.end)]
    if not _about(arcs, centres, r) or any(abs(beside(p) - r) > _ON for p in straight):
        return None
    return Slot(length=reach + 2 * r, width=2 * r, centre=((ax + bx) / 2, (ay + by) / 2),
                turn=math.atan2(by - ay, bx - ax) % math.pi)
