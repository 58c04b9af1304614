"""Boxes that cover a plate, for collision: its windows may be filled, its wheel wells stay free. Metres.

The plate is cut into slabs across one direction, each as wide as the limits allow; in a slab a box stands over each
stretch of plate. Directions along x, along y, and along the longest sloping edges compete, and so do covers
whose free cutouts are lined along slopes and curves; the fewest boxes win. Where they are still too many, a choice
among boxes at many angles (``cover_choice``) takes its turn.
"""
from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence

from chassis_describe.space.cover.limits import Limits, Rect, is_convex
from chassis_describe.space.cover.lining import TurnedRect, lining
from chassis_describe.space.cover.strips import Slab, slabs_across
from chassis_describe.space.plate.plate import Plate
from chassis_describe.space.plate.shapes import Disc, Polygon, Shape, bounding_circle
from chassis_describe.space.pose import IDENTITY_ROTATION, Pose, rot_z
from chassis_describe.space.solids import Box, Cylinder, Solid

#: The cover may stand past the outline by the larger of a length and a share of the longer side.
PAST_OUTLINE = 3e-3
PAST_OUTLINE_SHARE = 0.02
#: … and reach into a cutout that must stay free by this much.
INTO_FREE = 0.5e-3
#: Boxes that a cover should do with; where the limits need more, it takes more.
FEW_BOXES = 32
#: No box is thinner than this where the plate isn't: contacts of slivers are noise to an engine.
THINNEST = 1e-3
#: Sloping directions are tried when the straight ones need more boxes than this.
_CONTENT = 12
_SHY = 1e-6  # stay clear of the limits by a micrometre, for rounding


def cover(plate: Plate, free_cutouts: Collection[int] = ()) -> tuple[tuple[Solid, Pose], ...]:
    """Solids and their poses in the plate frame that cover the plate without its holes.

    ``free_cutouts``: indices of the cutouts that must stay free. The solids go from z = -thickness to 0.
    """
    past = max(PAST_OUTLINE, PAST_OUTLINE_SHARE * _longer_side(plate.outline))
    free = [plate.cutouts[k] for k in sorted(free_cutouts) if _could_meet(plate.outline, plate.cutouts[k], past)]
    if isinstance(plate.outline, Disc) and not free:
        x, y = plate.outline.centre
        return ((Cylinder(plate.outline.radius, plate.thickness), Pose(t=(x, y, -plate.thickness / 2))),)
    return tuple(_solid(box, plate.thickness) for box in _boxes(plate.outline, free, past - _SHY, INTO_FREE - _SHY))


def _boxes(outline: Shape, free: list[Shape], past: float, into: float) -> list[TurnedRect]:
    """The fewest boxes that any of the ways finds; of equals the first."""
    best = _by_strips(outline, free, free, 0.0, past, into, 10**9)
    assert best is not None

    def consider(base: list[TurnedRect], within: Sequence[Shape], angle: float) -> None:
        nonlocal best
        assert best is not None
        found = _by_strips(outline, within, free, angle, past, into, 2 * len(best) + 8)
        if found is not None and len(found) + len(base) < len(best):
            best = [*base, *found]

    if len(best) > 1:
        consider([], free, math.pi / 2)
    if len(best) > _CONTENT and free and is_convex(outline):
        for thickness in (math.inf, 4 * past, 2 * past, past):
            lined = lining(outline, free, past, into, thickness)
            if lined is not None and len(lined[0]) < len(best):
                consider(*lined, 0.0)
                consider(*lined, math.pi / 2)
    for angle in _slopes(outline, free):
        if len(best) > _CONTENT:
            consider([], free, angle)
            consider([], free, angle + math.pi / 2)
    if len(best) > FEW_BOXES and free:
        from chassis_describe.space.cover.choice import chosen

        best = chosen(outline, free, past, into, best, FEW_BOXES) or best
    return [_widened(box, Limits(outline, free, box.angle, past, into)) if _thinnest(box.rect) < THINNEST else box for box in best]


def _thinnest(rect: Rect) -> float:
    return min(rect[2] - rect[0], rect[3] - rect[1])


def _widened(box: TurnedRect, limits: Limits) -> TurnedRect:
    """A sliver as wide as engines like it, to both sides, or to one; as it is where the limits, so the plate, leave no room."""
    axes = [k for k in (0, 1) if box.rect[k + 2] - box.rect[k] < THINNEST]
    rect = box.rect
    for axis in axes:
        more = THINNEST - (rect[axis + 2] - rect[axis])
        for share in (0.5, 0.0, 1.0, 0.25, 0.75):
            wide = list(rect)
            wide[axis] -= share * more
            wide[axis + 2] += (1.0 - share) * more
            x0, y0, x1, y1 = wide
            if limits.allows([(x0, y0, x1, y1)]):
                rect = (x0, y0, x1, y1)
                break
    return TurnedRect(box.angle, rect)


def _by_strips(outline: Shape, taken: Sequence[Shape], free: Sequence[Shape], angle: float, past: float, into: float,
               enough: int) -> list[TurnedRect] | None:
    """Boxes that cover the outline less ``taken``, in a frame turned by ``angle``; None when there are too many."""
    limits = Limits(outline, free, angle, past, into)
    strips = _strips(slabs_across(outline, taken, angle), limits, enough)
    return None if strips is None else [TurnedRect(angle, rect) for rect in _merged(strips, limits)]


