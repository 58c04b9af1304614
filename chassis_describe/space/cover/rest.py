"""What boxes leave out of a plate: convex pieces that hold the plate, less the boxes one by one. Metres."""
from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from chassis_describe.space.cover.lining import TurnedRect
from chassis_describe.space.cover.strips import Curve, slabs_across
from chassis_describe.space.plane.clip import split
from chassis_describe.space.plate.shapes import Shape, Vec2

Array = Any
ConvexPiece = list[Vec2]
_SAGITTA = 2e-5  # pieces stand for arcs within this
_THIN = 1e-9  # pieces of less width are rounding (far under what the boxes' files say)


def pieces_of(outline: Shape, taken: Sequence[Shape]) -> list[ConvexPiece]:
    """Convex polygons whose union holds the outline less ``taken``, and little more."""
    result: list[ConvexPiece] = []
    for x0, x1, cells in slabs_across(outline, taken, 0.0):
        for low, high in cells:
            xs = sorted({x0, x1, *_cuts(low, x0, x1), *_cuts(high, x0, x1)})
            for a, b in zip(xs, xs[1:]):
                below, above = _side(low, a, b, -1.0), _side(high, a, b, 1.0)
                result.append([*below, *reversed(above)])
    return result


def _cuts(curve: Curve, x0: float, x1: float) -> list[float]:
    """Where an arc is cut so that chords and tangents stay close to it."""
    if curve.side == 0:
        return []
    r = curve.radius
    begin, end = (math.acos(min(max((x - curve.cx) / r, -1.0), 1.0)) for x in (x0, x1))
    count = math.ceil(abs(begin - end) / (2 * math.acos(1 - min(_SAGITTA / r, 1.0))))
    inner = (curve.cx + r * math.cos(begin + (end - begin) * k / count) for k in range(1, count))
    return [x for x in inner if x0 < x < x1]


def _side(curve: Curve, a: float, b: float, up: float) -> ConvexPiece:
    """A curve from a to b: where the plate bulges, by tangents, else by the chord."""
    p, q = (a, curve.at(a)), (b, curve.at(b))
    if curve.side != up:
        return [p, q]
    cx, cy, r2 = curve.cx, curve.cy, curve.radius * curve.radius
    ux, uy, vx, vy = p[0] - cx, p[1] - cy, q[0] - cx, q[1] - cy
    scale = 1 + (ux * vx + uy * vy) / r2
    return [p, (cx + (ux + vx) / scale, cy + (uy + vy) / scale), q]


def rest(pieces: Sequence[ConvexPiece], boxes: Sequence[TurnedRect]) -> list[ConvexPiece]:
    """What of the pieces no box holds."""
    x, y = np.array([p for piece in pieces for p in piece]).T
    begins = np.cumsum([0, *(len(piece) for piece in pieces[:-1])])
    held: Array = np.zeros(len(pieces), dtype=bool)
    touched = []
    for angle, (x0, y0, x1, y1) in boxes:
        c, s = math.cos(angle), math.sin(angle)
        u, v = c * x + s * y, c * y - s * x
        held |= np.logical_and.reduceat((u >= x0) & (u <= x1) & (v >= y0) & (v <= y1), begins)
        touched.append((np.minimum.reduceat(u, begins) < x1) & (np.maximum.reduceat(u, begins) > x0)
                       & (np.minimum.reduceat(v, begins) < y1) & (np.maximum.reduceat(v, begins) > y0))
    near: Array = np.stack(touched, axis=1)
    result: list[ConvexPiece] = []
    for k in np.flatnonzero(~held).tolist():
        left = [pieces[k]]
        for b in np.flatnonzero(near[k]).tolist():
            left = [part for piece in left for part in _less(piece, boxes[b])]
        result += [piece for piece in left if _wide(piece)]
    return result


def _less(piece: ConvexPiece, box: TurnedRect) -> list[ConvexPiece]:
    """A convex polygon less a box, in convex parts."""
    c, s = math.cos(box.angle), math.sin(box.angle)
    x0, y0, x1, y1 = box.rect
    beyond: list[ConvexPiece] = []
    inner = piece
    for nx, ny, offset in ((c, s, x1), (-c, -s, -x0), (-s, c, y1), (s, -c, -y0)):
        inner, outer = split(inner, nx, ny, offset)
        if len(outer) > 2:
            beyond.append(outer)
        if len(inner) < 3:
            return [piece]  # beside the box
    return beyond


def _wide(piece: ConvexPiece) -> bool:
    """Whether a convex piece is more than a line: its area over its length."""
    area = abs(sum(p[0] * q[1] - q[0] * p[1] for p, q in zip(piece, piece[1:] + piece[:1]))) / 2
    xs, ys = [x for x, _ in piece], [y for _, y in piece]
    size = max(max(xs) - min(xs), max(ys) - min(ys))
    return size > _THIN and area > _THIN * size
