"""The lines of `draw` and `steps`: a layout file to a drawing, or to a build sheet, on disk."""
from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from chassis_describe import compiler
from chassis_describe.disk.ours import refuse_inputs, refuse_others, write_ours
from chassis_describe.documents import step_drawings, steps_html, steps_markdown, steps_pdf
from chassis_describe.drawings.paper import MARK
from chassis_describe.drawings.table import Wish, drawing, ending_of, pages_as, plate_drawing
from chassis_describe.errors import UsageError
from chassis_describe.findings import Finding
from chassis_describe.layout.files import from_disk, input_file
from chassis_describe.layout.part_files import is_part_file, read_parts
from chassis_describe.values import dataclass
from chassis_describe.words import count, listing, nearest

if TYPE_CHECKING:
    from chassis_describe.assembly.model import Assembly
    from chassis_describe.layout.model import Layout


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnFile:
    """What became of a file; ``changed`` is False where it held these bytes already."""

    path: str
    changed: bool
    findings: tuple[Finding, ...]


def draw(path: str, out: str, *, text: bytes | None = None, overlays: Sequence[str] = (), deck: str | None = None,
         part: str | None = None, template: bool = False, under: bool = False, paper: str = "a4",
         replace: bool = False) -> DrawnFile:
    """Draw a layout, or the plate of a part in a part file, into the file ``out``, whose ending decides the kind.

    Raises LayoutError where the file does not read, UsageError for a wish that makes no sense, TargetError where the file
    is not ours.
    """
    ending = ending_of(out)
    text = input_file(path, text, from_disk).data
    if is_part_file(path, text=text):
        if deck is not None:
            raise UsageError(f"{path} is a part file and has no decks: --part names one of its parts")
        return _draw_plate(path, text, out, part, Wish(template=template, under=under, paper=paper), replace=replace)
    if part is not None:
        raise UsageError(f"--part names a part of a part file, and {path} is a layout: --deck names a deck")
    if ending == "html" and template:
        raise UsageError("a page holds the whole robot: --template means nothing for it")
    assembly = compiler.assemble(compiler.read(path, text=text, overlays=overlays))
    plate = template or ending in ("dxf", "stl", "glb")
    findings = () if plate else tuple(compiler.check(assembly))
    wish = Wish(findings=findings, deck=deck, template=template, under=under, paper=paper)
    data = _page(assembly, wish) if ending == "html" else drawing(assembly, ending, wish)
    changed = write_ours(Path(out), data, MARK, replace=replace, inputs=compiler.files_read(assembly))
    return DrawnFile(path=out, changed=changed, findings=findings)


def _draw_plate(path: str, text: bytes, out: str, name: str | None, wish: Wish, *, replace: bool) -> DrawnFile:
    """The plate that a part of a part file is cut from; without --template, svg, pdf and png show the part's card."""
    from chassis_describe.drawings.part_card import part_card
    from chassis_describe.drawings.plate_view import part_plate_view

    parts = {p.name: p for p in read_parts(path, text=text)}
    flat = [n for n, p in parts.items() if p.plate is not None]
    if name is not None and name not in parts:
        near = nearest(name, parts)
        raise UsageError(f"{path} has no part `{name}`" + (f"; did you mean `{near}`?" if near else f"; it has {', '.join(parts)}"))
    if name is None and len(parts if len(parts) == 1 else flat) != 1:
        raise UsageError(f"{path} has {count(len(parts), 'part')}, {len(flat)} of them with a `plate`: say which, --part NAME")
    chosen = parts[name or (next(iter(parts)) if len(parts) == 1 else flat[0])]
    ending, view = ending_of(out), part_plate_view(chosen)
    if ending in ("html", "glb"):
        raise UsageError(f"a {ending} holds a whole robot; a part is drawn as .svg, .pdf or .png, its plate as .dxf and .stl too")
    if ending in ("dxf", "stl") or wish.template:
        if view is None:
            raise UsageError(f"`{chosen.name}` has no `plate`: only flat plates are drawn for cutting and printing")
        data = plate_drawing(view, ending, wish)
    else:
        data = pages_as(part_card(chosen, wish.paper), out, chosen.name)
    return DrawnFile(path=out, changed=write_ours(Path(out), data, MARK, replace=replace, inputs=(path,)), findings=())


def _page(assembly: Assembly, wish: Wish) -> bytes:
    from chassis_describe.facts.known import known_deck
    from chassis_describe.page.frozen import frozen_page

    if wish.deck is not None:
        known_deck(assembly, wish.deck)
    return frozen_page(assembly, wish.findings, deck=wish.deck, under=wish.under)


def steps(path: str, out: str | None, table: str | None, *, text: bytes | None = None, overlays: Sequence[str] = (),
          replace: bool = False) -> list[tuple[str, bool]]:
    """Write the build sheet to ``out`` (.md, .html or .pdf) and its list to ``table`` (CSV): each path, and whether it changed.

    Raises LayoutError, UsageError for another ending, TargetError where a file is not ours.
    """
    ending = Path(out).suffix.lower() if out is not None else ""
    if out is not None and ending not in (".md", ".html", ".pdf"):
        raise UsageError(f"{out}: a build sheet ends in .md, .html or .pdf")
    assembly = compiler.assemble(compiler.read(path, text=text, overlays=overlays))
    files: list[tuple[Path, bytes, str | None]] = []
    if out is not None and ending == ".md":
        folder = Path(out).with_name(f"{Path(out).stem}_figures")
        files += [(folder / f"{name}.svg", data, MARK) for name, data in step_drawings(assembly).items()]
        files.append((Path(out), steps_markdown(assembly, folder.name).encode("utf-8"), MARK))
    elif out is not None:
        files.append((Path(out), steps_html(assembly).encode("utf-8") if ending == ".html" else steps_pdf(assembly), MARK))
    if table is not None:
        from chassis_describe.reports.build_sheet import CSV_HEAD, as_csv

        files.append((Path(table), as_csv(assembly).encode("utf-8"), CSV_HEAD))
    read = compiler.files_read(assembly)
    for file, _, mark in files:
        refuse_inputs(file, read)
        refuse_others(file, mark, replace=replace)
    done = []
    for file, data, mark in files:
        done.append((str(file), write_ours(file, data, mark, replace=replace, folder=True)))
    return done


def draw_part(out: str, name: str | None, layout: Layout | None, in_file: str | None, *, replace: bool = False) -> bool:
    """Draw one part's card into ``out``; whether anything changed. Raises UsageError where no single part is named."""
    from chassis_describe.drawings.part_card import part_card
    from chassis_describe.reports.part_list import chosen_parts, is_file

    if name is None or (is_file(name) and in_file is None):
        raise UsageError("name one part to draw: parts NAME --draw FILE")
    found = chosen_parts(name, layout, in_file)
    if len(found) > 1:
        raise UsageError(f"{name} is the word for several parts; name one: {listing(p.name for p in found)}")
    part = found[0]
    return write_ours(Path(out), pages_as(part_card(part), out, part.name), MARK, replace=replace)


def draw_change(out: str, old: Assembly, new: Assembly, *, replace: bool = False) -> bool:
    """Draw two builds in one picture; whether anything changed in the file."""
    from chassis_describe.drawings.before_after import before_after

    return write_ours(Path(out), pages_as(before_after(old, new), out, f"{new.robot}: before and after"), MARK, replace=replace)
