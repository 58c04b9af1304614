"""Plates whose cutouts cross: against shapely, against sampling, by two routes, and under motions (laws)."""
from __future__ import annotations

import math
import random
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from shapely.geometry import Point

from chassis_describe.space.plate.loops import loop_moments, loop_of
from chassis_describe.space.plate.plate import Disc, Plate, Polygon, Rectangle, Slot, lattice_holes
from chassis_describe.space.plate.slabs import curves_about, pieces_of, slab_moments, slabs_of
from chassis_describe.space.pose import Pose, rot_z, translation

quick = settings(max_examples=12, deadline=None)
few = settings(max_examples=5, deadline=None)
seeds = st.integers(0, 10**6)


def random_shape(rng, size, near):
    x, y = rng.uniform(-near, near), rng.uniform(-near, near)
    kind = rng.choice(["rectangle", "disc", "polygon", "slot", "star"])
    if kind == "rectangle":
        w, h = rng.uniform(0.2, 1) * size, rng.uniform(0.2, 1) * size
        return Rectangle(size=(w, h), corner=rng.choice([0, 0.2, 0.5]) * min(w, h), centre=(x, y))
    if kind == "disc":
        return Disc(radius=rng.uniform(0.1, 0.5) * size, centre=(x, y))
    if kind == "slot":
        length = rng.uniform(0.3, 1) * size
        return Slot(length=length, width=rng.uniform(0.2, 1) * length, centre=(x, y), turn=rng.uniform(-3, 3))
    n = rng.randint(3, 9)
    r = [rng.uniform(0.25, 0.5) * size if kind == "star" else size / 2 for _ in range(n)]
    start = rng.uniform(0, 6)
    points = [(x + r[k] * math.cos(start + 2 * math.pi * k / n), y + r[k] * math.sin(start + 2 * math.pi * k / n))
              for k in range(n)]
    return Polygon(points=tuple(points if rng.random() < 0.5 else points[::-1]))


def random_plate(rng, holes=True):
    outline = random_shape(rng, 0.3, 0.05)
    cutouts = tuple(random_shape(rng, 0.1, 0.15) for _ in range(rng.randint(0, 5)))
    drilled = tuple((rng.uniform(-0.15, 0.15), rng.uniform(-0.15, 0.15), rng.uniform(0.003, 0.03))
                    for _ in range(rng.randint(0, 12))) if holes else ()
    slots = tuple(Slot(length=0.03, width=0.005, centre=(rng.uniform(-0.1, 0.1), rng.uniform(-0.1, 0.1)),
                       turn=rng.uniform(0, 3)) for _ in range(rng.randint(0, 2))) if holes else ()
    return Plate(outline=outline, cutouts=cutouts, holes=drilled, slots=slots, thickness=0.004)


def face_moments(plate):
    """Area and ∫x, ∫y, ∫x², ∫xy, ∫y² about the plate's origin."""
    body = plate.inertial(1 / plate.thickness)
    (x, y, _), m = body.com, body.mass
    through = m * plate.thickness**2 / 12
    ixx, iyy, izz, ixy, ixz, iyz = body.inertia
    assert (ixz, iyz) == (0.0, 0.0)
    assert izz == pytest.approx(ixx + iyy - 2 * through, rel=1e-12)  # perpendicular axes of the face
    return np.array([m, m * x, m * y, iyy - through + m * x * x, -ixy + m * x * y, ixx - through + m * y * y])


def polygon_moments(geometry):
    """Of a shapely geometry, by Steger's sums over its rings (FGBV-96-05)."""
    total = np.zeros(6)
    for part in getattr(geometry, "geoms", [geometry]):
        for sign, ring in ((1, part.exterior), *((-1, r) for r in part.interiors)):
            x, y = np.array(ring.coords)[:-1].T
            u, v = np.roll(x, -1), np.roll(y, -1)
            c = x * v - u * y
            sums = np.array([c.sum() / 2, (c * (x + u)).sum() / 6, (c * (y + v)).sum() / 6,
                             (c * (x * x + x * u + u * u)).sum() / 12,
                             (c * (x * v + 2 * x * y + 2 * u * v + u * y)).sum() / 24,
                             (c * (y * y + y * v + v * v)).sum() / 12])
            total += sums * np.sign(sums[0]) * sign
    return total


