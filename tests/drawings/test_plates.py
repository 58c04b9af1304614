"""Plates to be cut: DXF by two readers, STL by trimesh, templates as they come out of a renderer."""
from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

import chassis_describe as cd
from chassis_describe.assembly.model import Assembly
from chassis_describe.drawings.table import Wish, drawing
from tests.drawings.reading import of_class, rings, root_of

CONFIG = Path(__file__).resolve().parents[2] / "config"
ezdxf = pytest.importorskip("ezdxf")
trimesh = pytest.importorskip("trimesh")
pdfium = pytest.importorskip("pypdfium2")
pytest.importorskip("reportlab")
#: Cutouts that cross one another, the outline and a drilled hole at the edge; a slot; a hole off the lattice (invented).
HARD = """layout: 1
robot: hard
decks:
  plate:
    outline: {rectangle: [200, 140], corner: 15}
    thickness: 4
    density: 1200
    cutouts: [{circle: 40, centre: [100, 0]}, {rectangle: [30, 20], corner: 4, centre: [-20, 10]}, {circle: 16, centre: [-5, 10]}]
    drilled: [{at: [33, 12], hole: 4.5}, {at: [-70, 40], slot: [16, 4], turn: 30}, {at: [-100, -30], hole: 8}]
  round: {outline: {circle: 150}, thickness: 3, density: 1200, above: plate, standoffs: [{length: 40, holes: [[2, 2], [2, -2], [-2, -2]]}]}
"""


@pytest.fixture(scope="module")
def hard() -> Assembly:
    return cd.assemble(cd.read("hard.yaml", text=HARD))


def dxf(assembly: Assembly, deck: str, tmp_path: Path, under: bool = False) -> Path:
    path = tmp_path / f"{deck}.dxf"
    path.write_bytes(drawing(assembly, "dxf", Wish(deck=deck, under=under)))
    return path


@pytest.mark.judge
@pytest.mark.parametrize("deck", ["plate", "round"])
def test_dxf_by_ezdxf(hard: Assembly, deck: str, tmp_path: Path) -> None:
    from shapely.geometry import Polygon

    document = ezdxf.readfile(dxf(hard, deck, tmp_path))
    assert not document.audit().has_errors
    assert document.header["$INSUNITS"] == 4  # millimetres
    space = document.modelspace()
    plate = hard.decks[deck].plate
    circles = sorted((round(c.dxf.center.y, 6), round(-c.dxf.center.x, 6), round(c.dxf.radius * 2, 6)) for c in space.query("CIRCLE"))
    crossing = [(-100.0, -30.0, 8.0)] if deck == "plate" else []  # cut by the edge: part of the outline
    holes = sorted((round(x * 1e3, 6), round(y * 1e3, 6), round(d * 1e3, 6)) for x, y, d in plate.holes)
    assert circles == [h for h in holes if h not in crossing]
    contours = space.query("LWPOLYLINE")
    assert all(c.closed for c in contours)
    assert {e.dxf.layer for e in space} <= {"outline", "cutouts", "holes", "marks"}
    assert {e.dxftype() for e in space.query('*[layer=="marks"]')} == {"LINE"}
    areas = {"outline": 0.0, "cutouts": 0.0, "holes": 0.0}
    for contour in contours:
        flat = Polygon(corners(contour))
        assert flat.is_valid
        areas[contour.dxf.layer] += flat.area
    rest = areas["outline"] - areas["cutouts"] - areas["holes"] - sum(np.pi * d * d / 4 for _, _, d in circles)
    assert rest == pytest.approx(plate.area * 1e6, rel=2e-5)


def test_dxf_has_nothing_in_the_order_of_a_set(hard: Assembly, tmp_path: Path) -> None:
    """Which is another in every process: ezdxf finds by a set that two more classes are in use, and adds them then."""
    names = re.findall(r"^CLASS\n +1\n(\w+)", dxf(hard, "round", tmp_path).read_text(), re.MULTILINE)
    assert len(names) > 10
    assert names[:2] == ["ACDBPLACEHOLDER", "LAYOUT"]


