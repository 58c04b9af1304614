"""Each colour of a link where each consumer looks for it: one colour by primitives, several by an OBJ mesh for each.

The format: Wavefront OBJ and MTL (Alias|Wavefront, Advanced Visualizer Manual, appendix B1, and the MTL specification of 1995; from
memory). Who colours what: chassis_describe/targets/description/coloured.py names the sources.
"""
from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from lxml import etree

import chassis_describe as cd
from chassis_describe import compiler
from chassis_describe.errors import UsageError
from chassis_describe.space.plate.mesh import CHORD
from chassis_describe.space.solids import Box, Cylinder, Solid, Sphere, extents
from chassis_describe.targets import package_artifacts
from chassis_describe.targets.description import meshes, plain_urdf
from chassis_describe.targets.description.coloured import coloured_meshes
from tests.demos import CONFIG, NAMES

_ROBOTS: dict[str, Any] = {}
#: Swivel casters: Gazebo's model has them on joints, the plain one does not; a part that is seen through, behind an opaque one.
TROLLEY = """\
layout: 1
robot: trolley
parts:
  lamp: {mass: 30, bolts: [[-10, 0], [10, 0]], bodies: [
    {cylinder: [4, 30], at: [0, 0, 15], color: [1, 0, 0]}, {box: [40, 40, 20], at: [0, 0, 10], color: [0, 1, 0]},
    {sphere: 6, at: [0, 0, 30], color: [0, 0, 1, 0.5]}, {box: [10, 10, 2], at: [0, 0, 21], color: [1, 0, 0]}]}
decks: {floor: {outline: {rectangle: [240, 160]}, thickness: 4, material: acrylic}}
placements:
  motor_left:  {part: gearmotor_d37, on: floor, face: under, at: [0.5, 2], points: left}
  motor_right: {mirror_of: motor_left}
  wheel_left:  {part: wheel_d80, on: motor_left}
  wheel_right: {part: wheel_d80, on: motor_right}
  caster: {part: swivel_caster_h45, on: floor, face: under, at: [-4, 0], lift: 13.5}
  lamp: {part: lamp, on: floor, at: [3, 0]}
drive: {kind: differential, left: [wheel_left], right: [wheel_right]}
"""


def robot(name: str, *, text: str | None = None, prefix: str | None = None) -> Any:
    key = f"{name} {prefix} {hash(text)}"
    if key not in _ROBOTS:
        _ROBOTS[key] = cd.assemble(cd.read(CONFIG / f"{name}.yaml", text=text), prefix=prefix)
    return _ROBOTS[key]


def described(assembly: Any) -> Any:
    (file,) = plain_urdf.artifacts(assembly)
    return etree.fromstring(file.data)


def files(assembly: Any) -> dict[str, bytes]:
    return {a.path: a.data for a in meshes.mesh_artifacts(assembly)}


def own_links(assembly: Any, tree: Any) -> Iterator[Any]:
    theirs = {link.name for link in assembly.links if link.described}
    return (e for e in tree.findall("link") if e.get("name") not in theirs)


def read_mtl(data: bytes) -> dict[str, tuple[float, ...]]:
    """Name → diffuse colour and opacity."""
    found: dict[str, dict[str, list[float]]] = {}
    for line in data.decode("ascii").splitlines():
        word, *rest = line.split()
        if word == "newmtl":
            found[rest[0]] = material = {}
        elif word in ("Kd", "d"):
            material[word] = [float(v) for v in rest]
    return {name: (*m["Kd"], *m["d"]) for name, m in found.items()}


def read_obj(data: bytes) -> tuple[Any, Any, list[str], list[str]]:
    """Corners of faces as numbers of points and directions (n, 3), both tables, materials, libraries."""
    tables: dict[str, list[list[float]]] = {"v": [], "vn": []}
    faces, named, libraries = [], [], []
    for line in data.decode("ascii").splitlines():
        word, *rest = line.split()
        if word in tables:
            tables[word].append([float(v) for v in rest])
        elif word == "f":
            faces.append([[int(n) - 1 for n in corner.split("//")] for corner in rest])
        elif word == "usemtl":
            named += rest
        elif word == "mtllib":
            libraries += rest
    indices = np.array(faces)
    return indices[:, :, 0], (np.array(tables["v"])[indices[:, :, 0]], np.array(tables["vn"])[indices[:, :, 1]]), named, libraries


