"""A mesh stood on its base plane: its holes there, its box, its volume. What a part file can be begun with.

Part axes (origin in the base plane, z away from it, x the part's forward); metres. Holes are found in the lowest flat face
alone: that is where the part touches the plate.
"""
from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from chassis_describe.space.plane.rims import RoundHole, SlotHole, rim

#: Facets whose corners all lie within this of the lowest one (m), or this share of the mesh, lie in the base plane: what
#: single precision (STL) makes of numbers far from 0, and no step that anybody models.
FLAT, FLAT_SHARE = 5e-6, 1e-6
#: Triangles of the base plane that are put together; the underside of a board with a thousand holes has about this many.
MOST_IN_BASE = 60_000
#: How far beside a hole's rim its flange is measured (m), and by how much it may differ round the hole.
BESIDE, EVEN = 0.6e-3, 0.1e-3
#: Wall facets of a hole that lean more than this (the upward part of their normal) make it a countersink.
LEANING = 0.1
#: Widths of holes that may be for screws (m): from M1.6's tapping drill to M10's clearance.
SCREWS = (1.2e-3, 12.0e-3)
#: Holes whose widths differ by no more are drilled alike (m).
ALIKE = 0.15e-3
AXES = ("x", "y", "z", "-x", "-y", "-z")


class Hole(NamedTuple):
    """One hole of the base plane. ``depth``: m to its bottom, None where it goes through; ``widens``: it is countersunk here;
    ``wall``: how thick the part is beside it (m), None where that differs round the hole."""

    rim: RoundHole | SlotHole
    depth: float | None
    widens: bool
    wall: float | None

    @property
    def width(self) -> float:
        """Diameter, or a slot's width (m)."""
        return self.rim.diameter if isinstance(self.rim, RoundHole) else self.rim.width


class MeshBase(NamedTuple):
    """``size``: of its box (m); ``middle``: of the box's base in part axes; ``shift``: where the mesh's own origin is in part axes;
    ``rotation``: rows of the matrix from mesh to part axes; ``flat``: area that touches the plate (m²); ``bolts``: the largest
    group of like holes, ``others``: the rest; ``odd``: openings of the base that are neither, as (x, y, length, width);
    ``volume`` and ``com`` are None where the mesh is not closed, with ``open_edges`` as the reason."""

    size: tuple[float, float, float]
    middle: tuple[float, float]
    shift: tuple[float, float, float]
    rotation: tuple[tuple[float, ...], ...]
    flat: float
    bolts: tuple[Hole, ...]
    others: tuple[Hole, ...]
    odd: tuple[tuple[float, float, float, float], ...]
    volume: float | None
    com: tuple[float, float, float] | None
    open_edges: int


def rotation_of(up: str, front: str) -> tuple[tuple[float, ...], ...]:
    """Rows of the matrix that takes a mesh's axes to a part's, from the mesh axes that are the part's z and x.

    Raises ValueError where both lie along one axis.
    """
    z, x = _axis(up), _axis(front)
    if any(a and b for a, b in zip(z, x)):
        raise ValueError(f"{up} and {front} lie along one axis")
    y = (z[1] * x[2] - z[2] * x[1], z[2] * x[0] - z[0] * x[2], z[0] * x[1] - z[1] * x[0])
    return x, y, z


def _axis(name: str) -> tuple[float, float, float]:
    sign = -1.0 if name.startswith("-") else 1.0
    return tuple(sign if axis == name[-1] else 0.0 for axis in "xyz")  # type: ignore[return-value]


