"""Plates and bodies against numbers printed in open textbooks, and against their formulas.

UP1: University Physics Volume 1, OpenStax. ESOI: Baker and Haynes, Engineering Statics: Open and Interactive, ch. 7
(centroids) and 10 (moments of inertia). Formulas: Wikipedia, "List of moments of inertia" and "List of second moments of
area"; parallel axes: UP1 10.5. "derived" marks numbers worked out from those formulas by hand for this purpose.
"""
from __future__ import annotations

import math

import numpy as np
import pytest

from chassis_describe.space.mass import Inertial, combined, of_solid, rotated
from chassis_describe.space.plate.plate import Disc, Plate, Polygon, Rectangle, Slot, lattice_holes
from chassis_describe.space.pose import IDENTITY, Pose, from_rpy, rot_z, translation
from chassis_describe.space.solids import Box, Cylinder, Sphere

MM = 1e-3
D1 = {"outline": Rectangle(size=(0.2, 0.16)), "thickness": 3 * MM}
ACRYLIC = 1190.0


def close(value, expected, rel=1e-9, floor=0.0):
    assert value == pytest.approx(expected, rel=rel, abs=floor)


def face(plate):
    """Area, centroid, and second moments (∫y², ∫x², ∫xy) about the plate's origin, by way of a mass of 1 per m²."""
    body = plate.inertial(1 / plate.thickness)
    x, y, _ = body.com
    through = body.mass * plate.thickness**2 / 12
    ixx, iyy, _, ixy, _, _ = body.inertia
    m = body.mass
    return m, (x, y), ixx - through + m * y * y, iyy - through + m * x * x, -ixy + m * x * y


def scaled(points, by=1.0):
    return Polygon(points=tuple((x * by, y * by) for x, y in points))


# ------------------------------------------------------------------------------------------------- drilled plates, derived
def test_solid_plate():
    """Cuboid formula m/12·(h² + d²)."""
    body = Plate(**D1).inertial(ACRYLIC)
    close(body.mass, 0.11424)
    close(body.inertia[:3], [m * 0.11424 / 12 for m in (0.16**2 + 9e-6, 0.2**2 + 9e-6, 0.16**2 + 0.2**2)])
    assert body.com == (0.0, 0.0, -1.5e-3)
    assert body.inertia[3:] == (0.0, 0.0, 0.0)


def test_lattice_of_63_holes():
    """Cuboid less 63 cylinders by parallel axes (derived)."""
    holes = lattice_holes(D1["outline"], (), (0.0, 0.0), 20 * MM, 3.5 * MM)
    assert len(holes) == 9 * 7
    body = Plate(**D1, holes=tuple((0.02 * i, 0.02 * j, 3.5 * MM) for i, j in holes)).inertial(ACRYLIC)
    close(body.mass, 0.1120761122)
    close(body.inertia[:3], (2.4033217990e-4, 3.7511203293e-4, 6.1527609866e-4))


def test_two_holes_off_centre():
    """Sign of the product of inertia: ixy = -∫xy dm, positive when mass is missing where xy > 0 (derived)."""
    body = Plate(**D1, holes=((0.03, 0.04, 3.5 * MM), (0.05, 0.04, 3.5 * MM))).inertial(ACRYLIC)
    close(body.mass, 0.1141713051)
    close(body.com[:2], (-2.40673e-5, -2.40673e-5), rel=1e-6)
    close(body.inertia[:4], (2.4368759799e-4, 3.8076872851e-4, 6.2428506954e-4, 1.0997789e-7), rel=1e-7)


def test_one_large_hole_off_centre():
    """Derived; a sum over 2000² squares agreed to 1e-4."""
    expected = (2.39143085e-4, 3.68759776e-4, 6.07738231e-4, 7.00435e-6)
    for plate in (Plate(**D1, holes=((0.05, 0.03, 0.04),)),
                  Plate(**D1, cutouts=(Disc(radius=0.02, centre=(0.05, 0.03)),))):
        body = plate.inertial(ACRYLIC)
        close(body.mass, 0.10975381, rel=1e-7)
        close(body.com[:2], (-2.04375e-3, -1.22625e-3), rel=1e-5)
        close(body.inertia[:4], expected, rel=1e-6)


