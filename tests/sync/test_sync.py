"""`sync`: in the user's own parameter files only what the geometry decides changes, and every other byte stays.

Shapes of the files: navigation2 {humble,jazzy,kilted,lyrical}:nav2_bringup/params/nav2_params.yaml, ros2_controllers
diff_drive_controller/doc/userdoc.rst, laser_filters ros2:examples, as structures; every value and remark here is our own.
The robot's numbers are worked by hand from the layout below.
"""
from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, strategies as st

from chassis_describe import compiler, syncing
from chassis_describe.cli.main import main
from chassis_describe.disk import file as rewriting
from chassis_describe.errors import UsageError
from chassis_describe.facts.footprint import footprint_of
from chassis_describe.sync.edit import plan
from chassis_describe.sync.polygons import points_of, same_polygon
from chassis_describe.sync.wanted import OF_THE_DRIVE, Wanted, wanted
from chassis_describe.yaml_text.spans import Word

TOP = Path(__file__).resolve().parents[2]
SCOUT = TOP / "config" / "draught_scout.yaml"
OLD = ((0.2, 0.1), (0.2, -0.1), (-0.2, -0.1), (-0.2, 0.1))
NEW = ((-0.15, -0.12), (0.25, -0.12), (0.25, 0.12), (-0.15, 0.12))
WANT = Wanted(namespace=None, footprint=NEW, radius=0.283, drive={"wheel_separation": 0.192, "wheel_radius": 0.04},
              sectors={"scan_to_scan_filter_chain": ((-3.0, -2.5), (1.0, 1.25))},
              frames=frozenset({"base_link", "base_footprint", "laser_frame"}), above=frozenset({"map", "odom"}))


def synced(text: str, want: Wanted = WANT, renamed: dict[str, str] | None = None) -> str:
    return plan([("my.yaml", text.encode())], want, renamed or {})[0].data.decode()


def left(text: str, want: Wanted = WANT) -> dict[str, str]:
    return {item.key.split(" > ")[-1]: item.why for item in plan([("my.yaml", text.encode())], want, {})[0].left}


# ------------------------------------------------------------------------------------------ only what is meant changes
#: A value as it may stand in a file, and what has to stand there then (by the rules of one's own spelling, by hand).
NUMBERS = (("0.3", "0.192"), ("0.300", "0.192"), ("0.3000", "0.1920"), (".3", ".192"), ("1", "0.192"), ("+0.30", "+0.192"),
           ("'0.3'", "'0.192'"), ('"0.3"', '"0.192"'))
SHAPES = (('"[ [0.2, 0.1], [0.2, -0.1], [-0.2, -0.1], [-0.2, 0.1] ]"', '"[ [-0.15, -0.12], [0.25, -0.12], [0.25, 0.12], [-0.15, 0.12] ]"'),
          ("'[[0.20,0.100],[0.2,-0.1],[-0.2,-0.1],[-0.2,0.1]]'", "'[[-0.15,-0.120],[0.25,-0.12],[0.25,0.12],[-0.15,0.12]]'"))
LISTS = (("[0.2, 0.1, 0.2, -0.1, -0.2, -0.1, -0.2, 0.1]", "[-0.15, -0.12, 0.25, -0.12, 0.25, 0.12, -0.15, 0.12]"),
         ("[0.2,0.1 , 0.2,-0.1 , -0.2,-0.1 , -0.2,0.1]", "[-0.15,-0.12 , 0.25,-0.12 , 0.25,0.12 , -0.15,0.12]"))
OTHERS = ("speed: 0.3", "name: 'it''s # no remark'", "odom_config: [false, true, false]", "covariance: [1.0, 2.0, 3.0, 4.0, 5.0, 6.0]",
          "on: yes", 'text: "wheel_separation: 0.3"', "scan: {topic: scan, wheel: 0.3}", "wheel_separation_multiplier: 1.02",
          "footprint_padding: 0.01", "empty:", "&anchor marked: 1.5", "inflation: {cost_scaling_factor: 3.0}", "radius: 0.04")
REMARKS = ("", " ", "  # m", "\t# wheel_radius: 1", "  # ö [[{")


