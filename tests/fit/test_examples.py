"""One bad example for each code, with the code on the line that the finding has to point at, and a good neighbour.

``bad/<code>.yaml`` (or ``bad/<code>--variant.yaml``) carries ``# <- code`` on each offending line, several separated by
commas; the errors and warnings of the check must be exactly those, the notes at least those that are written.
``good/`` has a file of the same name just inside the limit: no errors, no warnings, and nothing of that code at all.
The scenes are invented.
"""
from __future__ import annotations

import re
from pathlib import Path

import pytest

from chassis_describe.compiler import assemble, check, read
from chassis_describe.errors import LayoutError, UsageError
from chassis_describe.findings import CODES, Finding, Severity

HERE = Path(__file__).parent
BAD = sorted((HERE / "bad").glob("*.yaml"))
GOOD = sorted((HERE / "good").glob("*.yaml"))
_EXPECTED = re.compile(r"#\s*<-\s*([a-z-]+(?:\s*,\s*[a-z-]+)*)")


def findings_of(path: Path) -> list[Finding]:
    try:
        return check(assemble(read(path)))
    except LayoutError as error:
        return list(error.findings)
    except UsageError as error:
        if "not installed" in str(error):
            pytest.skip(str(error))
        raise


def expected_in(path: Path) -> set[tuple[int, str]]:
    found: set[tuple[int, str]] = set()
    for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
        match = _EXPECTED.search(line)
        if match:
            found |= {(number, code.strip()) for code in match[1].split(",")}
    return found


@pytest.mark.every_case  # each is another check
@pytest.mark.parametrize("path", BAD, ids=lambda p: p.stem)
def test_bad_example(path: Path) -> None:
    expected = expected_in(path)
    assert path.stem.split("--")[0] in {code for _, code in expected}
    findings = findings_of(path)
    got = {(f.where[0].line, f.code): f for f in findings}
    loud = {place for place, f in got.items() if f.severity is not Severity.NOTE}
    assert expected <= set(got), "\n".join(map(str, findings))
    assert loud <= expected, "\n".join(map(str, findings))


@pytest.mark.every_case
@pytest.mark.parametrize("path", GOOD, ids=lambda p: p.stem)
def test_good_neighbour(path: Path) -> None:
    findings = findings_of(path)
    code = path.stem.split("--")[0]
    wrong = [f for f in findings if (f.severity is not Severity.NOTE or f.code == code) and f.accepted is None]
    assert not wrong, "\n".join(map(str, wrong))


def test_examples_come_in_pairs_and_are_of_known_codes() -> None:
    assert [p.name for p in BAD] == [p.name for p in GOOD]
    assert {p.stem.split("--")[0] for p in BAD} <= set(CODES)


def test_every_code_of_the_check_has_an_example() -> None:
    """The reader's own codes are tested with the reader."""
    names = list(CODES)
    of_the_check = set(names[names.index("implausible"):])
    assert of_the_check <= {p.stem.split("--")[0] for p in BAD}
