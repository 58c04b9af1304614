"""The language as JSON Schema for editors and as tables for the manual, both made from the reader's own table of keys."""
from __future__ import annotations

from typing import Any

from chassis_describe.layout.language.record import Record, records
from chassis_describe.layout.language.table_layout import CATALOGUE, LAYOUT

DIALECT = "https://json-schema.org/draft/2020-12/schema"


def schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a layout file. What joins several names (a part that exists) only the reader can say."""
    out = _document(LAYOUT)
    out["properties"]["layout"] = {**out["properties"]["layout"], "const": 1}
    return out


def catalogue_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of a part file."""
    return _document(CATALOGUE)


def _document(root: Record) -> dict[str, Any]:
    inner = [record for record in records(root) if record is not root]
    return {"$schema": DIALECT, **root.definition(), "$defs": {record.name: record.definition() for record in inner}}


def language_tables(level: int = 2) -> str:
    """The whole language as Markdown: one table for each mapping, with headings of that level."""
    return "\n\n".join(_table(record, level) for record in records(LAYOUT)) + "\n"


def key_tables(key: str, level: int = 2) -> str:
    """The rows of one key in every mapping that has it, with the rules that it is under; nothing of an unknown key."""
    having = [record for record in (*records(LAYOUT), CATALOGUE) if key in record.by_name]
    return "".join(f"{_table(record, level, key)}\n\n" for record in having).removesuffix("\n")


def keys() -> list[str]:
    """Every key of the language, each once."""
    return list(dict.fromkeys(field.name for record in records(LAYOUT) for field in record.fields))


def _table(record: Record, level: int, key: str | None = None) -> str:
    """The table of one mapping, or of one key of it."""
    rows = [f"{'#' * level} {record.thing[0].upper()}{record.thing[1:]}", ""]
    if record.doc:
        rows += [record.doc, ""]
    rows += ["| key | value | meaning |", "|---|---|---|"]
    for field in record.fields:
        if key in (None, field.name):
            need = " **(required)**" if field.required else ""
            default = f" Default: {field.fallback}." if field.fallback else ""
            rows.append(f"| `{field.name}`{need} | {_cell(field.type.words)} | {_cell(field.doc)}{default} |")
    rows += [f"\nExactly one of {_listed(group)}." for group in record.one_of if key is None or key in group]
    rows += [f"\nAt most one of {_listed(group)}." for group in record.not_both if key is None or key in group]
    return "\n".join(rows)


def _listed(group: tuple[str, ...]) -> str:
    return ", ".join(f"`{name}`" for name in group)


def _cell(text: str) -> str:
    return text.replace("|", "\\|")
