"""The bare plate at 1:1: as one page of its own size, or over several sheets of paper to be glued together.

Page-up is the deck's front, page-left its left, as seen on the top face; ``under`` shows the plate turned over left to right.
Nothing is added for the kerf of a saw or a laser.
"""
from __future__ import annotations

import math
from collections.abc import Iterable

from chassis_describe.drawings.frame import Frame, paper_size
from chassis_describe.drawings.paper import Circle, Group, Item, Page, Path, Step, Text, Vec2, box, line
from chassis_describe.drawings.plate_view import PlateView
from chassis_describe.drawings.text_width import text_width
from chassis_describe.space.plate.contours import bounds_of, contour_of
from chassis_describe.words import plain

#: Sheets overlap by this; the strip is where glue goes (mm).
OVERLAP = 10.0
#: Printers leave about this much of a sheet's edge white (mm).
_EDGE = 8.0
_FOOT = 16.0
_RULER = 100.0
_AROUND = 5.0


def plate_page(view: PlateView, under: bool) -> Page:
    """One page as large as the plate and a bit, with the contours alone: what a cutter takes."""
    (left, top, right, bottom), frame = _box(view, under)
    moved = frame._replace(x=frame.x - left + _AROUND, y=frame.y - top + _AROUND)
    return Page(right - left + 2 * _AROUND, bottom - top + 2 * _AROUND, tuple(plate_items(view, moved)), f"plate {view.name}")


def _box(view: PlateView, under: bool) -> tuple[tuple[float, float, float, float], Frame]:
    """The plate's box on a page whose origin is the deck's, at 1:1."""
    frame = Frame("under" if under else "plan", 0.0, 0.0, 1)
    x0, y0, x1, y1 = bounds_of(view.cut.outer)
    xs, ys = zip(frame.point((x0, y0)), frame.point((x1, y1)))
    return (min(xs), min(ys), max(xs), max(ys)), frame


def plate_items(view: PlateView, frame: Frame) -> Iterable[Item]:
    """Contours, cutouts, slots, holes, countersinks and crosses at the holes' middles, by layer."""
    yield Group("outline", tuple(frame.path(c, "edge-thin", "", "outline") for c in view.cut.outer), ((view.of, view.name),))
    yield Group("cutouts", tuple(frame.path(c, "edge-thin", "", "cutout") for c in view.cut.inner))
    yield Group("holes", (*(frame.path(contour_of(s), "edge-thin", "", "slot") for s in view.cut.slots),
                          *(Circle(frame.point((x, y)), d / 2, "edge-thin", "", "hole") for x, y, d in view.cut.holes)))
    if view.sinks:
        yield Group("countersinks", tuple(Circle(frame.point((x, y)), d / 2, "cone", "", "countersink") for x, y, d in view.sinks))
    yield Group("marks", tuple(m for at, reach in mark_points(view) for m in _cross(frame.point(at), reach)))


def mark_points(view: PlateView) -> Iterable[tuple[Vec2, float]]:
    """Where a drill is set, and how long the arms of its cross are (mm)."""
    for x, y, d in view.cut.holes:
        yield (x, y), min(d / 2 * 0.6, 1.2)
    for slot in view.cut.slots:
        for end in slot.ends:
            yield end, min(slot.width / 2 * 0.6, 1.2)


def _cross(at: Vec2, reach: float) -> Iterable[Item]:
    x, y = at
    yield line([(x - reach, y), (x + reach, y)], "hole", kind="cross")
    yield line([(x, y - reach), (x, y + reach)], "hole", kind="cross")


# ------------------------------------------------------------------------------------------------------------------- sheets
def template_pages(view: PlateView, robot: str, mark: str, paper: str, under: bool) -> list[Page]:
    """The plate over as many sheets as it needs, lying or standing, whichever takes fewer; rows from the front, from the left."""
    (left, top, right, bottom), frame = _box(view, under)
    wide, high = right - left, bottom - top
    lying = paper_size(paper)
    width, height = min((lying, lying[::-1]), key=lambda s: _count(wide, s[0] - 2 * _EDGE) * _count(high, _room(s[1])))
    room_x, room_y = width - 2 * _EDGE, _room(height)
    columns, rows = _count(wide, room_x), _count(high, room_y)
    step_x, step_y = room_x - OVERLAP, room_y - OVERLAP
    start_x = left - (room_x + (columns - 1) * step_x - wide) / 2
    start_y = top - (room_y + (rows - 1) * step_y - high) / 2
    pages = []
    for row in range(rows):
        for column in range(columns):
            x, y = start_x + column * step_x, start_y + row * step_y
            here = frame._replace(x=_EDGE - x, y=_EDGE - y)
            items: list[Item] = [_clipped(i, (_EDGE, _EDGE, room_x, room_y)) for i in plate_items(view, here)]
            items += _margins(width, height, room_x, room_y)
            items += _register(column, row, columns, rows, room_x, room_y)
            items += _foot(view, robot, mark, width, height, column, row, columns, rows, under)
            pages.append(Page(width, height, tuple(items), f"template {view.name} {row * columns + column + 1}/{rows * columns}"))
    return pages


def _room(height: float) -> float:
    return height - 2 * _EDGE - _FOOT


def _count(length: float, room: float) -> int:
    return max(1, math.ceil((length + 2.0 - OVERLAP) / (room - OVERLAP) - 1e-9))


