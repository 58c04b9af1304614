"""Several files of one layout: overlays, part files, ``like`` across them; marks point into the right one."""
from __future__ import annotations

from pathlib import Path

import pytest

from chassis_describe.errors import LayoutError
from chassis_describe.layout.part_files import all_parts, read_parts
from chassis_describe.layout.read import read

FILES = {
    "robots/base.yaml": """
layout: 1
robot: mast_robot
catalogue: [../club/parts.yaml, more.yaml]
parts: {plate: {bodies: [{box: [40, 30, 4]}]}}
decks: {lower: {outline: {circle: 180}, thickness: 4, material: club wood}}
placements:
  mast: {part: mast, on: lower, at: [1, 0]}
  board: {part: plate, on: lower, at: [-2, 0], note: here}
""",
    "club/parts.yaml": """
materials: {club wood: 555}
parts:
  mast: {mass: 50, bodies: [{cylinder: [10, 200], at: [0, 0, 100]}, {mesh: meshes/mast.stl, scale: 0.001}], bolts: [[0, 0], [20, 0]]}
  plate: {bodies: [{box: [1, 1, 1]}]}
""",
    "robots/more.yaml": """
parts:
  tall_mast: {like: mast, mass: 80}
  mast: {bodies: [{box: [9, 9, 9]}]}
""",
    "robots/tall.yaml": """
placements:
  mast: {part: tall_mast, at: [2, 0]}
  board: ~
  flag: {part: plate, on: lower, at: [0, 3]}
""",
}


def opener(path: str) -> bytes:
    if path not in FILES:
        raise FileNotFoundError(path)
    return FILES[path].encode()


def test_part_files_in_order_and_paths_from_the_file_that_names_them() -> None:
    layout = read("robots/base.yaml", opener=opener)
    mast = layout.placements["mast"].part
    assert mast.mass == 0.05
    assert mast.mark.file == "club/parts.yaml"
    assert mast.meshes[0].file == "club/meshes/mast.stl"
    assert mast.meshes[0].scale == (0.001, 0.001, 0.001)
    assert layout.placements["board"].part.bodies[0].form.size == (0.04, 0.03, 0.004)  # type: ignore[union-attr]
    assert layout.decks["lower"].density == 555
    assert [f.path for f in layout.files] == ["robots/base.yaml", "club/parts.yaml", "robots/more.yaml"]
    assert layout.catalogue_paths == ("../club/parts.yaml", "more.yaml")
    assert layout.files[0].data == FILES["robots/base.yaml"].encode()


def test_overlay_changes_adds_and_takes_away() -> None:
    layout = read("robots/base.yaml", overlays=["robots/tall.yaml"], opener=opener)
    assert list(layout.placements) == ["mast", "flag"]
    mast = layout.placements["mast"]
    assert (mast.part.name, mast.part.mass, mast.at, mast.on) == ("tall_mast", 0.08, (2.0, 0.0), "lower")
    assert mast.part.bodies[0].form.size == (0.009, 0.009, 0.009)  # type: ignore[union-attr]  # like: its own file first
    assert (mast.marks["at"].file, mast.marks["on"].file) == ("robots/tall.yaml", "robots/base.yaml")
    assert [f.path for f in layout.files] == ["robots/base.yaml", "robots/tall.yaml", "club/parts.yaml", "robots/more.yaml"]


def test_all_parts_in_the_order_of_look_up() -> None:
    layout = read("robots/base.yaml", overlays=["robots/tall.yaml"], opener=opener)
    parts = all_parts(layout)
    assert list(parts)[:3] == ["plate", "mast", "tall_mast"]
    assert parts["mast"].mark.file == "club/parts.yaml"


def faults(overlay: str, **more: str) -> list[tuple[str, int, str, str]]:
    files = {**FILES, "over.yaml": overlay, **more}

    def own(path: str) -> bytes:
        if path not in files:
            raise FileNotFoundError(path)
        return files[path].encode()

    with pytest.raises(LayoutError) as raised:
        read("robots/base.yaml", overlays=["over.yaml"], opener=own)
    return [(f.where[0].file, f.where[0].line, f.code, f.message) for f in raised.value.findings]