@st.composite
def files(draw: st.DrawFn) -> tuple[bytes, bytes]:
    """A parameter file, and the same with what the geometry decides: written side by side, not computed."""
    before: list[str] = []
    after: list[str] = []

    def line(text: str, new: str | None = None) -> None:
        before.append(text)
        after.append(text if new is None else new)

    for number in range(draw(st.integers(1, 4))):
        name = draw(st.sampled_from([f"node{number}", f"'node {number}'", f"/**/n{number}", f'"/space{number}/node"']))
        nesting = [name, *([f"node{number}"] if draw(st.booleans()) else [])]
        step = draw(st.integers(1, 4))
        for depth, key in enumerate([*nesting, "ros__parameters"]):
            line(" " * step * depth + f"{key}:" + draw(st.sampled_from(REMARKS)))
        indent = " " * step * (len(nesting) + 1)
        entries: list[tuple[str, str, str]] = [("", other, other) for other in
                                               draw(st.lists(st.sampled_from(OTHERS), max_size=5, unique_by=lambda o: o.split(":")[0]))]
        entries = [(k, a.replace("&anchor ", ""), b.replace("&anchor ", "")) for k, a, b in entries]
        if draw(st.booleans()):
            a, b = draw(st.sampled_from(NUMBERS))
            key = draw(st.sampled_from(["wheel_separation", '"wheel_separation"', "'wheel_separation'"]))
            entries.append((key, a, b))
        if draw(st.booleans()):
            entries.append(("footprint", *draw(st.sampled_from(SHAPES))))
            if draw(st.booleans()):
                entries.append(("zone", *[f"{{type: polygon, points: {text}}}" for text in draw(st.sampled_from((*LISTS, *SHAPES)))]))
        for key, a, b in draw(st.permutations(entries)):
            head = f"{indent}{key}:{' ' * draw(st.integers(1, 3))}" if key else indent
            tail = draw(st.sampled_from(REMARKS))
            line(head + a + tail, head + b + tail)
            if draw(st.booleans()):
                line(draw(st.sampled_from(["", "# between", indent + "# indented"])))
        if not entries:
            line(indent + "{}")
    end = draw(st.sampled_from(["\n", "\r\n"]))
    bom = draw(st.sampled_from([b"", b"\xef\xbb\xbf"]))
    last = draw(st.sampled_from(["", end]))
    return tuple(bom + (end.join(lines) + last).encode() for lines in (before, after))  # type: ignore[return-value]


@given(files())
def test_every_other_byte_stays(pair: tuple[bytes, bytes]) -> None:
    before, after = pair
    done = plan([("my.yaml", before)], WANT, {})[0]
    assert done.data == after
    again = plan([("my.yaml", after)], WANT, {})[0]  # and what is true stays true
    assert again.data == after
    assert not again.changed
    assert bool(done.changed) == (before != after)


NAV2 = """\
# A file of our own, structured as Nav2's.
amcl:
  ros__parameters:
    base_frame_id: "base_footprint"
    laser_max_range: 100.0
bt_navigator:
  ros__parameters: {{global_frame: map, robot_base_frame: base_link, odom_topic: /odom}}
controller_server:
  ros__parameters:
    controller_plugins: ["FollowPath"]
    FollowPath: {{plugin: "our::Plugin", max_vel_x: 0.26}}   # speeds are ours
local_costmap:
  local_costmap:
    ros__parameters:
      update_frequency: 5.0
      global_frame: odom
      robot_base_frame: base_link
      {local}
      plugins: ["voxel_layer", "inflation_layer"]
      inflation_layer:
        plugin: "nav2_costmap_2d::InflationLayer"
        inflation_radius: 0.55
global_costmap:
  global_costmap:
    ros__parameters:
      {globe}
      resolution: 0.05
collision_monitor:
  ros__parameters:
    base_frame_id: "base_footprint"
    polygons: ["Body", "Slow"]
    Body:
      type: "polygon"
      points: {body}
    Slow: {{type: circle, radius: 0.9}}
"""
FLAT = "[0.2, 0.1, 0.2, -0.1, -0.2, -0.1, -0.2, 0.1]"
TEXT = '"[[0.2, 0.1], [0.2, -0.1], [-0.2, -0.1], [-0.2, 0.1]]"'