def _clipped(group: Item, window: tuple[float, float, float, float]) -> Item:
    """What has no part in the window is left off; what crosses its edge runs into the white margin."""
    x, y, wide, high = window
    assert isinstance(group, Group)

    def near(item: Item) -> bool:
        points: tuple[Vec2, ...]
        if isinstance(item, Circle):
            points, r = (item.centre,), item.radius
        elif isinstance(item, Path):
            points, r = (item.start, *(s.end for s in item.steps)), 0.0
        else:
            return True
        xs, ys = [p[0] for p in points], [p[1] for p in points]
        return (max(xs) + r >= x - _EDGE and min(xs) - r <= x + wide + _EDGE
                and max(ys) + r >= y - _EDGE and min(ys) - r <= y + high + _EDGE)

    return group._replace(items=tuple(i for i in group.items if near(i)))


def _margins(width: float, height: float, wide: float, high: float) -> Iterable[Item]:
    """White over what runs past this sheet's share."""
    right, low = _EDGE + wide, _EDGE + high
    yield from (box(0.0, 0.0, width, _EDGE, "", "paper", "margin"), box(0.0, low, width, height - low, "", "paper", "margin"),
                box(0.0, 0.0, _EDGE, height, "", "paper", "margin"), box(right, 0.0, width - right, height, "", "paper", "margin"))


def _register(column: int, row: int, columns: int, rows: int, wide: float, high: float) -> Iterable[Item]:
    """Marks in the middle of the overlaps that lie on one another when the sheets are glued: a circle with a cross."""
    half = OVERLAP / 2
    xs = ([_EDGE + half] if column else []) + ([_EDGE + wide - half] if column < columns - 1 else [])
    ys = ([_EDGE + half] if row else []) + ([_EDGE + high - half] if row < rows - 1 else [])
    points = [(x, y) for x in xs for y in (_EDGE + high * 0.25, _EDGE + high * 0.75)]
    points += [(x, y) for y in ys for x in (_EDGE + wide * 0.25, _EDGE + wide * 0.75)]
    for x, y in points:
        halves = (Step((x - 2.0, y), (x, y), True), Step((x + 2.0, y), (x, y), True))
        ring = Path((x + 2.0, y), halves, "frame", "", True, "register")
        yield Group("register", (ring, line([(x - 3.5, y), (x + 3.5, y)], "frame"), line([(x, y - 3.5), (x, y + 3.5)], "frame")))
    edges = []
    if column < columns - 1:
        edges.append([(_EDGE + wide, _EDGE), (_EDGE + wide, _EDGE + high)])
    if row < rows - 1:
        edges.append([(_EDGE, _EDGE + high), (_EDGE + wide, _EDGE + high)])
    for edge in edges:
        yield line(edge, "cone", kind="cut-here")


def _foot(view: PlateView, robot: str, mark: str, width: float, height: float, column: int, row: int, columns: int, rows: int,
          under: bool) -> Iterable[Item]:
    """What it is, how to print it, a ruler each way, and the map of the sheets."""
    y = height - _EDGE - _FOOT + 5.0
    x = _EDGE + 6.0
    yield from ruler((x, y), True)
    yield from ruler((_EDGE - 2.5, _EDGE), False)
    face = "turned over left to right: its left is on the right" if under else "top face: front up, its left on the left"
    words = [f"{robot}: {view.name}, {plain(view.plate.thickness * 1e3)} mm {view.material or ''}".strip(),
             f"{face}. Page {row * columns + column + 1} of {rows * columns}; {mark}",
             "Print at 100 % (no fit to page); both rulers must measure 100 mm. Lines are the true edges: no kerf is added."]
    cell_w, cell_h = 5.0, 3.6
    map_wide = columns * cell_w
    room = width - 2 * _EDGE - 6.0 - map_wide - 4.0
    for k, text in enumerate(words):
        size = 2.4 if k == 0 else 2.1
        wide = text_width(text, size, k == 0)
        yield Text((x, y + 3.4 + k * 3.0), text, size if wide <= room else size * room / wide, "start", k == 0, "ink", "foot")
    if rows * columns > 1:
        at = (width - _EDGE - map_wide, height - _EDGE - max(_FOOT - 2.0, rows * cell_h) + 0.0)
        for r in range(rows):
            for c in range(columns):
                here = (r, c) == (row, column)
                yield box(at[0] + c * cell_w, at[1] + r * cell_h, cell_w, cell_h, "frame", "hair" if here else "", "map")
                yield Text((at[0] + (c + 0.5) * cell_w, at[1] + (r + 0.5) * cell_h + 0.7), str(r * columns + c + 1), 2.0, "middle",
                           here, "ink", "map-number")


def ruler(at: Vec2, lying: bool) -> Iterable[Item]:
    """100 mm with a stroke every 10, the ends longer."""
    def to(along: float, across: float) -> Vec2:
        return (at[0] + along, at[1] - across) if lying else (at[0] + across, at[1] + along)

    strokes: list[Item] = [line([to(0, 0), to(_RULER, 0)], "edge-thin", kind="ruler")]
    for k in range(11):
        strokes.append(line([to(10.0 * k, 0), to(10.0 * k, 2.0 if k % 10 == 0 else 1.2)], "edge-thin", kind="ruler-stroke"))
    yield Group("ruler", tuple(strokes), (("length", "100"),))
    if lying:
        yield Text((at[0] + _RULER + 1.5, at[1]), "100 mm", 2.0, "start", False, "ink", "ruler-word")
