"""What rays from one eye meet: the nearest solid along each of thousands of directions. Metres, the eye's axes.

Bundles of rays for the instruments that are not flat scans: the pixels of a camera (pinhole), a ranger's cone, the
cone-shaped layers of a 3D lidar. A ray meets a solid when it runs inside it for more than SKIN.
"""
from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from chassis_describe.space.sight.scene import SKIN, Array, PlacedSheet, Scene, SolidGroup

#: Elements of the largest array that one batch makes.
_BATCH = 2_000_000
#: How a ray's way through one kind of solid is found: see ``_meet_boxes``.
Meet = Callable[[Array, Array, Array], tuple[Array, Array]]
#: The grid of cells that an image is divided into, and how many times finer at the edges of what is seen.
COLUMNS, ROWS, FINER = 96, 72, 4


class Hits(NamedTuple):
    """For each ray the distance to the nearest solid (inf: none) and its index in the scene (-1)."""

    distance: Array  # (m,)
    which: Array  # (m,) int


def cast(scene: Scene, rays: Array, reach: float = math.inf) -> Hits:
    """Send rays (m, 3), unit vectors, from the origin. A solid around the origin is met at distance 0."""
    m = len(rays)
    distance, index = np.full(m, np.inf), np.full(m, -1)
    if not m:
        return Hits(distance, index)
    cone = _cone_about(rays)
    along = np.ascontiguousarray(rays.T)
    for group, meet in zip(scene.groups, MEET):
        group = group.keep(_in_cone(cone, group.centre, group.bound, reach))
        if not len(group.which):
            continue
        best, who = _nearest(group, meet, along, reach)
        nearer = best < distance
        distance[nearer], index[nearer] = best[nearer], who[nearer]
    for hull in scene.hulls:
        centre, bound = hull.ball
        if not _in_cone(cone, centre[None], np.array([bound]), reach)[0]:
            continue
        entered, left = hull.met(rays)
        entered = np.maximum(entered, 0.0)
        nearer = (left > entered + SKIN) & (entered <= reach) & (entered < distance)
        distance[nearer], index[nearer] = entered[nearer], hull.which
    for placed in scene.sheets:
        x0, y0, x1, y1 = placed.sheet.bounds
        middle = placed.pose.point(((x0 + x1) / 2, (y0 + y1) / 2, -placed.sheet.thickness / 2))
        around = math.hypot(x1 - x0, y1 - y0, placed.sheet.thickness) / 2
        if not _in_cone(cone, np.array([middle]), np.array([around]), reach)[0]:
            continue
        entered = _meet_sheet(placed, along)
        nearer = (entered < distance) & (entered <= reach)
        distance[nearer] = entered[nearer]
        index[nearer] = placed.which
    return Hits(distance, index)


def way_out(scene: Scene, rays: Array) -> Array:
    """How far each ray (m, 3), a unit vector, runs from the origin before it has left every solid around the origin.

    Boxes, cylinders, spheres and hulls; 0 where none holds the origin.
    """
    inside = scene.holding()
    out = np.zeros(len(rays))
    for group, meet in zip(scene.groups, MEET):
        group = group.keep(np.isin(group.which, inside))
        for k in range(len(group.which)):
            left = meet(-group.centre[k] @ group.turn[k], group.turn[k].T @ rays.T, group.half[k])[1]
            out = np.maximum(out, left)
    for hull in scene.hulls:
        if hull.which in inside:
            out = np.maximum(out, hull.met(rays)[1])
    return out


def _cone_about(rays: Array) -> tuple[Array, float]:
    """A cone that holds all rays: its axis, and half its angle."""
    axis = rays.sum(axis=0)
    length = float(np.linalg.norm(axis))
    if length < 1e-6 * len(rays):
        return np.array([1.0, 0.0, 0.0]), math.pi
    axis = axis / length
    return axis, math.acos(max(-1.0, min(1.0, float((rays @ axis).min()))))


def _in_cone(cone: tuple[Array, float], centre: Array, bound: Array, reach: float) -> Array:
    """Which balls about centres (n, 3) come into the cone and within reach."""
    axis, half = cone
    away = np.linalg.norm(centre, axis=1)
    clear = away > bound
    with np.errstate(divide="ignore", invalid="ignore"):
        off = np.arccos(np.clip(centre @ axis / away, -1.0, 1.0)) - np.arcsin(np.minimum(bound / away, 1.0))
    return np.asarray(~clear | ((off <= half + 1e-9) & (away - bound < reach)))


