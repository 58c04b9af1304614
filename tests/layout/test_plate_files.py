"""Decks that are drawn in DXF files: what ezdxf writes comes out as the plate that was drawn. Plates are invented.

Axes: page-up is the deck's front, page-left its left (plate files of this program; here by the vectors that are written out). Areas
and middles against shapely and closed forms. $INSUNITS, bulges and extrusions as in the DXF Reference (from memory).
"""
from __future__ import annotations

import math
from typing import Any

import pytest
from shapely.affinity import affine_transform
from shapely.geometry import Polygon

from chassis_describe.layout.model import CircleShape, PolygonShape, RectangleShape
from tests.layout.plate_files import assembly_of, box, circles, deck_of, dxf, faults, notes, written

ezdxf = pytest.importorskip("ezdxf")
QUARTER = math.tan(math.pi / 8)  # bulge of a quarter of a circle
GRID = [(x, y) for x in range(20, 200, 20) for y in range(20, 140, 20)]


def test_a_plate_with_a_lattice() -> None:
    """200 to the right and 140 up: 140 along the deck's front. The middle (100, 70) is between rows 60 and 80: further forward is 80."""
    def draw(space: Any) -> None:
        box(space)
        circles(space, [p for p in GRID if p != (40, 60)])
        circles(space, [(30, 50)], 8)  # 2.3 hole diameters: drilled
        circles(space, [(150, 50)], 12)  # a window
        space.add_lwpolyline([(105, 30), (115, 30), (115, 35), (105, 35)], close=True)

    deck = deck_of(dxf(draw))
    assert isinstance(deck.outline, RectangleShape)
    assert (deck.outline.size, deck.outline.centre) == ((0.14, 0.2), (-0.01, 0.0))
    assert deck.holes is not None and deck.lattice is not None
    # [i, j] is at page (100 - 20 j, 80 + 20 i).
    assert deck.holes == {(round((y - 80) / 20), round((100 - x) / 20)) for x, y in GRID if (x, y) != (40, 60)}
    assert (-1, 3) not in deck.holes
    assert [(d.at, d.hole) for d in deck.drilled] == [((-0.03, 0.07), 0.008)]
    assert [(c.centre, getattr(c, "size", getattr(c, "diameter", 0))) for c in deck.cutouts] == [  # type: ignore[union-attr]
        ((-0.03, -0.05), 0.012), ((-0.0475, -0.01), (0.005, 0.01))]
    assembly = assembly_of(dxf(draw))
    plate = assembly.decks["plate"].plate
    area = 200 * 140 - 53 * math.pi * 1.75**2 - math.pi * 16 - math.pi * 36 - 50
    assert plate.area * 1e6 == pytest.approx(area, rel=1e-12)
    link = assembly.link_of["plate_link"]
    assert link.inertial is not None
    assert link.inertial.mass == pytest.approx(area * 4 * 1e-6, rel=1e-12)  # 1000 kg/m³ is 1 g a cm³
    (note,) = notes(assembly, "plate-read")
    assert note.message == ("plate.dxf is 140 mm long and 200 mm wide (the file counts in mm); 53 lattice holes of 3.5 mm, 1 other hole, "
                            "2 cutouts; hole [0, 0] is at (100, 80) of the file")
    assert note.where[0].line == 4


def test_only_the_holes_of_the_file_exist() -> None:
    """A missing hole is absent though the plate has room, `skip` takes others away, and cutouts of the layout come on top."""
    def draw(space: Any) -> None:
        box(space)
        circles(space, [p for p in GRID if p != (100, 100)])

    assembly = assembly_of(dxf(draw), deck="skip: [[0, 0]], cutouts: [{circle: 10, centre: [20, 20]}], drilled: [{at: [10, 10], hole: 3}]")
    there = {(round(x * 50, 6), round(y * 50, 6)) for x, y, d in assembly.decks["plate"].plate.holes if d == 0.0035}
    whole = {(round((y - 80) / 20), round((100 - x) / 20)) for x, y in GRID}
    assert there == {(float(i), float(j)) for i, j in whole - {(1, 0), (0, 0), (1, 1)}}


