"""The built-in parts: every one reads, fits where ``parts`` says, and lies and looks the way its kind must.

Outside references: REP-103 (x forward, y left, z up; optical frames z forward, x right, y down), REP-145 (an inertial
sensor that lies flat reads +g along z), REP-138 and sensor_msgs/LaserScan (zero beam along x), ISO 273 (clearance
holes), ISO 261 (nominal diameters). The range of densities is our own sanity bound: between foam and solid steel.
"""
from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
import yaml

import chassis_describe as cd
from chassis_describe.assembly.fitting import lattice_fit
from chassis_describe.assembly.model import Assembly, bounds
from chassis_describe.assembly.seats import seat_moves
from chassis_describe.assembly.weigh import weigh_part
from chassis_describe.facts.bolting import bolts_of
from chassis_describe.layout.catalogue import builtin_names, builtin_part
from chassis_describe.layout.model import Part
from chassis_describe.space.solids import Box, Cylinder

FOLDER = Path(cd.__file__).parent / "catalogue"
NAMES = builtin_names()
PARTS: dict[str, Part] = {name: part for name in NAMES if (part := builtin_part(name)) is not None}
#: Wheels have the origin in their middle and go on shafts; everything else stands on its base plane.
STANDING = [name for name, part in PARTS.items() if part.wheel is None]
#: ISO 261 nominal diameter and ISO 273 fine clearance hole, mm (reproductions; the standards' texts are not free).
SCREWS = {"M2": (2.0, 2.2), "M2.5": (2.5, 2.7), "M3": (3.0, 3.2)}


def robot(placements: str, parts: str = "") -> Assembly:
    """A plate of 600 mm in both directions, drilled all over, with placements."""
    text = ("layout: 1\nrobot: bench\n" + parts +
            "decks:\n  plate: {outline: {rectangle: [600, 600]}, thickness: 4, material: aluminium}\n"
            "placements:\n" + placements)
    return cd.assemble(cd.read("bench.yaml", text=text))


def own_bodies(part: Part) -> tuple:
    return weigh_part(part, moves=seat_moves(part, {}), mass=None, spacers=0.0, spacer_density=0.0).bodies


def inside(point: np.ndarray, body: object) -> bool:
    """Strictly inside a solid, by its own definition."""
    local = np.array(body.pose.r).reshape(3, 3).T @ (point - np.array(body.pose.t))
    if isinstance(body.solid, Box):
        return bool((np.abs(local) < np.array(body.solid.size) / 2).all())
    if isinstance(body.solid, Cylinder):
        return bool(np.hypot(local[0], local[1]) < body.solid.radius and abs(local[2]) < body.solid.length / 2)
    return bool(np.linalg.norm(local) < body.solid.radius)


