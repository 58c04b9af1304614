"""Loads and tip-over against statics worked in textbooks and a general non-negative solver written out here."""
from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings, strategies as st

from chassis_describe.space.ground.contact import Roller
from chassis_describe.space.ground.support import levelling, loads, tip_edges
from chassis_describe.space.plane.hull import convex_hull, depth

TRIPOD = [(0.0, 0.08), (0.0, -0.08), (-0.10, 0.0)]  # left wheel, right wheel, caster


def test_tripod() -> None:
    # Moments about the axle: caster 0.03/0.10 = 0.3; sideways: left - right = 0.01/0.08. 2 kg: 8.090, 5.639, 5.884 N.
    shares, model = loads(TRIPOD, (-0.03, 0.01))
    assert model == "statics"
    assert shares == pytest.approx((0.4125, 0.2875, 0.3000), abs=1e-12)
    assert [2 * 9.80665 * s for s in shares or ()] == pytest.approx([8.090, 5.639, 5.884], abs=5e-4)


def test_tripod_tips() -> None:
    # Distances 0.03, 0.0359200, 0.0515373 of the mass from the edges, height 0.09: atan(d/h), g·d/h
    tips = tip_edges(TRIPOD, (-0.03, 0.01), 0.09)
    by_edge = {frozenset(t.ends): t for t in tips}
    front, left, right = (by_edge[frozenset(e)] for e in ((0, 1), (0, 2), (1, 2)))
    assert [front.distance, left.distance, right.distance] == pytest.approx([0.03, 0.0359200, 0.0515373], abs=5e-8)
    assert [math.degrees(t.angle) for t in (front, left, right)] == pytest.approx([18.435, 21.757, 29.797], abs=5e-4)
    assert front.acceleration == pytest.approx(9.80665 / 3, abs=1e-12)


@pytest.mark.parametrize(("distance", "height", "degrees", "acceleration"), [(0.08, 0.10, 38.66, 7.845), (0.05, 0.12, 22.62, 4.086)])
def test_tip_limit(distance: float, height: float, degrees: float, acceleration: float) -> None:
    square = [(distance, 1.0), (distance, -1.0), (-1.0, -1.0), (-1.0, 1.0)]
    tip = min(tip_edges(square, (0.0, 0.0), height), key=lambda t: t.angle)
    assert (math.degrees(tip.angle), tip.acceleration) == pytest.approx((degrees, acceleration), abs=5e-3)


def test_truck() -> None:
    # Giancoli, Physics, 6th ed., ch. 9, problem 63: 2.4 m wide, centre of gravity 2.2 m high: 28.6 degrees
    tips = tip_edges([(2.0, 1.2), (2.0, -1.2), (-2.0, 1.2), (-2.0, -1.2)], (0.0, 0.0), 2.2)
    assert math.degrees(min(t.angle for t in tips)) == pytest.approx(28.6, abs=0.05)


def test_car() -> None:
    # University Physics Vol. 1, 12.1, "Center of Gravity of a Car": wheelbase 2.5 m, 52 % on the front, then the centre of
    # mass is 1.3 m ahead of the rear axle. Front and rear axle as the ends of a line of contacts:
    shares, _ = loads([(2.5, 0.0), (0.0, 0.0)], (1.3, 0.0))
    assert shares == pytest.approx((0.52, 0.48), abs=1e-12)
    # and as four equal wheels, by symmetry
    shares, model = loads([(2.5, 0.7), (2.5, -0.7), (0.0, 0.7), (0.0, -0.7)], (1.3, 0.0))
    assert model == "equal springs"
    assert shares == pytest.approx((0.26, 0.26, 0.24, 0.24), abs=1e-12)
    shares, _ = loads([(0.0, 0.0), (-3.0, 0.0)], (-1.2, 0.0))  # exercise: 3.0 m, 60 % front, 1.2 m behind the front
    assert shares == pytest.approx((0.6, 0.4), abs=1e-12)


def test_a_leg_of_a_table_that_would_pull_lets_go() -> None:
    # Mass over one corner of a square: springs that could pull would give the far leg less than nothing.
    square = [(0.1, 0.1), (0.1, -0.1), (-0.1, -0.1), (-0.1, 0.1)]
    shares, model = loads(square, (0.09, 0.09))
    assert model == "equal springs" and shares is not None
    assert shares[2] == 0.0
    # the other three are then decided by statics
    three, _ = loads([square[0], square[1], square[3]], (0.09, 0.09))
    assert [shares[0], shares[1], shares[3]] == pytest.approx(three, abs=1e-12)


