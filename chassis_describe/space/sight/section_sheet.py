"""What a plane cuts out of a flat plate of any outline, as angles seen from a point in it (see ``section``)."""
from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from chassis_describe.space.sight.scene import SKIN, Array, PlacedSheet, ring_edges
from chassis_describe.space.sight.turns import united

#: Sheets closer to the plane's attitude than this are level (sine).
_PARALLEL = 1e-9
#: Sheets closer to standing on it than this are square to it: 1 µm over a metre (cosine).
_SQUARE = 1e-6


def sheet_shadows(placed: PlacedSheet, reach: float) -> list[tuple[float, float]]:
    """Shadows (start, width) of the section of a sheet.

    The boundary of what is in reach hides all that the section hides: a beam that meets the section enters it through
    an edge, since the origin is outside.
    """
    segments = _sheet_section(placed)
    if not len(segments):
        return []
    if math.isfinite(reach):
        segments = _clipped(segments, reach)
    a, b = segments[:, :2], segments[:, 2:]
    cross, dot = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1)
    # An edge through the origin is seen end on; the edges beside it hide what it seems to hide.
    turn = np.where(np.abs(cross) <= SKIN * np.hypot(*(b - a).T), 0.0, np.arctan2(cross, dot))
    first = np.arctan2(a[:, 1], a[:, 0])
    return united(zip(np.where(turn < 0, first + turn, first).tolist(), np.abs(turn).tolist()))


def _sheet_section(placed: PlacedSheet) -> Array:
    """Boundary of the section with z = 0, in its x and y: array (k, 4)."""
    r, t, sheet = placed.pose.r, placed.pose.t, placed.sheet
    nx, ny, nz, d = r[6], r[7], r[8], -t[2]  # the plane in the sheet's axes: n·p = d
    across = math.hypot(nx, ny)
    if across < _PARALLEL:
        z = d / nz
        if not -sheet.thickness + SKIN < z < -SKIN:
            return np.zeros((0, 4))
        return _lifted(placed, ring_edges(sheet.region), lambda xy: np.full(len(xy), z))
    wx, wy = nx / across, ny / across
    x0, y0, x1, y1 = sheet.bounds
    us = [wx * x + wy * y for x in (x0, x1) for y in (y0, y1)]
    if abs(nz) < _SQUARE:
        if not min(us) + SKIN < d / across < max(us) - SKIN:
            return np.zeros((0, 4))
        return _strips(placed, wx, wy, d / across)
    low, high = sorted((d / across, (d + nz * sheet.thickness) / across))
    if high < min(us) + SKIN or low > max(us) - SKIN:
        return np.zeros((0, 4))
    region = sheet.region
    if low > min(us) or high < max(us):
        from shapely.geometry import Polygon

        far = 1.0 + max(abs(v) for v in (x0, y0, x1, y1)) * 2
        low, high = max(low, -far), min(high, far)
        band = Polygon([(u * wx - v * wy, u * wy + v * wx)
                        for u, v in ((low, -far), (high, -far), (high, far), (low, far))])
        region = region.intersection(band)
    return _lifted(placed, ring_edges(region), lambda xy: (d - xy @ (nx, ny)) / nz)


def _lifted(placed: PlacedSheet, edges: Array, z: Callable[[Array], Array]) -> Array:
    """Edges of the sheet's axes at the heights z(x, y), in the plane's x and y."""
    return np.hstack([_up(placed, edges[:, :2], z(edges[:, :2])), _up(placed, edges[:, 2:], z(edges[:, 2:]))])


def _strips(placed: PlacedSheet, wx: float, wy: float, u: float) -> Array:
    """A sheet that stands square to the plane: a rectangle for each piece of the cutting line that is in the region."""
    from shapely.geometry import LineString

    x0, y0, x1, y1 = placed.sheet.bounds
    far = 1.0 + max(abs(v) for v in (x0, y0, x1, y1)) * 2
    line = placed.sheet.region.intersection(LineString([(u * wx + far * wy, u * wy - far * wx),
                                                        (u * wx - far * wy, u * wy + far * wx)]))
    rows = []
    for piece in getattr(line, "geoms", [line]):
        if piece.geom_type != "LineString" or piece.length < SKIN:
            continue
        ends = np.asarray(piece.coords)[[0, -1], :2]
        corners = np.vstack([_up(placed, ends, 0.0), _up(placed, ends[::-1], -placed.sheet.thickness)])
        rows.append(np.hstack([corners, np.roll(corners, -1, axis=0)]))
    return np.vstack(rows) if rows else np.zeros((0, 4))


def _up(placed: PlacedSheet, xy: Array, z: Array | float) -> Array:
    """Points of the sheet's axes, in x and y of the plane."""
    r, t = placed.pose.r, placed.pose.t
    x, y = xy[:, 0], xy[:, 1]
    return np.stack([r[0] * x + r[1] * y + r[2] * z + t[0], r[3] * x + r[4] * y + r[5] * z + t[1]], axis=1)


def _clipped(segments: Array, reach: float) -> Array:
    """The parts of the segments inside the circle."""
    a, step = segments[:, :2], segments[:, 2:] - segments[:, :2]
    qa, qb, qc = (step**2).sum(axis=1), (a * step).sum(axis=1), (a**2).sum(axis=1) - reach**2
    root2 = qb**2 - qa * qc
    with np.errstate(divide="ignore", invalid="ignore"):
        root = np.sqrt(root2)
        s0, s1 = np.maximum((-qb - root) / qa, 0.0), np.minimum((-qb + root) / qa, 1.0)
    keep = (root2 > 0) & (s0 < s1)
    a, step, s0, s1 = a[keep], step[keep], s0[keep, None], s1[keep, None]
    return np.hstack([a + s0 * step, a + s1 * step])