@pytest.mark.thorough
@quick
@given(seeds)
def test_crossing_cutouts_against_shapely(seed):
    """shapely cuts the same plate with 2048 chords per circle: off by 1.6e-6 of each circle's area at most."""
    plate = random_plate(random.Random(seed))
    fine = plate.polygon(2048, with_holes=True)
    close = {"rel": 1e-4, "abs": 3e-7}
    assert plate.area == pytest.approx(fine.area, **close)
    assert face_moments(plate) == pytest.approx(polygon_moments(fine), rel=1e-4, abs=1e-7)
    parts = [p for p in getattr(fine, "geoms", [fine]) if p.area > 1e-9]
    assert plate.pieces == len(parts)


@quick
@given(seeds)
def test_polygonal_plates_exactly_against_shapely(seed):
    """Without curves nothing is approximated: 1e-12."""
    rng = random.Random(seed)

    def polygon(size, near):
        while True:
            shape = random_shape(rng, size, near)
            if isinstance(shape, (Polygon, Rectangle)) and getattr(shape, "corner", 0) == 0:
                return shape

    plate = Plate(outline=polygon(0.3, 0.02), cutouts=tuple(polygon(0.12, 0.15) for _ in range(4)), thickness=1.0)
    assert face_moments(plate) == pytest.approx(polygon_moments(plate.polygon()), rel=1e-11, abs=1e-16)


@quick
@given(seeds)
def test_two_routes_where_nothing_crosses(seed):
    """Closed forms of every shape, and slabs, to rounding."""
    rng = random.Random(seed)
    shape = random_shape(rng, 0.3, 0.1)
    by_loop = loop_moments(loop_of(shape), (0.0, 0.0))
    slabs = slabs_of(curves_about(shape, (), (0.0, 0.0)))
    assert slab_moments(slabs) == pytest.approx(by_loop, rel=1e-11, abs=1e-16)
    assert pieces_of(slabs) == 1


def test_two_routes_for_a_whole_plate():
    """A disc that only just touches a window sends both through the slabs; a micrometre less, and it does not."""
    window = Rectangle(size=(0.05, 0.05), centre=(0.05, 0.0))
    values = []
    for gap in (0.0, 1e-6):
        plate = Plate(outline=Rectangle(size=(0.3, 0.2), corner=0.02), cutouts=(window,),
                      holes=((-0.02 - gap, 0.0, 0.09),), thickness=1.0)
        assert len(plate._regions.crossing) == (2 if gap == 0 else 0)
        values.append(face_moments(plate) - (0, math.pi * 0.045**2 * gap, 0, 0, 0, 0))
    assert values[0][:3] == pytest.approx(values[1][:3], rel=1e-12, abs=1e-15)


@pytest.mark.parametrize("seed", range(4))
def test_against_sampling(seed):
    """A grid of 1000² squares, inside or not by distance alone: edges cost about one square's width each."""
    plate = random_plate(random.Random(1000 + seed))
    x0, y0, x1, y1 = plate.outline.bounds
    n = 1000
    x, y = (low + (np.arange(n) + 0.5) * (high - low) / n for low, high in ((x0, x1), (y0, y1)))
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    inside = grid[plate.contains(grid)]
    square = (x1 - x0) * (y1 - y0) / n**2
    u, v = inside.T
    sums = square * np.array([len(inside), u.sum(), v.sum(), (u * u).sum(), (u * v).sum(), (v * v).sum()])
    # 1.5e-4 of the box: the random part of the squares on some 10 m of edges, several standard deviations.
    assert face_moments(plate) == pytest.approx(sums, rel=5e-4, abs=1.5e-4 * (x1 - x0) * (y1 - y0) * 0.3)


