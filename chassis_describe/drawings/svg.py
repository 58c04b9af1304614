"""Pages as one SVG 1.1 picture, one under the other, in millimetres. Text stays text."""
from __future__ import annotations

import math
from collections.abc import Sequence

from lxml import etree

from chassis_describe.drawings.paper import MARK, Circle, Group, Item, Page, Path, Region, Text, Vec2, radius, sweep
from chassis_describe.drawings.style import FONT, INKS, PENS
from chassis_describe.version import VERSION

_GAP = 4.0  # mm between pages
_NAMESPACE = "http://www.w3.org/2000/svg"


def number(value: float) -> str:
    """A length in mm with four decimals at most: 0.1 µm."""
    text = f"{value:.4f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def svg(pages: Sequence[Page], title: str) -> bytes:
    """The document."""
    width = max(p.width for p in pages)
    height = sum(p.height for p in pages) + _GAP * (len(pages) - 1)
    root = etree.Element(f"{{{_NAMESPACE}}}svg", nsmap={None: _NAMESPACE})  # type: ignore[dict-item]
    for name, value in (("width", f"{number(width)}mm"), ("height", f"{number(height)}mm"),
                        ("viewBox", f"0 0 {number(width)} {number(height)}"),
                        ("font-family", FONT)):
        root.set(name, value)
    _child(root, "title").text = printable(title)
    y = 0.0
    for page in pages:
        group = _child(root, "g", ("class", "page"), ("data-title", page.title))
        _child(group, "rect", ("x", "0"), ("y", number(y)), ("width", number(page.width)), ("height", number(page.height)),
               ("fill", INKS["paper"]))
        for item in page.items:
            _item(group, item, y)
        y += page.height + _GAP
    etree.indent(root, space=" ")
    for node in root.iter(f"{{{_NAMESPACE}}}text"):  # blanks inside a line of text would be drawn
        for part in node:
            part.tail = None
        node.text = node.text if len(node) == 0 else None
    head = f'<?xml version="1.0" encoding="UTF-8"?>\n<!-- {MARK} {VERSION} -->\n'.encode("ascii")
    return head + bytes(etree.tostring(root, encoding="utf-8")) + b"\n"


def printable(text: str) -> str:
    """Text that XML 1.0 can hold."""
    if text.isprintable():  # of ASCII and all other letters and signs; most text is
        return text
    return "".join(c if c in "\t\n" or 32 <= ord(c) < 0xD800 or 0xE000 <= ord(c) < 0xFFFE or ord(c) > 0xFFFF else "?"
                   for c in text)


def _child(parent: etree._Element, tag: str, *attributes: tuple[str, str]) -> etree._Element:
    return etree.SubElement(parent, f"{{{_NAMESPACE}}}{tag}", {k: printable(v) for k, v in attributes if v != ""})


def _item(parent: etree._Element, item: Item, dy: float) -> None:
    if isinstance(item, Group):
        group = _child(parent, "g", ("class", item.kind), *((f"data-{k}", v) for k, v in item.data))
        for inner in item.items:
            _item(group, inner, dy)
    elif isinstance(item, Circle):
        _child(parent, "circle", ("class", item.kind), ("cx", number(item.centre[0])), ("cy", number(item.centre[1] + dy)),
               ("r", number(item.radius)), *_paint(item.pen, item.fill), *((f"data-{k}", v) for k, v in item.data))
    elif isinstance(item, Path):
        _child(parent, "path", ("class", item.kind), ("d", _path(item, dy)), *_paint(item.pen, item.fill))
    elif isinstance(item, Region):
        _child(parent, "path", ("class", item.kind), ("d", " ".join(_path(p, dy) for p in item.paths)),
               *_paint(item.pen, item.fill), ("fill-rule", "evenodd"))
    else:
        _text(parent, item, dy)


def _text(parent: etree._Element, item: Text, dy: float) -> None:
    bold = "bold" if item.bold else ""
    node = _child(parent, "text", ("class", item.kind), ("x", number(item.at[0])), ("y", number(item.at[1] + dy)),
                  ("font-size", number(item.size)), ("text-anchor", item.anchor if item.anchor != "start" else ""),
                  ("font-weight", bold if not item.tail else ""), ("fill", INKS[item.ink]))
    if not item.tail:
        node.text = printable(item.text)
        return
    _child(node, "tspan", ("font-weight", bold)).text = printable(item.text)
    _child(node, "tspan", ("fill", INKS["grey"])).text = printable(f" {item.tail}")


def _paint(pen: str, fill: str) -> list[tuple[str, str]]:
    out = [("fill", INKS[fill] if fill else "none")]
    if pen:
        style = PENS[pen]
        out += [("stroke", INKS[style.ink]), ("stroke-width", number(style.width)), ("stroke-linejoin", "round"),
                ("stroke-dasharray", " ".join(number(d) for d in style.dash))]
    return out


def _path(path: Path, dy: float) -> str:
    parts = [f"M{_point(path.start, dy)}"]
    start = path.start
    for step in path.steps:
        if step.centre is None:
            parts.append(f"L{_point(step.end, dy)}")
        else:
            r = number(radius(start, step))
            large = "1" if abs(sweep(start, step)) > math.pi else "0"
            parts.append(f"A{r} {r} 0 {large} {'1' if step.right else '0'} {_point(step.end, dy)}")
        start = step.end
    return " ".join(parts) + ("Z" if path.closed else "")


def _point(p: Vec2, dy: float) -> str:
    return f"{number(p[0])} {number(p[1] + dy)}"
