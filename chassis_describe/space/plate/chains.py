"""Runs of straight and round edges that are joined at their ends to closed contours, and what keeps them from closing. Metres."""
from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal, NamedTuple

from chassis_describe.space.plate.contours import Contour, Edge
from chassis_describe.space.plate.shapes import Vec2


class Loose(NamedTuple):
    """What keeps runs from closing, and where: ``open`` both ends of what is joined so far (``gap``: from the first of them to the
    nearest other loose end), ``branch`` the point at which more than two ends meet, ``doubled`` a point of what is drawn twice."""

    kind: Literal["open", "branch", "doubled"]
    at: tuple[Vec2, ...]
    gap: float = math.inf


_End = tuple[int, int]  # number of the run, 0 for its start and 1 for its end


def joined(runs: Sequence[Contour], within: float) -> tuple[list[Contour], list[Loose]]:
    """Closed contours from runs whose ends are at most ``within`` apart, and every fault. A shorter run is a dot and left out."""
    runs = [run for run in runs if run and length_of(run) > within]
    whole = [math.dist(*_ends(run)) <= within and length_of(run) > 4 * within for run in runs]
    closed = [_sewn([run]) for run, yes in zip(runs, whole) if yes]
    open_runs = [run for run, yes in zip(runs, whole) if not yes]
    node_of = _nodes([point for run in open_runs for point in _ends(run)], within)
    left, faults = _without_doubles(open_runs, node_of, within)
    meeting: dict[int, list[_End]] = {}
    for k in left:
        for side in (0, 1):
            meeting.setdefault(node_of[2 * k + side], []).append((k, side))
    faults += [Loose("branch", (_ends(open_runs[ends[0][0]])[ends[0][1]],)) for ends in meeting.values() if len(ends) > 2]
    walked: set[int] = set()
    loose: list[tuple[Vec2, Vec2]] = []
    starts = [ends[0] for ends in meeting.values() if len(ends) == 1] + [(k, 0) for k in left]
    for start in starts:
        if start[0] in walked:
            continue
        path, back = _walk(start, open_runs, node_of, meeting)
        walked |= {k for k, _ in path}
        way = [open_runs[k] if side == 0 else reverse(open_runs[k]) for k, side in path]
        if back:
            closed.append(_sewn(way))
        elif len(meeting[node_of[2 * start[0] + start[1]]]) == 1:
            loose.append((way[0][0].start, way[-1][-1].end))
    ends = [point for pair in loose for point in pair]
    for n, pair in enumerate(loose):
        others = [point for k, point in enumerate(ends) if k != 2 * n]
        faults.append(Loose("open", pair, min((math.dist(pair[0], p) for p in others), default=math.inf)))
    return closed, faults


def _walk(start: _End, runs: Sequence[Contour], node_of: Sequence[int],
          meeting: dict[int, list[_End]]) -> tuple[list[_End], bool]:
    """The runs from an end on, each with the side that it begins at, while exactly two ends meet; whether it came back."""
    path, here = [start], start
    while True:
        node = node_of[2 * here[0] + 1 - here[1]]
        ends = meeting[node]
        others = [end for end in ends if end != (here[0], 1 - here[1])]
        if len(ends) != 2 or not others:
            return path, False
        here = others[0]
        if here[0] == start[0]:
            return path, True
        path.append(here)


def _ends(run: Contour) -> tuple[Vec2, Vec2]:
    return run[0].start, run[-1].end


def length_of(run: Contour) -> float:
    """Along its edges."""
    return sum(abs(e.sweep) * math.dist(e.start, e.centre) if e.centre is not None else math.dist(e.start, e.end) for e in run)


def reverse(run: Contour) -> Contour:
    """The same edges, walked the other way."""
    return tuple(Edge(e.end, e.start, e.centre, not e.left) for e in reversed(run))


def _sewn(runs: Sequence[Contour]) -> Contour:
    """One contour whose edges share their ends to the last digit."""
    edges = [edge for run in runs for edge in run]
    return tuple(edge._replace(start=edges[k - 1].end) for k, edge in enumerate(edges))


