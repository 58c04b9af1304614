"""Readers for the drawings' own files, written against the SVG 1.1 specification and not against the writer."""
from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import NamedTuple

from lxml import etree

SVG = "{http://www.w3.org/2000/svg}"
Vec2 = tuple[float, float]


class Box(NamedTuple):
    """Of one line of text, mm."""

    x0: float
    y0: float
    x1: float
    y1: float
    text: str


def root_of(data: bytes) -> etree._Element:
    return etree.fromstring(data)


def of_class(node: etree._Element, name: str) -> list[etree._Element]:
    return [n for n in node.iter(f"{SVG}*") if name in (n.get("class") or "").split()]


def decks(data: bytes) -> dict[str, etree._Element]:
    return {g.get("data-name"): g for g in of_class(root_of(data), "deck")}


def to_deck(deck: etree._Element, p: Vec2, dy: float) -> Vec2:
    """A point of the page back to deck coordinates (mm): the page's up is the deck's +x, its left +y (under: its right)."""
    ox, oy = map(float, deck.get("data-origin").split())
    scale = float(deck.get("data-scale").split(":")[1])
    across = (p[0] - ox) * scale
    return ((oy + dy - p[1]) * scale, across if deck.get("data-face") == "under" else -across)


def page_shift(node: etree._Element) -> float:
    """How far down its page begins: the y of the white rectangle behind it."""
    page = next(a for a in node.iterancestors() if a.get("class") == "page")
    return float(page.find(f"{SVG}rect").get("y"))


def rings(d: str, step: float = math.radians(0.5)) -> Iterator[list[Vec2]]:
    """The closed paths of a ``d``, arcs (A rx ry 0 large sweep x y, SVG 1.1 F.6) as chords."""
    tokens = re.findall(r"[MLAZ]|-?[\d.]+", d)
    points: list[Vec2] = []
    k = 0
    while k < len(tokens):
        command = tokens[k]
        if command == "Z":
            yield points
            points, k = [], k + 1
        elif command in "ML":
            points.append((float(tokens[k + 1]), float(tokens[k + 2])))
            k += 3
        else:
            r, large, sweep = float(tokens[k + 1]), tokens[k + 4] == "1", tokens[k + 5] == "1"
            points += _arc(points[-1], (float(tokens[k + 6]), float(tokens[k + 7])), r, large, sweep, step)
            k += 8


def _arc(a: Vec2, b: Vec2, r: float, large: bool, sweep: bool, step: float) -> list[Vec2]:
    mx, my, half = (a[0] + b[0]) / 2, (a[1] + b[1]) / 2, math.dist(a, b) / 2
    away = math.sqrt(max(r * r - half * half, 0.0)) * (1 if large != sweep else -1)
    ux, uy = (b[0] - a[0]) / (2 * half), (b[1] - a[1]) / (2 * half)
    cx, cy = mx - away * uy, my + away * ux
    start, end = math.atan2(a[1] - cy, a[0] - cx), math.atan2(b[1] - cy, b[0] - cx)
    turn = (end - start) % (2 * math.pi) if sweep else -((start - end) % (2 * math.pi))
    n = max(1, math.ceil(abs(turn) / step))
    return [(cx + r * math.cos(start + turn * k / n), cy + r * math.sin(start + turn * k / n)) for k in range(1, n)] + [b]


def text_boxes(data: bytes) -> Iterator[tuple[str, list[Box]]]:
    """By page, the box of every line: widths by Adobe's metrics of Helvetica (as reportlab has them), heights by its
    ascender 0.718 and descender 0.207 (Helvetica.afm)."""
    from reportlab.pdfbase.pdfmetrics import stringWidth

    for page in of_class(root_of(data), "page"):
        boxes = []
        for text in page.iter(f"{SVG}text"):
            size = float(text.get("font-size"))
            runs = [(t.text or "", t.get("font-weight")) for t in text] or [(text.text or "", text.get("font-weight"))]
            wide = sum(stringWidth(s, "Helvetica-Bold" if w == "bold" else "Helvetica", size) for s, w in runs)
            x = float(text.get("x")) - wide * {"end": 1.0, "middle": 0.5}.get(text.get("text-anchor") or "", 0.0)
            y = float(text.get("y"))
            boxes.append(Box(x, y - 0.718 * size, x + wide, y + 0.207 * size, "".join(s for s, _ in runs)))
        yield page.get("data-title"), boxes


def overlapping(boxes: list[Box]) -> list[tuple[str, str]]:
    """Lines of text whose boxes meet by more than 0.01 mm."""
    return [(a.text, b.text) for n, a in enumerate(boxes) for b in boxes[:n]
            if min(a.x1, b.x1) - max(a.x0, b.x0) > 0.01 and min(a.y1, b.y1) - max(a.y0, b.y0) > 0.01]
