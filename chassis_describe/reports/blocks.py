"""A page of text as values, and as Markdown or HTML: headings, paragraphs, steps to tick off, tables, figures."""
from __future__ import annotations

import html
from collections.abc import Iterable, Mapping, Sequence
from typing import Literal, NamedTuple

from chassis_describe.errors import never


class SheetBlock(NamedTuple):
    """``step``: a box to tick with its further ``lines``; ``table``: ``rows``, the first is the head; ``figure``: name ``text``."""

    kind: Literal["title", "heading", "text", "caution", "step", "table", "figure"]
    text: str = ""
    lines: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()


def as_markdown(blocks: Iterable[SheetBlock], mark: str, figures: str) -> str:
    """``figures``: the folder of the figures, from the page. Users' words can't become marks."""
    out = [f"<!-- {mark} -->"]
    for block in blocks:
        text = _md(block.text)
        if block.kind == "title":
            out.append(f"# {text}")
        elif block.kind == "heading":
            out.append(f"## {text}")
        elif block.kind == "text":
            out.append(text)
        elif block.kind == "caution":
            out.append(f"**{text}**")
        elif block.kind == "step":
            out.append("\n".join([f"- [ ] {text}", *(f"  - {_md(line)}" for line in block.lines)]))
        elif block.kind == "figure":
            out.append(f"![{text}]({figures}/{block.text}.svg)")
        elif block.kind == "table":
            head, *rows = block.rows
            out.append("\n".join([_row(head), "|" + "---|" * len(head), *map(_row, rows)]))
        else:
            raise never(block.kind)
    return "\n\n".join(out) + "\n"


def _row(cells: Sequence[str]) -> str:
    return "| " + " | ".join(_md(c).replace("|", "\\|") for c in cells) + " |"


def _md(text: str) -> str:
    for sign in "\\`*_<>#":
        text = text.replace(sign, f"\\{sign}")
    return text.replace("\n", " ")


_STYLE = ("body{font:16px/1.45 Helvetica,Arial,sans-serif;color:#20262b;max-width:50rem;margin:2rem auto;padding:0 1rem}"
          "h1,h2{line-height:1.2}table{border-collapse:collapse;margin:1rem 0}td,th{border:1px solid #a9b1b7;padding:.25rem .6rem;"
          "text-align:left}svg{max-width:100%;height:auto;display:block;margin:.6rem 0 1.6rem}"
          ".caution{border-left:4px solid #a8741a;padding-left:.8rem}.step{margin-top:1.2rem;font-weight:bold}"
          "ul{margin:.3rem 0}@media print{.step,svg{break-inside:avoid}}")


def as_html(blocks: Iterable[SheetBlock], mark: str, figures: Mapping[str, bytes]) -> str:
    """One page with its figures inside it; nothing is fetched."""
    blocks = list(blocks)
    title = next((b.text for b in blocks if b.kind == "title"), "")
    out = [f"<!DOCTYPE html>\n<!-- {mark} -->\n<html lang=\"en\"><head><meta charset=\"utf-8\"><title>{html.escape(title)}</title>"
           f"<style>{_STYLE}</style></head><body>"]
    for block in blocks:
        text = html.escape(block.text)
        if block.kind == "title":
            out.append(f"<h1>{text}</h1>")
        elif block.kind == "heading":
            out.append(f"<h2>{text}</h2>")
        elif block.kind == "text":
            out.append(f"<p>{text}</p>")
        elif block.kind == "caution":
            out.append(f"<p class=\"caution\">{text}</p>")
        elif block.kind == "step":
            items = "".join(f"<li>{html.escape(line)}</li>" for line in block.lines)
            out.append(f"<p class=\"step\"><label><input type=\"checkbox\"> {text}</label></p>")
            out += [f"<ul>{items}</ul>"] if items else []
        elif block.kind == "figure":
            out.append(figures[block.text].decode("utf-8").split("?>", 1)[1])
        elif block.kind == "table":
            head, *rows = block.rows
            cells = "".join(f"<th>{html.escape(c)}</th>" for c in head)
            body = "".join("<tr>" + "".join(f"<td>{html.escape(c)}</td>" for c in row) + "</tr>" for row in rows)
            out.append(f"<table><tr>{cells}</tr>{body}</table>")
        else:
            raise never(block.kind)
    return "\n".join(out) + "\n</body></html>\n"
