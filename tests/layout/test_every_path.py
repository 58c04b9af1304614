"""Every path of a rich layout × wrong values of every kind: nothing but the package's own exceptions comes out.

One layout has every record of the language, a car beside it the keys that only a moving robot needs. A layout that still reads goes on to the assembly, the check and the URDF,
which is where a number at the edge of what is plausible shows.
"""
from __future__ import annotations

import json
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml

from chassis_describe import compiler
from chassis_describe.errors import ChassisError
from chassis_describe.layout.language.record import records
from chassis_describe.layout.language.table_layout import LAYOUT

RICH = """
layout: 1
robot: everything
lattice: {pitch: 20, hole: 3.5, screw: M3}
materials: {oak: 700}
parts:
  motor: {about: text, mass: 210, bodies: [{cylinder: [37, 60], axis: y, at: [0, -30, 20], mass: 150}, {box: [40, 10, 40], at: [0, 5, 20]}],
          bolts: [[0, 0], [20, 0]], bolt_hole: 3.2, screw: M3, flange: 3, keep_clear: [{box: [10, 10, 10], at: [0, -70, 20]}],
          shafts: {out: {at: [0, 0, 20], axis: left}}, motor: {torque: 0.8, speed: 120}}
  wheel: {mass: 90, wheel: {diameter: 80, width: 26, offset: 20}}
  wider: {like: wheel, wheel: {diameter: 80, width: 40, offset: 25}}
  eye:
    mass: 100
    com: [0, 0, 20]
    bodies: [{cylinder: [70, 40], at: [0, 0, 20], color: blue}]
    inertia: {ixx: 1e-4, iyy: 1e-4, izz: 1e-4, ixy: 0, ixz: 0, iyz: 0}
    bolts: [[0, -20], [0, 20]]
    tapped: 5
    sensors: {scan: {kind: lidar, at: [0, 0, 28], rpy: [0, 0, 10], range: [150, 12 m], rate: 10, fov: 270, samples: 720, zero_beam: 90, noise: 5,
                     angles: symmetric, topic: scan, driver_tf: false},
              look: {kind: depth_camera, at: [36, 0, 20], axes: {x: forward, z: up}, range: [200, 4 m], fov: 80, resolution: [64, 48]}}
  ear:
    bodies: [{box: [20, 40, 20], at: [0, 0, 10]}]
    sensors: {cone: {kind: ranger, at: [11, 0, 10], range: [20, 3 m], fov: 20, radiation: ultrasound},
              level: {kind: imu, noise: {gyro: 0.1, accel: 0.02}}}
  holder:
    bodies: [{box: [30, 40, 5], at: [0, 0, 2.5]}, {box: [5, 40, 30], at: [20, 0, 20], with: face}]
    bolts: [[0, 0], [20, 0], [0, 20]]
    seats: {face: {at: [25, 0, 20], axes: {z: forward, x: up}, lattice: {pitch: 10, hole: 3.2, screw: M3, origin: [0, 5]},
                   bolts: [[0, 0], {at: [0, 20], tapped: 6}], hole: 3.2,
                   adjust: [{name: pitch, axis: left, range: [-30, 30], rest: 5, pivot: [25, 0, 10]}]}}
  roller: {mass: 30, bodies: [{sphere: 10, at: [0, 0, 25]}], caster: {wheel: [30, 12], trail: 15, at: [0, 0, 30], friction: 0.2}}
decks:
  lower: {outline: {rectangle: [240, 160], corner: 12, centre: [0, 0]}, thickness: 4, material: oak, mass: 120,
          cutouts: [{circle: 24, centre: [-50, 0]}, {polygon: [[60, -80], [60, -70], [80, -80]]}], skip: [[0, 1]],
          drilled: [{at: [33, 5], hole: 4.5}, {at: [33, -45], slot: [12, 3.5], turn: 30}], note: text}
  upper: {outline: {polygon: [[-70, -70], [90, -70], [0, 90], [-70, 70]]}, thickness: 3, density: 1200, above: lower, shift: [0, 0],
          turn: 90, lattice: {pitch: 20, hole: 3.5, screw: M3, origin: [0, 0]},
          standoffs: [{length: 60, holes: [[-3, -3], [-3, 3], [2, 0]], on: lower, diameter: 6, material: brass, mass: 5}]}
  panel: {outline: {rectangle: [60, 60]}, thickness: 3, fixed_to: lower, xyz: [-110, 0, 80], rpy: [0, 90, 0], lattice: none}
placements:
  motor_left: {part: motor, on: lower, face: under, at: [0.5, 2], points: left}
  motor_right: {mirror_of: motor_left}
  wheel_left: {part: wheel, on: motor_left}
  wheel_right: {part: wider, on: motor_right.out}
  roller: {part: roller, on: lower, face: under, at: [-4, 0], lift: 12, spacer: nylon}
  lidar: {part: eye, on: upper, at: [1, 0], turn: 45 deg, frames: {scan: laser_frame}, topics: {scan: front}, lift: 5, fixing: bolts, mass: 110}
  holder: {part: holder, on: lower, screws: [[3, 1], [4, 1], [3, 2]], set: {pitch: 10}}
  ear: {part: ear, on: holder.face, fixing: adhesive, offset: [0, 0, 0.5], frames: {cone: ear_frame}, topics: {cone: ear}, note: text}
drive: {kind: differential, left: [wheel_left], right: [wheel_right]}
ros: {distro: jazzy, odometry: ekf, control: ros2_control, hardware: my_package/MyHardware, prefix: r_, license: Apache-2.0, version: 0.1.0,
      maintainer: {name: Club, email: club@example.org}}
weighed: 1.5 kg
simulation: {world: hall.sdf}
fasteners: {head: button, nut: lock, washers: true, lengths: [8, 10, 12]}
checks: {limits: {wheel_gap_mm: 3, edge_web: 1}, accept: [{finding: view-blocked, of: [lidar], because: meant}]}
"""
CAR = (Path(__file__).parent / "car_to_spoil.yaml").read_text(encoding="utf-8")
#: YAML text of values that stand where something else is due (our choice: what hands, programs and pastes leave behind).
WRONG = (
    "", "~", "null", "true", "on", "''", "' '", "x", "none", "lower", "wheel_left", "motor_left.out", "é", '"\\u2028"', '"\\e[2J"', '"\\n"',
    "a" * 5000, "-", "0", "-0", "1", "-1", "0.5", "90", "1e-9", "1e-300", "1e-320", "1e308", "-1e308", "1.7e308", "9" * 30, "1e999", ".nan",
    ".inf", "-.inf", "010", "0x1F", "1_000", "1,5", "3:7", "2001-01-01", "'5'", "5 mm", "5 kg", "90 rad", "1e308 m", "1e308 kgf·cm",
    "0 mm", "1e-300 rad", "[]", "[[]]", "[[[]]]", "[0]", "[0, 0]", "[0, 0, 0]", "[0, 0, 0, 0]", "[1, 2, 3, 4, 5, 6]", "[1e308, 1e308]",
    "[1e308, 1e308, 1e308]", "[~]", "[~, ~]", "[~, ~, ~]", "[a, b]", "[true, false]", "[{}]", "[{}, {}, {}]", "[[0, 0], [0, 0], [0, 0]]",
    "[[1, 2], [3, 4]]", "[[1, 2, 3], [1, 2, 3], [1, 2, 3]]", "[0, 0, 80, 0, 80, 60]", "[{x: 1, y: 2}, {x: 1, y: 2}, {x: 1, y: 3}]",
    "[" + "x, " * 50 + "x]", "[" + "[" * 30 + "]" * 30 + "]", "{}", "{x: 0, y: 0}", "{'': 1}", "{1: 2}", "{a: {b: {}}}", "{[1]: 2}",
    "{at: [0, 0]}", "{part: motor, on: lower}", "{circle: 1e308}", "{polygon: [[0, 0]]}", "*a", "!!int x", "{<<: {a: 1}}")