@pytest.mark.parametrize(("distro", "body"), [("humble", FLAT), ("jazzy", TEXT), ("kilted", TEXT), ("lyrical", TEXT)])
def test_files_shaped_as_those_of_each_distro(distro: str, body: str) -> None:
    text = NAV2.format(local="robot_radius: 0.22", globe=f"footprint: {TEXT}", body=body)
    was, now = yaml.safe_load(text), yaml.safe_load(synced(text))
    assert now["local_costmap"]["local_costmap"]["ros__parameters"].pop("robot_radius") == 0.283
    outline = now["global_costmap"]["global_costmap"]["ros__parameters"].pop("footprint")
    assert yaml.safe_load(outline) == [list(p) for p in NEW]
    zone = now["collision_monitor"]["ros__parameters"]["Body"].pop("points")
    assert zone == [v for p in NEW for v in p] if distro == "humble" else yaml.safe_load(zone) == [list(p) for p in NEW]
    del was["local_costmap"]["local_costmap"]["ros__parameters"]["robot_radius"]
    del was["global_costmap"]["global_costmap"]["ros__parameters"]["footprint"]
    del was["collision_monitor"]["ros__parameters"]["Body"]["points"]
    assert now == was


@pytest.mark.parametrize("corners", [3, 4, 5, 9, 16])
def test_outlines_of_another_number_of_corners(corners: int) -> None:
    import math

    points = tuple((round(0.3 * math.cos(2 * math.pi * k / corners), 3), round(0.3 * math.sin(2 * math.pi * k / corners), 3))
                   for k in range(corners))
    want = WANT._replace(footprint=points)
    block = "".join(f"      - {v}  # v\n" if not remark else f"      - {v}\n" for remark, v in
                    ((k > 5, v) for k, v in enumerate([0.2, 0.1, 0.2, -0.1, -0.2, -0.1, -0.2, 0.1])))
    text = (f"a:\n  ros__parameters:\n    footprint: {TEXT}\n    zone: {{points: {FLAT}}}\n    other:\n     points:\n{block}    last: 1 # x\n")
    data = yaml.safe_load(synced(text, want))["a"]["ros__parameters"]
    assert yaml.safe_load(data["footprint"]) == [list(p) for p in points]
    zone = list(zip(data["zone"]["points"][::2], data["zone"]["points"][1::2]))
    assert len(zone) >= 4  # the collision monitor takes no fewer
    assert same_polygon(zone, points)
    assert data["last"] == 1
    if corners >= 8 or corners == 4:
        assert data["other"]["points"] == data["zone"]["points"]


def test_a_value_written_once_and_used_twice() -> None:
    text = f"shape: &outline {TEXT}\na: {{ros__parameters: {{footprint: *outline}}}}\nb: {{ros__parameters: {{footprint: *outline}}}}\n"
    now = yaml.safe_load(synced(text))
    assert yaml.safe_load(now["a"]["ros__parameters"]["footprint"]) == [list(p) for p in NEW]
    assert now["a"] == now["b"]
    assert "*outline" in synced(text)
    kept = text.replace("b: {ros__parameters: {footprint: *outline}}", "b: {ros__parameters: {footprint: *outline}}  # chassis_describe: keep")
    assert synced(kept) == kept
    assert "a line that uses it" in left(kept)["footprint"]
    merged = "base: &base\n  wheel_separation: 0.3\n  speed: 1.0\na:\n  ros__parameters:\n    <<: *base\n    wheel_radius: 0.05\n"
    assert synced(merged) == merged.replace("0.3", "0.192").replace("0.05", "0.04")


def test_a_value_shared_with_what_means_something_else_stays() -> None:
    text = "a: {ros__parameters: {wheel_separation: &d 0.3, look_ahead: *d}}\n"
    assert synced(text) == text
    assert "shared by an anchor" in left(text)["wheel_separation"]


def test_kept_lines_and_what_is_left() -> None:
    text = ("a:\n  ros__parameters:\n    wheel_separation: 0.3 # measured, chassis_describe: keep\n"
            "    wheel_radius: 0.3 # chassis_describe: keep it\n    footprint: ''\n    zone: {points: '[[1.0, 0.0], [0.0, 1.0], [0.0, 0.0]]'}\n"
            "    sensor_frame: laser_frme\n    odom_frame: my_odom\n    base_frame: my_odom\n    wheelbase: 0.4\n")
    said = left(text)
    assert synced(text) == text
    assert "kept" in said["wheel_radius"]
    assert "kept" in said["wheel_separation"]
    assert "robot_radius" in said["footprint"]
    assert "no footprint in these files" in said["points"]
    assert "did you mean `laser_frame`" in said["sensor_frame"]
    assert "base_frame" not in said  # a frame above the robot, by the file itself
    assert "drive" in said["wheelbase"]


