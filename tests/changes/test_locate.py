"""`locate`: what is measured on a robot that is built otherwise than the file says is found again.

The true pose of every case is that of a second layout, in which the part really is where it was put; noise is put on it as a rigid
motion about the part's origin in the plane of its support, so that shift and twist are known beforehand. Numbers are invented.
"""
from __future__ import annotations

import json
import math
import random
from pathlib import Path
from typing import Any

import pytest

from chassis_describe import compiler, locating
from chassis_describe.assembly.model import Assembly
from chassis_describe.changes.goal import goal_of
from chassis_describe.changes.locate import locate
from chassis_describe.changes.located import Located, located_data
from chassis_describe.changes.measured import Measured, rotation_from_quaternion
from chassis_describe.cli.main import main
from chassis_describe.errors import LayoutError, UsageError
from chassis_describe.space.pose import Pose, about_axis, from_rpy, rot_z, translation

TOP = Path(__file__).resolve().parents[2]
SCOUT = TOP / "config" / "draught_scout.yaml"
#: Two decks; a sensor whose eye is off its middle and looks askew; a holder with a slide, a pan and a pitch.
LAYOUT = """
layout: 1
robot: finder
lattice: {{pitch: {pitch}, hole: 3.5, screw: M3}}
decks:
  lower: {{outline: {{rectangle: [{long}, {wide}], corner: 5}}, thickness: 4, material: birch plywood, skip: {skip}}}
  upper: {{outline: {{circle: {wide}}}, thickness: 3, material: acrylic, above: lower, turn: {deck_turn},
          standoffs: [{{length: 60, holes: [[-2, -2], [-2, 2], [2, -2], [2, 2]]}}]}}
parts:
  eye:
    mass: 50
    bodies: [{{box: [30, 24, 20], at: [0, 0, 10]}}]
    bolts: [{bolts}]
    sensors: {{eye: {{kind: camera, at: [7, -4, 15], rpy: [0, 10, 25], fov: 60}}}}
  arm:
    mass: 40
    bodies: [{{box: [30, 24, 6], at: [0, 0, 3]}}]
    bolts: [{bolts}]
    seats:
      end:
        at: [3, 2, 30]
        bolts: [{{at: [-10, -10], hole: 3.2}}, {{at: [10, 10], hole: 3.2}}]
        adjust:
          - {{name: reach, kind: slide, axis: forward, range: [0, 12]}}
          - {{name: pitch, axis: [0, 1, 0], range: [-80, 80]}}
  cube:
    mass: 20
    bodies: [{{box: [26, 26, 10], at: [0, 0, 5]}}]
    bolts: [[-10, -10], [10, 10]]
    bolt_hole: 3.2
    sensors: {{cube: {{kind: camera, at: [5, 3, 8], rpy: [0, 0, 0], fov: 60}}}}
placements:
  {placement}: {{part: {part}, on: {on}, face: {face}, at: {at}, turn: {turn}{more}}}
  {child}
"""
DRAWN: dict[str, Any] = {"pitch": 20, "long": 200, "wide": 160, "deck_turn": 0, "skip": [], "bolts": "[-10, -10], [10, -10], [10, 10]",
                         "placement": "eye", "part": "eye", "on": "lower", "face": "top", "at": [0.5, 1.5], "turn": 0,
                         "more": "", "child": ""}


def built(**changes: Any) -> Assembly:
    return compiler.assemble(compiler.read("finder.yaml", text=LAYOUT.format(**{**DRAWN, **changes}).encode()))


def pose_of(robot: Assembly, frame: str) -> Pose:
    return robot.poses[frame]


def measured(robot: Assembly, frame: str = "eye_optical_frame", start: str = "base_link", **more: Any) -> Measured:
    pose = robot.poses[start].inverse() @ robot.poses[frame]
    return Measured(xyz=pose.t, rotation=pose.r, start=start, **more)


def noisy(robot: Assembly, placement: str, frame: str, shift: float, twist: float, way: float) -> Measured:
    """The frame after the part was shifted and twisted in the plane of its support."""
    part = robot.parts[placement].pose
    moved = part @ translation(shift * math.cos(way), shift * math.sin(way), 0.0) @ Pose(rot_z(twist))
    pose = moved @ part.inverse() @ robot.poses[frame]
    return Measured(xyz=pose.t, rotation=pose.r)


