"""A flat plate with cutouts and holes: what it weighs, where its edges are, which lattice holes it has room for.

Metres, kilograms. Plate frame: x and y in the plane, the top face at z = 0, the bottom at z = -thickness. The plate is
its outline less the union of cutouts, slots and round holes, which may cross the outline and one another.
numpy and shapely are imported where they are needed first.
"""
from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal

from chassis_describe.space.mass import Inertial
from chassis_describe.space.plate.shapes import Disc, Polygon, Rectangle, Shape, Slot, Vec2, bounding_circle
from chassis_describe.tolerances import SCRAP
from chassis_describe.values import dataclass

if TYPE_CHECKING:
    from chassis_describe.space.plate.loops import Moments
    from chassis_describe.space.plate.regions import Regions

__all__ = ["Disc", "Plate", "Polygon", "Rectangle", "Shape", "Slot", "bounding_circle", "lattice_holes"]

#: Facets have their corners on the true curve, or lie so that the polygon covers the plate, or is covered by it.
Facets = Literal["inscribed", "cover", "core"]


def lattice_holes(outline: Shape, cutouts: Sequence[Shape], origin: Vec2, pitch: float, diameter: float,
                  skip: Sequence[tuple[int, int]] = ()) -> list[tuple[int, int]]:
    """Lattice points (i, j) whose whole circle lies inside the outline and clear of every cutout, less ``skip``.

    Point (i, j) is at ``origin + pitch·(i, j)``. Circles that just touch an edge count as whole. Sorted by i, then j.
    """
    from chassis_describe.space.plate.circles import holes_of_lattice

    return holes_of_lattice(outline, cutouts, origin, pitch, diameter, skip)