#: What a number in the file is multiplied by: the edges of what is plausible, and slips of unit.
FACTORS = (0, -1, 1e-6, 1e-3, 0.1, 0.5, 2, 10, 25.4, 1000, 1e6)
#: So many of the pairs are read, and so many of those that read are checked and written: a second each on a slow machine.
CASES, CHECKED = 160, 3


def tree(text: str) -> Any:
    """The layout as mappings and lists, scalars as the YAML text that they are written with."""
    def plain(node: yaml.Node) -> Any:
        if isinstance(node, yaml.MappingNode):
            return {key.value: plain(value) for key, value in node.value}
        if isinstance(node, yaml.SequenceNode):
            return [plain(item) for item in node.value]
        return node.value if node.style is None else json.dumps(node.value)
    return plain(yaml.compose(text))


def paths(node: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Any]]:
    """Every place of the tree, with what stands there."""
    yield path, node
    for key, value in node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ():
        yield from paths(value, (*path, key))


def written(node: Any, path: tuple[Any, ...] = (), place: tuple[Any, ...] | None = None, value: str = "") -> str:
    """The tree as YAML, with ``value`` at ``place``."""
    if path == place:
        return value
    if isinstance(node, dict):
        return "{" + ", ".join(f"{key}: {written(inner, (*path, key), place, value)}" for key, inner in node.items()) + "}"
    if isinstance(node, list):
        return "[" + ", ".join(written(inner, (*path, key), place, value) for key, inner in enumerate(node)) + "]"
    return str(node)


