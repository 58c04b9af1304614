"""Slips of unit that no single number shows: ranges, views and positions that no such sensor or part has.

The bounds are common practice: wider than any sensor that such a robot carries, and narrow enough that metres read as
millimetres, or radians as degrees, fall outside.
"""
from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from chassis_describe.layout.language.reading import Reading
from chassis_describe.layout.language.record import Taken
from chassis_describe.layout.model import Vec2
from chassis_describe.units import LENGTH, show, shown, split
from chassis_describe.words import distance_words, significant
from chassis_describe.yaml_text.nodes import Node, Scalar, Seq, mark_of


class Reach(NamedTuple):
    """How far a kind of sensor may see (m): the furthest between ``low`` and ``high``, the nearest 0 or from ``near``."""

    low: float
    high: float
    near: float


#: A lidar's 40 m written as a bare 40 is 40 mm, a depth camera's 10 m are 10 mm, a ranger's 4 m are 4 mm; reflective
#: rangers that look for the floor's edge reach 10 mm and more, and begin at 1 mm; the 0.02 m of an ultrasonic one is 0.02 mm.
REACHES: dict[str, Reach] = {"lidar": Reach(0.5, 1000.0, 0.005), "camera": Reach(0.1, 1000.0, 0.001),
                             "depth_camera": Reach(0.1, 1000.0, 0.001), "ranger": Reach(0.010, 200.0, 0.001)}
#: A bare field of view below this (in degrees) is read as radians: no camera or lidar sees so little, and 2π rad is the
#: whole turn; cones of rangers are 2° and more, and 1 rad is 57°.
RADIANS: dict[str, float] = {"lidar": 6.2832, "camera": 6.2832, "depth_camera": 6.2832, "ranger": 1.0}
#: Layers of a lidar span 3° and more; ±80° are 2.8 rad.
LEAST_SPAN = 3.0
#: A bare position whose largest coordinate is below this (mm) was meant in metres: nobody measures a hole's place to a
#: hundredth of a millimetre, and 0.2 m is as far as most parts reach.
LEAST_POSITION = 0.2
#: Two bolts of a part are further apart than this (m): the smallest screws in use, M1, have heads of 1.8 mm.
LEAST_BETWEEN_BOLTS = 0.001


def check_reach(taken: Taken, kind: str, r: Reading) -> None:
    """Report a ``range`` that no sensor of the kind has."""
    pair, allowed = taken.get("range"), REACHES.get(kind)
    if pair is None or allowed is None:
        return
    node = taken.at("range")
    wrong = None
    if not allowed.low <= pair[1] <= allowed.high:
        wrong = (f"that reaches {show(pair[1], LENGTH)} is not plausible: they reach {distance_words(allowed.low)} to "
                 f"{distance_words(allowed.high)}")
    elif 0.0 < pair[0] < allowed.near:
        wrong = (f"that sees from {show(pair[0], LENGTH)} on is not plausible: they begin at 0, or at "
                 f"{distance_words(allowed.near)} and more")
    if wrong is None:
        return
    written = [_bare(node, k) for k in (0, 1)]
    meant = ", ".join("0" if text == "0" else f"{text} m" if text is not None else _text(node, k) for k, text in enumerate(written))
    metres = any(text is not None for text in written) and pair[1] < 1.0
    r.fault("implausible", f"a {kind} {wrong}", node, taken.within("range"),
            hint=f"a bare number is mm: write `[{meant}]` if metres are meant" if metres
            else "check the digits and the unit: a bare number is mm")


def check_view(taken: Taken, kind: str, r: Reading) -> None:
    """Report a bare ``fov`` or ``vertical`` that is in radians."""
    node = taken.at("fov") if taken.get("fov") is not None else None
    if isinstance(node, Scalar) and kind in RADIANS and not split(node.text.strip())[1]:
        degrees = math.degrees(taken.get("fov"))
        if degrees < RADIANS[kind]:
            text = shown(node.text.strip())
            r.fault("implausible", f"a {kind} that sees {text}° wide is not plausible: this looks like radians, and a bare number "
                    "is degrees", node, taken.within("fov"), hint=f"write `{text} rad`, or `{text} deg` if degrees are meant")
    layers = taken.get("vertical")
    if layers is not None and taken.get("layers") > 1 and math.degrees(abs(layers[1] - layers[0])) < LEAST_SPAN:
        low, high = (_bare(taken.at("vertical"), k) for k in (0, 1))
        if low is not None and high is not None:
            r.fault("implausible", f"layers from {low}° to {high}° are not plausible: this looks like radians, and a bare number "
                    "is degrees", taken.at("vertical"), taken.within("vertical"),
                    hint=f"write `[{low} rad, {high} rad]`, or `[{low} deg, {high} deg]` if degrees are meant")


def check_position(taken: Taken, key: str, what: str, r: Reading) -> None:
    """Report a position in millimetres that was written in metres."""
    node, value = (taken.at(key), taken.values[key]) if key in taken.values else (None, ())
    if isinstance(node, Seq) and _in_metres(node, value):
        _say_metres(node, value, what, taken.within(key), r)


def check_bolts(bolts: Sequence[tuple[Vec2, Node]], what: str, path: tuple[str, ...], r: Reading) -> None:
    """Report a bolt pattern in metres, or two bolts (``what``) in what is one place; what is exactly one is not said here."""
    if any(any(at) for at, _ in bolts) and all(_in_metres(node, at) or not any(at) for at, node in bolts):
        at, node = next(b for b in bolts if any(b[0]))
        _say_metres(node, at, "a bolt", path, r)
        return
    cells: dict[tuple[int, int], list[tuple[Vec2, Node]]] = {}
    for at, node in bolts:
        column, row = (math.floor(v / LEAST_BETWEEN_BOLTS) for v in at)
        near = [b for c in (column - 1, column, column + 1) for d in (row - 1, row, row + 1) for b in cells.get((c, d), ())]
        close = next((b for b in near if 0.0 < math.dist(b[0], at) < LEAST_BETWEEN_BOLTS), None)
        if close is not None:
            r.fault("implausible", f"{what} {show(math.dist(close[0], at), LENGTH)} apart are not plausible", node, path,
                    hint="a bare number is mm: check the digits and the unit", also=[mark_of(close[1], path)])
            return
        cells.setdefault((column, row), []).append((at, node))


def _in_metres(node: Node, value: Sequence[float]) -> bool:
    """Whether a bare position has no coordinate that reaches LEAST_POSITION, and one besides 0."""
    farthest = max(abs(v) for v in value) * 1e3
    return 0.0 < farthest < LEAST_POSITION and all(_bare(node, k) is not None for k in range(len(value)))


def _say_metres(node: Node, value: Sequence[float], what: str, path: tuple[str, ...], r: Reading) -> None:
    meant = ", ".join(f"{_text(node, k)} m" if v else "0" for k, v in enumerate(value))
    first = next(k for k, v in enumerate(value) if v)
    far = significant(max(map(abs, value)) * 1e3, 3)
    r.fault("implausible", f"{what} {far} mm from the origin is not plausible: this looks like metres, and a bare number is mm",
            node, path,
            hint=f"write `[{meant}]` if metres are meant, or `{_text(node, first)} mm` if it is so little")


def _bare(node: Node, index: int) -> str | None:
    """The text of a number without unit in a list; None where it has one."""
    text = _text(node, index)
    return text if text != "…" and not split(text)[1] else None


def _text(node: Node, index: int) -> str:
    items = node.items if isinstance(node, Seq) else []
    item = items[index] if index < len(items) else None
    return shown(item.text.strip(), 20) if isinstance(item, Scalar) else "…"
