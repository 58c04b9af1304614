"""Defaults as the manual and the JSON Schema state them, held against what a layout without those keys builds.

The two statements are read as a user's tools would (the manual's table as text, the schema as JSON); a layout in which a key
stands with the default stated is the same robot as one in which it does not.
"""
from __future__ import annotations

import copy
import dataclasses
import json
import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from typing import Any

import pytest
import yaml

from chassis_describe import compiler
from chassis_describe.errors import LayoutError
from chassis_describe.layout.language.kinds import Type
from chassis_describe.layout.language.lists import ListOf, OneOf
from chassis_describe.layout.language.record import EachOrOne, Named, Record, records
from chassis_describe.layout.language.schema import language_tables, schema
from chassis_describe.layout.language.table_layout import LAYOUT

#: Each record at least once, with as few keys as it takes; invented.
DOCUMENT = yaml.safe_load("""
layout: 1
robot: sampler
lattice: {}
fasteners: {}
ros: {}
checks: {limits: {}}
drive: {kind: differential, left: [wheel_left], right: [wheel_right]}
parts:
  head:
    bodies: [{box: [20, 20, 20]}, {cylinder: [10, 30]}, {mesh: head.stl}]
    inertia: {ixx: 0.00002, iyy: 0.00002, izz: 0.00002}
    mass: 100
    bolts: [[-10, 0], {at: [10, 0], slot: [8, 3.4]}]
    keep_clear: [{cylinder: [5, 5]}]
    seats:
      top:
        lattice: {}
        adjust: [{name: pan, axis: up, range: [-90, 90]}, {name: nod, axis: left, follows: {of: pan}}]
      side: {tapped: 6, bolts: [[0, 0]]}
  eye:
    bodies: [{box: [20, 20, 20]}]
    mass: 20
    sensors: {scan: {kind: lidar}}
  feeler:
    bodies: [{box: [20, 20, 2]}]
    mass: 5
    sensors: {imu: {kind: imu, noise: {}}}
  motor:
    bodies: [{box: [20, 20, 20]}]
    mass: 50
    motor: {torque: 1, speed: 60}
    shafts: {out: {axis: forward}}
    bolts: [[-10, 0], [10, 0]]
  wheel: {mass: 20, wheel: {diameter: 60, width: 20}}
  caster: {mass: 30, bodies: [{cylinder: [20, 8], axis: y, at: [0, 0, 30]}], caster: {wheel: [20, 8]}}
  plated: {plate: {rectangle: [80, 60], thickness: 4, material: birch plywood}}
decks:
  lower: {outline: {rectangle: [240, 160]}, thickness: 4, lattice: {}, drilled: [{at: [33, 0], slot: [12, 4.5]}]}
  upper: {outline: {circle: 120}, thickness: 4, above: lower, standoffs: [{length: 60, holes: [[-2, -2], [-2, 2], [2, 0]]}]}
  back: {outline: {polygon: [[0, 0], [80, 0], [80, 60]]}, thickness: 4, fixed_to: lower, cutouts: [{rectangle: [10, 10]}]}
placements:
  head: {part: head, "on": lower}
  eye: {part: eye, "on": lower, calibrated: {nominal: {}}}
  feeler: {part: feeler, "on": head.top}
  motor_left: {part: motor, "on": lower, lift: 5}
  motor_right: {part: motor, "on": lower}
  wheel_left: {part: wheel, "on": motor_left}
  wheel_right: {part: wheel, "on": motor_right}
  caster: {part: caster, "on": lower}
  plated: {part: plated, "on": upper}
""")
Path = tuple[Any, ...]
#: Keys that mean something beside a plate file alone.
OF_FILES = {"front", "seen_from"}


def entries(kind: Type, value: Any, path: Path = ()) -> Iterator[tuple[Record, Path]]:
    """Every entry of a record in the document, and where it stands."""
    if isinstance(kind, Record) and isinstance(value, dict):
        yield kind, path
        for name, inner in value.items():
            yield from entries(kind.by_name[name].type, inner, (*path, name))
    elif isinstance(kind, EachOrOne):
        yield from entries(kind.item if value.keys() & kind.item.by_name.keys() else kind.each, value, path)
    elif isinstance(kind, Named):
        for name, inner in value.items():
            yield from entries(kind.item, inner, (*path, name))
    elif isinstance(kind, ListOf):
        for n, inner in enumerate(value):
            yield from entries(kind.item, inner, (*path, n))
    elif isinstance(kind, OneOf) and isinstance(value, dict) and kind.mapping is not None:
        yield from entries(kind.mapping, value, path)


