"""What `compare` says of two robots: laws that hold whatever the robots are, and the words."""
from __future__ import annotations

import json
import math
import re
import subprocess
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given, settings, strategies as st

import chassis_describe as cd
from chassis_describe.changes.compare import Change, Side, compare
from chassis_describe.changes.figures import Pair
from chassis_describe.changing import checked
from chassis_describe.cli.main import main
from chassis_describe.reports.change import change_data, change_markdown, change_text
from chassis_describe.reports.changed_figures import figure_changes_data
from chassis_describe.space.pose import from_rpy, multiply

CONFIG = Path(__file__).resolve().parents[2] / "config"
DEMOS = sorted(CONFIG.glob("*.yaml"))
DEMO = CONFIG / "draught_scout.yaml"
SCOUT = DEMO.read_text()


@cache
def side(text: str) -> Side:
    return checked(cd.assemble(cd.read(CONFIG / "robot.yaml", text=text)))


def between(old: str, new: str) -> Change:
    return compare(side(old), side(new))


def with_lines(text: str, **changes: str) -> str:
    """The layout with values of placements replaced: ``lidar="at: [0, 0] -> at: [2, 0]"``."""
    for name, change in changes.items():
        old, new = change.split(" -> ")
        text, count = re.subn(rf"(?m)^(  {name}: .*?){re.escape(old)}", rf"\g<1>{new}", text)
        assert count == 1, (name, change)
    return text


VARIANTS = (
    SCOUT,
    with_lines(SCOUT, lidar="at: [0, 0] -> at: [1, 1]", driver="at: [-3, 0] -> at: [0, 0]"),
    with_lines(SCOUT, motor_left="at: [1.5, 2] -> at: [0.5, 2]"),
    re.sub(r"\bimu\b", "board", with_lines(SCOUT, holder="pitch: 15 -> pitch: 30")),
    SCOUT.replace("length: 60", "length: 70").replace("lift: 18.5", "lift: 15"),
    re.sub(r"(?m)^  wall_(left|right): .*\n", "", SCOUT),
    with_lines(SCOUT, lidar="frame: laser_frame -> frame: scan_frame", caster="at: [-4.5, 0] -> at: [-3.5, 1]"),
    SCOUT.replace("ros:\n", "ros:\n  prefix: second_\n"),
)


