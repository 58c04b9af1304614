"""What the reader makes of good files: SI values worked out by hand, references, defaults, mirrors."""
from __future__ import annotations

import math

import pytest

from chassis_describe.errors import UsageError
from chassis_describe.layout.model import (
    BoxForm,
    CircleShape,
    CylinderForm,
    FixedTo,
    Layout,
    PolygonShape,
    RectangleShape,
    SphereForm,
    Stacked,
)
from chassis_describe.layout.read import read

ROBOT = """
layout: 1
robot: hall_walker
lattice: {pitch: 25 mm, hole: 4.5, screw: M4}
materials: {oak: 700, felt board: 0.2 g/cm3}
parts:
  motor:
    mass: 0.2 kg
    bodies: [{cylinder: [37, 60], axis: y, at: [0, -30, 20], color: silver}]
    bolts: [[0, 0], [20, 0]]
    tapped: 6
    screw: M3
    shafts: {out: {at: [0, 0, 20], axis: [0, 2, 0]}}
    motor: {torque: 80 N·cm, speed: 120}
  wheel: {mass: 90, wheel: {diameter: 80, width: 26, offset: 1 in, friction: 0.9, rollers: left}}
  ball: {mass: 40, bodies: [{sphere: 25}], caster: {ball: 25, at: [0, 0, 27.5], friction: 0.05}}
  swivel: {mass: 40, bodies: [{box: [20, 20, 30]}], caster: {wheel: [40, 18], trail: 20, at: [-20, 0, 40]}}
  eye:
    about: a lidar
    mass: 150
    bodies: [{box: [70, 70, 40], at: [0, 0, 20], mass: 100, color: [1, 0.5, 0]}, {sphere: 20, color: "#ff000080"}]
    com: [0, 0, 18]
    inertia: {ixx: 1.2e-4, iyy: 1300 g·cm², izz: 1.4e-4}
    bolts: [[-20, -20], [20, 20]]
    keep_clear: [{box: [30, 20, 20], at: [-50, 0, 10]}]
    sensors:
      scan: {kind: lidar, at: [0, 0, 28], range: [150, 12 m], samples: 720, rate: 600 rpm, zero_beam: 180, topic: scan, noise: 0.5 cm}
      top: {kind: ranger, axes: {x: up, z: back}, fov: 30, range: [20, 4000], radiation: ultrasound, rate: 10}
      level: {kind: imu, noise: {gyro: 0.1, accel: 20 mm/s^2}}
  holder:
    mass: 20
    bodies: [{box: [30, 40, 5], at: [0, 0, 2.5]}, {box: [5, 40, 30], at: [10, 0, 20], with: face}]
    seats:
      face:
        at: [15, 0, 20]
        axes: {z: forward, x: up}
        bolts: [[0, 0], {at: [0, 10], hole: 3.4}]
        tapped: 5
        adjust: [{name: pitch, axis: left, pivot: [12, 0, 10], range: [-30, 30], rest: 10}]
      table: {lattice: {origin: [5, 0]}}
decks:
  lower: {outline: {rectangle: [240, 160], corner: 12, centre: [10, 0]}, thickness: 4, material: Birch Plywood,
          cutouts: [{circle: 24, centre: [-50, 0]}], skip: [[0, 0]],
          drilled: [{at: [33, 0], hole: 4.5}, {at: [0, 60], slot: [12, 3.5], turn: 90}]}
  upper: {outline: {polygon: [[0, 0], [100, 0], [0, 80], [0, 0]], centre: [-20, -20]}, thickness: 3, material: oak, density: 650,
          above: lower, shift: [0.5, 0], turn: 90, lattice: {pitch: 20},
          standoffs: [{length: 60, holes: [[-3, -3], [-3, 3], [3, 0]], diameter: 6, material: aluminium, mass: 3}]}
  hung: {outline: {circle: 180}, thickness: 3, mass: 95 g, below: lower, standoffs: [{length: 30, holes: [[1, 1]]}]}
  wall: {outline: {circle: 60}, thickness: 2, material: felt board, lattice: none, fixed_to: upper,
         xyz: [0, 10, 20], rpy: [0, -90, 0]}
placements:
  wheel_right: {part: wheel, on: motor_right}
  motor_right: {mirror_of: motor_left}
  motor_left: {part: motor, on: lower, face: under, at: [0.5, 2], points: left}
  wheel_left: {part: wheel, on: motor_left.out, mass: 95}
  lidar: {part: eye, on: upper, at: [1, 0], turn: -45, lift: 5, spacer: brass, offset: [0, 2.5, 0], frames: {scan: laser},
          topics: {top: up}, fixing: adhesive, note: north side}
  holder: {part: holder, on: lower, at: [5, 0], set: {pitch: 15}}
  nose: {part: ball, on: holder.face}
drive: {kind: differential, left: [wheel_left], right: [wheel_right]}
ros: {distro: humble, odometry: ekf, prefix: robot1_, hardware: club_hw/Board, license: MIT, version: 1.2.3,
      maintainer: {name: A Club, email: club@example.org}}
weighed: 2.4 kg
checks:
  limits: {wheel_gap_mm: 3}
  accept: [{finding: view-blocked, of: [lidar, wall], because: the wall is meant}]
"""