def chorded_volume(solid: Solid) -> tuple[float, float]:
    """Least and most that a body of chords within CHORD of a true curve holds (m³): of a cylinder by the ratio of a regular polygon's
    area to its circle's, (n / 2π) sin(2π/n); a ball loses at most its shell (handbook formulae)."""
    if isinstance(solid, Box):
        return solid.volume, solid.volume
    if isinstance(solid, Cylinder):
        n = math.pi / math.acos(1 - min(CHORD, solid.radius * (1 - math.cos(math.pi / 16))) / solid.radius)
        return solid.volume * math.sin(2 * math.pi / n) / (2 * math.pi / n), solid.volume
    # 48 around, 24 from pole to pole at the most: 1 - cos(π/24) of the radius under the true ball
    least = solid.radius * math.cos(math.pi / 16) ** 2
    return 4 / 3 * math.pi * least**3, solid.volume


@pytest.mark.parametrize("name", NAMES)
def test_meshes_are_the_bodies(name: str) -> None:
    """Closed, outward, and as large as the true shapes; flat where these are flat, and round where they are round."""
    assembly = robot(name)
    found = files(assembly)
    wanted = coloured_meshes(assembly)
    decks = {f"meshes/{deck}.obj": facet for deck, facet in assembly.decks.items() if f"meshes/{deck}.obj" in found}
    assert wanted and {p for p in found if p.endswith(".obj")} == {f"meshes/{mesh.file}" for mesh in wanted.values()} | decks.keys()
    for path, facet in decks.items():
        numbers_, (triangles, normals), _, _ = read_obj(found[path])
        edges = Counter((int(f[k]), int(f[(k + 1) % 3])) for f in numbers_ for k in range(3))
        assert all(edges[b, a] == n for (a, b), n in edges.items()), "closed"
        volume = np.einsum("nk,nk->", triangles[:, 0], np.cross(triangles[:, 1], triangles[:, 2])) / 6
        assert volume == pytest.approx(facet.plate.volume, rel=0.01) and path.replace(".obj", ".stl") not in found
    for file, bodies in wanted.values():
        numbers_, (triangles, normals), _, _ = read_obj(found[f"meshes/{file}"])
        edges = Counter((int(f[k]), int(f[(k + 1) % 3])) for f in numbers_ for k in range(3))
        assert set(edges.values()) == {1} and all((b, a) in edges for a, b in edges), "each edge once in each sense"
        assert np.linalg.norm(normals, axis=2) == pytest.approx(1, abs=2e-4)
        faces = np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])
        faces /= np.linalg.norm(faces, axis=1, keepdims=True)
        assert np.einsum("nk,nck->nc", faces, normals).min() > 0.9, "normals of corners go with their faces"
        volume = np.einsum("nk,nk->", triangles[:, 0], np.cross(triangles[:, 1], triangles[:, 2])) / 6
        least, most = (sum(v) for v in zip(*(chorded_volume(b.solid) for b in bodies)))
        assert least * (1 - 1e-3) <= volume <= most * (1 + 1e-3)  # corners are written to 0.1 µm
        low, high = zip(*(extents(b.solid, b.pose) for b in bodies))
        within = CHORD + 1e-7 if not any(isinstance(b.solid, Sphere) for b in bodies) else 1e-3
        assert triangles.reshape(-1, 3).min(axis=0) == pytest.approx(np.min(low, axis=0), abs=within)
        assert triangles.reshape(-1, 3).max(axis=0) == pytest.approx(np.max(high, axis=0), abs=within)


def of_file(visual: Any, found: dict[str, bytes]) -> str | None:
    """The material that a visual's mesh brings; None where it brings none."""
    file = visual.find("geometry/mesh")
    if file is None or not file.get("filename").endswith(".obj"):
        return None
    package, _, path = file.get("filename").removeprefix("package://").partition("/")
    _, _, named, libraries = read_obj(found[path])
    (name,) = named
    (library,) = libraries
    assert name in read_mtl(found[f"meshes/{library}"]) and package == library.replace(".mtl", "_description")
    return str(name)


