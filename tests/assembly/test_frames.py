"""Placement rules against cases worked by hand. Every number here is arithmetic on the layout beside it; angles and axes
follow REP-103 (x forward, y left, z up) and URDF's fixed-axis roll, pitch, yaw (wiki.ros.org/urdf/XML/joint)."""
from __future__ import annotations

import math

import numpy as np
import pytest

import chassis_describe as cd
from chassis_describe.space.pose import Pose

PARTS = """
parts:
  block: {mass: 100, bodies: [{box: [30, 20, 10], at: [0, 0, 5]}], bolts: [[-10, 0], [10, 0]]}
  cam:
    mass: 20
    bodies: [{box: [10, 20, 10], at: [0, 0, 5]}]
    sensors: {eye: {kind: camera, at: [6, 0, 5], fov: 60, resolution: [640, 480], range: [0.1 m, 5 m]}}
  scanner:
    mass: 100
    bodies: [{cylinder: [60, 40], at: [0, 0, 20]}]
    bolts: [[-10, 0], [10, 0]]
    sensors: {beam: {kind: lidar, at: [0, 0, 30], fov: 360, samples: 720, range: [0.1 m, 8 m], zero_beam: 180}}
  bracket:
    mass: 40
    bodies: [{box: [20, 20, 4], at: [0, 0, 2]}, {box: [4, 20, 20], at: [10, 0, 30], with: face}]
    bolts: [[-10, 0], [10, 0]]
    seats:
      face: {at: [10, 0, 30], adjust: [{name: pitch, axis: [0, 1, 0], pivot: [0, 0, 30], range: [-90, 90], rest: 0}]}
  standing_seat:
    mass: 40
    bodies: [{box: [20, 20, 4], at: [0, 0, 2]}]
    seats: {face: {at: [10, 0, 30], axes: {z: forward, x: up}}}
  motor:
    mass: 200
    bodies: [{box: [20, 40, 20], at: [0, 0, 10]}]
    bolts: [[-10, 0], [10, 0]]
    shafts: {out: {at: [30, 0, 12], axis: forward}}
    motor: {torque: 1, speed: 100}
  wheel: {mass: 50, wheel: {diameter: 80, width: 20, offset: 15}}
  ball: {mass: 20, caster: {ball: 20, at: [0, 0, 5]}, bodies: [{box: [20, 20, 5], at: [0, 0, 2.5]}], bolts: [[-10, 0], [10, 0]]}
"""
DECK = "  lower: {outline: {rectangle: [240, 160]}, thickness: 4, material: birch plywood}\n"


def robot(placements: str, decks: str = DECK, more: str = "") -> object:
    text = f"layout: 1\nrobot: trial\n{PARTS}\ndecks:\n{decks}\nplacements:\n{placements}\n{more}"
    return cd.assemble(cd.read("trial.yaml", text=text))


def close(pose: Pose, xyz: tuple[float, ...], axes: tuple[tuple[float, ...], ...] | None = None) -> None:
    """The pose by its origin in millimetres and the directions of its three axes."""
    np.testing.assert_allclose(np.array(pose.t) * 1e3, xyz, atol=1e-9)
    if axes is not None:
        np.testing.assert_allclose([pose.x_axis, pose.y_axis, pose.z_axis], axes, atol=1e-12)


FORWARD = ((1, 0, 0), (0, 1, 0), (0, 0, 1))


def test_top_face_hole_and_lift() -> None:
    a = robot("  b: {part: block, on: lower, at: [2, -1.5], lift: 12, turn: 90}")
    close(a.poses["b_link"], (40, -30, 12), ((0, 1, 0), (-1, 0, 0), (0, 0, 1)))
    assert a.poses["b_link"].r == (0.0, -1.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0), "quarter turns are exact"


def test_under_face_looks_down_and_keeps_forward() -> None:
    a = robot("  b: {part: block, on: lower, face: under, at: [2, 1], lift: 5}")
    close(a.poses["b_link"], (40, 20, -4 - 5), ((1, 0, 0), (0, -1, 0), (0, 0, -1)))


def test_turn_under_a_deck_is_counted_from_below() -> None:
    a = robot("  b: {part: block, on: lower, face: under, at: [0, 0], turn: 30}")
    c, s = math.cos(math.radians(30)), math.sin(math.radians(30))
    close(a.poses["b_link"], (0, 0, -4), ((c, -s, 0), (-s, -c, 0), (0, 0, -1)))


@pytest.mark.parametrize(("word", "direction"), [("forward", (1, 0, 0)), ("left", (0, 1, 0)), ("back", (-1, 0, 0)),
                                                 ("right", (0, -1, 0))])
@pytest.mark.parametrize("face", ["top", "under"])
def test_points_is_the_decks_own_direction_on_either_face(word: str, direction: tuple[float, ...], face: str) -> None:
    a = robot(f"  b: {{part: block, on: lower, face: {face}, at: [0, 0], points: {word}}}")
    np.testing.assert_allclose(a.poses["b_link"].x_axis, direction, atol=1e-15)


