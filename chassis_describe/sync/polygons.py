"""Polygons as parameter files hold them: a string of pairs, or a flat list of numbers; one rewritten as the other stood."""
from __future__ import annotations

import math
import re
from collections.abc import Sequence
from decimal import Decimal

from chassis_describe.targets.stack.ros_yaml import double
from chassis_describe.yaml_text.spans import Items, Word
from chassis_describe.yaml_text.spelling import number_like

Point = tuple[float, float]

_NUMBER = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
#: The same corner, metres: files hold millimetres, and some round to them.
_SAME = 1e-6


def points_of(value: Word | Items) -> tuple[Point, ...] | None:
    """The corners, or None where this is no polygon of three corners or more."""
    if isinstance(value, Word):
        text = value.text
        if not text.lstrip().startswith("[") or set(_NUMBER.sub("", text)) - set("[], \t\r\n"):
            return None
        numbers = [float(found) for found in _NUMBER.findall(text)]
    else:
        words = [item.text for item in value.items if isinstance(item, Word) and _NUMBER.fullmatch(item.text)]
        if len(words) != len(value.items):
            return None
        numbers = [float(word) for word in words]
    if len(numbers) < 6 or len(numbers) % 2 or not all(map(math.isfinite, numbers)):
        return None
    return tuple(zip(numbers[::2], numbers[1::2]))


def same_polygon(a: Sequence[Point], b: Sequence[Point]) -> bool:
    """Whether two outlines are one, wherever they begin and whichever way they go; corners on a straight line don't count."""
    one, other = _corners(a), _corners(b)
    if len(one) != len(other):
        return False
    return any(all(_near(p, q) for p, q in zip(one, (*way[k:], *way[:k])))
               for way in (other, other[::-1]) for k in range(len(way)))


def text_like(old: str, points: Sequence[Point]) -> str:
    """The corners as a text, with the blanks, decimals and signs of the one that it replaces."""
    found = list(_NUMBER.finditer(old))
    gaps = [old[a.end():b.start()] for a, b in zip(found, found[1:])]
    head, tail = old[: found[0].start()], old[found[-1].end():]
    numbers = [value for point in points for value in point]
    out = [head]
    for k, value in enumerate(numbers):
        style = found[min(k, len(found) - 1)].group()
        word = number_like(style, Decimal(double(value)))
        out.append(word if "." in word or "e" in word.lower() else f"{word}.0")
        if k < len(numbers) - 1:
            out.append(gaps[k] if k < len(gaps) else gaps[k % 2])
    return "".join((*out, tail))


def _corners(points: Sequence[Point]) -> list[Point]:
    distinct = [p for k, p in enumerate(points) if not _near(p, points[k - 1])]
    return [p for k, p in enumerate(distinct) if not _between(distinct[k - 1], p, distinct[(k + 1) % len(distinct)])]


def _between(a: Point, p: Point, b: Point) -> bool:
    ux, uy, vx, vy = p[0] - a[0], p[1] - a[1], b[0] - p[0], b[1] - p[1]
    length = math.hypot(b[0] - a[0], b[1] - a[1])
    return abs(ux * vy - uy * vx) <= _SAME * length and ux * vx + uy * vy > 0


def _near(a: Point, b: Point) -> bool:
    return math.dist(a, b) <= _SAME