def corners(contour: object) -> list[tuple[float, float]]:
    """A polyline with its arcs as chords, off by 1 nm at most, as ezdxf takes it apart."""
    out: list[tuple[float, float]] = []
    for entity in contour.virtual_entities():  # type: ignore[attr-defined]
        points = [(v.x, v.y) for v in (entity.flattening(1e-6) if entity.dxftype() == "ARC" else (entity.dxf.start, entity.dxf.end))]
        if out and np.hypot(*np.subtract(points[0], out[-1])) > np.hypot(*np.subtract(points[-1], out[-1])):
            points.reverse()  # arcs of a DXF run counter-clockwise, whatever way the polyline goes
        elif not out and entity.dxftype() == "ARC" and contour[0][4] < 0:  # type: ignore[index]
            points.reverse()
        out += points[1:] if out else points  # neighbours share their ends
    return out


@pytest.mark.judge
@pytest.mark.parametrize("under", [False, True])
def test_dxf_by_trimesh(hard: Assembly, under: bool, tmp_path: Path) -> None:
    """The second reader closes the outlines by itself and sums the area; crosses are no outlines."""
    read = trimesh.load(dxf(hard, "plate", tmp_path, under))
    closed = list(read.polygons_full)
    assert sum(p.area for p in closed) == pytest.approx(hard.decks["plate"].plate.area * 1e6, rel=1e-3)
    # Front (the notch of the cutout at x = 100) is up; the drilled notch at y = -30 is on the right, under: on the left.
    big = max(closed, key=lambda p: p.area)
    from shapely.geometry import Point

    assert not big.contains(Point(1, 95)) and big.contains(Point(51, 5))
    assert not big.contains(Point(-30 if under else 30, -99))
    assert big.contains(Point(30 if under else -30, -99))


@pytest.mark.judge
def test_stl_is_a_watertight_solid_in_millimetres(hard: Assembly) -> None:
    import io

    for under in (False, True):
        mesh = trimesh.load(io.BytesIO(drawing(hard, "stl", Wish(deck="plate", under=under))), file_type="stl")
        assert mesh.is_watertight and mesh.is_winding_consistent
        assert mesh.volume == pytest.approx(hard.decks["plate"].plate.volume * 1e9, rel=2e-3)
        assert mesh.bounds == pytest.approx(np.array([[-70, -100, 0], [70, 100, 4]]), abs=0.02)


def test_template_svg_is_the_bare_plate_at_full_size(hard: Assembly) -> None:
    data = drawing(hard, "svg", Wish(deck="plate", template=True))
    root = root_of(data)
    assert root.get("width").endswith("mm") and root.get("viewBox") == f"0 0 {root.get('width')[:-2]} {root.get('height')[:-2]}"
    assert not list(root.iter("{http://www.w3.org/2000/svg}text"))
    outline = next(rings(of_class(root, "outline")[1].get("d")))
    xs, ys = zip(*outline)
    assert max(xs) - min(xs) == pytest.approx(140, abs=1e-3)
    assert max(ys) - min(ys) == pytest.approx(200, abs=0.1)  # notched at the front
    assert len(of_class(root, "hole")) == len(hard.decks["plate"].plate.holes) - 1


def ink(page: object, scale: float) -> np.ndarray:
    return np.asarray(page.render(scale=scale).to_numpy())[..., :3].min(axis=2) < 128  # type: ignore[attr-defined]


