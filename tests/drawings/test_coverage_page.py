"""The picture of what sensors see around a robot, read back from its SVG: each place has the shade of its own lowest height."""
from __future__ import annotations

import math

import pytest
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

import chassis_describe as cd
from chassis_describe.assembly.model import Assembly
from chassis_describe.drawings.coverage_page import _FILLS, coverage_figure, coverage_pages, runs_of
from chassis_describe.drawings.style import INKS
from chassis_describe.drawings.svg import svg
from chassis_describe.facts.coverage import BEARINGS, DISTANCES, Coverage, coverage_of
from chassis_describe.facts.footprint import footprint_of
from tests.demos import CONFIG
from tests.drawings.reading import of_class, overlapping, rings, root_of, text_boxes

A4 = (297.0, 210.0)


def robot(name: str) -> Assembly:
    return cd.assemble(cd.read(CONFIG / f"{name}.yaml"))


def drawn(assembly: Assembly) -> dict[float, list[tuple[str, str, BaseGeometry]]]:
    """By distance: lowest heights as they are told, fill, and the area in mm of the ground (x ahead, y left)."""
    root = root_of(svg(coverage_pages(assembly, A4), "x"))
    (group,) = of_class(root, "coverage")
    ox, oy = map(float, group.get("data-origin").split())
    scale = float(group.get("data-scale").split(":")[1])
    out: dict[float, list[tuple[str, str, BaseGeometry]]] = {}
    for run in of_class(group, "coverage-run"):
        (area,) = of_class(run, "coverage-area")
        loops = [Polygon([((oy - y) * scale, (ox - x) * scale) for x, y in ring]) for ring in rings(area.get("d"))]
        shape = loops[0].difference(loops[1]) if len(loops) > 1 else loops[0]
        out.setdefault(float(run.get("data-at")), []).append((run.get("data-lowest"), area.get("fill"), shape))
    return out


@pytest.mark.parametrize("name", ["draught_scout", "camp_courier"])
def test_every_obstacle_stands_in_the_shade_of_its_lowest_height(name: str) -> None:
    """Where obstacles stand: shapely's own ray from the root through the footprint."""
    assembly = robot(name)
    coverage = coverage_of(assembly)
    assert coverage is not None
    outline, areas = Polygon([(x * 1e3, y * 1e3) for x, y in footprint_of(assembly)]), drawn(assembly)
    limit = assembly.layout.limits["blind_height_mm"]
    for away, lows in zip(DISTANCES, coverage.lowest):
        for bearing, low in zip(BEARINGS, lows):
            dx, dy = math.cos(math.radians(bearing)), math.sin(math.radians(bearing))
            edge = max(math.hypot(*p) for p in outline.intersection(LineString([(0, 0), (1e4 * dx, 1e4 * dy)])).coords)
            spot = Point(dx * (edge + away * 1e3), dy * (edge + away * 1e3))
            (found,) = [(told, fill) for told, fill, area in areas[away] if area.buffer(0.02).contains(spot)]
            if low is None:
                assert found == ("nothing", INKS["paper"])
                continue
            least, most = map(float, found[0].split(" to "))
            assert least - 0.5 <= low * 1e3 <= most + 0.5
            shade = [INKS[fill] for fill, _ in _FILLS].index(found[1])
            assert ([0.0, limit / 4, limit / 2, limit, limit * 2][shade] - 1e-6 <= low * 1e3
                    <= [limit / 4, limit / 2, limit, limit * 2, math.inf][shade] + 1e-6)


def test_hatched_is_what_nothing_sees_and_nothing_else() -> None:
    root = root_of(svg(coverage_pages(robot("camp_courier"), A4), "x"))
    for run in of_class(root, "coverage-run"):
        assert bool(of_class(run, "unseen")) is (run.get("data-lowest") == "nothing")


def test_the_picture_alone_has_no_overlapping_words() -> None:
    pytest.importorskip("reportlab")  # its font metrics judge the labels
    for name in ("draught_scout", "prop_barrow", "camp_courier", "seedling_cart"):
        figure = coverage_figure(robot(name))
        assert figure is not None
        ((_, boxes),) = text_boxes(svg((figure,), "x"))
        assert not overlapping(boxes), name
        assert all(b.x0 >= 0 and b.x1 <= figure.width and b.y1 <= figure.height for b in boxes), name


def test_runs_join_over_the_front() -> None:
    ring = (0.1,) * 10 + (None,) * 52 + (0.1,) * 10
    assert [(r.start, r.end, r.shade) for r in runs_of(Coverage((ring,), (ring,)), 200.0)] == [(10, 62, None), (62, 82, 1)]
    (whole,) = runs_of(Coverage(((0.3,) * 72,), ((0.3,) * 72,)), 200.0)
    assert (whole.start, whole.end, whole.shade) == (0, 72, 3)


def luminance(colour: str) -> float:
    """WCAG 2.1, relative luminance."""
    parts = [int(colour[k:k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_shades_are_told_apart_without_colour_and_numbers_can_be_read_on_them() -> None:
    """CIE lightness (CIE 15) falls by 11 at least from shade to shade; WCAG 2.1, 1.4.3: contrast 4.5 of text."""
    lightness = [116 * luminance(INKS[fill]) ** (1 / 3) - 16 for fill, _ in _FILLS]
    assert all(a - b >= 11 for a, b in zip(lightness, lightness[1:])), lightness
    for fill, ink in _FILLS:
        high, low = sorted((luminance(INKS[fill]), luminance(INKS[ink])), reverse=True)
        assert (high + 0.05) / (low + 0.05) >= 4.5, fill


def test_no_page_where_nothing_measures() -> None:
    text = ("layout: 1\nrobot: bare\ndecks:\n  plate: {outline: {circle: 120}, thickness: 3, density: 1200}\n"
            "placements:\n  imu: {part: imu_board, on: plate}\n")
    assert coverage_pages(cd.assemble(cd.read("bare.yaml", text=text)), A4) == []
