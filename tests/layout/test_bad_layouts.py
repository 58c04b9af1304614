"""One bad file for each rule of the reader, in ``bad/``: the expected code stands on the offending line.

``# <- code | part of the message or hint``, several with ``; `` between them. A file gives exactly the findings that
it announces, each at its line: one run reports all.
"""
from __future__ import annotations

import re
from pathlib import Path

import pytest

from chassis_describe.errors import LayoutError
from chassis_describe.findings import CODES, Finding, Severity
from chassis_describe.layout.read import read

BAD = Path(__file__).parent / "bad"
FILES = sorted(BAD.glob("*.yaml"))
EXPECTED = re.compile(r"# <- (.*)$")


def expected(text: str) -> list[tuple[int, str, str]]:
    """Line, code and words of each announced finding."""
    out = []
    for number, line in enumerate(text.splitlines(), start=1):
        found = EXPECTED.search(line)
        for item in found.group(1).split("; ") if found else []:
            code, _, words = item.partition(" | ")
            if code in CODES:
                out.append((number, code, words))
            else:  # a semicolon inside the words
                number_, code_, words_ = out.pop()
                out.append((number_, code_, f"{words_}; {item}"))
    return out


def faults(path: Path) -> tuple[Finding, ...]:
    with pytest.raises(LayoutError) as raised:
        read(path)
    return raised.value.findings


@pytest.mark.parametrize("path", FILES, ids=[p.stem for p in FILES])
def test_announced_findings_and_no_others(path: Path) -> None:
    got = list(faults(path))
    wanted = expected(path.read_text(encoding="utf-8"))
    listing = "\n".join(map(str, got))
    assert sorted((f.where[0].line, f.code) for f in got) == sorted((n, c) for n, c, _ in wanted), listing
    for line, code, words in wanted:
        texts = [f"{f.message} ({f.hint})" for f in got if f.where[0].line == line and f.code == code]
        assert any(words in text for text in texts), f"line {line}: {words!r} not in {texts}"


@pytest.mark.parametrize("path", FILES, ids=[p.stem for p in FILES])
def test_findings_are_errors_in_file_order_with_a_place(path: Path) -> None:
    got = faults(path)
    places = [(f.where[0].line, f.where[0].column) for f in got]
    assert places == sorted(places)
    lines = path.read_text(encoding="utf-8").splitlines()
    for item in got:
        mark = item.where[0]
        assert item.severity is Severity.ERROR
        assert mark.file == str(path)
        assert 1 <= mark.line <= len(lines) + 1
        assert 1 <= mark.column <= len(lines[min(mark.line, len(lines)) - 1]) + 1
        assert item.message[0] != " " and "\n" not in item.message + item.hint
        assert item.hint or item.code in ("wrong-type", "bad-number", "bad-value"), item  # a way out


def test_every_code_of_the_reader_has_a_bad_file() -> None:
    from chassis_describe.layout.build.settings import READER_CODES

    shown = {code for path in FILES for _, code, _ in expected(path.read_text(encoding="utf-8"))}
    assert {*READER_CODES, "implausible", "frame-clash", "inertia-impossible"} <= shown