def test_share_that_an_endless_lattice_removes():
    """π/4·d²/p² of one cell (plane geometry)."""
    outline = Rectangle(size=(0.02, 0.02))
    cell = Plate(outline=outline, holes=((0.0, 0.0, 3.5 * MM),), thickness=1.0)
    close(1 - cell.area / 4e-4, 0.024053, rel=1e-4)


# ----------------------------------------------------------------------------------------------------------- rigid bodies
def test_wheel_cylinder_about_the_joint_axis():
    """Solid cylinder formula; rpy (-π/2, 0, 0) lays z along y (derived)."""
    own = of_solid(Cylinder(0.0325, 0.026), 0.05, IDENTITY)
    close(own.inertia[:3], (1.60197917e-5, 1.60197917e-5, 2.640625e-5), rel=1e-8)
    laid = own.moved(Pose(from_rpy(-math.pi / 2, 0, 0)))
    close(laid.inertia[:3], (1.60197917e-5, 2.640625e-5, 1.60197917e-5), rel=1e-8)


def test_yawed_box():
    """R I Rᵀ (derived)."""
    body = of_solid(Box((0.12, 0.06, 0.04)), 0.3, Pose(rot_z(math.radians(30))))
    close(body.inertia, (1.3e-4 * 0.75 + 4.0e-4 * 0.25, 3.325e-4, 4.5e-4, -1.1691343e-4, 0.0, 0.0), rel=1e-7, floor=1e-18)
    close(body.inertia[0], 1.975e-4)


def test_plate_and_yawed_box_together():
    """Parallel axes in three dimensions (UP1 10.5; derived)."""
    plate = Plate(**D1).inertial(ACRYLIC).moved(translation(0, 0, 1.5e-3))
    box = of_solid(Box((0.12, 0.06, 0.04)), 0.3, Pose(rot_z(math.radians(30)), (-0.04, 0.01, 0.025)))
    both = combined([plate, box])
    close(both.mass, 0.41424)
    close(both.com, (-0.02896871, 0.00724218, 0.01810545), rel=1e-6)
    close(both.inertia, (5.0128030e-4, 8.9747030e-4, 1.2151609e-3, -8.38196e-5, 8.27346e-5, -2.06837e-5), rel=3e-6)
    xx, yy, zz, xy, xz, yz = both.inertia
    values = np.linalg.eigvalsh([[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]])
    close(values, (4.7623e-4, 9.1024e-4, 1.22744e-3), rel=1e-5)


def about(body, axis_point, axis=2):
    """Moment about a line through a point along an axis, by the parallel-axis theorem through ``combined``."""
    anchor = Inertial(1e18, axis_point, (0.0,) * 6)  # so heavy that the common centre of mass stays there
    return combined([body, anchor]).inertia[axis]


def test_merry_go_round():
    """UP1 10.5: child 25 kg at 1.0 m on a disk of 500 kg, radius 2.0 m: 25 + 1000 = 1025 kg·m²."""
    disk = of_solid(Cylinder(2.0, 0.1), 500, IDENTITY)
    child = Inertial(25, (1.0, 0, 0), (0.0,) * 6)
    close(combined([disk, child, Inertial(25, (-1.0, 0, 0), (0.0,) * 6)]).inertia[2] - 25, 1025)


def test_rod_and_sphere():
    """UP1 10.5: 0.673 about the far end of the rod, 0.223 about the junction (their rod is thin)."""
    rod = of_solid(Box((0.5, 1e-9, 1e-9)), 2.0, translation(0.25, 0, 0))
    ball = of_solid(Sphere(0.2), 1.0, translation(0.7, 0, 0))
    for x, expected in ((0.0, 0.672667), (0.5, 0.222667)):
        both = combined([rod, ball])
        close(both.inertia[2] + both.mass * (both.com[0] - x) ** 2, expected, rel=1e-5)


