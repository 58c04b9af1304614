"""The README and the chapters of the manual as something to run: blocks, files and commands in the order of the text.

How a document says what a test may run:

- A command is ``chassis_describe …`` in backticks, or a line of a ``sh`` or ``yaml`` block (behind ``- `` or ``run: ``).
  One with a word in capitals or ``…`` is grammar. It exits 0, unless its line ends in ``# exit code 1``.
- A block without a language (or ``text``) after an ``sh`` block is what its last command prints; a line ``…`` stands for any
  lines.
- A ``yaml`` block that begins ``# NAME.yaml`` is that file; with ``, over BASE.yaml`` behind it, an overlay. Layouts, alone or
  laid over their base, are clean: the check has nothing to say of them but notes.
- ``<!-- not run: REASON -->`` before a block or paragraph takes it out: for what needs a display, or runs until it is stopped.
"""
from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from chassis_describe.manual.chapters import CHAPTERS, FOLDER

TOP = Path(__file__).resolve().parents[1]
DOCUMENTS = {"README": TOP / "README.md", **{name: FOLDER / f"{name}.md" for name in CHAPTERS}}
_BLOCK = re.compile(r"^```(\w*)\n(.*?)^```$", re.DOTALL | re.MULTILINE)
_NAMED = re.compile(r"# (\S+\.yaml)(?:, over (\S+\.yaml))?\n")
_GRAMMAR = re.compile(r"\b[A-Z]{2,}\b|…")
_LINE = re.compile(r"(?:- )?(?:run: )?(?=chassis_describe )")


class Command(NamedTuple):
    """Words after ``chassis_describe``, the exit code, and what it prints (None: anything)."""

    words: list[str]
    code: int
    output: str | None


class File(NamedTuple):
    """A file that the text shows; ``base`` is what it is laid over."""

    name: str | None
    base: str | None
    text: str


def steps(text: str) -> Iterator[Command | File]:
    """What a document has its reader do, in order."""
    pieces = [p for p in _pieces(text) if not p[1].startswith("<!--") or "not run:" in p[1]]
    for k, (language, body) in enumerate(pieces):
        if k and pieces[k - 1][1].startswith("<!-- not run:"):
            continue
        if language is None:
            yield from _inline(body)
        elif language in ("sh", "yaml"):
            named = _NAMED.match(body)
            if language == "yaml":
                yield File(named[1] if named else None, named[2] if named else None, body)
            commands = list(_lines(body))
            after = pieces[k + 1] if k + 1 < len(pieces) else (None, "")
            if commands and language == "sh" and after[0] in ("", "text"):
                commands[-1] = commands[-1]._replace(output=after[1])
            yield from commands


def _pieces(text: str) -> Iterator[tuple[str | None, str]]:
    """Paragraphs (language None) and blocks of code."""
    start = 0
    for block in _BLOCK.finditer(text):
        yield from ((None, p.strip()) for p in text[start:block.start()].split("\n\n") if p.strip())
        yield block[1], block[2]
        start = block.end()
    yield from ((None, p.strip()) for p in text[start:].split("\n\n") if p.strip())


def _inline(paragraph: str) -> Iterator[Command]:
    for found in re.findall(r"`chassis_describe ([^`]+)`", paragraph):
        if not _GRAMMAR.search(found):
            yield Command(shlex.split(found), 0, None)


def _lines(block: str) -> Iterator[Command]:
    for line in block.splitlines():
        lead = _LINE.match(line.strip())
        if lead and not _GRAMMAR.search(re.sub(r"\$\w+|\s#.*", "", line)):
            code = re.search(r"# exit code (\d)", line)
            words = shlex.split(line.strip()[lead.end():], comments=True)[1:]
            for redirection in (">", ">>", "|"):
                if redirection in words:
                    words = words[: words.index(redirection)]
            yield Command(words, int(code[1]) if code else 0, None)