def mesh_base(triangles: Any, rotation: tuple[tuple[float, ...], ...], unit: float) -> MeshBase:
    """The mesh (n, 3, 3) in its own units of ``unit`` metres, stood on its lowest face; the part's origin is the middle of its
    bolts' circle or else of the box around them, or around the mesh where it has none. Raises ValueError for a base of too many
    triangles."""
    import numpy as np

    turned = np.asarray(triangles, dtype=float) @ np.array(rotation).T * unit
    low, high = turned.min(axis=(0, 1)), turned.max(axis=(0, 1))
    limit = max(FLAT, FLAT_SHARE * float((high - low).max()))
    flat = turned[(turned[:, :, 2] - low[2]).max(axis=1) <= limit]
    area, rims, odd = _openings(flat)
    holes = [_hole(one, turned, low[2], limit) for one in rims]
    bolts = _alike(holes)
    x, y = _middle([hole.rim.at for hole in bolts] or [(low[0], low[1]), (high[0], high[1])])
    origin = np.array([x, y, low[2]])
    middle = (low + high) / 2 - origin
    volume, com, open_edges = _volume(turned)

    def moved(some: Iterable[Hole]) -> tuple[Hole, ...]:
        return tuple(h._replace(rim=h.rim._replace(at=(h.rim.at[0] - x, h.rim.at[1] - y))) for h in some)

    return MeshBase(
        size=_three(high - low), middle=(float(middle[0]), float(middle[1])), shift=_three(-origin), rotation=rotation, flat=area,
        bolts=moved(bolts), others=moved(h for h in holes if h not in bolts),
        odd=tuple((u - x, v - y, a, b) for u, v, a, b in odd), volume=volume,
        com=None if com is None else _three(com - origin), open_edges=open_edges)


def _middle(at: Sequence[tuple[float, float]]) -> tuple[float, float]:
    """The middle of a bolt circle, where the holes are spread round one evenly (three and five are not in the middle of their box);
    else of the box."""
    mean = (math.fsum(x for x, _ in at) / len(at), math.fsum(y for _, y in at) / len(at))
    away = [math.dist(p, mean) for p in at]
    if max(away) - min(away) <= ALIKE:
        return mean
    x, y = ((min(v) + max(v)) / 2 for v in zip(*at))
    return x, y


def _three(values: Any) -> tuple[float, float, float]:
    x, y, z = map(float, values)
    return x, y, z


def _alike(holes: list[Hole]) -> list[Hole]:
    """The most holes of one width that go through, or that all end inside; of equal numbers those that reach furthest apart."""
    groups = [[h for h in holes if abs(h.width - one.width) <= ALIKE and (h.depth is None) is (one.depth is None)]
              for one in holes if SCREWS[0] <= one.width <= SCREWS[1]]

    def apart(group: list[Hole]) -> float:
        return max(math.dist(a.rim.at, b.rim.at) for a in group for b in group)

    return max(groups, key=lambda group: (len(group), round(apart(group), 9)), default=[])


def _openings(flat: Any) -> tuple[float, list[RoundHole | SlotHole], list[tuple[float, float, float, float]]]:
    """Area of the flat facets put together, the round holes and slots in them, boxes around their other openings."""
    from shapely.geometry import Polygon
    from shapely.ops import unary_union

    if not len(flat):
        return 0.0, [], []
    if len(flat) > MOST_IN_BASE:
        raise ValueError(f"its base plane is made of {len(flat)} triangles, more than {MOST_IN_BASE}; save it coarser")
    pieces = [p for p in (Polygon(t) for t in flat[:, :, :2]) if p.area > 0.0]
    whole = unary_union(pieces)
    found: list[RoundHole | SlotHole] = []
    odd = []
    for polygon in getattr(whole, "geoms", [whole]):
        for ring in getattr(polygon, "interiors", ()):
            inner = Polygon(ring)
            x0, y0, x1, y1 = inner.bounds
            if inner.area < 1e-4 * max(x1 - x0, y1 - y0) ** 2:
                continue  # a crack between facets that do not quite meet
            one = rim(list(ring.coords)[:-1])
            if one is not None:
                found.append(one)
            else:
                odd.append(((x0 + x1) / 2, (y0 + y1) / 2, x1 - x0, y1 - y0))
    # Rows from the back right to the front left, whatever order shapely has.
    found.sort(key=lambda one: (round(one.at[0], 6), round(one.at[1], 6)))
    return float(whole.area), found, sorted(odd)


