"""The tables of the README, from the tables that the program itself runs by: ``python3 -m chassis_describe.manual``.

Rewrites what stands between the marks of ``README.md`` in the current folder.
"""
from __future__ import annotations

import re
import sys
from pathlib import Path


def findings_table() -> str:
    """Every code that a check can give, with its usual severity, its limit and its sentence."""
    from chassis_describe.findings import CODES

    rows = ["| code | usual severity | says |", "|---|---|---|"]
    rows += [f"| `{c.name}` | {c.severity.value} | {c.says}{f' [`{c.limit}`]' if c.limit else ''} |" for c in CODES.values()]
    return "\n".join(rows) + "\n"


def filled(readme: str) -> str:
    """The README with its generated passages made anew. Raises ValueError where a mark is missing."""
    from chassis_describe.layout.language.schema import language_tables

    for name, end, text in (("language", "language ends", language_tables()), ("findings", "findings end", findings_table())):
        pattern = rf"(<!-- {name}: [^\n]*-->\n).*?(<!-- {end} -->)"
        # A backslash in the text is a backslash, not a reference to a group.
        passage = text.strip().replace("\\", r"\\")
        readme, count = re.subn(pattern, rf"\1\n{passage}\n\n\2", readme, flags=re.DOTALL)
        if count != 1:
            raise ValueError(f"README.md needs its marks '{name}' once, has them {count} times")
    return readme


def main() -> int:
    """Write the README of the current folder anew where it differs."""
    path = Path("README.md")
    old = path.read_text(encoding="utf-8")
    new = filled(old)
    if new != old:
        path.write_text(new, encoding="utf-8", newline="\n")
    sys.stdout.write("README.md is up to date\n" if new == old else "README.md rewritten\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
