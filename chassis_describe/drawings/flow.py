"""Lines of text, boxes to tick, tables and figures set one under another on as many standing A4 pages as they need."""
from __future__ import annotations

from collections.abc import Sequence

from chassis_describe.drawings.paper import Item, Page, Text, box, line, moved
from chassis_describe.drawings.text_width import text_width, wrapped

_WIDE, _HIGH = 210.0, 297.0  # ISO 216 A4
_MARGIN = 16.0


class Flow:
    """A page that fills from the top; a new one begins where something does not fit."""

    def __init__(self, title: str) -> None:
        self.title = title
        self._pages: list[list[Item]] = [[]]
        self._y = _MARGIN

    def room(self, height: float) -> None:
        """Begin a new page when less than ``height`` (mm) is left."""
        if self._y + height > _HIGH - _MARGIN and self._y > _MARGIN:
            self._pages.append([])
            self._y = _MARGIN

    def gap(self, height: float) -> None:
        """White."""
        self._y += height

    def text(self, words: str, size: float = 3.4, *, bold: bool = False, indent: float = 0.0, sign: str = "") -> None:
        """A paragraph; ``sign`` stands before its first line: ``box`` to tick, or a dash."""
        lead = size * 1.4
        for k, row in enumerate(wrapped(words, size * (1.06 if bold else 1.0), _WIDE - 2 * _MARGIN - indent) or [""]):
            self.room(lead)
            self._y += lead
            x = _MARGIN + indent
            if k == 0 and sign == "box":
                self._put(box(x - 6.0, self._y - size * 0.8, size * 0.9, size * 0.9, "edge-thin", "", "tick"))
            elif k == 0 and sign:
                self._put(Text((x - 3.5, self._y), sign, size, kind="sign"))
            self._put(Text((x, self._y), row, size, bold=bold, kind="line"))

    def table(self, rows: Sequence[Sequence[str]], size: float = 2.8) -> None:
        """Columns as wide as their words need, the widest one what is left."""
        widths = [max(text_width(r[c], size) for r in rows) + 3.0 for c in range(len(rows[0]))]
        widest = widths.index(max(widths))
        widths[widest] = max(min(widths[widest], _WIDE - 2 * _MARGIN - sum(w for k, w in enumerate(widths) if k != widest)), 20.0)
        for number, row in enumerate(rows):
            cells = [wrapped(cell, size, wide - 2.0) or [""] for cell, wide in zip(row, widths)]
            high = max(map(len, cells)) * size * 1.35 + 0.8
            self.room(high)
            x = _MARGIN
            for lines, wide in zip(cells, widths):
                for k, words in enumerate(lines):
                    self._put(Text((x, self._y + (k + 1) * size * 1.35), words, size, bold=number == 0, kind="cell"))
                x += wide
            self._y += high
            self._put(line([(_MARGIN, self._y + 0.4), (_WIDE - _MARGIN, self._y + 0.4)], "leader", kind="rule"))
        self._y += 3.0

    def figure(self, page: Page) -> None:
        """A drawing, as it is."""
        self.room(page.height)
        for item in page.items:
            self._put(moved(item, _MARGIN + 6.0, self._y))
        self._y += page.height + 3.0

    def _put(self, item: Item) -> None:
        self._pages[-1].append(item)

    def pages(self) -> tuple[Page, ...]:
        """All of it, with numbers at the foot."""
        def foot(k: int) -> Text:
            words = f"{self.title}, page {k} of {len(self._pages)}"
            return Text((_WIDE - _MARGIN, _HIGH - 9.0), words, 2.3, "end", False, "grey", "foot")

        return tuple(Page(_WIDE, _HIGH, (*items, foot(k)), self.title) for k, items in enumerate(self._pages, 1))