def first(found: Located) -> dict[str, Any]:
    return located_data(found)["candidates"][0]


CASES = 8


@pytest.mark.parametrize("case", range(CASES))
def test_every_mounting_of_random_layouts_is_found_within_its_play(case: int) -> None:
    draw = random.Random(case)
    pitch = draw.choice((10, 15, 20, 25.4))
    half = pitch / 2
    base = {"pitch": pitch, "long": pitch * 10, "wide": pitch * 8, "deck_turn": draw.choice((0, 0, 90, 180)),
            "bolts": f"[{-half}, {-half}], [{half}, {-half}], [{half}, {half}]"}
    there = {"on": draw.choice(("lower", "upper")), "face": draw.choice(("top", "under")), "turn": draw.choice((0, 90, 180, -90)),
             "at": [draw.randrange(-2, 1) + 0.5, draw.randrange(-2, 1) + 0.5]}
    drawn, true = built(**base), built(**base, **there)
    exact = locate(drawn, "eye", measured(true))
    assert {k: first(exact)[k] for k in ("on", "face", "at", "turn")} == there
    assert first(exact)["within_play"]
    assert first(exact)["shift_mm"] < 1e-6
    play, turn = first(exact)["play_mm"] * 1e-3, math.radians(first(exact)["play_deg"])
    assert play > 0.2e-3  # 3.5 mm holes, M3: 0.25 mm a hole
    way, share = draw.uniform(0, math.tau), draw.uniform(0.2, 0.99)
    within = locate(drawn, "eye", noisy(true, "eye", "eye_optical_frame", share * play, share * turn, way))
    assert {k: first(within)[k] for k in ("on", "face", "at", "turn")} == there
    assert first(within)["within_play"]
    assert first(within)["shift_mm"] == pytest.approx(share * play * 1e3, abs=1e-5)
    assert abs(first(within)["twist_deg"]) == pytest.approx(math.degrees(share * turn), abs=1e-5)
    for shift, twist in ((1.02 * play, 0.0), (0.0, -1.02 * turn), (pitch * 0.4e-3, 0.0)):
        outside = locate(drawn, "eye", noisy(true, "eye", "eye_optical_frame", shift, twist, way))
        assert not any(m.within_play for m in outside.candidates)
        assert outside.verdict.startswith("not on the lattice: ")
        assert {k: first(outside)[k] for k in ("on", "face", "at", "turn")} == there or shift > 0.3 * pitch * 1e-3


@pytest.mark.parametrize(("there", "verdict"), [
    ({}, "as drawn, within play"),
    ({"at": [1.5, 1.5]}, "another hole: lower [1.5, 1.5], turn 0, within play"),
    ({"at": [0.5, -1.5]}, "mirrored: lower [0.5, -1.5], turn 0, within play"),
    ({"turn": 90}, "turned otherwise: lower [0.5, 1.5], turn 90, within play"),
    ({"face": "under"}, "hung from the other face: lower [0.5, 1.5] (under), turn 0, within play"),
    ({"on": "upper"}, "another hole: upper [0.5, 1.5], turn 0, within play"),
    ({"more": ", lift: 7"}, "not on the lattice: nearest is lower [0.5, 1.5], turn 0, 0 mm off and 7 mm too high, which is more than "
                            "its play"),
    ({"more": ", offset: [0, 0, 0.2]"}, "as drawn, within play"),
])
def test_slips_are_named(there: dict[str, Any], verdict: str) -> None:
    assert locate(built(), "eye", measured(built(**there))).verdict == verdict


def test_an_absent_hole_is_never_a_candidate() -> None:
    """[1, 1] is skipped, so no bolt can be there: the part over it is elsewhere than on the lattice."""
    found = locate(built(at=[-0.5, -0.5], skip=[[1, 1]]), "eye", measured(built(at=[0.5, 0.5])))
    assert not any(m.within_play for m in found.candidates)
    assert not any(m.on == "lower" and m.face == "top" and m.turn == 0.0 and m.at == (0.5, 0.5) for m in found.candidates)