def test_washers():
    """UP1 10.4: six washers of 20 g at ±5, ±15, ±25 cm: 0.0035 kg·m²; the four outer ones 0.0034."""
    washers = [Inertial(0.02, (s * x, 0, 0), (0.0,) * 6) for x in (0.05, 0.15, 0.25) for s in (1, -1)]
    assert round(combined(washers).inertia[2], 4) == 0.0035
    assert round(combined(washers[2:]).inertia[2], 4) == 0.0034


def test_disk_with_annulus():
    """UP1 10.4, problem at the end of the chapter: 2.0 kg disk r 0.50 m, 1.0 kg annulus 0.20/0.30 m: 0.315 kg·m²."""
    disk = Plate(outline=Disc(radius=0.5), thickness=0.01)
    ring = Plate(outline=Disc(radius=0.3), cutouts=(Disc(radius=0.2),), thickness=0.01)
    both = combined([p.inertial(1.0).scaled(m) for p, m in ((disk, 2.0), (ring, 1.0))])
    close(both.inertia[2], 0.315)


def test_block_with_hole_and_wedge():
    """ESOI ch. 7, "3D Center of Mass": (-3.22, 2.59, 3.37) ft, by weight."""
    block, hole, wedge = 216 * 125, -50.27 * 125, 12 * 493
    body = combined([Inertial(block, (-3, 2, 4.5), (0.0,) * 6), Inertial(hole, (-3, 2, 6), (0.0,) * 6),
                     Inertial(wedge, (-4, 4.67, 1), (0.0,) * 6)])
    assert round(body.mass) == 26632 or round(body.mass) == 26633
    close(body.com, (-3.22, 2.59, 3.37), rel=2e-3)


def test_three_boxes():
    """ESOI ch. 7, "Simple Center of Gravity": 50, 10, 30 N at 0, 1.2, 2.0 m: 0.8 m."""
    body = combined([Inertial(w, (x, 0, 0), (0.0,) * 6) for w, x in ((50, 0), (10, 1.2), (30, 2.0))])
    close(body.com[0], 0.8)


# ------------------------------------------------------------------------------------------------------------------ areas
def test_circular_ring():
    """ESOI ch. 10, "Circular Ring": Ri 30, Ro 45, centre 125 mm from the y axis: 57.8e6 mm⁴."""
    ring = Plate(outline=Disc(radius=45, centre=(125, 0)), cutouts=(Disc(radius=30, centre=(125, 0)),), thickness=1)
    _, _, _, iy, _ = face(ring)
    close(iy, 57_807_759.2, rel=1e-8)
    close(iy, 57.8e6, rel=1e-3)


def test_t_shape():
    """ESOI ch. 10, "T Shape": 11.04e6 and 8.64e6 mm⁴; the rest by hand from the same two rectangles."""
    points = ((30, 0), (60, 0), (60, 60), (90, 60), (90, 80), (0, 80), (0, 60), (30, 60))
    for order in (points, points[::-1]):
        area, centre, ix, iy, ixy = face(Plate(outline=scaled(order), thickness=1))
        close([area, *centre, ix, iy, ixy], [3600, 45, 50, 11.04e6, 8.64e6, 8.1e6])


def test_t_shape_as_a_rectangle_less_two():
    """The same T cut out of a board by two rectangles that go past its edges."""
    board = Plate(outline=Rectangle(size=(90, 80), centre=(45, 40)), thickness=1,
                  cutouts=(Rectangle(size=(50, 80), centre=(5, 20)), Rectangle(size=(50, 80), centre=(85, 20))))
    area, centre, ix, iy, ixy = face(board)
    close([area, *centre, ix, iy, ixy], [3600, 45, 50, 11.04e6, 8.64e6, 8.1e6])


