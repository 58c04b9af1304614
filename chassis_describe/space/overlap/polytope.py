"""How deep two convex bodies are in one another, when one of them has many faces. Metres, one common frame.

Two bodies overlap where their difference A ⊕ (−B) holds the origin, and the depth is the origin's distance to the boundary of
that. The difference is known by its support points alone: a polyhedron of some of them is widened at its face that is
nearest to the origin until that face is on the boundary (G. van den Bergen, "Proximity Queries and Penetration Depth
Computation on 3D Game Objects", GDC 2001). Of two polyhedra that is exact; with round ones it ends within ``CLOSE``.
"""
from __future__ import annotations

import numpy as np
import numpy.typing as npt

from chassis_describe.space.hull import first_four
from chassis_describe.space.overlap.convex import Array, Spread, support

#: How far the nearest face may be inside the boundary at the end (m).
CLOSE = 1e-9
#: Faces are widened so often at most; cylinders take 20 to 120, and what is given then still clears the bodies.
ROUNDS = 600

_FIRST = np.array([[x, y, z] for x in (-1, 0, 1) for y in (-1, 0, 1) for z in (-1, 0, 1) if x or y or z], dtype=float)


def core_depth(a: Spread, b: Spread) -> tuple[float, Array]:
    """How far b has to move, and along which unit direction, to leave a; balls are left out.

    Not positive where they don't overlap: along that direction they are apart by so much.
    """
    def reach(d: Array) -> Array:
        return np.asarray(support(a, d) - support(b, -d))

    points = np.unique(np.array([reach(d) for d in _FIRST]), axis=0)
    size = float(np.ptp(points, axis=0).max())
    shell = _Shell(points, 1e-12 * size)
    best, way = np.inf, np.array([0.0, 0.0, 1.0])
    for _ in range(ROUNDS):
        nearest = int(np.argmin(shell.planes[:, 3]))
        normal, inside = shell.planes[nearest, :3], float(shell.planes[nearest, 3])
        point = reach(normal)
        out = float(point @ normal)
        if out < best:
            best, way = out, normal
        if out <= 0.0 or best - inside <= CLOSE or not shell.add(point):
            break
    return best, way


class _Shell:
    """The convex hull of points that come one by one: faces as rows of points, counter-clockwise from outside."""

    def __init__(self, points: Array, least: float) -> None:
        four = first_four(points, 1e-9 * float(np.ptp(points, axis=0).max()))
        if four is None:
            raise ValueError("the difference of two solids is flat")
        self.points = list(points[list(four)])
        self.least = least
        middle = np.mean(self.points, axis=0)
        faces = []
        for a, b, c in ((0, 1, 2), (0, 1, 3), (0, 2, 3), (1, 2, 3)):
            p, q, r = (self.points[k] for k in (a, b, c))
            faces.append((a, b, c) if np.cross(q - p, r - p) @ (p - middle) > 0 else (a, c, b))
        self.faces: npt.NDArray[np.intp] = np.array(faces)
        self.planes: Array = self._planes(self.faces)
        for k in set(range(len(points))) - set(four):
            self.add(points[k])

    def add(self, point: Array) -> bool:
        """False where the point is not outside."""
        seen = self.planes[:, :3] @ point - self.planes[:, 3] > self.least
        if not seen.any():
            return False
        lit = self.faces[seen]
        edges = {(int(f[i]), int(f[(i + 1) % 3])) for f in lit for i in range(3)}
        new = len(self.points)
        self.points.append(point)
        faces = np.array([(u, v, new) for u, v in sorted(edges) if (v, u) not in edges])
        self.faces = np.vstack([self.faces[~seen], faces])
        self.planes = np.vstack([self.planes[~seen], self._planes(faces)])
        return True

    def _planes(self, faces: npt.NDArray[np.intp]) -> Array:
        """Unit normals and offsets; a face without area is never the nearest."""
        p, q, r = (np.array([self.points[k] for k in faces[:, column]]) for column in range(3))
        normals = np.cross(q - p, r - p)
        lengths = np.sqrt((normals**2).sum(axis=1))
        flat = lengths <= self.least * self.least
        normals = normals / np.where(flat, 1.0, lengths)[:, None]
        return np.column_stack([normals, np.where(flat, np.inf, (normals * p).sum(axis=1))])
