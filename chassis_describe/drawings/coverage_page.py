"""What the robot's sensors see around it, from above: the darker a place, the higher an obstacle there must be to be seen."""
from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import NamedTuple

from chassis_describe.assembly.model import Assembly
from chassis_describe.drawings.frame import SCALES, Frame
from chassis_describe.drawings.paper import Anchor, Circle, Group, Item, Page, Region, Text, Vec2, box, line
from chassis_describe.drawings.robot_page import pieces
from chassis_describe.drawings.robot_views import AXES, robot_views
from chassis_describe.drawings.text_width import text_width, wrapped
from chassis_describe.drawings.title_block import MARGIN, STRIP, caption, title_block
from chassis_describe.facts.coverage import BEARINGS, DISTANCES, MEASURING, Coverage, coverage_of, foot, measures
from chassis_describe.facts.coverage_words import JUDGED_AT, coverage_words
from chassis_describe.facts.footprint import footprint_of
from chassis_describe.facts.looks import looks
from chassis_describe.space.plane.hull import Vec2 as Metres
from chassis_describe.words import plain

_NO_PROOF = "It is about what sensors can see, and no proof that a person is seen."
_TITLE = "what its sensors see around it"
_HEAD, _SIZE, _LEAD = 9.0, 2.5, 3.9
_STEP = BEARINGS[1] - BEARINGS[0]
#: Bands of distance from the outline (m), each with one ring of obstacles in it; from the outline to beyond the last.
_EDGES = (0.0, *((a + b) / 2 for a, b in zip(DISTANCES, DISTANCES[1:])), DISTANCES[-1] + (DISTANCES[-1] - DISTANCES[-2]) / 2)
#: Upper bounds of the shades, in the height that the layout asks about; beyond the last comes one more.
_SHARES = (0.25, 0.5, 1.0, 2.0)
#: Fills from the lowest to the highest, and the ink of a number on each.
_FILLS = (("seen-1", "ink"), ("seen-2", "ink"), ("seen-3", "ink"), ("seen-4", "paper"), ("seen-5", "paper"))
#: Distance of the strokes where nothing is seen (mm on paper).
_HATCH = 1.6
#: The picture alone (mm): small, so that its words are large on a page of half a screen.
_FIGURE = (150.0, 96.0)
#: Room around the plan for bearings (mm on paper).
_AROUND = 10.0


class Run(NamedTuple):
    """Neighbouring bearings of one ring (indices, ``end`` exclusive and past the last where it runs over the front) that share a
    shade; None: nothing is seen. ``low``, ``high``: least and greatest of their lowest heights seen (mm)."""

    ring: int
    start: int
    end: int
    shade: int | None
    low: float
    high: float


def coverage_pages(assembly: Assembly, size: Vec2) -> list[Page]:
    """One page, or none where there is no ground or nothing measures distances."""
    width, height = size
    drawn = _drawn(assembly, (MARGIN, MARGIN + _HEAD, width - MARGIN, height - MARGIN - STRIP - 3.0))
    if drawn is None:
        return []
    scale, items = drawn
    words = caption(MARGIN, MARGIN + 3.0, _TITLE, "forward is up; the darker, the taller is what goes unseen")
    return [Page(width, height, (*words, *items, title_block(assembly, width, height, _TITLE, f"1:{scale}")), "coverage")]


def coverage_figure(assembly: Assembly) -> Page | None:
    """The same alone, without caption, title block and most of the notes."""
    width, height = _FIGURE
    drawn = _drawn(assembly, (0.0, 0.0, width, height), notes=False)
    return Page(width, height, tuple(drawn[1]), _TITLE) if drawn is not None else None


def _drawn(assembly: Assembly, room: tuple[float, float, float, float], *, notes: bool = True) -> tuple[int, list[Item]] | None:
    """The plan on the left and the words on the right of a room (left, top, right, bottom), and the plan's scale."""
    coverage = coverage_of(assembly)
    if coverage is None or not measures(assembly):
        return None
    limit = assembly.layout.limits["blind_height_mm"]
    shape = _Shape(footprint_of(assembly), Frame("view", 0.0, 0.0, 1))
    x0, y0, x1, y1 = shape.bounds
    high, top = room[3] - room[1] - 14.0, room[1] + 5.0
    scale = next((s for s in SCALES if (y1 - y0) / s <= high and (x1 - x0) / s <= (room[2] - room[0]) * 0.58), SCALES[-1])
    left, right = room[0] + _AROUND, room[0] + _AROUND + (x1 - x0) / scale
    frame = Frame("view", left - x0 / scale, top + (high - (y1 - y0) / scale) / 2 - y0 / scale, scale)
    shape = shape._replace(frame=frame)
    runs = runs_of(coverage, limit)
    drawn = [item for run in runs for item in _run(run, shape)]
    items: list[Item] = [
        Group("coverage", (*drawn, *pieces(robot_views(assembly)[0].pieces, frame, "paper"), *_eyes(assembly, frame),
                           *(n for run in runs for n in _number(run, shape))),
              (("side", "top"), ("scale", f"1:{scale}"), ("origin", f"{frame.x:.4f} {frame.y:.4f}"))),
        *_bearings(shape), *_distances(shape, right + _AROUND)]
    beside = (right + _AROUND + 16.0, room[1] + 6.0, room[2], room[3])
    items += _beside(beside, coverage_words(coverage, limit * 1e-3), limit, _notes(assembly, limit) if notes else [_NO_PROOF])
    return scale, items


