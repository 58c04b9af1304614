"""Part files judged by themselves: slips that others made, keys that say where an entry comes from. Parts are invented."""
from __future__ import annotations

import io
import json
from pathlib import Path

import pytest

from chassis_describe.cli.main import main
from chassis_describe.fit.part_alone import judged_alone
from chassis_describe.layout.catalogue import builtin_names, builtin_part
from chassis_describe.layout.part_files import read_parts

SOUND = "mass: 100, bodies: [{box: [40, 40, 20], at: [0, 0, 10]}], bolts: [[-10, 0], [10, 0]]"
LIDAR = "sensors: {eye: {kind: lidar, at: [0, 0, AT], range: [NEAR, 8000]}}"


def parts(keys: str) -> tuple[str, ...]:
    found = [f for part in read_parts("p.yaml", text=f"parts:\n  thing: {{{keys}}}\n") for f in judged_alone(part)]
    return tuple(f"{f.severity.value} {f.code}: {f.message}" for f in found)


@pytest.mark.parametrize(("keys", "says"), [
    (SOUND, ""),
    (SOUND.replace("at: [0, 0, 10]", "at: [0, 0, 7]"), ""),  # 3 mm: pins and solder
    (SOUND.replace("at: [0, 0, 10]", "at: [0, 0, 0]"), "warning implausible: thing reaches 10 mm below its base plane: is `at` its middle?"),
    (SOUND.replace("mass: 100", "mass: 1"), "warning implausible: thing weighs 1 g in a box of 40 × 40 × 20 mm: 31.2 kg/m³"),
    (SOUND.replace("[10, 0]]", "[60, 0]]"), "warning implausible: bolt 2 of thing, at [60, 0] mm, is 40 mm outside its bodies"),
    (SOUND.replace("[10, 0]]", "[34, 0]]"), ""),
    (SOUND.replace("mass: 100, ", ""), "error mass-missing"),
    (f"{SOUND}, {LIDAR.replace('AT', '15').replace('NEAR', '10')}", "warning range-inside-case"),
    (f"{SOUND}, {LIDAR.replace('AT', '15').replace('NEAR', '30')}", ""),
    (f"{SOUND}, sensors: {{eye: {{kind: camera, at: [5, 0, 10], fov: 60}}}}", "warning origin-inside-body"),
])
def test_slips(keys: str, says: str) -> None:
    """1 g in 32 cm³ are 31.25 kg/m³; the far corner of 40 x 40 mm is 28.3 mm from the middle."""
    found = parts(keys)
    assert len(found) == bool(says), found
    assert not says or found[0].startswith(says)


def test_the_catalogue_has_none() -> None:
    for name in builtin_names():
        part = builtin_part(name)
        assert part is not None
        assert not judged_alone(part), name


def test_provenance_is_kept_and_shown(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "mine.yaml"
    path.write_text(f"parts:\n  thing: {{{SOUND}, license: CC0-1.0, source: data sheet, revision: B, measured_by: the club}}\n"
                    f"  again: {{like: thing, revision: C}}\n")
    assert main(["parts", str(path), "thing"]) == 0
    said = capsys.readouterr().out
    assert [line.split(None, 1)[1] for line in said.splitlines() if line.strip().startswith(("license", "revision"))] == ["CC0-1.0", "B"]
    assert "measured by the club" in " ".join(said.split())
    assert main(["parts", str(path), "--json"]) == 0
    found = {p["name"]: p for p in json.loads(capsys.readouterr().out)}
    assert (found["again"]["revision"], found["again"]["license"], found["again"]["findings"]) == ("C", "CC0-1.0", [])


def test_a_part_file_with_a_slip_says_so_with_its_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "mine.yaml"
    path.write_text(f"parts:\n  good: {{{SOUND}}}\n  low: {{{SOUND.replace('at: [0, 0, 10]', 'at: [0, 0, 0]')}}}\n"
                    f"  light: {{{SOUND.replace('mass: 100, ', '')}}}\n")
    assert main(["parts", str(path)]) == 1
    said = capsys.readouterr().out
    assert f"{path}:3:" in said
    assert "is `at` its middle?" in said
    assert main(["parts", str(path), "low"]) == 0  # a warning
    capsys.readouterr()
    assert main(["parts", str(path), "--json"]) == 1
    assert [len(p["findings"]) for p in json.loads(capsys.readouterr().out)] == [0, 1, 1]


@pytest.mark.parametrize(("apart", "screw", "said"), [(5.4, "screw: M3", True), (5.5, "screw: M3", False), (6.9, "bolt_hole: 4.5", True),
                                                      (7.0, "bolt_hole: 4.5", False), (2.0, "tapped: 5", False)])
def test_heads_of_screws_that_meet(tmp_path: Path, apart: float, screw: str, said: bool) -> None:
    """ISO 4762: the head of an M3 is 5.5 mm wide, of an M4 7 mm; 4.5 mm is the medium clearance hole of an M4 (ISO 273). Where
    no screw is known, nothing is said."""
    file = tmp_path / "close.yaml"
    file.write_text(f"parts:\n  close: {{mass: 20, {screw}, bodies: [{{box: [30, 30, 10], at: [0, 0, 5]}}], bolts: [[0, 0], [{apart}, 0]]}}\n")
    (part,) = read_parts(str(file))
    found = judged_alone(part)
    assert [f.message.split(",")[0] for f in found] == ([f"bolts 1 and 2 of close are {apart:g} mm apart"] if said else [])


def test_findings_call_a_part_by_its_own_name(tmp_path: Path) -> None:
    file = tmp_path / "heavy.yaml"
    file.write_text("parts:\n  heavy: {mass: 20 kg, bodies: [{box: [30, 30, 10], at: [0, 0, 5]}]}\n"
                    "  base: {mass: 20 kg, bodies: [{box: [30, 30, 10], at: [0, 0, 5]}]}\n")
    heavy, base = (judged_alone(p)[0].message for p in read_parts(str(file)))
    assert heavy.startswith("heavy weighs 20000 g")
    assert base.startswith("base (alone) weighs")  # `base_link` is the robot's own frame


def test_parts_of_a_layout_and_of_what_is_laid_over_it(tmp_path: Path, capsys: pytest.CaptureFixture[str],
                                                       monkeypatch: pytest.MonkeyPatch) -> None:
    """`parts --layout` takes a layout as every other command does: from standard input, and with overlays."""
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(b"{layout: 1, robot: one, decks: {low: "
                                                                 b"{outline: {circle: 200}, thickness: 4, mass: 100}}}")))
    over = tmp_path / "over.yaml"
    over.write_text("parts: {bowl: {mass: 120, bodies: [{cylinder: [90, 40], at: [0, 0, 20]}], bolts: [[-20, 0], [20, 0]]}}")
    assert main(["parts", "bowl", "--layout", "-", "--with", str(over)]) == 0
    assert "120 g, centre at [0, 0, 20]" in capsys.readouterr().out
    assert main(["parts", "bowl", "--with", str(over)]) == 2
    assert "name it with --layout" in capsys.readouterr().err
    assert main(["parts", "lidar", "--draw", str(tmp_path / "card.svg")]) == 2
    assert "name one: lidar_16_layers" in capsys.readouterr().err
