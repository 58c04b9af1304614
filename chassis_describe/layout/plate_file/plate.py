"""A plate file's bytes → the plate in the deck's axes: outline, cutouts, lattice holes and the others. Metres."""
from __future__ import annotations

import math
from collections.abc import Iterable
from functools import lru_cache
from typing import NamedTuple

from chassis_describe.errors import never
from chassis_describe.layout.plate_file.curves import Curves, curves_of
from chassis_describe.layout.plate_file.document import document_of
from chassis_describe.layout.plate_file.faults import no_plate
from chassis_describe.layout.plate_file.lattice import doubt_of, lattice_in
from chassis_describe.layout.plate_file.nesting import nested
from chassis_describe.space.plate.shapes import Disc, Polygon, Rectangle, Shape, Slot, Vec2
from chassis_describe.tolerances import MOST_HOLES

#: Circles (and the width of slots) up to so many hole diameters are drilled; larger ones are windows.
_DRILLED = 3.0
#: Direction on the page → the vector (x, y of the file) that is the deck's front.
_FRONTS: dict[str, Vec2] = {"up": (0.0, 1.0), "down": (0.0, -1.0), "left": (-1.0, 0.0), "right": (1.0, 0.0)}


class Asked(NamedTuple):
    """What the deck says of its file; ``pitch`` None: a deck without lattice. ``origin``: where hole [0, 0] is in the deck."""

    layers: tuple[str, ...]
    front: str
    seen_from: str
    pitch: float | None
    hole: float
    origin: Vec2


class DrawnPlate(NamedTuple):
    """The plate; ``holes`` of its lattice, None where the file has no lattice. ``zero``: the place in the file, in its own unit, of
    hole [0, 0] if it has one, else of the deck's (0, 0). ``doubt``: what looks wrong, and what to do."""

    outline: Shape
    cutouts: tuple[Shape, ...]
    round_holes: tuple[Disc, ...]
    slots: tuple[Slot, ...]
    holes: frozenset[tuple[int, int]] | None
    hole: float
    zero: Vec2
    curves: Curves
    mended: tuple[str, ...]
    doubt: tuple[str, str] | None


@lru_cache(maxsize=4)  # a page and a node read a layout anew at every save, and mostly not its plates
def drawn_plate(data: bytes, asked: Asked) -> DrawnPlate:
    """The plate in a file. Raises NoPlate with every problem; UsageError where ezdxf is not installed."""
    document, mended = document_of(data)
    curves = curves_of(document, asked.layers)
    found = nested(curves)
    view = _View(asked.front, asked.seen_from)
    outline, inner = view.shape(found.outer), [view.shape(s) for s in found.inner]
    most = _DRILLED * asked.hole * (1 + 1e-6)
    small = [s for s in inner if isinstance(s, Disc) and 2 * s.radius <= most]
    if len(small) > MOST_HOLES:
        raise no_plate(f"has {len(small)} circles of a hole's size; all decks together have {MOST_HOLES} holes at most",
                       "leave out of the file what is not drilled")
    slots = [s for s in inner if isinstance(s, Slot) and s.width <= most]
    windows = [s for s in inner if (2 * s.radius if isinstance(s, Disc) else s.width if isinstance(s, Slot) else math.inf) > most]
    x0, y0, x1, y1 = outline.bounds
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    lattice = lattice_in(small, asked.pitch, asked.hole, middle) if asked.pitch is not None else None
    zero = lattice.zero if lattice is not None else middle
    at = asked.origin if lattice is not None else (0.0, 0.0)
    doubt = doubt_of(small, len(lattice.holes) if lattice else 0, asked.pitch, asked.hole) if asked.pitch is not None else None

    def here(shape: Shape) -> Shape:
        return _shifted(shape, (at[0] - zero[0], at[1] - zero[1]))

    rest = [s for k, s in enumerate(small) if lattice is None or k not in lattice.holes]
    back = view.in_file(zero)
    return DrawnPlate(
        outline=here(outline),
        cutouts=tuple(map(here, _in_order(windows))),
        round_holes=tuple(s for s in map(here, _in_order(rest)) if isinstance(s, Disc)),
        slots=tuple(s for s in map(here, _in_order(slots)) if isinstance(s, Slot)),
        holes=frozenset(lattice.holes.values()) if lattice is not None else None,
        hole=lattice.diameter if lattice is not None else asked.hole,
        zero=(back[0] / curves.metres, back[1] / curves.metres), curves=curves, mended=mended, doubt=doubt)


class _View:
    """From the page to the deck: x along the deck's front, y to its left, which is on the other hand seen from under it."""

    def __init__(self, front: str, seen_from: str) -> None:
        self.front = _FRONTS[front]
        side = -1.0 if seen_from == "under" else 1.0
        self.left = (-side * self.front[1], side * self.front[0])

    def point(self, p: Vec2) -> Vec2:
        (fx, fy), (lx, ly) = self.front, self.left
        return (p[0] * fx + p[1] * fy, p[0] * lx + p[1] * ly)

    def in_file(self, p: Vec2) -> Vec2:
        (fx, fy), (lx, ly) = self.front, self.left
        return (p[0] * fx + p[1] * lx, p[0] * fy + p[1] * ly)

    def shape(self, shape: Shape) -> Shape:
        """A shape of the file in the deck's directions."""
        if isinstance(shape, Disc):
            return Disc(radius=shape.radius, centre=self.point(shape.centre))
        if isinstance(shape, Rectangle):
            w, h = shape.size
            return Rectangle(size=(w, h) if self.front[0] else (h, w), corner=shape.corner, centre=self.point(shape.centre))
        if isinstance(shape, Slot):
            x, y = self.point((math.cos(shape.turn), math.sin(shape.turn)))
            return Slot(length=shape.length, width=shape.width, centre=self.point(shape.centre), turn=math.atan2(y, x) % math.pi)
        if isinstance(shape, Polygon):
            return Polygon(points=tuple(map(self.point, shape.points)))
        raise never(shape)


def _shifted(shape: Shape, by: Vec2) -> Shape:
    """Moved; to the nanometre, so that what a drawing says in round numbers is round here too."""
    def put(p: Vec2) -> Vec2:
        return (round(p[0] + by[0], 9) + 0.0, round(p[1] + by[1], 9) + 0.0)

    if isinstance(shape, Disc):
        return Disc(radius=round(shape.radius, 9), centre=put(shape.centre))
    if isinstance(shape, Rectangle):
        size = (round(shape.size[0], 9), round(shape.size[1], 9))
        return Rectangle(size=size, corner=min(round(shape.corner, 9), *(s / 2 for s in size)), centre=put(shape.centre))
    if isinstance(shape, Slot):
        return Slot(length=round(shape.length, 9), width=round(shape.width, 9), centre=put(shape.centre), turn=shape.turn)
    if isinstance(shape, Polygon):
        points = [put(p) for p in shape.points]
        return Polygon(points=tuple(p for k, p in enumerate(points) if p != points[k - 1]))
    raise never(shape)


def _in_order(shapes: Iterable[Shape]) -> list[Shape]:
    """Front to back, then left to right, whatever the order in the file."""
    return sorted(shapes, key=lambda s: tuple(round(-(s.bounds[n] + s.bounds[n + 2]) / 2, 6) for n in (0, 1)))
