"""Meshes as inputs: which files are taken, under which names they are copied, and that a package reproduces itself.

Judge of the meshes: trimesh writes them. The signatures are those of the formats: STL (from memory), Wavefront OBJ (from memory),
COLLADA 1.4 (its root element), glTF 2.0 section 4.4.2.
"""
from __future__ import annotations

import json
import os
import socket
from pathlib import Path

import pytest

import chassis_describe as cd
from chassis_describe import compiler
from chassis_describe.cli.main import main
from chassis_describe.drawings.title_block import drawing_hash
from chassis_describe.errors import LayoutError, TargetError
from chassis_describe.inputs import MESH_BYTES, open_input
from chassis_describe.targets import package_artifacts
from tests.demos import NAMES

trimesh = pytest.importorskip("trimesh")
TOP = Path(__file__).parents[2]
TEXT = """layout: 1
robot: trial
{head}parts:
  case: {{mass: 100, bodies: [{{box: [70, 50, 30], at: [0, 0, 15]}}, {{mesh: {mesh}}}], bolts: [[-20, 0], [20, 0]]}}
decks:
  lower: {{outline: {{rectangle: [240, 160]}}, thickness: 4, material: birch plywood}}
placements:
  case: {{part: case, on: lower, at: [0, 0]}}
"""
BOX = trimesh.creation.box(extents=[0.07, 0.05, 0.03])


def mesh(kind: str) -> bytes:
    data = BOX.export(file_type=kind)
    return data.encode() if isinstance(data, str) else bytes(data)


def layout(folder: Path, name: str, data: bytes | None) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    if data is not None:
        (folder / name).write_bytes(data)
    path = folder / "trial.yaml"
    path.write_text(TEXT.format(mesh=json.dumps(name), head=""))
    return path


def missing(path: Path) -> list[str]:
    return [f.message for f in cd.check(cd.assemble(cd.read(path))) if f.code == "mesh-missing"]


COLLADA = b'<?xml version="1.0"?>\n<!-- made -->\n<COLLADA xmlns="http://www.collada.org/2005/11/COLLADASchema" version="1.4.1"/>'
GLTF = json.dumps({"asset": {"version": "2.0"}, "buffers": [{"uri": "data:application/octet-stream;base64,AA==", "byteLength": 1}]}).encode()


@pytest.mark.parametrize(("name", "data"), [
    ("a.stl", mesh("stl")), ("a.STL", mesh("stl_ascii")), ("a.obj", mesh("obj")), ("a.glb", mesh("glb")), ("a.dae", COLLADA), ("a.gltf", GLTF)])
def test_formats_that_consumers_load(name: str, data: bytes, tmp_path: Path) -> None:
    path = layout(tmp_path, name, data)
    assert not missing(path)
    files = {a.path: a.data for a in package_artifacts(cd.assemble(cd.read(path)))}
    assert files[f"meshes/part_a{Path(name).suffix.lower()}"] == data


@pytest.mark.parametrize(("name", "data", "says"), [
    ("secret", b"root:x:0:0", "not named as a mesh"), ("/etc/hostname", None, "not named as a mesh"), ("a.ply", mesh("ply"), "not named as a mesh"),
    ("a.stl", b"root:x:0:0\n", "no STL"), ("a.stl", mesh("stl")[:-1], "no STL"), ("a.stl", b"solid a\nendsolid a\n", "no facets"),
    ("a.obj", b"PASSWORD=1\nv 0 0 0\nf 1 1 1\n", "no OBJ"), ("a.obj", b"# nothing\n", "no OBJ"), ("a.glb", mesh("glb") + b"x", "no glTF"),
    ("a.dae", b"<html>", "no COLLADA"), ("a.dae", b'<!DOCTYPE x [<!ENTITY a "b">]><COLLADA/>', "no COLLADA"),
    ("a.gltf", GLTF.replace(b"data:application", b"other.bin?"), "other files"), ("a.gltf", b"[" * 100_000, "no glTF"),
    ("a.st'l\"", b"", "not named as a mesh"), ('a."\n', b"", "not named as a mesh"), ("https://example.org/a.stl", None, "not named as a mesh"),
    ("none.stl", None, "is not there")])
def test_everything_else_stays_out_of_the_package(name: str, data: bytes | None, says: str, tmp_path: Path) -> None:
    path = layout(tmp_path, name, data)
    found = missing(path)
    assert len(found) == 1
    assert says in found[0].replace("OBJ", "OBJ")
    assert "\n" not in found[0]
    with pytest.raises(TargetError):
        package_artifacts(cd.assemble(cd.read(path)))


def pipe(path: Path) -> None:
    os.mkfifo(path)


def folder(path: Path) -> None:
    path.mkdir()


def device(path: Path) -> None:
    path.symlink_to("/dev/zero")


def listening(path: Path) -> None:
    with socket.socket(socket.AF_UNIX) as unix:
        unix.bind(os.path.relpath(path))


def huge(path: Path) -> None:
    with path.open("wb") as file:
        file.truncate(MESH_BYTES + 1)


@pytest.mark.parametrize(("make", "says"), [(pipe, "a pipe"), (folder, "is a folder"), (device, "a device"), (listening, "a socket"),
                                            (huge, "larger than 64 MiB")])
