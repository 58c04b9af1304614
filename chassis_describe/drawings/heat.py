"""Where a part could go, on the plans of decks: the larger and darker a spot, the better the place."""
from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

from chassis_describe.assembly.model import Assembly
from chassis_describe.drawings.deck_page import axis_numbers, extent_of, middle_of, plan_items
from chassis_describe.drawings.frame import SCALES, Frame, paper_size
from chassis_describe.drawings.paper import Circle, Group, Item, Page, Text, Vec2, line
from chassis_describe.drawings.text_width import text_width
from chassis_describe.drawings.title_block import MARGIN, STRIP, caption, numbered, title_block
from chassis_describe.drawings.views import deck_views
from chassis_describe.layout.model import Face
from chassis_describe.words import pair

_HEAD, _FOOT, _SIDE = 10.0, 8.0, 20.0
#: Radii of the worst and the best place (mm on paper).
_LEAST, _MOST = 0.5, 2.0


class Spot(NamedTuple):
    """A place: its point (mm, deck), its name in holes, how good it is (0 to 1; None: not there) and what is wrong."""

    point: Vec2
    at: Vec2
    good: float | None
    refused: str | None


def heat_pages(assembly: Assembly, placement: str, maps: Mapping[tuple[str, Face], Sequence[Spot]],
               paper: str = "a4") -> tuple[Page, ...]:
    """One page for each face of a deck."""
    width, height = paper_size(paper)
    pages = []
    for (deck, face), spots in maps.items():
        view = deck_views(assembly)[deck]
        kind = "under" if face == "under" else "plan"
        top, bottom = MARGIN + _HEAD, height - MARGIN - STRIP - _FOOT
        x0, y0, x1, y1 = extent_of(view)
        scale = next((s for s in SCALES if (y1 - y0) / s <= width - 2 * MARGIN - 2 * _SIDE
                      and (x1 - x0) / s <= bottom - top - 2 * _SIDE), SCALES[-1])
        frame = middle_of(view, kind, scale, width, top, bottom)
        items: list[Item] = [*plan_items(view, frame), *(i for s in spots for i in _spot(frame, s)), *axis_numbers(view, frame)]
        side = "under face, turned over left to right" if face == "under" else "top face, front up"
        title = f"places for {placement} on {deck}, {side}"
        items += caption(MARGIN, MARGIN + 3.0, f"places for {placement}", f"deck {deck}, {side}")
        items += _legend(MARGIN, height - MARGIN - STRIP - 2.6)
        items.append(title_block(assembly, width, height, title, f"1:{scale}"))
        pages.append(Page(width, height, tuple(items), title))
    return tuple(numbered(pages))


def _spot(frame: Frame, spot: Spot) -> Iterable[Item]:
    """A disc where the part's origin would be, or a small cross."""
    x, y = frame.point(spot.point)
    if spot.good is None:
        cross = tuple(line([(x - 0.6, y - k), (x + 0.6, y + k)], "hole") for k in (0.6, -0.6))
        yield Group("place refused", cross, (("at", pair(spot.at)), ("why", spot.refused or "")))
        return
    radius = _LEAST + (_MOST - _LEAST) * spot.good
    yield Circle((x, y), radius, "hole-blue", "blue" if spot.good > 0.8 else "mist" if spot.good > 0.4 else "paper", "place",
                 (("at", pair(spot.at)), ("good", f"{spot.good:.3f}")))


def _legend(x: float, y: float) -> Iterable[Item]:
    for good, text in ((1.0, "best"), (0.6, "good"), (0.1, "worst that fits")):
        yield Group("legend", tuple(_spot(Frame("view", x + 2.0, y, 1), Spot((0.0, 0.0), (0.0, 0.0), good, None))))
        yield Text((x + 5.0, y + 0.8), text, 2.0, "start", False, "grey", "legend-text")
        x += 5.0 + text_width(text, 2.0) + 4.0
    yield Group("legend", tuple(_spot(Frame("view", x + 2.0, y, 1), Spot((0.0, 0.0), (0.0, 0.0), None, ""))))
    yield Text((x + 4.0, y + 0.8), "holes fit, but an error would come: taken, in the way, tips", 2.0, "start", False, "grey",
               "legend-text")
