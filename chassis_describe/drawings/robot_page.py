"""The whole robot: from above with what it stands on and what it sees, and in two elevations with heights."""
from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from chassis_describe.assembly.model import Assembly
from chassis_describe.drawings.callouts import SIZE, Column, Label, callouts, label_width, spread
from chassis_describe.drawings.frame import SCALES, Frame
from chassis_describe.drawings.paper import Circle, Group, Item, Page, Path, Step, Text, Vec2, line
from chassis_describe.drawings.robot_views import Eye, HeightMark, RobotView, ViewPiece, robot_views
from chassis_describe.drawings.text_width import ASCENT, text_width
from chassis_describe.drawings.title_block import MARGIN, STRIP, caption, title_block
from chassis_describe.words import plain

_FILLS = {"plate": "plate", "standoff": "metal", "spacer": "metal", "part": "mist", "wheel": "rubber", "caster": "rubber"}
#: How far fields of view are drawn (mm on the page), and how much further each lidar's dial is than the last.
_REACH, _DIAL = 15.0, 3.0
_HEAD = 9.0


def from_above_page(assembly: Assembly, size: Vec2) -> Page:
    """The robot from above, with names on both sides."""
    view = robot_views(assembly)[0]
    width, height = size
    labels = _labels(view)
    names = min(max((label_width(k) for k in labels), default=0.0), 0.3 * width) + 4.0
    y, high = MARGIN + _HEAD, height - 2 * MARGIN - STRIP - _HEAD - 7.0
    dials = max(sum(e.kind == "lidar" for e in view.eyes), 1)
    around = 2 * (_REACH + _DIAL * dials) if view.eyes else 8.0
    scale = next((s for s in SCALES if _wide(view) / s + around + 2 * names <= width - 2 * MARGIN
                  and _tall(view) / s + around <= high), SCALES[-1])
    half = (_wide(view) / scale + around) / 2
    x = width / 2
    frame = Frame("view", x - _mid(view, 0) / scale, y + high / 2 + _mid(view, 1) / scale, scale)
    placed = [Label(frame.point(k.anchor), k.name, k.detail, k.ink) for k in labels]
    left, right = max(x - half - 2.0, MARGIN + names), min(x + half + 2.0, width - MARGIN - names)
    items: list[Item] = [*caption(MARGIN, MARGIN + 3.0, "from above", "forward is up"),
                         Group("view", tuple(_from_above(view, frame)), _data("top", frame)),
                         callouts(placed, Column(left, y, y + high, left - MARGIN),
                                  Column(right, y, y + high, width - MARGIN - right)),
                         Text((MARGIN, height - MARGIN - STRIP - 2.0), _signs(view), 2.0, "start", False, "grey", "legend-text"),
                         title_block(assembly, width, height, "the whole robot from above", f"1:{scale}")]
    return Page(width, height, tuple(items), "from above")


def elevations_page(assembly: Assembly, size: Vec2) -> Page:
    """The robot from its right and from its front: one over the other, or side by side where that is larger."""
    _, side, front = robot_views(assembly)
    width, height = size
    words = max((text_width(f"{plain(h.value, 1)} {h.name}", SIZE) for h in side.heights), default=0.0) + 12.0
    y, high, wide = MARGIN + _HEAD, height - 2 * MARGIN - STRIP - _HEAD - 8.0, width - 2 * MARGIN
    over = next((s for s in SCALES if max(_wide(side), _wide(front)) / s + words + 20.0 <= wide
                 and (_tall(side) + _tall(front)) / s + 16.0 <= high), SCALES[-1])
    beside = next((s for s in SCALES if (_wide(side) + _wide(front)) / s + 2 * words + 16.0 <= wide
                   and max(_tall(side), _tall(front)) / s <= high), SCALES[-1])
    scale = min(over, beside)
    items: list[Item] = []
    if over <= beside:
        gap = (high - (_tall(side) + _tall(front)) / scale) / 2
        x = MARGIN + max(wide - (max(_wide(side), _wide(front)) / scale + words + 20.0), 0.0) / 2
        places = [(x, y + gap / 2, width - MARGIN), (x, y + gap * 1.5 + _tall(side) / scale, width - MARGIN)]
    else:
        middle = MARGIN + wide * (_wide(side) + words * scale) / (_wide(side) + _wide(front) + 2 * words * scale)
        tallest = max(_tall(side), _tall(front)) / scale
        base = y + (high - tallest) / 2
        places = [(MARGIN, base + tallest - _tall(side) / scale, middle - 4.0),
                  (middle, base + tallest - _tall(front) / scale, width - MARGIN)]
    notes = (("from the right", "forward is to the right"), ("from the front", "the robot's left is to the right"))
    for view, (title, note), (x, top, edge) in zip((side, front), notes, places):
        frame = Frame("view", x + 3.0 - view.bounds[0] / scale, top + view.bounds[3] / scale, scale)
        items += caption(x, top - 4.5, title, note)
        items.append(Group("view", tuple(_elevation(view, frame, edge)), _data(view.side, frame)))
    items.append(Text((MARGIN, height - MARGIN - STRIP - 2.0), f"{_rest_text(assembly)}; heights in mm", 2.3, "start", False,
                      "ink", "rest"))
    items.append(title_block(assembly, width, height, "elevations", f"1:{scale}"))
    return Page(width, height, tuple(items), "elevations")


