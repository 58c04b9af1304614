"""A cover chosen from many boxes at many angles, for plates with curved and sloping wheel wells. Metres.

Boxes grow from points along the wells' edges, the rim and the inside as far as the limits let them, side by side in
different orders; the fewest that hold a set of points are taken, greedily. What of the plate they leave out is found
exactly (``cover_rest``), adds points, and the choice is made again.
"""
from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from chassis_describe.space.cover.growth import Growth
from chassis_describe.space.cover.limits import Limits, is_convex
from chassis_describe.space.cover.lining import TurnedRect
from chassis_describe.space.cover.rest import pieces_of, rest
from chassis_describe.space.plate.loops import loop_of
from chassis_describe.space.plate.shapes import Disc, Polygon, Rectangle, Shape, bounding_circle

Array = Any
_HEAVY = 2000  # the most that a point weighs
_ROUNDS = 8  # choices, each with the points that the one before left out
_REPAIRS = 3  # times that a choice is completed
_GRID = 24  # points across the plate, for the inside
_LOST = 20  # points that no box holds from which boxes grow at once
_INWARD = 0.02  # points of what is left out: its corners, this share of the way to its middle
_SEEDS = 1000  # places that boxes grow from, at most
_CORNERS = 16  # shapes with more are left to the strips
_TURNS = 84  # tangents of a full circle that boxes grow from


