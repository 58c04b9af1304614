"""Exact area, moments and connection of an outline less the union of cutouts that cross it or one another.

The plane is cut into slabs at every x where a boundary piece begins, ends, or meets a piece of another shape. Inside a
slab the pieces run from side to side and do not cross, so their order at its middle says between which of them there is
plate, and the integrals over each piece have closed forms. No tolerance takes part: where shapes touch or share edges
the pieces that may change places enclose nothing.
"""
from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from chassis_describe.space.plate.depth import ranges
from chassis_describe.space.plate.loops import Loop, Moments, loop_of, shifted
from chassis_describe.space.plate.shapes import Shape, Vec2
from chassis_describe.tolerances import SAME_LENGTH, SCRAP

Array = Any


class MonotoneCurves(NamedTuple):
    """Monotone pieces y(x) from ``xa`` to ``xb`` > xa. ``side`` of an arc: +1 upper half, -1 lower; 0 straight.

    ``enter`` is +1 where going up over the piece leads into its shape, -1 where it leads out.
    """

    xa: Array
    ya: Array
    xb: Array
    yb: Array
    cx: Array
    cy: Array
    radius: Array
    side: Array
    enter: Array
    shape: Array  # 0 the outline, 1… the cutouts

    def take(self, index: Array) -> MonotoneCurves:
        """The chosen pieces."""
        return MonotoneCurves(*(a[index] for a in self))

    def at(self, x: Array) -> Array:
        """y at x, one x per piece."""
        t = np.clip((x - self.xa) / (self.xb - self.xa), 0.0, 1.0)
        straight = self.ya * (1 - t) + self.yb * t
        u = x - self.cx
        bent = self.cy + self.side * np.sqrt(np.maximum(self.radius**2 - u * u, 0.0))
        return np.where(self.side == 0, straight, bent)


class Slabs(NamedTuple):
    """``curves`` cut to slabs and sorted by (slab, y): ``x0``, ``x1`` of the slab, ``plate`` whether there is plate
    between the piece and the next one above it."""

    curves: MonotoneCurves
    slab: Array
    x0: Array
    x1: Array
    plate: Array


def curves_of(loops: list[Loop]) -> MonotoneCurves:
    """All pieces of the loops but the upright ones; the first loop is the outline."""
    parts = []
    for number, loop in enumerate(loops):
        rows = np.array([(*start, *end, *centre, radius) for start, end, centre, radius in loop]).reshape(-1, 7)
        start, end, cx, cy, radius = rows[:, :2], rows[:, 2:4], rows[:, 4], rows[:, 5], rows[:, 6]
        forward = end[:, 0] > start[:, 0]
        a: Array = np.where(forward[:, None], start, end)
        b: Array = np.where(forward[:, None], end, start)
        bent = radius > 0
        # A counter-clockwise loop runs forward along its underside.
        side = np.where(bent, np.where(forward, -1.0, 1.0), 0.0)
        keep = b[:, 0] > a[:, 0]
        parts.append(MonotoneCurves(a[:, 0], a[:, 1], b[:, 0], b[:, 1], cx, cy, radius, side,
                                    np.where(forward, 1, -1), np.full(len(a), number)).take(keep))
    return MonotoneCurves(*(np.concatenate(column) for column in zip(*parts)))


def curves_about(outline: Shape, cutouts: Sequence[Shape], origin: Vec2) -> MonotoneCurves:
    """The boundary pieces of outline and cutouts, in coordinates about ``origin``."""
    return curves_of([shifted(loop_of(s), origin) for s in (outline, *cutouts)])


def slabs_of(curves: MonotoneCurves, apart: float = 0.0) -> Slabs:
    """Cut at every corner and crossing.

    For moments every slab counts, be it narrow as rounding. For connection and extent, corners less than ``apart`` from
    one another in x are taken as one: in slabs that narrow the order of steep pieces is chance.
    """
    xs: Array = np.array(sorted(set(np.concatenate([curves.xa, curves.xb, *_crossings(curves)]).tolist())))
    group: Array = np.concatenate([[0], np.cumsum(np.diff(xs) > apart)])
    low, high = group[np.searchsorted(xs, curves.xa)], group[np.searchsorted(xs, curves.xb)]
    xs = xs[np.searchsorted(group, np.arange(group[-1] + 1))]
    portions: list[tuple[Array, Array]] = list(ranges(low, high))
    pieces, slab = np.concatenate([a for a, _ in portions]), np.concatenate([b for _, b in portions])
    cut = curves.take(pieces)
    x0, x1 = xs[slab], xs[slab + 1]
    order = np.lexsort((cut.at((x0 + x1) / 2), slab))
    cut, slab, x0, x1 = cut.take(order), slab[order], x0[order], x1[order]
    # Every slab's pieces come in pairs of one loop, so the running sums are back at 0 at the end of each.
    outline = np.cumsum(np.where(cut.shape == 0, cut.enter, 0))
    cutouts = np.cumsum(np.where(cut.shape == 0, 0, cut.enter))
    return Slabs(cut, slab, x0, x1, (outline > 0) & (cutouts == 0))


