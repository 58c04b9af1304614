"""Collision covers of plates, judged by shapely: nothing of the plate is left out, nothing stands where it must not."""
from __future__ import annotations

import math
import random

import pytest
from hypothesis import given, settings, strategies as st
from shapely.geometry import Point, Polygon as Area
from shapely.ops import unary_union

from chassis_describe.space.cover.cover import cover
from chassis_describe.space.plate.plate import Disc, Plate, Polygon, Rectangle
from chassis_describe.space.solids import Box, Cylinder

INTO = 0.5e-3


def areas(solids):
    for solid, pose in solids:
        if isinstance(solid, Cylinder):
            yield Point(pose.t[:2]).buffer(solid.radius / math.cos(math.pi / 4096), 1024)
        else:
            w, h, _ = solid.size
            yield Area([pose.point((x * w / 2, y * h / 2, 0))[:2] for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))])


def alone(shape, facets):
    return Plate(outline=shape, thickness=1).polygon(4096, facets=facets)


def judge(plate, free=()):
    """The three promises; returns the solids."""
    solids = cover(plate, frozenset(free))
    # Each grown by a nanometre: GEOS (3.13) was seen to lose a box whose edges nearly coincide with its neighbours'.
    union = unary_union([a.buffer(1e-9, join_style=2) for a in areas(solids)])
    solid = Plate(outline=plate.outline, cutouts=plate.cutouts, thickness=plate.thickness)
    assert solid.polygon(512).difference(union).area < 2e-9  # the hollow sides of chords, from free discs
    assert solid.polygon(512, facets="core").difference(union).area < 1e-12
    x0, y0, x1, y1 = plate.outline.bounds
    past = max(3e-3, 0.02 * max(x1 - x0, y1 - y0))
    assert union.difference(alone(plate.outline, "cover").buffer(past + 1e-7, 256)).area < 1e-12
    for k in free:
        assert union.intersection(alone(plate.cutouts[k], "core").buffer(-INTO)).area < 1e-12
    for body, pose in solids:
        height = body.size[2] if isinstance(body, Box) else body.length
        assert height == plate.thickness
        assert pose.t[2] == -plate.thickness / 2
        assert pose.z_axis == (0.0, 0.0, 1.0)
    return solids


def well(y, length=0.07, width=0.03, corner=0.0, x=0.0):
    return Rectangle(size=(length, width), corner=corner, centre=(x, y))


def turned(shape, angle):
    x0, y0, x1, y1 = shape.bounds
    c, s = math.cos(angle), math.sin(angle)
    x, y = (x0 + x1) / 2, (y0 + y1) / 2
    return Polygon(points=tuple((x + (u - x) * c - (v - y) * s, y + (u - x) * s + (v - y) * c)
                                for u, v in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))))


BOARD = Rectangle(size=(0.24, 0.16), corner=0.012)
WELLS = (well(0.07), well(-0.07))
L_SHAPE = Polygon(points=((0, 0), (0.3, 0), (0.3, 0.1), (0.1, 0.1), (0.1, 0.25), (0, 0.25)))
U_SHAPE = Polygon(points=((0, 0), (0.3, 0), (0.3, 0.2), (0.29, 0.2), (0.29, 0.01), (0.01, 0.01), (0.01, 0.2), (0, 0.2)))


def test_plain_plates_are_one_solid():
    (box, pose), = judge(Plate(outline=Rectangle(size=(0.2, 0.1), centre=(0.03, 0.01)), thickness=0.003))
    assert box == Box((0.2, 0.1, 0.003))
    assert pose.t == pytest.approx((0.03, 0.01, -0.0015), abs=1e-15)
    (rod, pose), = judge(Plate(outline=Disc(radius=0.09, centre=(0.01, 0)), thickness=0.003))
    assert rod == Cylinder(0.09, 0.003)
    assert pose.t == (0.01, 0.0, -0.0015)
    # Small round corners are within the allowance; windows may be filled.
    windows = (Disc(radius=0.02), well(0.0, x=0.08))
    assert len(judge(Plate(outline=Rectangle(size=(0.24, 0.16), corner=0.01), cutouts=windows, thickness=0.003))) == 1
    assert len(judge(Plate(outline=Disc(radius=0.09), cutouts=windows[:1], thickness=0.003))) == 1