@pytest.mark.parametrize("name", NAMES)
def test_every_rviz_and_the_others_see_the_same_colours(name: str) -> None:
    """What RViz makes of visuals, old and since PR 1782, as code: what brings no materials is drawn in the first visual's, and what
    brings one too, where the first has one. The others: each in its own, or where it has none in its file's."""
    assembly = robot(name)
    tree, found = described(assembly), files(assembly)
    colours = {m.get("name"): tuple(float(v) for v in m.find("color").get("rgba").split()) for m in tree.findall("material")}
    brought = read_mtl(found[f"meshes/{name}.mtl"])
    several = 0
    for link in own_links(assembly, tree):
        visuals = link.findall("visual")
        given = [v.find("material").get("name") if v.find("material") is not None else None for v in visuals]
        bring = [of_file(v, found) for v in visuals]
        for gave, brings in zip(given, bring):
            if gave is not None and brings is not None:
                assert gave == brings and brought[brings] == pytest.approx(colours[gave], abs=1e-4)
        others = [gave or brings for gave, brings in zip(given, bring)]
        rviz_before = [brings or given[0] for brings in bring]
        rviz_since = [given[0]] * len(visuals) if visuals and given[0] else bring
        assert others == rviz_before == rviz_since, link.get("name")
        assert None not in given[1:], "at most the first has none"
        several += len(set(others)) > 1
    assert several > 5


@pytest.mark.parametrize("name", NAMES)
def test_everything_that_is_seen_is_drawn_once(name: str) -> None:
    """Bodies by link and colour: as they are in the description that has no meshes."""
    assembly = robot(name)
    found = files(assembly)
    in_meshes = {(link, colour): len(mesh.bodies) for (link, colour), mesh in coloured_meshes(assembly).items()}

    def drawn(tree: Any) -> Counter[tuple[str, str]]:
        out: Counter[tuple[str, str]] = Counter()
        for link in own_links(assembly, tree):
            for visual in link.findall("visual"):
                material = visual.find("material").get("name") if visual.find("material") is not None else of_file(visual, found)
                key = link.get("name"), material.removeprefix(f"{name}_")
                file = visual.find("geometry/mesh")
                if file is None:
                    out[key] += 1
                elif file.get("filename").rpartition("/")[2] not in plates:
                    out[key] += in_meshes.pop(key)
        return out

    plates = {f"{deck}.{suffix}" for deck in assembly.decks for suffix in ("stl", "obj")}
    of_plates = {link.name for link in assembly.links if link.plate is not None}
    plain, package = drawn(etree.fromstring(cd.urdf(assembly).encode())), drawn(described(assembly))
    assert not in_meshes, "every mesh is used once"
    assert package
    for key in plain.keys() | package.keys():
        if key[0] not in of_plates or package[key]:  # a plate is one mesh here, boxes there
            assert plain[key] == package[key], key


def test_addresses_lead_to_files() -> None:
    """Plain, as xacro and for Gazebo, whose model has casters on joints: what a file names of this package is in it."""
    assembly = robot("trolley", text=TROLLEY)
    made = {a.path: a.data for a in package_artifacts(assembly)}
    named = {path: {word.partition(b'"')[0].decode() for word in data.split(b'"package://trolley_description/')[1:]}
             for path, data in made.items() if path.endswith((".urdf", ".xacro"))}
    objects = {path for path in made if path.endswith(".obj")}
    assert named["urdf/trolley.urdf"] >= objects and len(objects) > 6
    for path, names in named.items():
        assert names <= made.keys(), path
    plain, gazebo = (etree.fromstring(made[p]) for p in ("urdf/trolley.urdf", "simulation/trolley_gazebo.urdf"))
    links = [{e.get("name") for e in t.findall("link")} for t in (plain, gazebo)]
    assert links[1] - links[0], "the caster turns in Gazebo"

    def of(tree: Any, what: str) -> int:
        return sum(1 for e in tree.iter("visual") if e.find(f"geometry/{what}") is not None)

    (caster,) = (e for e in gazebo.findall("link") if e.get("name") == "caster_link")
    drawn = [(v.find("geometry")[0].tag, v.find("geometry")[0].get("filename", "").rpartition("/")[2]) for v in caster.findall("visual")]
    assert drawn == [("mesh", "swivel_caster_h45_spacer.obj"), ("box", "")], "not the mesh that holds the fork, which turns here"
    assert of(gazebo, "mesh") < of(plain, "mesh")
    bodies = sum(b.visible for link in assembly.links for b in link.bodies)
    assert of(plain, "mesh") + sum(of(plain, k) for k in ("box", "cylinder", "sphere")) < bodies


