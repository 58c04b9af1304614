"""A figure for one step of the build sheet: the deck as it lies then, what is on it in grey, what comes on in blue or ochre."""
from __future__ import annotations

from collections.abc import Collection, Mapping

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly
from chassis_describe.drawings.deck_page import axis_numbers, extent_of
from chassis_describe.drawings.frame import SCALES, Frame
from chassis_describe.drawings.hole_marks import hole_marks
from chassis_describe.drawings.paper import Circle, Group, Item, Page, Text
from chassis_describe.drawings.svg import svg
from chassis_describe.drawings.views import deck_views
from chassis_describe.facts.build_order import build_order

#: Width and height that the plate may take (mm), and the white around it.
_WIDE, _HIGH, _AROUND = 120.0, 90.0, 14.0


def step_figures(assembly: Assembly, named: Mapping[int, str]) -> dict[str, bytes]:
    """By name, an SVG for every step with a deck. ``named``: the figure's name by the step's number from 1."""
    return {name: svg([page], page.title) for name, page in figure_pages(assembly, named).items()}


def figure_pages(assembly: Assembly, named: Mapping[int, str]) -> dict[str, Page]:
    """The same as pages of their own size."""
    out: dict[str, Page] = {}
    done: set[str] = set()
    for number, step in enumerate(build_order(assembly), 1):
        if step.kind == "cables":
            continue
        new = {step.name} if step.kind == "part" else set()
        standing = step.name if step.kind in ("standoffs", "close") else ""
        out[named[number]] = _figure(assembly, step.deck, step.face == "under", done, new, standing, f"{number}. {step.name}")
        done |= new
    return out


@kept
def _free(assembly: Assembly) -> dict[tuple[str, Frame], tuple[Circle, ...]]:
    """What ``_free_holes`` has given so far: the figures of one deck show the same holes."""
    return {}


def _free_holes(assembly: Assembly, deck: str, frame: Frame) -> tuple[Circle, ...]:
    """Every hole of a deck as it looks while nobody uses it."""
    kept_so_far = _free(assembly)
    if (deck, frame) not in kept_so_far:
        kept_so_far[deck, frame] = tuple(
            Circle(frame.point(h.at), h.diameter / 2 / frame.scale, "hole", "paper", "hole", (("hole", h.name),))
            for h in deck_views(assembly)[deck].holes)
    return kept_so_far[deck, frame]


def _figure(assembly: Assembly, deck: str, under: bool, done: Collection[str], new: Collection[str], standing: str,
            title: str) -> Page:
    view = deck_views(assembly)[deck]
    x0, y0, x1, y1 = extent_of(view)
    scale = next((s for s in SCALES if (y1 - y0) / s <= _WIDE and (x1 - x0) / s <= _HIGH), SCALES[-1])
    wide, high = (y1 - y0) / scale + 2 * _AROUND, (x1 - x0) / scale + 2 * _AROUND
    frame = Frame("under", _AROUND - y0 / scale, _AROUND + x1 / scale, scale) if under else \
        Frame("plan", _AROUND + y1 / scale, _AROUND + x1 / scale, scale)
    face = "under" if under else "top"
    items: list[Item] = [frame.region((*view.cut.outer, *view.cut.inner), "edge", "plate", "plate")]
    for part in view.parts:
        if part.name in done:
            pen = "body" if part.face == face else "cone"
            items.append(frame.region((*part.outer, *part.inner), pen, "metal" if part.face == face else "", "part-done"))
    for part in view.parts:
        if part.name in new:
            fill = ("mist" if part.face == "top" else "sand") if part.face == face else ""
            pen = "part" if part.face == "top" else "hole-ochre"
            items.append(frame.region((*part.outer, *part.inner), pen if part.face == face else "part-under", fill, "part-new"))
    for hole, free in zip(view.holes, _free_holes(assembly, deck, frame)):
        users = tuple(u for u in hole.users if u.name in new or (standing and u.kind == "standoff" and u.name == standing))
        if users:
            items += hole_marks(free.centre, free.radius, users, free.data)
        else:
            used = any(u.name in done or (u.kind == "standoff" and u.name != standing) for u in hole.users)
            items.append(free._replace(fill="pale") if used else free)
    items += axis_numbers(view, frame)
    items.append(Text((3.0, 5.0), title, 3.2, "start", True, "ink", "caption"))
    where = f"{deck}, {'turned over: the robot`s left is on the right' if under else 'top face'}; front up".replace("`", "'")
    items.append(Text((3.0, high - 2.5), where, 2.3, "start", False, "grey", "caption"))
    return Page(max(wide, 80.0), high, (Group("deck", tuple(items), (("name", deck), ("scale", f"1:{scale}"),
                                        ("face", frame.kind), ("origin", f"{frame.x:.4f} {frame.y:.4f}"))),), title)