@pytest.mark.parametrize(("plate", "free", "most"), [
    (Plate(outline=BOARD, cutouts=WELLS, thickness=0.004), (0, 1), 5),
    (Plate(outline=Rectangle(size=(0.24, 0.16)), cutouts=WELLS, thickness=0.004), (0, 1), 3),
    (Plate(outline=Disc(radius=0.1), cutouts=WELLS, thickness=0.004), (0, 1), 32),
    (Plate(outline=Rectangle(size=(0.24, 0.16), corner=0.08), cutouts=WELLS, thickness=0.004), (0, 1), 32),
    (Plate(outline=BOARD, cutouts=(well(0.05), well(-0.05)), thickness=0.004), (0, 1), 9),
    (Plate(outline=L_SHAPE, thickness=0.004), (), 2),
    (Plate(outline=U_SHAPE, thickness=0.004), (), 3),
    (Plate(outline=Polygon(points=tuple((0.1 * math.cos(k * math.pi / 3), 0.1 * math.sin(k * math.pi / 3))
                                        for k in range(6))), thickness=0.004), (), 32),
    (Plate(outline=turned(Rectangle(size=(0.24, 0.16)), 0.5), thickness=0.004), (), 1),
    (Plate(outline=turned(Rectangle(size=(0.24, 0.16)), 0.5), thickness=0.004,
           cutouts=(turned(well(0.0), 0.5),)), (0,), 4),
])
def test_few_boxes_suffice(plate, free, most):
    assert len(judge(plate, free)) <= most


@pytest.mark.parametrize(("plate", "free", "most"), [
    (Plate(outline=BOARD, cutouts=(well(0.06, corner=0.01), well(-0.06, corner=0.01)), thickness=0.004), (0, 1), 32),
    (Plate(outline=BOARD, cutouts=(Disc(radius=0.035, centre=(0, 0.07)), Disc(radius=0.035, centre=(0, -0.07))),
           thickness=0.004), (0, 1), 32),
    (Plate(outline=BOARD, cutouts=(turned(well(0.06), 0.5), turned(well(-0.06), 0.5)), thickness=0.004), (0, 1), 33),
    (Plate(outline=BOARD, cutouts=(L_SHAPE,), thickness=0.004), (0,), 5),
    (Plate(outline=Disc(radius=0.1), cutouts=(well(-0.08), turned(well(0.02), 0.8)), thickness=0.004), (1,), 40),
])
def test_hard_wells_keep_their_space(plate, free, most):
    """Boxes that follow slopes and curves within half a millimetre; by the count, the lining of edges works."""
    assert len(judge(plate, free)) <= most


DECK = Disc(radius=0.16)


def disc_pair(y, radius):
    return Disc(radius=radius, centre=(0, y)), Disc(radius=radius, centre=(0, -y))


@pytest.mark.parametrize(("outline", "wells", "most"), [  # invented plates of common proportions
    (DECK, disc_pair(0.13, 0.05), 32),  # round wells across the rim
    (DECK, (well(0.12, 0.1, 0.04, 0.01), well(-0.12, 0.1, 0.04, 0.01)), 32),
    (DECK, (well(0.12, 0.1, 0.04), well(-0.12, 0.1, 0.04)), 32),
    (BOARD, disc_pair(0.06, 0.045), 32),
    (BOARD, disc_pair(0.08, 0.045), 32),
    (BOARD, (turned(well(0.06), 0.5), turned(well(-0.06), 0.5)), 32),
    (Disc(radius=0.1), (turned(well(0.02), 0.8),), 32),
    # One box beyond a tangent takes 2·acos(44.5/45) = 17° of a round well of 45 mm: 22 each, and only some of
    # them can serve both wells.
    (DECK, disc_pair(0.1, 0.045), 60),
])
def test_round_and_turned_wells_take_few_boxes(outline, wells, most):
    plate = Plate(outline=outline, cutouts=wells, thickness=0.004)
    assert len(judge(plate, range(len(wells)))) <= most


@pytest.mark.thorough
@settings(max_examples=3, deadline=None)
@given(st.integers(0, 10**6))
def test_random_plates_with_round_and_turned_wells(seed):
    rng = random.Random(seed)
    outline = rng.choice([DECK, BOARD, turned(BOARD, rng.uniform(0, 3)), Rectangle(size=(0.3, 0.2), corner=0.05)])
    wells = []
    for side in (1, -1):
        x, y = rng.uniform(-0.03, 0.03), side * rng.uniform(0.07, 0.13)
        wells.append(rng.choice([Disc(radius=rng.uniform(0.03, 0.05), centre=(x, y)), well(y, 0.09, 0.04, 0.012, x=x),
                                 turned(well(y, 0.09, 0.04, x=x), rng.uniform(0, 3))]))
    try:
        plate = Plate(outline=outline, cutouts=tuple(wells), thickness=0.004)
    except ValueError:
        return
    judge(plate, (0, 1))


