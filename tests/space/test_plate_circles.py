"""Circles in flat shapes, one at a time: against shapely, and against the distances by arrays."""
from __future__ import annotations

import math
import random

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from shapely.geometry import Point, Polygon as Area

from chassis_describe.space.cover.strips import of_many, slabs_across
from chassis_describe.space.plate import circles as plate_circles
from chassis_describe.space.plate.circles import depth_at, meeting, whole_inside, whole_outside
from chassis_describe.space.plate.depth import depth
from chassis_describe.space.plate.facets import facet_loop
from chassis_describe.space.plate.loops import loop_of, turned
from chassis_describe.space.plate.shapes import Disc, Polygon, Rectangle, Slot

quick = settings(max_examples=25, deadline=None)
rngs = st.integers(0, 10**6).map(random.Random)


def star(rng, n, size):
    start = rng.uniform(0, 6)
    radii = [rng.uniform(0.2, 0.5) * size for _ in range(n)]
    return Polygon(points=tuple((r * math.cos(start + 2 * math.pi * k / n), r * math.sin(start + 2 * math.pi * k / n))
                                for k, r in enumerate(radii)))


def random_shape(rng, size):
    w, h = rng.uniform(0.2, 1) * size, rng.uniform(0.2, 1) * size
    centre = (rng.uniform(-size, size) / 4, rng.uniform(-size, size) / 4)
    return rng.choice([
        Rectangle(size=(w, h), corner=rng.choice([0, 0.1, 0.5]) * min(w, h), centre=centre),
        Disc(radius=w / 2, centre=centre),
        Slot(length=max(w, h), width=min(w, h), centre=centre, turn=rng.uniform(-3, 3)),
        star(rng, rng.randint(3, 12), size),
    ])


def random_circles(rng, count):
    return [(rng.uniform(-0.25, 0.25), rng.uniform(-0.25, 0.25), rng.uniform(0.001, 0.02)) for _ in range(count)]


@quick
@given(rngs)
def test_depth_by_floats_and_by_arrays(rng):
    """The same distances by two implementations, to rounding."""
    shape, points = random_shape(rng, 0.4), [(rng.uniform(-0.3, 0.3), rng.uniform(-0.3, 0.3)) for _ in range(60)]
    one = depth_at(shape)
    assert [one(x, y) for x, y in points] == pytest.approx(depth(shape, np.array(points)).tolist(), abs=1e-14)


@quick
@given(rngs)
def test_whole_circles_against_shapely(rng):
    """shapely's distances to the outline with 4096 chords a circle: off by 1e-7 of a radius of 0.2 m."""
    shape, circles = random_shape(rng, 0.4), random_circles(rng, 80)
    area = Area(facet_loop(loop_of(shape), 4096))
    inside, outside = whole_inside(shape, circles), whole_outside(shape, circles)
    for (x, y, r), a, b in zip(circles, inside, outside):
        edge, middle = area.exterior.distance(Point(x, y)), area.contains(Point(x, y))
        if abs(edge - r) > 2e-7:
            assert (a, b) == (middle and edge > r, not middle and edge > r)


@quick
@given(rngs)
def test_many_circles_in_a_polygon(rng):
    """The way by arrays, which large polygons with many holes take, gives the same answers."""
    shape, circles = star(rng, 40, 0.5), random_circles(rng, 200)
    few = whole_inside(shape, circles), whole_outside(shape, circles)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(plate_circles, "_MANY", 0)
        assert (whole_inside(shape, circles), whole_outside(shape, circles)) == few


@quick
@given(rngs)
def test_circles_that_meet(rng):
    """Every pair, measured."""
    circles = random_circles(rng, rng.randint(0, 60))
    met = [any(math.hypot(x - u, y - v) < r + s + 1e-3 for j, (u, v, s) in enumerate(circles) if j != k)
           for k, (x, y, r) in enumerate(circles)]
    assert meeting(circles, 1e-3) == met


@quick
@given(rngs)
def test_slabs_of_a_lone_outline_by_two_routes(rng):
    """Put in order piece by piece, and cut by the general method that also knows crossings."""
    shape, angle = random_shape(rng, 0.4), rng.choice([0.0, math.pi / 2, rng.uniform(0, 1.5)])
    simple, general = slabs_across(shape, (), angle), of_many([turned(loop_of(shape), -angle)])
    assert [(s.x0, s.x1, len(s.cells)) for s in simple] == [(s.x0, s.x1, len(s.cells)) for s in general]
    for a, b in zip(simple, general):
        middle = (a.x0 + a.x1) / 2
        for one, other in zip(a.stretches(middle, middle), b.stretches(middle, middle)):
            assert one == pytest.approx(other, abs=1e-15)
