"""Fewer corners for a convex outline, and corners on a grid; outward both times. Points in metres."""
from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from chassis_describe.space.plane.hull import Vec2, area, convex_hull, cross, depth

#: Area that dropping corners should add at most; 16 tangents around a circle add 1.3 %.
_GROWTH = 0.02
#: Corners this near (in grid steps) to a line of the grid stand on it.
_ON_GRID = 1e-6
#: A corner that lies outside by less (m) is rounding.
_ROUNDING = 1e-9


class _Line(NamedTuple):
    """A line with the polygon on its left: nx·x + ny·y = d with the unit normal pointing out."""

    nx: float
    ny: float
    d: float


def simplified(hull: Sequence[Vec2], most: int) -> tuple[Vec2, ...]:
    """A convex polygon of at most ``most`` corners around a convex counter-clockwise one.

    Edges are dropped one at a time, the one first whose neighbours, made longer until they meet, add the least area. A
    hull that is its own mirror image in y loses edges in pairs, so that what comes out is one, too.
    """
    corners = list(convex_hull(hull))
    if len(corners) <= most or most < 3:
        return tuple(corners)
    lines = [_line(a, b) for a, b in zip(corners, (*corners[1:], corners[0]))]
    partner = _mirror_pairs(corners)
    alive = list(range(len(lines)))
    while len(alive) > most:
        costs = [(_growth(lines, alive, k), e) for k, e in enumerate(alive)]
        best = min(costs)[1]
        twin = partner[best]
        alive.remove(best)
        if twin != best and twin in alive and len(alive) > 3 and _meets(lines, alive, alive.index(twin)):
            alive.remove(twin)
    dropped = _polygon(lines, _settled(lines, alive, partner))
    round_about = _tangents(corners, most)
    if 0.0 < area(round_about) < area(dropped):  # what is nearly a disc
        dropped = round_about
    if area(dropped) <= (1 + _GROWTH) * area(corners):
        return dropped
    spread = _polygon(lines, _settled(lines, _evenly(corners, most), partner))  # smooth outlines fare better so
    return min((p for p in (dropped, spread) if len(p) > 2), key=area)


def _polygon(lines: Sequence[_Line], alive: Sequence[int]) -> tuple[Vec2, ...]:
    kept = [lines[e] for e in alive]
    if any(a.nx * b.ny - a.ny * b.nx <= 1e-9 for a, b in zip(kept, (*kept[1:], kept[0]))):
        return ()
    return convex_hull([_crossing(kept[k - 1], kept[k]) for k in range(len(kept))])


def _tangents(corners: Sequence[Vec2], count: int) -> tuple[Vec2, ...]:
    """The polygon of tangents in that many directions at equal steps, one of them +x; () where two are nearly parallel."""
    steps = [2 * math.pi * k / count for k in range(count)]
    lines = [_Line(math.cos(a), math.sin(a), max(x * math.cos(a) + y * math.sin(a) for x, y in corners)) for a in steps]
    return convex_hull([_crossing(lines[k - 1], lines[k]) for k in range(count)]) if count > 4 else ()


def without_short_edges(polygon: Sequence[Vec2], least: float, step: float) -> tuple[Vec2, ...]:
    """A convex polygon on a grid, around a convex one that is, without edges shorter than ``least``: the shortest gives way
    to its neighbours, made longer until they meet. One that would not close without an edge keeps it."""
    found = tuple(polygon)
    while len(found) > 3:
        lines = [_line(a, b) for a, b in zip(found, (*found[1:], found[0]))]
        everyone = list(range(len(lines)))
        sizes = [math.dist(a, b) for a, b in zip(found, (*found[1:], found[0]))]
        short = [k for k in everyone if sizes[k] < least - _ROUNDING and _meets(lines, everyone, k)]
        if not short:
            break
        shortest = min(short, key=lambda k: sizes[k])
        fewer = on_grid(_polygon(lines, [k for k in everyone if k != shortest]), step)
        if len(fewer) >= len(found) or len(fewer) < 3:
            break
        found = fewer
    return found


def _evenly(corners: Sequence[Vec2], count: int) -> list[int]:
    """Edges at equal steps of affine arc length, ∫κ^⅓ ds: where the sides of the best polygon around a smooth convex
    curve touch it, when they are many (Fejes Tóth 1948; from memory)."""
    n = len(corners)
    weights = []
    for k in range(n):
        p, a, b, q = corners[k - 1], corners[k], corners[(k + 1) % n], corners[(k + 2) % n]
        long = math.dist(a, b)
        turns = (_turn(p, a, b) + _turn(a, b, q)) / 2
        weights.append(long ** (2 / 3) * turns ** (1 / 3))
    step = sum(weights) / count
    chosen: list[int] = []
    run = 0.0
    for k, w in enumerate(weights):
        # an edge is taken when the middle of a step falls on it
        if math.floor((run + w) / step + 0.5) > math.floor(run / step + 0.5):
            chosen.append(k)
        run += w
    return chosen


def _turn(a: Vec2, b: Vec2, c: Vec2) -> float:
    along = (b[0] - a[0]) * (c[0] - b[0]) + (b[1] - a[1]) * (c[1] - b[1])
    return math.atan2(cross(a, b, c), along)