def cases(text: str) -> list[tuple[tuple[Any, ...], str]]:
    """All pairs of a place and a wrong value, in an order that a seed decides."""
    out = []
    for path, node in paths(tree(text)):
        out += [(path, value) for value in WRONG]
        try:
            number = float(node) if isinstance(node, str) else None
        except ValueError:
            number = None
        if number is not None:
            out += [(path, f"{number * factor:.12g}") for factor in FACTORS]
    random.Random(20).shuffle(out)
    return out


def nothing(path: str) -> bytes:
    raise FileNotFoundError(path)


def run(text: str, *, whole: bool = True) -> str:
    """How far a layout comes; not ``whole``: up to the assembly. Anything but the package's own exceptions goes through."""
    stage = "read"
    try:
        layout = compiler.read("any.yaml", text=text, opener=nothing)
        stage = "assemble"
        assembly = compiler.assemble(layout)
        if not whole:
            return "assembled"
        stage = "check"
        compiler.check(assembly)
        stage = "urdf"
        compiler.urdf(assembly)
    except ChassisError:
        return stage
    return "done"


@pytest.mark.thorough
def test_the_layout_to_spoil_is_good_and_has_every_record() -> None:
    assert run(written(tree(RICH))) == run(written(tree(CAR))) == "done"
    keys = {key for path, _ in paths(tree(RICH)) for key in path}
    missing = {r.name for r in records(LAYOUT) if not keys & set(r.by_name)}
    assert missing == {"description"}  # files beside the layout: tests/described spoils those


@pytest.mark.thorough
@pytest.mark.parametrize("text", [RICH, CAR], ids=["everything", "car"])
def test_every_path_with_wrong_values(text: str) -> None:
    """A sample of all pairs, the same on every run; all of them (some forty thousand) when CASES and CHECKED say so."""
    spoilt, checked, refused = tree(text), 0, 0
    for path, value in cases(text)[:CASES]:
        try:
            stage = run(written(spoilt, (), path, value), whole=checked < CHECKED)
        except Exception as error:
            pytest.fail(f"{' > '.join(map(str, path))}: {json.dumps(value[:60])}: {type(error).__name__}: {error}")
        checked += stage in ("check", "urdf", "done")
        refused += stage == "read"
    assert checked == CHECKED
    assert refused > CASES / 2  # else the values are not wrong enough


@pytest.mark.parametrize("corners", ["[0, 0, 80, 0, 80, 60]", "[{x: 0, y: 0}, {x: 80, y: 0}, {x: 80, y: 60}]",
                                     "[[0, 0, 0], [80, 0, 0], [80, 60, 0]]", "[[0, 0], [80, 0], [80]]", "[~, ~, ~]"])
def test_corners_of_a_wrong_shape(corners: str) -> None:
    text = f"layout: 1\nrobot: r\ndecks: {{a: {{outline: {{polygon: {corners}}}, thickness: 4}}}}\n"
    with pytest.raises(ChassisError, match="two values like"):
        compiler.read("r.yaml", text=text)


@pytest.mark.parametrize("text", ["1e308", "-1e308", "1e308 in", "1e308 kgf·cm", "1.7e308", "1e308 g/cm³"])
def test_quantities_of_any_size(text: str) -> None:
    with pytest.raises(ChassisError) as raised:
        compiler.read("r.yaml", text=f"layout: 1\nrobot: r\ndecks: {{a: {{outline: {{circle: 100}}, thickness: {text}}}}}\n")
    assert len(str(raised.value)) < 400
