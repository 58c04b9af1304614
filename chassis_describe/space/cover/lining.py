"""Covers for free cutouts with slopes and curves: a lining of boxes along their edges.

A lining box stands on the far side of a sloping edge, or of one of enough tangents of a curve: beyond a supporting line
of a convex cutout it can't reach into it. What the strips of the cover must keep to is then not the edge but the far side
of the lining, within which they may end anywhere, so that few steps do.
"""
from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from chassis_describe.space.cover.limits import Limits, Rect, is_convex
from chassis_describe.space.plane.clip import split
from chassis_describe.space.plate.shapes import Disc, Polygon, Rectangle, Shape, Vec2, core

_SHY = 1e-8  # tangents stay this far off the limit, for rounding
Tangent = tuple[float, float, float]  # unit normal away from the cutout, and its distance from the origin along it


class TurnedRect(NamedTuple):
    """A rectangle in a frame turned by ``angle`` about z."""

    angle: float
    rect: Rect


def lining(outline: Shape, free: Sequence[Shape], past: float, into: float,
           thickness: float) -> tuple[list[TurnedRect], list[Shape]] | None:
    """Lining boxes, and the convex shapes (cutout and lining) that are left to nobody else.

    None where a box would not keep to the limits, or a cutout is not convex.
    """
    boxes: list[TurnedRect] = []
    grown: list[Shape] = []
    a, b, c, d = outline.bounds
    for shape in free:
        lines = _supporting_lines(shape, into - _SHY)
        inner = _straight_rectangle(shape, into - _SHY)
        if lines is None or inner is None:
            return None
        whole = inner
        for nx, ny, offset in lines:
            whole = split(whole, -nx, -ny, -offset - thickness)[1]
        grown.append(Polygon(points=tuple(whole)))
        inside = whole
        for side in ((1, 0, a), (-1, 0, -c), (0, 1, b), (0, -1, -d)):
            inside = split(inside, *side)[1]
        for nx, ny, offset in lines:
            corners = split(inside, nx, ny, offset)[1]
            if len(corners) < 3:
                continue
            angle = math.atan2(ny, nx) % (math.pi / 2)
            e, f = math.cos(angle), math.sin(angle)
            us, vs = [e * x + f * y for x, y in corners], [e * y - f * x for x, y in corners]
            rect = (min(us), min(vs), max(us), max(vs))
            if min(rect[2] - rect[0], rect[3] - rect[1]) < 1e-9:
                continue
            if not Limits(outline, free, angle, past, into).allows([rect]):
                return None
            boxes.append(TurnedRect(angle, rect))
    return boxes, grown


def _straight_rectangle(shape: Shape, inset: float) -> list[Vec2] | None:
    """The least straight rectangle around a cutout less a rim: of ``inset`` where it is curved, else of nothing."""
    x0, y0, x1, y1 = shape.bounds
    rim = 0.0 if isinstance(shape, Polygon) or (isinstance(shape, Rectangle) and shape.corner == 0) else inset
    if min(x1 - x0, y1 - y0) <= 2 * rim:
        return None
    return [(x0 + rim, y0 + rim), (x1 - rim, y0 + rim), (x1 - rim, y1 - rim), (x0 + rim, y1 - rim)]


def _supporting_lines(shape: Shape, inset: float) -> list[Tangent] | None:
    """Lines around a convex cutout, but those along x and y, so close that they leave nothing outside it uncovered."""
    if isinstance(shape, Polygon):
        if not is_convex(shape) or len(shape.points) > 32:
            return None
        points = list(shape.points)
        if sum(p[0] * q[1] - q[0] * p[1] for p, q in zip(points, points[1:] + points[:1])) < 0:
            points.reverse()
        lines = []
        for (px, py), (qx, qy) in zip(points, points[1:] + points[:1]):
            length = math.hypot(qx - px, qy - py)
            if min(abs(qx - px), abs(qy - py)) > 1e-9:
                nx, ny = (qy - py) / length, (px - qx) / length
                lines.append((nx, ny, nx * px + ny * py))
        return lines
    if not isinstance(shape, (Disc, Rectangle)):
        return None
    w, h, r = core(shape)
    if r == 0:
        return []
    # Tangents of the circle of radius r - inset whose corners lie on the circle of radius r.
    most = 2 * math.acos(max(r - inset, 0.0) / r)
    count = math.ceil(math.pi / 2 / most - 1e-9)
    result: list[Tangent] = []
    for quarter, (sx, sy) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        x, y = shape.centre[0] + sx * w, shape.centre[1] + sy * h
        for k in range(1, count):
            angle = (quarter + k / count) * math.pi / 2
            nx, ny = math.cos(angle), math.sin(angle)
            result.append((nx, ny, nx * x + ny * y + r - inset))
    return result
