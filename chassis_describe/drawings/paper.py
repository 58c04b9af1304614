"""What can be on a sheet: pages of paths, circles and text, in millimetres from the page's top left corner, y down."""
from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import Literal, NamedTuple, Union

#: Every file of ours holds these words; one without them is somebody else's.
MARK = "made by chassis_describe"

Vec2 = tuple[float, float]
Anchor = Literal["start", "middle", "end"]


class Step(NamedTuple):
    """To ``end``: straight, or round about ``centre``, clockwise on the page where ``right``."""

    end: Vec2
    centre: Vec2 | None = None
    right: bool = False


class Path(NamedTuple):
    """A line of steps. ``pen`` and ``fill`` are names of the style's tables; "" for none."""

    start: Vec2
    steps: tuple[Step, ...]
    pen: str = ""
    fill: str = ""
    closed: bool = False
    kind: str = ""


class Region(NamedTuple):
    """Several closed paths filled together, the inner ones left open (even-odd)."""

    paths: tuple[Path, ...]
    pen: str = ""
    fill: str = ""
    kind: str = ""


class Circle(NamedTuple):
    """``data``: what it stands for, as names and values that an SVG keeps as ``data-`` attributes."""

    centre: Vec2
    radius: float
    pen: str = ""
    fill: str = ""
    kind: str = ""
    data: tuple[tuple[str, str], ...] = ()


class Text(NamedTuple):
    """One line; ``at`` is on the base line. ``size`` is the font size in mm; ``ink`` a colour of the style's table.

    ``tail`` follows in grey, never bold.
    """

    at: Vec2
    text: str
    size: float = 2.4
    anchor: Anchor = "start"
    bold: bool = False
    ink: str = "ink"
    kind: str = ""
    tail: str = ""


class Group(NamedTuple):
    """Things that belong together. ``data`` likewise."""

    kind: str
    items: tuple[Item, ...]
    data: tuple[tuple[str, str], ...] = ()


Item = Union[Path, Region, Circle, Text, Group]


class Page(NamedTuple):
    """One sheet of paper, mm."""

    width: float
    height: float
    items: tuple[Item, ...]
    title: str = ""


def line(points: Sequence[Vec2], pen: str, *, closed: bool = False, fill: str = "", kind: str = "") -> Path:
    """A path of straight steps."""
    return Path(points[0], tuple(Step(p) for p in points[1:]), pen, fill, closed, kind)


def box(x: float, y: float, width: float, height: float, pen: str = "", fill: str = "", kind: str = "") -> Path:
    """A rectangle by its top left corner."""
    return line([(x, y), (x + width, y), (x + width, y + height), (x, y + height)], pen, closed=True, fill=fill, kind=kind)


def moved(item: Item, dx: float, dy: float) -> Item:
    """The same thing elsewhere on the page."""
    def to(p: Vec2) -> Vec2:
        return (p[0] + dx, p[1] + dy)

    if isinstance(item, Group):
        return item._replace(items=tuple(moved(i, dx, dy) for i in item.items))
    if isinstance(item, Region):
        return item._replace(paths=tuple(_moved_path(p, to) for p in item.paths))
    if isinstance(item, Path):
        return _moved_path(item, to)
    return item._replace(centre=to(item.centre)) if isinstance(item, Circle) else item._replace(at=to(item.at))


def _moved_path(path: Path, to: Callable[[Vec2], Vec2]) -> Path:
    return path._replace(start=to(path.start), steps=tuple(
        Step(to(s.end), to(s.centre) if s.centre is not None else None, s.right) for s in path.steps))


def leaves(items: Iterable[Item]) -> Iterable[Path | Region | Circle | Text]:
    """Everything that is drawn, groups opened, in order."""
    for item in items:
        if isinstance(item, Group):
            yield from leaves(item.items)
        else:
            yield item


def radius(start: Vec2, step: Step) -> float:
    """Of a round step."""
    assert step.centre is not None
    return math.dist(start, step.centre)


def sweep(start: Vec2, step: Step) -> float:
    """Turn of a round step on the page (rad, positive clockwise there since y is down), up to a full turn."""
    assert step.centre is not None
    a = math.atan2(start[1] - step.centre[1], start[0] - step.centre[0])
    b = math.atan2(step.end[1] - step.centre[1], step.end[0] - step.centre[0])
    return (b - a) % (2 * math.pi) if step.right else -((a - b) % (2 * math.pi))
