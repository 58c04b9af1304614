"""Visuals of the package: a link of one colour is drawn by primitives, one of several by a mesh for each of them.

RViz 2 asks for a link's material by an empty name, and so draws primitives and STL meshes of a link in the material of the link's
first visual; meshes that bring materials keep them (ros2/rviz humble to rolling of 2024: rviz_default_plugins/src/
rviz_default_plugins/robot/robot_link.cpp, ``getMaterialForLink``, ``assignMaterialsToEntities``). Since June 2026 (ros2/rviz PR
1782, to be backported to all four) they keep them only where the first visual has no material in the URDF. Gazebo, MuJoCo, PyBullet
and pinocchio are the other way round: the material of the visual colours the whole mesh, whatever that brings (gazebosim/gz-sim
ign-gazebo6 to gz-sim10: src/rendering/SceneManager.cc, ``LoadVisual``). So a mesh has one colour, its file says which, and so does
the visual, but for the first of the link: that is the smallest, since engines draw it grey. Of the formats with colours, Wavefront
OBJ is the one that all of them read: MuJoCo takes no COLLADA, Fortress no glTF.

The first colour of such a link is a mesh too: PyBullet draws a primitive cylinder 1 mm larger all round than it is, over a hub that
stands out by less (bulletphysics/bullet3 master: examples/SharedMemory/plugins/tinyRendererPlugin/
TinyRendererVisualShapeConverter.cpp, ``setMargin``).
"""
from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, NamedTuple

from chassis_describe.artifact import Artifact
from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, Body, Color, Link
from chassis_describe.space.pose import Pose
from chassis_describe.space.solids import Cylinder, Solid, Sphere
from chassis_describe.targets.description.colours import body_colour, deck_colour, part_colour

if TYPE_CHECKING:
    from chassis_describe.space.plate.depth import Array
    from chassis_describe.space.surface import Surface

_FEWEST, _MOST_OF_A_BALL = 16, 48
Shape = tuple[tuple[Solid, Pose], ...]


class DrawnBodies(NamedTuple):
    """The bodies of a link that are seen, by the name of their colour, larger ones first. ``first``: those in the link's first
    colour, none where that is another mesh's alone."""

    colour: str
    first: tuple[Body, ...]
    further: Mapping[str, tuple[Body, ...]]


def drawn(assembly: Assembly, link: Link, *, meshes: bool = True) -> DrawnBodies:
    """How a link is drawn. Its first colour is that of its plate, else of its part's mesh, else of its largest body.

    With ``meshes`` only spacers are seen of the bodies of a part that brings one.
    """
    by_mesh = meshes and bool(link.meshes)
    bodies = sorted((b for b in link.bodies if b.visible and (not by_mesh or b.role == "spacer")), key=lambda b: -b.solid.volume)
    if link.plate is not None:
        colour = deck_colour(assembly.decks[link.owner].deck.material).name
    elif by_mesh:
        colour = part_colour(link.meshes[0].color).name
    else:
        colour = body_colour(bodies[0]).name if bodies else ""
    by_colour: dict[str, list[Body]] = {colour: []}
    for body in bodies:
        by_colour.setdefault(body_colour(body).name, []).append(body)
    first = by_colour.pop(colour)
    return DrawnBodies(colour, tuple(first), {name: tuple(same) for name, same in by_colour.items()})


def without_material(seen: DrawnBodies) -> str:
    """Of a link of several colours the one whose mesh comes first, without a material in the URDF: the smallest."""
    return min(seen.further, key=lambda colour: sum(body.solid.volume for body in seen.further[colour]))


@kept
def coloured_decks(assembly: Assembly) -> frozenset[str]:
    """Decks whose links have several colours: standoffs of another."""
    return frozenset(link.owner for link in assembly.links if link.plate is not None and drawn(assembly, link).further)


def plain_name(assembly: Assembly, link: str) -> str:
    """A link's name without the robot's prefix."""
    return link[len(assembly.prefix):]


class ColouredMesh(NamedTuple):
    """A mesh of one colour: the name of its file, and what is in it, in the axes of the link."""

    file: str
    bodies: tuple[Body, ...]


@kept
def coloured_meshes(assembly: Assembly) -> Mapping[tuple[str, str], ColouredMesh]:
    """By link, without the robot's prefix, and colour what becomes a mesh. Links of one part that look alike share it."""
    found: dict[tuple[str, str], ColouredMesh] = {}
    files: dict[tuple[str, Shape], str] = {}
    # MuJoCo knows a mesh by the name of its file without the suffix, and decks have meshes, too.
    taken = set(assembly.decks)
    for link in assembly.links:
        seen = drawn(assembly, link)
        if not seen.further or link.described:
            continue
        for colour, bodies in {seen.colour: seen.first, **seen.further}.items():
            if bodies:
                stem = f"{_looks(assembly, link)}_{colour}"
                key = stem, tuple((b.solid, b.pose) for b in bodies)
                if key not in files:
                    files[key] = _free(stem, taken)
                found[plain_name(assembly, link.name), colour] = ColouredMesh(f"{files[key]}.obj", bodies)
    return found


