"""A plate in slabs across one direction, each with the stretches of plate between its edges. Metres, plain floats."""
from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import groupby
from typing import NamedTuple

from chassis_describe.space.plate.loops import Loop, loop_of, turned
from chassis_describe.space.plate.shapes import Shape
from chassis_describe.tolerances import SAME_LENGTH

_FEW = 64  # pieces of a boundary that are put in order one by one


class Curve(NamedTuple):
    """A monotone piece y(x) of an edge; ``side`` of an arc: +1 upper half, -1 lower; 0 straight."""

    xa: float
    ya: float
    xb: float
    yb: float
    cx: float
    cy: float
    radius: float
    side: float

    def at(self, x: float) -> float:
        """y at x."""
        if self.side == 0:
            t = min(max((x - self.xa) / (self.xb - self.xa), 0.0), 1.0)
            return self.ya * (1 - t) + self.yb * t
        u = x - self.cx
        return self.cy + self.side * math.sqrt(max(self.radius * self.radius - u * u, 0.0))


class Slab(NamedTuple):
    """From ``x0`` to ``x1``; ``cells``: the lower and the upper edge of each stretch of plate."""

    x0: float
    x1: float
    cells: tuple[tuple[Curve, Curve], ...]

    def stretches(self, x0: float, x1: float) -> list[tuple[float, float]]:
        """What of y the plate takes between x0 and x1; the pieces are monotone."""
        return [(min(low.at(x0), low.at(x1)), max(high.at(x0), high.at(x1))) for low, high in self.cells]


def slabs_across(outline: Shape, taken: Sequence[Shape], angle: float) -> list[Slab]:
    """The outline less ``taken`` in a frame turned by ``angle``, in slabs from left to right."""
    loops = [turned(loop_of(s), -angle) for s in (outline, *taken)]
    return _of_one_loop(loops[0]) if len(loops) == 1 and len(loops[0]) <= _FEW else of_many(loops)


def _of_one_loop(loop: Loop) -> list[Slab]:
    """Nothing crosses: the pieces over a slab, from below, begin and end the plate by turns."""
    curves: list[Curve] = []
    for (x, y), (u, v), centre, radius in loop:
        side = 0.0 if radius == 0 else -1.0 if u > x else 1.0  # a counter-clockwise loop runs forward along its underside
        if u != x:
            curves.append(Curve(*((x, y, u, v) if u > x else (u, v, x, y)), *centre, radius, side))
    # Corners closer than SAME_LENGTH to the one before them are one, as in slabs_of.
    first: dict[float, float] = {}
    begin = last = -math.inf
    for x in sorted({x for c in curves for x in (c.xa, c.xb)}):
        begin, last = (x if x - last > SAME_LENGTH else begin), x
        first[x] = begin
    xs = [x for x, _ in groupby(first.values())]
    slabs: list[Slab] = []
    for x0, x1 in zip(xs, xs[1:]):
        over = sorted((c for c in curves if first[c.xa] <= x0 and first[c.xb] >= x1), key=lambda c: c.at((x0 + x1) / 2))
        if over:
            slabs.append(Slab(x0, x1, tuple(zip(over[::2], over[1::2]))))
    return slabs


def of_many(loops: list[Loop]) -> list[Slab]:
    import numpy as np

    from chassis_describe.space.plate.slabs import curves_of, slabs_of

    slabs = slabs_of(curves_of(loops), SAME_LENGTH)
    curves = [Curve(*row) for row in np.stack(slabs.curves[:8], axis=1).tolist()]
    result: dict[int, Slab] = {}
    rows = zip(slabs.slab.tolist(), slabs.x0.tolist(), slabs.x1.tolist(), slabs.plate.tolist())
    for k, (number, x0, x1, filled) in enumerate(rows):
        if filled:
            cells = result[number].cells if number in result else ()
            result[number] = Slab(x0, x1, (*cells, (curves[k], curves[k + 1])))
    return [result[k] for k in sorted(result)]