def _solid(box: TurnedRect, thickness: float) -> tuple[Solid, Pose]:
    (x0, y0, x1, y1), angle = box.rect, box.angle
    x, y, _ = Pose(rot_z(angle)).point(((x0 + x1) / 2, (y0 + y1) / 2, 0.0))
    w, h = x1 - x0, y1 - y0
    if angle >= math.pi / 2:  # a lower frame with x and y exchanged
        w, h, angle = h, w, angle - math.pi / 2
    return Box((w, h, thickness)), Pose(rot_z(angle) if angle else IDENTITY_ROTATION, (x, y, -thickness / 2))


def _longer_side(shape: Shape) -> float:
    x0, y0, x1, y1 = shape.bounds
    return max(x1 - x0, y1 - y0)


def _could_meet(outline: Shape, cutout: Shape, past: float) -> bool:
    (x, y, r), (u, v, s) = bounding_circle(outline), bounding_circle(cutout)
    return math.hypot(u - x, v - y) < r + s + 2 * past


def _slopes(outline: Shape, free: Sequence[Shape]) -> list[float]:
    """Up to two directions of long sloping edges, angles in (0, π/2)."""
    lengths: dict[float, float] = {}
    for shape in (outline, *free):
        if isinstance(shape, Polygon) and len(shape.points) <= 64:
            for (x, y), (u, v) in zip(shape.points, (*shape.points[1:], shape.points[0])):
                angle = math.atan2(v - y, u - x) % (math.pi / 2)
                lengths[angle] = lengths.get(angle, 0.0) + math.hypot(u - x, v - y)
    chosen = [0.0]
    for angle in sorted(lengths, key=lambda a: (-lengths[a], a)):
        if len(chosen) < 3 and all(0.01 < abs(angle - c) < math.pi / 2 - 0.01 for c in chosen):
            chosen.append(angle)
    return chosen[1:]


# --------------------------------------------------------------------------------------------------------------- strips
def _joined(a: list[tuple[float, float]], b: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """The union of two lists of stretches, overlapping ones made one."""
    result: list[tuple[float, float]] = []
    for low, high in sorted(a + b):
        if result and low <= result[-1][1]:
            result[-1] = (result[-1][0], max(high, result[-1][1]))
        else:
            result.append((low, high))
    return result


def _strips(slabs: list[Slab], limits: Limits, enough: int) -> list[Rect] | None:
    """Boxes slab by slab: each group of slabs goes on as long as its boxes stay within the limits.

    A direction that comes to more than ``enough`` boxes is given up (it can't win)."""
    done: list[Rect] = []
    begin, held, last = 0.0, list[tuple[float, float]](), 0.0

    def close(end: float) -> None:
        done.extend((begin, low, end, high) for low, high in held)

    def fits(start: float, end: float, stretches: list[tuple[float, float]]) -> bool:
        return limits.allows([(start, low, end, high) for low, high in stretches])

    for slab in slabs:
        if held and slab.x0 > last:  # nothing of the plate in between
            close(last)
            held = []
        x, last = slab.x0, slab.x1
        if len(done) > enough:
            return None
        while x < slab.x1:
            if not held:
                begin = x
            own = slab.stretches(x, slab.x1)
            both = _joined(held, own)
            if fits(begin, slab.x1, both):
                held, x = both, slab.x1
                continue
            if held and fits(x, slab.x1, _joined([], own)):
                close(x)
                held = []
                continue
            reach = _furthest(slab, x, begin, held, limits, fits)
            if held and reach - x < limits.step / 2:
                close(x)
                held = []
                continue
            held = _joined(held, slab.stretches(x, reach))
            close(reach)
            held, x = [], reach
    close(last)
    return done


def _furthest(slab: Slab, x: float, begin: float, held: list[tuple[float, float]], limits: Limits,
              fits: Callable[[float, float, list[tuple[float, float]]], bool]) -> float:
    """How far into the slab the boxes may go. From a fresh begin they may go at least the smaller limit: every point
    of such a box has plate beside it within its width."""
    low, high = x, slab.x1
    for _ in range(8):
        middle = (low + high) / 2
        if fits(begin, middle, _joined(held, slab.stretches(x, middle))):
            low = middle
        else:
            high = middle
    return low if held else min(max(low, x + limits.step), slab.x1)


def _merged(rects: list[Rect], limits: Limits) -> list[Rect]:
    """Neighbours made one box wherever their common hull stays within the limits."""
    result: list[Rect] = []
    for rect in rects:
        k = len(result) - 1
        while k >= 0:
            a = result[k]
            if a[0] <= rect[2] and rect[0] <= a[2] and a[1] <= rect[3] and rect[1] <= a[3]:
                hull = (min(a[0], rect[0]), min(a[1], rect[1]), max(a[2], rect[2]), max(a[3], rect[3]))
                if limits.allows([hull]):
                    rect = hull
                    result.pop(k)
                    k = len(result)
            k -= 1
        result.append(rect)
    return result