@quick
@given(seeds)
def test_moving_and_turning_a_plate_moves_its_mass(seed):
    rng = random.Random(seed)
    plate = random_plate(rng)
    dx, dy, turn = rng.uniform(-1, 1), rng.uniform(-1, 1), rng.choice([math.pi / 2, math.pi, -math.pi / 2])
    move = Pose(rot_z(turn), (dx, dy, 0.0))

    def at(p):
        return move.point((*p, 0.0))[:2]

    def moved(shape):
        if isinstance(shape, Disc):
            return Disc(radius=shape.radius, centre=at(shape.centre))
        if isinstance(shape, Slot):
            return Slot(length=shape.length, width=shape.width, centre=at(shape.centre), turn=shape.turn + turn)
        if isinstance(shape, Polygon):
            return Polygon(points=tuple(at(p) for p in shape.points))
        w, h = shape.size
        return Rectangle(size=(w, h) if turn == math.pi else (h, w), corner=shape.corner, centre=at(shape.centre))

    other = Plate(outline=moved(plate.outline), cutouts=tuple(moved(c) for c in plate.cutouts),
                  holes=tuple((*at(h[:2]), h[2]) for h in plate.holes), slots=tuple(moved(s) for s in plate.slots),
                  thickness=plate.thickness)
    want, got = plate.inertial(700.0).moved(move), other.inertial(700.0)
    assert got.mass == pytest.approx(want.mass, rel=1e-10)
    assert got.com == pytest.approx(want.com, abs=1e-11)
    assert got.inertia == pytest.approx(want.inertia, rel=1e-8, abs=1e-13)
    assert other.pieces == plate.pieces


def test_a_turned_polygon_has_turned_moments():
    points = ((0.0, 0.0), (0.2, 0.02), (0.15, 0.1), (0.02, 0.12))
    turn = Pose(rot_z(0.3), (0.05, -0.4, 0.0))
    other = tuple(turn.point((*p, 0.0))[:2] for p in points)
    want = Plate(outline=Polygon(points=points), thickness=0.002).inertial(1000).moved(turn)
    got = Plate(outline=Polygon(points=other), thickness=0.002).inertial(1000)
    assert got.com == pytest.approx(want.com, abs=1e-15)
    assert got.inertia == pytest.approx(want.inertia, rel=1e-11, abs=1e-18)


def test_holes_that_overlap_count_once():
    """Two equal circles at distance d: union less the lens 2r²·acos(d/2r) - d/2·√(4r² - d²) (Wikipedia, "Lens")."""
    r, d = 0.01, 0.012
    lens = 2 * r * r * math.acos(d / 2 / r) - d / 2 * math.sqrt(4 * r * r - d * d)
    plate = Plate(outline=Rectangle(size=(0.1, 0.1)), holes=((0, 0, 2 * r), (d, 0, 2 * r), (0.03, 0.03, 0.004)),
                  thickness=1.0)
    assert plate.area == pytest.approx(0.01 - 2 * math.pi * r * r + lens - math.pi * 4e-6, rel=1e-13)
    # A hole drilled twice, or wholly inside a window, takes nothing more away.
    twice = Plate(outline=Rectangle(size=(0.1, 0.1)), holes=((0, 0, 0.02), (0, 0, 0.02), (0.001, 0, 0.003)), thickness=1)
    assert twice.area == pytest.approx(0.01 - math.pi * 1e-4, rel=1e-13)


def test_half_of_a_hole_over_the_edge():
    """A half circle off a straight edge."""
    plate = Plate(outline=Rectangle(size=(0.1, 0.06)), holes=((0.05, 0.0, 0.01),), thickness=1.0)
    assert plate.area == pytest.approx(0.006 - math.pi * 25e-6 / 2, rel=1e-13)
    assert plate.pieces == 1


def test_many_overlapping_holes_by_inclusion_and_exclusion():
    """900 holes that all run into one another, as a lattice with holes wider than its pitch would give."""
    d, p = 0.011, 0.010
    holes = tuple((i * p, j * p, d) for i in range(30) for j in range(30))
    plate = Plate(outline=Rectangle(size=(0.4, 0.4), centre=(0.145, 0.145)), holes=holes, thickness=1.0)
    # Each of the 2·30·29 pairs of neighbours shares a lens; the diagonal ones (14 mm apart) don't reach each other.
    lens = d * d / 2 * math.acos(p / d) - p / 2 * math.sqrt(d * d - p * p)
    assert plate.area == pytest.approx(0.16 - 900 * math.pi * d * d / 4 + 2 * 30 * 29 * lens, rel=1e-11)
    # The leftovers between four holes are islands, and the frame around all.
    assert plate.pieces == 29 * 29 + 1