@pytest.mark.parametrize(("at", "zero"), [
    # All four about the middle (100, 70) tie: further forward, then further left.
    ([(90, 60), (110, 60), (90, 80), (110, 80)], (90, 80)),
    ([(90, 60), (110, 60), (110, 80)], (110, 80)),
    ([(80, 70), (120, 70), (120, 110)], (80, 70)),  # the two in the row of the middle tie: further left
    ([(100, 95), (100, 55), (120, 55)], (100, 55)),  # nearer beats forward
])
def test_hole_zero(at: list[tuple[float, float]], zero: tuple[float, float]) -> None:
    def draw(space: Any) -> None:
        box(space)
        circles(space, at)

    deck = deck_of(dxf(draw))
    assert deck.file is not None and deck.file.zero == pytest.approx(zero)
    assert isinstance(deck.outline, RectangleShape)
    assert deck.outline.centre == pytest.approx(((70 - zero[1]) / 1e3, (zero[0] - 100) / 1e3), abs=1e-9)
    assert deck.holes == {(round((y - zero[1]) / 20), round((zero[0] - x) / 20)) for x, y in at}


#: The page direction of the front, and of the left side seen from the top.
TURNS = {"up": ((0, 1), (-1, 0)), "down": ((0, -1), (1, 0)), "left": ((-1, 0), (0, -1)), "right": ((1, 0), (0, 1))}


@pytest.mark.parametrize("seen_from", ["top", "under"])
@pytest.mark.parametrize("front", TURNS)
def test_turned_and_seen_from_under(front: str, seen_from: str) -> None:
    """An outline like no mirror image of itself, a slot, an arc: all against page coordinates that are turned here by hand."""
    page = [(0, 0), (200, 0), (200, 90), (150, 140), (0, 140)]
    there = [(60, 40), (80, 40), (60, 60), (100, 100), (160, 40)]

    def draw(space: Any) -> None:
        space.add_lwpolyline([(*p, QUARTER if p == (200, 90) else 0) for p in page], format="xyb", close=True)
        circles(space, there)
        space.add_lwpolyline([(20, 100, 0), (40, 110, 1), (36, 118, 0), (16, 108, 1)], format="xyb", close=True)

    assembly = assembly_of(dxf(draw), f"front: {front}, seen_from: {seen_from}", "lattice: {origin: [7, -3]}")
    deck = assembly.layout.decks["plate"]
    assert deck.file is not None and deck.holes is not None
    (fx, fy), (lx, ly) = TURNS[front]
    if seen_from == "under":
        lx, ly = -lx, -ly
    zero = deck.file.zero
    assert zero in [pytest.approx(p) for p in there]

    def turned(x: float, y: float) -> tuple[float, float]:
        x, y = x - zero[0], y - zero[1]
        return (x * fx + y * fy + 7, x * lx + y * ly - 3)

    assert deck.holes == {(round((turned(*p)[0] - 7) / 20), round((turned(*p)[1] + 3) / 20)) for p in there}
    arc = [(150 + 50 * math.cos(a) * 1.0, 90 + 50 * math.sin(a)) for a in (k * math.pi / 2000 for k in range(1, 1000))]
    want = Polygon([turned(*p) for p in [*page[:3], *arc, *page[3:]]])
    got = Polygon([(x * 1e3, y * 1e3) for x, y in deck.outline.points])  # type: ignore[union-attr]
    assert got.symmetric_difference(want).area < 0.01 * want.length
    (slot,) = deck.drilled
    assert slot.slot == pytest.approx(((math.hypot(20, 10) + math.hypot(4, 8)) / 1e3, math.hypot(4, 8) / 1e3), abs=1e-8)
    assert [v * 1e3 for v in slot.at] == pytest.approx(turned(28, 109), abs=1e-5)
    way = (20 * fx + 10 * fy, 20 * lx + 10 * ly)
    assert math.sin(slot.turn - math.atan2(way[1], way[0])) == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize(("units", "factor", "said"), [
    (4, 1.0, "counts in mm"), (0, 1.0, "names no unit"), (1, 1 / 25.4, "counts in in"), (5, 0.1, "counts in cm"), (6, 1e-3, "counts in m)")])
