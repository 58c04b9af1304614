"""The glTF file by trimesh: nodes are links, their transforms are the frames, the geometry is the model's."""
from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest

import chassis_describe as cd
from chassis_describe.drawings.table import Wish, drawing
from chassis_describe.errors import UsageError
from chassis_describe.space.solids import Hull, Solid
from tests.demos import NAMES

CONFIG = Path(__file__).resolve().parents[2] / "config"
trimesh = pytest.importorskip("trimesh")
#: REP-103's z up to glTF's y up (glTF 2.0, 3.4): x stays, z becomes y.
Y_UP = np.array([[1, 0, 0], [0, 0, 1], [0, -1, 0]])


def volume(solid: Solid) -> float:
    """m³; of a hull by the divergence theorem over its faces: as a Box it has the volume of the box around it."""
    if not isinstance(solid, Hull):
        return solid.volume
    faces = np.array(solid.points)[np.array(solid.faces)]
    return float(np.einsum("ij,ij->", faces[:, 0], np.cross(faces[:, 1], faces[:, 2]))) / 6


@pytest.mark.judge
@pytest.mark.parametrize("name", NAMES)
def test_nodes_are_links_in_their_frames(name: str) -> None:
    assembly = cd.assemble(cd.read(CONFIG / f"{name}.yaml"))
    data = drawing(assembly, "glb", Wish())
    assert data == drawing(assembly, "glb", Wish())
    scene = trimesh.load(io.BytesIO(data), file_type="glb")
    root = assembly.poses[assembly.root].inverse()
    assert {link.name for link in assembly.links} <= set(scene.graph.nodes)
    for link in assembly.links:
        matrix, _ = scene.graph.get(link.name)
        pose = root @ assembly.poses[link.name]
        assert matrix[:3, 3] == pytest.approx(Y_UP @ np.array(pose.t), abs=1e-6)
        assert matrix[:3, :3] == pytest.approx(Y_UP @ np.array(pose.r).reshape(3, 3), abs=1e-6)
    wanted = sum(volume(b.solid) for link in assembly.links for b in link.bodies if b.visible)
    wanted += sum(d.plate.volume for d in assembly.decks.values())
    assert sum(g.volume for g in scene.geometry.values()) == pytest.approx(wanted, rel=0.01)  # 48 chords a circle


def test_a_glb_is_the_whole_robot() -> None:
    assembly = cd.assemble(cd.read(CONFIG / "seedling_cart.yaml"))
    with pytest.raises(UsageError):
        drawing(assembly, "glb", Wish(deck="plate"))