# ----------------------------------------------------------------------------------------------------- pieces and emptiness
def test_pieces():
    board = Rectangle(size=(0.2, 0.1))
    assert Plate(outline=board, cutouts=(Rectangle(size=(0.02, 0.2)),), thickness=1).pieces == 2
    frame = (Rectangle(size=(0.1, 0.01), centre=(0, 0.03)), Rectangle(size=(0.1, 0.01), centre=(0, -0.03)),
             Rectangle(size=(0.01, 0.07), centre=(0.045, 0)), Rectangle(size=(0.01, 0.07), centre=(-0.045, 0)))
    island = Plate(outline=board, cutouts=frame, thickness=1)
    assert island.pieces == 2
    assert island.area == pytest.approx(0.02 - (0.1 * 0.07 - 0.08 * 0.05), rel=1e-12)
    # Cut exactly in two along a shared edge of two windows; and windows that touch in a corner leave one piece.
    assert Plate(outline=board, thickness=1, cutouts=(
        Rectangle(size=(0.02, 0.05), centre=(0, 0.025)), Rectangle(size=(0.02, 0.05), centre=(0, -0.025)))).pieces == 2
    assert Plate(outline=board, thickness=1, cutouts=(
        Rectangle(size=(0.02, 0.02), centre=(0.01, 0.01)), Rectangle(size=(0.02, 0.02), centre=(-0.01, -0.01)))).pieces == 1


@pytest.mark.parametrize("cutouts", [
    (Rectangle(size=(0.2, 0.1)),), (Disc(radius=0.2),),
    (Rectangle(size=(0.1, 0.1), centre=(-0.05, 0)), Rectangle(size=(0.1, 0.1), centre=(0.05, 0)))])
def test_nothing_left_is_refused(cutouts):
    with pytest.raises(ValueError, match="nothing is left"):
        Plate(outline=Rectangle(size=(0.2, 0.1)), cutouts=cutouts, thickness=0.003)


@pytest.mark.parametrize("make", [
    lambda: Rectangle(size=(0.0, 1.0)), lambda: Rectangle(size=(1.0, 1.0), corner=0.6), lambda: Disc(radius=0.0),
    lambda: Slot(length=0.01, width=0.02), lambda: Polygon(points=((0, 0), (1, 1))),
    lambda: Plate(outline=Disc(radius=1.0), thickness=0.0), lambda: Disc(radius=math.nan)])
def test_shapes_that_are_none_are_refused(make):
    with pytest.raises(ValueError, match=r"needs|radius|slot"):
        make()


# ------------------------------------------------------------------------------------------------------- lattices and edges
@few
@given(seeds)
def test_lattice_holes_against_shapely(seed):
    """A circle lies in the plate when its centre is at least r from the edge, inside: shapely's distance to the ring of
    a finely faceted plate; within the facets' error either answer is right."""
    rng = random.Random(seed)
    plate = random_plate(rng, holes=False)
    origin, pitch, d = (rng.uniform(-0.01, 0.01), rng.uniform(-0.01, 0.01)), rng.uniform(0.008, 0.03), 0.0035
    found = set(lattice_holes(plate.outline, plate.cutouts, origin, pitch, d))
    face = plate.polygon(1024)
    reach = int(0.4 / pitch)
    for i in range(-reach, reach + 1):
        for j in range(-reach, reach + 1):
            p = Point(origin[0] + i * pitch, origin[1] + j * pitch)
            away = p.distance(face.boundary) * (1 if face.contains(p) else -1)
            if abs(away - d / 2) > 2e-6:
                assert ((i, j) in found) == (away > d / 2), (i, j, away)