def _settled(lines: Sequence[_Line], alive: list[int], partner: Sequence[int]) -> list[int]:
    """Each edge in turn gives way to the one between its neighbours that saves most area, with its mirror image."""
    symmetric = any(k != p for k, p in enumerate(partner))
    for _ in range(8):
        before = list(alive)
        for k in range(len(alive)):
            first, last = alive[k - 1], alive[(k + 1) % len(alive)]
            between = [(first + j) % len(lines) for j in range(1, (last - first) % len(lines))]
            twin = alive.index(partner[alive[k]]) if partner[alive[k]] in alive else k
            near = {k, (k - 1) % len(alive), (k + 1) % len(alive)}
            if (twin != k and twin in near) or (twin == k and symmetric):
                continue  # an edge on the axis of symmetry, or next to its own image, stays
            best = min(between, key=lambda e: (_local_area(lines, alive, k, e), e != alive[k]))
            if _local_area(lines, alive, k, best) < _local_area(lines, alive, k, alive[k]) - 1e-12:
                alive[k] = best
                if twin != k:
                    alive[twin] = partner[best]
        if alive == before:
            break
    return alive


def _local_area(lines: Sequence[_Line], alive: Sequence[int], k: int, edge: int) -> float:
    """Twice the area (m², but for a constant) that the outline has with ``edge`` as its k-th."""
    n = len(alive)
    ring = [lines[alive[(k + j) % n]] for j in (-2, -1, 0, 1, 2)]
    ring[2] = lines[edge]
    if any(a.nx * b.ny - a.ny * b.nx <= 1e-9 for a, b in zip(ring[1:], ring[2:4])):
        return math.inf
    a, b, c, d = (_crossing(p, q) for p, q in zip(ring, ring[1:]))
    return sum(p[0] * q[1] - p[1] * q[0] for p, q in ((a, b), (b, c), (c, d)))


def _line(a: Vec2, b: Vec2) -> _Line:
    long = math.dist(a, b)
    nx, ny = (b[1] - a[1]) / long, (a[0] - b[0]) / long
    return _Line(nx, ny, nx * a[0] + ny * a[1])


def _crossing(a: _Line, b: _Line) -> Vec2:
    det = a.nx * b.ny - a.ny * b.nx
    return ((a.d * b.ny - a.ny * b.d) / det, (a.nx * b.d - a.d * b.nx) / det)


def _meets(lines: Sequence[_Line], alive: Sequence[int], k: int) -> bool:
    """Whether the neighbours of an edge meet outside it: together they turn by less than half a turn."""
    a, b = lines[alive[k - 1]], lines[alive[(k + 1) % len(alive)]]
    return a.nx * b.ny - a.ny * b.nx > 1e-9


def _growth(lines: Sequence[_Line], alive: Sequence[int], k: int) -> float:
    """Area (m²) that dropping the k-th edge adds; infinite where its neighbours don't meet."""
    if not _meets(lines, alive, k):
        return math.inf
    before, own, after = lines[alive[k - 1]], lines[alive[k]], lines[alive[(k + 1) % len(alive)]]
    tip, a, b = _crossing(before, after), _crossing(before, own), _crossing(own, after)
    # Equal areas must compare as equal, or rounding would choose among mirror images.
    return float(f"{abs(cross(tip, a, b)) / 2:.9e}")


def _mirror_pairs(corners: Sequence[Vec2]) -> list[int]:
    """For each edge (by its first corner) its mirror image in y; itself where the outline has no such symmetry."""
    n = len(corners)
    index = {(round(x, 9), round(y, 9) + 0.0): k for k, (x, y) in enumerate(corners)}
    image = [index.get((round(x, 9), round(-y, 9) + 0.0)) for x, y in corners]
    if any(k is None for k in image):
        return list(range(n))
    return [image[(k + 1) % n] for k in range(n)]  # type: ignore[misc]


def on_grid(polygon: Sequence[Vec2], step: float) -> tuple[Vec2, ...]:
    """A convex counter-clockwise polygon around a convex one, with no more corners, each on a grid of that step.

    Corners go outward to the grid; where an edge would then cut in, the outline is first moved out by as little as
    helps, in tenths of a step. Moved by √½ step, the nearest grid points always hold it.
    """
    outer = convex_hull(polygon)
    if len(outer) < 3:
        return convex_hull([_rounded(p, (1.0, 1.0), step) for p in outer])
    lines = [_line(a, b) for a, b in zip(outer, (*outer[1:], outer[0]))]
    for tenths in range(12):
        moved = [_Line(q.nx, q.ny, q.d + tenths * step / 10) for q in lines]
        corners = [(_crossing(moved[k - 1], moved[k]), moved[k - 1], moved[k]) for k in range(len(moved))]
        for away in (True, False):
            found = convex_hull([_rounded(p, (a.nx + b.nx, a.ny + b.ny) if away else None, step)
                                 for p, a, b in corners])
            if all(depth(found, p) >= -_ROUNDING for p in outer):
                return found
    raise AssertionError("an outline moved out by more than √½ step is held by its rounded corners")


def _rounded(p: Vec2, outward: Vec2 | None, step: float) -> Vec2:
    """The grid point next to p on the side where ``outward`` points, or the nearest one; whole steps, exactly."""
    out = []
    for axis, value in enumerate(p):
        steps = value / step
        near = round(steps)
        direction = 0.0 if outward is None or abs(outward[axis]) < 1e-9 else outward[axis]
        if abs(steps - near) > _ON_GRID and direction:
            near = math.ceil(steps) if direction > 0 else math.floor(steps)
        out.append(near / round(1 / step) + 0.0 if step < 1 else near * step + 0.0)
    return (out[0], out[1])