@pytest.fixture(scope="module")
def layout() -> Layout:
    return read("robot.yaml", text=ROBOT)


def test_head_and_settings(layout: Layout) -> None:
    assert layout.robot == "hall_walker"
    assert (layout.lattice.pitch, layout.lattice.hole, layout.lattice.screw) == (0.025, 0.0045, "M4")
    assert layout.weighed == 2.4
    assert (layout.ros.distro, layout.ros.odometry, layout.ros.control, layout.ros.prefix) == (
        "humble", "ekf", "ros2_control", "robot1_")
    assert layout.ros.maintainer is not None
    assert (layout.ros.hardware, layout.ros.version, layout.ros.license, layout.ros.maintainer.email) == (
        "club_hw/Board", "1.2.3", "MIT", "club@example.org")
    assert layout.limits["wheel_gap_mm"] == 3
    assert layout.limits["tip_angle_deg"] == 15
    assert [(w.finding, w.of, w.because) for w in layout.waivers] == [("view-blocked", ("lidar", "wall"), "the wall is meant")]
    assert layout.drive is not None
    assert (layout.drive.kind, layout.drive.left, layout.drive.right) == ("differential", ("wheel_left",), ("wheel_right",))
    assert layout.base_deck.name == "lower"
    assert [f.path for f in layout.files] == ["robot.yaml"]


def test_decks(layout: Layout) -> None:
    lower, upper, hung, wall = layout.decks.values()
    assert isinstance(lower.outline, RectangleShape)
    assert (lower.outline.size, lower.outline.corner, lower.outline.centre) == ((0.24, 0.16), 0.012, (0.01, 0.0))
    assert (lower.material, lower.density, lower.mass) == ("birch plywood", 680.0, None)
    assert [(c.diameter, c.centre) for c in lower.cutouts if isinstance(c, CircleShape)] == [(0.024, (-0.05, 0.0))]
    assert lower.skip == ((0, 0),)
    assert [(d.at, d.hole, d.slot, d.turn) for d in lower.drilled] == [
        ((0.033, 0.0), 0.0045, None, 0.0), ((0.0, 0.06), None, (0.012, 0.0035), math.pi / 2)]
    assert isinstance(upper.outline, PolygonShape)
    assert [c for p in upper.outline.points for c in p] == pytest.approx([-0.02, -0.02, 0.08, -0.02, -0.02, 0.06])
    assert (upper.material, upper.density) == ("oak", 650.0)
    assert upper.lattice is not None
    assert (upper.lattice.pitch, upper.lattice.hole, upper.lattice.screw) == (0.02, 0.0045, "M4")
    assert isinstance(upper.placing, Stacked)
    assert (upper.placing.relation, upper.placing.deck, upper.placing.shift, upper.placing.turn) == (
        "above", "lower", (0.5, 0.0), math.pi / 2)
    group = upper.placing.standoffs[0]
    assert (group.length, group.on, group.diameter, group.material, group.density, group.mass) == (
        0.06, "lower", 0.006, "aluminium", 2700.0, 0.003)
    assert group.holes == ((-3, -3), (-3, 3), (3, 0))
    assert len(group.hole_marks) == 3
    assert isinstance(hung.placing, Stacked)
    assert (hung.placing.relation, hung.mass, hung.density) == ("below", 0.095, None)
    assert (hung.placing.standoffs[0].material, hung.placing.standoffs[0].density) == ("brass", 8440.0)
    assert (wall.density, wall.lattice) == (200.0, None)
    assert isinstance(wall.placing, FixedTo)
    assert (wall.placing.deck, wall.placing.xyz, wall.placing.attitude.rpy) == (
        "upper", (0.0, 0.01, 0.02), (0.0, -math.pi / 2, 0.0))


