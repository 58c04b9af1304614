"""Whatever is thrown at the reader, only the project's own exceptions come out, and the demo's faults have places."""
from __future__ import annotations

import random

from hypothesis import HealthCheck, given, settings, strategies as st

from chassis_describe.errors import LayoutError
from chassis_describe.layout.model import Layout
from chassis_describe.layout.part_files import read_parts
from chassis_describe.layout.read import read

DEMO = """layout: 1
robot: draught_scout
lattice: {pitch: 20, hole: 3.5, screw: M3}
materials: {oak: 700}
parts:
  motor: {mass: 210, bodies: [{cylinder: [37, 60], axis: y, at: [0, -30, 20]}], bolts: [[0, 0], [20, 0]],
          shafts: {out: {at: [0, 0, 20], axis: left}}, motor: {torque: 0.8, speed: 120}}
  wheel: &wheel {mass: 90, wheel: {diameter: 80, width: 26, offset: 20}}
  wider: {like: wheel, wheel: {diameter: 80, width: 40}}
  eye:
    bodies: [{cylinder: [70, 40], at: [0, 0, 20]}, {mesh: eye.stl, scale: 0.001}]
    inertia: {ixx: 1e-4, iyy: 1e-4, izz: 1e-4}
    sensors: {scan: {kind: lidar, at: [0, 0, 28], range: [150, 12 m], layers: 2, vertical: [-5, 5]}}
  holder:
    bodies: [{box: [30, 40, 5]}, {box: [5, 40, 30], with: face}]
    seats: {face: {axes: {z: forward, x: up}, bolts: [[0, 0]], tapped: 5, adjust: [{name: pitch, axis: y, range: [-30, 30]}]}}
decks:
  lower: {outline: {rectangle: [240, 160], corner: 12}, thickness: 4, material: oak, cutouts: [{circle: 24}]}
  upper: {outline: {polygon: [[0, 0], [90, 0], [0, 90]]}, thickness: 3, above: lower,
          standoffs: [{length: 60, holes: [[-3, -3], [-3, 3]]}]}
placements:
  motor_left: {part: motor, on: lower, face: under, at: [0.5, 2], points: left}
  motor_right: {mirror_of: motor_left}
  wheel_left: {part: wheel, on: motor_left}
  wheel_right: {part: wider, on: motor_right}
  lidar: {part: eye, on: upper, at: [1, 0], turn: 45 deg, frame: laser_frame, lift: 5}
  holder: {part: holder, on: lower, screws: [[1, 0], [2, 0]]}
  nose: {part: eye, on: holder.face, set: {pitch: 5}}
drive: {kind: differential, left: [wheel_left], right: [wheel_right]}
checks: {limits: {wheel_gap_mm: 3}, accept: [{finding: view-blocked, of: [lidar], because: meant}]}
ros: {distro: jazzy, prefix: r_}
""".replace("  holder: {part: holder, on: lower, screws: [[1, 0], [2, 0]]}", "  holder: {part: holder, on: lower}").replace(
    "  nose: {part: eye, on: holder.face, set: {pitch: 5}}", "  nose: {part: eye, on: holder.face}")

#: Pieces that have made YAML readers stumble, and pieces of the language in wrong places.
PIECES = ["{", "}", "[", "]", ":", ": ", ",", "#", " #", "-", "- ", "\n", "\n\n", "\t", "  ", "&a ", "*a", "*wheel", "<<: ", "!!int ",
          "'", '"', "|", ">", "%", "@", "`", "~", "null", "true", "on", "010", "1e999", ".nan", "0x1F", "3:7", "1,5", "-0", "1e-3",
          "5 mm", "5 kg", "90 rad", "\u2028", "\x85", "é", "\U0001f916", "---\n", "...\n", "?", "? ", "!", "\\", "\r\n", "\ufeff",
          "lower", "upper", "motor_left", "none", "at: [1, 0]", "like: wheel", "mirror_of: lidar", "on: nose", "[[[[[[", "{a: {a: "]


def mutated(seed: int, times: int) -> str:
    chance = random.Random(seed)
    text = DEMO
    for _ in range(times):
        a = chance.randrange(len(text) + 1)
        what = chance.randrange(5)
        if what == 0:
            text = text[:a] + chance.choice(PIECES) + text[a:]
        elif what == 1:
            text = text[:a] + text[a + chance.randrange(1, 12):]
        elif what == 2:
            b = chance.randrange(len(text) + 1)
            text = text[:a] + text[b:b + chance.randrange(1, 60)] + text[a:]
        elif what == 3:
            words = text.split(" ")
            words[chance.randrange(len(words))] = chance.choice(PIECES)
            text = " ".join(words)
        else:
            lines = text.split("\n")
            lines.insert(chance.randrange(len(lines)), lines.pop(chance.randrange(len(lines))))
            text = "\n".join(lines)
    return text


def only_own_exceptions(text: str | bytes) -> None:
    for reader in (read, read_parts):
        try:
            out = reader("any.yaml", text=text, opener=nothing)
            assert isinstance(out, (Layout, tuple))
        except LayoutError as error:
            has_places(error)


def has_places(error: LayoutError) -> None:
    assert error.findings
    for item in error.findings:
        assert item.where
        assert item.where[0].file
        assert item.where[0].line >= 1
        assert item.where[0].column >= 1
        assert "\n" not in item.message


def nothing(path: str) -> bytes:
    raise FileNotFoundError(path)


def test_the_text_to_spoil_is_good() -> None:
    assert len(read("any.yaml", text=DEMO).placements) == 7


@settings(max_examples=120, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.integers(0, 2**32), st.integers(1, 8))
def test_spoilt_layouts(seed: int, times: int) -> None:
    only_own_exceptions(mutated(seed, times))


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=200))
def test_any_bytes(data: bytes) -> None:
    only_own_exceptions(data)


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=200))
def test_any_text(text: str) -> None:
    only_own_exceptions(text)


#: Any tree of values in the places of the language: each key gets what it does not expect.
_LEAF = st.one_of(st.sampled_from(PIECES[32:]), st.integers(-10**6, 10**6), st.floats(), st.none(), st.booleans())
_TREE = st.recursive(_LEAF, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(
    st.sampled_from(["part", "on", "at", "outline", "circle", "holes", "set", "a"]), inner, max_size=4), max_leaves=8)


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 2**32), _TREE)
def test_any_value_in_any_place(seed: int, value: object) -> None:
    import json

    chance = random.Random(seed)
    lines = DEMO.split("\n")
    number = chance.randrange(len(lines) - 1)
    key, colon, _ = lines[number].partition(": ")
    written = json.dumps(value).replace("NaN", ".nan").replace("-Infinity", "-.inf").replace("Infinity", ".inf")
    lines[number] = f"{key}{colon or ' '}{written}"
    only_own_exceptions("\n".join(lines))