def test_many_corners():
    a = [2 * math.pi * k / 400 for k in range(400)]
    outline = Polygon(points=tuple(((0.2 + 0.02 * math.sin(9 * t)) * math.cos(t), (0.2 + 0.02 * math.sin(9 * t)) * math.sin(t))
                                   for t in a))
    judge(Plate(outline=outline, cutouts=WELLS, thickness=0.004), (0, 1))


def test_a_well_beyond_the_plate_changes_nothing():
    plate = Plate(outline=Rectangle(size=(0.2, 0.1)), cutouts=(well(0.3),), thickness=0.003)
    assert len(judge(plate, (0,))) == 1


def test_holes_do_not_matter():
    holes = tuple((0.02 * i, 0.02 * j, 0.0035) for i in range(-5, 6) for j in range(-2, 3))
    assert cover(Plate(outline=BOARD, cutouts=WELLS, holes=holes, thickness=0.004), {0, 1}) == cover(
        Plate(outline=BOARD, cutouts=WELLS, thickness=0.004), frozenset({0, 1}))


@pytest.mark.thorough
@settings(max_examples=14, deadline=None)
@given(st.integers(0, 10**6))
def test_random_plates_with_wells(seed):
    rng = random.Random(seed)
    outline = rng.choice([
        Rectangle(size=(0.24, 0.16), corner=rng.choice([0, 0.012, 0.03, 0.08])), Disc(radius=rng.uniform(0.05, 0.2)),
        L_SHAPE, U_SHAPE, turned(BOARD, rng.uniform(0, 3)),
        Polygon(points=tuple((0.15 * math.cos(k), 0.1 * math.sin(k)) for k in sorted(rng.uniform(0, 6.2) for _ in range(7))))])
    wells = []
    for _ in range(rng.randint(0, 3)):
        x, y = rng.uniform(-0.12, 0.2), rng.uniform(-0.12, 0.2)
        wells.append(rng.choice([
            well(y, x=x), well(y, x=x, corner=0.006), Disc(radius=0.02, centre=(x, y)),
            turned(well(y, 0.03, 0.07, x=x), rng.uniform(0, 3))]))
    try:
        plate = Plate(outline=outline, cutouts=tuple(wells), thickness=0.004)
    except ValueError:
        return
    judge(plate, [k for k in range(len(wells)) if rng.random() < 0.8])


def test_the_cover_of_ten_thousand_holes_is_three_boxes():
    holes = tuple((0.0198 * i, 0.0198 * j, 0.0035) for i in range(-50, 51) for j in range(-50, 51) if abs(j) < 44)
    plate = Plate(outline=Rectangle(size=(2.1, 2.1)), cutouts=(well(0.98, 0.3, 0.2), well(-0.98, 0.3, 0.2)), holes=holes,
                  thickness=0.004)
    assert len(cover(plate, (0, 1))) == 3


def test_no_box_is_a_sliver():
    """Rectangles with wells: a strip that would be 0.3 mm wide is a millimetre, as far as the limits let it."""
    for corner in (0.0, 0.01, 0.012, 0.0121):
        for inset in (0.0, 0.0001, 0.0003, 0.0007, 0.002):
            outline = Rectangle(size=(0.24, 0.16), corner=corner)
            wells = tuple(Rectangle(size=(0.1 + 2 * inset, 0.03), centre=(0.12 - 0.05 - corner, y)) for y in (-0.065, 0.065))
            for solid in judge(Plate(outline=outline, cutouts=wells, thickness=0.004), (0, 1)):
                assert min(solid[0].size[:2]) >= 0.999e-3


def test_a_plate_that_is_thin_itself_has_thin_boxes():
    tongue = Polygon(points=((0, 0), (0.1, 0), (0.1, 0.05), (0.15, 0.05), (0.15, 0.0506), (0.1, 0.0506), (0.1, 0.1), (0, 0.1)))
    judge(Plate(outline=tongue, thickness=0.003))
