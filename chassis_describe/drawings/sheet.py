"""The sheet: the whole robot, every deck in plan, and the errors of the check where there are any."""
from __future__ import annotations

from collections.abc import Sequence

from chassis_describe.assembly.model import Assembly
from chassis_describe.drawings.coverage_page import coverage_pages
from chassis_describe.drawings.deck_page import deck_pages
from chassis_describe.drawings.findings_page import findings_pages, flags_of
from chassis_describe.drawings.frame import paper_size
from chassis_describe.drawings.paper import Page
from chassis_describe.drawings.robot_page import elevations_page, from_above_page
from chassis_describe.drawings.title_block import numbered
from chassis_describe.drawings.views import deck_views
from chassis_describe.findings import Finding


def sheet(assembly: Assembly, findings: Sequence[Finding], *, paper: str = "a4", deck: str | None = None,
          under: bool = False, most: int | None = None) -> tuple[Page, ...]:
    """The pages. ``deck``: that one alone; ``under``: plates turned over left to right; ``most``: as in `deck_pages`. Raises
    UsageError for a paper that there is not."""
    size = paper_size(paper)
    flags = flags_of(findings)
    pages: list[Page] = []
    if deck is None:
        pages += [from_above_page(assembly, size), elevations_page(assembly, size), *coverage_pages(assembly, size)]
    for name, view in deck_views(assembly).items():
        if deck in (None, name):
            pages += deck_pages(assembly, view, size, "under" if under else "plan", flags, most)
    if deck is None:
        pages += findings_pages(assembly, findings, size)
    return numbered(pages)