def test_lattice_counts_and_skips():
    """11 × 7 points fit a 240 × 160 plate with rounded corners of 12 (count by hand: ±5, ±3); touching is in."""
    board = Rectangle(size=(0.24, 0.16), corner=0.012)
    all_of_them = lattice_holes(board, (), (0, 0), 0.02, 0.0035)
    assert all_of_them == [(i, j) for i in range(-5, 6) for j in range(-3, 4)]
    assert (0, 0) not in lattice_holes(board, (), (0, 0), 0.02, 0.0035, [(0, 0), (99, 99)])
    touching = Rectangle(size=(0.0435, 0.0035))
    assert lattice_holes(touching, (), (0, 0), 0.02, 0.0035) == [(-1, 0), (0, 0), (1, 0)]
    assert lattice_holes(Rectangle(size=(0.04349, 0.0035)), (), (0, 0), 0.02, 0.0035) == [(0, 0)]
    assert lattice_holes(Polygon(points=((-0.02175, -0.00175), (0.02175, -0.00175), (0.02175, 0.00175),
                                         (-0.02175, 0.00175))), (), (0, 0), 0.02, 0.0035) == [(-1, 0), (0, 0), (1, 0)]
    # A window's edge that just touches a hole leaves it whole.
    window = Rectangle(size=(0.02 - 0.0035, 0.01), centre=(0.01, 0))
    assert (0, 0) in lattice_holes(board, (window,), (0, 0), 0.02, 0.0035)


@few
@given(seeds)
def test_clearance_against_shapely(seed):
    rng = random.Random(seed)
    plate = random_plate(rng)
    face = plate.polygon(2048)
    points = np.array([(rng.uniform(-0.2, 0.2), rng.uniform(-0.2, 0.2)) for _ in range(60)])
    clear, inside = plate.clearance(points), plate.contains(points, with_holes=False)
    to_holes = plate.distance_to_holes(points)
    everything = plate.contains(points)
    for k, (x, y) in enumerate(points):
        p = Point(x, y)
        edge = p.distance(face.boundary)
        if edge < 1e-5:
            continue
        assert inside[k] == face.contains(p)
        if inside[k]:
            assert clear[k] == pytest.approx(edge, abs=1e-6)
            kind, number = plate.which_edge((x, y))
            shape = plate.outline if kind == "outline" else plate.cutouts[number]
            ring = Plate(outline=shape, thickness=1).polygon(2048).boundary
            assert p.distance(ring) == pytest.approx(edge, abs=1e-6)
        else:
            assert -p.distance(face) - 1e-6 <= clear[k] <= 1e-9
        gaps = [p.distance(Point(u, v)) - d / 2 for u, v, d in plate.holes] + [
            p.distance(g := Plate(outline=s, thickness=1).polygon(2048)) or -p.distance(g.boundary) for s in plate.slots]
        assert to_holes[k] == pytest.approx(min(gaps, default=math.inf), abs=1e-6)
        assert everything[k] == (inside[k] and to_holes[k] >= 0)


# ------------------------------------------------------------------------------------------------------- polygons and hulls
@pytest.mark.thorough
@few
@given(seeds)
def test_facets_keep_their_side(seed):
    plate = random_plate(random.Random(seed))
    core, plain, cover = (plate.polygon(32, True, f) for f in ("core", "inscribed", "cover"))
    fine = plate.polygon(4096, True)
    assert core.area <= plate.area * (1 + 1e-12) <= cover.area * (1 + 2e-12)
    assert core.difference(fine.buffer(1e-6)).area < 1e-12
    assert fine.difference(cover.buffer(1e-6)).area < 1e-12
    assert plain.is_valid
    # No further off than stated, shape by shape: r·(1/cos(π/n) - 1) with the largest radius about.
    worst = 0.15 * (1 / math.cos(math.pi / 32) - 1) + 1e-6
    for shape in (plate.outline, *plate.cutouts):
        one = Plate(outline=shape, thickness=1)
        assert one.polygon(32, facets="cover").difference(one.polygon(4096).buffer(worst)).area < 1e-12
        assert one.polygon(4096).difference(one.polygon(32, facets="core").buffer(worst)).area < 1e-12


@pytest.mark.thorough
@quick
@given(seeds)
def test_outer_points_span_the_hull(seed):
    from shapely.geometry import MultiPoint

    plate = random_plate(random.Random(seed))
    solid = Plate(outline=plate.outline, cutouts=plate.cutouts, thickness=1)
    hull = MultiPoint(solid.outer_points(128).tolist()).convex_hull
    true = solid.polygon(4096).convex_hull
    assert true.difference(hull.buffer(1e-7)).area < 1e-12
    assert hull.area <= true.area * (1 + 3e-3) + 1e-9
    assert hull.difference(true.buffer(0.25 * (1 / math.cos(math.pi / 128) - 1) + 1e-6)).area < 1e-12


