"""What the package's description looks like wherever it is used: the colours of every link, from the files as they are written.

Judges: assimp, called as RViz 2 calls it; MuJoCo, PyBullet, pinocchio and yourdfpy with the visuals loaded; libsdformat. What is
expected comes from the layout: the bodies' colours and sizes.
"""
from __future__ import annotations

import atexit
import math
import shutil
import subprocess
import sys
import textwrap
from collections import Counter
from collections.abc import Callable, Iterable
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import Any, NamedTuple

import numpy as np
import pytest
from lxml import etree

import chassis_describe as cd
from chassis_describe.space.solids import extents
from chassis_describe.targets.description import meshes, plain_urdf
from chassis_describe.targets.description.coloured import coloured_decks, coloured_meshes
from chassis_describe.targets.description.colours import body_colour, deck_colour
from tests.demos import CONFIG, NAMES

Key = tuple[str, tuple[float, ...]]


class Package(NamedTuple):
    assembly: Any
    folder: Path  # of the package's own name; packages whose meshes it names are beside it
    urdf: Path
    files: dict[str, bytes]
    own: frozenset[str]  # links that the layout's own parts have
    wanted: Counter[Key]  # link and colour of every visual of those that has a material in the URDF
    bare: tuple[str, ...]  # links whose first visual has none

    def seen(self, found: Iterable[Key]) -> Counter[Key]:
        return Counter(key for key in found if key[0] in self.own)

    def seen_with(self, grey: float) -> Counter[Key]:
        """What is wanted where visuals without a material are of that shade."""
        return self.wanted + Counter((link, rounded((grey, grey, grey, 1))) for link in self.bare)


@cache
def written(name: str) -> Package:
    """Meshes and description of a demo, on disk."""
    assembly = cd.assemble(cd.read(CONFIG / f"{name}.yaml"))
    folder = Path(mkdtemp()) / f"{name}_description"
    atexit.register(shutil.rmtree, folder.parent, ignore_errors=True)
    files = {a.path: a.data for a in (*meshes.mesh_artifacts(assembly), *plain_urdf.artifacts(assembly))}
    for path, data in files.items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(data)
    for other in CONFIG.glob("*_description"):
        shutil.copytree(other, folder.parent / other.name)
    tree = etree.fromstring(files[f"urdf/{name}.urdf"])
    colours = {m.get("name"): rounded(m.find("color").get("rgba").split()) for m in tree.findall("material")}
    own = frozenset(link.name for link in assembly.links if not link.described)
    visuals = [(link.get("name"), v.find("material")) for link in tree.findall("link") if link.get("name") in own
               for v in link.findall("visual")]
    wanted = Counter((link, colours[material.get("name")]) for link, material in visuals if material is not None)
    bare = tuple(link for link, material in visuals if material is None)
    assert bare and len(bare) == len(set(bare))
    return Package(assembly, folder, folder / "urdf" / f"{name}.urdf", files, own, wanted, bare)


#: Two robots hold all that the others have: mecanum wheels, and a part that others describe, with meshes of its own.
BOTH = pytest.mark.parametrize("name", [name for name in ("prop_barrow", "games_waiter") if name in NAMES])


def rounded(rgba: Any) -> tuple[float, ...]:
    return tuple(round(float(v), 4) for v in rgba)


@BOTH
def test_as_rviz_loads_them(name: str, judge: Callable[[str], Any]) -> None:
    judge("pinocchio")
    package = written(name)
    from tests.judges.assimp_as_rviz import Loader

    loader = Loader({package.folder.name: package.files})
    for file, bodies in coloured_meshes(package.assembly).values():
        (seen,) = loader.load(f"package://{package.folder.name}/meshes/{file}")
        assert rounded(seen.diffuse) == rounded(seen.ambient) == rounded(body_colour(bodies[0]).color[:3])
        low, high = zip(*(extents(b.solid, b.pose) for b in bodies))
        points = seen.triangles.reshape(-1, 3)
        assert points.min(axis=0) == pytest.approx(np.min(low, axis=0), abs=1e-3)
        assert points.max(axis=0) == pytest.approx(np.max(high, axis=0), abs=1e-3)
        faces = np.cross(seen.triangles[:, 1] - seen.triangles[:, 0], seen.triangles[:, 2] - seen.triangles[:, 0])
        assert (np.einsum("nk,nck->nc", faces, seen.normals) > 0).all(), "front faces out"
    for deck in coloured_decks(package.assembly):
        (seen,) = loader.load(f"package://{package.folder.name}/meshes/{deck}.obj")
        assert rounded(seen.diffuse) == rounded(deck_colour(package.assembly.decks[deck].deck.material).color[:3])
    assert f"package://{package.folder.name}/meshes/{name}.mtl" in loader.opened


def test_rviz_opens_nothing_elsewhere(judge: Callable[[str], Any]) -> None:
    """The judge itself: without the file of materials the colour is lost, without the mesh there is an error."""
    judge("pinocchio")
    package = written("seedling_cart")
    from tests.judges.assimp_as_rviz import Loader

    path = f"meshes/{next(iter(coloured_meshes(package.assembly).values())).file}"
    (seen,) = Loader({"a": {path: package.files[path]}}).load(f"package://a/{path}")
    assert rounded(seen.diffuse) == rounded((0.6, 0.6, 0.6)), "assimp's default"
    with pytest.raises(ValueError, match="Unable to open file"):
        Loader({"a": {}}).load(f"package://a/{path}")