def test_parts(layout: Layout) -> None:
    motor, eye = layout.placements["motor_left"].part, layout.placements["lidar"].part
    assert (motor.mass, motor.tapped, motor.screw, motor.bolts) == (0.2, 0.006, "M3", ((0.0, 0.0), (0.02, 0.0)))
    assert motor.bodies[0].form == CylinderForm(diameter=0.037, length=0.06, axis="y")
    assert motor.shafts["out"].axis == (0.0, 1.0, 0.0)
    assert motor.motor is not None
    assert (motor.motor.torque, motor.motor.speed) == (0.8, pytest.approx(4 * math.pi))
    wheel = layout.placements["wheel_left"].part.wheel
    assert wheel is not None
    assert (wheel.diameter, wheel.width, wheel.offset, wheel.friction, wheel.rollers) == (0.08, 0.026, 0.0254, 0.9, "left")
    assert (eye.about, eye.com, eye.flange) == ("a lidar", (0.0, 0.0, 0.018), 0.003)
    assert eye.inertia is not None
    assert (eye.inertia.ixx, eye.inertia.iyy, eye.inertia.ixy) == (1.2e-4, pytest.approx(1.3e-4), 0.0)
    assert [b.form for b in eye.bodies] == [BoxForm(size=(0.07, 0.07, 0.04)), SphereForm(diameter=0.02)]
    assert (eye.bodies[0].color, eye.bodies[1].color) == ((1, 0.5, 0, 1), (1, 0, 0, 128 / 255))
    scan, top, level = eye.sensors
    assert (scan.noise, top.noise, level.noise) == (0.005, None, (pytest.approx(math.radians(0.1)), 0.02))
    ball = layout.placements["nose"].part.caster
    assert ball is not None
    assert ball.friction == 0.05
    assert (scan.kind, scan.range, scan.samples, scan.rate, scan.zero_beam) == ("lidar", (0.15, 12.0), 720, 10.0, math.pi)
    assert (scan.fov, scan.layers, scan.angles, scan.topic) == (2 * math.pi, 1, "symmetric", "scan")
    assert (top.attitude.axes, top.fov, top.radiation) == ((("x", "up"), ("z", "back")), math.radians(30), "ultrasound")
    holder = layout.placements["holder"].part
    face = holder.seats["face"]
    assert [(b.at, b.hole, b.tapped) for b in face.bolts] == [((0, 0), None, 0.005), ((0, 0.01), 0.0034, None)]
    assert (face.adjust[0].axis, face.adjust[0].pivot, face.adjust[0].rest) == (
        (0.0, 1.0, 0.0), (0.012, 0.0, 0.01), math.radians(10))
    table = holder.seats["table"].lattice
    assert table is not None
    assert (table.pitch, table.hole, table.screw, table.origin) == (0.02, 0.0035, "M3", (0.005, 0.0))  # the language's own
    assert holder.bodies[1].moves_with == "face"


def test_placements_resolve_in_any_order_and_keep_the_files(layout: Layout) -> None:
    assert list(layout.placements) == ["wheel_right", "motor_right", "motor_left", "wheel_left", "lidar", "holder", "nose"]
    right, lidar, nose = (layout.placements[n] for n in ("wheel_right", "lidar", "nose"))
    assert (right.support, right.on, right.shaft, right.seat, right.at) == ("shaft", "motor_right", "out", None, None)
    assert (nose.support, nose.on, nose.seat, nose.at) == ("seat", "holder", "face", (0.0, 0.0))
    assert (lidar.at, lidar.turn, lidar.lift, lidar.spacer, lidar.spacer_density) == (
        (1.0, 0.0), -math.pi / 4, 0.005, "brass", 8440.0)
    assert (lidar.offset, lidar.frames, lidar.topics) == ((0, 0.0025, 0), {"scan": "laser"}, {"top": "up"})
    assert (lidar.fixing, lidar.note) == ("adhesive", "north side")
    assert layout.placements["holder"].settings == {"pitch": math.radians(15)}


