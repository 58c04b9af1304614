"""DXF files that are no plate: each fault with its place in the drawing, at the line of the layout that names the file."""
from __future__ import annotations

import math
import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import chassis_describe as cd
from chassis_describe.layout.plate_file import curves, plate
from tests.layout.plate_files import HEAD, box, circles, dxf, faults, written

ezdxf = pytest.importorskip("ezdxf")
Draw = Callable[[Any], object]


def lines(*points: tuple[float, float]) -> Draw:
    def draw(space: Any) -> None:
        for a, b in zip(points, points[1:]):
            space.add_line(a, b)
    return draw


def boxed(more: Draw) -> Draw:
    """A sound plate of 200 × 140 with something in it."""
    def draw(space: Any) -> None:
        box(space)
        more(space)
    return draw


SQUARE = ((0, 0), (100, 0), (100, 80), (0, 80))
BAD: dict[str, tuple[Draw, str, str]] = {
    "open": (lines(*SQUARE, (0, 0.3)), "has an open curve, from (0, 0) to (0, 0.3); the next end is 0.3 mm from the first", "ends within 0.01 mm"),
    "open circle": (boxed(lambda s: s.add_arc((50, 50), 10, 0, 359)), "has an open curve, from (60, 50) to (59.998, 49.825)", "close the curve"),
    "not closed": (lambda s: s.add_lwpolyline(SQUARE), "has an open curve, from (0, 0) to (0, 80)", "close the curve"),
    "branch": (boxed(lines((10, 10), (50, 10), (50, 50), (10, 50), (10, 10), (50, 50))), "has more than two lines that end at (",
               "`layer`"),
    "doubled line": (lambda s: (lines(*SQUARE, (0, 0))(s), s.add_line((100, 80), (100, 0))), "has a curve that is drawn twice, at (100, 40)",
                     "delete one"),
    "doubled arc": (boxed(lambda s: (s.add_arc((50, 50), 10, 0, 180), s.add_arc((50, 50), 10, 0, 180), s.add_line((40, 50), (60, 50)))),
                    "has a curve that is drawn twice, at (50, 60)", "delete one"),
    "doubled circle": (boxed(lambda s: circles(s, [(50, 50), (50.004, 50)])), "has a curve that is drawn twice, at (50, 50)", "delete one"),
    "doubled outline": (boxed(box), "has a curve that is drawn twice, at (0, 0)", "delete one"),
    "doubled round outline": (lambda s: circles(s, [(0, 0)] * 2, 100), "has a curve that is drawn twice, at (0, 0)", "delete one"),
    "doubled window": (boxed(lambda s: [s.add_lwpolyline([(50, 50), (70, 50), (60, 70)], close=True) for _ in range(2)]),
                       "has a curve that is drawn twice, at (50, 50)", "delete one"),
    "there and back": (boxed(lambda s: s.add_lwpolyline([(50, 50), (70, 50)], close=True)),
                       "has a curve that crosses or touches itself, or runs back over itself, at (50, 50)", "one simple way"),
    "eight": (lambda s: s.add_lwpolyline([(0, 0), (100, 80), (100, 0), (0, 80)], close=True),
              "has a curve that crosses or touches itself, or runs back over itself, at (50, 40)", "one simple way"),
    "touches itself": (lambda s: s.add_lwpolyline([(0, 0), (50, 40), (100, 0), (100, 80), (50, 40), (0, 80)], close=True),
                       "touches itself, or runs back over itself, at (50, 40)", "one simple way"),
    "window over the edge": (boxed(lambda s: s.add_lwpolyline([(190, 50), (210, 50), (210, 60), (190, 60)], close=True)),
                             "has two curves that meet or cross, at (200, ", "as one curve"),
    "hole over the edge": (boxed(lambda s: circles(s, [(200, 70)])), "has two curves that meet or cross, at (200, ", "as one curve"),
    "window at the edge": (boxed(lambda s: s.add_lwpolyline([(150, 50), (200, 50), (200, 60), (150, 60)], close=True)),
                           "has two curves that meet or cross, at (200, ", "as one curve"),
    "windows that cross": (boxed(lambda s: [s.add_lwpolyline([(x, 50), (x + 20, 50), (x, 80)], close=True) for x in (50, 60)]),
                           "has two curves that meet or cross, at (60, ", "as one curve"),
    "holes that cross": (boxed(lambda s: circles(s, [(50, 50), (53, 50)])), "has two curves that meet or cross, at (51.5, 50)", "as one curve"),
    "hole over a window": (boxed(lambda s: (s.add_lwpolyline([(50, 50), (70, 50), (60, 70)], close=True), circles(s, [(60, 50)]))),
                           "has two curves that meet or cross, at (", "as one curve"),
    "countersink": (boxed(lambda s: (circles(s, [(50, 50)]), circles(s, [(50, 50)], 6.5))),
                    "has a curve of 3.5 × 3.5 mm about (50, 50) within one of 6.5 × 6.5 mm that is cut out", "`layer`"),
    "hole in a window": (boxed(lambda s: (s.add_lwpolyline([(40, 40), (70, 40), (70, 70), (40, 70)], close=True), circles(s, [(55, 55)]))),
                         "has a curve of 3.5 × 3.5 mm about (55, 55) within one of 30 × 30 mm that is cut out", "countersink"),
    "window in a window": (boxed(lambda s: [s.add_lwpolyline([(60 - d, 60 - d), (60 + d, 60 - d), (60, 60 + d)], close=True) for d in (9, 2)]),
                           "has a curve of 4 × 4 mm about (60, 60) within one of 18 × 18 mm that is cut out", "`layer`"),
    "window in a circle": (boxed(lambda s: (circles(s, [(60, 60)], 40), s.add_lwpolyline([(58, 58), (62, 58), (60, 62)], close=True))),
                           "has a curve of 4 × 4 mm about (60, 60) within one of 40 × 40 mm that is cut out", "`layer`"),
    "window over a circle": (boxed(lambda s: (circles(s, [(60, 60)], 40), s.add_lwpolyline([(58, 58), (92, 58), (60, 62)], close=True))),
                             "has two curves that meet or cross, at (", "as one curve"),
    "two plates": (boxed(lambda s: s.add_lwpolyline([(300, 0), (350, 0), (350, 50)], close=True)),
                   "has several outer curves: 200 × 140 mm about (100, 70) and 50 × 50 mm about (325, 25)", "a deck is one plate"),
    "hole beside": (boxed(lambda s: circles(s, [(300, 10)])),
                    "has several outer curves: 200 × 140 mm about (100, 70) and 3.5 × 3.5 mm about (300, 10)", "a deck is one plate"),
    "nothing": (lambda s: s.add_text("plate"), "has no curve on its layers that are shown; left aside: 1 × text", "with lines, arcs"),
    "dots": (lines((0, 0), (0.002, 0)), "has only dots", "unit"),
    "leaves the plane": (lambda s: s.add_line((0, 0, 0), (100, 0, 5)), "has a curve that can't be taken: LINE ", "flat"),
    "stands": (lambda s: s.add_circle((0, 0), 50, dxfattribs={"extrusion": (0, 1, 0)}), "it leaves the plane of the plate", "flat"),
    "no number": (lambda s: s.add_circle((float("nan"), 0), 50), "a coordinate that is no number", "flat"),
    "no radius": (boxed(lambda s: s.add_circle((50, 50), 0)), "its radius is no plate's", "flat"),
    "far away": (lambda s: s.add_line((0, 0), (1e12, 0)), "more than 10 km from the origin", "flat"),
}


