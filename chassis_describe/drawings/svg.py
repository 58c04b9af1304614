"""Pages as one SVG 1.1 picture, one under the other, in millimetres. Text stays text."""
from __future__ import annotations

import math
import re
from collections.abc import Sequence
from functools import cache, lru_cache

from chassis_describe.drawings.paper import MARK, Circle, Group, Item, Page, Path, Region, Text, Vec2, radius, sweep
from chassis_describe.drawings.style import FONT, INKS, PENS
from chassis_describe.version import VERSION
from chassis_describe.words import plain

_GAP = 4.0  # mm between pages
#: Text that stands as it is: most of a sheet is numbers.
_AS_IT_IS = re.compile(r"[\w .,:;#()/+-]*", re.ASCII).fullmatch
_NAMESPACE = "http://www.w3.org/2000/svg"


def number(value: float) -> str:
    """A length in mm with four decimals at most: 0.1 µm."""
    return plain(value, 4)


def svg(pages: Sequence[Page], title: str) -> bytes:
    """The document."""
    width = max(p.width for p in pages)
    height = sum(p.height for p in pages) + _GAP * (len(pages) - 1)
    lines = ['<?xml version="1.0" encoding="UTF-8"?>', f"<!-- {MARK} {VERSION} -->",
             _start("svg", ("xmlns", _NAMESPACE), ("width", f"{number(width)}mm"), ("height", f"{number(height)}mm"),
                    ("viewBox", f"0 0 {number(width)} {number(height)}"), ("font-family", FONT)) + ">",
             f" <title>{escaped(title)}</title>"]
    y = 0.0
    for page in pages:
        lines.append(f" {_start('g', ('class', 'page'), ('data-title', page.title))}>")
        sheet = _start("rect", ("x", "0"), ("y", number(y)), ("width", number(page.width)), ("height", number(page.height)),
                       ("fill", INKS["paper"]))
        lines.append(f"  {sheet}/>")
        for item in page.items:
            _item(lines, item, y, "  ")
        lines.append(" </g>")
        y += page.height + _GAP
    lines.append("</svg>\n")
    return "\n".join(lines).encode("utf-8")


def printable(text: str) -> str:
    """Text that XML 1.0 can hold."""
    if text.isprintable():  # of ASCII and all other letters and signs; most text is
        return text
    return "".join(c if c in "\t\n" or 32 <= ord(c) < 0xD800 or 0xE000 <= ord(c) < 0xFFFE or ord(c) > 0xFFFF else "?"
                   for c in text)


def escaped(text: str) -> str:
    """Text as it stands between tags."""
    return printable(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _value(text: str) -> str:
    """Text as it stands in an attribute: blanks that a reader would make one are written as numbers (XML 1.0, 3.3.3)."""
    if _AS_IT_IS(text):
        return text
    return escaped(text).replace('"', "&quot;").replace("\n", "&#10;").replace("\t", "&#9;")


def _start(tag: str, *attributes: tuple[str, str]) -> str:
    """A tag without its end; attributes without a value are left out. Written as text: a sheet has ten thousand of them."""
    return f"<{tag}" + "".join([f' {k}="{v if v.isalnum() else _value(v)}"' for k, v in attributes if v != ""])


def _item(lines: list[str], item: Item, dy: float, indent: str) -> None:
    if isinstance(item, Group):
        start = _start("g", ("class", item.kind), *((f"data-{k}", v) for k, v in item.data))
        if not item.items:
            lines.append(f"{indent}{start}/>")
            return
        lines.append(f"{indent}{start}>")
        for inner in item.items:
            _item(lines, inner, dy, indent + " ")
        lines.append(f"{indent}</g>")
    elif isinstance(item, Circle):
        lines.append(indent + _circle(item, dy))
    elif isinstance(item, Path):
        start = _start("path", ("class", item.kind), ("d", _path(item, dy)), *_paint(item.pen, item.fill))
        lines.append(f"{indent}{start}/>")
    elif isinstance(item, Region):
        start = _start("path", ("class", item.kind), ("d", " ".join(_path(p, dy) for p in item.paths)),
                       *_paint(item.pen, item.fill), ("fill-rule", "evenodd"))
        lines.append(f"{indent}{start}/>")
    else:
        lines.append(indent + _text(item, dy))


@lru_cache(maxsize=20_000)
def _circle(item: Circle, dy: float) -> str:
    """One circle; kept, because every figure of a build sheet shows the same holes."""
    start = _start("circle", ("class", item.kind), ("cx", number(item.centre[0])), ("cy", number(item.centre[1] + dy)),
                   ("r", number(item.radius)), *_paint(item.pen, item.fill), *((f"data-{k}", v) for k, v in item.data))
    return f"{start}/>"


def _text(item: Text, dy: float) -> str:
    """One line of text on one line: blanks inside it would be drawn."""
    bold = "bold" if item.bold else ""
    start = _start("text", ("class", item.kind), ("x", number(item.at[0])), ("y", number(item.at[1] + dy)),
                   ("font-size", number(item.size)), ("text-anchor", item.anchor if item.anchor != "start" else ""),
                   ("font-weight", bold if not item.tail else ""), ("fill", INKS[item.ink]))
    if not item.tail:
        return f"{start}>{escaped(item.text)}</text>"
    return (f"{start}>{_start('tspan', ('font-weight', bold))}>{escaped(item.text)}</tspan>"
            f"{_start('tspan', ('fill', INKS['grey']))}>{escaped(f' {item.tail}')}</tspan></text>")


@cache
def _paint(pen: str, fill: str) -> tuple[tuple[str, str], ...]:
    out = [("fill", INKS[fill] if fill else "none")]
    if pen:
        style = PENS[pen]
        out += [("stroke", INKS[style.ink]), ("stroke-width", number(style.width)), ("stroke-linejoin", "round"),
                ("stroke-dasharray", " ".join(number(d) for d in style.dash))]
    return tuple(out)


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
