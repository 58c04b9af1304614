"""The triangles of a mesh, in its own axes and units: what a part file is begun from. STL and OBJ."""
from __future__ import annotations

from typing import Any

from chassis_describe.layout.described.mesh_points import NoPoints, mesh_points

#: Triangles of a mesh that are looked at; a bracket has some thousands.
MOST_TRIANGLES = 400_000


def mesh_triangles(data: bytes, suffix: str) -> Any:
    """Corners (n, 3, 3) of every triangle in order. Polygons of an OBJ are cut into fans. Raises NoPoints, which says why."""
    import numpy as np

    if suffix not in (".stl", ".obj"):
        raise NoPoints("its triangles are not read; save it as STL or OBJ")
    points = mesh_points(data, suffix)
    if suffix == ".stl":
        if len(points) % 3:
            raise NoPoints("a triangle in it has not three corners")
        triangles = points.reshape(-1, 3, 3)
    else:
        triangles = points[np.array(_fans(data, len(points)), dtype=int).reshape(-1, 3)]
    if not len(triangles):
        raise NoPoints("it has no triangles")
    if len(triangles) > MOST_TRIANGLES:
        raise NoPoints(f"it has {len(triangles)} triangles, more than {MOST_TRIANGLES}; save it coarser")
    return triangles


def _fans(data: bytes, count: int) -> list[tuple[int, int, int]]:
    """Faces of an OBJ as triangles of numbers of vertices: ``f 1/2/3 …``, from 1, or from the last one backwards if negative."""
    out: list[tuple[int, int, int]] = []
    seen = 0
    for number, line in enumerate(data.splitlines(), start=1):
        if line.startswith(b"v "):
            seen += 1
        elif line.startswith(b"f "):
            try:
                corners = [int(word.split(b"/", 1)[0]) for word in line.split()[1:]]
            except ValueError:
                raise NoPoints(f"line {number} is no face") from None
            corners = [c - 1 if c > 0 else seen + c for c in corners]
            if len(corners) < 3 or not all(0 <= c < count for c in corners):
                raise NoPoints(f"the face in line {number} has corners that are not there")
            out += [(corners[0], b, c) for b, c in zip(corners[1:], corners[2:])]
    return out
