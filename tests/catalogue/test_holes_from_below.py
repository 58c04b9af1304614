"""The plan of a plate that lies turned over: the plan from above in a mirror, front still up."""
from __future__ import annotations

from pathlib import Path

from chassis_describe.compiler import assemble, read
from chassis_describe.reports.hole_plan import as_text

SCOUT = Path(__file__).parents[2] / "config" / "draught_scout.yaml"


def rows(text: str) -> list[tuple[str, list[str]]]:
    """Row label and cells, front first."""
    lines = [line.split() for line in text.splitlines()]
    return [(line[1], line[2:]) for line in lines if len(line) > 3 and line[0].isdigit() and line[1].lstrip("-").isdigit()]


def test_from_below_it_is_the_mirror_image() -> None:
    robot = assemble(read(SCOUT))
    above, below = rows(as_text(robot, "lower")), rows(as_text(robot, "lower", under=True))
    assert len(above) == 11
    assert [(i, cells[::-1]) for i, cells in above] == below
    text = as_text(robot, "lower", under=True)
    assert "under side, seen from below" in text
    heads = [line.split()[1:] for line in text.splitlines() if line.split()[:1] == ["j"]]
    assert heads[:1] == [["-3", "-2", "-1", "0", "1", "2", "3"]]