def _hole(one: RoundHole | SlotHole, turned: Any, bottom: float, limit: float) -> Hole:
    """How deep it is over its middle, and whether its walls lean where they begin."""
    import numpy as np

    x, y = one.at
    width = one.diameter if isinstance(one, RoundHole) else one.width
    above = _heights_over(turned[turned[:, :, 2].max(axis=1) > bottom + limit], x, y) - bottom
    depth = float(above.min()) if len(above) else None
    # Walls: facets with an edge in the base plane, near the rim, that are not flat.
    low = np.abs(turned[:, :, 2] - bottom) <= limit
    reach = (one.diameter if isinstance(one, RoundHole) else one.length) / 2 + 0.05 * width
    near = np.hypot(turned[:, :, 0] - x, turned[:, :, 1] - y) <= reach
    walls = turned[((low & near).sum(axis=1) == 2) & ~low.all(axis=1)]
    normals = np.cross(walls[:, 1] - walls[:, 0], walls[:, 2] - walls[:, 0])
    sizes = np.linalg.norm(normals, axis=1)
    leans = np.abs(normals[sizes > 0, 2]) / sizes[sizes > 0]
    return Hole(one, depth, bool(len(leans)) and float(np.median(leans)) > LEANING, _wall(one, turned, bottom, limit))


def _wall(one: RoundHole | SlotHole, turned: Any, bottom: float, limit: float) -> float | None:
    """How far up the material goes from the base plane beside the rim, at eight points round it (four ends of a slot)."""
    width = one.diameter if isinstance(one, RoundHole) else one.width
    ring = width / 2 + BESIDE
    turns = [k * math.pi / 4 for k in range(8)] if isinstance(one, RoundHole) else [one.turn + k * math.pi / 2 for k in (1, 3)]
    found = []
    for turn in turns:
        over = _heights_over(turned, one.at[0] + ring * math.cos(turn), one.at[1] + ring * math.sin(turn)) - bottom
        over = over[over > limit]
        if len(over):
            found.append(float(over.min()))
    return min(found) if len(found) == len(turns) and max(found) - min(found) <= EVEN else None


def _heights_over(triangles: Any, x: float, y: float) -> Any:
    """z of every triangle over the point (x, y), its edges counted in; upright ones are edges of others and left out."""
    import numpy as np

    a, b, c = (triangles[:, k, :2] - (x, y) for k in range(3))
    u, v, w = b[:, 0] * c[:, 1] - b[:, 1] * c[:, 0], c[:, 0] * a[:, 1] - c[:, 1] * a[:, 0], a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    total = u + v + w
    size = np.abs(triangles[:, :, :2]).max(initial=1e-9) ** 2
    ok = np.abs(total) > 1e-12 * size
    share = np.stack([u, v, w], axis=1)[ok] / total[ok, None]
    inside = (share >= -1e-9).all(axis=1)
    return (share[inside] * triangles[ok][inside][:, :, 2]).sum(axis=1)


def _volume(turned: Any) -> tuple[float | None, Any, int]:
    """Volume, centre of mass and open edges. A closed mesh has each edge twice, once each way; one inside out is turned round."""
    import numpy as np

    middle = turned.mean(axis=(0, 1))
    points, index = np.unique(turned.reshape(-1, 3), axis=0, return_inverse=True)
    corners = index.reshape(-1, 3)
    edges = np.concatenate([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [2, 0]]])
    edges = edges[edges[:, 0] != edges[:, 1]]  # of a facet with two corners in one place
    key = edges[:, 0] * len(points) + edges[:, 1]
    back = edges[:, 1] * len(points) + edges[:, 0]
    values, counts = np.unique(np.concatenate([key, back]), return_counts=True)
    ways, times = np.unique(key, return_counts=True)
    there = dict(zip(ways.tolist(), times.tolist()))
    open_edges = sum(there.get(v, 0) * 2 != n for v, n in zip(values.tolist(), counts.tolist())) // 2
    if open_edges:
        return None, None, open_edges
    a, b, c = (turned[:, k] - middle for k in range(3))
    six = np.einsum("ij,ij->i", a, np.cross(b, c))
    volume = float(six.sum()) / 6.0
    if volume == 0.0:
        return None, None, 0
    com = ((a + b + c) * six[:, None]).sum(axis=0) / (24.0 * volume) + middle
    return abs(volume), com, 0
