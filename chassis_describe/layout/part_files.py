"""Part files, and all parts that a layout can name."""
from __future__ import annotations

import os

from chassis_describe.layout.catalogue import Shelves, read_catalogue
from chassis_describe.layout.files import Opener, from_disk, input_file, root_of
from chassis_describe.layout.language.reading import Reading
from chassis_describe.layout.language.record import Taken
from chassis_describe.layout.language.table_layout import LAYOUT
from chassis_describe.layout.model import Layout, Part
from chassis_describe.layout.overlay import laid_over
from chassis_describe.yaml_text.nodes import Map


def read_parts(path: str | os.PathLike[str], *, text: str | bytes | None = None,
               opener: Opener | None = None) -> tuple[Part, ...]:
    """Read a part file that stands alone: ``parts:`` by name, and ``materials:`` if it brings some. Raises as ``read``."""
    r = Reading()
    item = input_file(os.fspath(path), text, opener or from_disk)
    parts, _ = read_catalogue(root_of(item, r), r)
    shelves = Shelves(r, [parts])
    built = [shelves.at(0, name) for name in parts]
    r.give_up_on_faults()
    return tuple(p for p in built if p is not None)


def is_part_file(path: str | os.PathLike[str], *, text: str | bytes | None = None) -> bool:
    """Whether a file holds ``parts:`` and is no layout; one that does not read is none."""
    root = root_of(input_file(os.fspath(path), text, from_disk), Reading())
    return isinstance(root, Map) and "parts" in root.items and not {"layout", "robot", "decks", "placements"} & root.items.keys()


def shelves_of(layout: Layout, r: Reading) -> Shelves:
    """The shelves that a layout looks its parts up on, from the files that it was read from."""
    roots = [root for f in layout.own_files if (root := root_of(f, r)) is not None]
    base = roots[0]
    for over in roots[1:]:
        base = laid_over(base, over, r)
    shelves: list[dict[str, Taken | None]] = []
    entry = base.items.get("parts") if isinstance(base, Map) else None
    if entry is not None:
        shelves.append(LAYOUT.by_name["parts"].type.read(entry[1], r, ("parts",)) or {})
    for item in layout.part_files:
        shelves.append(read_catalogue(root_of(item, r), r)[0])
    return Shelves(r, shelves)


def all_parts(layout: Layout | None = None) -> dict[str, Part]:
    """Every part that a layout can name, in the order of look-up: its own, its part files', the built-in ones.

    Without a layout: the built-in ones.
    """
    from chassis_describe.layout.part_files import shelves_of

    r = Reading()
    shelves = shelves_of(layout, r) if layout is not None else Shelves(r)
    parts = {name: part for name in shelves.names() if (part := shelves.part(name)) is not None}
    r.give_up_on_faults()
    return parts