def _crossings(curves: MonotoneCurves) -> list[Array]:
    """The x of every crossing of pieces of different shapes (and some that are none: they do no harm)."""
    order = np.argsort(curves.xa, kind="stable")
    c = curves.take(order)
    low = np.arange(1, len(order) + 1)
    high = np.searchsorted(c.xa, c.xb, side="right")
    y_low, y_high = np.minimum(c.ya, c.yb), np.maximum(c.ya, c.yb)
    found: list[Array] = []
    for i, j in ranges(low, high):
        keep = (c.shape[i] != c.shape[j]) & (y_low[i] <= y_high[j]) & (y_low[j] <= y_high[i])
        i, j = i[keep], j[keep]
        from_x, to_x = np.maximum(c.xa[i], c.xa[j]), np.minimum(c.xb[i], c.xb[j])
        bent_i, bent_j = c.side[i] != 0, c.side[j] != 0
        for case, solve in ((~bent_i & ~bent_j, _line_line), (bent_i & bent_j, _arc_arc), (bent_i ^ bent_j, _line_arc)):
            if np.any(case):
                a, b = i[case], j[case]
                if solve is _line_arc:
                    swap = c.side[a] != 0
                    a, b = np.where(swap, b, a), np.where(swap, a, b)
                for x in solve(c.take(a), c.take(b)):
                    found.append(x[np.isfinite(x) & (x > from_x[case]) & (x < to_x[case])])
    return found


def _line_line(a: MonotoneCurves, b: MonotoneCurves) -> list[Array]:
    slope_a = (a.yb - a.ya) / (a.xb - a.xa)
    slope_b = (b.yb - b.ya) / (b.xb - b.xa)
    with np.errstate(divide="ignore", invalid="ignore"):
        # About the begin of one of them, to keep the digits of short pieces far from the origin.
        return [a.xa + (b.ya + (a.xa - b.xa) * slope_b - a.ya) / (slope_a - slope_b)]


def _line_arc(line: MonotoneCurves, arc: MonotoneCurves) -> list[Array]:
    dx, dy = line.xb - line.xa, line.yb - line.ya
    length = np.hypot(dx, dy)
    dx, dy = dx / length, dy / length
    px, py = line.xa - arc.cx, line.ya - arc.cy
    along = -(px * dx + py * dy)  # foot of the perpendicular from the arc's centre
    off = px * dy - py * dx
    with np.errstate(invalid="ignore"):
        half = np.sqrt((arc.radius - off) * (arc.radius + off))
    return [line.xa + (along - half) * dx, line.xa + (along + half) * dx]


def _arc_arc(a: MonotoneCurves, b: MonotoneCurves) -> list[Array]:
    dx, dy = b.cx - a.cx, b.cy - a.cy
    with np.errstate(divide="ignore", invalid="ignore"):
        d = np.hypot(dx, dy)
        dx, dy = dx / d, dy / d
        along = (d + (a.radius - b.radius) * (a.radius + b.radius) / d) / 2
        half = np.sqrt((a.radius - along) * (a.radius + along))
        return [a.cx + along * dx - half * dy, a.cx + along * dx + half * dy]


# -------------------------------------------------------------------------------------------------------------- moments
def slab_moments(slabs: Slabs) -> Moments:
    """∫dA, ∫x dA, ∫y dA, ∫x² dA, ∫xy dA, ∫y² dA of the plate about the origin of the curves."""
    below = np.concatenate([[False], slabs.plate[:-1]])
    sign = below.astype(float) - slabs.plate.astype(float)  # the upper edge of plate counts, the lower is taken off
    keep = sign != 0
    c, x0, x1, sign = slabs.curves.take(keep), slabs.x0[keep], slabs.x1[keep], sign[keep]
    total = np.zeros(6)
    for case, integrals in ((c.side == 0, _under_line), (c.side != 0, _under_arc)):
        if np.any(case):
            total += integrals(c.take(case), x0[case], x1[case]) @ sign[case]
    area, sx, sy, sxx, sxy, syy = total.tolist()
    return (area, sx, sy, sxx, sxy, syy)


