"""Hulls, circles and outlines against brute force and shapely."""
from __future__ import annotations

import math
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from chassis_describe.space.plane.circle import least_circle
from chassis_describe.space.plane.hull import area, convex_hull, depth, inner_radius, outer_radius
from chassis_describe.space.plane.outline import on_grid, simplified

# To a nanometre: GEOS 3.11 loses corners of clouds with points 1e-17 m apart.
coordinate = st.floats(-0.4, 0.4).map(lambda v: round(v, 9))
points = st.lists(st.tuples(coordinate, coordinate), min_size=3, max_size=60)
whole = st.lists(st.tuples(st.integers(-5, 5), st.integers(-5, 5)), min_size=1, max_size=9)


def ellipse(a: float, b: float, n: int, x: float = 0.0, y: float = 0.0) -> list[tuple[float, float]]:
    return [(x + a * math.cos(2 * math.pi * (k + 0.5) / n), y + b * math.sin(2 * math.pi * (k + 0.5) / n)) for k in range(n)]


@settings(max_examples=60, deadline=None)
@given(points)
def test_hull_is_shapelys(cloud: list[tuple[float, float]]) -> None:
    from shapely.geometry import MultiPoint

    hull = convex_hull(cloud)
    other = MultiPoint(cloud).convex_hull
    assert area(hull) == pytest.approx(other.area, abs=1e-12)
    assert all(depth(hull, p) >= -1e-12 for p in cloud)


def test_hull_of_whole_numbers() -> None:
    square = [(0, 0), (2, 0), (2, 2), (0, 2)]
    assert convex_hull([*square, (1, 0), (1, 1), (0, 1), (2, 2)]) == tuple((float(x), float(y)) for x, y in square)
    assert convex_hull([(0, 0), (1, 1), (2, 2)]) == ((0, 0), (2, 2))
    assert convex_hull([(3, 4), (3, 4)]) == ((3, 4),)
    assert area(square) == 4


@settings(max_examples=60, deadline=None)
@given(points, st.tuples(coordinate, coordinate))
def test_depth_is_shapelys(cloud: list[tuple[float, float]], p: tuple[float, float]) -> None:
    from shapely.geometry import Point, Polygon

    hull = convex_hull((round(x, 3), round(y, 3)) for x, y in cloud)
    if len(hull) < 3:
        return
    polygon = Polygon(hull)
    inside = polygon.exterior.distance(Point(p)) if polygon.contains(Point(p)) else -polygon.distance(Point(p))
    assert depth(hull, p) == pytest.approx(inside, abs=1e-12)


def test_radii() -> None:
    # a rectangle 6 x 4 about its centre, and about a point 1 forward
    box = convex_hull([(3, 2), (-3, 2), (-3, -2), (3, -2)])
    assert (inner_radius(box), outer_radius(box)) == (2.0, math.sqrt(13))
    assert (inner_radius(box, (1.5, 0)), outer_radius(box, (1, 0))) == (1.5, math.sqrt(20))
    assert inner_radius(box, (4, 0)) == 0.0


# ----------------------------------------------------------------------------------------------------------------- circle
def smallest(cloud: list[tuple[float, float]]) -> float:
    """Every circle on two or three of the points; the smallest that holds all."""
    best = math.inf
    circles = [(np.add(p, q) / 2, math.dist(p, q) / 2) for p, q in combinations(cloud, 2)]
    for p, q, r in combinations(cloud, 3):
        m = 2 * np.array([np.subtract(q, p), np.subtract(r, p)], dtype=float)
        if abs(np.linalg.det(m)) > 1e-9:
            centre = np.linalg.solve(m, [np.dot(q, q) - np.dot(p, p), np.dot(r, r) - np.dot(p, p)])
            circles.append((centre, math.dist(centre, p)))
    for centre, radius in circles:
        if radius < best and all(math.dist(centre, s) <= radius + 1e-9 for s in cloud):
            best = radius
    return best


@settings(max_examples=100, deadline=None)
@given(whole)
def test_least_circle_is_the_smallest_of_all(cloud: list[tuple[int, int]]) -> None:
    circle = least_circle([(float(x), float(y)) for x, y in cloud])
    assert all(math.dist(circle.centre, p) <= circle.radius + 1e-9 for p in cloud)
    if len(set(cloud)) > 1:
        assert circle.radius == pytest.approx(smallest(sorted(set(cloud))), abs=1e-9)
    else:
        assert circle.radius == 0.0


