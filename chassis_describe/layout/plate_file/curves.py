"""The curves of a document: circles and runs of straight and round edges, blocks taken apart. Metres, the file's axes.

Arcs stay arcs, with the sense in which they are seen from above (an extrusion along -z mirrors them); ellipses and splines become
chords. Whatever is no curve of the plate is counted, by what people call it.
"""
from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import Any, NamedTuple

from chassis_describe.layout.plate_file.faults import NoPlate, Problem, no_plate
from chassis_describe.space.plate.contours import Contour, Edge
from chassis_describe.space.plate.shapes import Disc, Vec2
from chassis_describe.tolerances import CHORD, JOINED, MOST_CORNERS, MOST_CURVES
from chassis_describe.units import shown
from chassis_describe.words import listing, nearest

#: $INSUNITS → name, metres (DXF Reference, HEADER section).
UNITS = {0: ("mm", 1e-3), 1: ("in", 0.0254), 2: ("ft", 0.3048), 4: ("mm", 1e-3), 5: ("cm", 1e-2), 6: ("m", 1.0),
         8: ("µin", 0.0254e-6), 9: ("mil", 0.0254e-3), 10: ("yd", 0.9144), 13: ("µm", 1e-6), 14: ("dm", 0.1)}
#: Layers that are left aside unless they are asked for: crosses, and edges of countersinks, in plate files that this program
#: writes, and the layer on which drawing programs keep what is never plotted.
ASIDE = ("marks", "countersinks", "defpoints")
#: Entities that are no curves → what people call them. Others go by their own names.
_WORDS = {
    "TEXT": "text", "MTEXT": "text", "ATTRIB": "text", "ATTDEF": "text", "DIMENSION": "dimension", "ARC_DIMENSION": "dimension",
    "LEADER": "leader", "MULTILEADER": "leader", "MLEADER": "leader", "HATCH": "hatch", "MPOLYGON": "hatch", "POINT": "point",
    "XLINE": "construction line", "RAY": "construction line", "IMAGE": "image", "WIPEOUT": "image", "VIEWPORT": "viewport"}
_DEEPEST = 20
#: Chords between two knots of a spline at least, and how often each is halved at most.
_LEAST, _HALVED = 4, 12
#: No curve of a plate is further from the drawing's origin, or of a larger radius (m).
_FURTHEST = 1e4


class Curves(NamedTuple):
    """``discs`` and ``runs`` in metres; ``aside``: what was left aside and how often; ``unit``: its name, of ``metres`` each, and
    whether the file says so."""

    discs: tuple[Disc, ...]
    runs: tuple[Contour, ...]
    aside: tuple[tuple[str, int], ...]
    unit: str
    metres: float
    unit_said: bool


def curves_of(document: Any, layers: Sequence[str]) -> Curves:
    """All curves of the model space on these layers, or without any on all that are shown. Raises NoPlate."""
    number = int(document.header.get("$INSUNITS", 0) or 0)
    if number not in UNITS:
        raise no_plate(f"counts in a unit that no plate is drawn in ($INSUNITS is {number})",
                       "set the drawing's unit to millimetres")
    unit, metres = UNITS[number]
    taking = _Taking(document, layers, metres)
    taking.all(document.modelspace(), (), 0)
    for layout in document.layouts:
        if layout.is_any_paperspace:
            taking.aside["thing in paper space"] += sum(1 for e in layout if e.dxftype() != "VIEWPORT")
    if taking.problems:
        raise NoPlate(taking.problems)
    found = Curves(tuple(taking.discs), tuple(taking.runs), tuple((k, n) for k, n in taking.aside.items() if n), unit, metres,
                   number != 0)
    if not found.discs and not found.runs:
        where = f"the layer {listing(map(shown, layers))}" if layers else "its layers that are shown"
        raise no_plate(f"has no curve on {where}{aside_words(found.aside)}",
                       f"layers with curves: {listing(map(shown, taking.elsewhere), 8)}" if taking.elsewhere else
                       "the plate's edge is drawn with lines, arcs, polylines, circles, ellipses or splines in model space")
    return found


