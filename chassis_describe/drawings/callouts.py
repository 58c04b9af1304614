"""Names beside a drawing, in columns left and right of it, with a line to what each one names. They never overlap."""
from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from chassis_describe.drawings.paper import Circle, Group, Item, Text, Vec2, line
from chassis_describe.drawings.text_width import ASCENT, line_width

#: Distance of lines of names, in font sizes.
PITCH = 1.45
SIZE = 2.5


class Label(NamedTuple):
    """``name`` in bold, ``detail`` after it; ``anchor`` on the page."""

    anchor: Vec2
    name: str
    detail: str = ""
    ink: str = "ink"


class Column(NamedTuple):
    """Room for names: from ``top`` to ``bottom``, the text's edge at ``x``, running away from the drawing."""

    x: float
    top: float
    bottom: float
    width: float


def label_width(label: Label, size: float = SIZE) -> float:
    """Width of a label's line."""
    return line_width(label.name, size, True, label.detail)


def capacity(column: Column) -> int:
    """How many names a column holds at the usual size."""
    return int((column.bottom - column.top) / (SIZE * PITCH))


def callouts(labels: Sequence[Label], left: Column, right: Column) -> Group:
    """All labels, each on the nearer side while there is room. Font sizes shrink when a column is too full or too narrow."""
    middle = (left.x + right.x) / 2
    ordered = sorted(labels, key=lambda k: (k.anchor[0], k.anchor[1], k.name))
    on_left = [k for k in ordered if k.anchor[0] < middle]
    on_right = ordered[len(on_left):]
    while len(on_left) > capacity(left) and len(on_right) < len(on_left) - 1:
        on_right.insert(0, on_left.pop())
    while len(on_right) > capacity(right) and len(on_left) < len(on_right) - 1:
        on_left.append(on_right.pop(0))
    items: list[Item] = []
    for side, column, group in ((-1, left, on_left), (1, right, on_right)):
        items += _column(group, column, side)
    return Group("callouts", tuple([i for i in items if not isinstance(i, Text)] + [i for i in items if isinstance(i, Text)]))


def _column(labels: Sequence[Label], column: Column, side: int) -> list[Item]:
    if not labels:
        return []
    size = min(SIZE, (column.bottom - column.top) / len(labels) / PITCH)
    pitch = size * PITCH
    rows = sorted(labels, key=lambda k: (k.anchor[1], k.anchor[0] * side, k.name))
    ys = spread([k.anchor[1] for k in rows], pitch, column.top + pitch / 2, column.bottom - pitch / 2)
    rows = _uncrossed(rows, ys, column.x)
    items: list[Item] = []
    for label, y in zip(rows, ys):
        own = min(size, size * column.width / max(label_width(label, size), 1e-9))
        base = y + own * ASCENT / 2
        edge = column.x - side * 0.8
        bend = column.x - side * 2.6
        items.append(line([(edge, y), (bend, y), label.anchor], "leader", kind="leader"))
        items.append(Circle(label.anchor, 0.45, "", "grey", "anchor"))
        items.append(Text((column.x, base), label.name, own, "start" if side > 0 else "end", True, label.ink, "label",
                          label.detail))
    return items


def spread(wanted: Sequence[float], pitch: float, low: float, high: float) -> list[float]:
    """Places at least ``pitch`` apart, in order and as near to the wanted ones as that allows (least squares: neighbours
    that push one another form blocks about their mean), between ``low`` and ``high`` while they fit there."""
    blocks: list[list[float]] = []  # sum of offsets from the block's start, count
    for k, want in enumerate(wanted):
        blocks.append([want - k * pitch, 1.0])
        while len(blocks) > 1 and blocks[-2][0] / blocks[-2][1] > blocks[-1][0] / blocks[-1][1]:
            total, count = blocks.pop()
            blocks[-1][0] += total
            blocks[-1][1] += count
    room = max(high - low - pitch * (len(wanted) - 1), 0.0)
    starts = [min(max(total / count, low), low + room) for total, count in blocks for _ in range(int(count))]
    return [start + k * pitch for k, start in enumerate(starts)]


def _uncrossed(rows: Sequence[Label], ys: Sequence[float], x: float) -> list[Label]:
    """Neighbours change places while that keeps their lines from crossing."""
    out = list(rows)
    for _ in range(len(out)):
        changed = False
        for k in range(len(out) - 1):
            if _cross((x, ys[k]), out[k].anchor, (x, ys[k + 1]), out[k + 1].anchor):
                out[k], out[k + 1] = out[k + 1], out[k]
                if _cross((x, ys[k]), out[k].anchor, (x, ys[k + 1]), out[k + 1].anchor):
                    out[k], out[k + 1] = out[k + 1], out[k]
                else:
                    changed = True
        if not changed:
            break
    return out


def _cross(a: Vec2, b: Vec2, c: Vec2, d: Vec2) -> bool:
    def side(p: Vec2, q: Vec2, r: Vec2) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0
