"""How far a rigid part on screws can turn and shift in the plane, where some screws stand in slots.

Each screw lets its point of the part move by a disc of radius c, and by a segment along each slot. Two screws at a distance v
can't turn by more than the angle at which the chord (R - 1)·v leaves the sum of both allowances; the least over all pairs
bounds the turn. A point q = Σ λ·b of the screws' points (λ ≥ 0, Σ λ = 1) can't shift by more than Σ λ times what its screws
can. Both bounds are upper ones, and are reached on two screws.
"""
from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Vec2 = tuple[float, float]

#: Normals that an allowance is judged in; the corners between them stand out by less than 2e-5 of its size.
_NORMALS: NDArray[np.float64] = np.array([(math.cos(math.radians(a / 2)), math.sin(math.radians(a / 2)))
                                          for a in range(360)])
#: Turns are looked at in steps of this (rad), and refined where the first one is out.
_STEP = math.radians(0.25)


class SlackScrew(NamedTuple):
    """A point of the part, the shift c that its holes give (m), and the half slots of the support and of the part."""

    at: Vec2
    c: float
    support: Vec2 = (0.0, 0.0)
    part: Vec2 = (0.0, 0.0)

    def reach(self, turn: float) -> float:
        """The furthest that the point can go (m), while the part turns by so much at most (rad)."""
        one, two = math.hypot(*self.support), math.hypot(*self.part)
        if not (one and two):
            return self.c + one + two
        (x, y), (u, v) = self.support, self.part
        between = max(math.atan2(abs(x * v - y * u), abs(x * u + y * v)) - turn, 0.0)
        return self.c + math.sqrt(one * one + two * two + 2 * one * two * math.cos(between))


class Pivot(NamedTuple):
    """A point of the part's plane, and how far it can shift at most (m)."""

    at: Vec2
    shift: float


def slack(screws: Sequence[SlackScrew]) -> tuple[float, tuple[Pivot, ...]]:
    """The turn (rad, π: freely) and shifts that screws allow at most; each pivot with the turn is a bound of its own."""
    turn = min((_turn(a, b) for a, b in combinations(screws, 2)), default=math.pi)
    pivots = [_between([s], turn) for s in screws] + [_between(pair, turn) for pair in combinations(screws, 2)]
    return turn, tuple(dict.fromkeys([*pivots, _between(screws, turn)]))


def _between(screws: Sequence[SlackScrew], turn: float) -> Pivot:
    """The middle of some screws' points: it can shift by the mean of what they can."""
    n = len(screws)
    return Pivot((sum(s.at[0] for s in screws) / n, sum(s.at[1] for s in screws) / n), sum(s.reach(turn) for s in screws) / n)


def _turn(a: SlackScrew, b: SlackScrew) -> float:
    """The first turn, one way or the other, at which the second screw's point leaves what both holes allow."""
    v = (b.at[0] - a.at[0], b.at[1] - a.at[1])
    fixed, turning, c = np.array([a.support, b.support]), np.array([a.part, b.part]), a.c + b.c
    return max(_first_out(v, fixed, turning, c, sign) for sign in (1.0, -1.0))


def _first_out(v: Vec2, fixed: NDArray[np.float64], turning: NDArray[np.float64], c: float, sign: float) -> float:
    low, steps = 0.0, np.arange(1, round(math.pi / _STEP) + 1, dtype=np.float64)
    out = np.flatnonzero(_excess(v, fixed, turning, c, steps * (sign * _STEP)) > 0.0)
    if not out.size:
        return math.pi
    low, high = float(out[0]) * _STEP, float(out[0] + 1) * _STEP
    for _ in range(40):
        middle = (low + high) / 2
        if _excess(v, fixed, turning, c, np.array([sign * middle]))[0] > 0.0:
            high = middle
        else:
            low = middle
    return high


def _excess(v: Vec2, fixed: NDArray[np.float64], turning: NDArray[np.float64], c: float,
            turns: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far the chord of each turn lies outside the allowance (m); the part's own slots turn with it."""
    cos, sin = np.cos(turns), np.sin(turns)
    chord = np.stack([(cos - 1) * v[0] - sin * v[1], sin * v[0] + (cos - 1) * v[1]], axis=1)
    slots = [np.broadcast_to(vector, chord.shape) for vector in fixed]
    slots += [np.stack([cos * x - sin * y, sin * x + cos * y], axis=1) for x, y in turning.tolist()]
    worst = np.full(len(turns), -math.inf)
    for normals in (_NORMALS, *(_across(slot) for slot in slots if slot.any())):  # across a slot: exactly
        allowed = c + sum(np.abs((slot[:, None, :] * normals).sum(axis=2)) for slot in slots if slot.any())
        worst = np.maximum(worst, (np.abs((chord[:, None, :] * normals).sum(axis=2)) - allowed).max(axis=1))
    return worst


def _across(slot: NDArray[np.float64]) -> NDArray[np.float64]:
    """The unit normal of a slot's direction, for each turn (n x 1 x 2)."""
    normal = np.stack([-slot[:, 1], slot[:, 0]], axis=1)
    unit: NDArray[np.float64] = (normal / np.hypot(normal[:, 0], normal[:, 1])[:, None])[:, None, :]
    return unit