def aside_words(aside: Sequence[tuple[str, int]]) -> str:
    """``; left aside: 2 × text, 1 × hatch``; nothing where nothing was."""
    return f"; left aside: {', '.join(f'{n} × {what}' for what, n in aside)}" if aside else ""


class _Taking:
    """One walk through a document."""

    def __init__(self, document: Any, layers: Sequence[str], metres: float) -> None:
        self.metres = metres
        self.discs: list[Disc] = []
        self.runs: list[Contour] = []
        self.aside: Counter[str] = Counter()
        self.elsewhere: dict[str, None] = {}
        self.problems: list[Problem] = []
        self.seen = self.corners = 0
        self.layers = {layer.dxf.name.lower(): layer for layer in document.layers}
        self.wanted = {name.lower() for name in layers}
        for name in layers:
            if name.lower() not in self.layers:
                known = [layer.dxf.name for layer in document.layers]
                near = nearest(name, known)
                self.problems.append(Problem(f"has no layer {shown(name)}", f"did you mean `{near}`?" if near else
                                             f"its layers: {listing(map(shown, known), 12)}"))

    # ------------------------------------------------------------------------------------------------------------ the walk
    def all(self, entities: Iterable[Any], inside: tuple[str, ...], depth: int) -> None:
        """Every entity; ``inside``: the layers of the blocks that it is in, the innermost last."""
        for entity in entities:
            self.seen += 1
            if self.seen > MOST_CURVES:
                raise no_plate(f"has more than {MOST_CURVES} curves", "leave out of the file what is not cut")
            own = str(_given(entity, "layer", "0"))
            name = inside[-1] if own == "0" and inside else own
            kind = entity.dxftype()
            if kind == "INSERT":
                self._block(entity, name, depth)
            elif self._shown(entity, name, kind):
                take = getattr(self, f"_{kind.lower()}", None) if kind in _CURVES else None
                if take is None:
                    self.aside[_WORDS.get(kind, shown(kind))] += 1
                    continue
                try:
                    take(entity)
                except NoPlate:
                    raise
                except Exception as error:  # numbers from anywhere: the library may stumble over them in any way
                    which = f"{kind} {entity.dxf.get('handle') or ''}".rstrip()
                    self.problems.append(Problem(f"has a curve that can't be taken: {which}: {error}",
                                                 "draw it anew, flat, with lines and arcs"))

    def _block(self, entity: Any, name: str, depth: int) -> None:
        layer = self.layers.get(name.lower())
        if layer is not None and layer.is_frozen():
            self.aside["block on layers that are frozen"] += 1
            return
        if depth >= _DEEPEST:
            raise no_plate(f"has blocks in blocks, {_DEEPEST} deep", "take the blocks apart in the drawing program")
        if entity.mcount > MOST_CURVES:
            raise no_plate(f"places a block {entity.mcount} times", "leave out of the file what is not cut")
        block = entity.block()
        if block is None or block.block_record.is_xref:
            self.aside["reference to another file" if block is not None else "block that is not there"] += 1
            return
        skipped: list[str] = []
        for one in entity.multi_insert() if entity.mcount > 1 else (entity,):
            try:
                inside = one.virtual_entities(skipped_entity_callback=lambda e, _: skipped.append(e.dxftype()))
                self.all(inside, (name,), depth + 1)
            except NoPlate:
                raise
            except Exception as error:
                raise no_plate(f"has a block that can't be taken apart: {shown(str(entity.dxf.name))}: {error}",
                               "take it apart in the drawing program") from error
        for kind in skipped:
            self.aside[_WORDS.get(kind, kind)] += 1

    def _shown(self, entity: Any, name: str, kind: str) -> bool:
        """Whether an entity is on a layer that is taken; counts it if not."""
        layer = self.layers.get(name.lower())
        why = ""
        if _given(entity, "invisible", 0):
            why = "thing that is hidden"
        elif layer is not None and (layer.is_off() or layer.is_frozen()):
            why = "thing on layers that are off or frozen"
        elif self.wanted and name.lower() not in self.wanted:
            why = "thing on other layers"
        elif not self.wanted and name.lower() in ASIDE:
            why = f"thing on layer {name}"
        if why:
            self.aside[why] += 1
            if kind in _CURVES:
                self.elsewhere.setdefault(name)
        return not why

    # --------------------------------------------------------------------------------------------------------- its geometry
    def _point(self, p: Any) -> Vec2:
        if not (math.isfinite(p[0]) and math.isfinite(p[1])):
            raise ValueError("a coordinate that is no number")
        x, y = p[0] * self.metres, p[1] * self.metres
        if max(abs(x), abs(y)) > _FURTHEST:
            raise ValueError(f"it is more than {_FURTHEST / 1e3:g} km from the origin")
        return (x, y)

    def _level(self, points: Sequence[Any]) -> None:
        heights = [p[2] * self.metres for p in points if len(p) > 2]
        if heights and max(heights) - min(heights) > JOINED:
            raise ValueError("it leaves the plane of the plate")

    def _left(self, entity: Any) -> bool:
        """Whether what is counter-clockwise in the entity's own axes is so seen from +z."""
        along = entity.dxf.extrusion.normalize()
        if abs(abs(along.z) - 1) > 1e-9:
            raise ValueError("it leaves the plane of the plate")
        return bool(along.z > 0)

    def _run(self, edges: Iterable[Edge]) -> None:
        run = tuple(e for e in edges if math.dist(e.start, e.end) > 1e-3 * JOINED or (e.centre is not None and abs(e.sweep) > 3))
        self.corners += len(run)
        if self.corners > MOST_CORNERS:
            raise no_plate(f"has more than {MOST_CORNERS} corners", "draw arcs as arcs, and leave out of the file what is not cut")
        if run:
            self.runs.append(run)

    def _chords(self, points: Iterable[Any]) -> None:
        corners = list(islice(points, MOST_CORNERS + 1))
        self._level(corners)
        flat = [self._point(p) for p in corners]
        self._run(Edge(a, b) for a, b in zip(flat, flat[1:]))

    def _disc(self, centre: Vec2, radius: float) -> None:
        if not 1e-9 < radius < _FURTHEST:
            raise ValueError("its radius is no plate's")
        self.discs.append(Disc(radius=radius, centre=centre))

    def _line(self, entity: Any) -> None:
        self._chords([entity.dxf.start, entity.dxf.end])

    def _circle(self, entity: Any) -> None:
        self._left(entity)
        self._disc(self._point(entity.ocs().to_wcs(entity.dxf.center)), abs(float(entity.dxf.radius)) * self.metres)

    def _arc(self, entity: Any) -> None:
        turn = (entity.dxf.end_angle - entity.dxf.start_angle) % 360
        if math.isclose(turn, 0, abs_tol=1e-9) or math.isclose(turn, 360, abs_tol=1e-9):
            self._circle(entity)
            return
        left, start, end = self._left(entity), self._point(entity.start_point), self._point(entity.end_point)
        self._run([Edge(start, end, self._point(entity.ocs().to_wcs(entity.dxf.center)), left)])

    def _ellipse(self, entity: Any) -> None:
        if abs(abs(entity.dxf.ratio) - 1) < 1e-9 and abs(abs(entity.dxf.extrusion.normalize().z) - 1) < 1e-9:
            centre, radius = self._point(entity.dxf.center), entity.dxf.major_axis.magnitude * self.metres
            span = (entity.dxf.end_param - entity.dxf.start_param) % math.tau
            if min(span, math.tau - span) < 1e-9:
                self._disc(centre, radius)
            else:
                self._run([Edge(self._point(entity.start_point), self._point(entity.end_point), centre, self._left(entity))])
            return
        self._chords(entity.flattening(CHORD / 2 / self.metres))

    def _spline(self, entity: Any) -> None:
        for point in (*entity.control_points, *entity.fit_points):
            self._point(point)
        self._chords(_spline_points(entity.construction_tool(), CHORD / 2 / self.metres))

    def _lwpolyline(self, entity: Any) -> None:
        self._bulged(entity, [(x, y, float(entity.dxf.elevation), b) for x, y, b in entity.get_points("xyb")], entity.closed)

    def _polyline(self, entity: Any) -> None:
        if not entity.is_2d_polyline and not entity.is_3d_polyline:
            self.aside["mesh"] += 1
            return
        vertices = [v for v in entity.vertices if not v.dxf.get("flags", 0) & 16]  # 16: a frame that a curve is fitted to
        if entity.is_3d_polyline:
            points = [v.dxf.location for v in vertices]
            self._chords([*points, *(points[:1] if entity.is_closed else [])])
            return
        height = float(entity.dxf.elevation.z) if entity.dxf.hasattr("elevation") else 0.0
        self._bulged(entity, [(v.dxf.location.x, v.dxf.location.y, height, float(v.dxf.get("bulge", 0.0))) for v in vertices],
                     entity.is_closed)

    def _bulged(self, entity: Any, points: Sequence[tuple[float, float, float, float]], closed: bool) -> None:
        """A polyline in its own axes; a bulge is the tangent of a quarter of the turn to the next point."""
        left, to_world = self._left(entity), entity.ocs().to_wcs
        flat = [(self._point(to_world((x, y, z))), bulge if left else -bulge) for x, y, z, bulge in points]
        pairs = zip(flat, [*flat[1:], *flat[:1]] if closed else flat[1:])
        self._run(_bulge(a, b, bulge) for (a, bulge), (b, _) in pairs)