def test_least_circle_by_hand() -> None:
    assert least_circle([(0.0, 0.0), (6.0, 0.0), (3.0, 1.0)]) == ((3.0, 0.0), 3.0)  # obtuse: on the longest side
    circle = least_circle([(0.0, 0.0), (1.0, 0.0), (0.5, math.sqrt(3) / 2)])  # equilateral: side / √3
    assert circle.radius == pytest.approx(1 / math.sqrt(3), abs=1e-15)
    with pytest.raises(ValueError, match="nothing"):
        least_circle([])


# ---------------------------------------------------------------------------------------------------------------- outline
@settings(max_examples=60, deadline=None)
@given(points, st.integers(3, 16))
def test_outlines_hold_their_hull(cloud: list[tuple[float, float]], most: int) -> None:
    hull = convex_hull(cloud)
    if len(hull) < 3 or area(hull) < 1e-6:
        return
    fewer = simplified(hull, max(most, 4))
    assert len(fewer) <= max(most, 4)
    assert area(fewer) >= area(hull) - 1e-12
    assert all(depth(fewer, p) >= -1e-9 for p in hull)
    grid = on_grid(hull, 1e-3)
    assert len(grid) <= len(hull)
    assert all(depth(grid, p) >= -1e-9 for p in hull)
    assert all(abs(v * 1e3 - round(v * 1e3)) < 1e-9 for p in grid for v in p)
    assert area(grid) > 0 and convex_hull(grid) == grid
    # outward by less than two steps anywhere (support functions)
    for k in range(16):
        n = (math.cos(k * math.pi / 8), math.sin(k * math.pi / 8))
        support = [max(p[0] * n[0] + p[1] * n[1] for p in q) for q in (hull, grid)]
        assert support[1] - support[0] < 4e-3 or len(grid) < 6  # sharp corners go further out


@pytest.mark.parametrize("n", [17, 23, 37, 64, 74, 80, 128])
@pytest.mark.parametrize(("a", "b"), [(0.1, 0.1), (0.3, 0.1), (0.2, 0.15), (0.5, 0.05)])
def test_smooth_outlines_grow_by_two_percent_at_most(n: int, a: float, b: float) -> None:
    hull = convex_hull(ellipse(a, b, n))
    fewer = simplified(hull, 16)
    assert len(fewer) <= 16
    assert area(fewer) / area(hull) <= 1.02


def test_16_tangents_of_a_circle() -> None:
    # the best 16-gon about a circle is the regular one, n/π·tan(π/n) = 1.0131 times its area
    hull = [(x / math.cos(math.pi / 64), y / math.cos(math.pi / 64)) for x, y in ellipse(0.1, 0.1, 64)]
    fewer = simplified(hull, 16)
    assert area(fewer) == pytest.approx(16 * math.tan(math.pi / 16) * 0.01, abs=1e-12)


@pytest.mark.parametrize("seed", range(20))
def test_robot_like_outlines_grow_by_two_percent_at_most(seed: int) -> None:
    rng = np.random.default_rng(seed)
    cloud: list[tuple[float, float]] = []
    for _ in range(rng.integers(2, 12)):
        x, y = rng.uniform(-0.3, 0.3), rng.uniform(-0.2, 0.2)
        cloud += ellipse(*[rng.uniform(0.005, 0.1)] * 2, 64, x, y)
        cloud += [(x + dx, y + dy) for dx in (-0.03, 0.05) for dy in (-0.06, 0.02)]
    hull = convex_hull(cloud)
    assert area(simplified(hull, 16)) / area(hull) <= 1.02


@pytest.mark.parametrize("seed", range(8))
def test_mirror_images_keep_mirrored_outlines(seed: int) -> None:
    rng = np.random.default_rng(seed)
    half: list[tuple[float, float]] = []
    for _ in range(rng.integers(2, 8)):
        half += ellipse(*[rng.uniform(0.005, 0.1)] * 2, 64, rng.uniform(-0.3, 0.3), rng.uniform(0, 0.2))
    outline = on_grid(simplified(convex_hull([*half, *((x, -y) for x, y in half)]), 16), 1e-3)
    assert {(x, -y + 0.0) for x, y in outline} == set(outline)


def test_whole_millimetres_stay() -> None:
    box = ((-0.12, -0.08), (0.12, -0.08), (0.12, 0.08), (-0.12, 0.08))
    assert on_grid(box, 1e-3) == box
    assert on_grid([(x + 1e-12, y) for x, y in box], 1e-3) == box  # rounding is not a millimetre
    out = on_grid([(-0.1203, -0.08), (0.12, -0.08), (0.12, 0.0801), (-0.1203, 0.0801)], 1e-3)
    assert out == ((-0.121, -0.08), (0.12, -0.08), (0.12, 0.081), (-0.121, 0.081))