def test_units(units: int, factor: float, said: str) -> None:
    """The same plate in each unit; its coordinates rounded to four decimals of an inch, as drawings in inches are."""
    digits = 4 if units == 1 else 9

    def draw(space: Any) -> None:
        space.add_lwpolyline([(round(x * factor, digits), round(y * factor, digits)) for x, y in
                              [(0, 0), (200, 0), (200, 140), (0, 140)]], close=True)
        for x, y in GRID:
            space.add_circle((round(x * factor, digits), round(y * factor, digits)), 1.75 * factor)

    assembly = assembly_of(dxf(draw, units))
    deck = assembly.layout.decks["plate"]
    assert deck.holes == {(round((y - 80) / 20), round((100 - x) / 20)) for x, y in GRID}
    assert deck.lattice is not None and deck.lattice.hole == pytest.approx(0.0035, abs=1e-9)
    assert deck.outline.size == pytest.approx((0.14, 0.2), abs=2e-6)  # type: ignore[union-attr]
    assert said in notes(assembly, "plate-read")[0].message


def test_lines_and_arcs_in_any_order() -> None:
    """A rounded rectangle of loose lines and arcs whose ends are a few micrometres apart, as exporters leave them."""
    def draw(space: Any) -> None:
        space.add_arc((190, 130), 10, 0, 90)
        space.add_line((10, 0), (190, 0))
        space.add_line((0, 130.004), (0, 10))
        space.add_arc((10, 10), 10, 180, 270)
        space.add_line((200.003, 130), (200, 10))  # the other way round
        space.add_arc((10, 130), 10, 90, 180)
        space.add_line((10, 140), (190, 140.003))
        space.add_arc((190, 10), 10, 270, 360)
        circles(space, GRID)

    plate = assembly_of(dxf(draw)).decks["plate"].plate
    area = 200 * 140 - (4 - math.pi) * 100 - 54 * math.pi * 1.75**2
    assert plate.area * 1e6 == pytest.approx(area, abs=0.004 * 680)


def ring(space: Any, kind: str) -> None:
    """A circle of 120 about (70, 50), drawn in each way that programs have."""
    if kind == "circle":
        space.add_circle((70, 50), 60)
    elif kind == "arcs":
        for k in range(3):
            space.add_arc((70, 50), 60, 120 * k, 120 * k + 120)
    elif kind == "whole arc":
        space.add_arc((70, 50), 60, 30, 390)
    elif kind == "ellipse":
        space.add_ellipse((70, 50), (0, 60), 1.0)
    elif kind == "half ellipses":
        space.add_ellipse((70, 50), (60, 0), 1.0, 0, math.pi)
        space.add_ellipse((70, 50), (60, 0), 1.0, math.pi, math.tau)
    elif kind == "bulges":
        space.add_lwpolyline([(10, 50, -1), (130, 50, -1)], format="xyb", close=True)
    elif kind == "old polyline":
        space.add_polyline2d([(10, 50, 1), (130, 50, 1)], format="xyb", close=True)
    elif kind == "spline":
        from ezdxf.math import BSpline, ConstructionArc  # a rational curve is a circle exactly

        arc = ConstructionArc((70, 50), 60, 0, 360)
        space.add_spline().apply_construction_tool(BSpline.from_arc(arc))
    elif kind == "chords":
        space.add_lwpolyline([(70 + 60 * math.cos(k * math.tau / 360), 50 + 60 * math.sin(k * math.tau / 360)) for k in range(360)],
                             close=True)


@pytest.mark.parametrize("kind", ["circle", "arcs", "whole arc", "ellipse", "half ellipses", "bulges", "old polyline", "spline", "chords"])
def test_a_round_deck_however_it_is_drawn(kind: str) -> None:
    deck = deck_of(dxf(lambda space: ring(space, kind)))
    assert isinstance(deck.outline, CircleShape)
    assert deck.outline.diameter == pytest.approx(0.12, abs=1e-6)
    assert deck.outline.centre == pytest.approx((0.0, 0.0), abs=1e-7)