@pytest.mark.parametrize("case", BAD)
def test_each_fault_with_its_place(case: str) -> None:
    draw, message, hint = BAD[case]
    found = faults(dxf(draw))
    texts = [f"{f.message} ({f.hint})" for f in found]
    assert [message in t and hint in t for t in texts] == [True] * (2 if case == "branch" else 1), texts
    mark = found[0].where[0]
    assert (mark.file, mark.line, mark.where) == ("r.yaml", 4, "decks > plate > outline > file")
    assert found[0].code == "plate-file"


def test_places_are_in_the_files_own_unit() -> None:
    (found,) = faults(dxf(lines((0, 0), (4, 0), (4, 3), (0, 3), (0, 0.02)), units=1))
    assert "from (0, 0) to (0, 0.02); the next end is 0.02 in from the first" in found.message


def test_all_faults_of_a_file_and_no_more_than_anybody_reads() -> None:
    def draw(space: Any) -> None:
        box(space)
        for k in range(30):
            circles(space, [(10 + 6 * k, 20)])
            circles(space, [(10 + 6 * k, 20)], 5)

    found = faults(dxf(draw))
    assert len(found) == 13
    assert any("has 18 more faults like these" in f.message for f in found)


def test_a_layer_that_is_not_there_and_one_without_curves() -> None:
    (found,) = faults(dxf(lambda s: box(s, layer="plate")), "layer: plat")
    assert found.message == "plate.dxf has no layer plat" and "is not" not in found.hint
    document = ezdxf.new()
    document.layers.add("cuts")
    document.layers.add("plate")
    box(document.modelspace(), layer="cuts")
    (found,) = faults(written(document), "layer: plate")
    assert "has no curve on the layer plate; left aside: 1 × thing on other layers" in found.message
    assert "layers with curves: cuts" in found.hint