def test_what_is_not_given_is_not_judged() -> None:
    drawn, true = built(), built(on="upper", at=[-0.5, 0.5])
    whole = pose_of(true, "eye_optical_frame")
    place = locate(drawn, "eye", Measured(xyz=whole.t))
    assert (first(place)["on"], first(place)["at"]) == ("upper", [-0.5, 0.5])
    flat = locate(drawn, "eye", Measured(xyz=(whole.t[0], whole.t[1], None)))
    assert {m.on for m in flat.alike} == {"upper", "lower"}  # one above the other: only the height tells them apart
    assert " or " in flat.verdict
    here = pose_of(drawn, "eye_optical_frame")
    assert locate(drawn, "eye", Measured(xyz=(here.t[0], here.t[1], None))).verdict == "as drawn, within play"
    heading = locate(drawn, "eye", Measured(yaw=here.rpy[2] + math.radians(90)))
    assert first(heading)["turn"] == 90.0
    assert locate(drawn, "eye", Measured(yaw=here.rpy[2])).verdict == "as drawn, within play"


def test_what_fits_as_well_is_counted_to_the_last_hole() -> None:
    """A heading alone fits every hole: three corners of a square of holes, by hand on the plate (9 by 7 holes) and on the disc."""
    drawn = built()
    found = locate(drawn, "eye", Measured(yaw=pose_of(drawn, "eye_optical_frame").rpy[2] + math.radians(90)))
    holes = {(i, j) for i in range(-4, 5) for j in range(-4, 5) if math.hypot(20 * i, 20 * j) + 1.75 <= 80}
    on_disc = sum({(i, j), (i + 1, j), (i + 1, j + 1)} <= holes for i, j in holes)
    assert f" or {8 * 6 + on_disc - 3} more, within play" in found.verdict


def test_nothing_within_play_is_left_out_for_being_far_down_the_list() -> None:
    """The lidar of the demo measures from its middle, so a place seen from above fits two decks, two faces and four turns."""
    found = locate(compiler.assemble(compiler.read(SCOUT)), "lidar", Measured(xyz=(0.01, 0.0, None)))
    explains = {(m.on, m.face, m.at, round(math.degrees(m.turn))) for m in found.candidates if m.within_play}
    assert len(explains) == 2 * 2 * 4
    assert " or 13 more, within play" in found.verdict


ARM = {"placement": "arm", "part": "arm", "child": "cube: {part: cube, on: arm}"}


@pytest.mark.parametrize(("reach", "pitch", "at"), [(0, 0, [0.5, 1.5]), (7.5, -33.3, [0.5, 1.5]), (12, 61, [-1.5, 0.5]), (0, 15, [2.5, -0.5])])
def test_adjustments_are_found(reach: float, pitch: float, at: list[float]) -> None:
    drawn = built(**ARM, more=", set: {reach: 3, pitch: 5}")
    true = built(**{**ARM, "at": at}, more=f", set: {{reach: {reach}, pitch: {pitch}}}")
    found = first(locate(drawn, "arm", measured(true, "cube_optical_frame", of="cube")))
    assert found["at"] == at
    assert found["within_play"]
    assert found["set"] == {"reach": pytest.approx(reach, abs=1e-3), "pitch": pytest.approx(pitch, abs=1e-3)}
    with pytest.raises(UsageError, match="moves with `arm`"):
        locate(drawn, "arm", measured(true, "cube_optical_frame", start="arm_link"))


def test_a_reading_within_play_leaves_the_adjustments_as_written() -> None:
    drawn = built(**ARM, more=", set: {reach: 3, pitch: 5}")
    found = locate(drawn, "arm", noisy(drawn, "arm", "cube_optical_frame", 0.2e-3, 0.001, 1.0))
    assert found.verdict == "as drawn, within play"
    assert first(found)["set"] == {"reach": 3.0, "pitch": 5.0}


def test_what_is_out_of_range_is_no_adjustment() -> None:
    drawn = built(**ARM)
    true = measured(built(**ARM, more=", set: {pitch: 80}"), "cube_optical_frame")
    assert true.rotation is not None
    further = Pose(true.rotation, true.xyz) @ Pose(about_axis((1.0, 0.0, 0.0), math.radians(-20)))  # type: ignore[arg-type]
    found = locate(drawn, "arm", true._replace(rotation=further.r))
    assert all(-80.0 <= m.settings()["pitch"] <= 80.0 for m in found.candidates)