@pytest.mark.parametrize(("overlay", "line", "code", "words"), [
    ("placements: {bord: ~}", 1, "unknown-name", "to be taken away from placements"),
    ("placements:\n  new: {part: plate, on: lower, note: ~}", 2, "unknown-name", "can't be taken away"),
    ("placements:\n  board: {part: plat}", 2, "unknown-name", "`plat` is not a part"),
    ("placements:\n  board: {screws: [[0, 0], [1, 0]]}", 2, "bad-value", "`screws` and `at` exclude"),
    ("decks:\n  lower: ~", 2, "", ""),
    ("decks: [1]", 1, "wrong-type", "a list of 1"),
    ("a: {b", 1, "yaml-syntax", ""),
    ("- 1", 1, "wrong-type", "a list"),
])
def test_faults_of_an_overlay_point_into_it(overlay: str, line: int, code: str, words: str) -> None:
    got = faults(overlay)
    if code:
        assert [g for g in got if g[:3] == ("over.yaml", line, code) and words in g[3]], got
    else:  # the placements that stood on it are left without
        assert {g[0] for g in got} == {"robots/base.yaml"}


def test_the_hint_of_a_key_in_both_files_has_both_marks() -> None:
    files = {**FILES, "over.yaml": "placements: {board: {screws: [[0, 0], [1, 0]]}}"}
    with pytest.raises(LayoutError) as raised:
        read("robots/base.yaml", overlays=["over.yaml"], opener=lambda p: files[p].encode())
    assert [m.file for m in raised.value.findings[0].where] == ["over.yaml", "robots/base.yaml"]


def test_a_fault_in_a_part_file_is_told_with_its_own_place_next_to_the_layouts() -> None:
    files = {**FILES, "robots/more.yaml": "parts:\n  tall_mast: {like: mast, mas: 80}\n",
             "robots/base.yaml": FILES["robots/base.yaml"] + "  nail: {part: nail, on: lower}\n"}
    with pytest.raises(LayoutError) as raised:
        read("robots/base.yaml", opener=lambda p: files[p].encode())
    got = [(f.where[0].file, f.code) for f in raised.value.findings]
    assert got == [("robots/base.yaml", "unknown-name"), ("robots/more.yaml", "unknown-key")]


def test_a_faulty_file_in_another_place_is_part_of_the_message() -> None:
    """The seat that does not exist is asked for in the layout, and would have to be in the part file: two marks."""
    files = {**FILES, "robots/base.yaml": FILES["robots/base.yaml"] + "  flag: {part: plate, on: mast.top}\n"}
    with pytest.raises(LayoutError) as raised:
        read("robots/base.yaml", opener=lambda p: files[p].encode())
    assert [m.file for m in raised.value.findings[0].where] == ["robots/base.yaml", "club/parts.yaml"]


def test_like_its_own_name_changes_the_one_further_down() -> None:
    text = FILES["robots/base.yaml"].replace("parts: {", "parts: {mast: {like: mast, mass: 70}, ")
    mast = read("robots/base.yaml", text=text, opener=opener).placements["mast"].part
    assert (mast.mass, len(mast.bolts)) == (0.07, 2)
    assert mast.marks["mass"].file == "robots/base.yaml"
    assert mast.marks["bolts"].file == "club/parts.yaml"


def test_like_takes_one_of_two_that_exclude_one_another() -> None:
    parts = read_parts("parts.yaml", text="""
parts:
  a: {bodies: [{box: [9, 9, 9]}], bolts: [[0, 0]], bolt_hole: 3.4}
  b: {like: a, tapped: 5}
""")
    assert [(p.bolt_hole, p.tapped) for p in parts] == [(0.0034, None), (None, 0.005)]


def test_a_part_file_stands_alone(tmp_path: Path) -> None:
    path = tmp_path / "club.yaml"
    path.write_text(FILES["club/parts.yaml"], encoding="utf-8")
    assert [p.name for p in read_parts(path)] == ["mast", "plate"]
    with pytest.raises(LayoutError) as raised:
        read_parts("club.yaml", text="parts:\n  a: {mass: 4 m, bodies: [{box: [9, 9, 9]}]}\n  b: {wheel: {}}\nrobot: x\n")
    assert sorted((f.where[0].line, f.code) for f in raised.value.findings) == [
        (2, "bad-number"), (3, "missing-key"), (3, "missing-key"), (4, "unknown-key")]


def test_one_file_named_twice_is_refused() -> None:
    text = FILES["robots/base.yaml"].replace("more.yaml]", "more.yaml, ./more.yaml]")
    with pytest.raises(LayoutError, match="read already"):
        read("robots/base.yaml", text=text, opener=opener)
