"""Exit codes, and what several commands print alike."""
from __future__ import annotations

import json
import os
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import argparse

    from chassis_describe.errors import LayoutError
    from chassis_describe.findings import Finding

OK, FINDINGS, UNUSABLE, OUR_FAULT = 0, 1, 2, 3


def colour(stream: Any) -> bool:
    """Whether a stream shows colours, and nobody asked for none."""
    return bool(stream.isatty()) and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def width(stream: Any) -> int:
    """The width of the terminal that a stream writes to; 100 where it writes to none."""
    said = os.environ.get("COLUMNS", "")
    if said.isdigit() and int(said):
        return int(said)
    try:
        return os.get_terminal_size(stream.fileno()).columns or 100
    except (OSError, ValueError):
        return 100


def print_json(data: Any) -> None:
    """A value as JSON on standard output."""
    from chassis_describe.reports import findings_text as report

    sys.stdout.write(json.dumps(report.bare(data), indent=2, ensure_ascii=False) + "\n")


def print_findings(findings: Sequence[Finding], stream: Any) -> None:
    """Findings as paragraphs."""
    from chassis_describe.reports import findings_text as report

    stream.write(report.findings_text(findings, colour=colour(stream), width=width(stream)))


def print_layout_error(error: LayoutError, options: argparse.Namespace) -> None:
    """What keeps a layout from being read; a command that would have written sets ``writes`` among its options."""
    from chassis_describe.reports import findings_text as report

    if getattr(options, "json", False):
        print_json({"robot": None, "findings": [report.finding_data(f) for f in error.findings], "summary": None})
    print_findings(error.findings, sys.stderr)
    writes = "; nothing was written" if getattr(options, "writes", False) else ""
    sys.stderr.write(f"chassis_describe: {report.count_text(error.findings)}{writes}\n")


def exit_code(findings: Sequence[Finding], strict: bool = False) -> int:
    """1 when one of the findings is an error (``strict``: or a warning), else 0."""
    from chassis_describe.findings import Severity

    bad = {Severity.ERROR, Severity.WARNING} if strict else {Severity.ERROR}
    return FINDINGS if any(f.severity in bad for f in findings) else OK