def test_units_without_a_plate() -> None:
    assert "$INSUNITS is 18" in faults(dxf(box, units=18))[0].message  # astronomical units
    metres = faults(dxf(box, units=6))
    assert any("a deck of 140000 mm by 200000 mm is not plausible" in f.message and "$INSUNITS" in f.hint for f in metres)
    small = faults(dxf(lambda s: box(s, 7.9, 5.5), units=None))
    assert any("a deck of 5.5 mm by 7.9 mm is not plausible" in f.message for f in small)


@pytest.mark.parametrize(("data", "says"), [
    (b"", "does not begin with a section"), (b"hello\n", "does not begin with a section"), (b"\x00" * 300, "does not begin with a section"),
    (b"AutoCAD Binary DXF\r\n\x1a\x00\x00\x00SECTION", "is a binary DXF file"), (b"AC1027\x00\x00" + b"\x00" * 99, "is a DWG drawing under"),
    (b"%PDF-1.4\n", "does not begin with a section"), (b"<svg/>", "does not begin with a section"),
    (b"  0\nSECTION\n  2\nENTITIES\nnot a code\nx\n  0\nENDSEC\n  0\nEOF\n", "is no DXF file that can be read"),
    (b"  0\nSECTION\n  2\nENTITIES\n  0\nCIRCLE\n 10\nabc\n 20\n0.0\n 40\n50.0\n  0\nENDSEC\n  0\nEOF\n", "")])
def test_what_is_no_dxf(data: bytes, says: str) -> None:
    found = faults(data)
    assert says in found[0].message and found[0].code == "plate-file"


