"""The strip at the foot of every page: what it is, of which file, and two blanks to fill in by hand."""
from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from pathlib import Path as FilePath

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly
from chassis_describe.drawings.paper import Group, Item, Page, Text, box, line
from chassis_describe.drawings.text_width import text_width
from chassis_describe.layout.paths_in_text import without_paths
from chassis_describe.source import is_built_in
from chassis_describe.version import VERSION

MARGIN = 8.0
STRIP = 13.0
#: Stands for the page's number until all pages are there.
PAGE = "-"


@kept
def drawing_hash(assembly: Assembly) -> str:
    """Twelve hex digits of a SHA-256 over the layout, its overlays, the user's part files and the built-in ones in use.

    Names of files in them don't count: a package names its copies of them otherwise, and is compiled to the same bytes again.
    """
    total = hashlib.sha256()
    layout = assembly.layout
    texts = len(layout.own_files) + len(layout.part_files)
    own = (without_paths(f.data) if number < texts else f.data for number, f in enumerate(layout.files))
    built_in = sorted({p.part.mark.file for p in assembly.parts.values() if is_built_in(p.part.mark.file)})
    for data in (*own, *(FilePath(name).read_bytes() for name in built_in)):
        total.update(len(data).to_bytes(8, "big"))
        total.update(data)
    return total.hexdigest()[:12]


def mass_text(assembly: Assembly) -> str:
    """The robot's mass in words."""
    return f"{assembly.inertial.mass:.3f} kg" if assembly.inertial is not None else "not known"


def title_block(assembly: Assembly, width: float, height: float, sheet: str, scale: str) -> Group:
    """The strip; ``sheet`` says what is on the page, and ``numbered`` which page it is."""
    y = height - MARGIN - STRIP
    cells: list[tuple[float, str, str]] = [
        (2.2, "robot", assembly.robot), (2.0, "sheet", sheet), (0.9, "scale", scale), (0.9, "mass", mass_text(assembly)),
        (1.15, "hash of layout and parts", drawing_hash(assembly)), (0.6, "page", PAGE), (1.4, "built by", ""), (1.1, "date", "")]
    items: list[Item] = [box(MARGIN, y, width - 2 * MARGIN, STRIP, "frame", kind="title-block")]
    x = MARGIN
    unit = (width - 2 * MARGIN) / sum(share for share, _, _ in cells)
    for number, (share, name, value) in enumerate(cells):
        if number:
            items.append(line([(x, y), (x, y + STRIP)], "frame"))
        room = share * unit - 2.4
        items.append(_fitted(x + 1.2, y + 3.2, name, 1.7, room, False, "grey"))
        if value:
            items.append(_fitted(x + 1.2, y + 9.2, value, 3.4 if number == 0 else 2.7, room, number == 0, "ink"))
        x += share * unit
    items.append(Text((width - MARGIN, height - MARGIN + 3.2), f"chassis_describe {VERSION}", 1.6, "end", False, "grey", "maker"))
    return Group("title", tuple(items))


def numbered(pages: Sequence[Page]) -> tuple[Page, ...]:
    """The pages with ``1/3`` and so on in their strips."""
    def of(item: Item, text: str) -> Item:
        if isinstance(item, Group) and item.kind == "title":
            return item._replace(items=tuple(i._replace(text=text) if isinstance(i, Text) and i.text == PAGE else i
                                             for i in item.items))
        return item

    return tuple(page._replace(items=tuple(of(i, f"{k}/{len(pages)}") for i in page.items))
                 for k, page in enumerate(pages, 1))


def _fitted(x: float, y: float, text: str, size: float, room: float, bold: bool, ink: str) -> Text:
    wide = text_width(text, size, bold)
    return Text((x, y), text, size if wide <= room else size * room / wide, "start", bold, ink, "title-text")


def caption(x: float, y: float, text: str, note: str = "") -> Iterable[Text]:
    """What a view is, over its top left corner."""
    yield Text((x, y), text, 3.0, "start", True, "ink", "caption")
    if note:
        yield Text((x + text_width(text, 3.0, True) + 2.0, y), note, 2.1, "start", False, "grey", "caption")