def _given(entity: Any, name: str, otherwise: object) -> object:
    """An attribute that entities of a kind nobody knows don't have."""
    return entity.dxf.get(name, otherwise) if entity.dxf.is_supported(name) else otherwise


def _bulge(a: Vec2, b: Vec2, bulge: float) -> Edge:
    """Straight where the arc rises no further than a nanometre over its chord."""
    if not math.isfinite(bulge):
        raise ValueError("a bulge that is no number")
    if abs(bulge) * math.dist(a, b) < 2e-9:
        return Edge(a, b)
    out = (1 - bulge * bulge) / (4 * bulge)
    centre = ((a[0] + b[0]) / 2 - out * (b[1] - a[1]), (a[1] + b[1]) / 2 + out * (b[0] - a[0]))
    return Edge(a, b, centre, bulge > 0)


def _spline_points(tool: Any, off: float) -> Iterator[Any]:
    """Points of a B-spline whose chords are at most ``off`` from it, over the knots between which it is a curve.

    ezdxf's own chords run over all knots, which is right only where the outer ones are repeated: closed splines often are not so.
    """
    ends = tool.order - 1, tool.count
    knots = sorted(set(tool.knots()[ends[0]:ends[1] + 1]))

    def between(t: float, p: Any, u: float, q: Any, deep: int) -> Iterator[Any]:
        half = (t + u) / 2
        middle = tool.point(half)
        chord = math.hypot(q.x - p.x, q.y - p.y)
        away = abs((q.x - p.x) * (middle.y - p.y) - (q.y - p.y) * (middle.x - p.x)) / chord if chord > 0 else (middle - p).magnitude
        if away < off or deep == 0:
            yield q
        else:
            yield from between(t, p, half, middle, deep - 1)
            yield from between(half, middle, u, q, deep - 1)

    yield tool.point(knots[0])
    for first, last in zip(knots, knots[1:]):
        steps = [first + (last - first) * k / _LEAST for k in range(_LEAST)] + [last]
        for t, u in zip(steps, steps[1:]):
            yield from between(t, tool.point(t), u, tool.point(u), _HALVED)


#: What a plate's curves are drawn with; each has a method of that name above.
_CURVES = frozenset(("LINE", "CIRCLE", "ARC", "ELLIPSE", "SPLINE", "LWPOLYLINE", "POLYLINE"))
