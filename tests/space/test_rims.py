"""Circles and slots among closed curves: centres and widths against the numbers that the curves were made of."""
from __future__ import annotations

import math
from collections.abc import Sequence

import pytest
from hypothesis import given, settings, strategies as st

from chassis_describe.space.plane.rims import RoundHole, SlotHole, fitted_circle, rim


def circle(x: float, y: float, d: float, n: int, begin: float = 0.0) -> list[tuple[float, float]]:
    return [(x + d / 2 * math.cos(begin + 2 * math.pi * k / n), y + d / 2 * math.sin(begin + 2 * math.pi * k / n)) for k in range(n)]


def slot(x: float, y: float, length: float, width: float, turn: float, n: int = 8) -> list[tuple[float, float]]:
    """n chords on each half circle."""
    half, r = (length - width) / 2, width / 2
    points = [(half + r * math.sin(math.pi * k / n), -r * math.cos(math.pi * k / n)) for k in range(n + 1)]
    points += [(-u, -v) for u, v in points]
    c, s = math.cos(turn), math.sin(turn)
    return [(x + c * u - s * v, y + s * u + c * v) for u, v in points]


@settings(max_examples=60)
@given(st.floats(-0.5, 0.5), st.floats(-0.5, 0.5), st.floats(1e-3, 0.05), st.integers(5, 90), st.floats(0, 7), st.booleans(),
       st.integers(0, 4))
def test_a_circle_has_its_centre_and_diameter(x: float, y: float, d: float, n: int, begin: float, back: bool, more: int) -> None:
    """However it is divided, either way round, and with corners in the middle of its chords as cut facets leave them."""
    points = circle(x, y, d, n, begin)
    for k in range(more):
        a, b = points[2 * k], points[2 * k + 1]
        points.insert(2 * k + 1, ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2))
    found = rim(points[::-1] if back else points)
    assert isinstance(found, RoundHole)
    assert found.at == pytest.approx((x, y), abs=1e-8)
    assert (found.diameter, found.corners) == (pytest.approx(d, abs=1e-8), n)


@settings(max_examples=60)
@given(st.floats(-0.5, 0.5), st.floats(-0.5, 0.5), st.floats(1.2, 8), st.floats(1e-3, 0.01), st.floats(0, math.pi - 1e-3),
       st.integers(4, 30))
def test_a_slot_has_its_length_width_and_direction(x: float, y: float, share: float, width: float, turn: float, n: int) -> None:
    if share < 1.6 and share - 1 < 1.2 * 2 * math.sin(math.pi / n / 2):
        return  # its straight edges are no longer than its chords: not to be told from an oval
    found = rim(slot(x, y, share * width, width, turn, n))
    assert isinstance(found, SlotHole)
    assert found.at == pytest.approx((x, y), abs=1e-7)
    assert (found.length, found.width) == (pytest.approx(share * width, abs=1e-7), pytest.approx(width, abs=1e-7))
    assert math.sin(found.turn - turn) == pytest.approx(0, abs=1e-4)


@pytest.mark.parametrize("curve", [
    [(0, 0), (1, 0), (1, 1), (0, 1)],  # a square
    [(0, 0), (2, 0), (1, 1)],
    [p for p in circle(0, 0, 1, 24) if p[0] < 0.3],  # a D
    [(2 * x, y) for x, y in circle(0, 0, 1, 24)],  # an ellipse
    [*((math.copysign(1, x) + x, y) for x, y in circle(0, 0, 1, 24, 0.1)), (0.0, 0.9)],  # a slot with a tooth
    [(0, 0), (3, 0), (3.5, 0.5), (3, 1), (0, 1), (-0.5, 0.5)],  # a slot with points for ends
    [(0.0, 0.0)] * 9,
    [],
], ids=["square", "triangle", "D", "ellipse", "tooth", "points", "one point", "nothing"])
def test_what_is_neither(curve: Sequence[tuple[float, float]]) -> None:
    assert rim(curve) is None


def test_a_worked_circle() -> None:
    """Through (0, 0), (8, 0), (0, 6): the right angle stands in a half circle about (4, 3), radius 5 (Thales)."""
    import numpy as np

    centre, radius, off = fitted_circle(np.array([(0.0, 0.0), (8.0, 0.0), (0.0, 6.0)]))
    assert (*centre, radius, off) == pytest.approx((4, 3, 5, 0), abs=1e-12)