# ---------------------------------------------------------------------------------------------------------------- reading
def test_there_is_something_of_every_kind() -> None:
    kinds = {s.kind for p in PARTS.values() for s in p.sensors}
    assert kinds == {"lidar", "camera", "depth_camera", "ranger", "imu", "gnss", "contact"}
    assert len(NAMES) >= 35 and len(PARTS) == len(NAMES)
    assert {s.radiation for p in PARTS.values() for s in p.sensors if s.kind == "ranger"} == {"ultrasound", "infrared"}
    assert {p.wheel.rollers for p in PARTS.values() if p.wheel} == {None, "left", "right", "across"}
    assert {p.caster.kind for p in PARTS.values() if p.caster} == {"ball", "wheel"}
    assert any(s.layers == 16 for p in PARTS.values() for s in p.sensors)
    assert any(len(p.sensors) == 2 for p in PARTS.values()), "a stereo camera"
    assert sum(1 for p in PARTS.values() if p.motor) >= 3


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.yaml")), ids=lambda p: p.name)
def test_files_say_that_they_are_invented_and_have_the_plain_form(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert text.startswith("# Invented parts")
    assert text.isascii() and max(map(len, text.splitlines())) <= 120
    # The look-up at start-up finds parts by their lines; an independent YAML reader must find the same ones.
    by_line = re.findall(r"^  ([a-z][a-z0-9_]*):", text, re.MULTILINE)
    assert by_line == list(yaml.safe_load(text)["parts"])
    assert set(by_line) <= set(NAMES)


@pytest.mark.parametrize("name", NAMES)
def test_every_part_reads_and_says_what_it_is(name: str) -> None:
    part = PARTS[name]
    assert (part.about and part.mass is not None) or part.bodies
    assert 10 < len(part.about) < 120


# ------------------------------------------------------------------------------------------------------------- the lattice
@pytest.mark.parametrize("name", [n for n in STANDING if PARTS[n].bolts])
def test_the_rule_that_is_printed_holds_and_is_complete(name: str) -> None:
    """Every half-hole position and quarter turn is tried on a real lattice: those of the rule fit, no other does."""
    rule = {(p.i, p.j, p.quarter) for p in lattice_fit(PARTS[name], 0.020, 0.0035).places}
    tried = [(i, j, q) for i in (0.0, 0.5) for j in (0.0, 0.5) for q in range(4)]
    lines = "".join(f"  p{k}: {{part: {name}, on: plate, at: [{2 + i}, {-3 + j}], turn: {90 * q}}}\n"
                    for k, (i, j, q) in enumerate(tried))
    off: dict[str, list[bool]] = {}
    for bolt in bolts_of(robot(lines)):
        off.setdefault(bolt.user, []).append(
            bolt.hole is None or not bolt.hole.exists or bolt.distance > bolt.clearance + 1e-9)
    fits = {place for k, place in enumerate(tried) if not any(off[f"p{k}"])}
    assert fits == {p for p in rule if p[0] in (0.0, 0.5) and p[1] in (0.0, 0.5)}
    assert all(p in fits for p in rule)


@pytest.mark.parametrize("name", STANDING)
def test_what_fits_no_lattice_names_a_holder_that_it_fits(name: str) -> None:
    part = PARTS[name]
    if lattice_fit(part, 0.020, 0.0035).places or not re.search(r"(use|into) ([a-z0-9_]+)$", part.about):
        assert part.bolts or "adhesive" in part.about or "strap" in part.about
        return
    holder = re.search(r"(?:use|into) ([a-z0-9_]+)$", part.about)
    assert holder is not None
    fixing = "" if part.bolts else ", fixing: strap"
    found = robot(f"  holder: {{part: {holder.group(1)}, on: plate}}\n  it: {{part: {name}, on: holder{fixing}}}\n")
    bolts = [b for b in bolts_of(found) if b.user == "it"]
    assert len(bolts) == len(part.bolts)
    assert all(b.hole is not None and b.distance <= b.clearance + 1e-9 for b in bolts)
    assert not [f for f in cd.check(found) if f.code in ("bodies-overlap", "bolt-off-hole", "screw-too-big")]


def test_only_known_parts_fit_no_lattice() -> None:
    """Anything else that stops fitting is a slip of the pen."""
    assert {n for n in STANDING if PARTS[n].bolts and not lattice_fit(PARTS[n], 0.020, 0.0035).places} == {
        "computer_small", "computer_mini"}


@pytest.mark.parametrize("name", [n for n in STANDING if PARTS[n].bolts])
def test_screws_pass_their_holes(name: str) -> None:
    part = PARTS[name]
    nominal, fine = SCREWS[part.screw or "M3"]
    assert nominal <= 3.5
    if part.bolt_hole is not None:
        assert fine <= part.bolt_hole * 1e3 <= 3.5
    for seat in part.seats.values():
        for bolt in seat.bolts:
            assert (bolt.hole is None) != (bolt.tapped is None)


# ------------------------------------------------------------------------------------------------------------------ bodies
@pytest.mark.parametrize("name", NAMES)
def test_density_is_plausible(name: str) -> None:
    part = PARTS[name]
    weighed = weigh_part(part, moves=seat_moves(part, {}), mass=None, spacers=0.0, spacer_density=0.0)
    low, high = bounds(weighed.bodies)
    assert weighed.inertial is not None
    density = weighed.inertial.mass / float(np.prod(np.array(high) - np.array(low)))
    assert 100 <= density <= 4000
    assert all(lo - 1e-9 <= c <= hi + 1e-9 for lo, c, hi in zip(low, weighed.inertial.com, high))


@pytest.mark.parametrize("name", STANDING)
def test_nothing_dips_below_the_base_plane(name: str) -> None:
    low, _ = bounds(own_bodies(PARTS[name]))
    assert low[2] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_bodies_hang_together(name: str) -> None:
    """From each body one gets to every other through bodies whose bounds touch (by bounds: enough to find a slip)."""
    boxes = [bounds([b]) for b in own_bodies(PARTS[name]) if b.visible]
    reached, left = {0}, set(range(1, len(boxes)))
    while True:
        near = {k for k in left for r in reached
                if all(boxes[k][0][a] <= boxes[r][1][a] + 1e-6 and boxes[r][0][a] <= boxes[k][1][a] + 1e-6
                       for a in range(3))}
        if not near:
            break
        reached |= near
        left -= near
    assert not left


@pytest.mark.parametrize("name", [n for n, p in PARTS.items() if p.keep_clear])
def test_clear_space_is_beside_the_part(name: str) -> None:
    part = PARTS[name]
    for clear in part.keep_clear:
        assert not any(inside(np.array(clear.at), body) for body in own_bodies(part))


@pytest.mark.parametrize(("name", "height"), [("ball_caster_h40", 40), ("ball_caster_h15", 15), ("swivel_caster_h45", 45),
                                         ("swivel_caster_h70", 70)])
def test_casters_are_as_high_as_their_names(name: str, height: int) -> None:
    part = PARTS[name]
    assert part.caster is not None
    assert (part.caster.at[2] + part.caster.diameter / 2) * 1e3 == pytest.approx(height)
    assert bounds(own_bodies(part))[1][2] * 1e3 == pytest.approx(height)
    if part.caster.kind == "wheel":  # trailing: the axle behind the swivel axis when it drives forward
        assert part.caster.at[0] == pytest.approx(-part.caster.trail)


@pytest.mark.parametrize("name", [n for n, p in PARTS.items() if p.wheel])
def test_wheels_are_as_large_as_their_names_and_balanced(name: str) -> None:
    part = PARTS[name]
    assert part.wheel is not None
    assert f"d{part.wheel.diameter * 1e3:.0f}" in name.split("_")
    weighed = weigh_part(part, moves={}, mass=None, spacers=0.0, spacer_density=0.0)
    assert weighed.inertial is not None and weighed.inertial.com == pytest.approx((0, 0, 0), abs=1e-12)


# ----------------------------------------------------------------------------------------------------------------- sensing
SENSORS = [(n, s.name) for n, p in PARTS.items() for s in p.sensors]


@pytest.mark.parametrize(("name", "sensor"), SENSORS)
def test_origins_are_outside_the_case_and_look_away_from_it(name: str, sensor: str) -> None:
    part = PARTS[name]
    found = next(s for s in part.sensors if s.name == sensor)
    bodies = own_bodies(part)
    if found.kind == "lidar":  # its rotor turns inside its own case; the scan plane must cut that case
        low, high = bounds(bodies)
        assert low[2] < found.at[2] < high[2]
        return
    assert not any(inside(np.array(found.at), b) for b in bodies)
    if found.kind in ("camera", "depth_camera", "ranger", "contact"):
        facet = robot(f"  it: {{part: {name}, on: plate, turn: 30, fixing: adhesive}}\n").sensors
        pose = next(f for f in facet if f.sensor.name == sensor)
        here = robot(f"  it: {{part: {name}, on: plate, fixing: adhesive}}\n").sensors
        ahead = np.array(next(f for f in here if f.sensor.name == sensor).pose.x_axis)
        for step in np.linspace(0.0, 0.3, 301):
            assert not any(inside(np.array(found.at) + step * ahead, b) for b in bodies)
        assert pose.pose.x_axis != pytest.approx(tuple(ahead)) or abs(ahead[2]) == pytest.approx(1.0)


LOOKING = {"camera_module": "upright_holder", "ultrasonic_ranger": "upright_holder",
           "infrared_ranger": "upright_holder", "depth_camera": "tilting_holder", "stereo_camera": "tilting_holder",
           "camera_cased": "two_axis_holder"}


def test_every_camera_and_ranger_is_in_the_list() -> None:
    assert set(LOOKING) == {n for n, p in PARTS.items()
                            if any(s.kind in ("camera", "depth_camera", "ranger") for s in p.sensors)}


@pytest.mark.parametrize(("name", "holder"), LOOKING.items())
def test_at_rest_on_its_holder_it_looks_forward_and_level(name: str, holder: str) -> None:
    """REP-103: the body's x forward, z up; the optical frame's z forward, x right, y down."""
    found = robot(f"  holder: {{part: {holder}, on: plate}}\n  it: {{part: {name}, on: holder}}\n")
    for facet in found.sensors:
        assert facet.pose.x_axis == (1.0, 0.0, 0.0)
        assert facet.pose.z_axis == (0.0, 0.0, 1.0)
        if facet.optical_frame:
            optical = found.poses[facet.optical_frame]
            assert optical.z_axis == (1.0, 0.0, 0.0)
            assert optical.x_axis == (0.0, -1.0, 0.0)
            assert optical.y_axis == (0.0, 0.0, -1.0)
    assert not [b for b in bolts_of(found) if b.distance > b.clearance + 1e-9]


def test_stereo_eyes_are_sixty_apart_left_on_the_left() -> None:
    left, right = robot("  it: {part: stereo_camera, on: plate}\n").sensors
    assert (left.sensor.name, right.sensor.name) == ("left", "right")
    assert np.array(left.pose.t) - np.array(right.pose.t) == pytest.approx([0, 0.060, 0])


def test_leaning_holder_lifts_the_view_by_ten_degrees() -> None:
    (facet,) = robot("  holder: {part: leaning_holder, on: plate}\n  it: {part: ultrasonic_ranger, on: holder}\n").sensors
    angle = np.radians(10)
    assert facet.pose.x_axis == pytest.approx((np.cos(angle), 0, np.sin(angle)))
    assert facet.sensor.fov is not None and facet.sensor.fov / 2 < angle  # the whole cone points above the horizon


@pytest.mark.parametrize(("face", "reading"), [("top", 1.0), ("under", -1.0)])
def test_inertial_board_lying_flat_reads_plus_g_on_z(face: str, reading: float) -> None:
    """REP-145: at rest with z up the accelerometer reads +g on z. Specific force at rest is g straight up."""
    (facet,) = robot(f"  it: {{part: imu_board, on: plate, face: {face}, at: [0.5, 0.5]}}\n").sensors
    up_in_sensor = np.array(facet.pose.r).reshape(3, 3).T @ np.array([0, 0, 9.80665])
    assert up_in_sensor == pytest.approx([0, 0, reading * 9.80665])


@pytest.mark.parametrize(("name", "zero"), [("lidar_d70", 1.0), ("lidar_d60_zero_back", -1.0), ("lidar_16_layers", 1.0),
                                       ("lidar_front_half", 1.0)])
def test_lidars_scan_level_with_the_zero_beam_where_they_say(name: str, zero: float) -> None:
    (facet,) = robot(f"  it: {{part: {name}, on: plate}}\n").sensors
    assert facet.pose.x_axis == pytest.approx((zero, 0, 0), abs=1e-15)
    assert facet.pose.z_axis == (0.0, 0.0, 1.0)
    assert ("zero beam" in PARTS[name].about) == (name != "lidar_front_half")


@pytest.mark.parametrize(("value", "down"), [(15, 15), (-30, -30), (60, 60)])
def test_tilting_holder_looks_down_for_positive_pitch(value: float, down: float) -> None:
    """REP-103: a positive turn about y (left) takes x towards -z."""
    found = robot(f"  holder: {{part: tilting_holder, on: plate, set: {{pitch: {value}}}}}\n"
                  "  it: {part: depth_camera, on: holder}\n")
    x = found.sensors[0].pose.x_axis
    assert np.degrees(np.arctan2(-x[2], x[0])) == pytest.approx(down)
    assert not [f for f in cd.check(found) if f.code == "bodies-overlap"]


@pytest.mark.parametrize(("pan", "tilt"), [(0, 20), (40, 0), (40, -20), (-90, 30)])
def test_two_axis_holder_pans_left_then_tilts(pan: float, tilt: float) -> None:
    found = robot(f"  holder: {{part: two_axis_holder, on: plate, set: {{pan: {pan}, tilt: {tilt}}}}}\n"
                  "  it: {part: camera_cased, on: holder}\n")
    p, t = np.radians([pan, tilt])
    assert found.sensors[0].pose.x_axis == pytest.approx(
        (np.cos(p) * np.cos(t), np.sin(p) * np.cos(t), -np.sin(t)))
    assert not [f for f in cd.check(found) if f.code == "bodies-overlap"]


# --------------------------------------------------------------------------------------------------------------------- use
MATES = [("gearmotor_d37", "wheel_d80"), ("gearmotor_d37", "wheel_mecanum_d100_left"), ("gearmotor_d37", "wheel_d120"),
         ("gearmotor_d25", "wheel_d80"), ("gearmotor_d25", "wheel_d65"), ("gearmotor_plastic", "wheel_d65")]


@pytest.mark.parametrize(("motor", "wheel"), MATES)
def test_wheels_clear_the_bracket_and_reach_the_shaft(motor: str, wheel: str) -> None:
    """Offsets along the shaft by hand: the tread starts outside the bracket's face and the shaft ends in the wheel."""
    shaft = next(iter(PARTS[motor].shafts.values()))
    made = PARTS[wheel].wheel
    assert made is not None
    inner = shaft.at[0] + made.offset - made.width / 2
    high = bounds(own_bodies(PARTS[motor]))[1][0]
    assert inner >= shaft.at[0]
    assert inner < high <= shaft.at[0] + made.offset + made.width / 2


@pytest.mark.parametrize("name", [n for n, p in PARTS.items() if p.seats and n not in (
    "battery_cradle_small", "battery_cradle_large")])
def test_seats_lie_on_a_face_of_their_part(name: str) -> None:
    """Just behind the seat there is material, just before it none; a seat without holes only carries bodies, such as a finger."""
    part = PARTS[name]
    found = robot(f"  it: {{part: {name}, on: plate}}\n")
    for seat, pose in found.parts["it"].seats.items():
        if not part.seats[seat].bolts and part.seats[seat].lattice is None:
            continue
        out, at = np.array(pose.z_axis), np.array(pose.t)
        if name == "adapter_58x49":  # the face is four pillars
            at = at + np.array([0.029, 0.0245, 0])
        bodies = own_bodies(part)
        assert any(inside(at - 0.0005 * out, b) for b in bodies)
        assert not any(inside(at + 0.0005 * out, b) for b in bodies)
