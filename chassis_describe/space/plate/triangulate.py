"""Triangles for regions bounded by loops, by one sweep from left to right; no vertex is added.

After S. Hertel and K. Mehlhorn, Fast Triangulation of Simple Polygons (FCT 1983): between a lower and an upper edge
that the sweep line cuts stands a chain of corners that wait for partners; every new corner takes those that it sees.
Corners are taken by x, then y, which is as if the plane were sheared by next to nothing: no two lie above one another.
"""
from __future__ import annotations

from collections.abc import Sequence

Corner = tuple[float, float]

#: A corner counts as straight, and waits, while its triangle is flatter than this (sine of the angle).
_FLAT = 1e-9


class _Stretch:
    """Region between edge ``lower`` and edge ``upper`` (each a pair of corner numbers, left one first)."""

    __slots__ = ("chain", "lower", "upper")

    def __init__(self, lower: tuple[int, int], upper: tuple[int, int], chain: list[int]) -> None:
        self.lower, self.upper, self.chain = lower, upper, chain  # the chain runs from the lower to the upper edge


def triangulate(loops: Sequence[Sequence[Corner]]) -> list[tuple[int, int, int]]:
    """Counter-clockwise triangles as numbers of corners, counted through all loops.

    Loops keep the region on their left: outer ones run counter-clockwise, those of holes clockwise. They must not touch.
    """
    return _Sweep(loops).run()


class _Sweep:
    def __init__(self, loops: Sequence[Sequence[Corner]]) -> None:
        self.points = [p for loop in loops for p in loop]
        self.before: list[int] = []
        self.after: list[int] = []
        for loop in loops:
            base, n = len(self.before), len(loop)
            self.before += [base + (k - 1) % n for k in range(n)]
            self.after += [base + (k + 1) % n for k in range(n)]
        self.active: list[_Stretch] = []  # from below to above
        self.by_lower: dict[tuple[int, int], _Stretch] = {}
        self.by_upper: dict[tuple[int, int], _Stretch] = {}
        self.triangles: list[tuple[int, int, int]] = []

    def run(self) -> list[tuple[int, int, int]]:
        points = self.points
        order = sorted(range(len(points)), key=points.__getitem__)
        rank = [0] * len(points)
        for k, v in enumerate(order):
            rank[v] = k
        for v in order:
            a, b = self.before[v], self.after[v]
            a_done, b_done = rank[a] < rank[v], rank[b] < rank[v]
            if a_done and not b_done:  # on an underside
                stretch = self.by_lower.pop((a, v))
                self._set(stretch, lower=(v, b))
                self._onto_lower(stretch.chain, v)
            elif b_done and not a_done:  # on an upper side
                stretch = self.by_upper.pop((b, v))
                self._set(stretch, upper=(v, a))
                self._onto_upper(stretch.chain, v)
            elif a_done:
                self._close(v, a, b)
            else:
                self._open(v, a, b)
        return self.triangles

    def _set(self, stretch: _Stretch, lower: tuple[int, int] | None = None,
             upper: tuple[int, int] | None = None) -> None:
        if lower is not None:
            stretch.lower = lower
            self.by_lower[lower] = stretch
        if upper is not None:
            stretch.upper = upper
            self.by_upper[upper] = stretch

    def _open(self, v: int, a: int, b: int) -> None:
        """Both edges lead on: a new stretch begins, or a hole divides one."""
        position = self._find(v)
        if self._cross(a, v, b) > 0:
            stretch = _Stretch((v, b), (v, a), [v])
            self.active.insert(position + 1, stretch)
            self._set(stretch, (v, b), (v, a))
            return
        stretch = self.active[position]
        chain = stretch.chain
        k = max(range(len(chain)), key=lambda n: self.points[chain[n]])  # the rightmost corner sees v
        low, high = chain[:k + 1], chain[k:]
        self._onto_upper(low, v)
        self._onto_lower(high, v)
        above = _Stretch((v, b), stretch.upper, high)
        self._set(above, (v, b), stretch.upper)
        stretch.chain = low
        self._set(stretch, upper=(v, a))
        self.active.insert(position + 1, above)

    def _close(self, v: int, a: int, b: int) -> None:
        """Both edges end: a stretch ends, or two become one behind a hole."""
        upper, lower = self.by_lower.pop((a, v)), self.by_upper.pop((b, v))
        if upper is lower:
            self._fan(upper.chain, v)
            self.active.remove(upper)
            return
        self._onto_upper(lower.chain, v)
        self._onto_lower(upper.chain, v)
        lower.chain += upper.chain[1:]
        self._set(lower, upper=upper.upper)
        self.active.remove(upper)

    def _find(self, v: int) -> int:
        """Index of the highest stretch whose lower edge is below v, -1 for none."""
        low, high = 0, len(self.active)
        while low < high:
            middle = (low + high) // 2
            if self._cross(*self.active[middle].lower, v) > 0:
                low = middle + 1
            else:
                high = middle
        return low - 1

    def _cross(self, a: int, b: int, c: int) -> float:
        """Twice the signed area of the triangle."""
        (ax, ay), (bx, by), (cx, cy) = self.points[a], self.points[b], self.points[c]
        return (bx - ax) * (cy - by) - (by - ay) * (cx - bx)

    def _bends(self, a: int, b: int, c: int) -> bool:
        """Whether a, b, c turn left by more than nothing."""
        (ax, ay), (bx, by), (cx, cy) = self.points[a], self.points[b], self.points[c]
        ux, uy, vx, vy = bx - ax, by - ay, cx - bx, cy - by
        cross = ux * vy - uy * vx
        return cross > 0 and cross * cross > _FLAT * _FLAT * (ux * ux + uy * uy) * (vx * vx + vy * vy)

    def _onto_upper(self, chain: list[int], v: int) -> None:
        while len(chain) > 1 and self._bends(v, chain[-1], chain[-2]):
            self.triangles.append((v, chain[-1], chain[-2]))
            chain.pop()
        chain.append(v)

    def _onto_lower(self, chain: list[int], v: int) -> None:
        taken = 0
        while taken + 1 < len(chain) and self._bends(chain[taken + 1], chain[taken], v):
            self.triangles.append((chain[taken + 1], chain[taken], v))
            taken += 1
        chain[:taken] = []
        chain.insert(0, v)

    def _fan(self, chain: list[int], v: int) -> None:
        """All that is left of a chain; what is flat by rounding only goes along, or the surface would have a slit."""
        self.triangles += [(v, q, p) for p, q in zip(chain, chain[1:])]
