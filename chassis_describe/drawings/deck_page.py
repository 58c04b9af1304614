"""One deck in plan on a page: every hole, coordinates on both axes, what is bolted where."""
from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from chassis_describe.assembly.model import Assembly
from chassis_describe.drawings.callouts import Column, Label, callouts, capacity, label_width
from chassis_describe.drawings.frame import SCALES, Frame
from chassis_describe.drawings.hole_marks import hole_marks, miss_mark
from chassis_describe.drawings.paper import Circle, Group, Item, Page, Path, Step, Text, Vec2, line
from chassis_describe.drawings.text_width import ASCENT, text_width
from chassis_describe.drawings.title_block import MARGIN, STRIP, caption, title_block
from chassis_describe.drawings.views import DeckView, PlanPart, User
from chassis_describe.space.plate.contours import bounds_of
from chassis_describe.words import count, plain

#: Between the plate and its numbers, and for the numbers (mm).
_AXIS = 7.0
_HEAD, _FOOT = 10.0, 8.0
_GUTTER = 4.0


def deck_pages(assembly: Assembly, view: DeckView, size: Vec2, kind: str, flags: dict[str, str],
               most: int | None = None) -> list[Page]:
    """The pages of one deck: one, or several that share out the names when there are more than the columns hold.

    ``kind``: ``plan`` or ``under``; ``flags``: by placement or deck, the numbers of the errors that name it; ``most``: outlines
    and holes on all pages together, after which no further page is made and the last one says so.
    """
    labels = labels_of(view, flags)
    width, height = size
    x0, y0, x1, y1 = extent_of(view)
    wide, high = y1 - y0, x1 - x0
    top, bottom = MARGIN + _HEAD, height - MARGIN - STRIP - _FOOT
    widest = max((label_width(k.label) for k in labels), default=20.0)
    columns = min(widest, (width - 2 * MARGIN) * 0.26)
    room = width - 2 * MARGIN - 2 * (columns + _GUTTER + _AXIS)
    scale = next((s for s in SCALES if wide / s <= room and high / s <= bottom - top - 2 * _AXIS), SCALES[-1])
    frame = middle_of(view, kind, scale, width, top, bottom)
    left, right = _columns(frame, (x0, y0, x1, y1), kind, width, top, bottom, columns)
    share = max(capacity(left) + capacity(right), 1)
    told = len(labels) if most is None else share * max(1, most // (len(view.parts) + len(view.holes) + 1))
    left_out = max(0, len(labels) - told)
    plan = tuple(plan_items(view, frame))
    pages = []
    for start in range(0, max(len(labels) - left_out, 1), share):
        shown = labels[start:start + share]
        items: list[Item] = list(plan)
        points = [Label(frame.point(k.at), k.label.name, k.label.detail, k.label.ink) for k in shown]
        items.append(callouts(points, left, right))
        items += axis_numbers(view, frame)
        title = f"{view.name}, {'turned over left to right' if kind == 'under' else 'top face, front up'}"
        more = f"; {left_out} more names are left out here: `draw` shows all" if left_out and start + share >= told else ""
        items += caption(MARGIN, MARGIN + 3.0, f"deck {view.name}", _note(view, kind) + more)
        items += legend(MARGIN, height - MARGIN - STRIP - 2.6)
        items.append(title_block(assembly, width, height, title, f"1:{scale}"))
        pages.append(Page(width, height, tuple(items), title))
    return pages


class _Named(NamedTuple):
    """A label and what it names in deck coordinates (mm)."""

    at: Vec2
    label: Label


def labels_of(view: DeckView, flags: dict[str, str]) -> list[_Named]:
    """Names of parts, and of what stands on standoffs here."""
    out = [_Named(p.anchor, Label(p.anchor, _flagged(p.name, flags), p.detail + (", under" if p.face == "under" else ""),
                                   "ochre" if p.face == "under" else "blue")) for p in view.parts]
    for deck in view.used_standoffs:
        at = next((h.at for h in view.holes if any(u.kind == "standoff" and u.name == deck for u in h.users)), None)
        if at is not None:
            number = sum(1 for h in view.holes for u in h.users if u.kind == "standoff" and u.name == deck)
            word = "standoff" if number == 1 else "standoffs"
            out.append(_Named(at, Label(at, _flagged(f"{number} {word}", flags, deck), f"to {deck}" if deck != view.name else
                                         "from the deck that carries this one")))
    return out


def _flagged(name: str, flags: dict[str, str], key: str | None = None) -> str:
    mark = flags.get(key if key is not None else name, "")
    numbers = mark.split(", ")
    more = f" +{len(numbers) - 3}" if len(numbers) > 3 else ""
    return f"{name} !{', '.join(numbers[:3])}{more}" if mark else name


def _note(view: DeckView, kind: str) -> str:
    deck = view.facet.deck
    lattice = deck.lattice
    words = [f"{plain(deck.thickness * 1e3)} mm {deck.material or ''}".strip()]
    if lattice is not None:
        words.append(f"pitch {plain(lattice.pitch * 1e3)} mm, holes {plain(lattice.hole * 1e3)} mm, {lattice.screw}")
    words.append(count(len(view.holes), "hole") + (f", {count(len(view.cut.slots), 'slot')}" if view.cut.slots else ""))
    words.append("turned over left to right: front up, the robot's left on the right" if kind == "under" else
                 "top face, front up; [i, j] counts forward and to the left")
    return "; ".join(words)


def extent_of(view: DeckView) -> tuple[float, float, float, float]:
    """The box around a plate and its parts (mm, deck)."""
    boxes = [view.bounds] + [bounds_of(p.outer) for p in view.parts]
    return (min(b[0] for b in boxes), min(b[1] for b in boxes), max(b[2] for b in boxes), max(b[3] for b in boxes))


def middle_of(view: DeckView, kind: str, scale: int, width: float, top: float, bottom: float) -> Frame:
    """The plan in the middle of a page, between two heights (mm)."""
    x0, y0, x1, y1 = extent_of(view)
    across = (y0 + y1) / 2 / scale
    return Frame("under" if kind == "under" else "plan", width / 2 + (-across if kind == "under" else across),
                 (top + bottom) / 2 + (x0 + x1) / 2 / scale, scale)


def _columns(frame: Frame, extent: tuple[float, float, float, float], kind: str, width: float, top: float, bottom: float,
             columns: float) -> tuple[Column, Column]:
    half = (extent[3] - extent[1]) / 2 / frame.scale
    left = max(width / 2 - half - _AXIS - _GUTTER, MARGIN + columns)
    right = min(width / 2 + half + _AXIS + _GUTTER, width - MARGIN - columns)
    return Column(left, top, bottom, left - MARGIN), Column(right, top, bottom, width - MARGIN - right)


# ---------------------------------------------------------------------------------------------------------------- drawing
def plan_items(view: DeckView, frame: Frame, parts: Sequence[PlanPart] | None = None) -> Iterable[Item]:
    """The deck with its holes and parts, without names."""
    shown = view.parts if parts is None else parts
    items: list[Item] = [frame.region((*view.cut.outer, *view.cut.inner), "edge", "plate", "plate")]
    for part in shown:
        if part.face == "top":
            items.append(frame.region((*part.outer, *part.inner), "", "mist", "part-fill"))
    for number, slot in enumerate(view.cut.slots):
        items.append(slot_path(frame, slot, view.slot_users[number] if number < len(view.slot_users) else ()))
    for hole in view.holes:
        data = (("hole", hole.name), *((("used-by", ", ".join(u.name for u in hole.users)),) if hole.users else ()))
        items += hole_marks(frame.point(hole.at), hole.diameter / 2 / frame.scale, hole.users, data)
    for part in sorted(shown, key=lambda p: p.face == "top"):
        pen = "part" if part.face == "top" else "part-under"
        items.append(Group("part", (frame.region((*part.outer, *part.inner), pen, "", f"part-outline {part.face}"),
                                    *_arrow(frame, part)), (("name", part.name),)))
    items += [miss_mark(frame.point(m.at)) for m in view.misses]
    yield Group("deck", tuple(items), (("name", view.name), ("scale", f"1:{frame.scale}"), ("face", frame.kind),
                                       ("origin", f"{frame.x:.4f} {frame.y:.4f}")))
    yield from _front(view, frame)


def slot_path(frame: Frame, slot: object, users: Sequence[User] = (), pen: str = "hole") -> Item:
    """A slot as its outline."""
    from chassis_describe.space.plate.contours import contour_of

    return frame.path(contour_of(slot), "hole-blue" if users else pen, "paper", "slot")  # type: ignore[arg-type]


def _arrow(frame: Frame, part: PlanPart) -> Iterable[Item]:
    """Where the part's own x points, from its origin."""
    if part.forward is None:
        return
    (x, y), (dx, dy) = frame.point(part.origin), frame.direction(part.forward)
    tip = (x + 4.0 * dx, y + 4.0 * dy)
    solid = "part" if part.face == "top" else "hole-ochre"
    yield line([(x, y), tip], solid, kind="forward")
    yield line([(tip[0] - 1.3 * dx + 0.6 * dy, tip[1] - 1.3 * dy - 0.6 * dx), tip,
                (tip[0] - 1.3 * dx - 0.6 * dy, tip[1] - 1.3 * dy + 0.6 * dx)], solid, kind="forward")


def _front(view: DeckView, frame: Frame) -> Iterable[Item]:
    """The robot's forward, over the middle of the plate's front edge."""
    _, y0, x1, y1 = extent_of(view)
    x, y = frame.point((x1, (y0 + y1) / 2))
    tip = y - _AXIS - 1.2
    yield Path((x, tip), (Step((x + 1.5, tip + 2.6)), Step((x, tip + 1.9)), Step((x - 1.5, tip + 2.6))), "", "ink", True, "front")
    yield Text((x + 2.4, tip + 2.4), "front", 2.1, "start", False, "ink", "front-word")


def axis_numbers(view: DeckView, frame: Frame) -> list[Item]:
    """i beside the rows on both sides, j over and under the columns; every so many where they would be too close."""
    items: list[Item] = []
    x0, y0, x1, y1 = extent_of(view)
    corners = [frame.point((x0, y0)), frame.point((x1, y1))]
    left, right = sorted(p[0] for p in corners)
    top, bottom = sorted(p[1] for p in corners)
    size = 2.0
    rows = [(str(i), frame.point((x, 0.0))[1]) for i, x in view.rows.items()]
    columns = [(str(j), frame.point((0.0, y))[0]) for j, y in view.columns.items()]
    high = size * 1.25
    wide = max((text_width(t, size) for t, _ in columns), default=1.0) + 0.8
    for text, y in _thinned(rows, high):
        for x in (left - 3.4, right + 3.4):
            items.append(_number(x, y, text, size))
    for text, x in _thinned(columns, wide):
        for y in (top - 3.2, bottom + 3.2):
            items.append(_number(x, y, text, size))
    if rows:
        items.append(Text((left - 3.4, top - 3.2 + size * ASCENT / 2), "i", size, "middle", True, "grey", "axis-name"))
    if columns:
        items.append(Text((left - 3.4 + 1.6, top - 3.2 + size * ASCENT / 2), "j", size, "middle", True, "grey", "axis-name"))
    return items


def _thinned(numbers: Sequence[tuple[str, float]], least: float) -> list[tuple[str, float]]:
    ordered = sorted(numbers, key=lambda n: n[1])
    gap = min((b[1] - a[1] for a, b in zip(ordered, ordered[1:])), default=math.inf)
    step = next(s for s in (1, 2, 5, 10, 20, 50, 100, 1000) if s * gap >= least or s == 1000)
    return [n for n in ordered if int(n[0]) % step == 0]


def _number(x: float, y: float, text: str, size: float) -> Item:
    from chassis_describe.drawings.paper import box

    wide = text_width(text, size) + 0.5
    return Group("axis", (box(x - wide / 2, y - size * 0.5, wide, size, "", "paper"),
                          Text((x, y + size * ASCENT / 2 - 0.05), text, size, "middle", False, "grey", "axis-number")))


def legend(x: float, y: float) -> Iterable[Item]:
    """What the signs in the holes say."""
    one = User("", "part", "top")
    signs: list[tuple[tuple[User, ...], str]] = [
        ((), "free"), ((one,), "used from the top face"), ((one._replace(face="under"),), "used from the under face"),
        ((one, one._replace(face="under")), "from both"), ((one._replace(kind="standoff"),), "standoff")]
    for users, text in signs:
        yield Group("legend", tuple(_plain(i) for i in hole_marks((x + 1.2, y), 0.9, users, ())))
        yield Text((x + 3.0, y + 0.8), text, 2.0, "start", False, "grey", "legend-text")
        x += 3.0 + text_width(text, 2.0) + 4.0
    for pen, text in (("part", "part on top"), ("part-under", "part under the deck")):
        yield line([(x, y), (x + 5.0, y)], pen, kind="legend-line")
        yield Text((x + 6.0, y + 0.8), text, 2.0, "start", False, "grey", "legend-text")
        x += 6.0 + text_width(text, 2.0) + 4.0
    yield Group("legend", (miss_mark((x + 1.5, y)),))
    yield Text((x + 3.8, y + 0.8), "meets no hole", 2.0, "start", False, "grey", "legend-text")


def _plain(item: Item) -> Item:
    """A hole of the legend is no hole of a plate."""
    return item._replace(kind="legend-hole") if isinstance(item, Circle) else item
