"""Plates that parts are cut from: what they weigh and how they are drawn, by trimesh, shapely and ezdxf; screws from behind."""
from __future__ import annotations

import io
import math
from pathlib import Path

import pytest

import chassis_describe as cd
from chassis_describe.assembly.model import Assembly
from chassis_describe.assembly.weigh import weigh_part
from chassis_describe.cli.main import main
from chassis_describe.facts.build_order import build_order
from chassis_describe.facts.screws import screws_by_user
from chassis_describe.layout.part_files import read_parts
from chassis_describe.space.mass import Inertial

#: Invented: a plate with four holes for the deck and three sunk ones on a turned seat.
TRAY = """parts:
  tray:
    plate: {rectangle: [110, 70], corner: 5.25, centre: [4, -3], thickness: 4, %s}
    bolts: [[-40, -20], [40, -20], [40, 20], [-40, 20]]
    bolt_hole: 3.4
    seats:
      board: {at: [3, 1, 4], rpy: [0, 0, 30], bolts: [[-20, -10], [20, -10], [20, 10]], hole: 3.4, countersink: 6.8}
"""


def weighed(text: str) -> Inertial:
    part = read_parts("tray.yaml", text=text)[0]
    found = weigh_part(part, moves={}, mass=None, spacers=0.0, spacer_density=0.0).inertial
    assert found is not None
    return found


def test_a_plate_weighs_what_is_left_of_it() -> None:
    """By hand: rectangle less (4 - π)r² at its corners, less seven holes, less three frustums beyond their holes."""
    face = 110 * 70 - (4 - math.pi) * 5.25**2 - 7 * math.pi * 1.7**2
    cone = math.pi / 3 * 1.7 * (3.4**2 + 3.4 * 1.7 + 1.7**2) - math.pi * 1.7**2 * 1.7
    assert weighed(TRAY % "density: 1000").mass == pytest.approx((face * 4 - 3 * cone) * 1e-6, rel=1e-12)
    assert weighed(TRAY % "material: birch plywood").mass == pytest.approx((face * 4 - 3 * cone) * 680e-9, rel=1e-12)


@pytest.mark.judge
def test_the_printed_plate_by_trimesh(tmp_path: Path) -> None:
    """The STL is closed, and as heavy as the part says, about the same point, with the same inertia (chords: 50 µm)."""
    trimesh = pytest.importorskip("trimesh")
    path, out = tmp_path / "tray.yaml", tmp_path / "tray.stl"
    path.write_text(TRAY % "density: 1000", encoding="utf-8")
    assert main(["draw", str(path), "-o", str(out)]) == 0
    mesh = trimesh.load(out)
    assert mesh.is_watertight and mesh.is_winding_consistent and mesh.euler_number == 2 - 2 * 7
    mesh.apply_scale(1e-3)
    mesh.density = 1000.0
    own = weighed(TRAY % "density: 1000")
    assert mesh.mass == pytest.approx(own.mass, rel=1e-3)
    # Page-right is the part's right, page-up its front: x of the file is -y of the part.
    x, y, z = mesh.center_mass
    assert (y, -x, z) == pytest.approx(own.com, abs=5e-6)
    ixx, iyy, izz, ixy, _, _ = own.inertia
    inertia = mesh.moment_inertia
    assert (inertia[1][1], inertia[0][0], inertia[2][2]) == pytest.approx((ixx, iyy, izz), rel=1e-3)
    assert -inertia[0][1] == pytest.approx(ixy, rel=1e-2, abs=1e-9)


@pytest.mark.judge
def test_the_plate_for_a_cutter_by_ezdxf(tmp_path: Path) -> None:
    ezdxf = pytest.importorskip("ezdxf")
    path, out = tmp_path / "tray.yaml", tmp_path / "tray.dxf"
    path.write_text(TRAY % "density: 1000", encoding="utf-8")
    assert main(["draw", str(path), "-o", str(out)]) == 0
    document = ezdxf.read(io.StringIO(out.read_text(encoding="utf-8")))
    circles = {layer: sorted((round(c.dxf.center.y, 4), round(-c.dxf.center.x, 4), round(c.dxf.radius * 2, 4))
                             for c in document.modelspace().query(f'CIRCLE[layer=="{layer}"]')) for layer in ("holes", "countersinks")}
    c, s = math.cos(math.radians(30)), math.sin(math.radians(30))
    seat = [(round(3 + c * x - s * y, 4), round(1 + s * x + c * y, 4)) for x, y in ((-20, -10), (20, -10), (20, 10))]
    assert circles["holes"] == sorted([*((*p, 3.4) for p in seat), *((x, y, 3.4) for x in (-40, 40) for y in (-20, 20))])
    assert circles["countersinks"] == sorted((*p, 6.8) for p in seat)


