"""A part on one page: from above with its bolts on a lattice, from its right and from its front; axes, sensors, seats, shafts."""
from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from chassis_describe.assembly.attitude import rotation_of
from chassis_describe.assembly.seats import seat_moves, seat_pose, values_in_force
from chassis_describe.assembly.weigh import weigh_part
from chassis_describe.drawings.callouts import Column, Label, callouts, label_width
from chassis_describe.drawings.frame import SCALES, Frame, paper_size
from chassis_describe.drawings.paper import Circle, Group, Item, Page, Text, Vec2, box, line
from chassis_describe.drawings.robot_page import pieces
from chassis_describe.drawings.robot_views import AXES, Side, ViewPiece, corners_of, piece_of
from chassis_describe.drawings.text_width import text_width, wrapped
from chassis_describe.drawings.title_block import MARGIN, STRIP, caption
from chassis_describe.layout.model import Part
from chassis_describe.space.plane.silhouette import shadow
from chassis_describe.space.pose import Pose, Vec3
from chassis_describe.words import pair, plain

#: The lattice that bolts are shown on: a common shop choice (mm).
_PITCH, _HOLE = 20.0, 3.5
_AXIS = 9.0  # length of the axes' arrows on the page (mm)


def part_card(part: Part, paper: str = "a4") -> tuple[Page, ...]:
    """One page."""
    width, height = paper_size(paper)
    views = {side: _pieces(part, side) for side in AXES}
    boxes = {side: _bounds(part, side, seen) for side, seen in views.items()}
    labels = list(_labels(part))
    names = min(max((label_width(k) for k in labels), default=0.0), 0.2 * width) + 4.0
    high = height - 2 * MARGIN - STRIP - 18.0
    wide = width - 2 * MARGIN - 2 * names - 20.0
    top, right, front = (boxes[s] for s in ("top", "side", "front"))
    scale = next((s for s in SCALES if (_w(top) + max(_w(right), _w(front))) / s <= wide
                  and max(_h(top), (_h(right) + _h(front)) + 46.0 * s) / s <= high), SCALES[-1])
    y = MARGIN + 12.0
    x = MARGIN + names + 4.0
    frame = Frame("view", x - top[0] / scale, y + (high + _h(top) / scale) / 2 + top[1] / scale, scale)
    items: list[Item] = [*caption(MARGIN, MARGIN + 3.0, part.name, part.about)]
    items.append(Group("view", (*pieces(views["top"], frame), *_lattice(top, frame), *_bolts(part, frame),
                                *_axes(part, "top", frame)), (("side", "top"), ("scale", f"1:{scale}"),
                                                              ("origin", f"{frame.x:.4f} {frame.y:.4f}"))))
    end = x + _w(top) / scale + 4.0
    placed = [Label(frame.point(k.anchor), k.name, k.detail, k.ink) for k in labels]
    items.append(callouts(placed, Column(x - 4.0, y, y + high, x - 4.0 - MARGIN), Column(end, y, y + high, names)))
    along = end + names + 6.0
    below = y + 6.0
    notes: tuple[tuple[Side, str], ...] = (("side", "from the right, x to the right"), ("front", "from the front, y to the right"))
    for side, note in notes:
        bounds = boxes[side]
        room = max(bounds[3] / scale, _AXIS + 4.0)  # the arrow of z may be higher than the part
        here = Frame("view", along - bounds[0] / scale, below + room, scale)
        items.append(Text((along, below - 3.0), note, 2.3, "start", False, "grey", "caption"))
        items.append(Group("view", (*pieces(views[side], here), *_base_plane(bounds, here), *_axes(part, side, here)),
                           (("side", side), ("scale", f"1:{scale}"), ("origin", f"{here.x:.4f} {here.y:.4f}"))))
        below += room - bounds[1] / scale + 16.0
    items += _strip(part, width, height, scale)
    return (Page(width, height, tuple(items), part.name),)


def _w(b: tuple[float, float, float, float]) -> float:
    return b[2] - b[0]


def _h(b: tuple[float, float, float, float]) -> float:
    return b[3] - b[1]


def _pieces(part: Part, side: Side) -> list[ViewPiece]:
    weighed = weigh_part(part, moves=seat_moves(part, {}) if part.seats else {}, mass=None, spacers=0.0, spacer_density=1.0)
    look = AXES[side]
    seen = [piece_of(part.name, b.role, shadow(b.solid, look @ b.pose)) for b in weighed.bodies if b.visible]
    return sorted(seen, key=lambda p: p.nearest)


def _bounds(part: Part, side: Side, seen: Sequence[ViewPiece]) -> tuple[float, float, float, float]:
    points = [p for piece in seen for p in corners_of(piece)] + [(-8.0, -8.0), (8.0, 8.0)]
    points += [_flat(side, at) for at, _, _ in _places(part)]
    if side == "top":
        points += [_flat(side, (x, y, 0.0)) for x, y in part.bolts]
    xs, ys = zip(*points)
    return min(xs), min(ys), max(xs), max(ys)


def _flat(side: Side, at: Vec3) -> Vec2:
    x, y, _ = AXES[side].point(at)
    return (x * 1e3, y * 1e3)