def test_a_file_that_was_cut_off() -> None:
    """Read as far as it goes it would be a plate with fewer holes."""
    whole = dxf(box)
    for end in (whole.rindex(b"EOF"), len(whole) // 2, len(whole) - 6):
        assert "ends too early" in faults(whole[:end])[0].message
    assert not [f for f in cd.check(cd.assemble(cd.read("r.yaml", opener=lambda p: whole if p.endswith("dxf") else HEAD.format(
        more="", deck="").encode()))) if f.severity == "error"]


def test_on_the_disk(tmp_path: Path) -> None:
    """A pipe is never waited for, a file of 100 MB not read, a folder and a closed door said."""
    (tmp_path / "r.yaml").write_text(HEAD.format(more="", deck=""))
    plate = tmp_path / "plate.dxf"

    def said() -> str:
        with pytest.raises(cd.LayoutError) as raised:
            cd.read(tmp_path / "r.yaml")
        (found,) = raised.value.findings
        return f"{found.message}: {found.hint}"

    os.mkfifo(plate)
    assert "it is a pipe" in said()
    plate.unlink()
    with plate.open("wb") as file:
        file.truncate(100 * 1024 * 1024)
    assert re.search("larger than 16 MiB.*leave out of the file what is not cut", said())
    plate.unlink()
    plate.mkdir()
    assert "is a folder" in said()


def test_what_the_reader_of_the_file_throws_away_is_said() -> None:
    """An entity of a kind that nobody knows in a note; a curve, here a spline without points, is an error."""
    data = dxf(box).replace(b"  0\nENDSEC\n  0\nSECTION\n  2\nOBJECTS", b"  0\nGEAR\n  8\n0\n  0\nENDSEC\n  0\nSECTION\n  2\nOBJECTS")
    text = HEAD.format(more="", deck="").encode()
    assembly = cd.assemble(cd.read("r.yaml", opener=lambda p: data if p.endswith("dxf") else text))
    (note,) = [f for f in cd.check(assembly) if f.code == "plate-read"]
    assert "of the file's form mended (Removed invalid DXF entity GEAR" in note.message  # it has no handle and no owner
    (found,) = faults(dxf(boxed(lambda s: s.add_spline())))
    assert "has 1 curve that can't be taken: Removed SPLINE" in found.message


def test_blocks_that_never_end(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ten blocks that each place the one before ten times are 10 000 000 000 curves; one INSERT may say a million rows."""
    monkeypatch.setattr(curves, "MOST_CURVES", 500)
    document = ezdxf.new()
    document.blocks.new("B0").add_circle((0, 0), 1)
    for k in range(1, 11):
        block = document.blocks.new(f"B{k}")
        for n in range(10):
            block.add_blockref(f"B{k - 1}", (n * 10**k, 0))
    document.modelspace().add_blockref("B10", (0, 0))
    assert "has more than 500 curves" in faults(written(document))[0].message
    document = ezdxf.new()
    document.blocks.new("HOLE").add_circle((0, 0), 1)
    document.modelspace().add_blockref("HOLE", (0, 0), dxfattribs={
        "row_count": 30000, "row_spacing": 20, "column_count": 30000, "column_spacing": 20})
    assert "places a block 900000000 times" in faults(written(document))[0].message


def test_too_many_holes_and_corners(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plate, "MOST_HOLES", 50)
    holes = boxed(lambda s: circles(s, [(10 + 5 * (k % 30), 10 + 5 * (k // 30)) for k in range(51)]))
    assert "51 circles of a hole's size; all decks together have 50 holes at most" in faults(dxf(holes))[0].message
    monkeypatch.setattr(curves, "MOST_CORNERS", 100)
    wave = [(k, math.sin(k)) for k in range(101)]
    assert "has more than 100 corners" in faults(dxf(lambda s: (s.add_lwpolyline(wave), box(s))))[0].message


def test_ezdxf_not_installed(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    import chassis_describe.layout.plate_file.document as document
    from chassis_describe.cli.main import main

    def missing(name: str) -> None:
        raise ModuleNotFoundError(f"No module named {name!r}", name="ezdxf")

    monkeypatch.setattr(document, "import_module", missing)
    (tmp_path / "r.yaml").write_text(HEAD.format(more="", deck=", note: no ezdxf"))
    (tmp_path / "plate.dxf").write_bytes(dxf(lambda s: box(s, 201)))
    assert main(["check", str(tmp_path / "r.yaml")]) == 2
    assert "needs ezdxf, which is not installed: pip install 'chassis_describe[dxf]'" in capsys.readouterr().err