@pytest.mark.parametrize("seed", range(12))
def test_support_is_that_of_the_faceted_plate(seed):
    """Between the chords within and the tangents without, both of 2048 to a circle (shapely's overlay)."""
    plate = random_plate(random.Random(seed), holes=False)
    inner, outer = (np.array(plate.polygon(2048, facets=kind).convex_hull.exterior.coords) for kind in ("inscribed", "cover"))
    for angle in np.linspace(0, 2 * math.pi, 17):
        way = (math.cos(angle), math.sin(angle))
        assert (inner @ way).max() - 1e-7 <= plate.support(way) <= (outer @ way).max() + 1e-7


def test_support_by_hand():
    """A rectangle of 80 × 60 with corners of 20: along a diagonal of 45° 30 √½ + 20, along x 40; half of a disc."""
    plate = Plate(outline=Rectangle(size=(0.08, 0.06), corner=0.02, centre=(0.1, 0)), thickness=0.003)
    s = math.sqrt(0.5)
    assert plate.support((s, s)) == pytest.approx(0.1 * s + 0.030 * s + 0.020, abs=1e-15)
    assert plate.support((-1.0, 0.0)) == pytest.approx(-0.06, abs=1e-15)
    half = Plate(outline=Disc(radius=0.1), cutouts=(Rectangle(size=(0.3, 0.3), centre=(0.15, 0)),), thickness=0.003)
    assert half.support((1.0, 0.0)) == pytest.approx(0.0, abs=1e-12)
    assert half.support((s, s)) == pytest.approx(0.1 * s, abs=1e-12)
    assert half.support((-s, s)) == pytest.approx(0.1, abs=1e-12)


# --------------------------------------------------------------------------------------------------------------- many
def test_a_plate_with_ten_thousand_holes_comes_out_right():
    outline = Rectangle(size=(2.0, 2.0), corner=0.1)
    wells = tuple(Rectangle(size=(0.3, 0.2), centre=(x, y)) for x in (-0.5, 0.5) for y in (-1, 1))
    found = lattice_holes(outline, wells, (0, 0), 0.0195, 0.0035)
    holes = tuple((0.0195 * i, 0.0195 * j, 0.0035) for i, j in found)
    body = Plate(outline=outline, cutouts=wells, holes=holes, thickness=0.004).inertial(700)
    assert len(holes) > 9500
    whole = Plate(outline=outline, cutouts=wells, thickness=0.004).inertial(700)
    assert body.mass == pytest.approx(whole.mass - len(holes) * math.pi * 0.00175**2 * 0.004 * 700, rel=1e-12)


def test_an_outline_with_a_thousand_corners_comes_out_right():
    a = np.linspace(0, 2 * math.pi, 1001)[:-1]
    outline = Polygon(points=tuple(zip((np.cos(a) * (1 + 0.1 * np.sin(9 * a))).tolist(),
                                       (np.sin(a) * (1 + 0.1 * np.sin(9 * a))).tolist())))
    well = Rectangle(size=(0.3, 0.2), centre=(0, 1))
    found = lattice_holes(outline, (well,), (0, 0), 0.0175, 0.0035)
    plate = Plate(outline=outline, cutouts=(well,), holes=tuple((0.0175 * i, 0.0175 * j, 0.0035) for i, j in found),
                  thickness=0.004)
    assert len(found) > 9000
    solid = plate.polygon().area
    assert plate.area == pytest.approx(solid - len(found) * math.pi * 0.00175**2, rel=1e-12)


def test_importing_plates_loads_no_heavy_library():
    code = "import sys, chassis_describe.space.plate.plate; print(sorted({'numpy', 'shapely'} & set(sys.modules)))"
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.strip() == "[]"


def test_translation_of_a_body():
    """`moved` of an Inertial by a shift leaves its tensor alone (UP1 10.5: about the own centre of mass)."""
    body = Plate(outline=Disc(radius=0.1), thickness=0.003).inertial(700)
    assert body.moved(translation(1, 2, 3)).inertia == body.inertia
