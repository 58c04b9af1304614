"""The tables in the chapters that are made from the tables that the program itself runs by."""
from __future__ import annotations

import re

from chassis_describe.findings import CODES
from chassis_describe.layout.language.schema import language_tables


def findings_table() -> str:
    """Every code that a check can give, with its usual severity, its limit and its sentence."""
    rows = ["| code | usual severity | says |", "|---|---|---|"]
    rows += [f"| `{c.name}` | {c.severity.value} | {c.says}{f' [`{c.limit}`]' if c.limit else ''} |" for c in CODES.values()]
    return "\n".join(rows) + "\n"


#: Chapter → what writes the passage between its marks ``<!-- NAME: … -->`` and ``<!-- NAME ends -->``.
TABLES = {"language": language_tables, "findings": findings_table}


def filled(name: str, text: str) -> str:
    """A chapter with its generated passage made anew. Raises ValueError where a mark is missing."""
    if name not in TABLES:
        return text
    # A backslash in the text is a backslash, not a reference to a group.
    passage = TABLES[name]().strip().replace("\\", r"\\")
    text, count = re.subn(rf"(<!-- {name}: [^\n]*-->\n).*?(<!-- {name} ends -->)", rf"\1\n{passage}\n\n\2", text, flags=re.DOTALL)
    if count != 1:
        raise ValueError(f"{name}.md needs its marks '{name}' once, has them {count} times")
    return text