@dataclass(frozen=True, kw_only=True)
class Plate:
    """``holes``: round ones, (x, y, diameter). Raises ValueError where the cutouts leave nothing."""

    outline: Shape
    cutouts: tuple[Shape, ...] = ()
    holes: tuple[tuple[float, float, float], ...] = ()
    slots: tuple[Slot, ...] = ()
    thickness: float

    def __post_init__(self) -> None:
        if not self.thickness > 0:
            raise ValueError(f"a plate needs a positive thickness, not {self.thickness}")
        if not self.area > SCRAP or self.pieces == 0:
            raise ValueError("nothing is left of the plate")

    # ------------------------------------------------------------------------------------------------------------- mass
    @cached_property
    def _regions(self) -> Regions:
        from chassis_describe.space.plate.regions import sort_out

        return sort_out(self.outline, self.cutouts, self.slots, self.holes)

    @cached_property
    def _moments(self) -> tuple[Moments, int]:
        from chassis_describe.space.plate.regions import region_moments

        return region_moments(self._regions)

    @property
    def area(self) -> float:
        """Of one face, holes taken off (m²)."""
        return self._moments[0][0]

    @property
    def volume(self) -> float:
        """m³."""
        return self.area * self.thickness

    @property
    def pieces(self) -> int:
        """Into how many pieces the plate falls; a sound one is 1."""
        return self._moments[1]

    def inertial(self, density: float) -> Inertial:
        """Mass, centre of mass and inertia of the uniform plate, in the plate frame. ``density`` in kg/m³.

        Each face integral gives its share: Ixx = ρt·∫(y-ȳ)² + m·t²/12, Izz = ρt·∫r², ixy = -ρt·∫(x-x̄)(y-ȳ).
        """
        from chassis_describe.space.plate.regions import middle_of

        area, sx, sy, sxx, sxy, syy = self._moments[0]
        origin = middle_of(self.outline)
        x, y = sx / area, sy / area
        face = density * self.thickness
        xx, xy, yy = face * (sxx - area * x * x), face * (sxy - area * x * y), face * (syy - area * y * y)
        mass = face * area
        through = mass * self.thickness**2 / 12
        return Inertial(mass, (origin[0] + x, origin[1] + y, -self.thickness / 2),
                        (yy + through, xx + through, xx + yy, 0.0 - xy, 0.0, 0.0))

    # ------------------------------------------------------------------------------------------------------------ edges
    def clearance(self, points: Any) -> Any:
        """Signed distance of points (n, 2) to the nearest edge of outline or cutouts, positive in material. Holes and
        slots don't count. Exact in material; outside, the depth in what takes the point off (no more than the
        distance to the plate)."""
        return self._depths(points).min(axis=0)

    def which_edge(self, point: Vec2) -> tuple[Literal["outline", "cutout"], int]:
        """The edge that ``clearance`` measures to: the outline (index 0), or a cutout by its index."""
        import numpy as np

        k = int(np.argmin(self._depths([point])[:, 0]))
        return ("outline", 0) if k == 0 else ("cutout", k - 1)

    def _depths(self, points: Any) -> Any:
        import numpy as np

        from chassis_describe.space.plate.depth import depth

        p = np.asarray(points, dtype=float).reshape(-1, 2)
        return np.stack([depth(self.outline, p), *(-depth(c, p) for c in self.cutouts)])

    def distance_to_holes(self, points: Any) -> Any:
        """Signed distance of points (n, 2) to the nearest edge of a round hole or slot, negative inside one;
        infinite where there is none."""
        import numpy as np

        from chassis_describe.space.plate.depth import depth

        p = np.asarray(points, dtype=float).reshape(-1, 2)
        nearest = np.full(len(p), np.inf)
        holes = np.array(self.holes, dtype=float).reshape(-1, 3)
        step = max(1, 2_000_000 // max(1, len(holes)))
        if len(holes):
            for k in range(0, len(p), step):
                q = p[k:k + step, None]
                nearest[k:k + step] = np.min(np.hypot(q[..., 0] - holes[:, 0], q[..., 1] - holes[:, 1])
                                             - holes[:, 2] / 2, axis=1)
        for slot in self.slots:
            nearest = np.minimum(nearest, -depth(slot, p))
        return nearest

    def contains(self, points: Any, with_holes: bool = True) -> Any:
        """Whether points (n, 2) lie in the plate (edges count as in it)."""
        inside = self.clearance(points) >= 0
        if with_holes and (self.holes or self.slots):
            inside[inside] = self.distance_to_holes(_rows(points)[inside]) >= 0
        return inside

    # --------------------------------------------------------------------------------------------------------- polygons
    def polygon(self, segments_per_circle: int = 64, with_holes: bool = False, facets: Facets = "inscribed") -> Any:
        """The face as a shapely Polygon or MultiPolygon, curves as chords.

        ``inscribed``: corners on the curve, so that each shape is off by at most r·(1 - cos(π/n)). ``cover`` contains
        the true plate and ``core`` is contained in it: shapes off by at most r·(1/cos(π/n) - 1). The sharp tip where
        two edges cross moves by more.
        """
        from chassis_describe.space.plate.facets import face_polygon

        return face_polygon(self._regions if with_holes else self._solid_regions, segments_per_circle, facets)

    @cached_property
    def _solid_regions(self) -> Regions:
        from chassis_describe.space.plate.regions import sort_out

        return sort_out(self.outline, self.cutouts, (), ())

    def outer_points(self, segments_per_circle: int = 64) -> Any:
        """Points (n, 2) whose convex hull is that of the plate: its corners and tangent points about its arcs, outside
        the true edge by at most r·(1/cos(π/n) - 1)."""
        from chassis_describe.space.plate.facets import hull_points

        return hull_points(self._solid_regions, segments_per_circle)

    def support(self, direction: Vec2) -> float:
        """The furthest that the plate reaches along a unit direction of its plane (m), holes left aside; exact."""
        from chassis_describe.space.plate.facets import support

        return support(self._solid_regions, direction)


def _rows(points: Any) -> Any:
    import numpy as np

    return np.asarray(points, dtype=float).reshape(-1, 2)
