"""Every attitude of a sensor, a holder, a plate or a motor: straight up, straight down, sideways, exactly level.

Formulas that divide by a sine or a tangent have their poles at just these attitudes, and parts are bolted at just these. Each
robot goes the whole way: check, figures, every file of the package, every report. Scenes are invented.
"""
from __future__ import annotations

import itertools
import json
import re
from pathlib import Path

import pytest
from hypothesis import given, settings, strategies as st

from chassis_describe.assembly.model import Assembly
from chassis_describe.compiler import assemble, check, read
from chassis_describe.documents import documents
from chassis_describe.facts.figures import figures_of
from chassis_describe.facts.sight import sight_of
from chassis_describe.reports import frames
from chassis_describe.reports.figures import figures_data, figures_text
from chassis_describe.reports.findings_text import findings_text
from chassis_describe.targets import package_artifacts

OPPOSITE = {"forward": "back", "back": "forward", "left": "right", "right": "left", "up": "down", "down": "up"}
#: The 24 right-angled attitudes: x in six directions, z in the four at right angles to it.
RIGHT_ANGLES = [(x, z) for x, z in itertools.product(OPPOSITE, OPPOSITE) if z not in (x, OPPOSITE[x])]
#: Where the papers are drawn too: each way that z can look, once.
DRAWN = {z: (x, z) for x, z in RIGHT_ANGLES}.values()

PARTS = """
  foot: {mass: 30, caster: {ball: 20, at: [0, 0, 30]}}
  motor: {mass: 100, bodies: [{box: [20, 20, 20], at: [0, 0, 10]}], bolts: [[-10, 0], [10, 0]],
          shafts: {out: {at: [0, 0, 10], axis: AXIS}}, motor: {torque: 1, speed: 100}}
  tyre: {mass: 40, wheel: {diameter: 80, width: 20, offset: 30}}
  sensed:
    mass: 60
    bodies: [{box: [30, 30, 30], at: [0, 0, 15]}]
    sensors:
      scan: {kind: lidar, at: [0, 0, 32], range: [100, 8000], samples: 720, ATTITUDE}
      layers: {kind: lidar, at: [0, 0, 33], range: [100, 8000], samples: 720, layers: 4, vertical: [-15, 15], ATTITUDE}
      eye: {kind: camera, at: [0, 0, 34], fov: 60, resolution: [64, 48], ATTITUDE}
      echo: {kind: ranger, at: [0, 0, 35], fov: 15, range: [20, 4000], radiation: ultrasound, ATTITUDE}
      axes_of: {kind: imu, at: [0, 0, 36], ATTITUDE}
      sky: {kind: gnss, at: [0, 0, 37], ATTITUDE}
  holder: {mass: 40, bodies: [{box: [10, 10, 60], at: [0, 0, 30]}], seats: {face: {at: [0, 0, 70], ATTITUDE}}}
  bare: {like: sensed, sensors: {echo: {kind: ranger, at: [0, 0, 32], fov: 15, range: [20, 4000], radiation: ultrasound},
         scan: {kind: lidar, at: [0, 0, 33], range: [100, 8000], samples: 720},
         eye: {kind: depth_camera, at: [0, 0, 34], fov: 60, resolution: [64, 48]}}}
"""
ROBOT = """
layout: 1
robot: look_round
parts:PARTS
decks:
  floor: {outline: {rectangle: [400, 300]}, thickness: 4, density: 700}
  wall: {outline: {rectangle: [60, 60]}, thickness: 4, density: 700, fixed_to: floor, xyz: [-150, 0, 120], ATTITUDE}
placements:
  foot_a: {part: foot, on: floor, face: under, at: [8, 0]}
  foot_b: {part: foot, on: floor, face: under, at: [-8, 5]}
  foot_c: {part: foot, on: floor, face: under, at: [-8, -5]}
  sensed: {part: sensed, on: floor, at: [0, 0], fixing: adhesive}
  holder: {part: holder, on: floor, at: [4, 0], fixing: adhesive}
  held: {part: bare, on: holder, fixing: adhesive}
  hung: {part: bare, on: wall, fixing: adhesive}
  motor: {part: motor, on: floor, at: [0.5, 4]}
  tyre: {part: tyre, on: motor}
"""


def text_of(attitude: str, axis: str = "[0, 1, 0]") -> str:
    return ROBOT.replace("PARTS", PARTS).replace("ATTITUDE", attitude).replace("AXIS", axis)


def robot(attitude: str, axis: str = "[0, 1, 0]") -> Assembly:
    return assemble(read("look_round.yaml", text=text_of(attitude, axis)))


def whole_way(assembly: Assembly, *, papers: bool) -> None:
    """Everything that the program works out of a robot: findings, figures, frames, the package's files, with ``papers`` those
    that are drawn; every figure is finite."""
    findings = check(assembly)
    figures = figures_of(assembly)
    said = [findings_text(findings), json.dumps(figures_data(figures), allow_nan=False), frames.as_text(assembly),
            figures_text(assembly.robot, figures, width=100)]
    for file in package_artifacts(assembly, documents(assembly, findings) if papers else ()):
        if Path(file.path).suffix in (".urdf", ".xacro", ".yaml", ".md", ".json", ".xml"):
            said.append(file.data.decode("utf-8"))
    for words in said:
        assert not re.search(r"\b(?:nan|inf|NaN|Infinity)\b", words)


@pytest.mark.parametrize(("x", "z"), RIGHT_ANGLES)
def test_right_angles(x: str, z: str) -> None:
    whole_way(robot(f"axes: {{x: {x}, z: {z}}}"), papers=(x, z) in DRAWN)


@pytest.mark.parametrize("axis", ["up", "down", "forward", "back", "left", "right"])
def test_shafts_in_every_direction(axis: str) -> None:
    whole_way(robot("rpy: [0, 0, 0]", axis), papers=axis == "up")


NEAR = st.sampled_from([0.0, 90.0, -90.0, 180.0, 1e-7, 90.0 - 1e-7, 90.0 + 1e-7, -90.0 + 1e-9, 45.0])


@pytest.mark.thorough
@settings(max_examples=8)
@given(rpy=st.tuples(*[st.one_of(NEAR, st.floats(-180, 180, allow_nan=False))] * 3))
def test_near_right_angles_and_in_between(rpy: tuple[float, float, float]) -> None:
    whole_way(robot(f"rpy: [{', '.join(f'{v:.12f}' for v in rpy)}]"), papers=False)


def test_a_ranger_that_looks_straight_up_sees_no_floor() -> None:
    """A ranger laid flat on a deck looks straight up: a mistake of the first day, and no floor is there."""
    assembly = robot("axes: {x: up, z: forward}")
    views = sight_of(assembly).rangers
    assert views["sensed_echo_frame"].floor is None
    down = sight_of(robot("axes: {x: down, z: forward}")).rangers["sensed_echo_frame"]
    assert down.floor is not None and down.floor.along == pytest.approx(0.0, abs=1e-12)
