"""The chapters, in the order in which they are read. A chapter is one Markdown file of this folder and one name below.

Its first line is its title, its first paragraph the sentence that the list of chapters prints.
"""
from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

#: Every chapter by the name of its file.
CHAPTERS = (
    "measuring",
    "pictures",
    "language",
    "moving",
    "described",
    "findings",
    "changes",
    "places",
    "parts",
    "drives",
    "stack",
    "simulate",
    "live",
)
FOLDER = Path(__file__).resolve().parent


class Chapter(NamedTuple):
    """One chapter as it is shown: Markdown without the marks that are for this program alone."""

    name: str
    title: str
    about: str
    text: str


def chapter(name: str) -> Chapter:
    """One chapter of :data:`CHAPTERS`."""
    text = re.sub(r"<!--.*?-->\n*", "", (FOLDER / f"{name}.md").read_text(encoding="utf-8"), flags=re.DOTALL)
    title, about = text.split("\n\n", 2)[:2]
    return Chapter(name, title.removeprefix("# "), " ".join(about.split()), text)


def passages(word: str) -> list[tuple[Chapter, str, str]]:
    """Where the chapters speak of `` `word` ``: chapter, heading, paragraph or item. Rows of tables are not among them."""
    found: list[tuple[Chapter, str, str]] = []
    for one in map(chapter, CHAPTERS):
        heading = one.title
        for block in re.split(r"\n\n|\n(?=- |\d+\. )", re.sub(r"^```.*?^```$", "", one.text, flags=re.DOTALL | re.MULTILINE)):
            if block.startswith("#"):
                heading = block.lstrip("# ").split("\n")[0]
            elif f"`{word}`" in block and not block.startswith("|"):
                found.append((one, heading, block.strip()))
    return found