def _nearest(group: SolidGroup, meet: Meet, along: Array, reach: float) -> tuple[Array, Array]:
    """Of the solids of a group the nearest on each ray, (3, m): its distance (inf: none) and its index."""
    best, who = np.full(along.shape[1], np.inf), np.full(along.shape[1], -1)
    near2 = np.maximum((group.centre**2).sum(axis=1) - group.bound**2, 0.0)
    # A ray that meets the bounding sphere is within its cone: d·c ≥ √(|c|² - bound²); inside it any ray may.
    least = np.where(near2 > 0, np.sqrt(near2), -np.inf)
    # One solid at a time: its axes and sizes stay single numbers, and only rays are long.
    for k in range(len(group.which)):
        ray = np.flatnonzero(group.centre[k] @ along > least[k])
        if not len(ray):
            continue
        entered, left = meet(-group.centre[k] @ group.turn[k], group.turn[k].T @ along[:, ray], group.half[k])
        entered = np.maximum(entered, 0.0)
        met = (left - entered > SKIN) & (entered <= reach) & (entered <= best[ray])
        best[ray[met]], who[ray[met]] = entered[met], group.which[k]
    return best, who


def _meet_boxes(o: Array, d: Array, half: Array) -> tuple[Array, Array]:
    """Where rays o + t·d, (3, m), enter and leave a box about the origin, in its axes (slabs)."""
    low, high = np.full(d.shape[1], -np.inf), np.full(d.shape[1], np.inf)
    for at, way, h in zip(o, d, half):
        with np.errstate(divide="ignore", invalid="ignore"):
            a, b = (-h - at) / way, (h - at) / way
        near, far = np.minimum(a, b), np.maximum(a, b)
        level = way == 0.0
        if level.any():  # along the slab: within it for good, or never
            near[level], far[level] = (-np.inf, np.inf) if abs(at) < h else (np.inf, np.inf)
        low, high = np.maximum(low, near), np.minimum(high, far)
    return low, high


def _meet_cylinders(o: Array, d: Array, half: Array) -> tuple[Array, Array]:
    """The same for a cylinder about z."""
    low, high = _meet_rounds(o[:2], d[:2], half[0])
    z_low, z_high = _meet_boxes(o[2:], d[2:], half[2:])
    return np.maximum(low, z_low), np.minimum(high, z_high)


def _meet_spheres(o: Array, d: Array, half: Array) -> tuple[Array, Array]:
    """The same for a sphere."""
    return _meet_rounds(o, d, half[0])


def _meet_rounds(o: Array, d: Array, radius: float) -> tuple[Array, Array]:
    """|o + t·d| < radius in two or three dimensions."""
    a, b, c = (d**2).sum(axis=0), o @ d, float(o @ o) - radius**2
    with np.errstate(divide="ignore", invalid="ignore"):
        root = np.sqrt(np.maximum(b * b - a * c, 0.0))
        low, high = (-b - root) / a, (-b + root) / a
    along = a < 1e-24  # a ray along the axis is inside for good, or never
    low = np.where(along, -np.inf if c < 0 else np.inf, low)
    high = np.where(along, np.inf, high)
    return np.where(b * b - a * c > 0, low, np.where(along, low, np.inf)), high


#: By kind, in the order of ``Scene.groups``.
MEET: tuple[Meet, ...] = (_meet_boxes, _meet_cylinders, _meet_spheres)


