"""The ``meshes/`` folder: decks with their holes, and copies of the meshes that parts bring. Metres, binary STL."""
from __future__ import annotations

import os
import re
from collections.abc import Callable, Mapping
from pathlib import Path, PurePosixPath

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly
from chassis_describe.errors import TargetError
from chassis_describe.targets.names import Names
from chassis_describe.targets.package.manifest import package_name
from chassis_describe.targets.target import Target

FOLDER = "meshes"


def mesh_paths(assembly: Assembly) -> dict[str, str]:
    """Deck name, or part mesh on disk → path in the package, lower case and without blanks (URIs, file systems)."""
    paths = {name: f"{FOLDER}/{name}.stl" for name in assembly.decks}
    taken = set(paths.values())
    for link in assembly.links:
        for mesh in link.meshes:
            if mesh.file.startswith("package://") or mesh.file in paths:
                continue
            file = PurePosixPath(mesh.file.replace("\\", "/"))
            stem = re.sub(r"[^a-z0-9_]+", "_", f"part_{file.stem}".lower()).strip("_")
            number, path = 1, f"{FOLDER}/{stem}{file.suffix.lower()}"
            while path in taken:
                number += 1
                path = f"{FOLDER}/{stem}_{number}{file.suffix.lower()}"
            taken.add(path)
            paths[mesh.file] = path
    return paths


def mesh_address(assembly: Assembly) -> Callable[[str], str]:
    """For ``urdf(visual="mesh")``: from deck name or file to its ``package://`` address in the description package."""
    paths = mesh_paths(assembly)
    package = package_name(assembly.robot)
    return lambda what: f"package://{package}/{paths[what]}"


def mesh_artifacts(assembly: Assembly) -> tuple[Artifact, ...]:
    """The files. Raises TargetError where a part's mesh can't be read."""
    from chassis_describe.space.plate.mesh import plate_mesh, stl

    marks = {mesh.file: mesh.mark for link in assembly.links for mesh in link.meshes}
    made = []
    for what, path in mesh_paths(assembly).items():
        if what in assembly.decks:
            made.append(Artifact(path=path, data=stl(plate_mesh(assembly.decks[what].plate))))
            continue
        try:
            made.append(Artifact(path=path, data=Path(what).read_bytes()))
        except OSError as error:
            raise TargetError(f"{marks[what]}: the mesh {what} can't be read: {error.strerror}") from error
    return tuple(made)


def paths_on_disk(assembly: Assembly) -> Mapping[str, str]:
    """Part meshes alone, by normal path on disk → path in the package."""
    return {os.path.normpath(os.path.abspath(what)): path for what, path in mesh_paths(assembly).items()
            if what not in assembly.decks}


TARGET = Target(artifacts=mesh_artifacts, names=Names())