@pytest.mark.thorough
@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_a_file_against_itself_shows_nothing(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare", str(path), str(path), "--exit-code"]) == 0
    assert capsys.readouterr().out == "nothing changed\n"
    same = checked(cd.assemble(cd.read(path)))
    change = compare(same, same)
    assert change.nothing
    assert change.restart == ()


@pytest.mark.thorough
@given(name=st.sampled_from(["lidar", "driver", "imu", "cradle", "adapter", "holder", "caster"]), i=st.integers(-2, 2),
       j=st.integers(-2, 2))
@settings(max_examples=12, deadline=None)
def test_moving_by_d_shows_exactly_d(name: str, i: int, j: int) -> None:
    old = side(SCOUT)
    at = old.assembly.parts[name].at
    assert at is not None
    new = re.sub(rf"(?m)^(  {name}: .*at: )\[[^\]]*\]", rf"\g<1>[{at[0] + i:g}, {at[1] + j:g}]", SCOUT)
    change = between(SCOUT, new)
    carried = {name} | {n for n, p in old.assembly.parts.items() if p.placement.on == name}
    frames = {old.assembly.parts[n].link for n in carried} | {
        f for s in old.assembly.sensors if s.placement in carried for f in (s.frame, s.optical_frame) if f}
    if name == "caster":
        # another attitude at rest moves the ground below base_link too
        frames |= {m.frame for m in change.moved if m.frame == "base_footprint"}
    if (i, j) == (0, 0):
        assert change.nothing
        return
    assert {m.frame for m in change.moved} == frames
    for m in change.moved:
        if m.frame != "base_footprint":
            assert m.shift == pytest.approx((0.020 * i, 0.020 * j, 0.0), abs=1e-12)
            assert m.rpy == (0.0, 0.0, 0.0)
    assert not change.added
    assert not change.removed
    assert not change.renamed
    assert [(w.verb, w.name) for w in change.work] == [("move", name)]


@pytest.mark.parametrize("b", range(len(VARIANTS)))
@pytest.mark.parametrize("a", [0, 2, 3])
def test_compare_there_mirrors_compare_back(a: int, b: int) -> None:
    there, back = between(VARIANTS[a], VARIANTS[b]), between(VARIANTS[b], VARIANTS[a])
    assert there.nothing == back.nothing
    assert sorted(there.added) == sorted(back.removed)
    assert sorted(there.removed) == sorted(back.added)
    names = dict(there.renamed)
    assert {(y, x) for x, y in there.renamed} == set(back.renamed)
    one = {m.frame: m for m in there.moved}
    other = {names.get(m.frame, m.frame): m for m in back.moved}
    assert one.keys() == other.keys()
    for frame, m in one.items():
        assert m.shift == pytest.approx([-v for v in other[frame].shift], abs=1e-12)
        # the turn back is the inverse rotation, whatever its roll, pitch and yaw
        assert multiply(from_rpy(*m.rpy), from_rpy(*other[frame].rpy)) == pytest.approx((1, 0, 0, 0, 1, 0, 0, 0, 1), abs=1e-9)
    keyed = [{(f.code, f.severity, f.message) for f in fs} for fs in (there.gained, back.lost, there.lost, back.gained)]
    assert keyed[0] == keyed[1]
    assert keyed[2] == keyed[3]
    assert len(figure_changes_data(there.changed)) == len(figure_changes_data(back.changed))
    for name in ("mass", "com", "footprint", "wheel_separation", "attitude", "least_tip"):
        pair, mirrored = getattr(there.changed, name), getattr(back.changed, name)
        assert mirrored == (pair and Pair(pair.new, pair.old))
    assert {w.name for w in there.work} == {names.get(w.name, w.name).replace("imu", "board") if "board" in str(names)
                                            else w.name for w in back.work}


def test_renaming_shows_as_renamed_and_as_nothing_else() -> None:
    new = re.sub(r"\bmotor_left\b", "engine_left", re.sub(r"\blower\b", "tray", re.sub(r"\bimu\b", "board", SCOUT)))
    change = between(SCOUT, new)
    assert dict(change.renamed) == {"imu_link": "board_link", "imu_frame": "board_frame", "lower_link": "tray_link",
                                    "motor_left_link": "engine_left_link"}
    assert change.moved == change.added == change.removed == ()
    assert change.work == ()
    assert change.gained == change.lost == ()
    assert not change.changed
    told = {(r.consumer, r.action) for r in change.restart}
    assert ("every tf2 listener", "restart") in told
    assert ("robot_localization", "restart") in told
    assert not any(r.action == "calibrate" for r in change.restart)


def test_a_thing_renamed_while_base_link_moves_is_still_renamed() -> None:
    change = between(SCOUT, re.sub(r"\bimu\b", "board", with_lines(SCOUT, motor_left="at: [1.5, 2] -> at: [0.5, 2]")))
    assert dict(change.renamed) == {"imu_link": "board_link", "imu_frame": "board_frame"}
    assert not change.added
    # by hand: the wheels go one hole (20 mm) back, so base_link does, and everything else is 20 mm further forward in it
    assert change.base is not None
    assert change.base.shift == pytest.approx((-0.020, 0, 0), abs=1e-12)
    shifts = {m.frame: m.shift for m in change.moved}
    assert shifts["lower_link"] == pytest.approx((0.020, 0, 0), abs=1e-12)
    assert "motor_left_link" not in shifts
    assert [w.words for w in change.work] == ["1 hole back", "1 hole back"]


@pytest.mark.parametrize(("name", "old", "new", "words"), [
    ("lidar", "at: [0, 0]", "at: [2, 0]", "2 holes forward"),
    ("lidar", "at: [0, 0]", "at: [-0.5, 1]", "0.5 holes back, 1 hole left"),
    ("lidar", "points: back", "points: right", "quarter turn left"),
    ("lidar", "points: back", "points: forward", "half turn"),
    ("lidar", "points: back", "turn: 150", "30° right"),
    ("lidar", "on: upper", "on: lower", "from upper top at [0, 0] to lower top at [0, 0]"),
    ("imu", "lift: 5", "lift: 8", "spacers of 8 mm instead of 5 mm"),
    ("imu", ", lift: 5", "", "off its spacers"),
    ("imu", "lift: 5", "lift: 5, offset: [0, 2.5, 0]", "2.5 mm left off its hole"),
    ("battery", ", fixing: strap", ", fixing: adhesive", "held by adhesive instead of a strap"),
    # under a deck the part turns the other way for who looks from above; the words say from where
    ("driver", "at: [-3, 0]", "at: [-3, 0], turn: 90", "quarter turn left, seen from below"),
])
def test_words_for_the_screwdriver(name: str, old: str, new: str, words: str) -> None:
    change = between(SCOUT, with_lines(SCOUT, **{name: f"{old} -> {new}"}))
    assert [(w.verb, w.name, w.words) for w in change.work] == [("move", name, words)]


def test_words_for_decks_and_settings() -> None:
    def work(new: str) -> list[tuple[str, str, str]]:
        return [tuple(w) for w in between(SCOUT, new).work]

    assert work(SCOUT.replace("length: 60", "length: 70")) == [("move", "upper", "standoffs of 70 mm instead of 60 mm")]
    assert work(with_lines(SCOUT, holder="pitch: 15 -> pitch: 20")) == [("set", "holder", "pitch from 15° to 20°")]
    assert work(SCOUT.replace("thickness: 3", "thickness: 5")) == [
        ("cut", "upper", "another plate: 5 mm thick instead of 3 mm")]
    assert work(SCOUT.replace("above: lower", "above: lower\n    shift: [1, 0]").replace(
        "holes: [[-3, -3]", "holes: [[-2, -3], [-3, -3]")) == [
        ("move", "upper", "1 hole forward, standoffs at [-2, -3]")]
    assert work(re.sub(r"(?m)^  wall_left: .*\n", "", SCOUT)) == [("take off", "wall_left", "on lean_left.face")]


def test_wheel_geometry_and_its_consumers() -> None:
    change = between(SCOUT, with_lines(SCOUT, motor_left="at: [1.5, 2] -> at: [1.5, 2.5]"))
    # by hand: half a hole, 10 mm, on each side
    separation = change.changed.wheel_separation
    assert separation is not None
    assert separation.new - separation.old == pytest.approx(0.020, abs=1e-12)
    assert ("drive controller", "restart") in {(r.consumer, r.action) for r in change.restart}


@pytest.mark.thorough
def test_a_fixed_frame_that_is_gone_asks_for_another_robot_state_publisher() -> None:
    """Its static broadcaster sends each fixed frame again for as long as it runs (ros2/geometry2, tf2_ros,
    static_transform_broadcaster.cpp; heard of robot_state_publisher 3.3.3): a new description alone leaves the old frames there."""
    def publisher(old: str, new: str) -> list[tuple[str, str]]:
        return [(r.action, r.because) for r in between(old, new).restart if r.consumer == "robot_state_publisher"]

    without = re.sub(r"(?m)^  imu: .*\n", "", SCOUT)
    (action, because), = publisher(SCOUT, without)
    assert action == "restart" and because.endswith("imu_link and imu_frame")
    for old, new in ((without, SCOUT), (SCOUT, VARIANTS[1])):
        assert publisher(old, new) == [("reload", "the description has changed")]
    # A frame that only moved joints carry is on /tf, and nobody sends it on: the swivel caster's own.
    aviary = (CONFIG / "aviary_watch.yaml").read_text()
    rigid = aviary.replace("  casters: turning\n", "")
    assert "caster_front_swivel_link" in between(aviary, rigid).removed
    assert [action for action, _ in publisher(aviary, rigid)] == ["reload"]


def test_another_scan_height_asks_for_another_map() -> None:
    change = between(SCOUT, SCOUT.replace("length: 60", "length: 70"))
    told = [r for r in change.restart if r.action == "map again"]
    assert len(told) == 1
    z = side(SCOUT).assembly.poses["laser_frame"].t[2] + 0.040  # base_link is the wheels' radius above the ground
    assert f"{z * 1e3:.0f} mm before, {z * 1e3 + 10:.0f} mm now" in told[0].because
    assert not [r for r in between(SCOUT, VARIANTS[1]).restart if r.action == "map again"]


def test_a_prefix_is_one_row() -> None:
    text = change_text(between(SCOUT, VARIANTS[-1]))
    assert f"all {len(side(SCOUT).assembly.poses)} had no prefix before and begin with second_ now" in text
    assert "is now" not in text


def test_what_no_geometry_shows() -> None:
    change = between(SCOUT, SCOUT.replace("topic: wall_left", "topic: port_side").replace("distro: jazzy", "distro: humble"))
    assert change.changed.topics == {"wall_left_frame": Pair("wall_left", "port_side")}
    assert change.changed.settings == {"distro": Pair("jazzy", "humble")}
    assert change_data(change)["changed"] == {"wall_left_frame.topic": ["wall_left", "port_side"], "ros.distro": ["jazzy", "humble"]}
    assert change.work == ()
    text = change_text(change)
    assert "wall_left_frame: topic wall_left before, port_side now" in text
    assert "ros: distro jazzy before, humble now" in text
    assert "restart subscribers: another topic: wall_left_frame" in text
    assert "compile again: other settings under `ros`: distro" in text


def test_two_figures_that_are_told_do_not_look_alike() -> None:
    """A tenth of a millimetre more of a spacer of 10 mm: 10 µm on a wheel and 40 mg on the scales are told, with digits to match."""
    one = ("{layout: 1, robot: one, parts: {tyre: {mass: 90, wheel: {diameter: 80, width: 20}}, "
           "motor: {mass: 70, bodies: [{box: [50, 20, 20], at: [0, 0, 10]}], shafts: {out: {at: [30, 0, 10], axis: forward}}}}, "
           "decks: {lower: {outline: {circle: 200}, thickness: 4, mass: 100}}, "
           "placements: {motor_left: {part: motor, on: lower, face: under, at: [0, 2], points: left, fixing: adhesive}, "
           "motor_right: {mirror_of: motor_left}, "
           "wheel_left: {part: tyre, on: motor_left}, wheel_right: {part: tyre, on: motor_right}}, "
           "drive: {kind: differential, left: [wheel_left], right: [wheel_right]}}")
    rows = change_text(between(one, one.replace("mass: 100", "mass: 100.04").replace("diameter: 80", "diameter: 80.02"))).splitlines()
    assert "  mass: 420.00 g before, 420.04 g now (+0.04 g)" in rows
    assert "  wheel radius: 40.00 mm before, 40.01 mm now" in rows
    both = [found for row in rows if (found := re.search(r"([-\d.]+ \S+) before, ([-\d.]+ \S+) now", row))]
    assert both and all(found[1] != found[2] for found in both)


def test_a_frame_called_ros_is_no_setting() -> None:
    """What a sensor measures is not what stands under ``ros``, whatever the builder calls its frame."""
    ros = SCOUT.replace("frame: laser_frame", "frame: ros")
    assert ros != SCOUT
    change = between(ros, with_lines(ros, lidar="at: [0, 0] -> at: [1, 1]"))
    assert "ros" in change.changed.play
    assert not change.changed.settings
    assert not [r for r in change.restart if r.action == "compile again"]
    assert "play of lidar_link, ros:" in change_text(change)
    topic = between(ros, ros.replace("frame: ros", "frame: ros, topic: sweep"))
    assert change_data(topic)["changed"] == {"ros.topic": ["scan", "sweep"]}
    assert "compile again" not in {r.action for r in topic.restart}


def test_a_frame_called_like_a_figure_is_no_figure() -> None:
    named = SCOUT.replace("frame: laser_frame", "frame: arcs").replace("topic: wall_left", "topic: port_side")
    change = between(SCOUT, named)
    assert not change.changed.lidars
    assert "laser filter" not in {r.consumer for r in change.restart}


def test_a_finding_whose_numbers_change_stays_and_a_second_one_is_gained() -> None:
    one = with_lines(SCOUT, lidar="at: [0, 0] -> at: [0.2, 0]")
    assert {f.code for f in between(SCOUT, one).gained} >= {"bolt-off-hole"}
    worse = between(one, with_lines(SCOUT, lidar="at: [0, 0] -> at: [0.3, 0]"))
    assert [f for f in (*worse.gained, *worse.lost) if f.code == "bolt-off-hole"] == []
    two = between(one, with_lines(SCOUT, lidar="at: [0, 0] -> at: [0.2, 0]", imu="at: [-1.5, 2.5] -> at: [-1.3, 2.5]"))
    assert {f.of[0] for f in two.gained if f.code == "bolt-off-hole"} == {"imu"}


# ------------------------------------------------------------------------------------------------------------ the forms
@pytest.mark.parametrize("variant", range(len(VARIANTS)))
def test_every_form_reads_and_the_json_is_complete(variant: int) -> None:
    change = between(SCOUT, VARIANTS[variant])
    data = json.loads(json.dumps(change_data(change), allow_nan=False))
    assert set(data) >= {"moved", "added", "removed", "renamed", "changed", "findings", "restart", "work"}
    assert len(data["moved"]) == len(change.moved)
    for row, m in zip(data["moved"], change.moved):
        assert row["dxyz_mm"] == pytest.approx([v * 1e3 for v in m.shift])
        assert row["drpy_deg"] == pytest.approx([math.degrees(v) for v in m.rpy])
        assert row["relative_to"] == "base_link"
    text, page = change_text(change), change_markdown(change, title="a change")
    assert page.startswith("## a change\n\n")
    for wrong in ("None", "nan", "-0.000", "{", "Pose"):
        assert wrong not in text
    assert all(line == line.rstrip() for line in text.splitlines())


# ------------------------------------------------------------------------------------------------------ the command line
@pytest.mark.thorough
def test_exit_codes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    moved, broken = tmp_path / "moved.yaml", tmp_path / "broken.yaml"
    moved.write_text(with_lines(SCOUT, lidar="at: [0, 0] -> at: [1, 0]"))
    broken.write_text(with_lines(SCOUT, lidar="at: [0, 0] -> at: [0.2, 0]"))
    assert main(["compare", str(DEMO), str(moved)]) == 0
    assert main(["compare", str(DEMO), str(moved), "--exit-code"]) == 1
    assert main(["compare", str(DEMO), str(broken)]) == 1  # an error was gained
    assert main(["compare", str(broken), str(DEMO)]) == 0  # and lost
    assert main(["compare", str(broken), str(broken)]) == 0  # and was there before
    assert main(["compare", str(DEMO), "absent.yaml"]) == 2
    assert main(["compare", "-", "-"]) == 2
    capsys.readouterr()


def test_overlays_of_one_base(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    a, b = tmp_path / "a.yaml", tmp_path / "b.yaml"
    a.write_text("placements: {lidar: {at: [1, 0]}}\n")
    b.write_text("placements: {lidar: {at: [2, 0]}, driver: ~}\n")
    assert main(["compare", str(DEMO), "--old-with", str(a), "--new-with", str(b), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["removed"] == ["driver_link"]
    assert {m["frame"]: m["dxyz_mm"] for m in data["moved"]} == {"lidar_link": [20, 0, 0], "laser_frame": [20, 0, 0]}
    assert main(["compare", str(DEMO), "--new-with", str(a)]) == 0
    assert "move lidar: 1 hole forward" in capsys.readouterr().out
    assert main(["compare", str(DEMO), "--with", str(b)]) == 0
    assert capsys.readouterr().out == "nothing changed\n"


# ------------------------------------------------------------------------------------------------------------------ git
@pytest.fixture
def repository(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two commits: in the second the lidar is 1 hole further, and a part of the club's own file 10 mm higher."""
    for name in ("GIT_DIR", "GIT_WORK_TREE", "GIT_INDEX_FILE"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.chdir(tmp_path)

    def git(*arguments: str) -> None:
        subprocess.run(["git", "-c", "user.name=a", "-c", "user.email=a@example.org", "-c", "init.defaultBranch=main",
                        *arguments], check=True, capture_output=True)

    git("init")
    (tmp_path / "robots").mkdir()
    (tmp_path / "parts").mkdir()
    parts = tmp_path / "parts" / "club.yaml"
    robot = tmp_path / "robots" / "scout.yaml"
    parts.write_text("parts:\n  lamp: {mass: 10, bodies: [{box: [10, 10, 10], at: [0, 0, 5]}],\n"
                     "         sensors: {light: {kind: imu, at: [0, 0, 10]}}}\n")
    robot.write_text(SCOUT.replace("layout: 1\n", "layout: 1\ncatalogue: [../parts/club.yaml]\n").replace(
        "placements:\n", "placements:\n  lamp: {part: lamp, on: upper, at: [-1, 3], fixing: adhesive}\n"))
    git("add", "robots", "parts")
    git("commit", "-m", "first")
    robot.write_text(with_lines(robot.read_text(), lidar="at: [0, 0] -> at: [1, 0]"))
    parts.write_text(parts.read_text().replace("at: [0, 0, 10]", "at: [0, 0, 20]"))
    git("commit", "-am", "second")
    return robot


@pytest.mark.thorough
def test_a_revision_brings_its_own_part_files(repository: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare", "git:HEAD~1", str(repository), "--json"]) == 0
    moved = {m["frame"]: m["dxyz_mm"] for m in json.loads(capsys.readouterr().out)["moved"]}
    assert moved == {"lidar_link": [20, 0, 0], "laser_frame": [20, 0, 0], "lamp_frame": [0, 0, pytest.approx(10)]}
    assert main(["compare", "git:HEAD", "robots/scout.yaml"]) == 0
    assert capsys.readouterr().out == "nothing changed\n"
    assert main(["compare", "robots/scout.yaml", "git:HEAD~1:robots/scout.yaml"]) == 0
    assert "move lidar: 1 hole back" in capsys.readouterr().out
    repository.write_text(repository.read_text().replace("at: [1, 0]", "at: [2, 0]"))
    assert main(["compare", "git:HEAD:robots/scout.yaml", "robots/scout.yaml"]) == 0
    assert "move lidar: 1 hole forward" in capsys.readouterr().out


@pytest.mark.thorough
def test_meshes_of_a_revision_are_looked_for_there(repository: Path, capsys: pytest.CaptureFixture[str]) -> None:
    parts, stl = repository.parents[1] / "parts" / "club.yaml", repository.parents[1] / "parts" / "lamp.stl"
    plain = parts.read_text()
    parts.write_text(plain.replace("at: [0, 0, 5]}]", "at: [0, 0, 5]}, {mesh: lamp.stl}]"))
    stl.write_bytes(triangle(0.01))

    def compared() -> tuple[set[str], set[str]]:
        main(["compare", "git:HEAD", "robots/scout.yaml", "--json"])
        data = json.loads(capsys.readouterr().out)
        return ({f["code"] for f in data["findings"]["gained"]}, {f["code"] for f in data["findings"]["lost"]})

    subprocess.run(["git", "add", "parts"], check=True)
    subprocess.run(["git", "-c", "user.name=a", "-c", "user.email=a@example.org", "commit", "-qm", "mesh"], check=True)
    assert compared() == (set(), set())
    stl.unlink()  # it was there then
    assert compared() == ({"mesh-missing"}, set())
    parts.write_text(plain)
    assert compared() == (set(), set())
    parts.write_text(plain.replace("at: [0, 0, 5]}]", "at: [0, 0, 5]}, {mesh: other.stl}]"))
    subprocess.run(["git", "-c", "user.name=a", "-c", "user.email=a@example.org", "commit", "-qam", "no mesh"], check=True)
    assert compared() == (set(), set())  # neither then nor now
    (parts.parent / "other.stl").write_bytes(triangle(0.01))
    assert compared() == (set(), {"mesh-missing"})  # now on the disk, in no commit


def triangle(size: float) -> bytes:
    """An STL of one triangle, as long as ``size``, written as the format was published (from memory)."""
    return (f"solid lamp\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex {size} 0 0\nvertex 0 {size / 2} 0\nendloop\nendfacet\n"
            "endsolid lamp\n").encode()


def test_a_mesh_that_grew_is_a_change(repository: Path, capsys: pytest.CaptureFixture[str]) -> None:
    parts, stl = repository.parents[1] / "parts" / "club.yaml", repository.parents[1] / "parts" / "lamp.stl"
    parts.write_text(parts.read_text().replace("at: [0, 0, 5]}]", "at: [0, 0, 5]}, {mesh: lamp.stl, scale: 0.001}]"))
    stl.write_bytes(triangle(10))
    commit = ["git", "-c", "user.name=a", "-c", "user.email=a@example.org", "commit", "-qm", "mesh"]
    subprocess.run(["git", "add", "parts"], check=True)
    subprocess.run(commit, check=True)
    assert main(["compare", "git:HEAD", "robots/scout.yaml"]) == 0
    assert capsys.readouterr().out == "nothing changed\n"
    stl.write_bytes(triangle(1000))
    assert main(["compare", "git:HEAD", "robots/scout.yaml"]) == 0
    out = capsys.readouterr().out
    assert "lamp: mesh lamp.stl: 10 units long" in out
    assert "now" in out.partition("lamp.stl: 1000 units long")[2].splitlines()[0]
    assert "compile again: it holds the old meshes of lamp" in out
    subprocess.run(["git", "add", "parts"], check=True)
    subprocess.run(commit, check=True)
    assert main(["compare", "git:HEAD~1:robots/scout.yaml", "git:HEAD:robots/scout.yaml", "--exit-code"]) == 1  # between two revisions as well
    assert "lamp.stl: 1000 units long" in capsys.readouterr().out


def test_from_another_folder_and_when_files_have_gone(repository: Path, monkeypatch: pytest.MonkeyPatch,
                                                      capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(repository.parent)
    assert main(["compare", "git:HEAD~1", "scout.yaml"]) == 0
    assert "1 hole forward" in capsys.readouterr().out
    (repository.parent / "gone.yaml").write_text(repository.read_text())
    repository.unlink()
    assert main(["compare", "git:HEAD:scout.yaml", "gone.yaml"]) == 0
    assert capsys.readouterr().out == "nothing changed\n"


def test_inside_a_hook_of_git(repository: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    # githooks(5): GIT_DIR may be exported, relative to the top of the work tree
    monkeypatch.setenv("GIT_DIR", ".git")
    assert main(["compare", "git:HEAD~1", "robots/scout.yaml"]) == 0
    assert "1 hole forward" in capsys.readouterr().out


@pytest.mark.parametrize(("old", "word"), [
    ("git:no_such_branch", "no_such_branch"), ("git:HEAD:robots/other.yaml", "no such file"), ("git:", "git:REV"),
    ("git:--output=x", "git:REV"), ("git:HEAD:robots", "folder")])
def test_revisions_that_are_not_there(old: str, word: str, repository: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare", old, str(repository)]) == 2
    said = capsys.readouterr().err
    assert word in said
    assert "Traceback" not in said


def test_outside_a_repository(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setenv("GIT_CEILING_DIRECTORIES", str(tmp_path.parent))
    lone = tmp_path / "lone.yaml"
    lone.write_text(SCOUT)
    assert main(["compare", "git:HEAD", str(lone)]) == 2
    assert "not in a git repository" in capsys.readouterr().err


def test_faults_of_an_old_revision_are_placed_there(repository: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = repository.read_text()
    repository.write_text(text.replace("on: upper, at: [1, 0]", "on: uper, at: [1, 0]"))
    subprocess.run(["git", "-c", "user.name=a", "-c", "user.email=a@example.org", "commit", "-qam", "slip"], check=True)
    repository.write_text(text)
    assert main(["compare", "git:HEAD", "robots/scout.yaml"]) == 2
    assert "git:HEAD:robots/scout.yaml:" in capsys.readouterr().err
