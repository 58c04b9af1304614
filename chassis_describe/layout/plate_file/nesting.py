"""Closed curves → one outer curve and what is cut out of it, or every reason why not. Metres, the file's axes."""
from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, NamedTuple

from chassis_describe.layout.plate_file.curves import Curves
from chassis_describe.layout.plate_file.faults import NoPlate, Problem
from chassis_describe.space.plate.chains import Loose, chords_of, joined
from chassis_describe.space.plate.circles import meeting, whole_inside, whole_outside
from chassis_describe.space.plate.contours import contour_of
from chassis_describe.space.plate.recognise import shape_of
from chassis_describe.space.plate.shapes import Disc, Shape, Vec2
from chassis_describe.tolerances import CHORD, JOINED
from chassis_describe.words import plain

#: Problems of one file that are told; nobody reads more before mending the first.
_TOLD = 12
_JOIN = f"ends within {JOINED * 1e3:g} mm are joined: close the curve in the drawing program"
_LAYER = "put what is not cut on a layer of its own, and name the plate's layers with `layer`"


class Nested(NamedTuple):
    """The plate's edge and everything in it."""

    outer: Shape
    inner: tuple[Shape, ...]


def nested(curves: Curves) -> Nested:
    """The plate that the curves are. Raises NoPlate with every problem."""
    say = _Saying(curves)
    contours, loose = joined(curves.runs, JOINED)
    problems = [say.loose(one) for one in loose]
    shapes: list[Shape] = list(curves.discs)
    flat: list[Any] = [None] * len(shapes)
    for contour in contours:
        face, wrong = _face(chords_of(contour, CHORD))
        if wrong is not None:
            problems.append(say.crossing_itself(wrong))
            continue
        shapes.append(shape_of(contour, CHORD))
        flat.append(face)
    _stop(problems)
    if not shapes:
        _stop([Problem("has only dots: no curve is longer than 0.01 mm", "is the drawing's unit right?")])
    outer = max(range(len(shapes)), key=lambda k: (_box_area(shapes[k]), -k))
    if flat[outer] is None:
        flat[outer] = _face_of(shapes[outer])
    _stop([*_in_outer(shapes, flat, outer, say), *_apart(shapes, flat, outer, say)])
    return Nested(shapes[outer], tuple(s for k, s in enumerate(shapes) if k != outer))


def _stop(problems: Iterable[Problem]) -> None:
    """Raise what there is; of many the first, and how many more there are."""
    found = list(dict.fromkeys(problems))
    if found:
        more = [Problem(f"has {len(found) - _TOLD} more faults like these", "mend the first ones")] if len(found) > _TOLD else []
        raise NoPlate([*found[:_TOLD], *more])


def _box_area(shape: Shape) -> float:
    x0, y0, x1, y1 = shape.bounds
    return (x1 - x0) * (y1 - y0)


def _face_of(shape: Shape) -> Any:
    """A sound shape as a shapely polygon."""
    return _face(chords_of(contour_of(shape), CHORD))[0]


def _face(corners: Sequence[Vec2]) -> tuple[Any, Vec2 | None]:
    """A shapely polygon, and a point where it crosses or touches itself, or encloses nothing."""
    from shapely.geometry import Polygon
    from shapely.validation import explain_validity

    if len(corners) < 3:
        return None, corners[0]
    face = Polygon(corners)
    if face.is_valid and face.area > JOINED * face.length / 2:
        return face, None
    at = re.search(r"\[(\S+) (\S+)\]", explain_validity(face))
    return face, (float(at.group(1)), float(at.group(2))) if at else corners[0]


# --------------------------------------------------------------------------------------------------------------- what is where
def _circles(shapes: Sequence[Shape], numbers: Sequence[int]) -> list[tuple[float, float, float]]:
    """Discs as circles, smaller by what may be off where two curves touch."""
    return [(*s.centre, max(s.radius - JOINED, 0.1 * s.radius)) for s in (shapes[k] for k in numbers) if isinstance(s, Disc)]


def _in_outer(shapes: Sequence[Shape], flat: Sequence[Any], outer: int, say: _Saying) -> Iterator[Problem]:
    """What is not wholly inside the outer curve."""
    from shapely.geometry import Point

    discs = [k for k, s in enumerate(shapes) if isinstance(s, Disc) and k != outer]
    circles = _circles(shapes, discs)
    for k, circle, inside in zip(discs, circles, whole_inside(shapes[outer], circles)):
        if _same_disc(shapes[k], shapes[outer]):
            yield say.doubled(circle[:2])
        elif not inside:
            if whole_outside(shapes[outer], [circle])[0]:
                yield say.several(shapes[outer], shapes[k])
            else:
                yield say.crossing(_meet(Point(circle[:2]).buffer(circle[2]), flat[outer]))
    for k, face in enumerate(flat):
        if k == outer or isinstance(shapes[k], Disc) or (flat[outer].contains(face) and not _edges_meet(face, flat[outer])):
            continue
        if face.symmetric_difference(flat[outer]).area < JOINED * face.length:
            yield say.doubled(_first(face))
        elif not face.intersects(flat[outer]):
            yield say.several(shapes[outer], shapes[k])
        else:
            yield say.crossing(_meet(face, flat[outer]))