def test_a_mass_just_beside_two_contacts_needs_a_third() -> None:
    # Two contacts with the mass 0.64 mm beside their line cannot balance it, however little the third carries. From the
    # three equations of statics: the mass is 0.03125, 0.125, 0.0625 and 1 of 1.21875 on the contacts, so inside them.
    contacts = [(0.0, 0.0), (0.0, -0.125), (0.125, -0.1875), (0.25, -0.28125)]
    com = (0.2578125 / 1.21875, -0.30859375 / 1.21875)
    shares, model = loads(contacts, com)
    assert model == "equal springs" and shares is not None
    assert min(shares) >= 0.0 and sum(shares) == pytest.approx(1.0, abs=1e-12)
    assert [sum(s * c[axis] for s, c in zip(shares, contacts)) for axis in (0, 1)] == pytest.approx(com, abs=1e-12)


def test_contacts_in_one_place_share() -> None:
    # The middle of three equal numbers is not always that number once rounded; each carries a third all the same.
    shares, _ = loads([(-0.2, 0.0)] * 3, (-0.20000000000000007, 0.0))
    assert shares == pytest.approx((1 / 3, 1 / 3, 1 / 3), abs=1e-12)


def test_no_loads_for_what_falls_over() -> None:
    assert loads(TRIPOD, (0.02, 0.0)).shares is None
    assert loads([(0.0, 0.1), (0.0, -0.1)], (0.01, 0.0)).shares is None
    assert loads([], (0.0, 0.0)).shares is None


point = st.tuples(st.floats(-0.3, 0.3), st.floats(-0.3, 0.3))


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.filter_too_much])
@given(st.lists(point, min_size=3, max_size=8), st.lists(st.floats(0.01, 1), min_size=8, max_size=8))
def test_equal_springs_against_projected_gradient(contacts: list[tuple[float, float]], weights: list[float]) -> None:
    hull = convex_hull(contacts)
    assume(len(hull) > 2 and min(math.dist(a, b) for k, a in enumerate(contacts) for b in contacts[:k]) > 0.02)
    w = np.array(weights[:len(contacts)])
    com = w @ np.array(contacts) / w.sum()  # inside by construction
    assume(depth(hull, tuple(com)) > 1e-3)
    shares, _ = loads(contacts, tuple(com))
    assert shares is not None
    got = np.array(shares)
    assert got.min() >= 0
    assert got.sum() == pytest.approx(1.0, abs=1e-12)
    np.testing.assert_allclose(got @ np.array(contacts), com, atol=1e-10)  # moments balance
    # Springs that only push: the conditions of the least energy ½Σf² under equilibrium and f ≥ 0 (Karush-Kuhn-Tucker):
    # f = max(0, plane at the contact). Fit the plane through the loaded contacts and read it at all of them.
    loaded = got > 1e-9
    rows = np.column_stack([np.ones(len(got)), np.array(contacts)])
    plane, *_ = np.linalg.lstsq(rows[loaded], got[loaded], rcond=None)
    np.testing.assert_allclose(rows[loaded] @ plane, got[loaded], atol=1e-9)
    if np.linalg.matrix_rank(rows[loaded], tol=1e-6) == 3:
        assert (rows[~loaded] @ plane <= 1e-7).all()


@settings(max_examples=40, deadline=None)
@given(st.lists(point, min_size=3, max_size=8), point, st.floats(0.01, 0.5), st.floats(-3.0, 3.0))
def test_tip_angles_do_not_depend_on_the_axes(contacts: list[tuple[float, float]], com: tuple[float, float], height: float,
                                              turn: float) -> None:
    assume(len(convex_hull([(round(x, 3), round(y, 3)) for x, y in contacts])) > 2)
    contacts = [(round(x, 3), round(y, 3)) for x, y in contacts]
    c, s = math.cos(turn), math.sin(turn)

    def moved(p: tuple[float, float]) -> tuple[float, float]:
        return (c * p[0] - s * p[1] + 0.1, s * p[0] + c * p[1] - 0.2)

    one = sorted(t.angle for t in tip_edges(contacts, com, height))
    two = sorted(t.angle for t in tip_edges([moved(p) for p in contacts], moved(com), height))
    if len(one) == len(two):  # points in line may or may not be corners after rounding
        assert one == pytest.approx(two, abs=1e-9)


def test_levelling() -> None:
    def ball(name: str, z: float) -> Roller:
        return Roller(name=name, centre=(0.0, 0.0, z), radius=0.01)

    rollers = [Roller(name="left", centre=(0, 0.1, 0), radius=0.04, axis=(0, 1, 0)),
               Roller(name="right", centre=(0, -0.1, 0), radius=0.04, axis=(0, 1, 0)),
               ball("short", -0.025), ball("long", -0.032), ball("right_one", -0.03)]
    found = levelling(rollers, {"left", "right"})
    assert found == pytest.approx({"short": -0.005, "long": 0.002})
    assert levelling(rollers, set()) == pytest.approx({"left": -0.002, "right": -0.002, "short": -0.007, "right_one": -0.002})
    assert levelling([*rollers[:1], Roller(name="right", centre=(0, -0.1, 0.001), radius=0.04)], {"left", "right"}) is None