def _nodes(points: Sequence[Vec2], within: float) -> list[int]:
    """A number for each point, the same for those that are within reach of one another (through others, too)."""
    parent = list(range(len(points)))

    def root(k: int) -> int:
        while parent[k] != k:
            parent[k] = parent[parent[k]]
            k = parent[k]
        return k

    cells: dict[tuple[int, int], list[int]] = {}
    for k, (x, y) in enumerate(points):
        i, j = math.floor(x / within), math.floor(y / within)
        for other in (n for a in (-1, 0, 1) for b in (-1, 0, 1) for n in cells.get((i + a, j + b), ())):
            if math.dist(points[other], points[k]) <= within:
                parent[root(k)] = root(other)
        cells.setdefault((i, j), []).append(k)
    return [root(k) for k in range(len(points))]


def _without_doubles(runs: Sequence[Contour], node_of: Sequence[int], within: float) -> tuple[list[int], list[Loose]]:
    """The runs that are not the same as one before, by number, and a fault for each that is."""
    left: list[int] = []
    between: dict[tuple[int, int], list[int]] = {}
    faults: list[Loose] = []
    for k, run in enumerate(runs):
        ends = sorted((node_of[2 * k], node_of[2 * k + 1]))
        if ends[0] == ends[1]:
            continue  # its ends are one point, and it is no longer than the way between them: a dot
        known = between.setdefault((ends[0], ends[1]), [])
        if any(_same(run, runs[other], within) for other in known):
            faults.append(Loose("doubled", (_middle(run[len(run) // 2]),)))
            continue
        known.append(k)
        left.append(k)
    return left, faults


def _same(one: Contour, other: Contour, within: float) -> bool:
    """Whether two runs are the same edges, either way round."""
    return len(one) == len(other) and any(
        all(math.dist(a.start, b.start) <= within and math.dist(a.end, b.end) <= within
            and math.dist(_middle(a), _middle(b)) <= within for a, b in zip(one, way)) for way in (other, reverse(other)))


def _middle(edge: Edge) -> Vec2:
    """The point half way along an edge."""
    return along(edge, 0.5)


def along(edge: Edge, share: float) -> Vec2:
    """The point at a share of an edge's length."""
    (x, y), (u, v) = edge.start, edge.end
    if edge.centre is None:
        return (x + share * (u - x), y + share * (v - y))
    a, b = edge.centre
    c, s = math.cos(share * edge.sweep), math.sin(share * edge.sweep)
    return (a + c * (x - a) - s * (y - b), b + s * (x - a) + c * (y - b))


def chords_of(contour: Contour, off: float) -> list[Vec2]:
    """The corners of a closed polygon that is at most ``off`` from the contour, each on it; without the first one again.

    Arcs have corners where they reach furthest along x and y, so that the polygon has the contour's own bounds.
    """
    points: list[Vec2] = []
    for edge in contour:
        shares = [0.0, *_extremes(edge), 1.0]
        for first, last in zip(shares, shares[1:]):
            n = _chords_in(edge, (last - first) * abs(edge.sweep), off)
            points += [along(edge, first + (last - first) * k / n) for k in range(n)]
    return points


def _extremes(edge: Edge) -> list[float]:
    """The shares of an arc's length at which it runs along x or y, its ends left out."""
    if edge.centre is None or edge.sweep == 0.0:
        return []
    begin = math.atan2(edge.start[1] - edge.centre[1], edge.start[0] - edge.centre[0])
    shares = [(k * math.pi / 2 - begin) / edge.sweep for k in range(-6, 7)]
    return sorted(s for s in shares if 1e-6 < s < 1 - 1e-6)


def _chords_in(edge: Edge, sweep: float, off: float) -> int:
    """How many chords stand for a bit of an edge: the sagitta r·(1 - cos(φ/2)) of each is at most ``off``."""
    if edge.centre is None:
        return 1
    radius = math.dist(edge.start, edge.centre)
    widest = 2 * math.acos(1 - off / radius) if radius > 2 * off else math.pi / 3
    return max(1, math.ceil(sweep / widest - 1e-9))
