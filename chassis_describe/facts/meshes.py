"""Meshes that the parts of a layout name: the files, and how large what is in them is."""
from __future__ import annotations

import re
from collections.abc import Iterable

from chassis_describe.assembly.model import Assembly, MeshVisual
from chassis_describe.source import Mark

_VERTEX = re.compile(rb"vertex\s+(\S+)\s+(\S+)\s+(\S+)")


def mesh_files(assembly: Assembly) -> Iterable[tuple[str, MeshVisual, tuple[str, ...]]]:
    """Each mesh on the disk that the layout's parts name: its file, where it stands, the placements that bring it."""
    found: dict[tuple[str, Mark], tuple[MeshVisual, list[str]]] = {}
    for link in assembly.links:
        for mesh in link.meshes:
            if not mesh.file.startswith("package://"):
                owners = found.setdefault((mesh.file, mesh.mark), (mesh, []))[1]
                if link.owner not in owners:
                    owners.append(link.owner)
    for (file, _), (mesh, owners) in found.items():
        yield file, mesh, tuple(owners)


def largest_extent(mesh: MeshVisual) -> float | None:
    """The longest edge of the box around an STL, in its own units; None where it is no STL that can be read here."""
    import numpy as np

    if "://" in mesh.file or not mesh.file.lower().endswith(".stl"):
        return None
    try:
        with open(mesh.file, "rb") as file:
            data = file.read()
    except OSError:
        return None  # `mesh-missing` says so
    count = int.from_bytes(data[80:84], "little")
    if len(data) == 84 + 50 * count and count:  # binary: 80 bytes, a count, 50 bytes for each triangle
        rows = np.frombuffer(data, dtype=np.uint8, offset=84).reshape(count, 50)[:, 12:48]
        points = np.ascontiguousarray(rows).view("<f4").reshape(-1, 3).astype(float)
    else:
        try:
            points = np.array([[float(v) for v in m] for m in _VERTEX.findall(data)])
        except ValueError:
            return None
    return float(np.ptp(points, axis=0).max()) if len(points) and np.isfinite(points).all() else None