def _under_line(c: MonotoneCurves, x0: Array, x1: Array) -> Array:
    """∫y, ∫xy, ∫y²/2, ∫x²y, ∫xy²/2, ∫y³/3 dx: cubics, for which Gauss's rule with two points is exact."""
    middle, half = (x0 + x1) / 2, (x1 - x0) / 2
    total = np.zeros((6, len(x0)))
    for node in (-1 / np.sqrt(3), 1 / np.sqrt(3)):
        x = middle + node * half
        y = c.at(x)
        total += half * np.array([y, x * y, y * y / 2, x * x * y, x * y * y / 2, y**3 / 3])
    return total


def _under_arc(c: MonotoneCurves, x0: Array, x1: Array) -> Array:
    """The same under y = cy ± √(r² - u²), u = x - cx, by the antiderivatives of uᵐ(r² - u²)ⁿᐟ²."""
    first, last = (_arc_antiderivatives(np.clip(x - c.cx, -c.radius, c.radius), c.radius) for x in (x0, x1))
    one, u, uu, s, us, uus, ss, uss, sss = last - first
    x, y, k = c.cx, c.cy, c.side
    y0 = y * one + k * s
    y1 = y * u + k * us
    y2 = y * uu + k * uus
    q0 = y * y * one + 2 * y * k * s + ss
    q1 = y * y * u + 2 * y * k * us + uss
    return np.array([y0, x * y0 + y1, q0 / 2, x * x * y0 + 2 * x * y1 + y2, (x * q0 + q1) / 2,
                     (y**3 * one + 3 * y * y * k * s + 3 * y * ss + k * sss) / 3])


def _arc_antiderivatives(u: Array, r: Array) -> Array:
    s = np.sqrt(np.maximum((r - u) * (r + u), 0.0))
    base = (u * s + r * r * np.arctan2(u, s)) / 2  # ∫s du
    return np.array([u, u**2 / 2, u**3 / 3, base, -(s**3) / 3, -u * s**3 / 4 + r * r / 4 * base,
                     r * r * u - u**3 / 3, r * r * u**2 / 2 - u**4 / 4, u * s**3 / 4 + 3 * r * r / 4 * base])


# --------------------------------------------------------------------------------------------------------------- pieces
def pieces_of(slabs: Slabs) -> int:
    """Into how many pieces the plate falls. Pieces that touch in a point only are two."""
    cells = np.flatnonzero(slabs.plate)
    if not len(cells):
        return 0
    low, high = slabs.curves.take(cells), slabs.curves.take(cells + 1)
    x0, x1, slab = slabs.x0[cells], slabs.x1[cells], slabs.slab[cells]
    left = list(zip(low.at(x0).tolist(), high.at(x0).tolist()))
    right = list(zip(low.at(x1).tolist(), high.at(x1).tolist()))
    middle = (x0 + x1) / 2
    area = ((high.at(middle) - low.at(middle)) * (x1 - x0)).tolist()
    parent = list(range(len(cells)))

    def root(k: int) -> int:
        while parent[k] != k:
            parent[k] = parent[parent[k]]
            k = parent[k]
        return k

    begins = np.searchsorted(slab, np.arange(int(slab[-1]) + 2)).tolist()
    for this in range(len(begins) - 1):
        for k in range(begins[this] + 1, begins[this + 1]):
            if cells[k] == cells[k - 1] + 1:  # two cells with one piece between them
                parent[root(k)] = root(k - 1)
        if this + 2 > len(begins) - 1:
            break
        i, j = begins[this], begins[this + 1]
        while i < begins[this + 1] and j < begins[this + 2]:
            if min(right[i][1], left[j][1]) - max(right[i][0], left[j][0]) > SAME_LENGTH:
                parent[root(i)] = root(j)
            if right[i][1] < left[j][1]:
                i += 1
            else:
                j += 1
    areas: dict[int, float] = {}
    for k, value in enumerate(area):
        areas[root(k)] = areas.get(root(k), 0.0) + value
    return sum(1 for value in areas.values() if value > SCRAP)
