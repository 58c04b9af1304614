"""A plate as a closed surface of triangles with real holes, and triangles as a binary STL file. Metres."""
from __future__ import annotations

import math
from itertools import chain

import numpy as np

from chassis_describe.space.plate.depth import Array
from chassis_describe.space.plate.facets import face_polygon, facet_loop, hole_rings
from chassis_describe.space.plate.loops import loop_of
from chassis_describe.space.plate.plate import Plate
from chassis_describe.space.plate.regions import sort_out
from chassis_describe.space.plate.triangulate import triangulate

#: Chords stand off the true curve by this at most (m), unless there are more holes than the facets suffice for.
CHORD = 5e-5
_FACETS = 60_000  # shared by all round holes of a plate
_FEWEST, _MOST = 8, 128


def segments_for(radius: float, count: int = 1) -> int:
    """Chords per full circle, for ``count`` holes of that radius: a multiple of four, 8 to 128."""
    wanted = math.pi / math.acos(max(1 - CHORD / radius, 0.0))
    share = _FACETS / count
    return max(_FEWEST, 4 * math.ceil(min(wanted, share, _MOST) / 4 - 1e-9))


def plate_mesh(plate: Plate, segments: int | None = None) -> Array:
    """Triangles (n, 3, 3) in the plate frame, outward by the right hand. Coordinates are exact in single precision.

    Curves are chords with their corners on the curve, ``segments`` per full circle (None: by ``segments_for``): an arc
    of radius r is off by at most r·(1 - cos(π/n)), the area that a full circle encloses by the factor
    sin(2π/n)/(2π/n).
    """
    loops = face_loops(plate, segments)
    corners = np.concatenate(loops)
    faces = np.array(triangulate([loop.tolist() for loop in loops]), dtype=np.int64).reshape(-1, 3)
    top = np.concatenate([corners, np.zeros((len(corners), 1))], axis=1)
    bottom = top - (0.0, 0.0, float(np.float32(plate.thickness)))
    start = np.arange(len(corners))
    end = np.concatenate([np.roll(part, -1) for part in np.split(start, np.cumsum([len(p) for p in loops])[:-1])])
    return np.concatenate([
        top[faces],
        bottom[faces[:, ::-1]],
        np.stack([bottom[start], bottom[end], top[end]], axis=1),
        np.stack([bottom[start], top[end], top[start]], axis=1),
    ])


def face_loops(plate: Plate, segments: int | None = None) -> list[Array]:
    """Loops with the plate on their left, in single precision, without corners that fall together."""
    x0, y0, x1, y1 = plate.outline.bounds
    longest = max(x1 - x0, y1 - y0) / 2
    around = segments or segments_for(longest)
    # What is closer to an edge than chords may stray would cut them: it is taken off like what crosses.
    stray = 2 * longest * (1 - math.cos(math.pi / around)) + 1e-6
    regions = sort_out(plate.outline, plate.cutouts, plate.slots, plate.holes, margin=stray)
    holes = regions.holes
    solid = regions._replace(apart=(), holes=())
    if regions.crossing:
        face = face_polygon(solid, around, "inscribed")
        parts = list(getattr(face, "geoms", [face]))
        outer = [np.array(p.exterior.coords)[:-1, :2] for p in parts]
        inner = [np.array(r.coords)[:-1, :2] for p in parts for r in p.interiors]
    else:
        outer, inner = [facet_loop(loop_of(plate.outline), around)], []
    inner += [facet_loop(loop_of(shape), around) for shape in regions.apart]
    for radius in sorted({r for _, _, r in holes}):
        same = [hole for hole in holes if hole[2] == radius]
        inner += hole_rings(same, segments or segments_for(radius, len(holes)), False)
    return [loop for loop in chain((_rounded(p, True) for p in outer), (_rounded(p, False) for p in inner))
            if len(loop) >= 3]


def _rounded(points: Array, counter_clockwise: bool) -> Array:
    p = points.astype(np.float32).astype(float)
    p = p[np.any(p != np.roll(p, 1, axis=0), axis=1)]
    x, y = p[:, 0], p[:, 1]
    area = np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)
    return p if (area > 0) == counter_clockwise else p[::-1]


def stl(triangles: Array, header: str = "chassis_describe, metres") -> bytes:
    """Binary STL: 80 bytes of header, the count, then per triangle its normal, three corners and two spare bytes."""
    if header.startswith("solid"):
        raise ValueError("a binary STL whose header begins with 'solid' is taken for a text file by many readers")
    t = np.asarray(triangles, dtype=np.float32)
    wide = t.astype(float)
    normal = np.cross(wide[:, 1] - wide[:, 0], wide[:, 2] - wide[:, 0])
    length = np.linalg.norm(normal, axis=1, keepdims=True)
    normal = np.divide(normal, length, out=np.zeros_like(normal), where=length > 0) + 0.0  # no minus zeros
    records = np.zeros(len(t), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
    records["normal"], records["corners"] = normal, t + np.float32(0)
    return header.encode("ascii").ljust(80)[:80] + np.array(len(t), dtype="<u4").tobytes() + records.tobytes()
