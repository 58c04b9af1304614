"""Sums of bodies against worked examples of open text books, and what inertia a body can have."""
from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from chassis_describe.space.mass import Inertial, combined, of_solid, rotated
from chassis_describe.space.pose import IDENTITY, Pose, from_rpy, rot_y, rot_z, translation
from chassis_describe.space.realisable import principal_moments, why_impossible
from chassis_describe.space.solids import Box, Cylinder, Sphere

pin = pytest.importorskip("pinocchio")


def about(total: Inertial, axis: int, point: tuple[float, float, float]) -> float:
    """Moment of inertia about an axis through a point (parallel axes, University Physics 1, OpenStax, 10.5)."""
    d = [c - p for c, p in zip(total.com, point)]
    return total.inertia[axis] + total.mass * sum(d[k] ** 2 for k in range(3) if k != axis)


def test_rod_and_ball() -> None:
    # University Physics Vol. 1 (OpenStax) 10.5, "Rod and Solid Sphere": printed 0.673 and 0.223 kg m²
    rod = of_solid(Cylinder(1e-9, 0.5), 2.0, Pose(rot_y(math.pi / 2), (0.25, 0, 0)))
    ball = of_solid(Sphere(0.2), 1.0, translation(0.7, 0, 0))
    both = combined([rod, ball])
    assert about(both, 2, (0, 0, 0)) == pytest.approx(0.672667, abs=5e-7)
    assert about(both, 2, (0.5, 0, 0)) == pytest.approx(0.222667, abs=5e-7)


def test_merry_go_round() -> None:
    # University Physics Vol. 1 (OpenStax) 10.5, "Person on a Merry-Go-Round": printed 1025 kg m²
    disc = of_solid(Cylinder(2.0, 0.1), 500, IDENTITY)
    child = Inertial(25, (1.0, 0, 0), (0.0,) * 6)
    assert about(combined([disc, child]), 2, (0, 0, 0)) == pytest.approx(1025)


def test_washers() -> None:
    # University Physics Vol. 1 (OpenStax) 10.4, "Moment of Inertia of a System of Particles": printed 0.0035 kg m²
    points = [Inertial(0.02, (x, 0, 0), (0.0,) * 6) for x in (-0.25, -0.15, -0.05, 0.05, 0.15, 0.25)]
    assert about(combined(points), 2, (0, 0, 0)) == pytest.approx(0.0035)


def test_body_with_a_hole_in_three_dimensions() -> None:
    # Engineering Statics: Open and Interactive (Baker & Haynes) ch. 7 "3D Center of Mass": 26 633 lb, (-3.22, 2.59, 3.37) ft
    weights = [(216 * 125, (-3, 2, 4.5)), (-math.pi * 2**2 * 4 * 125, (-3, 2, 6)), (12 * 493, (-4, 14 / 3, 1))]
    total = combined(Inertial(w, c, (0.0,) * 6) for w, c in weights)  # type: ignore[arg-type]
    assert total.mass == pytest.approx(26633, abs=0.5)
    np.testing.assert_allclose(total.com, (-3.22213, 2.59235, 3.36866), atol=5e-6)


def test_turned_box_and_plate() -> None:
    # Cuboid m/12(b²+c²) turned by R I Rᵀ; sums by parallel axes: arithmetic on the same formulas in another order
    box = of_solid(Box((0.12, 0.06, 0.04)), 0.3, Pose(rot_z(math.radians(30)), (-0.04, 0.01, 0.025)))
    np.testing.assert_allclose(box.inertia[:4], (1.975e-4, 3.325e-4, 4.5e-4, -1.1691343e-4), rtol=1e-7)
    plate = of_solid(Box((0.2, 0.16, 0.003)), 0.11424, IDENTITY)
    both = combined([plate, box])
    assert both.mass == pytest.approx(0.41424)
    np.testing.assert_allclose(both.com, (-0.02896871, 0.00724218, 0.01810545), atol=1e-8)
    np.testing.assert_allclose(both.inertia, (5.0128030e-4, 8.9747030e-4, 1.2151609e-3, -8.38196e-5, 8.27346e-5,
                                              -2.06837e-5), rtol=2e-6)
    np.testing.assert_allclose(principal_moments(both.inertia), (4.7623e-4, 9.1024e-4, 1.22744e-3), rtol=2e-5)


SOLID = st.one_of(st.builds(Box, st.tuples(*[st.floats(0.001, 0.5)] * 3)),
                  st.builds(Cylinder, st.floats(0.001, 0.2), st.floats(0.001, 0.5)),
                  st.builds(Sphere, st.floats(0.001, 0.2)))
PLACE = st.tuples(st.tuples(*[st.floats(-3, 3)] * 3), st.tuples(*[st.floats(-0.5, 0.5)] * 3))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(SOLID, st.floats(0.001, 5), PLACE), min_size=1, max_size=6))
def test_sums_against_pinocchio(items: list[tuple[object, float, object]]) -> None:
    judge = pin.Inertia.Zero()
    mine = []
    for solid, mass, (rpy, xyz) in items:  # type: ignore[misc]
        if isinstance(solid, Box):
            own = pin.Inertia.FromBox(mass, *solid.size)
        elif isinstance(solid, Cylinder):
            own = pin.Inertia.FromCylinder(mass, solid.radius, solid.length)
        else:
            own = pin.Inertia.FromSphere(mass, solid.radius)
        judge = judge + pin.SE3(pin.rpy.rpyToMatrix(*rpy), np.array(xyz)).act(own)
        mine.append(of_solid(solid, mass, Pose(from_rpy(*rpy), xyz)))  # type: ignore[arg-type]
    total = combined(mine)
    assert total.mass == pytest.approx(judge.mass)
    np.testing.assert_allclose(total.com, judge.lever, atol=1e-12)
    xx, yy, zz, xy, xz, yz = total.inertia
    np.testing.assert_allclose([[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]], judge.inertia, atol=1e-12 * judge.mass + 1e-15)
    assert why_impossible(total.mass, total.inertia) is None


@settings(max_examples=100, deadline=None)
@given(st.tuples(*[st.floats(-1, 1)] * 6))
def test_principal_moments_against_numpy(t: tuple[float, ...]) -> None:
    xx, yy, zz, xy, xz, yz = t
    np.testing.assert_allclose(principal_moments(t), np.linalg.eigvalsh([[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]]),
                               atol=1e-7)


@pytest.mark.parametrize(("tensor", "possible"), [
    # Traversaro et al., arXiv:1610.08703; Wensing et al., arXiv:1701.04395: eigenvalues, not diagonals
    ((1.11, 100.11, 1.01, 0, 0, 0), False),  # a public model's slip, osrf/gazebo_models issue 33
    ((1, 1, 3, 0, 0, 0), False),
    ((1, 2, 3, 0, 0, 0), True),  # an ideal lamina reaches equality
    ((1, 1, 1, 0.9, 0, 0), False),  # the diagonal is fine, the eigenvalues .1, 1, 1.9 are not
    ((-1, 1, 1, 0, 0, 0), False),
    ((0, 1, 1, 0, 0, 0), False),
])
def test_realisable(tensor: tuple[float, ...], possible: bool) -> None:
    assert (why_impossible(1.0, tensor) is None) is possible


def test_rotation_of_a_tensor_keeps_its_principal_moments() -> None:
    tensor = (2e-3, 3e-3, 4e-3, 1e-4, -2e-4, 3e-4)
    np.testing.assert_allclose(principal_moments(rotated(tensor, from_rpy(0.3, -1.1, 2.0))), principal_moments(tensor),
                               rtol=1e-12)
