"""Two builds in one picture: every deck in plan, what was in dashed grey, what is now in blue, what stays in thin lines."""
from __future__ import annotations

from collections.abc import Iterable, Sequence

from chassis_describe.assembly.model import Assembly
from chassis_describe.drawings.callouts import Column, Label, callouts, label_width
from chassis_describe.drawings.deck_page import axis_numbers, extent_of
from chassis_describe.drawings.frame import SCALES, Frame, paper_size
from chassis_describe.drawings.paper import Circle, Group, Item, Page, Text, Vec2, line
from chassis_describe.drawings.text_width import text_width
from chassis_describe.drawings.title_block import MARGIN, STRIP, caption, numbered, title_block
from chassis_describe.drawings.views import DeckView, PlanPart, deck_views
from chassis_describe.space.plate.contours import Contour

_AXIS, _HEAD, _FOOT = 7.0, 10.0, 8.0


def before_after(old: Assembly, new: Assembly, paper: str = "a4") -> tuple[Page, ...]:
    """A page for each deck of either build."""
    size = paper_size(paper)
    was, now = deck_views(old), deck_views(new)
    return numbered([_page(new, name, was.get(name), now.get(name), size) for name in dict.fromkeys((*now, *was))])


def _page(new: Assembly, name: str, was: DeckView | None, now: DeckView | None, size: Vec2) -> Page:
    width, height = size
    shown = [v for v in (was, now) if v is not None]
    boxes = [extent_of(v) for v in shown]
    x0, y0, x1, y1 = (f(b[k] for b in boxes) for k, f in enumerate((min, min, max, max)))
    changes = list(_changes(was, now))
    names = max((label_width(Label((0.0, 0.0), n, word)) for n, word, _, _ in changes), default=20.0)
    names = min(names, 0.26 * (width - 2 * MARGIN))
    top, bottom = MARGIN + _HEAD, height - MARGIN - STRIP - _FOOT
    room = width - 2 * MARGIN - 2 * (names + _AXIS + 4.0)
    scale = next((s for s in SCALES if (y1 - y0) / s <= room and (x1 - x0) / s <= bottom - top - 2 * _AXIS), SCALES[-1])
    frame = Frame("plan", width / 2 + (y0 + y1) / 2 / scale, (top + bottom) / 2 + (x0 + x1) / 2 / scale, scale)
    items: list[Item] = list(caption(MARGIN, MARGIN + 3.0, f"deck {name}", "before and after; top face, front up"))
    items.append(Group("deck", tuple(_drawn(was, now, frame, {n for n, *_ in changes})), (
        ("name", name), ("scale", f"1:{scale}"), ("face", "plan"), ("origin", f"{frame.x:.4f} {frame.y:.4f}"))))
    half = (y1 - y0) / 2 / scale + _AXIS + 4.0
    left, right = max(width / 2 - half, MARGIN + names), min(width / 2 + half, width - MARGIN - names)
    labels = [Label(frame.point(at), n, word, ink) for n, word, at, ink in changes]
    items.append(callouts(labels, Column(left, top, bottom, left - MARGIN), Column(right, top, bottom, width - MARGIN - right)))
    items += axis_numbers(now or shown[0], frame)
    if not changes and was is not None and now is not None:
        items.append(Text((MARGIN, MARGIN + 9.0), "nothing moved on this deck", 2.5, kind="caption"))
    items += _legend(MARGIN, height - MARGIN - STRIP - 2.6)
    items.append(title_block(new, width, height, f"{name}: before and after", f"1:{scale}"))
    return Page(width, height, tuple(items), f"{name}, before and after")


def _same(a: Sequence[Contour], b: Sequence[Contour]) -> bool:
    """Whether outlines agree to a micrometre."""
    def points(contours: Sequence[Contour]) -> list[Vec2]:
        return [e.start for c in contours for e in c]

    one, other = points(a), points(b)
    return len(one) == len(other) and all(abs(p[0] - q[0]) < 1e-3 and abs(p[1] - q[1]) < 1e-3 for p, q in zip(one, other))


def _changes(was: DeckView | None, now: DeckView | None) -> Iterable[tuple[str, str, Vec2, str]]:
    """Name, what happened, where, and the ink of the name."""
    old = {p.name: p for p in was.parts} if was is not None else {}
    new = {p.name: p for p in now.parts} if now is not None else {}
    for name, part in new.items():
        before = old.get(name)
        if before is None:
            yield name, "new here", part.anchor, "blue"
        elif not _same(before.outer, part.outer) or before.face != part.face or before.forward != part.forward:
            yield name, f"{before.detail} → {part.detail}".replace("→", "to"), part.anchor, "blue"
    for name, part in old.items():
        if name not in new:
            yield name, "no longer here", part.anchor, "grey"


def _drawn(was: DeckView | None, now: DeckView | None, frame: Frame, changed: set[str]) -> Iterable[Item]:
    if now is not None:
        yield frame.region((*now.cut.outer, *now.cut.inner), "edge", "plate", "plate")
    if was is not None and (now is None or not _same((*was.cut.outer, *was.cut.inner), (*now.cut.outer, *now.cut.inner))):
        yield frame.region((*was.cut.outer, *was.cut.inner), "before", "", "plate-before")
    for part in now.parts if now is not None else ():
        if part.name in changed:
            yield frame.region((*part.outer, *part.inner), "", "mist", "fill")
    for hole in (now or was).holes if (now or was) is not None else ():  # type: ignore[union-attr]
        yield Circle(frame.point(hole.at), hole.diameter / 2 / frame.scale, "hole", "paper", "hole", (("hole", hole.name),))
    for part in now.parts if now is not None else ():
        if part.name not in changed:
            yield _outline(part, frame, "body", "same")
    for part in was.parts if was is not None else ():
        if part.name in changed:
            yield _outline(part, frame, "before", "before")
    old = {p.name: p for p in was.parts} if was is not None else {}
    for part in now.parts if now is not None else ():
        if part.name in changed:
            yield _outline(part, frame, "after", "after")
            if part.name in old:
                yield line([frame.point(old[part.name].origin), frame.point(part.origin)], "after", kind="moved")


def _outline(part: PlanPart, frame: Frame, pen: str, kind: str) -> Item:
    return Group(kind, (frame.region((*part.outer, *part.inner), pen, "", "outline"),), (("name", part.name),))


def _legend(x: float, y: float) -> Iterable[Item]:
    for pen, text in (("before", "before"), ("after", "after"), ("body", "unchanged")):
        yield line([(x, y), (x + 6.0, y)], pen, kind="legend-line")
        yield Text((x + 7.0, y + 0.8), text, 2.0, "start", False, "grey", "legend-text")
        x += 7.0 + text_width(text, 2.0) + 5.0
