"""Collision covers of decks: boxes that leave the wheels their wells (DEVELOPERS.md, "Covers")."""
from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, DeckFacet, WheelFacet
from chassis_describe.space.plate.plate import Plate
from chassis_describe.space.pose import Pose, Vec3
from chassis_describe.space.solids import Solid, cylinder_extents

#: A wheel that passes a cutout within this of its edge is meant to stand in it (m).
_WELL_MARGIN = 0.002


@kept
def deck_covers(assembly: Assembly) -> Mapping[str, tuple[tuple[Solid, Pose], ...]]:
    """Solids in each deck's frame that cover its plate without its holes."""
    return {name: _cover(facet.plate, wheel_wells(assembly, facet)) for name, facet in assembly.decks.items()}


@lru_cache(maxsize=64)
def _cover(plate: Plate, wells: frozenset[int]) -> tuple[tuple[Solid, Pose], ...]:
    """Kept from one robot to the next: where a file is followed, most plates stay as they were."""
    from chassis_describe.space.cover.cover import cover

    return cover(plate, free_cutouts=wells)


def wheel_wells(assembly: Assembly, facet: DeckFacet) -> frozenset[int]:
    """Numbers of the cutouts that a wheel's swept cylinder passes.

    By bounding boxes: a cutout taken for a well by mistake is only left open, which is what the true plate is.
    """
    if not facet.plate.cutouts or not assembly.wheels:
        return frozenset()
    into_deck = facet.pose.inverse()
    wells: set[int] = set()
    for wheel in assembly.wheels:
        low, high = _extent(wheel, into_deck)
        if low[2] > _WELL_MARGIN or high[2] < -facet.plate.thickness - _WELL_MARGIN:
            continue
        for number, cutout in enumerate(facet.plate.cutouts):
            x0, y0, x1, y1 = cutout.bounds
            if (low[0] < x1 + _WELL_MARGIN and high[0] > x0 - _WELL_MARGIN
                    and low[1] < y1 + _WELL_MARGIN and high[1] > y0 - _WELL_MARGIN):
                wells.add(number)
    return frozenset(wells)


def _extent(wheel: WheelFacet, into_deck: Pose) -> tuple[Vec3, Vec3]:
    """Axis-aligned bounds of the wheel's cylinder in the deck's frame."""
    (x, y, z), (u, v, w) = into_deck.point(wheel.centre), cylinder_extents(wheel.radius, wheel.width, into_deck.vector(wheel.axis))
    return (x - u, y - v, z - w), (x + u, y + v, z + w)