def chosen(outline: Shape, free: Sequence[Shape], past: float, into: float,
           known: Sequence[TurnedRect], few: int) -> list[TurnedRect] | None:
    """Fewer boxes than ``known`` that cover the outline less ``free``, and not many more than ``few`` if that can be.

    None when there are none, or a shape has hollows or many corners."""
    for shape in (outline, *free):
        if isinstance(shape, Polygon) and (len(shape.points) > _CORNERS or not is_convex(shape)):
            return None
        if not isinstance(shape, (Disc, Rectangle, Polygon)):
            return None
    pieces = pieces_of(outline, free)
    points = _points(pieces, outline)
    growth, reach = Growth(outline, free, past, into), 2 * bounding_circle(outline)[2]
    slopes, seeds = _seeds(outline, free, into, points)
    boxes = np.concatenate([growth.grown(np.array(seeds), reach), np.array([(a, *r) for a, r in known]).reshape(-1, 5)])
    holds = _holds(boxes, points)
    weights: Array = np.zeros(0, dtype=np.float32)
    best: list[TurnedRect] | None = None
    for turn in range(_ROUNDS):
        lost = points[~holds.any(axis=0)]
        if len(lost):
            grown = growth.grown(np.array([(x, y, s) for x, y in lost[:_LOST].tolist() for s in slopes]), reach)
            boxes = np.concatenate([boxes, grown])
            holds = np.concatenate([holds, _holds(grown, points)])
        weights = np.concatenate([weights, _scarcity(holds[:, len(weights):])])
        picked, counts = _fewest(holds, np.where(holds.any(axis=0), weights, 0.0).astype(np.float32))
        # Points that one box alone holds were hard to come by: they count more next time.
        weights = np.minimum(np.ceil(weights * np.where(counts == 1, 1.5, 1.0)), _HEAVY).astype(np.float32)
        left, most = pieces, len(known if best is None else best)
        for _ in range(_REPAIRS):
            if len(picked) >= most:
                break
            left = rest(left, _rows(boxes[picked]))
            if not left:
                best = _rows(boxes[picked])
                break
            more = np.array([(x + _INWARD * (cx - x), y + _INWARD * (cy - y)) for piece in left
                             for cx, cy in (np.mean(piece, axis=0).tolist(),) for x, y in piece])
            held = _holds(boxes, more)
            points, holds = np.concatenate([points, more]), np.concatenate([holds, held], axis=1)
            if not held.any(axis=0).all():
                break
            picked = picked + _fewest(held, _scarcity(held))[0]
        if best is not None and (len(best) <= few or (turn >= 3 and len(picked) > few + few // 3)):
            break  # enough, or a plate that can't come down to it
    return best if best is not None and _within(best, outline, free, past, into) else None


def _rows(boxes: Array) -> list[TurnedRect]:
    """Rows angle, x0, y0, x1, y1 as rectangles."""
    return [TurnedRect(angle, (x0, y0, x1, y1)) for angle, x0, y0, x1, y1 in boxes.tolist()]


def _within(boxes: Sequence[TurnedRect], outline: Shape, free: Sequence[Shape], past: float, into: float) -> bool:
    """Whether every box keeps to the limits, by the judge of all covers."""
    return all(Limits(outline, free, angle, past, into).allows([rect]) for angle, rect in boxes)


def _points(pieces: list[list[tuple[float, float]]], outline: Shape) -> Array:
    """Points of the plate: the corners of its pieces, and some between."""
    x0, y0, x1, y1 = outline.bounds
    step = max(x1 - x0, y1 - y0) / (2 * _GRID)
    found: list[tuple[float, float]] = []
    for piece in pieces:
        low, high = min(y for _, y in piece), max(y for _, y in piece)
        x = sum(x for x, _ in piece) / len(piece)
        found += [(x, k * step) for k in range(math.ceil(low / step + 0.5), math.floor(high / step - 0.5) + 1)]
    return np.concatenate([_thinned(np.array([p for piece in pieces for p in piece]), step / 6),
                           _thinned(np.array(found).reshape(-1, 2), step)])


def _thinned(points: Array, side: float) -> Array:
    """One point for each square of a grid."""
    _, first = np.unique(np.floor(points / side).astype(np.int64), axis=0, return_index=True)
    return points[np.sort(first)]


def _seeds(outline: Shape, free: Sequence[Shape], into: float,
           points: Array) -> tuple[list[float], list[tuple[float, float, float]]]:
    """Directions of edges, and places for boxes to grow from, each with a direction."""
    seeds: list[tuple[float, float, float]] = []  # a place, and the direction away from the well or out of the rim
    slopes: list[float] = [0.0]
    for shape in (*free, outline):
        inset = into - 1e-8 if shape is not outline else 0.0
        for (ax, ay), (bx, by), (cx, cy), radius in loop_of(shape):
            if radius == 0:
                length = math.hypot(bx - ax, by - ay)
                if length < 1e-6:
                    continue
                nx, ny = (by - ay) / length, (ax - bx) / length
                normal = math.atan2(ny, nx)
                slopes.append(normal % (math.pi / 2))
                count = max(2, min(8, int(length / 0.02)))
                seeds += [(ax + t * (bx - ax) - nx * inset, ay + t * (by - ay) - ny * inset, normal)
                          for t in ((k + 0.5) / count for k in range(count))]
                continue
            begin, end = math.atan2(ay - cy, ax - cx), math.atan2(by - cy, bx - cx)
            sweep = (end - begin) % (2 * math.pi)
            turns = _TURNS if radius > 0.02 else 24
            count = max(1, round(sweep / (2 * math.pi) * turns))
            for k in range(count + 1):
                normal = begin + sweep * k / count
                reach = radius - inset
                if reach > 0:
                    seeds.append((cx + reach * math.cos(normal), cy + reach * math.sin(normal), normal))
    kept = sorted({round(s, 6) for s in slopes})[:4]
    inner = points[::max(1, len(points) // 100)].tolist()
    seeds += [(px, py, slope) for px, py in inner for slope in kept]
    seeds += [(px, py, math.pi / 8 * k) for px, py in inner[::3] for k in (1, 2, 3)]
    return kept, seeds[::math.ceil(len(seeds) / _SEEDS)]


def _holds(boxes: Array, points: Array) -> Array:
    """(boxes, points): which box holds which point."""
    angles, which = np.unique(boxes[:, 0], return_inverse=True)
    u = np.cos(angles)[:, None] * points[:, 0] + np.sin(angles)[:, None] * points[:, 1]
    v = np.cos(angles)[:, None] * points[:, 1] - np.sin(angles)[:, None] * points[:, 0]
    result = np.empty((len(boxes), len(points)), dtype=bool)
    for k in range(len(angles)):
        rows = which == k
        b = boxes[rows]
        result[rows] = ((u[k] >= b[:, 1, None] - 1e-12) & (u[k] <= b[:, 3, None] + 1e-12)
                        & (v[k] >= b[:, 2, None] - 1e-12) & (v[k] <= b[:, 4, None] + 1e-12))
    return result


def _scarcity(holds: Array) -> Array:
    """Weights of points, more for those that few boxes hold.

    Whole numbers, whose sums are exact in any order: every machine chooses alike."""
    return np.ceil(_HEAVY / 4 / np.maximum(holds.sum(axis=0), 1)).astype(np.float32)


def _fewest(holds: Array, weights: Array) -> tuple[list[int], Array]:
    """Boxes that hold every point of some weight, chosen greedily, and how many of them hold each point."""
    held = holds.T.astype(np.float32, order="C")
    gain = weights @ held
    waiting = weights > 0
    picked: list[int] = []
    while waiting.any():
        k = int(np.argmax(gain))
        new = np.flatnonzero(holds[k] & waiting)
        picked.append(k)
        waiting[new] = False
        gain = gain - weights[new] @ held[new]
    counts = holds[picked].sum(axis=0)
    for k in list(picked):  # what later ones made needless
        if np.all(counts[holds[k]] > 1):
            counts = counts - holds[k]
            picked.remove(k)
    return picked, counts