@pytest.mark.parametrize("kind", ["ellipse", "spline", "fit points"])
def test_curves_to_a_hundredth_of_a_millimetre(kind: str) -> None:
    """Against the curve itself, closely sampled: no point is further than 0.01 mm from the polygon; the ellipse's area is πab."""
    if kind == "ellipse":
        ring_ = [(100 * math.cos(t), 60 * math.sin(t)) for t in (k * math.tau / 4000 for k in range(4000))]
        data = dxf(lambda space: space.add_ellipse((300, 400), (100, 0), 0.6))
    else:
        document = ezdxf.new()
        document.header["$INSUNITS"] = 4
        corners = [(0, 0), (90, -20), (120, 50), (60, 80), (10, 120), (-30, 60), (0, 0)]
        if kind == "spline":
            spline = document.modelspace().add_spline()
            spline.set_closed([ezdxf.math.Vec3(p) for p in corners[:-1]])
        else:
            spline = document.modelspace().add_spline(corners)
        tool = spline.construction_tool()
        ring_ = [(p.x, p.y) for p in tool.approximate(4000)]
        data = written(document)
    deck = deck_of(data)
    assert isinstance(deck.outline, PolygonShape) and deck.file is not None
    x0, y0 = deck.file.zero
    cx, cy = (300, 400) if kind == "ellipse" else (0, 0)
    got = Polygon([(x0 - y * 1e3 - cx, y0 + x * 1e3 - cy) for x, y in deck.outline.points])
    want = Polygon(ring_)
    assert got.exterior.hausdorff_distance(want.exterior) < 0.0105
    assert got.area == pytest.approx(math.pi * 6000 if kind == "ellipse" else want.area, abs=0.01 * want.length)


def test_blocks_scaled_turned_mirrored_and_nested() -> None:
    """Against the same corners moved by shapely. A corner bracket window, once as it is and once through two blocks, one mirrored."""
    corners = [(0, 0, 0), (20, 0, QUARTER), (25, 5, 0), (25, 10, 0), (0, 10, 0)]
    document = ezdxf.new()
    document.header["$INSUNITS"] = 4
    window = document.blocks.new("WINDOW")
    window.add_lwpolyline(corners, format="xyb", close=True)
    window.add_circle((8, 5), 1.0)  # falls out: drawn on a layer of its own
    window[-1].dxf.layer = "notes"
    pair = document.blocks.new("PAIR")
    pair.add_blockref("WINDOW", (0, 0))
    pair.add_blockref("WINDOW", (80, 5), dxfattribs={"xscale": -1.5, "yscale": 1.5, "zscale": 1.5, "rotation": 20})
    space = document.modelspace()
    box(space)
    space.add_blockref("PAIR", (40, 30), dxfattribs={"rotation": 30})
    space.add_blockref("WINDOW", (150, 30), dxfattribs={"xscale": 1, "yscale": 2})  # arcs become ellipses
    document.layers.add("notes")
    document.layers.get("notes").off()
    deck = deck_of(written(document))
    arc = [(20 + 5 * math.sin(a), 5 - 5 * math.cos(a)) for a in (k * math.pi / 2000 for k in range(1, 1000))]
    shape = Polygon([(0, 0), (20, 0), *arc, (25, 5), (25, 10), (0, 10)])

    def placed(x: float, y: float, turn: float, sx: float, sy: float) -> tuple[float, ...]:
        c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        return (c * sx, -s * sy, s * sx, c * sy, x, y)

    inner = [affine_transform(shape, placed(0, 0, 0, 1, 1)), affine_transform(shape, placed(80, 5, 20, -1.5, 1.5))]
    want = [*(affine_transform(i, placed(40, 30, 30, 1, 1)) for i in inner), affine_transform(shape, placed(150, 30, 0, 1, 2))]
    got = [Polygon([(100 - y * 1e3, 70 + x * 1e3) for x, y in c.points]) for c in deck.cutouts]  # type: ignore[union-attr]
    assert len(got) == 3
    for one in want:
        assert min(one.symmetric_difference(other).area / one.length for other in got) < 0.01
    assert "3 × thing on layers that are off or frozen" in notes(assembly_of(written(document)), "plate-read")[0].message