def test_frames_are_renamed_only_when_told() -> None:
    text = "a: {ros__parameters: {sensor_frame: old_laser, frame_id: 'old_laser', title: old_laser}}\n"
    assert synced(text) == text
    assert synced(text, renamed={"old_laser": "laser_frame"}) == \
        "a: {ros__parameters: {sensor_frame: laser_frame, frame_id: 'laser_frame', title: old_laser}}\n"


def test_the_namespace_of_the_layout() -> None:
    want = WANT._replace(namespace="cart")
    text = "".join(f"{name}: {{ros__parameters: {{wheel_radius: 0.05}}}}\n" for name in ("cart/a", "/cart/b", "'/**'", "other/a", "a")) \
        + "cart:\n  c:\n    ros__parameters: {wheel_radius: 0.05}\n"
    now = yaml.safe_load(synced(text, want))
    changed = [name for name in now if name != "cart" and now[name]["ros__parameters"]["wheel_radius"] == 0.04]
    assert changed == ["cart/a", "/cart/b", "/**"]
    assert now["cart"]["c"]["ros__parameters"]["wheel_radius"] == 0.04
    assert "not in the namespace /cart" in left(text, want)["wheel_radius"]


def test_sectors_of_laser_filters() -> None:
    def chain(*sectors: tuple[float, float], node: str = "scan_to_scan_filter_chain") -> str:
        return f"{node}:\n  ros__parameters:\n" + "".join(
            f"    filter{n}:\n      name: mine\n      type: laser_filters/LaserScanAngularBoundsFilterInPlace\n"
            f"      params: {{lower_angle: {a}, upper_angle: {b}}}\n" for n, (a, b) in enumerate(sectors))

    assert synced(chain((0.9, 1.0), (-3.1, -2.0))) == chain((1.0, 1.25), (-3.0, -2.5))  # by their angles, not their order
    one = chain((0.9, 1.0))
    assert synced(one) == one
    assert "1 sectors here, and the robot blocks 2" in left(one)["lower_angle"]
    foreign = chain((0.9, 1.0), (-3.1, -2.0), node="rear_chain")
    assert synced(foreign) == foreign
    assert "which lidar" in left(foreign)["upper_angle"]


@pytest.mark.parametrize("text", [
    "a: [1", "a: *nowhere\n", "a: 1\n---\nb: 2\n", "\x00", "a: &x {ros__parameters: {b: *x}}\n",
])
def test_files_that_cannot_be_read(text: str) -> None:
    with pytest.raises(UsageError, match=r"my\.yaml"):
        synced(text)


@pytest.mark.parametrize("text", ["", "# nothing\n", "[]", "text", "a:\n", "ros__parameters: {wheel_radius: 1}\n",
                                  "a: {ros__parameters: {footprint: 3, wheel_radius: [1, 2], robot_radius: {a: 1}}}\n"])
def test_odd_files_lose_nothing(text: str) -> None:
    assert yaml.safe_load(synced(text)) is not None or yaml.safe_load(text) is None


# ---------------------------------------------------------------------------------------------------------- the command
@pytest.mark.thorough
def test_what_compile_writes_is_in_step(tmp_path: Path) -> None:
    """Another road to the same numbers: the compiled package's own files, after the robot was moved."""
    robot = Path(shutil.copy(SCOUT, tmp_path / "robot.yaml"))
    compiler.compile(robot, tmp_path / "package")
    own = sorted((tmp_path / "package" / "config").glob("*.yaml"))
    assert main(["sync", str(robot), *map(str, own)]) == 0
    robot.write_text(robot.read_text().replace("face: under, at: [1.5, 2]", "face: under, at: [1.5, 2.5]"))  # both: a mirror
    compiler.compile(robot, tmp_path / "after", despite_errors=True)
    assert main(["sync", str(robot), *map(str, own), "--write"]) == 0
    for path in own:
        one, other = (dict(_values(yaml.safe_load((folder / path.name).read_text()))) for folder in (path.parent, tmp_path / "after" / "config"))
        assert one.keys() == other.keys()
        for key, value in one.items():
            if key[-1] == "footprint" or (key[-1] == "points" and "Outline" in key):
                mine, theirs = (points_of(Word(0, 0, text, '"', None)) for text in (value, other[key]))
                assert mine is not None
                assert theirs is not None
                assert same_polygon(mine, theirs)
            elif key[-1] in OF_THE_DRIVE:
                assert value == pytest.approx(other[key], abs=1e-9)
    assert yaml.safe_load((tmp_path / "package" / "config" / "controllers.yaml").read_text())["diff_drive_controller"][
        "ros__parameters"]["wheel_separation"] == pytest.approx(0.212)  # two halves of a 20 mm pitch more than 0.192


