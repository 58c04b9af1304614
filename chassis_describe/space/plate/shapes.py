"""Flat shapes in a plate's plane, as values. Metres and radians, x and y of the plate frame."""
from __future__ import annotations

import math
from typing import Union

from chassis_describe.errors import never
from chassis_describe.space.pose import cos_sin
from chassis_describe.values import dataclass

Vec2 = tuple[float, float]
Bounds = tuple[float, float, float, float]  # x low, y low, x high, y high


@dataclass(frozen=True, slots=True, kw_only=True)
class Rectangle:
    """Edges along x and y, full edge lengths ``size``, all four corners rounded with radius ``corner``."""

    size: Vec2
    corner: float = 0.0
    centre: Vec2 = (0.0, 0.0)

    def __post_init__(self) -> None:
        if not min(self.size) > 0:
            raise ValueError(f"a rectangle needs positive edge lengths, not {self.size}")
        if not 0 <= self.corner <= min(self.size) / 2 * (1 + 1e-12):
            raise ValueError(f"the corner radius {self.corner} is not between 0 and half of the shorter edge")

    @property
    def bounds(self) -> Bounds:
        """The least box around it."""
        (w, h), (x, y) = self.size, self.centre
        return (x - w / 2, y - h / 2, x + w / 2, y + h / 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Disc:
    """A circle and what is in it."""

    radius: float
    centre: Vec2 = (0.0, 0.0)

    def __post_init__(self) -> None:
        if not self.radius > 0:
            raise ValueError(f"a disc needs a positive radius, not {self.radius}")

    @property
    def bounds(self) -> Bounds:
        """The least box around it."""
        (x, y), r = self.centre, self.radius
        return (x - r, y - r, x + r, y + r)


@dataclass(frozen=True, slots=True, kw_only=True)
class Polygon:
    """A simple polygon by its corners in order, either way round; the last corner joins the first."""

    points: tuple[Vec2, ...]

    def __post_init__(self) -> None:
        if len(self.points) < 3:
            raise ValueError("a polygon needs at least three points")

    @property
    def bounds(self) -> Bounds:
        """The least box around it."""
        xs, ys = [p[0] for p in self.points], [p[1] for p in self.points]
        return (min(xs), min(ys), max(xs), max(ys))


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """A long hole with round ends: overall ``length`` (along x before the ``turn``) and ``width``."""

    length: float
    width: float
    centre: Vec2 = (0.0, 0.0)
    turn: float = 0.0

    def __post_init__(self) -> None:
        if not (self.width > 0 and self.length >= self.width):
            raise ValueError(f"a slot's overall length {self.length} must be at least its width {self.width} > 0")

    @property
    def ends(self) -> tuple[Vec2, Vec2]:
        """Centres of the two round ends."""
        c, s = cos_sin(self.turn)
        reach = (self.length - self.width) / 2
        x, y = self.centre
        return ((x - reach * c, y - reach * s), (x + reach * c, y + reach * s))

    @property
    def bounds(self) -> Bounds:
        """The least box around it."""
        (ax, ay), (bx, by) = self.ends
        r = self.width / 2
        return (min(ax, bx) - r, min(ay, by) - r, max(ax, bx) + r, max(ay, by) + r)


Shape = Union[Rectangle, Disc, Polygon, Slot]


def core(shape: Rectangle | Disc) -> tuple[float, float, float]:
    """Half edges of the rectangle about the centre that, grown by a radius all round, is the shape; and that radius."""
    if isinstance(shape, Disc):
        return 0.0, 0.0, shape.radius
    return shape.size[0] / 2 - shape.corner, shape.size[1] / 2 - shape.corner, shape.corner


def bounding_circle(shape: Shape) -> tuple[float, float, float]:
    """Centre and radius of a circle around the shape: the least one but for polygons, where it is a simple one."""
    if isinstance(shape, Disc):
        return (*shape.centre, shape.radius)
    if isinstance(shape, Slot):
        return (*shape.centre, shape.length / 2)
    if isinstance(shape, Rectangle):
        w, h, r = core(shape)
        return (*shape.centre, math.hypot(w, h) + r)
    if isinstance(shape, Polygon):
        x0, y0, x1, y1 = shape.bounds
        x, y = (x0 + x1) / 2, (y0 + y1) / 2
        return (x, y, max(math.hypot(px - x, py - y) for px, py in shape.points))
    raise never(shape)
