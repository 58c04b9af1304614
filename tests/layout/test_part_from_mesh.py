"""A part file begun from a mesh: its bolts, box and mass against the numbers that the mesh was made of, and against trimesh."""
from __future__ import annotations

import math
import random
from pathlib import Path
from typing import Any

import pytest

from chassis_describe.assembly.attitude import rotation_of
from chassis_describe.cli.main import main
from chassis_describe.layout.part_files import read_parts

Vec2 = tuple[float, float]
#: The contract of the finder: a bolt is where it is to 0.05 mm.
CLOSE = 0.05e-3


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def plate_with_holes(sides: Vec2, height: float, holes: list[tuple[float, float, float]], *, slots: Any = (), corners: int = 32) -> Any:
    """A plate of these sides (mm) on z = 0 about its middle, holes (x, y, diameter), slots (x, y, length, width, degrees): a trimesh."""
    trimesh = pytest.importorskip("trimesh")
    from shapely.affinity import rotate
    from shapely.geometry import LineString, Polygon, box

    flat = box(-sides[0] / 2, -sides[1] / 2, sides[0] / 2, sides[1] / 2)
    for x, y, d in holes:
        flat = flat.difference(Polygon([(x + d / 2 * math.cos(2 * math.pi * k / corners), y + d / 2 * math.sin(2 * math.pi * k / corners))
                                        for k in range(corners)]))
    for x, y, length, width, turn in slots:
        half = (length - width) / 2
        flat = flat.difference(rotate(LineString([(x - half, y), (x + half, y)]).buffer(width / 2), turn))
    return trimesh.creation.extrude_polygon(flat, height)


def _axis(name: str) -> list[float]:
    return [(-1.0 if name[0] == "-" else 1.0) if axis == name[-1] else 0.0 for axis in "xyz"]


def part_of(name: str) -> Any:
    part = next(p for p in read_parts(f"{name}.yaml") if p.name == name)
    (body,), (mesh,) = part.bodies, part.meshes
    return part, body, mesh


# ---------------------------------------------------------------------------------------------------- generated brackets
@pytest.mark.parametrize("seed", range(6))
@pytest.mark.every_case
def test_bolt_circles_of_generated_brackets(here: Path, seed: int) -> None:
    """A random pattern somewhere in a file's own axes, drawn in some unit, on one of its six sides."""
    r = random.Random(seed)
    columns, rows = r.randint(1, 3), r.randint(1, 3)
    gap = r.uniform(11, 25), r.uniform(11, 25)
    d = r.choice((2.2, 3.2, 3.4, 4.5, 5.5))
    at = [(gap[0] * (i - (columns - 1) / 2), gap[1] * (j - (rows - 1) / 2)) for i in range(columns) for j in range(rows)]
    away = r.uniform(-4, 4), r.uniform(-4, 4)
    sides = gap[0] * columns + 20, gap[1] * rows + 20
    mesh = plate_with_holes(sides, r.uniform(2, 30), [(x + away[0], y + away[1], d) for x, y in at],
                            corners=r.choice((8, 12, 17, 24, 64)))
    size, volume = mesh.extents.copy(), mesh.volume
    up, front = r.choice((("z", "x"), ("y", "x"), ("-z", "x"), ("x", "z"), ("-y", "-x")))
    z, x = _axis(up), _axis(front)
    y = [z[1] * x[2] - z[2] * x[1], z[2] * x[0] - z[0] * x[2], z[0] * x[1] - z[1] * x[0]]
    into = [[*row, 0.0] for row in zip(x, y, z)] + [[0.0, 0.0, 0.0, 1.0]]  # from the part's axes to the file's
    unit, factor = r.choice((("mm", 1.0), ("m", 1e-3), ("in", 1 / 25.4), ("cm", 0.1)))
    mesh.apply_transform(into)
    mesh.apply_scale(factor)
    mesh.apply_translation([r.uniform(-300, 300) * factor for _ in range(3)])
    mesh.export(here / "bracket.stl")
    assert main(["new", "ear", "--part", "bracket.stl", "--unit", unit, "--up", up, "--front", front, "--material", "steel"]) == 0
    part, body, seen = part_of("ear")
    assert len(part.bolts) == len(at)
    for x, y in at:
        assert min(math.dist((x / 1e3, y / 1e3), bolt) for bolt in part.bolts) < CLOSE
    assert part.bolt_hole == pytest.approx(d / 1e3, abs=CLOSE)
    assert body.form.size == pytest.approx([v / 1e3 for v in size], abs=1e-5)
    assert part.flange == pytest.approx(size[2] / 1e3, abs=1e-5)
    assert part.mass == pytest.approx(volume * 1e-9 * 7850.0, rel=1e-3, abs=1e-5)
    # The mesh as URDF readers will place it fills the box.
    rows = rotation_of(seen.attitude)
    points = [[sum(rows[3 * a + b] * v[b] for b in range(3)) * seen.scale[0] + seen.at[a] for a in range(3)] for v in mesh.vertices]
    for a in range(3):
        assert min(p[a] for p in points) == pytest.approx(body.at[a] - body.form.size[a] / 2, abs=2e-5)
        assert max(p[a] for p in points) == pytest.approx(body.at[a] + body.form.size[a] / 2, abs=2e-5)


