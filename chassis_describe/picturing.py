"""The lines of `draw` and `steps`: a layout file to a drawing, or to a build sheet, on disk."""
from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from chassis_describe import compiler
from chassis_describe.disk.ours import refuse_others, write_ours
from chassis_describe.drawings.paper import MARK
from chassis_describe.drawings.table import Wish, drawing, ending_of
from chassis_describe.errors import UsageError
from chassis_describe.findings import Finding
from chassis_describe.values import dataclass

if TYPE_CHECKING:
    from chassis_describe.assembly.model import Assembly


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """What became of a file; ``changed`` is False where it held these bytes already."""

    path: str
    changed: bool
    findings: tuple[Finding, ...]


def draw(path: str, out: str, *, text: bytes | None = None, overlays: Sequence[str] = (), deck: str | None = None,
         template: bool = False, under: bool = False, paper: str = "a4", replace: bool = False) -> Drawn:
    """Draw a layout into the file ``out``, whose ending decides the kind.

    Raises LayoutError where the layout does not read, UsageError for a wish that makes no sense, TargetError where the file
    is not ours.
    """
    ending = ending_of(out)
    assembly = compiler.assemble(compiler.read(path, text=text, overlays=overlays))
    plate = template or ending in ("dxf", "stl")
    findings = () if plate else tuple(compiler.check(assembly))
    wish = Wish(findings=findings, deck=deck, template=template, under=under, paper=paper)
    data = drawing(assembly, ending, wish)
    return Drawn(path=out, changed=write_ours(Path(out), data, MARK, replace=replace), findings=findings)


def figures_of(assembly: Assembly) -> dict[str, bytes]:
    """The figures of a build sheet, by their names."""
    from chassis_describe.drawings.step_figure import step_figures
    from chassis_describe.facts.build_order import build_order
    from chassis_describe.reports.build_sheet import figure_name

    return step_figures(assembly, {k: figure_name(k) for k in range(1, len(build_order(assembly)) + 1)})


def steps_markdown(assembly: Assembly, figures: str) -> str:
    """The build sheet as Markdown; ``figures``: the folder of its figures, from the page."""
    from chassis_describe.reports.blocks import as_markdown
    from chassis_describe.reports.build_sheet import build_sheet

    return as_markdown(build_sheet(assembly), MARK, figures)


def _steps_pdf(assembly: Assembly) -> bytes:
    from chassis_describe.drawings.flow import Flow
    from chassis_describe.drawings.pdf import pdf
    from chassis_describe.drawings.step_figure import figure_pages
    from chassis_describe.facts.build_order import build_order
    from chassis_describe.reports.build_sheet import build_sheet, figure_name

    figures = figure_pages(assembly, {k: figure_name(k) for k in range(1, len(build_order(assembly)) + 1)})
    flow = Flow(f"{assembly.robot}: build sheet")
    for block in build_sheet(assembly):
        if block.kind in ("title", "heading"):
            flow.gap(3.0)
            flow.text(block.text, 6.0 if block.kind == "title" else 4.6, bold=True)
        elif block.kind == "step":
            flow.gap(1.5)
            flow.room(12.0)
            flow.text(block.text, bold=bool(block.lines), indent=7.0, sign="box")
            for words in block.lines:
                flow.text(words, 3.1, indent=11.0, sign="-")
        elif block.kind == "figure":
            flow.figure(figures[block.text])
        elif block.kind == "table":
            flow.table(block.rows)
        else:
            flow.gap(1.0)
            flow.text(block.text, bold=block.kind == "caution")
    return pdf(flow.pages(), flow.title)


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
        files += [(folder / f"{name}.svg", data, MARK) for name, data in figures_of(assembly).items()]
        files.append((Path(out), steps_markdown(assembly, folder.name).encode("utf-8"), MARK))
    elif out is not None:
        from chassis_describe.reports.blocks import as_html
        from chassis_describe.reports.build_sheet import build_sheet

        if ending == ".html":
            data = as_html(build_sheet(assembly), MARK, figures_of(assembly)).encode("utf-8")
        else:
            data = _steps_pdf(assembly)
        files.append((Path(out), data, MARK))
    if table is not None:
        from chassis_describe.reports.build_sheet import CSV_HEAD, as_csv

        files.append((Path(table), as_csv(assembly).encode("utf-8"), CSV_HEAD))
    for file, _, mark in files:
        refuse_others(file, mark, replace=replace)
    done = []
    for file, data, mark in files:
        file.parent.mkdir(parents=True, exist_ok=True)
        done.append((str(file), write_ours(file, data, mark, replace=replace)))
    return done