def test_concrete_pipe_casing():
    """ESOI ch. 10, "Concrete Pipe Casing": 3202 and 18951 in⁴; one polygon of rectangle and triangle, less a hole."""
    outline = scaled(((0, -8), (22, -8), (14, 2), (0, 2)))
    area, _, ix, iy, _ = face(Plate(outline=outline, cutouts=(Disc(radius=3, centre=(7, -3)),), thickness=1))
    close(area, 151.7257, rel=1e-6)
    # The book puts the triangle's centroid at 16.67 and -4.67, rounded; the exact thirds move the sums by 2e-4.
    close((ix, iy), (3202, 18951), rel=3e-4)


def test_right_triangle():
    """ESOI ch. 10, "Centroidal Moment of Inertia of a Triangle": bh³/36, b³h/36."""
    body = Plate(outline=scaled(((0, 0), (4, 0), (4, 3))), thickness=1).inertial(1.0)
    close(body.mass, 6)
    close(body.com[:2], (8 / 3, 1))
    close((body.inertia[0] - 0.5, body.inertia[1] - 0.5, -body.inertia[3]), (3, 16 / 3, 2))


def test_disc_and_ring():
    """Circle: πr⁴/4; ring: the difference ("List of second moments of area")."""
    for outer, inner in ((0.09, None), (0.09, 0.03)):
        cut = () if inner is None else (Disc(radius=inner, centre=(0.2, -0.1)),)
        area, centre, *_ = face(plate := Plate(outline=Disc(radius=outer, centre=(0.2, -0.1)), cutouts=cut, thickness=1))
        close((area, *centre), (math.pi * (outer**2 - (inner or 0) ** 2), 0.2, -0.1))
        body = plate.inertial(1.0)
        close(body.inertia[2], math.pi / 2 * (outer**4 - (inner or 0) ** 4))


def test_rounded_rectangle():
    """Square with corner r: rectangle less four spandrels, area r²(1 - π/4), by the quarter circle's own moments:
    I = πr⁴/16 about its straight edge, centroid 4r/3π from it ("List of second moments of area")."""
    a, b, r = 0.24, 0.16, 0.03
    body = Plate(outline=Rectangle(size=(a, b), corner=r), thickness=1).inertial(1.0)
    square = (r * r, r**4 / 12, r / 2)  # area, own moment, distance of its middle from the arc's centre
    quarter = (math.pi * r * r / 4, math.pi * r**4 / 16 - math.pi * r * r / 4 * (4 * r / 3 / math.pi) ** 2,
               4 * r / 3 / math.pi)
    close(body.mass, a * b - 4 * (square[0] - quarter[0]))
    for side, other, axis in ((b, a, 0), (a, b, 1)):
        own = other * side**3 / 12
        for sign, (area, i, offset) in ((-4, square), (4, quarter)):
            own += sign * (i + area * (side / 2 - r + offset) ** 2)
        close(body.inertia[axis] - body.mass / 12, own)


@pytest.mark.parametrize("turn", [0.0, 0.4, math.pi / 2, 2.5])
def test_slot(turn):
    """Stadium: rectangle and two half circles (centroid 4r/3π; own moments πr⁴/8 about the flat edge)."""
    length, width = 0.05, 0.012
    r, a = width / 2, length - width
    plate = Plate(outline=Slot(length=length, width=width, turn=turn, centre=(0.3, 0.1)), thickness=1)
    body = plate.inertial(1.0)
    close(body.mass, a * width + math.pi * r * r)
    close(body.com[:2], (0.3, 0.1))
    half = math.pi * r * r / 2
    along = a * width**3 / 12 + math.pi * r**4 / 4
    across = a**3 * width / 12 + 2 * (math.pi * r**4 / 8 - half * (4 * r / 3 / math.pi) ** 2
                                      + half * (a / 2 + 4 * r / 3 / math.pi) ** 2)
    through = body.mass / 12
    expected = rotated((along + through, across + through, along + across, 0, 0, 0), rot_z(turn))
    close(body.inertia, expected, floor=1e-18)
