"""The papers of a robot that is put together: its sheet, and its build sheet with figures."""
from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from chassis_describe.artifact import Artifact
from chassis_describe.drawings.paper import MARK
from chassis_describe.errors import never

if TYPE_CHECKING:
    from chassis_describe.assembly.model import Assembly
    from chassis_describe.findings import Finding

#: The folder of the figures beside the build sheet of a package.
_FIGURES = "steps_figures"

#: Outlines and holes in all figures together that a package draws (about three seconds); each step shows the whole deck again.
_DRAWN = 100_000

#: The same where the build sheet alone is asked for (some seconds, 200 MB).
_MOST_DRAWN = 500_000

#: The same of the sheet, for each deck: names that need more pages than that are left to `draw`.
_ON_SHEET = 8_000


def documents(assembly: Assembly, findings: Sequence[Finding]) -> tuple[Artifact, ...]:
    """What a description package holds for people: ``docs/sheet.svg``, ``docs/steps.md`` and its figures.

    Of very many parts sheet and page say what they leave out, and how to have it.
    """
    from chassis_describe.drawings.table import Wish, drawing

    sheet = drawing(assembly, "svg", Wish(findings=tuple(findings), most=_ON_SHEET))
    drawn = step_drawings(assembly, most=_DRAWN)
    figures = (Artifact(path=f"docs/{_FIGURES}/{name}.svg", data=data) for name, data in drawn.items())
    page = steps_markdown(assembly, _FIGURES, most=_DRAWN).encode("utf-8")
    return (Artifact(path="docs/sheet.svg", data=sheet), Artifact(path="docs/steps.md", data=page), *figures)


def instead_of_figures(assembly: Assembly, most: int) -> str:
    """What a build sheet says where its figures together would hold more than ``most`` outlines and holes; else nothing."""
    from chassis_describe.drawings.views import deck_views
    from chassis_describe.facts.build_order import build_order

    seen = {name: len(view.parts) + len(view.holes) for name, view in deck_views(assembly).items()}
    shapes = sum(seen[step.deck] for step in build_order(assembly))
    if shapes <= most:
        return ""
    if shapes <= _MOST_DRAWN:
        return "So many steps are not drawn here; the command `chassis_describe steps LAYOUT -o steps.md` draws a figure for each."
    return (f"So many steps are not drawn: their figures would hold {shapes} outlines and holes. The command `chassis_describe "
            "draw LAYOUT --deck DECK -o FILE` draws a deck as it is in the end.")


def step_drawings(assembly: Assembly, *, most: int = _MOST_DRAWN) -> dict[str, bytes]:
    """The figures of a build sheet, by their names; none where that would be too many."""
    from chassis_describe.drawings.step_figure import step_figures
    from chassis_describe.facts.build_order import build_order
    from chassis_describe.reports.build_sheet import figure_name

    if instead_of_figures(assembly, most):
        return {}
    return step_figures(assembly, {k: figure_name(k) for k in range(1, len(build_order(assembly)) + 1)})


def steps_markdown(assembly: Assembly, figures: str, *, most: int = _MOST_DRAWN) -> str:
    """The build sheet as Markdown; ``figures``: the folder of its figures, from the page, where there are any."""
    from chassis_describe.reports.blocks import as_markdown
    from chassis_describe.reports.build_sheet import build_sheet

    return as_markdown(build_sheet(assembly, instead=instead_of_figures(assembly, most)), MARK, figures)


def steps_pdf(assembly: Assembly) -> bytes:
    """The build sheet as a PDF. Needs the extra ``pictures``."""
    from chassis_describe.drawings.flow import Flow
    from chassis_describe.drawings.pdf import pdf
    from chassis_describe.drawings.step_figure import figure_pages
    from chassis_describe.facts.build_order import build_order
    from chassis_describe.reports.build_sheet import build_sheet, figure_name

    instead = instead_of_figures(assembly, _MOST_DRAWN)
    figures = {} if instead else figure_pages(assembly, {k: figure_name(k) for k in range(1, len(build_order(assembly)) + 1)})
    flow = Flow(f"{assembly.robot}: build sheet")
    for block in build_sheet(assembly, instead=instead):
        if block.kind == "title" or block.kind == "heading":
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
        elif block.kind == "text" or block.kind == "caution":
            flow.gap(1.0)
            flow.text(block.text, bold=block.kind == "caution")
        else:
            raise never(block.kind)
    return pdf(flow.pages(), flow.title)


def steps_html(assembly: Assembly) -> str:
    """The build sheet as one page with its figures in it."""
    from chassis_describe.reports.blocks import as_html
    from chassis_describe.reports.build_sheet import build_sheet

    return as_html(build_sheet(assembly, instead=instead_of_figures(assembly, _MOST_DRAWN)), MARK, step_drawings(assembly))
