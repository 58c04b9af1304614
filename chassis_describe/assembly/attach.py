"""From lattice holes to the pose of a part: ``at`` and ``turn``, ``points``, or the ``screws`` that hold it."""
from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from chassis_describe.assembly.lattice import lattice_coordinates, lattice_point
from chassis_describe.assembly.screws import clearance
from chassis_describe.assembly.slots import Line, line_of
from chassis_describe.errors import LayoutError
from chassis_describe.findings import Finding, finding
from chassis_describe.layout.model import Face, Lattice, Placement
from chassis_describe.space.pose import cos_sin

Vec2 = tuple[float, float]

#: Where a part's x points, as a turn on the top face; under a deck the turn is seen from below, so left is -90.
POINTS: dict[str, float] = {"forward": 0.0, "left": math.pi / 2, "back": math.pi, "right": -math.pi / 2}


class Attachment(NamedTuple):
    """Where a part's origin sits (plane coordinates, m; lattice coordinates where there is a lattice), and its turn."""

    point: Vec2
    at: Vec2 | None
    turn: float


def turn_of(placement: Placement) -> float:
    """The turn that ``turn`` or ``points`` asks for, radians about the part's outward axis."""
    if placement.points is None:
        return placement.turn
    angle = POINTS[placement.points]
    return -angle + 0.0 if placement.face == "under" and placement.support == "deck" else angle


def part_point_in_plane(point: Vec2, attachment: Attachment, face: Face) -> Vec2:
    """A point of the part's base plane, in the coordinates of the plane that carries it. Under a deck y is mirrored."""
    c, s = cos_sin(attachment.turn)
    x, y = c * point[0] - s * point[1], s * point[0] + c * point[1]
    return (attachment.point[0] + x, attachment.point[1] + (-y if face == "under" else y))


def attach(placement: Placement, lattice: Lattice | None) -> Attachment:
    """Resolve a placement on a deck or seat with that lattice. Raises LayoutError where ``screws`` fit nowhere or twice."""
    if placement.screws is None:
        at = placement.at or (0.0, 0.0)
        return Attachment(lattice_point(lattice, at), at if lattice is not None else None, turn_of(placement))
    assert lattice is not None  # the reader refuses screws without a lattice
    found = _attitudes(placement, lattice)
    if placement.points is not None:
        wanted = turn_of(placement)
        found = _pointing(found, wanted)
    if len(found) == 1:
        return found[0]
    raise LayoutError((_no_attitude(placement, lattice) if not found else _several(placement, found),))


def _pointing(found: Sequence[Attachment], angle: float) -> list[Attachment]:
    """The attitudes whose turn is nearest to that quarter; one right between two belongs to neither."""
    return [a for a in found if abs(math.remainder(a.turn - angle, 2 * math.pi)) < math.radians(45) - 1e-9]


def _attitudes(placement: Placement, lattice: Lattice) -> list[Attachment]:
    """Every attitude in which each named hole gets a bolt of its own, within the play of that bolt."""
    part = placement.part
    screw = part.screw or lattice.screw
    part_hole = None if part.tapped is not None else (part.bolt_hole or lattice.hole)
    plays = [max(clearance(lattice.hole, part.bolt_slots[n].width if n in part.bolt_slots else part_hole, screw), 0.0) + 1e-9
             for n in range(len(part.bolts))]
    play = max(plays, default=0.0)
    slots = [line_of(at, part.bolt_slots.get(n)) for n, at in enumerate(part.bolts)]
    reach = max((math.hypot(*line.half) for line in slots), default=0.0)  # of a slot: how far its bolt may be from its middle
    holes = [lattice_point(lattice, h) for h in placement.screws or ()]
    # Seen from below y is mirrored: work in the part's own sense of rotation and mirror back at the end.
    sign = -1.0 if placement.face == "under" and placement.support == "deck" else 1.0
    seen = [(x, sign * y) for x, y in holes]
    found: list[Attachment] = []
    (hx, hy), (kx, ky) = seen[0], seen[1]
    span = math.hypot(kx - hx, ky - hy)
    for a, first in enumerate(part.bolts):
        for b, second in enumerate(part.bolts):
            if a == b or abs(math.hypot(second[0] - first[0], second[1] - first[1]) - span) > 2 * (play + reach):
                continue
            turn = math.atan2(ky - hy, kx - hx) - math.atan2(second[1] - first[1], second[0] - first[0])
            matched = _pairs(part.bolts, seen, turn, (hx, hy), first, 2 * (play + reach))
            if matched is None:
                continue
            fitted = _fit([(part.bolts[n], hole) for n, hole in matched])
            if fitted is None:
                continue
            if reach:
                fitted = _along_slots([(slots[n], hole) for n, hole in matched], fitted)
            point, turn = fitted
            if any(math.dist(_moved(slots[n].nearest(_back(hole, point, turn)), point, turn), hole) > plays[n]
                   for n, hole in matched):
                continue
            in_plane = (point[0], sign * point[1])
            at = lattice_coordinates(lattice, in_plane)
            at = (_snap(at[0]), _snap(at[1]))
            candidate = Attachment(lattice_point(lattice, at), at, turn)
            if not any(_same(candidate, other, reach) for other in found):
                found.append(candidate)
    return sorted(found, key=lambda f: (round(math.degrees(f.turn) % 360, 6), f.at))


def _moved(bolt: Vec2, point: Vec2, turn: float) -> Vec2:
    c, s = cos_sin(turn)
    return (point[0] + c * bolt[0] - s * bolt[1], point[1] + s * bolt[0] + c * bolt[1])