def _apart(shapes: Sequence[Shape], flat: Sequence[Any], outer: int, say: _Saying) -> Iterator[Problem]:
    """Inner curves that meet, or are in one another."""
    discs = [k for k, s in enumerate(shapes) if isinstance(s, Disc) and k != outer]
    circles = _circles(shapes, discs)
    met = [k for k, yes in zip(discs, meeting(circles, 0.0)) if yes]
    met.sort(key=lambda k: shapes[k].bounds)
    for n, a in enumerate(met):
        for b in met[n + 1:]:
            if shapes[b].bounds[0] > shapes[a].bounds[2]:
                break
            yield from _two_discs(shapes[a], shapes[b], say)
    others = sorted((k for k, s in enumerate(shapes) if not isinstance(s, Disc) and k != outer), key=lambda k: shapes[k].bounds)
    for n, a in enumerate(others):
        for k, clear in zip(discs, whole_outside(shapes[a], circles)):
            if not clear:
                yield from _two_faces(shapes[a], flat[a], shapes[k], _face_of(shapes[k]), say)
        for b in others[n + 1:]:
            if shapes[b].bounds[0] > shapes[a].bounds[2]:
                break
            yield from _two_faces(shapes[a], flat[a], shapes[b], flat[b], say)


def _two_faces(one: Shape, face: Any, other: Shape, other_face: Any, say: _Saying) -> Iterator[Problem]:
    if face.symmetric_difference(other_face).area < JOINED * face.length:
        yield say.doubled(_first(face))
    elif _edges_meet(face, other_face):
        yield say.crossing(_meet(face, other_face))
    elif face.intersects(other_face):
        small, large = sorted((one, other), key=_box_area)
        yield say.within(small, large)


def _two_discs(one: Shape, other: Shape, say: _Saying) -> Iterator[Problem]:
    assert isinstance(one, Disc) and isinstance(other, Disc)
    apart = math.dist(one.centre, other.centre)
    if _same_disc(one, other):
        yield say.doubled(one.centre)
    elif apart < abs(one.radius - other.radius) + JOINED:
        small, large = sorted((one, other), key=lambda d: d.radius)
        yield say.within(small, large)
    elif apart < one.radius + other.radius - JOINED:
        yield say.crossing(((one.centre[0] + other.centre[0]) / 2, (one.centre[1] + other.centre[1]) / 2))


def _same_disc(one: Shape, other: Shape) -> bool:
    return isinstance(one, Disc) and isinstance(other, Disc) and math.dist(one.centre, other.centre) <= JOINED and abs(
        one.radius - other.radius) <= JOINED


def _edges_meet(one: Any, other: Any) -> bool:
    return bool(one.exterior.intersects(other.exterior))


def _meet(one: Any, other: Any) -> Vec2:
    """A point that two edges share."""
    both = one.exterior.intersection(other.exterior)
    point = both.representative_point() if not both.is_empty else one.exterior.representative_point()
    return (float(point.x), float(point.y))


def _first(face: Any) -> Vec2:
    x, y = face.exterior.coords[0][:2]
    return (float(x), float(y))


# ---------------------------------------------------------------------------------------------------------------- in words
class _Saying:
    """Problems in words, with places as the drawing program shows them."""

    def __init__(self, curves: Curves) -> None:
        self.metres, self.unit = curves.metres, curves.unit

    def at(self, p: Sequence[float]) -> str:
        return f"({plain(p[0] / self.metres, 3)}, {plain(p[1] / self.metres, 3)})"

    def size(self, shape: Shape) -> str:
        x0, y0, x1, y1 = shape.bounds
        return f"{plain((x1 - x0) / self.metres, 3)} × {plain((y1 - y0) / self.metres, 3)} {self.unit}"

    def middle(self, shape: Shape) -> str:
        x0, y0, x1, y1 = shape.bounds
        return self.at(((x0 + x1) / 2, (y0 + y1) / 2))

    def loose(self, one: Loose) -> Problem:
        if one.kind == "doubled":
            return self.doubled(one.at[0])
        if one.kind == "branch":
            return Problem(f"has more than two lines that end at {self.at(one.at[0])}", f"leave one way around the plate; {_LAYER}")
        gap = f"; the next end is {plain(one.gap / self.metres, 4)} {self.unit} from the first" if math.isfinite(one.gap) else ""
        return Problem(f"has an open curve, from {self.at(one.at[0])} to {self.at(one.at[1])}{gap}", _JOIN)

    def doubled(self, p: Sequence[float]) -> Problem:
        return Problem(f"has a curve that is drawn twice, at {self.at(p)}", "delete one of the two: a cutter would cut both")

    def crossing_itself(self, p: Vec2) -> Problem:
        return Problem(f"has a curve that crosses or touches itself, or runs back over itself, at {self.at(p)}",
                       "draw one simple way around the plate")

    def crossing(self, p: Sequence[float]) -> Problem:
        return Problem(f"has two curves that meet or cross, at {self.at(p)}", f"draw what is cut as one curve; or {_LAYER}")

    def within(self, small: Shape, large: Shape) -> Problem:
        return Problem(f"has a curve of {self.size(small)} about {self.middle(small)} within one of {self.size(large)} that is cut "
                       "out", f"what marks a countersink, an engraving or a part is not cut: {_LAYER}")

    def several(self, one: Shape, other: Shape) -> Problem:
        return Problem(f"has several outer curves: {self.size(one)} about {self.middle(one)} and {self.size(other)} about "
                       f"{self.middle(other)}", f"a deck is one plate; {_LAYER}")