def test_a_mirrored_extrusion_and_a_grid_of_blocks() -> None:
    """Entities with extrusion (0, 0, -1) have x the other way (OCS); one INSERT may place its block in rows and columns."""
    document = ezdxf.new()
    document.header["$INSUNITS"] = 4
    flipped = {"extrusion": (0, 0, -1)}
    space = document.modelspace()
    space.add_lwpolyline([(0, 0, 0), (-200, 0, -QUARTER), (-210, 10, 0), (-210, 140, 0), (0, 140, 0)], format="xyb", close=True,
                         dxfattribs=flipped)
    hole = document.blocks.new("HOLE")
    hole.add_circle((0, 0), 1.75)
    space.add_blockref("HOLE", (20, 20), dxfattribs={"row_count": 6, "row_spacing": 20, "column_count": 9, "column_spacing": 20})
    space.add_circle((-30, 30), 6, dxfattribs=flipped)
    space.add_arc((-100, 30), 6, 0, 180, dxfattribs=flipped)
    space.add_line((94, 30), (106, 30))
    assembly = assembly_of(written(document))
    deck = assembly.layout.decks["plate"]
    assert deck.holes is not None and len(deck.holes) == 54
    assert deck.file is not None and deck.file.zero == pytest.approx((100, 80))
    area = 210 * 140 - (1 - math.pi / 4) * 100 - 54 * math.pi * 1.75**2 - math.pi * 36 * 1.5
    assert assembly.decks["plate"].plate.area * 1e6 == pytest.approx(area, abs=0.01 * 60)
    middles = sorted((round(c.centre[0], 6), round(c.centre[1], 6)) for c in deck.cutouts if isinstance(c, CircleShape))
    assert middles == [(-0.05, 0.07)]


def test_without_a_lattice_the_robots_is_laid_on() -> None:
    """The middle of the box is (0, 0). A plate of 200 by 140 has 7 rows of 9 holes of its own lattice (|i| ≤ 3, |j| ≤ 4)."""
    def draw(space: Any) -> None:
        box(space)
        circles(space, [(50, 50), (117, 50), (83, 103)], 4.5)

    assembly = assembly_of(dxf(draw))
    deck = assembly.layout.decks["plate"]
    assert deck.holes is None
    assert [d.at for d in deck.drilled] == [(0.033, 0.017), (-0.02, 0.05), (-0.02, -0.017)]
    assert len(assembly.decks["plate"].plate.holes) == 7 * 9 + 3
    (note,) = notes(assembly, "plate-lattice")
    assert note.severity == "note"
    assert "the robot's lattice is laid on the plate, from the middle of its box, with 63 holes that the file does not have" in note.message
    # (-20, -20) is 3 mm from a hole at (-20, -17), and half of 3.5 and of 4.5 mm is 4.
    assert "; [-1, -1] would run into holes of the file" in note.message
    bare = assembly_of(dxf(draw), deck="lattice: none")
    assert len(bare.decks["plate"].plate.holes) == 3
    assert not notes(bare, "plate-lattice")


def test_holes_of_another_size() -> None:
    """The file's lattice holes count (3.2 mm lets an M3 through, ISO 273 fine); some of another size among them are drilled."""
    def draw(space: Any) -> None:
        box(space)
        circles(space, [p for p in GRID if p[0] != 100], 3.2)
        circles(space, [p for p in GRID if p[0] == 100], 4.5)

    assembly = assembly_of(dxf(draw))
    deck = assembly.layout.decks["plate"]
    assert deck.lattice is not None and deck.lattice.hole == pytest.approx(0.0032)
    assert len(deck.holes or ()) == 48 and len(deck.drilled) == 6
    (note,) = notes(assembly, "plate-lattice")
    assert "are 3.2 mm wide, the layout says 3.5 mm" in note.message
    assert not notes(assembly_of(dxf(draw), deck="lattice: {hole: 3.2}"), "plate-lattice")


def test_holes_that_are_a_little_off() -> None:
    """0.03 mm off, as rounded drawings are, is on the lattice (the play of an M3 in 3.5 mm is 0.25 mm); 0.1 mm is somebody's wish."""
    off = [(x + 0.03 * math.cos(k), y + 0.03 * math.sin(k)) for k, (x, y) in enumerate(GRID)]

    def draw(space: Any) -> None:
        box(space)
        circles(space, off[1:])
        circles(space, [(20.1, 20)])

    deck = deck_of(dxf(draw))
    assert len(deck.holes or ()) == 53
    assert [d.at for d in deck.drilled] == [pytest.approx((-0.06, 0.0799), abs=3.1e-5)]


