"""The convex hull of points in space, exactly: Quickhull (Barber, Dobkin, Huhdanpaa, ACM TOMS 22, 1996), without merging."""
from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from chassis_describe.space.pose import Vec3
from chassis_describe.space.solids import Hull

Array = npt.NDArray[np.float64]


class ConvexHull(NamedTuple):
    """``corners`` (k, 3); ``planes`` (m, 4): unit outward normal and offset, normal·p <= offset; ``faces`` (f, 3): triangles by
    rows of corners, counter-clockwise from outside."""

    corners: Array
    planes: Array
    faces: npt.NDArray[np.intp]


def convex_hull_3d(points: Array) -> ConvexHull:
    """The hull of points (n, 3).

    Raises ValueError where the points lie in one plane (within a millionth of their extent).
    """
    points = np.unique(np.asarray(points, dtype=float), axis=0)
    size = float(np.ptp(points, axis=0).max()) if len(points) else 0.0
    eps = 1e-9 * size
    first = first_four(points, 1e-6 * size) if len(points) > 3 else None
    if first is None:
        raise ValueError("the points lie in one plane")
    inside = points[list(first)].mean(axis=0)
    faces: dict[int, tuple[int, int, int]] = {}
    planes: dict[int, Array] = {}
    outside: dict[int, npt.NDArray[np.intp]] = {}
    by_edge: dict[tuple[int, int], int] = {}
    count = 0

    def add(a: int, b: int, c: int, rows: npt.NDArray[np.intp]) -> int:
        nonlocal count
        normal = np.cross(points[b] - points[a], points[c] - points[a])
        if normal @ (points[a] - inside) < 0:
            b, c, normal = c, b, -normal
        length = float(np.sqrt(normal @ normal))
        normal = normal / length if length > 0 else normal
        plane = np.append(normal, normal @ points[a])
        face, count = count, count + 1
        faces[face], planes[face] = (a, b, c), plane
        above = points[rows] @ normal - plane[3] > eps
        outside[face] = rows[above]
        for edge in ((a, b), (b, c), (c, a)):
            by_edge[edge] = face
        return face

    a, b, c, d = first
    rest = np.setdiff1d(np.arange(len(points)), np.array(first))
    waiting = []
    for corners in ((a, b, c), (a, b, d), (a, c, d), (b, c, d)):
        face = add(*corners, rest)
        rest = np.setdiff1d(rest, outside[face], assume_unique=True)
        waiting.append(face)
    while waiting:
        face = waiting.pop()
        if face not in faces or not len(outside[face]):
            continue
        rows = outside[face]
        apex = int(rows[int(np.argmax(points[rows] @ planes[face][:3]))])
        seen, look, rim = {face}, [face], []
        while look:
            here = look.pop()
            p, q, r = faces[here]
            for edge in ((p, q), (q, r), (r, p)):
                other = by_edge[(edge[1], edge[0])]
                if other in seen:
                    continue
                if planes[other][:3] @ points[apex] - planes[other][3] > eps:
                    seen.add(other)
                    look.append(other)
                else:
                    rim.append(edge)
        free = np.unique(np.concatenate([outside[f] for f in seen]))
        free = free[free != apex]
        for gone in seen:
            del faces[gone], planes[gone], outside[gone]
        for u, v in rim:
            new = add(u, v, apex, free)
            free = np.setdiff1d(free, outside[new], assume_unique=True)
            waiting.append(new)
    kept = sorted({k for corners in faces.values() for k in corners})
    flat = np.array(list(planes.values()))
    row = {k: n for n, k in enumerate(kept)}
    return ConvexHull(points[kept], np.unique(np.round(flat, 12) + 0.0, axis=0),
                      np.array([[row[k] for k in corners] for corners in faces.values()], dtype=np.intp))


def hull_solid(points: Array) -> tuple[Hull, Vec3]:
    """The hull of points (n, 3) as a solid, and where its centre is. Raises ValueError as ``convex_hull_3d`` does."""
    corners, planes, faces = convex_hull_3d(points)
    low, high = corners.min(axis=0), corners.max(axis=0)
    middle = (low + high) / 2
    planes = np.column_stack([planes[:, :3], planes[:, 3] - planes[:, :3] @ middle])
    solid = Hull(tuple((high - low).tolist()), *(tuple(map(tuple, rows.tolist())) for rows in (corners - middle, planes, faces)))
    return solid, tuple(middle.tolist())


def first_four(points: Array, least: float) -> tuple[int, int, int, int] | None:
    """Four points that span space; None where all lie within ``least`` of a plane."""
    a = int(np.argmin(points[:, 0]))
    b = int(np.argmax(((points - points[a]) ** 2).sum(axis=1)))
    along = points[b] - points[a]
    length = float(np.sqrt(along @ along))
    if length <= least:
        return None
    along = along / length
    off = points - points[a]
    across = off - (off @ along)[:, None] * along
    c = int(np.argmax((across**2).sum(axis=1)))
    if float(np.sqrt((across[c] ** 2).sum())) <= least:
        return None
    normal = np.cross(along, across[c])
    normal = normal / np.sqrt(normal @ normal)
    height = np.abs(off @ normal)
    d = int(np.argmax(height))
    return (a, b, c, d) if float(height[d]) > least else None
