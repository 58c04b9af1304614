"""Slots with round ends as centre lines: where a screw stands in one, and which hole of a lattice lies under it."""
from __future__ import annotations

import math
from collections.abc import Iterator
from typing import NamedTuple

from chassis_describe.assembly.lattice import lattice_coordinates, lattice_point
from chassis_describe.layout.model import BoltSlot, Lattice
from chassis_describe.source import Mark
from chassis_describe.tolerances import SAME_HOLE

Vec2 = tuple[float, float]


class Line(NamedTuple):
    """The centre line of a slot: its middle, and the vector from there to one end (zero for a round hole). Metres."""

    middle: Vec2
    half: Vec2 = (0.0, 0.0)

    def nearest(self, point: Vec2) -> Vec2:
        """The point of the line that is nearest to a point."""
        square = self.half[0] ** 2 + self.half[1] ** 2
        if square == 0.0:
            return self.middle
        x, y = point[0] - self.middle[0], point[1] - self.middle[1]
        share = max(-1.0, min(1.0, (x * self.half[0] + y * self.half[1]) / square))
        return (self.middle[0] + share * self.half[0], self.middle[1] + share * self.half[1])

    def room_from(self, point: Vec2) -> Vec2:
        """How far a screw at a point of the line can go along it at most, one way or the other (a vector)."""
        size = math.hypot(*self.half)
        if size == 0.0:
            return (0.0, 0.0)
        share = 1.0 + math.dist(point, self.middle) / size
        return (self.half[0] * share, self.half[1] * share)


def line_of(middle: Vec2, slot: BoltSlot | None) -> Line:
    """The centre line of a part's slot, in part axes."""
    if slot is None:
        return Line(middle)
    return Line(middle, (slot.reach * math.cos(slot.turn), slot.reach * math.sin(slot.turn)))


def meeting(one: Line, other: Line) -> tuple[Vec2, Vec2]:
    """The nearest points of two centre lines; where several are as near, those nearest to the two middles."""
    pairs = [(one.nearest(p), p) for p in _marks(other)] + [(p, other.nearest(p)) for p in _marks(one)]
    cross = one.half[0] * other.half[1] - one.half[1] * other.half[0]
    if cross != 0.0:
        x, y = other.middle[0] - one.middle[0], other.middle[1] - one.middle[1]
        share = (x * other.half[1] - y * other.half[0]) / cross
        along = (x * one.half[1] - y * one.half[0]) / cross
        if abs(share) <= 1.0 and abs(along) <= 1.0:
            point = (one.middle[0] + share * one.half[0], one.middle[1] + share * one.half[1])
            pairs.append((point, point))
    return min(pairs, key=lambda p: (round(math.dist(*p), 12), math.dist(p[0], one.middle) + math.dist(p[1], other.middle)))


def _marks(line: Line) -> tuple[Vec2, ...]:
    (x, y), (u, v) = line
    return ((x, y), (x + u, y + v), (x - u, y - v)) if u or v else ((x, y),)


def off_holes(line: Line, pitch: float) -> float:
    """Distance of a centre line from the nearest point of a lattice with that pitch and its [0, 0] at the origin (m)."""
    if line.half == (0.0, 0.0):
        return math.hypot(*((v / pitch - round(v / pitch)) * pitch for v in line.middle))
    grid = Lattice(pitch=pitch, hole=pitch / 2, screw="", mark=Mark("", 0, 0))
    return min(away for _, _, away in lattice_holes_by(grid, line))


def lattice_holes_by(lattice: Lattice, line: Line) -> Iterator[tuple[tuple[int, int], Vec2, float]]:
    """Lattice points next to a centre line: indices, coordinates (m) and distance (m); of a round hole the one nearest."""
    if line.half == (0.0, 0.0):
        ends = [lattice_coordinates(lattice, line.middle)]
        spans = [(round(v), round(v)) for v in ends[0]]
    else:
        ends = [lattice_coordinates(lattice, p) for p in _marks(line)]
        spans = [(math.floor(min(e[k] for e in ends) + 0.5), math.ceil(max(e[k] for e in ends) - 0.5)) for k in (0, 1)]
        spans = [(min(low, high), max(low, high)) for low, high in spans]
    for i in range(spans[0][0], spans[0][1] + 1):
        for j in range(spans[1][0], spans[1][1] + 1):
            centre = lattice_point(lattice, (i, j))
            away = math.dist(line.nearest(centre), centre)
            yield (i, j), centre, 0.0 if away < SAME_HOLE * lattice.pitch else away
