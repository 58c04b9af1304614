"""Decks as plates, and points of their lattices."""
from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from chassis_describe.errors import LayoutError
from chassis_describe.findings import finding
from chassis_describe.layout.model import CircleShape, Deck, Lattice, OutlineShape, PolygonShape, RectangleShape
from chassis_describe.space.plate import plate as flat

Vec2 = tuple[float, float]


def lattice_point(lattice: Lattice | None, at: Vec2) -> Vec2:
    """Coordinates in the plane (m) of lattice point ``at``; a plane without lattice has only its origin."""
    if lattice is None:
        return (0.0, 0.0)
    return (lattice.origin[0] + lattice.pitch * at[0], lattice.origin[1] + lattice.pitch * at[1])


def lattice_coordinates(lattice: Lattice, point: Vec2) -> Vec2:
    """Lattice coordinates (in pitches, fractions allowed) of a point of the plane (m)."""
    return ((point[0] - lattice.origin[0]) / lattice.pitch, (point[1] - lattice.origin[1]) / lattice.pitch)


def _flat(shape: OutlineShape) -> flat.Shape:
    if isinstance(shape, RectangleShape):
        return flat.Rectangle(size=shape.size, corner=shape.corner, centre=shape.centre)
    if isinstance(shape, CircleShape):
        return flat.Disc(radius=shape.diameter / 2, centre=shape.centre)
    assert isinstance(shape, PolygonShape)
    return flat.Polygon(points=shape.points)


def lattice_holes(deck: Deck, outline: flat.Shape, cutouts: Sequence[flat.Shape],
                  skip: Sequence[tuple[int, int]] = ()) -> list[tuple[int, int]]:
    """The holes of a deck's lattice: where the plate has room for the whole circle and, of a plate file, the file has one."""
    if deck.lattice is None:
        return []
    found = flat.lattice_holes(outline, cutouts, deck.lattice.origin, deck.lattice.pitch, deck.lattice.hole, skip)
    return found if deck.holes is None else [hole for hole in found if hole in deck.holes]


def plate_of(deck: Deck) -> flat.Plate:
    """The true plate of a deck, holes drilled: lattice holes whose whole circle lies in the plate (of a plate file those that it
    has), less ``skip``, and the holes and slots off the lattice. Raises LayoutError when nothing of the plate is left."""
    outline = _flat(deck.outline)
    cutouts = tuple(_flat(c) for c in deck.cutouts)
    slots = tuple(flat.Slot(length=d.slot[0], width=d.slot[1], centre=d.at, turn=d.turn)
                  for d in deck.drilled if d.slot is not None)
    drilled = tuple((d.at[0], d.at[1], d.hole) for d in deck.drilled if d.hole is not None)
    lattice = deck.lattice
    regular = None if lattice is None else (lattice.origin, lattice.pitch, lattice.hole, deck.skip)
    try:
        return _drilled(outline, cutouts, slots, drilled, regular, deck.holes, deck.thickness)
    except ValueError as error:
        raise LayoutError((finding("bad-value", f"deck {deck.name}: {error}", where=[deck.mark], of=[deck.name],
                                   hint="the cutouts must leave some plate inside the outline"),)) from error


@lru_cache(maxsize=64)
def _drilled(outline: flat.Shape, cutouts: tuple[flat.Shape, ...], slots: tuple[flat.Slot, ...],
             drilled: tuple[tuple[float, float, float], ...],
             regular: tuple[Vec2, float, float, tuple[tuple[int, int], ...]] | None, only: frozenset[tuple[int, int]] | None,
             thickness: float) -> flat.Plate:
    """The plate with its lattice (origin, pitch, hole, skip) drilled, or ``only`` those holes of it. Kept from one robot to the
    next, with all that follows from it: where a file is followed or places are tried, the plates stay as they were."""
    holes = list(drilled)
    if regular is not None:
        origin, pitch, hole, skip = regular
        holes += [(origin[0] + pitch * i, origin[1] + pitch * j, hole)
                  for i, j in flat.lattice_holes(outline, cutouts, origin, pitch, hole, skip) if only is None or (i, j) in only]
    return flat.Plate(outline=outline, cutouts=cutouts, holes=tuple(holes), slots=slots, thickness=thickness)