@pytest.mark.judge
@pytest.mark.parametrize(("paper", "size"), [("a4", (210.0, 297.0)), ("a3", (297.0, 420.0)), ("letter", (215.9, 279.4))])
def test_template_pdf_as_rendered(paper: str, size: tuple[float, float]) -> None:
    """PDFium's picture: page size (ISO 216; ANSI A) and both rulers to 0.1 mm, at 20 dots a millimetre."""
    assembly = cd.assemble(cd.read(CONFIG / "prop_barrow.yaml"))
    document = pdfium.PdfDocument(drawing(assembly, "pdf", Wish(deck="lower", template=True, paper=paper)))
    dots = 20.0
    for page in document:
        assert sorted(v * 25.4 / 72 for v in page.get_size()) == pytest.approx(sorted(size), abs=0.1)
    dark = ink(document[0], dots * 25.4 / 72)
    # The ruler at the left margin: the longest run of ink in a column there; the other: the longest run in a row.
    column = max((longest(dark[:, x]) for x in range(int(3 * dots), int(7.5 * dots))), key=lambda run: run[1])
    assert column[1] / dots == pytest.approx(100, abs=0.3)  # with the width of its end strokes
    low = dark.shape[0] - int(25 * dots)
    row = max((longest(dark[y, : int(120 * dots)]) for y in range(low, dark.shape[0])), key=lambda run: run[1])
    assert row[1] / dots == pytest.approx(100, abs=0.3)
    # Between the middles of the end strokes, which are 0.2 mm wide.
    assert (row[1] / dots) - 0.2 == pytest.approx(100, abs=0.1)
    assert (column[1] / dots) - 0.2 == pytest.approx(100, abs=0.1)


def longest(line: np.ndarray) -> tuple[int, int]:
    """Start and length of the longest run of ink."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], line.astype(np.int8), [0]])))
    if not len(edges):
        return 0, 0
    starts, ends = edges[::2], edges[1::2]
    k = int(np.argmax(ends - starts))
    return int(starts[k]), int(ends[k] - starts[k])


@pytest.mark.judge
def test_template_pages_hold_every_hole_once_or_in_the_overlap() -> None:
    """Crosses at holes, found in the vector data of each page: together every hole of the plate."""
    from chassis_describe.drawings.paper import Circle, Group
    from chassis_describe.drawings.plate_view import deck_plate
    from chassis_describe.drawings.template import OVERLAP, template_pages
    from chassis_describe.drawings.views import deck_views

    assembly = cd.assemble(cd.read(CONFIG / "prop_barrow.yaml"))
    view = deck_views(assembly)["lower"]
    pages = template_pages(deck_plate(view), "r", "0", "a4", False)
    assert len(pages) > 1 and OVERLAP == 10
    seen = [i for page in pages for g in page.items if isinstance(g, Group) and g.kind == "holes" for i in g.items if isinstance(i, Circle)]
    assert len(seen) >= len(view.holes)


@pytest.mark.judge
def test_png_looks_the_same_twice_and_is_a_picture(hard: Assembly) -> None:
    import io

    image = pytest.importorskip("PIL.Image")
    data = drawing(hard, "png", Wish(deck="plate"))
    assert data == drawing(hard, "png", Wish(deck="plate"))
    picture = image.open(io.BytesIO(data))
    assert picture.size == (round(297 / 25.4 * 150), round(210 / 25.4 * 150)) or abs(picture.size[0] - 1754) <= 1
    assert picture.info["dpi"] == pytest.approx((150, 150), abs=0.1)


def test_check_and_urdf_load_none_of_it() -> None:
    import subprocess
    import sys

    code = ("import sys; from chassis_describe.cli.main import main; "
            f"main([sys.argv[1], {str(CONFIG / 'seedling_cart.yaml')!r}]); "
            "bad = [m for m in sys.modules if m.startswith(('chassis_describe.drawings', 'reportlab', 'ezdxf', 'pypdfium2'))]; "
            "sys.exit(9 if bad else 0)")
    for command in ("check", "urdf"):
        done = subprocess.run([sys.executable, "-c", code, command], cwd=CONFIG.parent, capture_output=True)
        assert done.returncode == 0, done.stderr
