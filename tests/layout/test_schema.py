"""The JSON Schema against good and bad files, judged by the jsonschema package (JSON Schema 2020-12).

Editors read a file by YAML 1.2's core schema (10.3.2), so the files are loaded that way here: `on` is text, `1e-3` a
number. What joins several names is the reader's business alone; everything else the schema must refuse as well.
"""
from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml

from chassis_describe.layout.catalogue import FOLDER
from chassis_describe.layout.language.record import records
from chassis_describe.layout.language.schema import catalogue_schema, language_tables, schema
from chassis_describe.layout.language.table_layout import CATALOGUE, LAYOUT

ROOT = Path(__file__).resolve().parents[2]
BAD = Path(__file__).parent / "bad"


class Core(yaml.SafeLoader):
    """YAML 1.2 core schema: null, booleans and numbers by its regular expressions, all else text."""


Core.yaml_implicit_resolvers = {}
for tag, pattern, first in (
    ("null", r"~|null|Null|NULL|", ["~", "n", "N", ""]), ("bool", r"true|True|TRUE|false|False|FALSE", list("tTfF")),
    ("int", r"[-+]?[0-9]+|0o[0-7]+|0x[0-9a-fA-F]+", list("-+0123456789")),
    ("float", r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?|[-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)",
     list("-+.0123456789")),
    ("merge", r"<<", ["<"]),
):
    Core.add_implicit_resolver(f"tag:yaml.org,2002:{tag}", re.compile(rf"^(?:{pattern})$"), first)
Core.add_constructor("tag:yaml.org,2002:int", lambda loader, node: int(node.value, 0) if node.value[:2] in ("0x", "0o")
                     else int(node.value))
Core.add_constructor("tag:yaml.org,2002:float", lambda loader, node: float(node.value.replace(".inf", "inf").replace(
    ".nan", "nan")))


def loaded(text: str) -> Any:
    return yaml.load(text, Loader=Core)


def faults(document: Any, which: dict[str, Any]) -> list[str]:
    return [f"{'/'.join(map(str, e.absolute_path))}: {e.message[:200]}"
            for e in jsonschema.Draft202012Validator(which).iter_errors(document)]


def test_the_schemas_are_schemas() -> None:
    for made in (schema(), catalogue_schema()):
        jsonschema.Draft202012Validator.check_schema(made)
        assert made["$schema"] == "https://json-schema.org/draft/2020-12/schema"


@pytest.mark.parametrize("path", sorted((ROOT / "config").glob("*.yaml")), ids=lambda p: p.stem)
def test_demos_pass(path: Path) -> None:
    document = loaded(path.read_text(encoding="utf-8"))
    if isinstance(document, dict) and "layout" in document:
        assert faults(document, schema()) == []


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.yaml")), ids=lambda p: p.stem)
def test_catalogue_files_pass(path: Path) -> None:
    assert faults(loaded(path.read_text(encoding="utf-8")), catalogue_schema()) == []


def test_the_long_robot_of_the_reader_passes() -> None:
    source = (Path(__file__).parent / "test_read_layouts.py").read_text(encoding="utf-8")
    text = re.search(r'ROBOT = """(.*?)"""', source, re.DOTALL)
    assert text is not None
    assert faults(loaded(text.group(1)), schema()) == []


#: Codes of the reader that concern one value in its place, which a schema can see.
IN_PLACE = {"unknown-key", "missing-key", "wrong-type", "bad-number"}
#: Bad files whose only faults of those codes depend on other keys, or on what YAML itself makes of the text.
NOT_FOR_A_SCHEMA = {
    "deck_without_standoffs", "merge_of_no_mapping", "part_bodies", "part_sensors", "part_seats_and_shafts"}


def seen_by_a_schema(path: Path) -> bool:
    codes = set(re.findall(r"[a-z]+(?:-[a-z]+)+(?= \|)", path.read_text(encoding="utf-8")))
    return bool(codes & IN_PLACE) and path.stem not in NOT_FOR_A_SCHEMA and "yaml-syntax" not in codes


