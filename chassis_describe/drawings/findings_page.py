"""The errors of the check on a page of their own, by the numbers that mark the names in the plans."""
from __future__ import annotations

from collections.abc import Sequence

from chassis_describe.assembly.model import Assembly
from chassis_describe.drawings.paper import Item, Page, Text, Vec2
from chassis_describe.drawings.text_width import wrapped
from chassis_describe.drawings.title_block import MARGIN, STRIP, caption, title_block
from chassis_describe.findings import Finding, Severity

_SIZE, _LEAD = 2.6, 4.0


def errors_of(findings: Sequence[Finding]) -> list[Finding]:
    """Those that are errors, in the order of the check."""
    return [f for f in findings if f.severity is Severity.ERROR]


def flags_of(findings: Sequence[Finding]) -> dict[str, str]:
    """By deck or placement, the numbers of the errors that name it: ``1, 3``."""
    out: dict[str, str] = {}
    for number, error in enumerate(errors_of(findings), 1):
        for name in error.of:
            out[name] = f"{out[name]}, {number}" if name in out else str(number)
    return out


def findings_pages(assembly: Assembly, findings: Sequence[Finding], size: Vec2) -> list[Page]:
    """As many pages as the errors need; none where there are none."""
    width, height = size
    lines: list[tuple[str, bool]] = []
    for number, error in enumerate(errors_of(findings), 1):
        text = f"{error.message}{f' ({error.hint})' if error.hint else ''} [{error.code}]"
        rows = wrapped(text, _SIZE, width - 2 * MARGIN - 14)
        lines += [(row if k else f"!{number}  {row}", k == 0) for k, row in enumerate(rows)]
    share = int((height - 2 * MARGIN - STRIP - 16.0) / _LEAD)
    pages = []
    for start in range(0, len(lines), share):
        items: list[Item] = list(caption(MARGIN, MARGIN + 3.0, "errors of the check", "numbers after ! in the plans are these"))
        for row, (text, first) in enumerate(lines[start:start + share]):
            items.append(Text((MARGIN + (0.0 if first else 8.0), MARGIN + 12.0 + row * _LEAD), text, _SIZE, kind="error"))
        items.append(title_block(assembly, width, height, "errors", ""))
        pages.append(Page(width, height, tuple(items), "errors"))
    return pages
