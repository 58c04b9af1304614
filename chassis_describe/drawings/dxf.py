"""The bare plate as DXF (AC1024, millimetres, 1:1), for cutters. Needs the extra ``pictures`` (ezdxf).

Layers ``outline``, ``cutouts``, ``holes`` and ``marks``. Contours are closed polylines with bulges for their arcs, holes are
circles, and marks are crosses of lines: exactly the circles that are to be drilled are circles. A part's plate with countersinks
has their edges in a layer of their own, ``countersinks``, for whoever cuts those by machine too; they are in its lower face.
"""
from __future__ import annotations

import io
import math
from importlib import import_module
from typing import Any

from chassis_describe.drawings.extra import needs_pictures
from chassis_describe.drawings.paper import MARK, Vec2
from chassis_describe.drawings.plate_view import PlateView
from chassis_describe.drawings.template import mark_points
from chassis_describe.space.plate.contours import Contour, contour_of

#: Colour numbers of the layers: 7 is black or white, 5 blue, 8 grey (AutoCAD colour index).
_LAYERS = {"outline": 7, "cutouts": 7, "holes": 5, "marks": 8}
_MILLIMETRES = 4  # $INSUNITS


def dxf(view: PlateView, under: bool) -> bytes:
    """The file: x to the right, y up, seen on the top face with the deck's front up (``under``: turned over left to right)."""
    with needs_pictures("dxf"):
        ezdxf: Any = import_module("ezdxf")

    ezdxf.options.write_fixed_meta_data_for_testing = True  # no clock, no random identifiers: same input, same bytes
    document = ezdxf.new("R2010", setup=False, units=_MILLIMETRES)
    document.header["$INSUNITS"] = _MILLIMETRES
    document.header["$MEASUREMENT"] = 1
    document.header.custom_vars.append("maker", MARK)
    for name, colour in (*_LAYERS.items(), *((("countersinks", 4),) if view.sinks else ())):
        document.layers.add(name, color=colour)
    space = document.modelspace()
    side = 1.0 if under else -1.0

    def put(p: Vec2) -> Vec2:
        return (round(side * p[1], 6) + 0.0, round(p[0], 6) + 0.0)

    def contour(edges: Contour, layer: str) -> None:
        # A plan of the top face is turned, not mirrored; the under face mirrors, and with it the sense of every arc.
        points = [(*put(e.start), math.tan(e.sweep / 4) * (-1.0 if under else 1.0) + 0.0) for e in edges]
        space.add_lwpolyline(points, format="xyb", close=True, dxfattribs={"layer": layer})

    for edges in view.cut.outer:
        contour(edges, "outline")
    for edges in view.cut.inner:
        contour(edges, "cutouts")
    for slot in view.cut.slots:
        contour(contour_of(slot), "holes")
    for x, y, diameter in view.cut.holes:
        space.add_circle(put((x, y)), diameter / 2, dxfattribs={"layer": "holes"})
    for x, y, diameter in view.sinks:
        space.add_circle(put((x, y)), diameter / 2, dxfattribs={"layer": "countersinks"})
    for at, reach in mark_points(view):
        u, v = put(at)
        space.add_line((u - reach, v), (u + reach, v), dxfattribs={"layer": "marks"})
        space.add_line((u, v - reach), (u, v + reach), dxfattribs={"layer": "marks"})
    for name in ("ACDBPLACEHOLDER", "LAYOUT"):
        document.classes.add_class(name)  # else ezdxf adds them in the order of a set, another in every process
    out = io.StringIO()
    document.write(out)
    return out.getvalue().encode("utf-8")