# --------------------------------------------------------------------------------------------------------------- sheets
def _meet_sheet(placed: PlacedSheet, along: Array) -> Array:
    """Distance at which each ray, (3, m), enters a sheet (m,), inf where it does not."""
    r = np.array(placed.pose.r).reshape(3, 3)
    o, d = -np.array(placed.pose.t) @ r, r.T @ along
    x0, y0, x1, y1 = placed.sheet.bounds
    low_corner, high_corner = np.array([x0, y0, -placed.sheet.thickness]), np.array([x1, y1, 0.0])
    low, high = _meet_boxes(o - (low_corner + high_corner) / 2, d, (high_corner - low_corner) / 2)
    low = np.maximum(low, 0.0)
    out = np.full(along.shape[1], np.inf)
    near = np.flatnonzero(high - low > SKIN)
    if not len(near):
        return out
    edges = placed.sheet.ray_edges
    step = max(1, _BATCH // 4 // len(edges))
    for k in range(0, len(near), step):
        some = near[k:k + step]
        flat = d[:2, some].T
        out[some] = _enter_region(edges, o[:2] + low[some, None] * flat, (high - low)[some, None] * flat, low[some], high[some])
    return out


def _enter_region(edges: Array, start: Array, run: Array, low: Array, high: Array) -> Array:
    """Where paths start + s·run, s in 0 … 1, first meet a region with those edges; distances from low to high."""
    a, side = edges[None, :, :2] - start[:, None], edges[None, :, 2:] - edges[None, :, :2]
    # A point is inside when a line from it to +x crosses the boundary an odd number of times.
    above, above_end = a[..., 1] > 0, a[..., 1] + side[..., 1] > 0
    with np.errstate(divide="ignore", invalid="ignore"):
        x = a[..., 0] - a[..., 1] * side[..., 0] / side[..., 1]
        inside = (((above != above_end) & (x > 0)).sum(axis=1) % 2) == 1
        across = run[:, None, 0] * side[..., 1] - run[:, None, 1] * side[..., 0]
        s = (a[..., 0] * side[..., 1] - a[..., 1] * side[..., 0]) / across
        u = (a[..., 0] * run[:, None, 1] - a[..., 1] * run[:, None, 0]) / across
        first = np.where((across != 0) & (s >= 0) & (s <= 1) & (u >= 0) & (u <= 1), s, np.inf).min(axis=1)
        return np.where(inside, low, np.where(first <= 1, low + first * (high - low), np.inf))


# -------------------------------------------------------------------------------------------------------------- bundles
def image_grid(fov: float, aspect: float, columns: int, rows: int) -> Array:
    """Rays through the middles of the cells of an image (rows, columns, 3): x out of the camera, first row at the top,
    first column on the left. ``fov`` horizontal, ``aspect`` height over width (pinhole)."""
    down, right = np.indices((rows, columns))
    return pixels(fov, aspect, (right + 0.5) / columns, (down + 0.5) / rows)


def pixels(fov: float, aspect: float, right: Array, down: Array) -> Array:
    """Rays (…, 3) through points of an image: 0 to 1 from its left, 0 to 1 from its top."""
    across = math.tan(fov / 2)
    y, z = across * (1 - 2 * right), across * aspect * (1 - 2 * down)
    long = 1 / np.sqrt(1 + y * y + z * z)
    return np.stack([long, y * long, z * long], axis=-1)


class Image(NamedTuple):
    """Rays that stand for the parts of an image: ``share`` of it each (together 1), and what they meet."""

    rays: Array  # (m, 3)
    share: Array  # (m,)
    hits: Hits


def image(scene: Scene, fov: float, aspect: float, reach: float = math.inf) -> Image:
    """What a pinhole camera at the origin, looking along x, sees of the scene.

    Resolution: 96 x 72 cells, and 4 x 4 in each where neighbours see different solids. What is narrower than a cell
    may be missed; a straight edge leaves an error of about a quarter of a fine cell along it.
    """
    coarse = image_grid(fov, aspect, COLUMNS, ROWS)
    hits = cast(scene, coarse.reshape(-1, 3), reach)
    who = hits.which.reshape(ROWS, COLUMNS)
    edge = np.zeros((ROWS, COLUMNS), dtype=bool)
    for a, b in ((np.s_[1:, :], np.s_[:-1, :]), (np.s_[:, 1:], np.s_[:, :-1])):
        differs = who[a] != who[b]
        edge[a] |= differs
        edge[b] |= differs
    plain = ~edge.ravel()
    row, column = np.nonzero(edge)
    part = (np.arange(FINER) + 0.5) / FINER
    down = ((row[:, None, None] + part[None, :, None]) / ROWS).repeat(FINER, axis=2)
    right = ((column[:, None, None] + part[None, None, :]) / COLUMNS).repeat(FINER, axis=1)
    fine = pixels(fov, aspect, right.ravel(), down.ravel())
    fine_hits = cast(scene, fine, reach)
    cell = 1.0 / (COLUMNS * ROWS)
    return Image(np.vstack([coarse.reshape(-1, 3)[plain], fine]),
                 np.concatenate([np.full(int(plain.sum()), cell), np.full(len(fine), cell / FINER**2)]),
                 Hits(np.concatenate([hits.distance[plain], fine_hits.distance]),
                      np.concatenate([hits.which[plain], fine_hits.which])))


def cone_bundle(half_angle: float, rings: int) -> Array:
    """Rays (m, 3) that fill a cone about x, its rim included: neighbours are half_angle / rings apart, or less."""
    out = [np.array([[1.0, 0.0, 0.0]])]
    for k in range(1, rings + 1):
        tilt = half_angle * k / rings
        n = math.ceil(2 * math.pi * rings * math.sin(tilt) / half_angle)
        turn = 2 * math.pi * np.arange(max(n, 6)) / max(n, 6)
        out.append(np.stack([np.full(len(turn), math.cos(tilt)), math.sin(tilt) * np.cos(turn),
                             math.sin(tilt) * np.sin(turn)], axis=1))
    return np.vstack(out)


def layer(elevation: float, azimuths: Array) -> Array:
    """Rays (m, 3) of one layer of a 3D lidar: a cone about z at that angle over the x-y plane."""
    c, s = math.cos(elevation), math.sin(elevation)
    return np.stack([c * np.cos(azimuths), c * np.sin(azimuths), np.full(len(azimuths), s)], axis=1)