def test_offset_is_along_the_decks_axes_on_both_faces() -> None:
    for face, z in (("top", 0), ("under", -4)):
        a = robot(f"  b: {{part: block, on: lower, face: {face}, at: [1, 0], turn: 90, offset: [1, 2, 3]}}")
        close(a.poses["b_link"], (21, 2, z + 3))


def test_lattice_origin_and_pitch() -> None:
    a = robot("  b: {part: block, on: lower, at: [1, 2]}",
              "  lower: {outline: {rectangle: [240, 160]}, thickness: 4, material: acrylic, "
              "lattice: {pitch: 25, origin: [5, -5]}}\n")
    close(a.poses["b_link"], (30, 45, 0))


def test_deck_above_and_below() -> None:
    decks = DECK + ("  roof: {outline: {circle: 120}, thickness: 3, material: acrylic, above: lower, shift: [1, 1], turn: 90,\n"
                    "         standoffs: [{length: 60, holes: [[2, 1], [0, 1]]}]}\n"
                    "  keel: {outline: {circle: 120}, thickness: 2, material: acrylic, below: lower,\n"
                    "         standoffs: [{length: 30, holes: [[1, 0], [-1, 0]]}]}\n")
    a = robot("  b: {part: block, on: roof, at: [1, 0]}", decks)
    close(a.poses["roof_link"], (20, 20, 63), ((0, 1, 0), (-1, 0, 0), (0, 0, 1)))
    close(a.poses["keel_link"], (0, 0, -4 - 30))
    close(a.poses["b_link"], (20, 40, 63))
    lengths = sorted((b.pose.t[2], b.solid.length) for b in a.link_of["lower_link"].bodies)
    np.testing.assert_allclose(lengths, [(-0.019, 0.03)] * 2 + [(0.03, 0.06)] * 2, atol=1e-12)


def test_standoffs_on_another_deck_end_at_one_height() -> None:
    decks = DECK + ("  mid: {outline: {rectangle: [40, 40]}, thickness: 3, material: acrylic, above: lower,\n"
                    "        standoffs: [{length: 20, holes: [[0, 0]]}]}\n"
                    "  roof: {outline: {rectangle: [240, 160]}, thickness: 3, material: acrylic, above: mid,\n"
                    "         standoffs: [{length: 30, holes: [[0, 0]]}, {length: LONG, holes: [[3, 3]], on: lower}]}\n")
    a = robot("  b: {part: block, on: roof, at: [0, 0]}", decks.replace("LONG", "53"))
    close(a.poses["roof_link"], (0, 0, 23 + 30 + 3))
    with pytest.raises(cd.LayoutError, match="different heights"):
        robot("  b: {part: block, on: roof, at: [0, 0]}", decks.replace("LONG", "50"))


def test_standing_plate() -> None:
    decks = DECK + ("  panel: {outline: {rectangle: [80, 80]}, thickness: 3, material: acrylic, fixed_to: lower,\n"
                    "          xyz: [100, 0, 40], axes: {z: forward, x: up}}\n")
    a = robot("  b: {part: block, on: panel, at: [1, 0]}", decks)
    # z forward, x up: y = z × x = forward × up = right
    close(a.poses["panel_link"], (100, 0, 40), ((0, 0, 1), (0, -1, 0), (1, 0, 0)))
    close(a.poses["b_link"], (100, 0, 60))


def test_seat_at_rest_set_and_pivoted() -> None:
    text = "  h: {part: bracket, on: lower, at: [0.5, 0]SET}\n  c: {part: cam, on: h}"
    close(robot(text.replace("SET", "")).poses["c_link"], (20, 0, 30), FORWARD)
    # Pitched by 30° about a pivot 10 mm behind the seat: positive pitch looks down (REP-103, right-hand rule about y).
    a = robot(text.replace("SET", ", set: {pitch: 30}"))
    c, s = math.cos(math.radians(30)), math.sin(math.radians(30))
    close(a.poses["c_link"], (10 + 10 * c, 0, 30 - 10 * s), ((c, 0, -s), (0, 1, 0), (s, 0, c)))
    with_face = a.link_of["h_link"].bodies[1]
    np.testing.assert_allclose(np.array(with_face.pose.t) * 1e3, (10 * c, 0, 30 - 10 * s), atol=1e-9)
    np.testing.assert_allclose(with_face.pose.x_axis, (c, 0, -s), atol=1e-12)


def test_seat_with_axes_lift_turn_and_a_chain() -> None:
    a = robot("  s: {part: standing_seat, on: lower, at: [1, 1], turn: 90}\n"
              "  c: {part: cam, on: s, lift: 5, turn: 90}")
    # The seat's z points along the part's x, which the turn of 90 lays along base +y; its x points up.
    assert a.parts["c"].support_link == "s_link"
    close(a.poses["c_link"], (20, 20 + 10 + 5, 30), ((1, 0, 0), (0, 0, -1), (0, 1, 0)))