def test_taped_parts_have_no_figure_of_play() -> None:
    drawn = built(more=", fixing: adhesive")
    found = first(locate(drawn, "eye", measured(drawn)))
    assert (found["play_mm"], found["play_deg"], found["within_play"]) == (None, None, True)
    assert not first(locate(drawn, "eye", noisy(drawn, "eye", "eye_optical_frame", 0.2e-3, 0.0, 0.0)))["within_play"]


def test_a_calibrated_sensor_is_judged_by_where_it_is_bolted() -> None:
    plain = built()
    nominal = plain.poses["lower_link"].inverse() @ plain.sensors[0].pose
    xyz, rpy = [round(v * 1e3, 4) for v in nominal.t], [round(math.degrees(v), 4) for v in nominal.rpy]
    written = f", calibrated: {{nominal: {{xyz: {xyz}, rpy: {rpy}}}, xyz: [0, 3, 0]}}"
    found = locate(built(more=written), "eye", measured(plain))
    assert found.verdict == "as drawn, within play"
    assert first(found)["shift_mm"] < 0.01


# ------------------------------------------------------------------------------------------------------------- command
def ask(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, dict[str, Any]]:
    code = main(["locate", *words, "--json"])
    return code, json.loads(capsys.readouterr().out)


def test_the_answer_is_written_as_a_move(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What `frames` prints of the robot with the lidar two holes over, in metres: 40 mm further forward."""
    path = tmp_path / "scout.yaml"
    path.write_bytes(SCOUT.read_bytes())
    pose = ("--xyz", "0.0101,0.0002,0.1185", "--rpy", "0,0,179.8")
    code, found = ask(capsys, str(path), "lidar", *pose)
    assert code == 0
    assert path.read_bytes() == SCOUT.read_bytes()
    assert list(found) == ["verdict", "candidates"]
    assert list(found["candidates"][0]) == ["on", "face", "at", "turn", "set", "shift_mm", "twist_deg", "z_mm", "tilt_deg", "play_mm",
                                            "play_deg", "within_play"]
    assert found["candidates"][0]["at"] == [2.0, 0.0]
    assert ask(capsys, str(path), "lidar", *pose, "--write", "--calibrate")[0] == 0
    old, new = SCOUT.read_text().splitlines(), path.read_text().splitlines()
    assert [a for a, b in zip(old, new) if a != b] == [line for line in old if line.startswith("  lidar:")]
    robot = compiler.assemble(compiler.read(path))
    facet = next(s for s in robot.sensors if s.placement == "lidar")
    assert robot.parts["lidar"].at == (2.0, 0.0)
    assert facet.pose.t == pytest.approx((0.0101, 0.0002, 0.1185), abs=1e-6)
    assert math.degrees(facet.pose.rpy[2]) == pytest.approx(179.8, abs=1e-3)
    assert not [f for f in compiler.check(robot) if f.code.startswith("calibration")]
    assert ask(capsys, str(path), "lidar", *pose)[1]["verdict"] == "as drawn, within play"


def test_adjustments_are_written_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "finder.yaml"
    path.write_text(LAYOUT.format(**{**DRAWN, **ARM, "more": ", set: {pitch: 5 deg}"}))
    pose = pose_of(built(**{**ARM, "at": [-0.5, 1.5]}, more=", set: {reach: 8, pitch: 20}"), "cube_optical_frame")
    words = [",".join(map(repr, pose.t)), ",".join(repr(math.degrees(v)) for v in pose.rpy)]
    assert ask(capsys, str(path), "arm", f"--xyz={words[0]}", f"--rpy={words[1]}", "--write")[0] == 0
    assert "at: [-0.5, 1.5], turn: 0, set: {pitch: 20 deg, reach: 8}}" in path.read_text()


def test_several_poses_come_from_a_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    poses = tmp_path / "poses.yaml"
    poses.write_text("lidar: {xyz: [-0.03, 0, 0.1185], quat: [0, 0, 1, 0]}\ndepth: {xyz: [0.087345, 0, 0.067005], rpy: [-105, 0, -90]}\n"
                     "holder: {xyz: [0.087345, 0, 0.067005], rpy: [-105, 0, -90], of: depth, from: base_link}\n")
    code, found = ask(capsys, str(SCOUT), "--file", str(poses))
    assert code == 0
    assert [(p["placement"], p["verdict"]) for p in found["placements"]] == [
        (n, "as drawn, within play") for n in ("lidar", "depth", "holder")]
    assert ask(capsys, str(SCOUT), "lidar", "--file", str(poses))[1]["verdict"] == "as drawn, within play"
    poses.write_text("lidr: {yaw: 180}\n")
    assert main(["locate", str(SCOUT), "--file", str(poses)]) == 2
    assert f"{poses}: `lidr` is not a placement; did you mean `lidar`?" in capsys.readouterr().err


@pytest.mark.parametrize(("text", "line", "says"), [
    ("lidar: {xyz: [1, 2]}", 1, "`xyz` takes 3 finite numbers"),
    ("lidar: {xyz: [1, 2, .nan]}", 1, "3 finite numbers"),
    ("a: {yaw: 1}\nlidar: {xzy: [1, 2, 3]}", 2, "`xzy` is no key of a measured pose"),
    ("lidar: 3", 1, "expected a pose"),
    ("[1]", 1, "expected `placement:"),
    ("lidar: {of: x}", 1, "no pose is given"),
    ("lidar: {yaw: 1, rpy: [0, 0, 1]}", 1, "`rpy` and `yaw` say the same"),
    ("lidar: {xyz: [30, 0, 118.5]}", 1, "a pose is in metres, and 118.5 m is no place on a robot"),
    ("lidar: {quat: [0, 0, 1, 1]}", 1, "a quaternion has length 1"),
    ("lidar: {yaw: 1", 1, ""),
])
def test_files_that_say_no_pose(text: str, line: int, says: str, tmp_path: Path) -> None:
    path = tmp_path / "poses.yaml"
    path.write_text(text)
    with pytest.raises(LayoutError) as told:
        locating.measured_in(str(path))
    assert says in told.value.findings[0].message
    assert told.value.findings[0].where[0].line >= line


@pytest.mark.parametrize(("words", "says"), [
    (["lidr", "--xyz", "0,0,0"], "did you mean `lidar`?"),
    (["wheel_left", "--xyz", "0,0,0"], "ask for `motor_left`"),
    (["lidar"], "no pose is given"),
    ([], "say which placement"),
    (["lidar", "--xyz", "0,0,0", "--from", "lower_lnk"], "did you mean `lower_link`?"),
    (["holder", "--xyz", "0,0,0", "--of", "lidar"], "`lidar` does not move with `holder`"),
    (["motor_left", "--xyz", "0,0,0"], "--from lower_link"),
    (["lidar", "--xyz", "0,0,0", "--file", "x.yaml"], "not both"),
    (["lidar", "--xyz", "0,0,0.1", "--write", "99"], "99 is none of them"),
    (["lidar", "--xyz", "0,0,0.118", "--calibrate"], ""),
])
def test_questions_without_sense(words: list[str], says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "scout.yaml"
    path.write_bytes(SCOUT.read_bytes())
    code = main(["locate", str(path), *words])
    if says:
        assert code == 2
        assert says in capsys.readouterr().err
        assert path.read_bytes() == SCOUT.read_bytes()


def test_nothing_is_calibrated_that_hangs_elsewhere(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "scout.yaml"
    path.write_bytes(SCOUT.read_bytes())
    assert main(["locate", str(path), "lidar", "--xyz", "0.01,0,0.1185", "--rpy", "0,0,180", "--calibrate"]) == 2
    assert "is not where the file says" in capsys.readouterr().err
    assert path.read_bytes() == SCOUT.read_bytes()


def test_quaternions_are_ros_s() -> None:
    """x, y, z, w (REP-103's messages): a quarter turn about z, and one about x after it, worked by hand."""
    half = math.sqrt(0.5)
    assert rotation_from_quaternion((0, 0, half, half)) == pytest.approx(from_rpy(0, 0, math.pi / 2))
    assert rotation_from_quaternion((0.5, 0.5, 0.5, 0.5)) == pytest.approx((0, 0, 1, 1, 0, 0, 0, 1, 0))


def test_the_frame_is_that_of_the_messages() -> None:
    drawn = built()
    assert goal_of(drawn, "eye", Measured()).frame == "eye_optical_frame"
    assert goal_of(drawn, "eye", Measured(of="eye_frame")).frame == "eye_frame"
    assert goal_of(built(**ARM), "arm", Measured()).frame == "cube_optical_frame"
