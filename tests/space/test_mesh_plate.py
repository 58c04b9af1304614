"""Meshes of plates, judged by trimesh: closed, one way round, of the plate's volume and inertia within the chords."""
from __future__ import annotations

import io
import math
import random
import struct

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from chassis_describe.space.plate.mesh import CHORD, plate_mesh, segments_for, stl
from chassis_describe.space.plate.plate import Disc, Plate, Polygon, Rectangle, Slot, lattice_holes
from chassis_describe.space.plate.triangulate import triangulate

trimesh = pytest.importorskip("trimesh")


def read(triangles):
    return trimesh.load(io.BytesIO(stl(triangles)), file_type="stl")


def drilled(outline, cutouts=(), pitch=0.02, diameter=0.0035, **more):
    holes = tuple((i * pitch, j * pitch, diameter)
                  for i, j in lattice_holes(outline, cutouts, (0, 0), pitch, diameter))
    return Plate(outline=outline, cutouts=cutouts, holes=holes, thickness=0.004, **more)


def chord_factor(n):
    """Area of a regular n-gon over that of its circle (plane geometry)."""
    return math.sin(2 * math.pi / n) / (2 * math.pi / n)


WELLS = (Rectangle(size=(0.07, 0.03), centre=(0, 0.07)), Rectangle(size=(0.07, 0.03), centre=(0, -0.07)))
L_SHAPE = Polygon(points=((0, 0), (0.3, 0), (0.3, 0.1), (0.1, 0.1), (0.1, 0.25), (0, 0.25)))
PLATES = {
    "rectangle": drilled(Rectangle(size=(0.24, 0.16))),
    "rounded, with wells": drilled(Rectangle(size=(0.24, 0.16), corner=0.012), WELLS),
    "disc, with wells and slot": drilled(Disc(radius=0.1), WELLS, slots=(
        Slot(length=0.03, width=0.004, turn=0.5, centre=(0.01, 0.01)),)),
    "L": drilled(L_SHAPE),
    "ring": Plate(outline=Disc(radius=0.1), cutouts=(Disc(radius=0.099),), thickness=0.0003),
}


@pytest.mark.parametrize("name", PLATES)
def test_closed_and_true(name):
    plate = PLATES[name]
    mesh = read(plate_mesh(plate))
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.body_count == 1
    assert (mesh.area_faces > 0).all()
    # Every circle loses at most the share of a chord's depth on both sides.
    assert mesh.volume == pytest.approx(plate.volume, rel=2e-3 if name != "ring" else 0.1)
    mesh.density = 700.0 * plate.volume / mesh.volume
    want = plate.inertial(700.0)
    if name != "ring":
        assert mesh.center_mass == pytest.approx(want.com, abs=1e-4)
        got = mesh.moment_inertia
        assert np.diag(got) == pytest.approx(want.inertia[:3], rel=2e-3)
    low, high = mesh.bounds
    x0, y0, x1, y1 = plate.outline.bounds
    assert (*low, *high) == pytest.approx((x0, y0, -plate.thickness, x1, y1, 0.0), abs=1e-7)


def test_holes_are_through_and_counted():
    """Euler's number of a slab with h holes through it is 2 - 2h."""
    plate = PLATES["rectangle"]
    assert len(plate.holes) == 11 * 7
    assert read(plate_mesh(plate)).euler_number == 2 - 2 * 77


def test_volume_by_chords_exactly():
    """Rectangle less n-gons: no other error is left but single precision."""
    plate = PLATES["rectangle"]
    for n in (8, 12, 40):
        mesh = read(plate_mesh(plate, n))
        area = 0.24 * 0.16 - 77 * math.pi * 0.00175**2 * chord_factor(n)
        assert mesh.volume == pytest.approx(area * 0.004, rel=1e-6)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6))
def test_random_plates(seed):
    """Cutouts that cross the outline and one another, holes anywhere."""
    rng = random.Random(seed)
    outline = rng.choice([Rectangle(size=(0.24, 0.16), corner=rng.choice([0, 0.02, 0.08])), Disc(radius=0.1), L_SHAPE])
    cutouts = []
    for _ in range(rng.randint(0, 4)):
        centre = (rng.uniform(-0.12, 0.2), rng.uniform(-0.12, 0.2))
        cutouts.append(rng.choice([
            Rectangle(size=(rng.uniform(0.01, 0.08), 0.03), corner=rng.choice([0, 0.005]), centre=centre),
            Disc(radius=rng.uniform(0.005, 0.03), centre=centre),
            Polygon(points=tuple((centre[0] + 0.03 * math.cos(a), centre[1] + 0.02 * math.sin(a))
                                 for a in sorted(rng.uniform(0, 6) for _ in range(5))))]))
    holes = tuple((rng.uniform(-0.1, 0.2), rng.uniform(-0.1, 0.2), rng.uniform(0.002, 0.01)) for _ in range(40))
    plate = Plate(outline=outline, cutouts=tuple(cutouts), holes=holes, thickness=0.004)
    triangles = plate_mesh(plate, 48)
    mesh = read(triangles)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    curves = sum(math.pi * s.radius**2 for s in (outline, *cutouts) if isinstance(s, Disc)) + sum(
        math.pi * d * d / 4 for _, _, d in holes) + 4e-4 * (not isinstance(outline, Disc)) + 0.02 * (
        getattr(outline, "corner", 0) > 0.05)
    assert mesh.volume == pytest.approx(plate.volume, abs=0.004 * curves * (1 - chord_factor(48)) + 1e-10)
    # The faces are flat on z = 0 and z = -thickness, and up and down.
    top = triangles[(triangles[:, :, 2] == 0).all(axis=1)]
    cross = np.cross(top[:, 1] - top[:, 0], top[:, 2] - top[:, 0])
    assert cross[:, 2].min() > -1e-15
    assert cross[:, 2].sum() / 2 == pytest.approx(plate.area, abs=curves * (1 - chord_factor(48)) + 1e-8)


