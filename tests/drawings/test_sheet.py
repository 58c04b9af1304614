"""The sheet read back from its SVG: holes, edges and parts are where the assembly has them, and no two names overlap."""
from __future__ import annotations

import math
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import MultiPoint, Point, Polygon, box
from shapely.ops import unary_union
from shapely.prepared import prep

import chassis_describe as cd
from chassis_describe.assembly.model import Assembly
from chassis_describe.drawings.table import Wish, drawing
from chassis_describe.layout.model import CircleShape, OutlineShape, PolygonShape, RectangleShape
from chassis_describe.space.solids import Box, Cylinder, Sphere
from tests.drawings.crowded import crowded
from tests.drawings.reading import decks, of_class, overlapping, page_shift, rings, root_of, text_boxes, to_deck

DEMOS = ("draught_scout", "prop_barrow", "seedling_cart")
CONFIG = Path(__file__).resolve().parents[2] / "config"
trimesh = pytest.importorskip("trimesh")
pytest.importorskip("reportlab")  # its font metrics judge the labels


@pytest.fixture(scope="module", params=DEMOS)
def demo(request: pytest.FixtureRequest) -> Assembly:
    return cd.assemble(cd.read(CONFIG / f"{request.param}.yaml"))


def sheet(assembly: Assembly, **wish: object) -> bytes:
    return drawing(assembly, "svg", Wish(findings=tuple(cd.check(assembly)), **wish))  # type: ignore[arg-type]


def area_of(shape: OutlineShape) -> Polygon:
    """A shape of the layout as shapely draws it (mm)."""
    if isinstance(shape, CircleShape):
        return Point(shape.centre[0] * 1e3, shape.centre[1] * 1e3).buffer(shape.diameter * 500, 512)
    if isinstance(shape, RectangleShape):
        (w, h), (x, y), r = shape.size, shape.centre, shape.corner
        x0, y0, x1, y1 = (1e3 * v for v in (x - w / 2, y - h / 2, x + w / 2, y + h / 2))
        core = box(x0 + r * 1e3, y0 + r * 1e3, x1 - r * 1e3, y1 - r * 1e3)
        return core.buffer(r * 1e3, 512) if r else core
    assert isinstance(shape, PolygonShape)
    return Polygon([(x * 1e3, y * 1e3) for x, y in shape.points])


def test_every_hole_is_where_the_lattice_has_one(demo: Assembly) -> None:
    """Against shapely: lattice points whose whole circle lies in the outline less the cutouts, less `skip`, plus `drilled`."""
    drawn = decks(sheet(demo))
    assert set(drawn) == set(demo.decks)
    for name, group in drawn.items():
        deck = demo.decks[name].deck
        lattice = deck.lattice
        assert lattice is not None
        plate = prep(area_of(deck.outline).difference(unary_union([area_of(c) for c in deck.cutouts])).buffer(1e-3))
        wanted = {}
        for i in range(-40, 41):
            for j in range(-40, 41):
                x, y = (1e3 * (o + lattice.pitch * n) for o, n in zip(lattice.origin, (i, j)))
                if (i, j) not in deck.skip and plate.contains(Point(x, y).buffer(lattice.hole * 500, 64)):
                    wanted[f"{i} {j}"] = (x, y, lattice.hole * 1e3)
        for k, drilled in enumerate(d for d in deck.drilled if d.hole is not None):
            wanted[f"d{k + 1}"] = (drilled.at[0] * 1e3, drilled.at[1] * 1e3, (drilled.hole or 0.0) * 1e3)
        dy = page_shift(group)
        scale = float(group.get("data-scale").split(":")[1])
        found = {c.get("data-hole"): (*to_deck(group, (float(c.get("cx")), float(c.get("cy"))), dy), 2 * float(c.get("r")) * scale)
                 for c in of_class(group, "hole")}
        assert found.keys() == wanted.keys()
        for hole, where in wanted.items():
            assert found[hole] == pytest.approx(where, abs=0.002)