def test_two_lattices_in_one_plate() -> None:
    """Holes at every corner and in the middle of every square: the fuller lattice is the deck's, the others are drilled."""
    def draw(space: Any) -> None:
        box(space)
        circles(space, GRID)
        circles(space, [(x + 10, y + 10) for x, y in GRID if x < 180 and y < 120])

    deck = deck_of(dxf(draw))
    assert len(deck.holes or ()) == 54 and len(deck.drilled) == 40
    fine = deck_of(dxf(draw), deck="lattice: {pitch: 10}")
    assert len(fine.holes or ()) == 94 and not fine.drilled


@pytest.mark.parametrize(("pitch", "turn", "says", "hint"), [
    (25, 0, "they are 25 mm apart", "`lattice: {pitch: 25}`"), (10, 0, "they are 10 mm apart", "`lattice: {pitch: 10}`"),
    (20, 30, "turned by 30°", "in the drawing program")])
def test_another_lattice_is_doubted(pitch: float, turn: float, says: str, hint: str) -> None:
    c, s = math.cos(math.radians(turn)), math.sin(math.radians(turn))
    grid = [(100 + pitch * (c * i - s * j), 70 + pitch * (s * i + c * j)) for i in range(-2, 3) for j in range(-2, 3)]

    def draw(space: Any) -> None:
        box(space)
        circles(space, grid)

    (found,) = [f for f in notes(assembly_of(dxf(draw)), "plate-lattice") if f.severity == "warning"]
    assert says in found.message and hint in found.hint


def test_layers(capsys: pytest.CaptureFixture[str]) -> None:
    document = ezdxf.new()
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    for name in ("Plate", "drill", "frame", "marks"):
        document.layers.add(name)
    box(space, layer="Plate")
    circles(space, GRID)
    for circle in space.query("CIRCLE"):
        circle.dxf.layer = "drill"
    space.add_line((-10, -10), (300, -10), dxfattribs={"layer": "frame"})
    space.add_line((20, 20), (22, 20), dxfattribs={"layer": "marks"})
    space.add_line((20, 20), (22, 20), dxfattribs={"layer": "Defpoints"})
    space.add_text("no plate")
    document.layout("Layout1").add_line((0, 0), (1, 1))
    data = written(document)
    assert [("open curve" in f.message, f.where[0].line) for f in faults(data)] == [(True, 4)]
    assembly = assembly_of(data, "layer: [plate, DRILL]")  # names of layers have no case (DXF)
    assert len(assembly.layout.decks["plate"].holes or ()) == 54
    assert "left aside: 3 × thing on other layers, 1 × thing on other layers" not in notes(assembly, "plate-read")[0].message
    assert "1 × thing in paper space" in notes(assembly, "plate-read")[0].message
    assert deck_of(data, "layer: plate").holes is None
    document.layers.get("frame").freeze()
    message = notes(assembly_of(written(document)), "plate-read")[0].message
    assert message.endswith("left aside: 1 × thing on layers that are off or frozen, 1 × thing on layer marks, "
                            "1 × thing on layer Defpoints, 1 × text, 1 × thing in paper space")
    assert capsys.readouterr() == ("", "")


def test_old_and_new_files(tmp_path: Any) -> None:
    """Releases from R12 on, and letters of another code page in a layer's name."""
    for version in ("R12", "R2000", "R2018"):
        document = ezdxf.new(version)
        if version != "R12":  # which has no $INSUNITS
            document.header["$INSUNITS"] = 0
        document.encoding = "cp1252" if version == "R2000" else document.encoding
        document.layers.add("Gehäuse")
        space = document.modelspace()
        space.add_polyline2d([(0, 0), (200, 0), (200, 140), (0, 140)], close=True, dxfattribs={"layer": "Gehäuse"})
        circles(space, GRID)
        space[-1].dxf.layer = "Gehäuse"
        document.saveas(tmp_path / "plate.dxf")
        data = (tmp_path / "plate.dxf").read_bytes()
        assert len(deck_of(data).holes or ()) == 54
        assert isinstance(deck_of(data, "layer: Gehäuse").outline, RectangleShape)