def _places(part: Part) -> Iterable[tuple[Vec3, str, str]]:
    """Where something is, its name, and what it is."""
    values = values_in_force(part, {})
    for sensor in part.sensors:
        yield sensor.at, sensor.name, f"{sensor.kind.replace('_', ' ')} at {pair([c * 1e3 for c in sensor.at], 1)}"
    for name, seat in part.seats.items():
        yield seat_pose(seat, values).t, name, f"seat at {pair([c * 1e3 for c in seat_pose(seat, values).t], 1)}"
    for name, shaft in part.shafts.items():
        yield shaft.at, name, f"shaft at {pair([c * 1e3 for c in shaft.at], 1)}"


def _labels(part: Part) -> Iterable[Label]:
    for at, name, detail in _places(part):
        detail = detail.removeprefix(f"{name} ")
        yield Label(_flat("top", at), name, detail, "blue")
    if part.bolts:
        x, y = part.bolts[0]
        kind = f"tapped {plain(part.tapped * 1e3)}" if part.tapped is not None else \
            f"hole {plain(part.bolt_hole * 1e3)}" if part.bolt_hole is not None else "holes as the deck's"
        yield Label(_flat("top", (x, y, 0.0)), f"{len(part.bolts)} bolts", f"{kind}, the first at {pair((x * 1e3, y * 1e3), 1)}")


def _lattice(bounds: tuple[float, float, float, float], frame: Frame) -> Iterable[Item]:
    """Holes of a 20 mm lattice about the origin, as they would be under the part."""
    for i in range(math.floor(bounds[0] / _PITCH), math.ceil(bounds[2] / _PITCH) + 1):
        for j in range(math.floor(bounds[1] / _PITCH), math.ceil(bounds[3] / _PITCH) + 1):
            p = (i * _PITCH, j * _PITCH)
            if bounds[0] - 2 <= p[0] <= bounds[2] + 2 and bounds[1] - 2 <= p[1] <= bounds[3] + 2:
                yield Circle(frame.point(p), _HOLE / 2 / frame.scale, "hole", "", "lattice")


def _bolts(part: Part, frame: Frame) -> Iterable[Item]:
    for x, y in part.bolts:
        at = frame.point(_flat("top", (x, y, 0.0)))
        yield Circle(at, 1.6 / frame.scale, "hole-blue", "blue", "bolt")
        for sign in (1, -1):
            yield line([(at[0] - 2.2, at[1] - sign * 2.2), (at[0] + 2.2, at[1] + sign * 2.2)], "axis", kind="bolt-cross")


def _axes(part: Part, side: Side, frame: Frame) -> Iterable[Item]:
    """The part's own axes at its origin, and the directions in which sensors look (their x)."""
    for name, axis in (("x", (1.0, 0.0, 0.0)), ("y", (0.0, 1.0, 0.0)), ("z", (0.0, 0.0, 1.0))):
        u, v, _ = AXES[side].vector(axis)
        if abs(u) + abs(v) > 0.5:
            at, tip = frame.point((0.0, 0.0)), frame.point((u * _AXIS * frame.scale, v * _AXIS * frame.scale))
            yield line([at, tip], "arrow", kind="axis")
            yield Text((tip[0] + 1.0 * u + 0.4, tip[1] - 1.6 * v + 0.8), name, 2.4, "middle", True, "ink", "axis-name")
    for sensor in part.sensors:
        u, v, _ = (AXES[side] @ Pose(rotation_of(sensor.attitude), sensor.at)).x_axis
        at = frame.point(_flat(side, sensor.at))
        yield Circle(at, 0.8, "part", "paper", "sensor")
        if math.hypot(u, v) > 0.2:
            yield line([at, (at[0] + 6.0 * u, at[1] - 6.0 * v)], "part", kind="looks")


def _base_plane(bounds: tuple[float, float, float, float], frame: Frame) -> Iterable[Item]:
    left, right = frame.point((bounds[0], 0.0)), frame.point((bounds[2], 0.0))
    yield line([(left[0] - 2.0, left[1]), (right[0] + 2.0, right[1])], "cone", kind="base-plane")


def _strip(part: Part, width: float, height: float, scale: int) -> Iterable[Item]:
    y = height - MARGIN - STRIP
    yield box(MARGIN, y, width - 2 * MARGIN, STRIP, "frame", kind="title-block")
    words = [part.name, f"scale 1:{scale}", f"mass {plain(part.mass * 1e3, 1)} g" if part.mass is not None else "",
             f"screws {part.screw}" if part.screw else "",
             f"flange {plain(part.flange * 1e3)} mm" if part.bolts and part.tapped is None else "",
             "dots: a lattice of 20 mm about the part's origin"]
    x = MARGIN + 2.0
    for k, word in enumerate(w for w in words if w):
        size = 3.4 if k == 0 else 2.4
        rows = wrapped(word, size, 60.0)
        for n, row in enumerate(rows):
            yield Text((x, y + 7.5 + n * 3.2), row, size, "start", k == 0, "ink", "title-text")
        x += max(text_width(r, size, k == 0) for r in rows) + 7.0
