"""Part files beside one another: a name that two of them define."""
from __future__ import annotations

from collections.abc import Iterator

from chassis_describe.assembly.model import Assembly
from chassis_describe.findings import Finding, finding
from chassis_describe.layout.language.reading import Reading
from chassis_describe.layout.part_files import shelves_of


def names_once(assembly: Assembly) -> Iterator[Finding]:
    """``part-twice``: a part that is placed here and that two of the layout's part files define; the first one is taken."""
    layout = assembly.layout
    count = len(layout.catalogue_paths)
    if count < 2:
        return
    shelves = shelves_of(layout, Reading()).shelves[-count:]
    said: set[str] = set()
    for name, placed in assembly.parts.items():
        part = placed.part.name
        takens = [t for shelf in shelves if (t := shelf.get(part)) is not None]
        if part in said or len(takens) < 2 or placed.part.mark.file != takens[0].mark().file:
            continue
        said.add(part)
        files = [t.mark().file for t in takens]
        yield finding("part-twice", f"{part} is defined in {files[0]} and in {' and '.join(files[1:])}: the first in the list "
                      "`catalogue` is taken", hint="rename one of them, or take one file out of the list",
                      where=[placed.mark, *(t.mark() for t in takens)], of=[name])
