"""Meshes that the parts of a layout name: the files as they were read, and how large what is in them is."""
from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import PurePosixPath

from chassis_describe.assembly.model import Assembly, MeshVisual
from chassis_describe.layout.model import MeshFile
from chassis_describe.source import Mark
from chassis_describe.words import significant


def mesh_files(assembly: Assembly) -> Iterable[tuple[MeshFile, MeshVisual, tuple[str, ...]]]:
    """Each mesh file that the layout's parts name: what was read, where it stands, the placements that bring it."""
    found: dict[tuple[str, Mark], tuple[MeshVisual, list[str]]] = {}
    for link in assembly.links:
        for mesh in link.meshes:
            if mesh.file in assembly.layout.meshes:
                owners = found.setdefault((mesh.file, mesh.mark), (mesh, []))[1]
                if link.owner not in owners:
                    owners.append(link.owner)
    for (file, _), (mesh, owners) in found.items():
        yield assembly.layout.meshes[file], mesh, tuple(owners)


def mesh_words(assembly: Assembly) -> dict[str, tuple[str, ...]]:
    """Owner → its meshes in a few words each: name, size, hash of the content. The same words mean the same file."""
    words: dict[str, tuple[str, ...]] = {}
    for link in assembly.links:
        for mesh in link.meshes:
            words[link.owner] = (*words.get(link.owner, ()), _words(assembly.layout.meshes.get(mesh.file), mesh))
    return words


def _words(file: MeshFile | None, mesh: MeshVisual) -> str:
    scale = "" if mesh.scale == (1.0, 1.0, 1.0) else f", scale {' '.join(f'{s:.6g}' for s in mesh.scale)}"
    if file is None:
        return f"{mesh.file}{scale}"
    name = PurePosixPath(file.path.replace("\\", "/")).name
    if file.data is None:
        return f"{name} {file.fault}{scale}"
    extent = largest_extent(file)
    size = f"{significant(extent)} units long, " if extent is not None else ""
    return f"{name}: {size}{len(file.data)} bytes, sha256 {hashlib.sha256(file.data).hexdigest()[:12]}{scale}"


def largest_extent(mesh: MeshFile | None) -> float | None:
    """The longest edge of the box around an STL, in its own units; None where it is no STL that was read."""
    from chassis_describe.layout.described.mesh_points import NoPoints, mesh_points

    if mesh is None or mesh.suffix != ".stl" or mesh.data is None:
        return None
    try:
        points = mesh_points(mesh.data, mesh.suffix)
    except NoPoints:
        return None
    return float((points.max(axis=0) - points.min(axis=0)).max())