def test_a_slot_counts_among_the_bolts_and_other_openings_are_told(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    mesh = plate_with_holes((70, 50), 4, [(-25, 15, 3.4), (25, 15, 3.4), (0, 0, 18), (30, -20, 2.1)], slots=[(0, -18, 20, 3.4, 30)])
    mesh.export(here / "ear.obj")
    assert main(["new", "ear", "--part", "ear.obj", "--mass", "43 g"]) == 0
    assert "2 holes and 1 slot, 3.4 mm wide: M3 passes (ISO 273)" in capsys.readouterr().out
    part, _, _ = part_of("ear")
    slot = part.bolt_slots[1]
    assert (slot.length, slot.width) == (pytest.approx(20e-3, abs=CLOSE), pytest.approx(3.4e-3, abs=CLOSE))
    assert math.degrees(slot.turn) == pytest.approx(30, abs=0.05)
    text = (here / "ear.yaml").read_text()
    # The middle of the pattern is at y = (15 - 18) / 2.
    assert "hole 18 mm at [0, 1.5]" in text
    assert "hole 2.1 mm at [30, -18.5]" in text
    assert part.mass == 0.043


@pytest.mark.parametrize("many", [3, 5])
def test_the_origin_is_the_middle_of_a_bolt_circle(here: Path, many: int) -> None:
    """A flange with an odd number of holes: the middle of their box is off its axis, by 4 mm of three holes on a radius of 16."""
    ring = [(7 + 16 * math.cos(math.tau * k / many), -4 + 16 * math.sin(math.tau * k / many)) for k in range(many)]
    plate_with_holes((60, 60), 4, [*((x, y, 3.4) for x, y in ring), (7, -4, 8)], corners=17).export(here / "flange.stl")
    assert main(["new", "flange", "--part", "flange.stl", "--mass", "20"]) == 0
    part, body, _ = part_of("flange")
    assert [math.hypot(*bolt) for bolt in part.bolts] == pytest.approx([0.016] * many, abs=CLOSE)
    assert body.at[:2] == pytest.approx((-0.007, 0.004), abs=CLOSE)


def test_threads_pockets_and_countersinks(here: Path) -> None:
    """Holes that end inside become threads of the least depth; a cone that opens downwards is no clearance hole."""
    trimesh = pytest.importorskip("trimesh")
    lower = plate_with_holes((60, 30), 6, [(-20, 0, 2.5), (20, 0, 2.5)])
    trimesh.util.concatenate([lower, _lid(60, 30, 6, 9)]).export(here / "block.stl")
    assert main(["new", "block", "--part", "block.stl", "--mass", "20"]) == 0
    part, _, _ = part_of("block")
    assert (part.tapped, len(part.bolts)) == (pytest.approx(6e-3, abs=1e-6), 2)
    pocket = plate_with_holes((60, 30), 3, [(-20, 0, 6.35), (20, 0, 6.35)], corners=6)
    pocket.export(here / "pocket.stl")
    assert main(["new", "pocket", "--part", "pocket.stl", "--mass", "20"]) == 0
    assert (here / "pocket.yaml").read_text().count("6 corners: a coarse circle, or a nut's pocket") == 2


def _lid(x: float, y: float, z0: float, z1: float) -> Any:
    trimesh = pytest.importorskip("trimesh")
    box = trimesh.creation.box([x, y, z1 - z0])
    box.apply_translation([0, 0, (z0 + z1) / 2])
    return box


def test_a_begun_part_goes_on_a_robot(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plate_with_holes((52, 52), 3, [(x, y, 3.4) for x in (-20, 20) for y in (-20, 20)]).export(here / "ear.stl")
    assert main(["new", "ear", "--part", "ear.stl", "--material", "aluminum"]) == 0
    assert main(["parts", "ear.yaml"]) == 0
    out = capsys.readouterr().out
    assert "warning" not in out and "error" not in out
    main(["new", "hall_sweeper"])
    text = (here / "hall_sweeper.yaml").read_text()
    text = text.replace("placements:\n", "catalogue: [ear.yaml]\n\nplacements:\n  ear: {part: ear, on: lower, at: [3, 0]}\n")
    (here / "hall_sweeper.yaml").write_text("\n".join(line for line in text.splitlines() if not line.startswith("  lidar:")) + "\n")
    capsys.readouterr()
    assert main(["check", "hall_sweeper.yaml", "--strict"]) == 0, capsys.readouterr().out
    assert main(["compile", "hall_sweeper.yaml", "-o", "out"]) == 0
    assert any(p.suffix == ".stl" for p in (here / "out" / "meshes").iterdir())


# ----------------------------------------------------------------------------------------------------- without a library
def box_stl(x: float, y: float, z: float, *, leave_out: int = 0) -> bytes:
    """An ASCII STL of a box of these sides in the first octant, facets outwards; the last ``leave_out`` are missing."""
    c = [(a * x, b * y, h * z) for h in (0, 1) for b in (0, 1) for a in (0, 1)]
    quads = [(0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5)]
    facets = [t for q in quads for t in ((q[0], q[1], q[2]), (q[0], q[2], q[3]))]
    facets = facets[:len(facets) - leave_out]
    body = "".join("facet normal 0 0 0\nouter loop\n" + "".join("vertex {} {} {}\n".format(*c[k]) for k in t) + "endloop\nendfacet\n"
                   for t in facets)
    return f"solid box\n{body}endsolid box\n".encode()


def test_a_mesh_without_holes(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """40 x 20 x 10 mm of birch plywood (680 kg/m³): 8 cm³, 5.44 g, its centre in its middle."""
    (here / "block.stl").write_bytes(box_stl(40, 20, 10))
    assert main(["new", "block", "--part", "block.stl", "--material", "birch plywood"]) == 0
    assert "none: no round hole" in capsys.readouterr().out
    part, body, mesh = part_of("block")
    assert part.mass == pytest.approx(5.44e-3)
    assert part.com == pytest.approx((0, 0, 5e-3), abs=1e-9)
    assert (body.form.size, body.at) == (pytest.approx((0.04, 0.02, 0.01)), pytest.approx((0, 0, 0.005)))
    assert (mesh.at, mesh.scale) == (pytest.approx((-0.02, -0.01, 0)), (1e-3,) * 3)


def test_metres_are_guessed_and_said(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (here / "block.stl").write_bytes(box_stl(0.4, 0.2, 0.1))
    assert main(["new", "block", "--part", "block.stl", "--mass", "0.3 kg"]) == 0
    assert "400 x 200 x 100 mm, its unit taken to be m: is that so?" in capsys.readouterr().out


def test_a_mesh_from_another_folder_is_copied_beside(here: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    other = tmp_path_factory.mktemp("other") / "drawn.stl"
    other.write_bytes(box_stl(40, 20, 10))
    assert main(["new", "block", "--part", str(other)]) == 0
    assert (here / "block.stl").read_bytes() == other.read_bytes()
    assert "# mass: 0  # measure" in (here / "block.yaml").read_text()
    (here / "block.yaml").unlink()
    (here / "block.stl").write_bytes(b"mine")
    assert main(["new", "block", "--part", str(other)]) == 2
    assert (here / "block.stl").read_bytes() == b"mine"
    assert not (here / "block.yaml").exists()


@pytest.mark.parametrize(("arguments", "data", "said"), [
    (["--material", "PLA"], box_stl(40, 20, 10, leave_out=1), "3 open edges"),
    (["--material", "plu"], box_stl(40, 20, 10), "no material that is known here; did you mean PLA?"),
    (["--unit", "m"], box_stl(40, 20, 10), "no part is; say --unit mm or cm or in"),
    (["--up", "x", "--front", "-x"], box_stl(40, 20, 10), "along one axis"),
    (["--mass", "2", "--material", "PLA"], box_stl(40, 20, 10), "not allowed with"),
    (["--mass", "-2"], box_stl(40, 20, 10), "not what a part weighs"),
    (["--mass", "1 m"], box_stl(40, 20, 10), "mass"),
    (["--up", "w"], box_stl(40, 20, 10), "no axis"),
    ([], b"solid nothing\nendsolid\n", "no STL file: it has no facets"),
    ([], b"\x00" * 200, "no STL file"),
    ([], box_stl(0, 0, 0), "mm long"),
    ([], box_stl(40, 20, 10).replace(b"vertex 40", b"vertex nan"), "no numbers"),
], ids=["open", "material", "unit", "axes", "two masses", "no mass", "unit of mass", "axis", "empty", "junk", "nothing", "nan"])
def test_what_is_refused(here: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], data: bytes, said: str) -> None:
    (here / "block.stl").write_bytes(data)
    try:
        code = main(["new", "block", "--part", "block.stl", *arguments])
    except SystemExit as error:
        code = int(error.code or 0)
    assert code == 2
    assert said in capsys.readouterr().err
    assert not (here / "block.yaml").exists()


@pytest.mark.parametrize(("arguments", "said"), [
    (["block", "--part", "missing.stl"], "can't be read"), (["block", "--part", "block.dae"], "STL or OBJ"),
    (["Block", "--part", "block.stl"], "write `block`"), (["block", "--up", "z"], "--up says something of a mesh"),
], ids=["missing", "format", "name", "no mesh"])
def test_what_is_refused_before_it_is_read(here: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], said: str) -> None:
    (here / "block.stl").write_bytes(box_stl(40, 20, 10))
    assert main(["new", *arguments]) == 2
    assert said in capsys.readouterr().err


def test_nothing_is_overwritten(here: Path) -> None:
    (here / "block.stl").write_bytes(box_stl(40, 20, 10))
    (here / "block.yaml").write_text("mine")
    assert main(["new", "block", "--part", "block.stl"]) == 2
    assert (here / "block.yaml").read_text() == "mine"