def _data(side: str, frame: Frame) -> tuple[tuple[str, str], ...]:
    return (("side", side), ("scale", f"1:{frame.scale}"), ("origin", f"{frame.x:.4f} {frame.y:.4f}"))


def _wide(view: RobotView) -> float:
    return view.bounds[2] - view.bounds[0]


def _tall(view: RobotView) -> float:
    return view.bounds[3] - view.bounds[1]


def _mid(view: RobotView, axis: int) -> float:
    return (view.bounds[axis] + view.bounds[axis + 2]) / 2


def _signs(top: RobotView) -> str:
    said = ["dashed: footprint", "dotted: what it stands on"] if top.footprint else []
    if any(e.blocked for e in top.eyes):
        said.append("ochre: beams that the robot blocks")
    if top.eyes:
        said.append("views are not drawn to their full range")
    return "; ".join(said)


def _rest_text(assembly: Assembly) -> str:
    rest = assembly.rest
    if rest is None:
        return "nothing rolls: heights are over base_link"
    roll, pitch, _ = (math.degrees(a) for a in rest.base_in_ground.rpy)
    level = "rests level" if max(abs(roll), abs(pitch)) < 0.005 else (
        f"rests with {plain(abs(pitch))}° {'nose down' if pitch > 0 else 'nose up'} and {plain(abs(roll))}° to the "
        f"{'right' if roll > 0 else 'left'}")
    unstable = {"stable": "", "rocks": ", and rocks", "outside": ", and falls: its centre of mass is outside its support",
                "degenerate": ", on fewer than three contacts"}[rest.status]
    return level + unstable


# --------------------------------------------------------------------------------------------------------------- from above
def _labels(view: RobotView) -> list[Label]:
    """Names, with their anchors in the view (mm)."""
    out = []
    for eye in view.eyes:
        seen = f"{plain(eye.blocked_deg, 1)}° blocked" if eye.kind == "lidar" else eye.kind.replace("_", " ")
        out.append(Label(eye.at, eye.name, seen, "ochre" if eye.blocked else "blue"))
    for tip in view.tips:
        out.append(Label(tip.middle, f"tips at {plain(tip.degrees, 1)}°", f"over {tip.over}"))
    if view.com is not None:
        out.append(Label(view.com, "centre of mass"))
    return out


def pieces(view: Sequence[ViewPiece], frame: Frame, plain_fill: str | None = None) -> Iterable[Item]:
    """Bodies and plates from back to front, each covering what is behind it."""
    for piece in view:
        fill = plain_fill if plain_fill is not None else _FILLS.get(piece.role, "mist")
        pen = "edge-thin" if piece.role == "plate" else "body"
        if piece.circle is not None:
            centre, r = piece.circle
            yield Circle(frame.point(centre), r / frame.scale, pen, fill, f"body {piece.role}", (("of", piece.owner),))
        else:
            yield Group("body-group", (frame.region(piece.contours, pen, fill, f"body {piece.role}"),), (("of", piece.owner),))