def runs_of(coverage: Coverage, limit: float) -> list[Run]:
    """Every ring from the nearest to the furthest, in runs of one shade; ``limit`` (mm) sets the shades."""
    out = []
    for ring, lows in enumerate(coverage.lowest):
        shades = [None if low is None else shade_of(low * 1e3, limit) for low in lows]
        first = next((k for k in range(len(shades)) if shades[k] != shades[k - 1]), 0)
        for shade, found in groupby(range(first, first + len(shades)), key=lambda k: shades[k % len(shades)]):
            bearings = list(found)
            told = [low * 1e3 for k in bearings if (low := lows[k % len(lows)]) is not None]
            out.append(Run(ring, bearings[0], bearings[-1] + 1, shade, min(told, default=0.0), max(told, default=0.0)))
    return out


def shade_of(low: float, limit: float) -> int:
    """Which shade stands for a lowest height seen (mm), from 0 on."""
    return next((k for k, share in enumerate(_SHARES) if low <= share * limit + 1e-9), len(_SHARES))


class _Shape(NamedTuple):
    """The outline (m, root frame) with rings around it, on the page."""

    outline: tuple[Metres, ...]
    frame: Frame

    def point(self, bearing: float, away: float) -> Vec2:
        """So far (m) outside the outline, under a bearing (degrees) from the root's origin."""
        x, y, _ = AXES["top"].point((*foot(self.outline, bearing, away), 0.0))
        return self.frame.point((x * 1e3, y * 1e3))

    def arc(self, start: int, end: int, away: float) -> list[Vec2]:
        """Along the edge of a ring, counter-clockwise, two points a bearing, from half a step before the first to half a step
        past the last."""
        return [self.point((start + k / 2 - 0.5) * _STEP, away) for k in range(2 * (end - start) + 1)]

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Of the outermost edge, on the page."""
        xs, ys = zip(*self.arc(0, len(BEARINGS), _EDGES[-1]))
        return min(xs), min(ys), max(xs), max(ys)


def _run(run: Run, shape: _Shape) -> Iterable[Item]:
    """Its cells as one area, hatched where nothing is seen, with its piece of the ring on which the obstacles stand."""
    inner, outer = (shape.arc(run.start, run.end, _EDGES[run.ring + k]) for k in (0, 1))
    loops = [outer[:-1], inner[:-1]] if run.end - run.start == len(BEARINGS) else [[*outer, *reversed(inner)]]
    fill, ink = _FILLS[run.shade] if run.shade is not None else ("paper", "ink")
    ring = line(shape.arc(run.start, run.end, DISTANCES[run.ring]), "ring" if ink == "ink" else "ring-light", kind="ring")
    strokes = _hatch(loops) if run.shade is None else ()
    area = Region(tuple(line(loop, "", closed=True) for loop in loops), "cell", fill, "coverage-area")
    yield Group("coverage-run", (area, *strokes, ring), (
        ("at", f"{DISTANCES[run.ring]:g}"), ("from", str(run.start * _STEP)), ("to", str((run.end - 1) * _STEP)),
        ("lowest", f"{plain(run.low, 0)} to {plain(run.high, 0)}" if run.shade is not None else "nothing")))


def _hatch(loops: Sequence[Sequence[Vec2]]) -> Iterable[Item]:
    """Slanted strokes inside closed loops (even-odd), evenly apart."""
    edges = [(a, b) for loop in loops for a, b in zip(loop, [*loop[1:], loop[0]])]
    across = [p[0] + p[1] for loop in loops for p in loop]
    for n in range(math.ceil(min(across) / _HATCH), math.floor(max(across) / _HATCH) + 1):
        level = (n + 1e-6) * _HATCH  # beside a corner, so that each crossing counts once
        met = []
        for (ax, ay), (bx, by) in edges:
            a, b = ax + ay - level, bx + by - level
            if a * b < 0:
                share = a / (a - b)
                met.append((ax + (bx - ax) * share, ay + (by - ay) * share))
        met.sort()
        for start, end in zip(met[::2], met[1::2]):
            yield line([start, end], "unseen", kind="unseen")


def _eyes(assembly: Assembly, frame: Frame) -> Iterable[Item]:
    names = {facet.placement for facet in assembly.sensors if facet.sensor.kind in MEASURING}
    for eye in robot_views(assembly)[0].eyes:
        if eye.name.partition(".")[0] in names and eye.kind in MEASURING:
            yield Circle(frame.point(eye.at), 0.6, "", "ink", "eye", (("of", eye.name),))


def _number(run: Run, shape: _Shape) -> Iterable[Text]:
    """The height in the middle of a run, outside its ring, where there is room."""
    if run.shade is None:
        return
    low, high = f"{run.low:.0f}", f"{run.high:.0f}"
    middle, edge = (run.start + run.end - 1) / 2 * _STEP, _EDGES[run.ring + 1]
    away = (DISTANCES[run.ring] + edge) / 2
    x, y = shape.point(middle, away)
    half = min((run.end - run.start) / 2 * _STEP, 45.0)
    room = math.dist(shape.point(middle - half, away), shape.point(middle + half, away))
    deep = math.dist(shape.point(middle, DISTANCES[run.ring]), shape.point(middle, edge))
    along = abs(math.cos(math.radians(middle)))  # of the ring there, on the page
    for text in (low,) if low == high else (f"{low} to {high}", low):
        wide, tall = text_width(text, 2.0) + 0.8, 2.2
        if wide * along + tall * (1 - along) <= room and wide * (1 - along) + tall * along <= deep:
            yield Text((x, y + 0.75), text, 2.0, "middle", False, _FILLS[run.shade][1], "lowest")
            return


def _bearings(shape: _Shape) -> Iterable[Text]:
    """Bearings round the outside, every eighth of a turn."""
    for bearing in range(0, 360, 45):
        x, y = shape.point(bearing, _EDGES[-1])
        dx, dy = -math.sin(math.radians(bearing)), -math.cos(math.radians(bearing))
        anchor: Anchor = "middle" if abs(dx) < 0.3 else "start" if dx > 0 else "end"
        yield Text((x + 1.5 * dx, y + 0.8 + 2.3 * dy), f"{bearing}\N{DEGREE SIGN}", 2.2, anchor, False, "grey", "bearing")


def _distances(shape: _Shape, x: float) -> Iterable[Item]:
    """How far outside each ring is, at the right, with a line to it; from a bearing that leaves the eighths free."""
    places = [shape.point(293.0, away) for away in DISTANCES]
    for away, (px, py) in sorted(zip(DISTANCES, places), key=lambda p: p[1][1]):
        yield line([(x - 1.0, py), (px, py)], "edge-thin", kind="leader")
        yield Circle((px, py), 0.45, "", "ink", "anchor")
        yield Text((x, py + 0.8), f"{away:g} m", 2.2, "start", False, "grey", "distance")


def _notes(assembly: Assembly, limit: float) -> list[str]:
    """What is drawn, and who sees."""
    rings = ", ".join(f"{away:g}" for away in DISTANCES)
    seen = looks(assembly)
    return [f"The dotted rings are where the obstacles stand, {rings} m outside the outline and {_STEP}\N{DEGREE SIGN} apart as "
            "seen from the robot's origin; each band has the shade of its ring. What the robot itself hides is not seen. "
            f"{plain(limit)} mm is what blind_height_mm says.", "", _NO_PROOF, "",
            *(f"{f.placement}: {seen[f.frame]}" for f in assembly.sensors if f.sensor.kind in MEASURING)]


def _beside(room: tuple[float, float, float, float], words: str, limit: float, notes: Sequence[str]) -> Iterable[Item]:
    """The words, what the shades stand for, and the notes; ``room``: left, top, right and bottom."""
    x, y, right, bottom = room
    for row in wrapped(f"{JUDGED_AT:g} m outside the outline: {words}.", _SIZE, right - x):
        yield Text((x, y), row, _SIZE, kind="words")
        y += _LEAD
    y += _LEAD
    yield Text((x, y), "lowest height seen of a thin upright obstacle", _SIZE, "start", True, kind="legend-text")
    y += 2.0
    bounds = [plain(share * limit) for share in _SHARES]
    texts = [f"up to {bounds[0]} mm", *(f"over {a}, up to {b} mm" for a, b in zip(bounds, bounds[1:])), f"over {bounds[-1]} mm"]
    for (fill, _), text in zip((*_FILLS, ("paper", "")), (*texts, "nothing of it is seen at any height")):
        yield box(x, y, 9.0, 4.4, "frame", fill, "legend")
        yield Text((x + 11.0, y + 3.1), text, _SIZE, kind="legend-text")
        if fill == "paper":
            yield from _hatch([[(x, y), (x + 9.0, y), (x + 9.0, y + 4.4), (x, y + 4.4)]])
        y += 5.4
    y += _LEAD
    rows = [row for note in notes for row in wrapped(note, 2.1, right - x) or [""]]
    fit = int((bottom - y) / 3.2)
    if len(rows) > fit:
        rows = [*rows[:fit - 1], "and more; `check` lists every sensor"]
    for k, row in enumerate(rows):
        if row:
            yield Text((x, y + 3.2 * k), row, 2.1, "start", False, "grey", "legend-text")
