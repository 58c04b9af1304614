"""A deck's true plate in place: with its outline and cutouts always, with holes where something may go through them."""
from __future__ import annotations

import math
from typing import Any

import numpy as np
from shapely.geometry import Polygon
from shapely.ops import unary_union

from chassis_describe.space.overlap_plate import FACET, Prism
from chassis_describe.space.plate import Plate, Slot
from chassis_describe.space.pose import Pose


class PlateItem:
    """A deck's true plate in base_link; its holes only count where something goes through them."""

    __slots__ = ("name", "plain", "plate", "pose")

    def __init__(self, name: str, plate: Plate, pose: Pose) -> None:
        self.name, self.plate, self.pose = name, plate, pose
        x0, y0, x1, y1 = plate.outline.bounds
        # Chords inside the true arcs: what only touches the edge is never said to overlap.
        radius = math.hypot(x1 - x0, y1 - y0) / 2
        sides = max(64, 4 * math.ceil(math.pi / math.acos(1 - FACET / max(radius, 2 * FACET)) / 4))
        # Small arcs need fewer chords than the outline's size asks for.
        self.plain = Prism(plate.polygon(sides, facets="core").simplify(FACET / 2), plate.thickness)

    def drilled_for(self, shadow: Any) -> Prism | None:
        """The plate with the holes and slots under the shadow of a slice; None where they can't take it all."""
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
        gone = [_stadium(slot) for slot in self.plate.slots]
        return Prism(self.plain.polygon.difference(unary_union(gone)), self.plate.thickness) if gone else None


def _around(x: float, y: float, radius: float) -> Polygon:
    """A polygon outside a circle, by at most FACET."""
    n = max(16, 4 * math.ceil(math.pi / math.acos(radius / (radius + FACET)) / 4))
    outer = radius / math.cos(math.pi / n)
    return Polygon([(x + outer * math.cos(2 * math.pi * k / n), y + outer * math.sin(2 * math.pi * k / n))
                    for k in range(n)])


def _stadium(slot: Slot) -> Any:
    (ax, ay), (bx, by) = slot.ends
    return unary_union([_around(ax, ay, slot.width / 2), _around(bx, by, slot.width / 2)]).convex_hull