def test_mirror(layout: Layout) -> None:
    left, right = layout.placements["motor_left"], layout.placements["motor_right"]
    assert (left.at, left.points, left.face) == ((0.5, 2.0), "left", "under")
    assert (right.at, right.points, right.face, right.part, right.mirror_of) == (
        (0.5, -2.0), "right", "under", left.part, "motor_left")


def mirrored(keys: str, image: str = "") -> object:
    return read("robot.yaml", text=f"""
layout: 1
robot: mirrors
parts: {{board: {{bodies: [{{box: [40, 30, 4]}}], bolts: [[0, 0], [20, 0]], sensors: {{eye: {{kind: imu}}}}}}}}
decks: {{lower: {{outline: {{circle: 180}}, thickness: 4}}}}
placements:
  image: {{mirror_of: first{image}}}
  again: {{mirror_of: image}}
  first: {{part: board, on: lower, {keys}}}
""").placements


@pytest.mark.parametrize(("keys", "image", "expected"), [
    ("at: [1, 2], turn: 30, offset: [1, 2, 3]", "", {"at": (1, -2), "turn": math.radians(-30), "offset": (0.001, -0.002, 0.003)}),
    ("at: [1, 0], points: forward", "", {"at": (1, 0), "points": "forward"}),
    ("points: right", "", {"points": "left"}),
    ("screws: [[1, 2], [2, 2]]", "", {"screws": ((1, -2), (2, -2)), "at": None}),
    ("at: [1, 2], turn: 30", ", at: [5, 5]", {"at": (5, 5), "turn": math.radians(-30)}),
    ("at: [1, 2], turn: 30", ", points: back", {"at": (1, -2), "points": "back", "turn": 0.0}),
    ("at: [1, 2], turn: 30", ", screws: [[0, 0], [1, 0]]", {"screws": ((0, 0), (1, 0)), "at": None, "turn": 0.0}),
    ("screws: [[1, 2], [2, 2]], mass: 12", ", at: [3, 3]", {"at": (3, 3), "screws": None, "mass": 0.012}),
    ("frame: imu_link, topic: imu/data", "", {"frames": {}, "topics": {}}),
])
def test_mirror_keys(keys: str, image: str, expected: dict[str, object]) -> None:
    placements = mirrored(keys, image)
    got = placements["image"]  # type: ignore[index]
    assert {k: getattr(got, k) for k in expected} == {k: pytest.approx(v) if k == "turn" else v for k, v in expected.items()}


def test_the_mirror_of_a_mirror_is_where_the_first_is() -> None:
    placements = mirrored("at: [1, 2], turn: 30, offset: [1, 2, 3]")
    first, again = placements["first"], placements["again"]  # type: ignore[index]
    assert (again.at, again.turn, again.offset) == (first.at, first.turn, first.offset)


def test_marks_name_line_column_and_path(layout: Layout) -> None:
    lines = ROBOT.splitlines()
    mark = layout.placements["lidar"].marks["at"]
    assert mark.path == ("placements", "lidar", "at")
    assert lines[mark.line - 1][mark.column - 1:].startswith("at: [1, 0]")
    assert str(mark) == f"robot.yaml:{mark.line}:{mark.column}"
    sensor = layout.placements["lidar"].part.sensors[0].mark
    assert lines[sensor.line - 1][sensor.column - 1:].startswith("{kind: lidar")
    assert sensor.path == ("parts", "eye", "sensors", "scan")


def test_defaults_are_those_of_the_language() -> None:
    layout = read("robot.yaml", text="layout: 1\nrobot: r\ndecks: {a: {outline: {circle: 100}, thickness: 4}}\n")
    assert (layout.lattice.pitch, layout.lattice.hole, layout.lattice.screw) == (0.02, 0.0035, "M3")
    assert (layout.ros.distro, layout.ros.control, layout.ros.odometry) == ("jazzy", "ros2_control", "controller")
    assert (layout.placements, layout.drive, layout.weighed) == ({}, None, None)


@pytest.mark.parametrize("path", ["no_such_layout.yaml", ".", "bad\0name.yaml"])
def test_files_that_cannot_be_opened(path: str) -> None:
    with pytest.raises(UsageError) as raised:
        read(path)
    assert "\n" not in str(raised.value)
