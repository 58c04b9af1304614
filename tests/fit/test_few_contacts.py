"""`few-contacts` says "in one line" of contacts that are, and of no others. By the balance of a rigid body: three feet in one line,
or two, carry nothing across; robots are invented."""
from __future__ import annotations

import pytest

import chassis_describe as cd

ROBOT = """layout: 1
robot: feet
parts:
  foot: {mass: 30, caster: {ball: 20, at: [0, 0, 30]}}
decks:
  plate: {outline: {rectangle: [300, 300]}, thickness: 4, material: birch plywood}
placements:
"""


@pytest.mark.parametrize(("feet", "said"), [
    (((0, 0), (0, 4)), "2 ground contacts: "),
    (((0, -4), (0, 0), (0, 4)), "3 ground contacts, all in one line: "),
    (((-2, -4), (0, 0), (2, 4)), "3 ground contacts, all in one line: "),
    (((0, -4), (1, 0), (0, 4)), None),
])
def test_in_one_line(feet: tuple[tuple[int, int], ...], said: str | None) -> None:
    rows = "".join(f"  foot_{k}: {{part: foot, on: plate, face: under, at: [{i}, {j}], fixing: adhesive}}\n" for k, (i, j) in enumerate(feet))
    found = [f for f in cd.check(cd.assemble(cd.read("feet.yaml", text=ROBOT + rows))) if f.code == "few-contacts"]
    if said is None:
        assert not found
    else:
        assert said in found[0].message
