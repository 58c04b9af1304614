"""The world to simulate in as an input: which files are taken, and that a package that holds one reproduces itself.

The forms are told by the root element: SDF (sdformat.org, specification 1.11: `<sdf>`), MJCF (MuJoCo's XML reference: `<mujoco>`).
"""
from __future__ import annotations

from pathlib import Path

import pytest

import chassis_describe as cd
from chassis_describe.compiler import files_read
from chassis_describe.targets import package_artifacts

TEXT = """layout: 1
robot: trial
decks:
  lower: {outline: {rectangle: [240, 160]}, thickness: 4, material: birch plywood}
simulation: {world: WORLD}
"""
SDF = b'\xef\xbb\xbf<?xml version="1.0" ?>\n<!-- <mujoco> is not it -->\n<sdf version="1.9"><world name="hall"/></sdf>\n'


def layout(folder: Path, name: str, data: bytes | None) -> Path:
    if data is not None:
        (folder / name).write_bytes(data)
    (folder / "trial.yaml").write_text(TEXT.replace("WORLD", name))
    return folder / "trial.yaml"


@pytest.mark.parametrize(("name", "data", "form"), [("hall.sdf", SDF, "sdf"), ("hall.world", SDF, "sdf"), ("hall.xml", b"<mujoco/>", "mjcf")])
def test_worlds_that_are_taken(name: str, data: bytes, form: str, tmp_path: Path) -> None:
    assembly = cd.assemble(cd.read(layout(tmp_path, name, data)))
    world = assembly.layout.world
    assert world is not None
    assert (world.form, world.data) == (form, data)
    assert str(tmp_path / name) in files_read(assembly)
    assert not [f for f in cd.check(assembly) if f.code == "world-missing"]


@pytest.mark.parametrize(("name", "data", "says"), [
    ("passwords", b"root:x:0:0", "not named as a world"), ("hall.sdf", None, "is not there"), ("hall.sdf", b"<robot name='r'/>", "neither SDF nor"),
    ("hall.sdf", b'<!DOCTYPE x [<!ENTITY a "b">]><sdf/>', "neither SDF nor")])
def test_everything_else_stays_out(name: str, data: bytes | None, says: str, tmp_path: Path) -> None:
    assembly = cd.assemble(cd.read(layout(tmp_path, name, data)))
    (found,) = [f for f in cd.check(assembly) if f.code == "world-missing"]
    assert says in found.message
    assert found.where[0].line == 5


def test_a_package_with_a_world_reproduces_itself(tmp_path: Path) -> None:
    (tmp_path / "worlds").mkdir()
    (tmp_path / "worlds" / "hall.sdf").write_bytes(SDF)
    (tmp_path / "trial.yaml").write_text(TEXT.replace("WORLD", "worlds/hall.sdf"))
    first = package_artifacts(cd.assemble(cd.read(tmp_path / "trial.yaml")))
    for file in first:
        (tmp_path / "again" / file.path).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "again" / file.path).write_bytes(file.data)
    files = {file.path: file.data for file in first}
    assert files["layout/hall.sdf"] == SDF
    assert b"world: hall.sdf}" in files["layout/trial.yaml"]
    assert package_artifacts(cd.assemble(cd.read(tmp_path / "again" / "layout" / "trial.yaml"))) == first