def test_only_regular_files_are_opened(make: object, says: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As a mesh, as a part file, as an overlay, as the layout itself; a pipe that nobody writes to must not be waited for."""
    monkeypatch.chdir(tmp_path)
    assert callable(make)
    for name in ("a.stl", "parts.yaml"):
        make(tmp_path / name)
    path = layout(tmp_path, "a.stl", None)
    assert [says in m for m in missing(path)] == [True]
    text = TEXT.format(mesh="b.stl", head="catalogue: [parts.yaml]\n")
    with pytest.raises(LayoutError, match=says if says != "larger than 64 MiB" else "larger than 4 MiB"):
        compiler.read(path, text=text)
    for other in (["check", str(path), "--with", "parts.yaml"], ["check", "parts.yaml"], ["parts", "parts.yaml"]):
        assert main(other) == 2


def test_an_input_that_grows_while_it_is_read(tmp_path: Path) -> None:
    file = tmp_path / "a.yaml"
    file.write_bytes(b"x" * 11)
    with pytest.raises(OSError, match="larger"):
        open_input(str(file), most=10)
    assert open_input(str(file), most=11) == b"x" * 11


def test_a_mesh_is_asked_of_the_opener_not_of_the_disk(tmp_path: Path) -> None:
    files = {"lib/p.yaml": b"parts:\n  c: {bodies: [{box: [70, 50, 30]}, {mesh: ../a.stl}]}\n", "a.stl": mesh("stl")}
    text = TEXT.format(mesh="b.stl", head="catalogue: [lib/p.yaml]\n").replace("part: case", "part: c")
    read = compiler.read("t.yaml", text=text, opener=lambda path: files[path])
    assert {p: m.data for p, m in read.meshes.items()} == {"a.stl": mesh("stl")}


# ------------------------------------------------------------------------------------- a package compiled from its own copies
def compiled(path: Path, overlays: list[Path] | None = None) -> dict[str, bytes]:
    return {a.path: a.data for a in package_artifacts(compiler.assemble(compiler.read(path, overlays=overlays or [])))}


def unpacked(files: dict[str, bytes], folder: Path) -> Path:
    for name, data in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
    return folder


@pytest.mark.parametrize("demo", NAMES)
def test_a_demo_reproduces_itself_from_its_own_copy(demo: str, tmp_path: Path) -> None:
    first = compiled(TOP / "config" / f"{demo}.yaml")
    assert compiled(unpacked(first, tmp_path) / "layout" / f"{demo}.yaml") == first


@pytest.mark.parametrize("names", [["case.stl"], ["part_case.stl"], ["Part Case.STL"], ["Ä.stl"], ["part_.stl"], ["case.stl", "sub/case.stl"],
                                   ["case_2.stl", "case.stl", "sub/case.stl", "sub/Case.obj"], ["lower.stl", "part_lower.stl"],
                                   ["it's #1: [a], {b}.stl"], ["../stl/case.stl", "stl/case.stl"]])
def test_a_layout_with_meshes_reproduces_itself(names: list[str], tmp_path: Path) -> None:
    home = tmp_path / "home" / "robot"
    (home / "club").mkdir(parents=True)
    bodies = "".join(f"      - {{mesh: {json.dumps(name, ensure_ascii=False)}}}  # drawn\n" for name in names)
    for number, name in enumerate(names):
        for base in (home, home / "club"):
            (base / name).parent.mkdir(parents=True, exist_ok=True)
            (base / name).write_bytes(mesh("obj" if name.endswith("obj") else "stl") if number % 2 else mesh("obj" if name.endswith("obj")
                                                                                                       else "stl_ascii"))
    part = f"    mass: 100\n    bodies:\n      - {{box: [70, 50, 30], at: [0, 0, 15]}}\n{bodies}    bolts: [[-20, 0], [20, 0]]\n"
    (home / "club" / "p.yaml").write_text(f"parts:\n  lamp:\n{part}", newline="\n")
    (home / "trial.yaml").write_text(
        f"layout: 1\nrobot: trial\ncatalogue: [club/p.yaml, '../robot/q.yaml']\nparts:\n  case:\n{part}decks:\n"
        "  lower: {outline: {rectangle: [240, 160]}, thickness: 4, material: birch plywood}\nplacements:\n"
        "  case: {part: case, on: lower, at: [-3, 0]}\n  lamp: {part: lamp, on: lower, at: [2, 0]}\n", newline="\n")
    (home / "q.yaml").write_text("parts: {unused: {mass: 1, bodies: [{box: [9, 9, 9]}]}}\n")
    (home / "over.yaml").write_text("placements: {case: {note: laid over}}\n")
    first = compiled(home / "trial.yaml", [home / "over.yaml"])
    files = {(base / name).resolve() for name in names for base in (home, home / "club")}
    assert len([name for name in first if name.startswith("meshes/part")]) == len(files)
    assert all(name.isascii() and name == name.replace(" ", "").lower() for name in first if name.startswith("meshes/"))
    there = unpacked(first, tmp_path / "package") / "layout"
    again = compiled(there / "trial.yaml", [there / "over.yaml"])
    assert sorted(again) == sorted(first)
    assert [name for name in first if first[name] != again[name]] == []
    sheets = [drawing_hash(compiler.assemble(compiler.read(here / "trial.yaml", overlays=[here / "over.yaml"]))) for here in (home, there)]
    assert sheets[0] == sheets[1]  # it stands on every page of docs/sheet.svg


def test_a_mesh_with_simplified_holes_says_so() -> None:
    """A hole of 3.5 mm has 16 corners (5e-5 m from the circle: pi / acos(1 - 0.05 / 1.75) = 13.1), up to 5000 of them."""
    from chassis_describe.targets import warnings

    def decks(pitch: int) -> cd.Assembly:
        return cd.assemble(cd.read("fine.yaml", text=f"layout: 1\nrobot: fine\nlattice: {{pitch: {pitch}, hole: 3.5, screw: M3}}\ndecks:\n"
                                   "  lower: {outline: {rectangle: [800, 800]}, thickness: 4, density: 700}\n"))

    (said,) = warnings(decks(10))
    assert said.startswith("meshes/lower.stl draws each of the 6241 holes of deck lower with 12 corners")  # 79 a row
    assert warnings(decks(20)) == ()