@pytest.mark.parametrize("path", [p for p in sorted(BAD.glob("*.yaml")) if seen_by_a_schema(p)], ids=lambda p: p.stem)
def test_bad_files_fail_where_the_fault_is_in_one_place(path: Path) -> None:
    assert faults(loaded(path.read_text(encoding="utf-8")), schema())


@pytest.mark.parametrize(("value", "good"), [
    (4, True), (0.4, True), ("4 mm", True), ("0.16 in", True), ("4mm", True), ("0.004 m", True), ("4", False), (True, False),
    ("4 kg", False), ("4 MM", False), ("mm", False), (None, False), ([4], False), (0, False), (-1, False), (51, False),
    ("04 mm", False)])
def test_number_or_text_with_unit(value: Any, good: bool) -> None:
    document = {"layout": 1, "robot": "r", "decks": {"a": {"outline": {"circle": 100}, "thickness": value}}}
    assert (faults(document, schema()) == []) is good


@pytest.mark.parametrize(("part", "good"), [
    ({"wheel": {"diameter": 80, "width": 20}}, True), ({"wheel": {"diameter": 80}}, False),
    ({"bodies": [{"box": [1, 2, 3], "sphere": 4}]}, False), ({"bodies": [{}]}, False),
    ({"bodies": [{"box": [1, 2, 3], "rpy": [0, 0, 90]}]}, True),
    ({"bodies": [{"box": [1, 2, 3], "rpy": [0, 0, 90], "axes": {"x": "up", "z": "back"}}]}, False),
    ({"motor": {"torque": "8 kgf·cm", "speed": "12 rad/s"}}, True), ({"motor": {"torque": "8 kg cm", "speed": 5}}, True),
    ({"inertia": {"ixx": "12 g·cm^2", "iyy": 1e-4, "izz": "3 kg mm²"}}, True),
    ({"sensors": {"s": {"kind": "radar"}}}, False), ({"sensors": {"S": {"kind": "imu"}}}, False)])
def test_parts_in_the_schema(part: dict[str, Any], good: bool) -> None:
    assert (faults({"parts": {"p": part}}, catalogue_schema()) == []) is good


def test_what_an_editor_shows_is_complete() -> None:
    """Every key has a title and a sentence; every choice an enum."""
    for root, made in ((LAYOUT, schema()), (CATALOGUE, catalogue_schema())):
        for record in records(root):
            shown = made if record is root else made["$defs"][record.name]
            assert shown["title"]
            for field in record.fields:
                entry = shown["properties"][field.name]
                assert entry["title"] == field.name
                assert entry["description"][0].isupper()
                assert entry["description"].endswith(".")
    assert schema()["$defs"]["ros"]["properties"]["distro"]["enum"] == ["humble", "jazzy", "kilted", "lyrical"]


def test_the_manual_lists_every_key() -> None:
    tables = language_tables()
    for record in records(LAYOUT):
        for field in record.fields:
            assert f"| `{field.name}`" in tables
    assert "| `thickness` **(required)** | length, mm |" in tables


def test_reader_and_schema_agree_on_the_plausible_range() -> None:
    """A value just inside passes both, one just outside fails both: the bounds come from one table."""
    from chassis_describe.errors import LayoutError
    from chassis_describe.layout.read import read

    for pitch, good in ((2, True), (200, True), (1.99, False), (200.1, False)):
        text = f"layout: 1\nrobot: r\nlattice: {{pitch: {pitch}, hole: 1}}\ndecks: {{a: {{outline: {{circle: 100}}, thickness: 4}}}}\n"
        assert (faults(loaded(text), schema()) == []) is good
        if good:
            assert read("r.yaml", text=text).lattice.pitch == pytest.approx(pitch / 1000)
        else:
            with pytest.raises(LayoutError):
                read("r.yaml", text=text)
