"""A deck's true plate in place: with its outline and cutouts always, with holes where something may go through them.

Most things stay clear of every plate: shapely is imported, and polygons are made, when the first one comes near.
"""
from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from chassis_describe.space.plate.plate import Plate, Slot
from chassis_describe.space.pose import Pose

if TYPE_CHECKING:
    from chassis_describe.space.overlap.plates import Prism


class PlateItem:
    """A deck's true plate in base_link; its holes only count where something goes through them."""

    def __init__(self, name: str, plate: Plate, pose: Pose) -> None:
        self.name, self.plate, self.pose = name, plate, pose
        self.bounds = plate.outline.bounds

    def near(self, other: PlateItem) -> bool:
        """Whether the other plate's bounds reach into this one's."""
        x0, y0, x1, y1 = other.bounds
        pose = self.pose.inverse() @ other.pose
        corners = [pose.point((x, y, z)) for x in (x0, x1) for y in (y0, y1) for z in (-other.plate.thickness, 0.0)]
        a, b, c, d = self.bounds
        return all(min(values) < high and max(values) > low for values, low, high
                   in zip(zip(*corners), (a, b, -self.plate.thickness), (c, d, 0.0)))

    @property
    def plain(self) -> Prism:
        """The plate without its holes."""
        return _plain(self.plate)

    def drilled_for(self, shadow: Any) -> Prism | None:
        """The plate with the holes and slots under the shadow of a slice; None where they can't take it all."""
        from shapely.ops import unary_union

        from chassis_describe.space.overlap.plates import Prism

        if shadow.is_empty:
            return None
        x0, y0, x1, y1 = shadow.bounds
        holes = np.array(self.plate.holes, dtype=float).reshape(-1, 3)
        half = holes[:, 2] / 2
        near = holes[(holes[:, 0] + half > x0) & (holes[:, 0] - half < x1)
                     & (holes[:, 1] + half > y0) & (holes[:, 1] - half < y1)]
        slots = [s for s in self.plate.slots
                 if s.bounds[2] > x0 and s.bounds[0] < x1 and s.bounds[3] > y0 and s.bounds[1] < y1]
        room = math.pi / 4 * float((near[:, 2] ** 2).sum()) + sum(s.length * s.width for s in slots)
        if room == 0.0 or room < self.plain.polygon.intersection(shadow).area:
            return None
        gone: list[Any] = [_around(x, y, d / 2) for x, y, d in near]
        gone += [_stadium(slot) for slot in slots]
        return Prism(self.plain.polygon.difference(unary_union(gone)), self.plate.thickness)

    def slotted(self) -> Prism | None:
        """The plate with its slots; None where it has none."""
        from shapely.ops import unary_union

        from chassis_describe.space.overlap.plates import Prism

        gone = [_stadium(slot) for slot in self.plate.slots]
        return Prism(self.plain.polygon.difference(unary_union(gone)), self.plate.thickness) if gone else None


@lru_cache(maxsize=64)
def _plain(plate: Plate) -> Prism:
    """The outline less the cutouts. Kept from one robot to the next: most plates stay as they were."""
    from chassis_describe.space.overlap.plates import FACET, Prism

    x0, y0, x1, y1 = plate.outline.bounds
    # Chords inside the true arcs: what only touches the edge is never said to overlap.
    radius = math.hypot(x1 - x0, y1 - y0) / 2
    sides = max(64, 4 * math.ceil(math.pi / math.acos(1 - FACET / max(radius, 2 * FACET)) / 4))
    # Small arcs need fewer chords than the outline's size asks for.
    return Prism(plate.polygon(sides, facets="core").simplify(FACET / 2), plate.thickness)


def _around(x: float, y: float, radius: float) -> Any:
    """A polygon outside a circle, by at most FACET."""
    from shapely.geometry import Polygon

    from chassis_describe.space.overlap.plates import FACET

    n = max(16, 4 * math.ceil(math.pi / math.acos(radius / (radius + FACET)) / 4))
    outer = radius / math.cos(math.pi / n)
    return Polygon([(x + outer * math.cos(2 * math.pi * k / n), y + outer * math.sin(2 * math.pi * k / n))
                    for k in range(n)])


def _stadium(slot: Slot) -> Any:
    from shapely.ops import unary_union

    (ax, ay), (bx, by) = slot.ends
    return unary_union([_around(ax, ay, slot.width / 2), _around(bx, by, slot.width / 2)]).convex_hull