def test_wheels_turn_forward_about_plus_y_on_both_sides() -> None:
    a = robot("  ml: {part: motor, on: lower, face: under, at: [0, 2], points: left}\n"
              "  mr: {mirror_of: ml}\n  wl: {part: wheel, on: ml}\n  wr: {part: wheel, on: mr}\n"
              "  c: {part: ball, on: lower, face: under, at: [-4, 0], lift: 20}",
              more="drive: {kind: differential, left: [wl], right: [wr]}")
    # hole 2 is at y 40; shaft 30 out, wheel 15 further: 85; below the deck by its thickness 4 and 12.
    close(a.poses["wl_link"], (0, 85, 0), FORWARD)
    close(a.poses["wr_link"], (0, -85, 0), FORWARD)
    close(a.poses["lower_link"], (0, 0, 16), FORWARD)
    joints = {j.child: j for j in a.joints}
    for wheel in ("wl_link", "wr_link"):
        assert joints[wheel].type == "continuous"
        assert joints[wheel].axis == (0.0, 1.0, 0.0)
    assert joints["wl_link"].parent == "ml_link"
    np.testing.assert_allclose(a.parts["wr"].pose.y_axis, (0, -1, 0), atol=1e-15)
    assert a.drive.wheel_separation == pytest.approx(0.17, abs=1e-12)
    assert a.drive.wheel_radius == pytest.approx(0.04)
    assert a.root == "base_footprint"
    # contract of positive rotation: +1 rad/s about +y moves the lowest point backwards, the robot forwards
    assert np.cross((0, 1, 0), (0, 0, -1))[0] < 0


def test_sensor_frames_by_axes() -> None:
    a = robot("  s: {part: scanner, on: lower, at: [1, 0]}\n  c: {part: cam, on: lower, at: [3, 0]}")
    # zero beam backwards: the frame's x lies along the zero ray (REP-138)
    close(a.poses["s_frame"], (20, 0, 30), ((-1, 0, 0), (0, -1, 0), (0, 0, 1)))
    close(a.poses["c_frame"], (66, 0, 5), FORWARD)
    # REP-103 suffix frames: optical z forward, x right, y down
    close(a.poses["c_optical_frame"], (66, 0, 5), ((0, -1, 0), (0, 0, -1), (1, 0, 0)))
    by_place = {s.placement: s for s in a.sensors}
    assert by_place["c"].message_frame == "c_optical_frame"
    assert by_place["s"].message_frame == "s_frame"


def test_frame_names_of_drivers() -> None:
    a = robot("  s: {part: scanner, on: lower, at: [1, 0], frame: laser}\n"
              "  c: {part: cam, on: lower, at: [3, 0], frame: eye_optical}")
    assert {"laser", "c_frame", "eye_optical"} <= set(a.poses)
    assert "s_frame" not in a.poses
    joints = {j.name: j for j in a.joints}
    assert joints["laser_joint"].parent == "s_link"
    assert joints["eye_optical_joint"].parent == "c_frame"
    assert joints["s_joint"].child == "s_link"


def test_screws_place_a_part_by_its_holes() -> None:
    a = robot("  b: {part: block, on: lower, screws: [[3, 0], [3, 1]], points: left}")
    close(a.poses["b_link"], (60, 10, 0), ((0, 1, 0), (-1, 0, 0), (0, 0, 1)))
    under = robot("  b: {part: block, on: lower, face: under, screws: [[3, 0], [3, 1]], points: right}")
    close(under.poses["b_link"], (60, 10, -4), ((0, -1, 0), (-1, 0, 0), (0, 0, -1)))
    with pytest.raises(cd.LayoutError, match="2 ways"):
        robot("  b: {part: block, on: lower, screws: [[3, 0], [3, 1]]}")
    # a square pattern: two of its four holes leave the place open as well, all four only where it looks
    with pytest.raises(cd.LayoutError, match="8 ways") as several:
        robot("  b: {part: lidar_d70, on: lower, screws: [[2, 1], [4, 1]]}")
    assert several.value.findings[0].hint.startswith("name the holes of all 4 bolts and say which way it looks")
    robot("  b: {part: lidar_d70, on: lower, screws: [[2, 1], [4, 1], [2, -1], [4, -1]], points: forward}")
    with pytest.raises(cd.LayoutError, match="no attitude"):
        robot("  b: {part: block, on: lower, screws: [[3, 0], [3, 2]]}")


def test_without_ground_base_link_is_the_root_and_the_base_decks_frame() -> None:
    a = robot("  b: {part: block, on: lower, at: [0, 0]}")
    assert a.root == "base_link"
    close(a.poses["lower_link"], (0, 0, 0), FORWARD)


def test_prefix_stands_before_every_name() -> None:
    text = f"layout: 1\nrobot: trial\n{PARTS}\ndecks:\n{DECK}\nplacements:\n  s: {{part: scanner, on: lower, frame: laser}}"
    a = cd.assemble(cd.read("trial.yaml", text=text), prefix="r1_")
    assert all(name.startswith("r1_") for name in [*a.poses, *(j.name for j in a.joints)])