def plain(value: Any) -> Any:
    """A layout without the places of what was written."""
    if dataclasses.is_dataclass(value):
        return {f.name: plain(getattr(value, f.name)) for f in dataclasses.fields(value)
                if "mark" not in f.name and f.name != "files"}
    if isinstance(value, Mapping):
        return {k: plain(v) for k, v in value.items()}
    return [plain(v) for v in value] if isinstance(value, (tuple, list)) else value


def robot(document: Any, opener: Callable[[str], bytes] | None = None) -> Any:
    """A layout is YAML, and JSON is YAML's flow style (YAML 1.2, 1.2). None where a key means nothing in its entry, as the radius
    of a circle's corners."""
    try:
        return plain(compiler.read("sampler.yaml", text=json.dumps(document).encode(), opener=opener))
    except LayoutError as error:
        if {f.code for f in error.findings} <= {"meaningless-key", "missing-key"}:
            return None
        raise


def stated() -> dict[tuple[str, str], Any]:
    """The schema's defaults by record and key."""
    whole = json.loads(json.dumps(schema()))
    return {(name, key): said["default"] for name, record in {"layout": whole, **whole["$defs"]}.items()
            for key, said in record["properties"].items() if "default" in said}


@pytest.fixture(scope="module")
def whole() -> Any:
    found = robot(DOCUMENT)
    assert found is not None
    return found


@pytest.mark.parametrize("record", [r for r in records(LAYOUT) if r.name in {name for name, _ in stated()}], ids=lambda r: r.name)
def test_a_default_that_is_written_changes_nothing(record: Record, whole: Any) -> None:
    keys = {key for name, key in stated() if name == record.name} - OF_FILES
    held: Counter[str] = Counter()
    for found, path in entries(LAYOUT, DOCUMENT):
        for key in sorted(keys) if found is record else ():
            if held[key] == 2:
                continue
            document = copy.deepcopy(DOCUMENT)
            entry = document
            for step in path:
                entry = entry[step]
            if key in entry:
                continue
            entry[key] = stated()[record.name, key]
            with_key = robot(document)
            if with_key is not None:
                assert with_key == whole, (path, key)
                held[key] += 1
    assert held.keys() == keys


@pytest.mark.parametrize("key", sorted(OF_FILES))
def test_a_default_of_a_plate_file(key: str) -> None:
    from tests.layout.plate_files import box, dxf  # needs ezdxf

    data = dxf(box)
    document = {"layout": 1, "robot": "drawn", "decks": {"lower": {"outline": {"file": "lower.dxf"}, "thickness": 4}}}
    with_key = copy.deepcopy(document)
    with_key["decks"]["lower"]["outline"][key] = stated()["outline", key]  # type: ignore[index]
    without = robot(document, lambda path: data)
    assert without is not None
    assert robot(with_key, lambda path: data) == without


def test_the_tables_state_what_the_schema_states() -> None:
    said = stated()
    for table in re.split(r"^## ", language_tables(), flags=re.M)[1:]:
        thing = table.partition("\n")[0]
        record = next(r for r in records(LAYOUT) if r.thing == thing[0].lower() + thing[1:])
        for row in table.splitlines():
            key = re.match(r"\| `([a-z_]+)`", row)
            words = re.search(r" Default: (.*)\. \|$", row)
            if key is not None and (record.name, key[1]) in said:
                assert words is not None, row
                assert yaml.safe_load(words[1].strip("`")) == said[record.name, key[1]], row


def test_the_defaults_of_check_values() -> None:
    """From the manual of an earlier version, retyped on purpose: a default that changes changes everybody's robots."""
    said = stated()
    assert {k: said[k] for k in (("lattice", "pitch"), ("lattice", "hole"), ("lattice", "screw"), ("standoffs", "material"),
                                 ("standoffs", "diameter"), ("standoffs", "thread"), ("part", "flange"), ("wheel", "friction"),
                                 ("caster", "friction"), ("placement", "spacer"), ("ros", "distro"), ("ros", "odometry"))} == {
        ("lattice", "pitch"): 20, ("lattice", "hole"): 3.5, ("lattice", "screw"): "M3", ("standoffs", "material"): "brass",
        ("standoffs", "diameter"): 5.5, ("standoffs", "thread"): 6, ("part", "flange"): 3, ("wheel", "friction"): 0.8,
        ("caster", "friction"): 0.1, ("placement", "spacer"): "nylon", ("ros", "distro"): "jazzy",
        ("ros", "odometry"): "controller"}
