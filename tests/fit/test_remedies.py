"""What a finding says to do really helps: each position that the examples' hints give is tried, and the finding goes."""
from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest

from chassis_describe.compiler import assemble, check, read
from chassis_describe.errors import LayoutError
from chassis_describe.findings import Severity
from chassis_describe.layout.model import Layout

BAD = sorted((Path(__file__).parent / "bad").glob("*.yaml"))
_MOVE = re.compile(r"move (\w+) to `at: \[([-\d.]+), ([-\d.]+)\]`(?: with `(turn|points): (\w+|-?[\d.]+)`)?( without)?")
#: Codes whose hints name a position; others give lengths or advice, and are tested where they are made.
_CODES = {"bolt-off-hole", "hole-absent", "hole-taken", "bodies-overlap", "hole-near-edge", "head-over-edge",
          "clear-space-taken", "wheel-rubs"}
_LIFT = re.compile(r"`lift: ([\d.]+)`")


def moved(layout: Layout, name: str, at: tuple[float, float], key: str | None, value: str | None,
          without_offset: bool) -> Layout:
    placement = layout.placements[name]
    new = replace(placement, at=at, screws=None)
    if key == "turn":
        new = replace(new, turn=math.radians(float(value or 0)), points=None)
    elif key == "points":
        new = replace(new, points=value)  # type: ignore[arg-type]
    if without_offset:
        new = replace(new, offset=(0.0, 0.0, placement.offset[2]))
    return replace(layout, placements=dict(layout.placements) | {name: new})


def tried() -> list[tuple[Path, Layout, str, tuple[str, ...], Layout]]:
    out = []
    for path in BAD:
        if path.stem.split("--")[0] not in _CODES:
            continue
        try:
            layout = read(path)
            findings = check(assemble(layout))
        except LayoutError:
            continue
        for finding in (f for f in findings if f.code in _CODES):
            for match in _MOVE.finditer(finding.hint.replace("move it to", f"move {finding.of[0] if finding.of else ''} to")):
                name, x, y, key, value, without = match.groups()
                if name not in layout.placements:
                    continue
                new = moved(layout, name, (float(x), float(y)), key, value, bool(without))
                out.append((path, layout, finding.code, finding.of, new))
            match = _LIFT.search(finding.hint)
            if match:
                name = finding.of[0]
                new_one = replace(layout.placements[name], lift=float(match[1]) * 1e-3)
                out.append((path, layout, finding.code, finding.of,
                            replace(layout, placements=dict(layout.placements) | {name: new_one})))
    return out


TRIED = tried()


@pytest.mark.parametrize(("path", "layout", "code", "of", "new"), TRIED, ids=[f"{p.stem}-{c}" for p, _, c, _, _ in TRIED])
def test_the_hint_helps(path: Path, layout: Layout, code: str, of: tuple[str, ...], new: Layout) -> None:
    after = [f for f in check(assemble(new)) if f.severity is not Severity.NOTE]
    before = [f for f in check(assemble(layout)) if f.severity is not Severity.NOTE]
    assert not [f for f in after if f.code == code and f.of == of], "\n".join(map(str, after))
    assert len(after) < len(before), "\n".join(map(str, after))


def test_hints_were_found() -> None:
    assert len(TRIED) >= 9
    assert _CODES - {"wheel-rubs"} <= {code for _, _, code, _, _ in TRIED}