def test_opacity_and_the_order_of_colours() -> None:
    """The first has no material in the URDF; then the largest body's colour; the collision follows it, since MuJoCo gives collisions the colour of the visual
    before (google-deepmind/mujoco main: src/xml/xml_urdf.cc, Body); bodies of one colour are one mesh."""
    assembly = robot("trolley", text=TROLLEY)
    (lamp,) = (e for e in described(assembly).findall("link") if e.get("name") == "lamp_link")
    names = [e.find("material").get("name") if e.find("material") is not None else None for e in lamp.findall("visual")]
    assert names == [None, "trolley_green_00ff00", "trolley_red_ff0000"]
    assert lamp.find("visual/geometry/mesh").get("filename").endswith("/lamp_translucent_blue_0000ff80.obj"), "the smallest"
    tags = [e.tag for e in lamp if e.tag in ("visual", "collision")]
    assert tags == ["visual"] * 2 + ["collision"] * 4 + ["visual"]
    assert read_mtl(files(assembly)["meshes/trolley.mtl"])["trolley_translucent_blue_0000ff80"] == (0, 0, 1, 0.5)
    triangles = read_obj(files(assembly)["meshes/lamp_red_ff0000.obj"])[1][0]
    assert triangles[:, :, 2].max() == pytest.approx(0.030) and triangles[:, :, 0].min() == pytest.approx(-0.005)


def test_links_that_look_alike_share_their_meshes() -> None:
    """Both motors; not the wheels, whose parts are turned by half a turn on the right. Beginnings differ even from the decks'."""
    tree = described(robot("trolley", text=TROLLEY))
    named = {link.get("name"): [m.get("filename") for m in link.findall("visual/geometry/mesh")] for link in tree.findall("link")}
    assert len(named["motor_left_link"]) == 3 and named["motor_left_link"] == named["motor_right_link"]
    assert not set(named["wheel_left_link"]) & set(named["wheel_right_link"]) and named["wheel_left_link"]
    stems = [path.rpartition("/")[2].rpartition(".")[0] for path in {p for paths in named.values() for p in paths}]
    assert len(stems) == len(set(stems)), "MuJoCo tells meshes by their names without suffix"


def test_a_prefix_changes_no_mesh() -> None:
    plain, other = robot("draught_scout"), robot("draught_scout", prefix="left_")
    assert files(plain) == files(other)
    assert {e.get("filename") for e in described(plain).iter("mesh")} == {e.get("filename") for e in described(other).iter("mesh")}


def test_a_package_without_meshes() -> None:
    """``visual: boxes``: the description is that of the command, in every file, and `--visual mesh` has nothing to refer to."""
    text = (CONFIG / "seedling_cart.yaml").read_text(encoding="utf-8").replace("\nros:\n", "\nros:\n  visual: boxes\n")
    assembly = robot("seedling_cart", text=text)
    made = {a.path: a.data for a in package_artifacts(assembly)}
    assert not [p for p in made if p.startswith("meshes/")]
    assert not [p for p, data in made.items() if p.startswith(("urdf/", "simulation/")) and (b"<mesh" in data or b"meshes/" in data)]
    assert made["urdf/seedling_cart.urdf"].decode() == cd.urdf(assembly)
    with pytest.raises(UsageError, match="visual: boxes"):
        compiler.urdf(assembly, visual="mesh")


def test_a_parts_own_mesh_gives_its_link_the_first_colour() -> None:
    """Drawn instead of the part's bodies, as it was read; its spacers have a mesh of theirs."""
    block = (Path(__file__).parents[1] / "fit" / "good" / "block.stl").read_bytes()
    text = """\
layout: 1
robot: shelf
parts:
  case: {mass: 100, bodies: [{box: [70, 50, 30], at: [0, 0, 15], color: [1, 0, 0]}, {mesh: block.stl, color: [0, 0, 1]}],
         bolts: [[-20, 0], [20, 0]]}
decks: {floor: {outline: {rectangle: [100, 100]}, thickness: 4, density: 700}}
placements: {case: {part: case, on: floor, at: [0, 0], lift: 10}}
"""
    assembly = cd.assemble(cd.read("shelf.yaml", text=text, opener=lambda path: block))
    (case,) = (e for e in described(assembly).findall("link") if e.get("name") == "case_link")
    drawn = [(v.find("geometry/mesh").get("filename").rpartition("/")[2], v.find("material").get("name")) for v in case.findall("visual")]
    assert drawn == [("part_block.stl", "shelf_blue_0000ff"), ("case_spacer.obj", "shelf_spacer")]
    assert files(assembly)["meshes/part_block.stl"] == block
