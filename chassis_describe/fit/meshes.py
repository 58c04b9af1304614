"""Meshes of parts: whether their files are there, and of a size like the solids beside them (an STL has no unit)."""
from __future__ import annotations

import os
import re
from collections.abc import Iterable

from chassis_describe.assembly.describe import bounds
from chassis_describe.assembly.model import Assembly, Link, MeshVisual
from chassis_describe.findings import Finding, finding
from chassis_describe.fit.words import listing
from chassis_describe.source import Mark

#: A mesh this many times larger or smaller than the solids of its part has another unit (our choice).
UNLIKE = 8.0
#: Metres in the units that meshes are drawn in.
_UNITS = ((1e-3, "millimetres"), (1e-2, "centimetres"), (0.0254, "inches"), (1.0, "metres"))
_VERTEX = re.compile(rb"vertex\s+(\S+)\s+(\S+)\s+(\S+)")


def meshes_there(assembly: Assembly) -> Iterable[Finding]:
    """``mesh-missing``: a file that can't be copied into the package, once for each part that names it."""
    for file, mesh, owners in mesh_files(assembly):
        if os.path.isfile(file) and os.access(file, os.R_OK):
            continue
        why = "can't be read" if os.path.isfile(file) else "is no file" if os.path.exists(file) else "is not there"
        yield finding("mesh-missing", f"the mesh {file} of {listing(owners)} {why}", where=[mesh.mark], of=owners,
                      hint="a mesh's path starts at the file that names it; without one, the solids are drawn")


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


def meshes_fit(assembly: Assembly) -> Iterable[Finding]:
    """``implausible``: a mesh whose size is nothing like that of the solids beside it."""
    for link in assembly.links:
        for mesh in link.meshes:
            drawn = _largest_extent(mesh)
            solid = _largest_solid(link)
            if not drawn or not solid or 1 / UNLIKE <= drawn * max(mesh.scale) / solid <= UNLIKE:
                continue
            fits = [(f, unit) for f, unit in _UNITS if 1 / UNLIKE <= drawn * f / solid <= UNLIKE]
            best = min(fits, key=lambda u: abs(drawn * u[0] / solid - 1), default=None)
            yield finding("implausible", f"the mesh of {link.owner} would be {drawn * max(mesh.scale) * 1e3:.4g} mm long, "
                          f"its solids are {solid * 1e3:.4g} mm", where=[mesh.mark], of=[link.owner],
                          hint=f"it is drawn in {best[1]}, it seems: `scale: {best[0]:g}`" if best else "check its `scale`",
                          measured=drawn * max(mesh.scale), allowed=solid, unit="m")


def _largest_solid(link: Link) -> float:
    bodies = [b for b in link.bodies if b.role != "spacer"]
    if not bodies:
        return 0.0
    low, high = bounds(bodies)
    return max(b - a for a, b in zip(low, high))


def _largest_extent(mesh: MeshVisual) -> float | None:
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