def _values(tree: Any, above: tuple[str, ...] = ()) -> Iterator[tuple[tuple[str, ...], Any]]:
    for key, value in tree.items():
        if isinstance(value, dict):
            yield from _values(value, (*above, key))
        else:
            yield (*above, key), value


def test_exit_codes_and_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "mine.yaml"
    path.write_text("a:\n  ros__parameters:\n    wheel_radius: 0.05\n    x: 1\n")
    was = path.read_bytes()
    assert main(["sync", str(SCOUT), str(path)]) == 1
    said = capsys.readouterr().out
    assert "-    wheel_radius: 0.05\n+    wheel_radius: 0.04\n" in said
    assert path.read_bytes() == was
    assert main(["sync", str(SCOUT), str(path), "--json"]) == 1
    assert json.loads(capsys.readouterr().out) == {"files": [{"file": str(path), "changed": [
        {"key": "a > ros__parameters > wheel_radius", "line": 3, "old": 0.05, "new": 0.04}], "left": []}]}
    assert main(["sync", str(SCOUT), str(path), str(tmp_path / "absent.yaml"), "--write"]) == 2
    assert path.read_bytes() == was  # one can't be read: none is written
    assert "absent.yaml can't be read" in capsys.readouterr().err
    patch = tmp_path / "my.patch"
    patch.write_text(said)
    assert main(["sync", str(SCOUT), str(path), "--write"]) == 0
    assert path.read_text() == was.decode().replace("0.05", "0.04")
    assert main(["sync", str(SCOUT), str(path)]) == 0
    if shutil.which("patch"):
        path.write_bytes(was)
        subprocess.run(["patch", "-p0", str(path), str(patch)], check=True, capture_output=True)
        assert path.read_text() == was.decode().replace("0.05", "0.04")


def test_since_a_layout_and_a_revision(tmp_path: Path) -> None:
    old = tmp_path / "old.yaml"
    old.write_text(SCOUT.read_text().replace("frame: laser_frame", "frame: scan_frame"))
    path = tmp_path / "mine.yaml"
    path.write_text("a: {ros__parameters: {sensor_frame: scan_frame}}\n")
    assert main(["sync", str(SCOUT), str(path)]) == 0
    assert main(["sync", str(SCOUT), str(path), "--since", str(old), "--write"]) == 0
    assert path.read_text() == "a: {ros__parameters: {sensor_frame: laser_frame}}\n"
    robot = tmp_path / "robot.yaml"
    shutil.copy(old, robot)
    for command in (["init", "-q"], ["add", "."], ["-c", "user.name=t", "-c", "user.email=t@example.org", "commit", "-qm", "one"]):
        subprocess.run(["git", *command], cwd=tmp_path, check=True)
    shutil.copy(SCOUT, robot)
    path.write_text("a: {ros__parameters: {sensor_frame: scan_frame}}\n")
    assert main(["sync", str(robot), str(path), "--since", "git:HEAD", "--write"]) == 0
    assert path.read_text() == "a: {ros__parameters: {sensor_frame: laser_frame}}\n"


STEPS = ("create", "write", "flush", "permissions", "replace", "flush folder")
RUN = """
import os, signal, sys
from chassis_describe import syncing
from chassis_describe.disk import file

def killed(path, data, *, was, step=None):
    def step(name):
        if name == sys.argv[3]:
            os.kill(os.getpid(), signal.SIGKILL)
    return real(path, data, was=was, step=step)

real, syncing.replace_file = syncing.replace_file, killed
syncing.sync(sys.argv[1], [sys.argv[2]], write=True)
"""


