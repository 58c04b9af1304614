"""The smallest flat plate that holds given holes and is bolted to some of many: plain geometry. Metres.

A plate is a rectangle square to the lattice. What bounds it are the wanted holes and the bolts, each with its own distance to the
edge; so of every set of bolts that would do, the smallest rectangle is one of those whose sides each go through one of them. All of
these are looked at, the smallest area first: none smaller is missed.
"""
from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Iterator, Sequence
from itertools import combinations
from typing import NamedTuple

from chassis_describe.space.plane.hull import area, convex_hull, depth
from chassis_describe.tolerances import SAME_LENGTH
from chassis_describe.values import dataclass

Vec2 = tuple[float, float]
Hole = tuple[int, int]


class Rect(NamedTuple):
    """Low and high along x and y."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def area(self) -> float:
        """m²."""
        return (self.x1 - self.x0) * (self.y1 - self.y0)

    def holds(self, other: Rect) -> bool:
        """Whether the other lies in this one."""
        return (self.x0 <= other.x0 + SAME_LENGTH and self.y0 <= other.y0 + SAME_LENGTH
                and self.x1 >= other.x1 - SAME_LENGTH and self.y1 >= other.y1 - SAME_LENGTH)

    def away(self, p: Vec2) -> float:
        """Distance of a point, 0 inside."""
        return math.hypot(max(self.x0 - p[0], p[0] - self.x1, 0.0), max(self.y0 - p[1], p[1] - self.y1, 0.0))


@dataclass(frozen=True, kw_only=True)
class Task:
    """``wanted``: holes that the plate must have, ``wanted_edge`` from their middles to its edge at least. ``bolts``: holes that it
    may be bolted to, by name; those are ``bolt_edge`` from the edge, and ``apart`` from one another."""

    wanted: tuple[Vec2, ...]
    wanted_edge: float
    bolts: dict[Hole, Vec2]
    bolt_edge: float
    apart: float = 0.0


class FoundPlate(NamedTuple):
    """``overhang``: how far the wanted holes are outside the hull of the bolts (m), 0 where these surround them."""

    rect: Rect
    bolts: tuple[Hole, ...]
    overhang: float


def plates(task: Task, *, surround: bool, blocked: Callable[[Rect], bool],
           unfit: Callable[[Rect], bool] = lambda rect: False) -> Iterator[FoundPlate]:
    """Every plate in the order of its area that is neither blocked nor unfit and has three bolts that are not in line;
    ``surround``: and whose bolts have the wanted holes among them. What holds a blocked rectangle is blocked, too; what holds
    an unfit one may be fit."""
    shut: list[Rect] = []
    for rect in _rectangles(task):
        if any(rect.holds(s) for s in shut):
            continue
        inside = {h: p for h, p in task.bolts.items() if _takes(rect, p, task.bolt_edge)}
        chosen = _chosen(task, inside, surround)
        if chosen is None:
            continue
        if blocked(rect):
            shut.append(rect)
            continue
        if unfit(rect):
            continue
        hull = convex_hull(task.bolts[h] for h in chosen)
        out = max(0.0, *(-depth(hull, p) for p in task.wanted))
        yield FoundPlate(rect, chosen, out if out > SAME_LENGTH else 0.0)


def least(task: Task) -> Rect:
    """The rectangle about the wanted holes alone."""
    xs, ys = zip(*task.wanted)
    e = task.wanted_edge
    return Rect(min(xs) - e, min(ys) - e, max(xs) + e, max(ys) + e)


def _takes(rect: Rect, p: Vec2, edge: float) -> bool:
    return (rect.x0 + edge <= p[0] + SAME_LENGTH and p[0] <= rect.x1 - edge + SAME_LENGTH
            and rect.y0 + edge <= p[1] + SAME_LENGTH and p[1] <= rect.y1 - edge + SAME_LENGTH)


def _rectangles(task: Task) -> Iterator[Rect]:
    """By area, then the one that lies nearest about the wanted holes."""
    core = least(task)
    spans = [_spans(low, high, [p[k] for p in task.bolts.values()], task.bolt_edge)
             for k, (low, high) in enumerate(((core.x0, core.x1), (core.y0, core.y1)))]
    xs, ys = spans

    def key(i: int, j: int) -> tuple[float, float, int, int]:
        middle = abs(sum(xs[i]) - core.x0 - core.x1) + abs(sum(ys[j]) - core.y0 - core.y1)
        return round((xs[i][1] - xs[i][0]) * (ys[j][1] - ys[j][0]), 12), round(middle, 9), i, j

    # Both lists grow in length, so a product is no smaller than those with an earlier partner.
    queue, seen = [key(0, 0)], {(0, 0)}
    while queue:
        _, _, i, j = heapq.heappop(queue)
        yield Rect(xs[i][0], ys[j][0], xs[i][1], ys[j][1])
        for k, m in ((i + 1, j), (i, j + 1)):
            if k < len(xs) and m < len(ys) and (k, m) not in seen:
                seen.add((k, m))
                heapq.heappush(queue, key(k, m))


def _spans(low: float, high: float, bolts: Sequence[float], edge: float) -> list[tuple[float, float]]:
    """From where to where a plate may reach along one axis, the shortest first."""
    lows = [low, *sorted({round(b - edge, 12) for b in bolts if b - edge < low - SAME_LENGTH}, reverse=True)]
    highs = [high, *sorted({round(b + edge, 12) for b in bolts if b + edge > high + SAME_LENGTH})]
    return sorted(((a, b) for a in lows for b in highs), key=lambda s: (round(s[1] - s[0], 12), abs(sum(s) - low - high), s))


def _chosen(task: Task, inside: dict[Hole, Vec2], surround: bool) -> tuple[Hole, ...] | None:
    """Four bolts where four will do, else three, else more: those that enclose most, among the outermost."""
    hull = convex_hull(inside.values())
    if len(hull) < 3 or (surround and any(depth(hull, p) < -SAME_LENGTH for p in task.wanted)):
        return None
    at = {p: h for h, p in inside.items()}
    outer = [at[p] for p in hull]
    for size in dict.fromkeys((4, 3, *range(5, len(outer) + 1))):
        best: tuple[float, tuple[Hole, ...]] | None = None
        for some in combinations(sorted(outer), size):
            points = [inside[h] for h in some]
            if any(math.dist(a, b) < task.apart - SAME_LENGTH for a, b in combinations(points, 2)):
                continue
            ring = convex_hull(points)
            if len(ring) < 3 or (surround and any(depth(ring, p) < -SAME_LENGTH for p in task.wanted)):
                continue
            size_of = round(area(ring), 12)
            if best is None or size_of > best[0]:
                best = (size_of, some)
        if best is not None:
            return best[1]
    return None