def _looks(assembly: Assembly, link: Link) -> str:
    """What a link is called by its looks: its deck, or its part and what of it moves with it."""
    placed = assembly.parts.get(link.owner)
    if placed is None:
        return link.owner
    return placed.part.name + plain_name(assembly, link.name).removeprefix(link.owner).removesuffix("_link")


def _free(stem: str, taken: set[str]) -> str:
    number, name = 1, stem
    while name in taken:
        number += 1
        name = f"{stem}_{number}"
    taken.add(name)
    return name


def coloured_artifacts(assembly: Assembly, folder: str) -> Iterator[Artifact]:
    """The meshes, and one file of materials for all of them."""
    from chassis_describe.space.plate.mesh import plate_mesh
    from chassis_describe.space.surface import flat

    colours: dict[str, Color] = {}
    written: set[str] = set()
    library = f"{assembly.robot}.mtl"
    for name in assembly.decks:
        if name in coloured_decks(assembly):
            facet = assembly.decks[name]
            own = deck_colour(facet.deck.material)
            colours.setdefault(own.name, own.color)
            data = _obj([flat(plate_mesh(facet.plate))], library, f"{assembly.robot}_{own.name}")
            yield Artifact(path=f"{folder}/{name}.obj", data=data)
    for (_, colour), mesh in coloured_meshes(assembly).items():
        if mesh.file not in written:
            written.add(mesh.file)
            colours.setdefault(colour, body_colour(mesh.bodies[0]).color)
            data = _obj(map(_surface, mesh.bodies), library, f"{assembly.robot}_{colour}")
            yield Artifact(path=f"{folder}/{mesh.file}", data=data)
    if colours:
        yield Artifact(path=f"{folder}/{library}", data=_mtl({f"{assembly.robot}_{name}": c for name, c in colours.items()}))


def _mtl(colours: Mapping[str, Color]) -> bytes:
    """Matt materials. The ambient colour is the diffuse one, of which RViz takes half, as it does of a URDF's material."""
    lines = ["# Written by chassis_describe."]
    for name, (*rgb, opacity) in colours.items():
        color = " ".join([_decimal(v, 4) for v in rgb])
        lines += [f"newmtl {name}", f"Ka {color}", f"Kd {color}", "Ks 0 0 0", f"d {_decimal(opacity, 4)}", "illum 1"]
    return ("\n".join(lines) + "\n").encode("ascii")


def _surface(body: Body) -> Surface:
    """In the axes of the link."""
    import numpy as np

    from chassis_describe.space.surface import Surface, surface_of

    triangles, normals = surface_of(body.solid, _chords(body.solid))
    turn = np.array(body.pose.r).reshape(3, 3).T
    return Surface(triangles @ turn + np.array(body.pose.t), normals @ turn)


def _obj(surfaces: Iterable[Surface], library: str, material: str) -> bytes:
    """Wavefront OBJ, metres, in the axes of the link: one object of one material, triangles with a normal at each corner. Surfaces
    share no corners, so that each is closed by itself."""
    points: list[str] = []
    normals: dict[str, int] = {}
    faces: list[str] = []
    for surface in surfaces:
        corners = _rows(surface.triangles.reshape(-1, 3), 7)
        directions = _rows(surface.normals.reshape(-1, 3), 4)
        own = {text: len(points) + k for k, text in enumerate(dict.fromkeys(corners), start=1)}
        points += own
        ends = [f"{own[corner]}//{normals.setdefault(direction, len(normals) + 1)}"
                for corner, direction in zip(corners, directions)]
        faces += [f"f {' '.join(ends[k:k + 3])}" for k in range(0, len(ends), 3)]
    lines = ["# Written by chassis_describe; metres.", f"mtllib {library}", *(f"v {p}" for p in points),
             *(f"vn {n}" for n in normals), f"usemtl {material}", *faces]
    return ("\n".join(lines) + "\n").encode("ascii")


def _chords(solid: Solid) -> int:
    """Chords in a circle: as fine as holes in plates, since normals hide the corners of what has fewer."""
    from chassis_describe.space.plate.mesh import segments_for

    if isinstance(solid, Cylinder):
        return max(_FEWEST, segments_for(solid.radius))
    if isinstance(solid, Sphere):
        return min(max(_FEWEST, segments_for(solid.radius)), _MOST_OF_A_BALL)
    return _FEWEST


def _rows(rows: Array, digits: int) -> list[str]:
    """Of points or directions, shape (n, 3). Most triangles meet where others do, so each number that differs is written once."""
    import numpy as np

    values, which = np.unique(rows, return_inverse=True)
    texts = [_decimal(v, digits) for v in values.tolist()]
    return [f"{texts[x]} {texts[y]} {texts[z]}" for x, y, z in which.reshape(-1, 3).tolist()]


def _decimal(value: float, digits: int) -> str:
    """Without zeros at the end and without minus zero."""
    text = f"{value:.{digits}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