def test_holes_tell_who_uses_them(demo: Assembly) -> None:
    """Filled (blue) only what a part on the top face uses; every user of the layout is named once per bolt."""
    from chassis_describe.facts.bolting import bolts_of

    for name, group in decks(sheet(demo)).items():
        users = {c.get("data-hole"): c.get("data-used-by") for c in of_class(group, "hole")}
        wanted: dict[str, list[str]] = {}
        for use in bolts_of(demo):
            if use.deck == name and use.hole is not None:
                key = f"{use.hole.hole[0]} {use.hole.hole[1]}" if isinstance(use.hole.hole, tuple) else f"d{use.hole.hole + 1}"
                wanted.setdefault(key, []).append(use.user)
        assert {h: u for h, u in users.items() if u} == {h: ", ".join(u) for h, u in wanted.items()}


def test_edges_of_plates(demo: Assembly) -> None:
    for name, group in decks(sheet(demo)).items():
        deck = demo.decks[name].deck
        dy = page_shift(group)
        plate = of_class(group, "plate")[0]
        loops = [Polygon([to_deck(group, p, dy) for p in ring]) for ring in rings(plate.get("d"))]
        seen = loops[0].difference(unary_union(loops[1:]))
        wanted = area_of(deck.outline).difference(unary_union([area_of(c) for c in deck.cutouts]))
        assert seen.hausdorff_distance(wanted) < 0.01
        assert seen.area == pytest.approx(wanted.area, rel=1e-4)


def shadow(assembly: Assembly, deck: str, placement: str) -> Polygon:
    """What a part covers of a deck's plane, by trimesh's own solids (mm)."""
    into = assembly.decks[deck].pose.inverse()
    seen = []
    for link in assembly.links:
        for body in link.bodies if link.owner == placement else ():
            if not body.visible:
                continue
            solid = body.solid
            if isinstance(solid, Box):
                mesh = trimesh.creation.box(solid.size)
            elif isinstance(solid, Cylinder):
                mesh = trimesh.creation.cylinder(solid.radius, solid.length, sections=1440)
            else:
                assert isinstance(solid, Sphere)
                centre = (into @ assembly.poses[link.name] @ body.pose).t
                seen.append(Point(centre[0] * 1e3, centre[1] * 1e3).buffer(solid.radius * 1e3, 512))
                continue
            pose = into @ assembly.poses[link.name] @ body.pose
            corners = mesh.vertices @ np.array(pose.r).reshape(3, 3).T + np.array(pose.t)
            seen.append(MultiPoint(corners[:, :2] * 1e3).convex_hull)
    return unary_union(seen)


def test_outlines_of_parts(demo: Assembly) -> None:
    """Every part's outline against the shadows of its bodies, to 0.01 mm; under-face ones are dashed."""
    seen = set()
    for name, group in decks(sheet(demo)).items():
        dy = page_shift(group)
        for part in of_class(group, "part"):
            placement = part.get("data-name")
            outline = of_class(part, "part-outline")[0]
            loops = [Polygon([to_deck(group, p, dy) for p in ring]) for ring in rings(outline.get("d"), math.radians(0.2))]
            drawn = loops[0]
            for loop in loops[1:]:
                drawn = drawn.symmetric_difference(loop)
            wanted = shadow(demo, name, placement)
            assert drawn.symmetric_difference(wanted).area / wanted.length < 0.005, placement
            assert drawn.hausdorff_distance(wanted) < 0.01, placement
            below = demo.parts[placement]
            while below.deck is None:
                below = demo.parts[below.placement.on]
            assert below.deck == name
            assert (outline.get("stroke-dasharray") is not None) == (below.face == "under")
            seen.add(placement)
    assert seen == set(demo.parts)


@pytest.mark.parametrize("paper", ["a4", "a3", "letter"])
def test_no_labels_overlap(demo: Assembly, paper: str) -> None:
    for page, boxes in text_boxes(sheet(demo, paper=paper)):
        assert boxes, page
        assert not overlapping(boxes), page


@pytest.mark.parametrize("seed", range(3))
def test_no_labels_overlap_on_crowded_robots(seed: int) -> None:
    """60 parts over three decks; errors by the dozen, for nothing was checked when they were strewn."""
    assembly = cd.assemble(cd.read("crowd.yaml", text=crowded(seed)))
    data = drawing(assembly, "svg", Wish(findings=cd.check(assembly) if seed == 0 else ()))
    shown = set()
    for page, boxes in text_boxes(data):
        assert not overlapping(boxes), page
        assert all(b.x0 >= 0 and b.x1 <= 297 for b in boxes), page
        shown |= {b.text.split(" ")[0] for b in boxes}
    assert set(assembly.parts) <= shown
    drawn = {p.get("data-name") for p in of_class(root_of(data), "part") if p.tag.endswith("}g")}
    assert drawn == set(assembly.parts)


