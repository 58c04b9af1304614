"""Lines that fit on a terminal."""
from __future__ import annotations

import textwrap

#: Width of lines where no terminal says its own (common practice: 80 to 100).
COLUMNS = 100


def wrapped(line: str, width: int, indent: int) -> str:
    """A line on several lines of that width, those after the first indented. Words are not broken."""
    if len(line) <= width:
        return line
    lead = line[: len(line) - len(line.lstrip())]
    return textwrap.fill(line[len(lead):], max(width, indent + 40), initial_indent=lead, subsequent_indent=" " * indent,
                         break_long_words=False, break_on_hyphens=False)