@pytest.mark.parametrize("step", STEPS)
def test_killed_at_any_step_leaves_old_or_new(step: str, tmp_path: Path) -> None:
    path = tmp_path / "mine.yaml"
    was = "a:\n  ros__parameters:\n    wheel_radius: 0.05\n"
    path.write_text(was)
    done = subprocess.run([sys.executable, "-c", RUN, str(SCOUT), str(path), step], cwd=TOP, capture_output=True, check=False)
    assert done.returncode == -signal.SIGKILL, done.stderr
    assert path.read_text() in (was, was.replace("0.05", "0.04"))
    assert (path.read_text() != was) == (step == "flush folder")


def test_a_file_saved_meanwhile_is_not_lost(tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
                                            capsys: pytest.CaptureFixture[str]) -> None:
    first, path = tmp_path / "first.yaml", tmp_path / "mine.yaml"
    for file in (first, path):
        file.write_text("a: {ros__parameters: {wheel_radius: 0.05}}\n")
    real = rewriting.replace_file

    def late(target: str, data: bytes, *, was: bytes) -> None:
        path.write_text("# saved by hand\n")
        real(target, data, was=was)

    monkeypatch.setattr(syncing, "replace_file", late)
    assert main(["sync", str(SCOUT), str(first), str(path), "--write"]) == 2
    assert path.read_text() == "# saved by hand\n"
    assert sorted(os.listdir(tmp_path)) == ["first.yaml", "mine.yaml"]
    assert f"changed already: {first}" in capsys.readouterr().err  # one of two: which is said


def test_wanted_of_the_demo() -> None:
    """Wheel numbers by hand: d80 is 80 mm across; the rest is what the compiled files say (tests/targets)."""
    want = wanted(compiler.assemble(compiler.read(SCOUT)))
    assert want.drive["wheel_radius"] == pytest.approx(0.04)
    assert want.footprint == tuple(footprint_of(compiler.assemble(compiler.read(SCOUT))))
    assert want.radius is not None
    assert all((x * x + y * y) ** 0.5 <= want.radius * 0.9807852804 + 1e-9 for x, y in want.footprint)  # cos 11.25 degrees


# ------------------------------------------------------------------------------------------------------ files that are bombs
def test_merges_of_merges_are_read_once_each() -> None:
    """Nine to the power of 20 values, were every merge followed for each of its uses."""
    laughs = "a: &a {wheel_radius: 0.05}\n" + "".join(
        f"{chr(98 + k)}: &{chr(98 + k)} {{<<: [{', '.join(['*' + chr(97 + k)] * 9)}]}}\n" for k in range(20))
    text = f"{laughs}n: {{ros__parameters: {{<<: *u}}}}\n"
    assert synced(text) == text
    assert "an anchor that they share" in left(text)["wheel_radius"]


@pytest.mark.thorough
def test_aliases_that_multiply_are_refused() -> None:
    laughs = "a: &a {x: 1}\n" + "".join(f"{chr(98 + k)}: &{chr(98 + k)} {{p: *{chr(97 + k)}, q: *{chr(97 + k)}}}\n" for k in range(24))
    with pytest.raises(UsageError, match="aliases lead to more than can be read"):
        synced(f"{laughs}n: {{ros__parameters: {{z: *y}}}}\n")


def test_a_file_is_read_a_few_times_however_many_values_change(monkeypatch: pytest.MonkeyPatch) -> None:
    from chassis_describe.yaml_text import values

    read: list[int] = []
    real = values.spans
    monkeypatch.setattr(values, "spans", lambda text: read.append(len(text)) or real(text))
    text = "".join(f"n{k}:\n  ros__parameters:\n    wheel_radius: 0.05\n" for k in range(200))
    assert synced(text) == text.replace("0.05", "0.04")
    assert len(read) <= 4
    with pytest.raises(UsageError, match="at most 1000 are followed"):
        synced("".join(f"n{k}: {{ros__parameters: {{wheel_radius: 0.05}}}}\n" for k in range(1001)))


def test_what_can_not_be_written_keeps_nothing_else_from_it() -> None:
    text = "a: {ros__parameters: {wheel_radius: 0.05}}\nb:\n  ros__parameters:\n    wheel_radius: |\n      0.05\n"
    assert synced(text) == text.replace("{wheel_radius: 0.05}", "{wheel_radius: 0.04}")
    assert "block of text" in left(text)["wheel_radius"]