@pytest.mark.parametrize(("material", "first"), [("material: birch plywood", "washer"), ("material: aluminium", "flange of tray")])
def test_a_washer_under_heads_on_a_soft_plate(tmp_path: Path, material: str, first: str) -> None:
    """On aluminium under plywood: washer 0.5 + plate 4 + deck 4 + nut 2.4 (ISO 7089, ISO 4032) = 10.9, 1 to 3 threads: M3 x 12."""
    (tmp_path / "tray.yaml").write_text(TRAY % material, encoding="utf-8")
    (tmp_path / "stack.yaml").write_text(ROBOT % "tapped: 6", encoding="utf-8")
    screws = screws_by_user(cd.assemble(cd.read(tmp_path / "stack.yaml")))["tray"]
    assert {s.layers[0].what for s in screws} == {first} and {s.name for s in screws} == {"M3 x 12, ISO 4762"}


ROBOT = """layout: 1
robot: stack
catalogue: [tray.yaml]
parts:
  board: {mass: 20, bodies: [{box: [60, 40, 10], at: [0, 0, 5]}], bolts: [[-20, -10], [20, -10], [20, 10]], %s}
decks:
  plate: {outline: {rectangle: [200, 140]}, thickness: 4, material: aluminium}
placements:
  tray: {part: tray, on: plate}
  board: {part: board, on: tray, lift: 5}
"""


def robot(tmp_path: Path, board: str) -> Assembly:
    (tmp_path / "tray.yaml").write_text(TRAY % "density: 1000", encoding="utf-8")
    path = tmp_path / "stack.yaml"
    path.write_text(ROBOT % board, encoding="utf-8")
    return cd.assemble(cd.read(path))


@pytest.mark.parametrize(("board", "name", "nut"), [
    # plate 4 + spacer 5 + flange 2 + nut 2.4 (ISO 4032) = 13.4, 1 to 3 threads of 0.5: 13.9 to 14.9; with two washers
    # (ISO 7089, 0.5) 14.9 to 15.9: no length; with none 16 (ISO 10642: 8 10 12 16 20 …) is too long
    ("bolt_hole: 3.2, flange: 2", None, "plain"),
    # flange 3: 14.9 to 15.9, with a washer 15.4 to 16.4: 16
    ("bolt_hole: 3.2, flange: 3", "M3 x 16, ISO 10642", "plain"),
    # tapped 6: plate 4 + spacer 5 = 9, one diameter to 0.5 from the bottom: 12 to 14.5
    ("tapped: 6", "M3 x 12, ISO 10642", None),
    # M2.5, cross-recessed: 4 + 5 = 9, from 11.5 to 14.5: 12 (ISO 7046-1)
    ("tapped: 6, screw: M2.5", "M2.5 x 12, ISO 7046-1", None),
])
def test_screws_come_from_behind_a_sunk_seat(tmp_path: Path, board: str, name: str | None, nut: str | None) -> None:
    assembly = robot(tmp_path, board)
    screws = screws_by_user(assembly)["board"]
    assert len(screws) == 3 and {s.head for s in screws} == {"seat"} and {s.nut for s in screws} == {nut}
    if name is None:
        assert screws[0].length is None and "ISO 10642" in screws[0].why
    else:
        assert {s.name for s in screws} == {name}
    # A head behind the tray is reached only before the tray is on its deck.
    order = [s.name for s in build_order(assembly)]
    assert order.index("board") < order.index("tray")
    assert not [f for f in cd.check(assembly) if f.severity == "error"]


@pytest.mark.parametrize(("words", "said"), [
    (["two.yaml", "-o", "x.stl"], "say which, --part NAME"), (["two.yaml", "--part", "trya", "-o", "x.stl"], "did you mean `tray`?"),
    (["one.yaml", "-o", "x.stl"], "`box` has no `plate`"), (["one.yaml", "-o", "x.svg", "--template"], "`box` has no `plate`"),
    (["two.yaml", "--part", "tray", "-o", "x.html"], "a html holds a whole robot"),
    (["two.yaml", "--deck", "plate", "-o", "x.stl"], "is a part file and has no decks"),
    (["stack.yaml", "--part", "tray", "-o", "x.stl"], "is a layout: --deck names a deck")])
def test_what_is_not_drawn_of_a_part_file(words: list[str], said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
                                          capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(tmp_path)
    box = "  box: {mass: 20, bodies: [{box: [60, 40, 10], at: [0, 0, 5]}]}\n"
    tray = (TRAY % "density: 1000").removeprefix("parts:\n")
    Path("one.yaml").write_text(f"parts:\n{box}", encoding="utf-8")
    Path("two.yaml").write_text(f"parts:\n{box}{tray}{tray.replace('tray', 'dish')}", encoding="utf-8")
    Path("stack.yaml").write_text(ROBOT % "tapped: 6", encoding="utf-8")
    assert main(["draw", *words]) == 2
    assert said in capsys.readouterr().err and not list(tmp_path.glob("x.*"))