def _from_above(view: RobotView, frame: Frame) -> Iterable[Item]:
    yield from pieces(view.pieces, frame)
    if view.footprint:
        yield line([frame.point(p) for p in view.footprint], "footprint", closed=True, kind="footprint")
    if len(view.support) > 1:
        yield line([frame.point(p) for p in view.support], "support", closed=True, kind="support")
    dial = 0
    for eye in view.eyes:
        yield from _eye(eye, frame, dial)
        dial += eye.kind == "lidar"
    if view.com is not None:
        yield from centre_of_mass(frame.point(view.com))


def _eye(eye: Eye, frame: Frame, dial: int) -> Iterable[Item]:
    """A lidar as a dial with its blocked beams, others as the edges of their view."""
    at = frame.point(eye.at)
    if eye.kind != "lidar":
        if len(eye.rays) > 1:
            pen = "cone" if eye.kind == "ranger" else "view"
            ends = [_out(at, frame.direction(d), _REACH) for d in eye.rays]
            yield line([at, *ends], pen, closed=True, kind="view-edge")
        return
    reach = _REACH * 0.8 + _DIAL * 1.2 * dial
    if eye.around:
        yield Circle(at, reach, "view", "", "dial")
    elif len(eye.rays) > 1:
        yield line([at, *(_out(at, frame.direction(d), reach) for d in eye.rays)], "view", closed=True, kind="dial")
    for beams in eye.blocked:
        outer = [_out(at, frame.direction(d), reach + 5.0) for d in beams]
        for direction, end in zip(beams, outer):
            yield line([_out(at, frame.direction(direction), reach), end], "blocked", kind="blocked")
        if len(outer) > 1:
            yield line(outer, "blocked", kind="blocked")


def _out(at: Vec2, direction: Vec2, reach: float) -> Vec2:
    return (at[0] + direction[0] * reach, at[1] + direction[1] * reach)


def centre_of_mass(at: Vec2) -> Iterable[Item]:
    """The usual sign: a circle in quarters, two of them filled."""
    r = 1.5
    x, y = at
    yield Circle(at, r, "edge-thin", "paper", "com")
    for corner in (((x, y - r), (x + r, y)), ((x, y + r), (x - r, y))):
        yield Path(at, (Step(corner[0]), Step(corner[1], at, True)), "", "ink", True, "com")


# --------------------------------------------------------------------------------------------------------------- elevations
def _elevation(view: RobotView, frame: Frame, edge: float) -> Iterable[Item]:
    yield from pieces(view.pieces, frame)
    right = frame.point((view.bounds[2], 0.0))[0]
    if view.ground:
        ground = frame.point((0.0, 0.0))[1]
        left = frame.point((view.bounds[0], 0.0))[0]
        yield line([(left - 2.0, ground), (right + 4.0, ground)], "ground", kind="ground")
    if view.com is not None:
        yield from centre_of_mass(frame.point(view.com))
    yield from _height_marks(view, frame, right + 3.0, edge)


def _height_marks(view: RobotView, frame: Frame, x: float, edge: float) -> Iterable[Item]:
    """Heights in a column at the right, equal ones as one line, each with a line to what it measures."""
    rows: dict[str, list[HeightMark]] = {}
    for height in sorted(view.heights, key=lambda h: (-h.value, h.name)):
        rows.setdefault(plain(height.value, 1), []).append(height)
    size, room = SIZE, edge - x - 6.0
    shown = [(value, ", ".join(h.name for h in group), group) for value, group in rows.items()]
    ys = [frame.point(group[0].at)[1] for _, _, group in shown]
    top, bottom = frame.point((0.0, view.bounds[3]))[1] - 1.0, frame.point((0.0, view.bounds[1]))[1] + 3.0
    size = min(size, (bottom - top) / max(len(shown), 1) / 1.3)
    pitch = size * 1.3
    for (value, names, group), want, y in zip(shown, ys, spread(ys, pitch, top, bottom)):
        for height in group[:1]:
            yield line([frame.point(height.at), (x, want), (x + 3.0, y), (x + 5.0, y)], "height", kind="leader")
        wide = text_width(value, size, True) + text_width(f" {names}", size)
        own = size if wide <= room else size * room / wide
        yield Text((x + 5.6, y + own * ASCENT / 2), value, own, "start", True, "ink", "height", names)