def test_three_parts_are_enough() -> None:
    text = ("layout: 1\nrobot: bare\ndecks:\n  plate: {outline: {circle: 120}, thickness: 3, density: 1200}\n"
            "placements:\n  imu: {part: imu_board, on: plate}\n")
    assembly = cd.assemble(cd.read("bare.yaml", text=text))
    for page, boxes in text_boxes(sheet(assembly)):
        assert not overlapping(boxes), page


def test_errors_are_marked_by_number() -> None:
    text = ("layout: 1\nrobot: askew\ndecks:\n  plate: {outline: {rectangle: [200, 140]}, thickness: 3, density: 1200}\n"
            "placements:\n  imu: {part: imu_board, on: plate, at: [0.25, 0]}\n")
    assembly = cd.assemble(cd.read("askew.yaml", text=text))
    data = sheet(assembly)
    root = root_of(data)
    lines = ["".join(t.itertext()) for t in root.iter("{http://www.w3.org/2000/svg}text")]
    assert any(line.startswith("imu !1") for line in lines)
    assert any("[bolt-off-hole]" in line for line in lines)
    assert len(of_class(decks(data)["plate"], "miss")) == len(assembly.parts["imu"].part.bolts)


def test_the_page_is_turned_over_left_to_right(demo: Assembly) -> None:
    """Turned over, front stays up and left becomes right: holes mirror about the vertical, text does not."""
    top, under = decks(sheet(demo)), decks(sheet(demo, under=True))
    for name, group in top.items():
        other = under[name]
        xs, ox = {c.get("data-hole"): float(c.get("cx")) for c in of_class(group, "hole")}, float(group.get("data-origin").split()[0])
        turned = {c.get("data-hole"): float(c.get("cx")) for c in of_class(other, "hole")}
        oz = float(other.get("data-origin").split()[0])
        for hole, x in xs.items():
            assert turned[hole] - oz == pytest.approx(ox - x, abs=2e-4)
    assert b"transform" not in sheet(demo, under=True)


def test_same_input_same_bytes(tmp_path: Path) -> None:
    """In two processes with other hash seeds."""
    made = []
    for seed in ("1", "2"):
        out = tmp_path / f"{seed}.svg"
        subprocess.run([sys.executable, "-m", "chassis_describe", "draw", str(CONFIG / "draught_scout.yaml"), "-o", str(out)],
                       check=True, env={"PYTHONHASHSEED": seed, "PATH": "/usr/bin:/bin"}, cwd=CONFIG.parent)
        made.append(out.read_bytes())
    assert made[0] == made[1]


def test_files_of_others_stay(tmp_path: Path) -> None:
    from chassis_describe.cli.main import main

    out = tmp_path / "sheet.svg"
    out.write_text("<svg/>")
    arguments = ["draw", str(CONFIG / "seedling_cart.yaml"), "-o", str(out)]
    assert main(arguments) == 2
    assert out.read_text() == "<svg/>"
    assert main([*arguments, "--replace"]) == 0
    first = out.read_bytes()
    assert main([*arguments, "--paper", "a3"]) == 0  # ours: may be written anew
    assert out.read_bytes() != first


@pytest.mark.parametrize("arguments", [["-o", "x.gif"], ["-o", "x.svg", "--deck", "nope"], ["-o", "x.svg", "--paper", "b9"],
                                       ["-o", "x.stl"]])
def test_wishes_that_make_no_sense(arguments: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
                                   capsys: pytest.CaptureFixture[str]) -> None:
    from chassis_describe.cli.main import main

    monkeypatch.chdir(tmp_path)
    assert main(["draw", str(CONFIG / "draught_scout.yaml"), *arguments]) == 2
    assert "chassis_describe: " in capsys.readouterr().err
    assert not list(tmp_path.iterdir())
