"""A mesh in millimetres written without scale is a thousand times too large. Judge: trimesh writes the files."""
from __future__ import annotations

from pathlib import Path

import pytest

import chassis_describe as cd

trimesh = pytest.importorskip("trimesh")
TEXT = """layout: 1
robot: trial
parts:
  case: {mass: 100, bodies: [{box: [70, 50, 30], at: [0, 0, 15]}, {mesh: case.stl%s}], bolts: [[-20, 0], [20, 0]]}
decks:
  lower: {outline: {rectangle: [240, 160]}, thickness: 4, material: birch plywood}
placements:
  case: {part: case, on: lower, at: [0, 0]}
"""


@pytest.mark.parametrize("form", ["stl", "stl_ascii"])
@pytest.mark.parametrize(("unit", "scale", "hint"), [
    (1e3, "", "`scale: 0.001`"), (1e3, ", scale: 0.001", None), (1.0, "", None), (1 / 0.0254, "", "`scale: 0.0254`"),
    (1.0, ", scale: 0.001", "`scale: 1`"), (1e3, ", scale: [0.001, 0.001, 0.001]", None)])
def test_units_of_meshes(unit: float, scale: str, hint: str | None, form: str, tmp_path: Path) -> None:
    box = trimesh.creation.box(extents=[0.07 * unit, 0.05 * unit, 0.03 * unit])
    box.export(tmp_path / "case.stl", file_type=form)
    layout = tmp_path / "trial.yaml"
    layout.write_text(TEXT % scale)
    found = [f for f in cd.check(cd.assemble(cd.read(layout))) if f.code == "implausible"]
    assert [hint in f.hint for f in found if hint] == ([True] if hint else [])
    assert len(found) == (1 if hint else 0)
    assert all(f.where[0].line == 4 for f in found)