@BOTH
def test_mujoco(name: str, judge: Callable[[str], Any], capfd: pytest.CaptureFixture[str]) -> None:
    mujoco = judge("mujoco")
    package = written(name)
    for mesh in package.folder.parent.glob("*/meshes/*"):  # it looks in one folder
        if mesh.parent.parent != package.folder:
            shutil.copy(mesh, package.folder / "meshes")
    text = package.urdf.read_text().replace("</robot>", '<mujoco><compiler discardvisual="false" strippath="true" fusestatic="false" '
                                            f'balanceinertia="false" meshdir="{package.folder}/meshes"/></mujoco></robot>')
    model = mujoco.MjModel.from_xml_string(text)
    printed = capfd.readouterr()
    assert printed.out + printed.err == ""
    seen = [k for k in range(model.ngeom) if model.geom_contype[k] == 0]
    assert package.seen((model.body(model.geom_bodyid[k]).name, rounded(model.geom_rgba[k])) for k in seen) == package.seen_with(0.5)
    assert sum(model.body_mass) == pytest.approx(package.assembly.inertial.mass, rel=1e-9), "what is seen weighs nothing"
    # With its defaults it sees the collisions alone: in the first colour of their link.
    model = mujoco.MjModel.from_xml_string(text.replace('discardvisual="false"', ""))
    first: dict[str, tuple[float, ...]] = {}
    for link, colour in package.wanted:
        first.setdefault(link, colour)
    found = package.seen((model.body(model.geom_bodyid[k]).name, rounded(model.geom_rgba[k])) for k in range(model.ngeom))
    assert found and all(colour == first[link] for link, colour in found)


@BOTH
def test_pinocchio(name: str, judge: Callable[[str], Any]) -> None:
    pinocchio = judge("pinocchio")
    package = written(name)
    model = pinocchio.buildModelFromUrdf(str(package.urdf))
    found = pinocchio.buildGeomFromUrdf(model, str(package.urdf), pinocchio.GeometryType.VISUAL,
                                        package_dirs=[str(package.folder.parent)])
    assert package.seen((model.frames[g.parentFrame].name, rounded(g.meshColor)) for g in found.geometryObjects) == package.seen_with(0.9)


BULLET = textwrap.dedent("""
    import sys, pybullet
    pybullet.connect(pybullet.DIRECT)
    body = pybullet.loadURDF(sys.argv[1], useFixedBase=True)
    names = {-1: pybullet.getBodyInfo(body)[0].decode()}
    names |= {i: pybullet.getJointInfo(body, i)[12].decode() for i in range(pybullet.getNumJoints(body))}
    for shape in pybullet.getVisualShapeData(body):
        print("\\nseen", names[shape[1]], *(round(v, 4) for v in shape[7]))
""")


@BOTH
def test_pybullet(name: str, judge: Callable[[str], Any]) -> None:
    judge("pybullet")
    package = written(name)
    done = subprocess.run([sys.executable, "-c", BULLET, str(package.urdf)], capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    rows = [line.split()[1:] for line in done.stdout.splitlines() if line.startswith("seen")]
    assert package.seen((name, rounded(rgba)) for name, *rgba in rows) == package.seen_with(1.0)


@BOTH
@pytest.mark.filterwarnings("ignore:.*Scene.dump:DeprecationWarning")  # yourdfpy's own use of trimesh
def test_yourdfpy(name: str, judge: Callable[[str], Any]) -> None:
    """Its scene by trimesh: how much of the robot there is of each colour that comes from a mesh."""
    yourdfpy = judge("yourdfpy")
    package = written(name)
    model = yourdfpy.URDF.load(str(package.urdf), filename_handler=lambda fname: fname.replace("package://", f"{package.folder.parent}/"))
    volumes: Counter[str] = Counter()
    for geometry in model.scene.geometry.values():
        material = getattr(geometry.visual, "material", None)
        if material is not None and str(material.name).startswith(name):
            volumes[material.name.removeprefix(f"{name}_")] += geometry.volume
    wanted: Counter[str] = Counter()
    for (_, colour), mesh in coloured_meshes(package.assembly).items():
        wanted[colour] += sum(b.solid.volume for b in mesh.bodies)
    for deck in coloured_decks(package.assembly):
        facet = package.assembly.decks[deck]
        wanted[deck_colour(facet.deck.material).name] += facet.plate.volume
    assert volumes.keys() == wanted.keys()
    for colour, volume in wanted.items():
        assert volumes[colour] == pytest.approx(volume, rel=1 - math.sin(math.pi / 8) / (math.pi / 8)), colour  # 16 chords or more


@BOTH
def test_sdformat(name: str, tool: Callable[[str], list[str]]) -> None:
    """Gazebo's visuals: the same meshes, each with a colour of its own (sdf12 to sdf16 write it brighter: rgb / 0.8)."""
    package = written(name)
    done = subprocess.run([tool("ign")[0], "sdf", "-p", str(package.urdf)], capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    visuals = etree.fromstring(done.stdout.encode()).findall(".//visual")
    files = {v.findtext("geometry/mesh/uri").rpartition("/")[2] for v in visuals if v.find("geometry/mesh") is not None}
    assert {p.rpartition("/")[2] for p in package.files if p.endswith(".obj")} <= files
    assert sum(v.find("material") is None and v.find("geometry/mesh") is not None for v in visuals) >= len(package.bare), "as the files say"
    diffuse = Counter(rounded(v.findtext("material/diffuse").split()) for v in visuals if v.findtext("material/diffuse"))
    brighter = Counter[tuple[float, ...]]()
    for (_, (*rgb, opacity)), n in package.wanted.items():
        brighter[rounded([*(min(c / 0.8, 1) for c in rgb), opacity])] += n
    assert not brighter - diffuse, "what others describe may have the same colours"