def _pairs(bolts: Sequence[Vec2], holes: Sequence[Vec2], turn: float, hole: Vec2, bolt: Vec2,
           within: float) -> list[tuple[int, Vec2]] | None:
    """For each hole the number of the bolt that it gets; None where one is too far from every bolt."""
    c, s = cos_sin(turn)
    point = (hole[0] - c * bolt[0] + s * bolt[1], hole[1] - s * bolt[0] - c * bolt[1])
    pairs: list[tuple[int, Vec2]] = []
    free = list(range(len(bolts)))
    for h in holes:
        best = min(free, key=lambda k: math.dist(_moved(bolts[k], point, turn), h), default=None)
        if best is None or math.dist(_moved(bolts[best], point, turn), h) > within:
            return None
        free.remove(best)
        pairs.append((best, h))
    return pairs


def _back(hole: Vec2, point: Vec2, turn: float) -> Vec2:
    """A point of the plane in part axes."""
    c, s = cos_sin(turn)
    x, y = hole[0] - point[0], hole[1] - point[1]
    return (c * x + s * y, -s * x + c * y)


def _along_slots(pairs: Sequence[tuple[Line, Vec2]], start: tuple[Vec2, float]) -> tuple[Vec2, float]:
    """The pose near ``start`` in which each hole lies under the slot of its bolt: by turns, the nearest points of the slots,
    and the fit to those. Stops where it stands still, or after some hundred rounds of slow creeping."""
    pose = start
    for _ in range(200):
        fitted = _fit([(line.nearest(_back(hole, *pose)), hole) for line, hole in pairs])
        if fitted is None or (math.dist(fitted[0], pose[0]) < 1e-10 and abs(fitted[1] - pose[1]) < 1e-10):
            break
        pose = fitted
    return pose


def _fit(pairs: Sequence[tuple[Vec2, Vec2]]) -> tuple[Vec2, float] | None:
    """Least-squares shift and turn that lay the bolts on the holes (planar Procrustes, closed form)."""
    n = len(pairs)
    bx, by = sum(b[0] for b, _ in pairs) / n, sum(b[1] for b, _ in pairs) / n
    hx, hy = sum(h[0] for _, h in pairs) / n, sum(h[1] for _, h in pairs) / n
    dot = sum((b[0] - bx) * (h[0] - hx) + (b[1] - by) * (h[1] - hy) for b, h in pairs)
    cross = sum((b[0] - bx) * (h[1] - hy) - (b[1] - by) * (h[0] - hx) for b, h in pairs)
    if dot == 0.0 and cross == 0.0:
        return None
    turn = math.atan2(cross, dot)
    quarter = round(turn / (math.pi / 2)) * (math.pi / 2)
    if abs(turn - quarter) < 1e-9:
        turn = quarter
    c, s = cos_sin(turn)
    return (hx - c * bx + s * by, hy - s * bx - c * by), turn


def _snap(value: float) -> float:
    near = round(value * 1000) / 1000
    return near if abs(value - near) < 1e-9 else value


def _same(a: Attachment, b: Attachment, reach: float) -> bool:
    """Whether two attitudes are one; in slots, whether one slides into the other."""
    near, turned = (2 * reach, 0.3) if reach else (1e-7, 1e-7)
    return math.dist(a.point, b.point) < near and abs(math.remainder(a.turn - b.turn, 2 * math.pi)) < turned


def _words(a: Attachment) -> str:
    assert a.at is not None
    return f"at: [{a.at[0]:g}, {a.at[1]:g}], turn: {math.degrees(math.remainder(a.turn, 2 * math.pi)):.6g}"


def _holes(placement: Placement) -> str:
    return ", ".join(f"[{i}, {j}]" for i, j in placement.screws or ())


def _several(placement: Placement, found: Sequence[Attachment]) -> Finding:
    options = " or ".join(_words(a) for a in found)
    return finding("bad-value", f"{placement.part.name} fits the holes {_holes(placement)} in {len(found)} ways: {options}",
                   where=[placement.screws_mark or placement.mark], of=[placement.name],
                   hint=_which_of(placement, found))


def _which_of(placement: Placement, found: Sequence[Attachment]) -> str:
    """What tells several attitudes apart: more of the holes where they differ in place, where x points where they turn."""
    say = []
    bolts = len(placement.part.bolts)
    if len({a.at for a in found}) > 1 and bolts > len(placement.screws or ()):
        say.append(f"name the holes of all {bolts} bolts")
    sign = -1.0 if placement.face == "under" and placement.support == "deck" else 1.0
    turns = {w: _turns(_pointing(found, sign * angle)) for w, angle in POINTS.items()}
    words = [f"`points: {w}`" for w, left in turns.items() if len(left) == 1] if len(_turns(found)) > 1 else []
    if words:
        say.append(f"say which way it looks with {' or '.join(words)}")
    return f"{' and '.join(say)}{', or ' if say else ''}write `at` and `turn`"


def _turns(found: Sequence[Attachment]) -> set[tuple[float, float]]:
    """The different turns among attitudes, as cosine and sine."""
    return {(round(math.cos(a.turn), 6), round(math.sin(a.turn), 6)) for a in found}


def _no_attitude(placement: Placement, lattice: Lattice) -> Finding:
    bolts = ", ".join(f"[{x * 1e3:g}, {y * 1e3:g}]" for x, y in placement.part.bolts)
    pointing = f" with its x pointing {placement.points}" if placement.points else ""
    return finding("bad-value", f"the bolts of {placement.part.name} fit the holes {_holes(placement)} in no attitude"
                   f"{pointing}; its bolts stand at {bolts} mm, the holes {lattice.pitch * 1e3:g} mm apart",
                   where=[placement.screws_mark or placement.mark, placement.part.mark], of=[placement.name],
                   hint="name holes that lie like the bolts do, or place it with `at` and `turn`")
