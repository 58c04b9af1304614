"""Pages as a PDF at their true size. Needs the extra ``pictures`` (reportlab)."""
from __future__ import annotations

import io
import math
from collections.abc import Iterable, Sequence
from typing import Any

from chassis_describe.drawings.extra import needs_pictures
from chassis_describe.drawings.paper import MARK, Circle, Page, Path, Region, Text, Vec2, leaves, radius, sweep
from chassis_describe.drawings.style import INKS, PENS

#: A point is 1/72 of an inch of 25.4 mm (PDF 32000-1, 8.3.2.3).
POINT = 72 / 25.4
#: One Bézier curve for so much of an arc: off by less than 1e-8 of the radius.
_ARC = math.pi / 8


def pdf(pages: Sequence[Page], title: str) -> bytes:
    """The document. Letters that the standard fonts of PDF do not have (beyond Windows-1252) come out as ``?``."""
    with needs_pictures("pdf"):
        from reportlab.pdfgen.canvas import Canvas

    out = io.BytesIO()
    canvas = Canvas(out, pagesize=(pages[0].width * POINT, pages[0].height * POINT), invariant=1, pageCompression=1)
    canvas.setTitle(_latin(title))
    canvas.setCreator(MARK)
    canvas.setAuthor("chassis_describe")
    canvas.setProducer(MARK)
    for page in pages:
        canvas.setPageSize((page.width * POINT, page.height * POINT))
        canvas.transform(POINT, 0, 0, -POINT, 0, page.height * POINT)  # mm from the top left corner, y down
        canvas.setLineCap(1)
        canvas.setLineJoin(1)
        for item in leaves(page.items):
            _item(canvas, item)
        canvas.showPage()
    canvas.save()
    return out.getvalue()


def _item(canvas: Any, item: Path | Region | Circle | Text) -> None:
    if isinstance(item, Text):
        _text(canvas, item)
        return
    _paint(canvas, item.pen, item.fill)
    stroke, fill = int(bool(item.pen)), int(bool(item.fill))
    if isinstance(item, Circle):
        canvas.circle(item.centre[0], item.centre[1], item.radius, stroke=stroke, fill=fill)
        return
    path = canvas.beginPath()
    for part in item.paths if isinstance(item, Region) else (item,):
        path.moveTo(*part.start)
        for points in _curves(part):
            if len(points) == 1:
                path.lineTo(*points[0])
            else:
                path.curveTo(*(c for p in points for c in p))
        if part.closed:
            path.close()
    canvas.drawPath(path, stroke=stroke, fill=fill, fillMode=0)


def _curves(path: Path) -> Iterable[list[Vec2]]:
    """A point for a straight step, three for a piece of an arc (two handles and the end)."""
    start = path.start
    for step in path.steps:
        if step.centre is None:
            yield [step.end]
        else:
            (cx, cy), r, turn = step.centre, radius(start, step), sweep(start, step)
            count = max(1, math.ceil(abs(turn) / _ARC))
            first = math.atan2(start[1] - cy, start[0] - cx)
            handle = 4 / 3 * math.tan(turn / count / 4)
            for k in range(count):
                a, b = first + turn * k / count, first + turn * (k + 1) / count
                end = step.end if k == count - 1 else (cx + r * math.cos(b), cy + r * math.sin(b))
                yield [(cx + r * (math.cos(a) - handle * math.sin(a)), cy + r * (math.sin(a) + handle * math.cos(a))),
                       (cx + r * (math.cos(b) + handle * math.sin(b)), cy + r * (math.sin(b) - handle * math.cos(b))), end]
        start = step.end


def _paint(canvas: Any, pen: str, fill: str) -> None:
    if pen:
        style = PENS[pen]
        canvas.setStrokeColorRGB(*_rgb(style.ink))
        canvas.setLineWidth(style.width)
        canvas.setDash(*([list(style.dash)] if style.dash else []))
    if fill:
        canvas.setFillColorRGB(*_rgb(fill))


def _text(canvas: Any, item: Text) -> None:
    from reportlab.pdfbase.pdfmetrics import stringWidth

    font = "Helvetica-Bold" if item.bold else "Helvetica"
    runs = [(_latin(item.text), font, item.ink)] + ([(_latin(f" {item.tail}"), "Helvetica", "grey")] if item.tail else [])
    wide = sum(stringWidth(text, name, item.size) for text, name, _ in runs)
    x = item.at[0] - wide * {"start": 0.0, "middle": 0.5, "end": 1.0}[item.anchor]
    for text, name, ink in runs:
        canvas.saveState()
        canvas.transform(1, 0, 0, -1, x, item.at[1])
        canvas.setFont(name, item.size)
        canvas.setFillColorRGB(*_rgb(ink))
        canvas.drawString(0, 0, text)
        canvas.restoreState()
        x += stringWidth(text, name, item.size)


def _rgb(ink: str) -> tuple[float, float, float]:
    text = INKS[ink]
    red, green, blue = (int(text[k:k + 2], 16) / 255 for k in (1, 3, 5))
    return red, green, blue


def _latin(text: str) -> str:
    return text.encode("cp1252", "replace").decode("cp1252")
