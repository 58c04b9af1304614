"""The ``meshes/`` folder, metres: decks with their holes (binary STL), copies of the meshes that parts bring, and links of several
colours, decks too (OBJ, one for each colour)."""
from __future__ import annotations

import os
import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from pathlib import PurePosixPath

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.model import Assembly, Body
from chassis_describe.errors import TargetError
from chassis_describe.targets.description.coloured import ColouredMesh, coloured_artifacts, coloured_decks, coloured_meshes
from chassis_describe.targets.names import Names
from chassis_describe.targets.package.manifest import package_name
from chassis_describe.targets.target import Target
from chassis_describe.units import shown
from chassis_describe.values import dataclass

FOLDER = "meshes"


def mesh_paths(assembly: Assembly) -> dict[str, str]:
    """Deck name, or part mesh as named → path in the package: lower case letters, digits and underscores.

    A file that is named so already keeps its name: a package compiled again from its own copies is the same package.
    """
    paths = {name: f"{FOLDER}/{name}.{'obj' if name in coloured_decks(assembly) else 'stl'}" for name in assembly.decks}
    taken = {*paths.values(), *(f"{FOLDER}/{mesh.file}" for mesh in coloured_meshes(assembly).values())}
    for file in assembly.layout.meshes.values():
        stem = re.sub(r"[^a-z0-9_]+", "_", PurePosixPath(file.path.replace("\\", "/")).stem.lower()).strip("_")
        stem = stem if f"{stem}_".startswith("part_") else f"part_{stem}".rstrip("_")
        number, path = 1, f"{FOLDER}/{stem}{file.suffix}"
        while path in taken:
            number += 1
            path = f"{FOLDER}/{stem}_{number}{file.suffix}"
        taken.add(path)
        paths[file.path] = path
    return paths


@dataclass(frozen=True, slots=True, kw_only=True)
class PackageMeshes:
    """For ``urdf(visual="mesh")``: where meshes are in the description package, as ``package://`` addresses.

    ``paths``: of decks and files; ``coloured``: by link, without prefix, and colour the bodies that have a mesh, and which.
    """

    package: str
    paths: Mapping[str, str]
    coloured: Mapping[tuple[str, str], ColouredMesh]

    def __call__(self, what: str) -> str:
        """Of a deck, by its name, or of a part's mesh, by its file."""
        return f"package://{self.package}/{self.paths[what]}"

    def of_bodies(self, link: str, colour: str, bodies: Sequence[Body]) -> str | None:
        """Of the bodies of one colour; None where there is no mesh of just these: the robot that Gazebo gets differs in places."""
        mesh = self.coloured.get((link, colour))
        return f"package://{self.package}/{FOLDER}/{mesh.file}" if mesh is not None and mesh.bodies == tuple(bodies) else None


def mesh_address(assembly: Assembly) -> PackageMeshes:
    """The addresses in this robot's package."""
    return PackageMeshes(package=package_name(assembly.robot), paths=mesh_paths(assembly), coloured=coloured_meshes(assembly))


def mesh_artifacts(assembly: Assembly) -> tuple[Artifact, ...]:
    """The files; with ``visual: boxes`` only those that parts bring: the copy of the layout names them, and what others describe
    is drawn by them. Raises TargetError where a part's mesh could not be taken."""
    from chassis_describe.space.plate.mesh import plate_mesh, stl

    by_meshes = assembly.layout.ros.visual == "mesh"
    marks = {mesh.file: mesh.mark for link in assembly.links for mesh in link.meshes}
    made = []
    for what, path in mesh_paths(assembly).items():
        if what in assembly.decks:
            if not by_meshes or what in coloured_decks(assembly):
                continue
            made.append(Artifact(path=path, data=stl(plate_mesh(assembly.decks[what].plate))))
            continue
        file = assembly.layout.meshes[what]
        if file.data is None:
            raise TargetError(f"{marks[what]}: the mesh {shown(what, 200)} {file.fault}")
        made.append(Artifact(path=path, data=file.data))
    return (*made, *coloured_artifacts(assembly, FOLDER)) if by_meshes else tuple(made)


def paths_on_disk(assembly: Assembly) -> Mapping[str, str]:
    """Part meshes alone, by normal path on disk → path in the package."""
    return {os.path.normpath(os.path.abspath(what)): path for what, path in mesh_paths(assembly).items()
            if what not in assembly.decks}


def _coarse(assembly: Assembly) -> Iterable[str]:
    """Decks with so many holes that the mesh draws them with fewer corners than else."""
    from chassis_describe.space.plate.mesh import segments_for

    for name, facet in assembly.decks.items() if assembly.layout.ros.visual == "mesh" else ():
        holes = facet.plate.holes
        radius = max((diameter / 2 for _, _, diameter in holes), default=0.0)
        if holes and (corners := segments_for(radius, len(holes))) < segments_for(radius):
            path = mesh_paths(assembly)[name]
            yield (f"{path} draws each of the {len(holes)} holes of deck {name} with {corners} corners, so that "
                   "viewers can show it; masses, checks and collision shapes take them as they are")


_PAGE = """\
The description is drawn by the meshes in `meshes/`, as `package://{package}/...`, which are found where the package is built and
sourced. RViz keeps each mesh that it has loaded until it ends: start it again when the package was compiled anew. MuJoCo takes the
collision shapes alone from a URDF, unless this stands in it:
`<mujoco><compiler discardvisual="false" strippath="true" meshdir="SHARE/meshes"/></mujoco>`.
"""


def _page(assembly: Assembly, paths: Collection[str]) -> Iterator[str]:
    if any(path.startswith(f"{FOLDER}/") for path in paths):
        yield _PAGE.format(package=package_name(assembly.robot))


TARGET = Target(artifacts=mesh_artifacts, names=Names(), page=_page, warns=_coarse)