def test_pieces_come_out_as_bodies():
    plate = Plate(outline=Rectangle(size=(0.2, 0.1)), cutouts=(Rectangle(size=(0.02, 0.2)),), thickness=0.003)
    assert read(plate_mesh(plate)).body_count == plate.pieces == 2


def test_a_web_thinner_than_the_chords_stray():
    """A hole 1 µm from a round edge: the chord of the edge would cut it; the mesh must close all the same."""
    plate = Plate(outline=Disc(radius=0.1), holes=((0.1 * math.cos(0.1) - 0.003 - 1e-6, 0.1 * math.sin(0.1), 0.004),),
                  thickness=0.003)
    mesh = read(plate_mesh(plate, 24))
    assert mesh.is_watertight
    assert mesh.volume == pytest.approx(plate.volume, rel=0.02)


def test_chords_keep_their_distance():
    for radius in (0.0005, 0.00175, 0.006, 0.05, 1.0):
        n = segments_for(radius)
        assert n % 4 == 0
        assert 8 <= n <= 128
        assert radius * (1 - math.cos(math.pi / n)) <= CHORD or n == 128


def test_the_mesh_of_ten_thousand_holes():
    plate = drilled(Rectangle(size=(2.0, 2.0)), pitch=0.0198)
    assert len(plate.holes) == 101 * 101
    data = stl(plate_mesh(plate))
    assert len(data) < 25e6
    (count,) = struct.unpack("<I", data[80:84])
    # v corners and h holes leave v + 2h - 2 triangles on each face (Euler), 2v on the walls.
    v, h = 4 + 8 * len(plate.holes), len(plate.holes)
    assert count == 2 * (v + 2 * h - 2) + 2 * v


def test_binary_stl_layout():
    """80 bytes of header that don't begin with "solid", a count, 50 bytes a triangle (L. Burns, "Automated Fabrication",
    1993, section 6.5, the binary format; from memory)."""
    triangles = plate_mesh(PLATES["rectangle"])
    data = stl(triangles)
    assert data == stl(plate_mesh(PLATES["rectangle"]))
    assert not data.startswith(b"solid")
    (count,) = struct.unpack("<I", data[80:84])
    assert count == len(triangles)
    assert len(data) == 84 + 50 * count
    nx, ny, nz, *corners = struct.unpack("<12f", data[84:132])
    assert (nx, ny, nz) == (0.0, 0.0, 1.0)
    assert np.array(corners).reshape(3, 3) == pytest.approx(triangles[0])
    with pytest.raises(ValueError, match="solid"):
        stl(triangles, header="solid plate")


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10**6))
def test_triangles_of_random_stars(seed):
    """Areas add up, none is turned over, and there are n - 2 + 2h of them; corners on a grid, so that many are in line."""
    rng = random.Random(seed)
    n = rng.randint(3, 40)
    ring = [(round(1000 * r * math.cos(2 * math.pi * k / n)) / 1000, round(1000 * r * math.sin(2 * math.pi * k / n)) / 1000)
            for k in range(n) for r in [rng.uniform(0.5, 1.0)]]
    holes = [[(x + dx, y + dy) for dx, dy in ((0, 0), (0, 0.02), (0.02, 0.02), (0.02, 0))]
             for x in (-0.15, 0.0, 0.15) for y in (-0.15, 0.0, 0.15)] if n > 8 else []
    points = [p for loop in [ring, *holes] for p in loop]
    triangles = triangulate([ring, *holes])
    areas = [((points[b][0] - points[a][0]) * (points[c][1] - points[a][1])
              - (points[b][1] - points[a][1]) * (points[c][0] - points[a][0])) / 2 for a, b, c in triangles]
    area = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, ring[1:] + ring[:1])) / 2
    assert min(areas) > -1e-12
    assert sum(areas) == pytest.approx(area - 4e-4 * len(holes), rel=1e-12)
    assert len(triangles) == len(points) - 2 + 2 * len(holes)
