"""Commands as a person or a launch file calls them: output, silence, exit codes."""
from __future__ import annotations

import io
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

import chassis_describe as cd
from chassis_describe.cli.main import main
from chassis_describe.findings import finding
from chassis_describe.reports.findings_text import finding_data

TOP = Path(__file__).resolve().parents[2]
DEMO = TOP / "config" / "draught_scout.yaml"
#: The demo with its lidar 4 mm beside the holes.
OFF_ITS_HOLES = re.sub(r"(lidar: .*at: )\[[^\]]*\]", r"\g<1>[1.2, 0]", DEMO.read_text())


def run(*arguments: str, stdin: bytes | None = None, cwd: Path | None = None) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run([sys.executable, "-m", "chassis_describe", *arguments], input=stdin, cwd=cwd or TOP,
                          capture_output=True, env=None, timeout=120)


def test_public_names_are_these() -> None:
    assert sorted(cd.__all__) == ["ChassisError", "Finding", "LayoutError", "Severity", "TargetError", "UsageError",
                                  "assemble", "check", "compile", "read", "urdf"]
    assert all(getattr(cd, name) is not None for name in cd.__all__)
    assert dir(cd) == sorted(cd.__all__)


def test_urdf_prints_nothing_on_standard_error() -> None:
    # launch's Command substitution fails on any (ros2/launch, launch/substitutions/command.py, on_stderr)
    done = run("urdf", str(DEMO))
    assert done.returncode == 0
    assert done.stderr == b""
    assert done.stdout.startswith(b'<?xml version="1.0"?>\n<robot name="draught_scout">')
    done.stdout.decode("ascii")


@pytest.mark.thorough
def test_a_terminal_without_a_degree_sign_is_no_fault() -> None:
    # ASCII (ANSI X3.4) has no U+00B0; Python writes to such a stream what codecs' "backslashreplace" makes of it.
    said = {code: subprocess.run([sys.executable, "-m", "chassis_describe", "check", str(DEMO)], cwd=TOP, capture_output=True,
                                 env={**os.environ, "PYTHONIOENCODING": code}, timeout=120) for code in ("ascii", "utf-8")}
    assert [done.returncode for done in said.values()] == [0, 0] and not said["ascii"].stderr
    whole = said["utf-8"].stdout.decode("utf-8")
    assert "\N{DEGREE SIGN}" in whole
    assert said["ascii"].stdout == whole.encode("ascii", "backslashreplace")


def test_standard_input_is_a_layout(capsys: pytest.CaptureFixture[str]) -> None:
    done = run("urdf", "-", stdin=DEMO.read_bytes())
    assert done.stdout == run("urdf", str(DEMO)).stdout


def test_import_is_light() -> None:
    heavy = "import sys, chassis_describe; assert not {'numpy', 'lxml', 'shapely', 'yaml'} & set(sys.modules)"
    assert subprocess.run([sys.executable, "-c", heavy], cwd=TOP).returncode == 0
    # numpy and shapely take longer to import than everything else together, and the URDF does not need them
    late = ("import sys, io; sys.stdout = io.StringIO(); from chassis_describe.cli.main import main; "
            f"main(['urdf', {str(DEMO)!r}]); assert not {{'numpy', 'shapely', 'logging', 'dataclasses', 'chassis_describe.layout.plate_file'}} & set(sys.modules)")
    assert subprocess.run([sys.executable, "-c", late], cwd=TOP).returncode == 0


def test_check_says_it_all_and_exits_by_severity(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert main(["check", str(DEMO), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["robot"] == "draught_scout"
    assert set(data["summary"]) >= {"mass", "com", "inertia", "footprint", "circumscribed_radius", "inscribed_radius",
                                    "contacts", "tip", "rest", "wheel_separation", "wheel_radius", "lidars", "cameras",
                                    "rangers", "play"}
    spoilt = tmp_path / "spoilt.yaml"
    spoilt.write_text(OFF_ITS_HOLES)
    assert main(["check", str(spoilt)]) == 1
    out = capsys.readouterr().out
    assert "bolt-off-hole" in out
    assert "spoilt.yaml:" in out


def test_layout_errors_exit_2_with_the_same_objects(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    bad = tmp_path / "bad.yaml"
    bad.write_text("layout: 1\nrobot: x1\ndecks:\n  a: {outline: {circle: 100}, thicknes: 3}\n")
    assert main(["check", str(bad), "--json"]) == 2
    streams = capsys.readouterr()
    codes = {f["code"] for f in json.loads(streams.out)["findings"]}
    assert "unknown-key" in codes
    assert "thickness" in streams.err


@pytest.mark.parametrize("arguments", [["check", "absent.yaml"], ["check"], ["frames", str(DEMO), "--from", "lasr_frame"],
                                       ["holes", str(DEMO), "loer"], ["parts", "lidr"], ["nonsense"],
                                       ["urdf", str(DEMO), "--visual", "wire"],
                                       ["frames", str(DEMO), "--from", "lidar"],
                                       ["frames", str(DEMO), "--from", "upper"],
                                       ["places", str(DEMO), "ldar"], ["adapter", str(DEMO), "ldar"],
                                       ["move", str(DEMO), "ldar", "--by", "1,0"]])
def test_unusable_arguments_exit_2_with_a_hint(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(arguments) == 2
    said = capsys.readouterr().err
    assert said
    assert "Traceback" not in said
    if "lasr_frame" in arguments:
        assert "laser_frame" in said
    if "loer" in arguments:
        assert "lower" in said
    if "lidar" in arguments:
        assert "a placement" in said
        assert "frames are lidar_link, laser_frame" in said
    if "upper" in arguments:
        assert "is a deck, not a frame; its frame is upper_link" in said
    if "places" in arguments or "adapter" in arguments or "move" in arguments:  # one sentence, whichever command is asked
        assert said.startswith("chassis_describe: `ldar` is not a placement; did you mean `lidar`?")


@pytest.mark.parametrize(("prefix", "better"), [
    ("/scout/", "scout_"), ("2nd_", "robot_2nd_"), ("Robot1", "robot1_"), ("Left_", "left_"), ("left", "left_"), ("a__b_", "a_b_"),
    ("r-1_", "r_1_"), ("_", "robot_"), ("left_", None), ("r2_d2_", None)])
def test_one_rule_for_prefixes_on_the_command_line_and_in_layouts(prefix: str, better: str | None, tmp_path: Path,
                                                                  capsys: pytest.CaptureFixture[str]) -> None:
    text = DEMO.read_text()
    assert text.count("ros:\n") == 1
    within = tmp_path / "within.yaml"
    within.write_text(text.replace("ros:\n", f"ros:\n  prefix: '{prefix}'\n"))
    for arguments in (["urdf", str(DEMO), "--prefix", prefix], ["urdf", str(within)]):
        assert main(arguments) == (0 if better is None else 2)
        streams = capsys.readouterr()
        if better is None:
            assert f'name="{prefix}base_link"' in streams.out
        else:
            assert f"write `{better}`" in streams.err
    if better is not None:
        assert main(["urdf", str(DEMO), "--prefix", better]) == 0


def test_a_waiver_of_something_that_does_not_exist_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    layout = tmp_path / "one_bolt.yaml"
    layout.write_text(f"{DEMO.read_text()}checks: {{accept: [{{finding: not-fixed, of: [lidr], because: trial}}]}}\n")
    main(["check", str(layout), "--json"])
    unused = next(f for f in json.loads(capsys.readouterr().out)["findings"] if f["code"] == "accept-unused")
    assert "nothing is called lidr, did you mean lidar?" in unused["hint"]


def test_places_in_the_built_in_catalogue_are_the_same_wherever_it_is_installed() -> None:
    mark = next(iter(cd.assemble(cd.read(DEMO)).parts.values())).part.mark
    assert finding_data(finding("not-fixed", "x", where=[mark]))["where"][0]["file"] == f"built-in catalogue/{Path(mark.file).name}"
    assert Path(mark.file).is_file()

def test_frames_in_four_forms(capsys: pytest.CaptureFixture[str]) -> None:
    import yaml

    main(["frames", str(DEMO), "--json"])
    data = json.loads(capsys.readouterr().out)
    assert data["root"] == "base_footprint"
    main(["frames", str(DEMO), "--yaml"])
    assert yaml.safe_load(capsys.readouterr().out) == data
    main(["frames", str(DEMO), "--commands"])
    lines = [x for x in capsys.readouterr().out.splitlines() if x.startswith("ros2 run tf2_ros static_transform_publisher")]
    fixed = [f for f in data["frames"] if f["type"] == "fixed"]
    assert len(lines) == len(fixed)
    for line, frame in zip(lines, fixed):
        flags = line.split()[4:]
        values = dict(zip(flags[::2], flags[1::2]))
        assert [float(values[k]) for k in ("--x", "--y", "--z")] == pytest.approx(frame["xyz"], abs=1e-12)
        assert [float(values[k]) for k in ("--qx", "--qy", "--qz", "--qw")] == pytest.approx(frame["quaternion"])
        assert (values["--frame-id"], values["--child-frame-id"]) == (frame["parent"], frame["child"])
    main(["frames", str(DEMO)])
    assert "laser_frame" in capsys.readouterr().out


def test_from_a_frame_is_the_inverse_of_to_it(capsys: pytest.CaptureFixture[str]) -> None:
    main(["frames", str(DEMO), "--json", "--from", "laser_frame"])
    seen = {f["child"]: f for f in json.loads(capsys.readouterr().out)["frames"]}
    a = cd.assemble(cd.read(DEMO))
    back = a.poses["laser_frame"].inverse()
    assert seen["base_link"]["xyz"] == pytest.approx(back.t, abs=1e-12)
    assert set(seen) == set(a.poses) - {"laser_frame"}


def test_new_writes_a_clean_robot_and_never_overwrites(tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
                                                       capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["new", "hall_sweeper"]) == 0
    text = (tmp_path / "hall_sweeper.yaml").read_text()
    assert main(["check", "hall_sweeper.yaml", "--strict"]) == 0, capsys.readouterr().out
    assert main(["new", "hall_sweeper"]) == 2
    assert (tmp_path / "hall_sweeper.yaml").read_text() == text
    assert main(["new", "Hall Sweeper"]) == 2
    assert "hall_sweeper" in capsys.readouterr().err


@pytest.mark.thorough
def test_compile_writes_nothing_while_the_check_has_errors(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    spoilt = tmp_path / "spoilt.yaml"
    spoilt.write_text(OFF_ITS_HOLES)
    out = tmp_path / "out"
    assert main(["compile", str(spoilt), "-o", str(out)]) == 1
    assert not out.exists()
    assert main(["compile", str(spoilt), "-o", str(out), "--despite-errors"]) == 0
    assert (out / "urdf" / "draught_scout.urdf").is_file()


@pytest.mark.thorough
def test_the_package_can_be_compiled_from_itself(tmp_path: Path) -> None:
    first, second = tmp_path / "a", tmp_path / "b"
    assert main(["compile", str(DEMO), "-o", str(first)]) == 0
    assert main(["compile", str(first / "layout" / "draught_scout.yaml"), "-o", str(second)]) == 0
    files = {p.relative_to(first): p.read_bytes() for p in first.rglob("*") if p.is_file()}
    assert files == {p.relative_to(second): p.read_bytes() for p in second.rglob("*") if p.is_file()}


def test_holes_shows_users_and_absent_holes(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["holes", str(DEMO), "lower"]) == 0
    out = capsys.readouterr().out
    assert "75 holes" in out  # 11 x 7 on 240 x 160 mm at 20 mm, less two cut by the cable window
    row = next(line for line in out.splitlines() if line.split()[1:2] == ["-2"])
    assert row.split()[5] == "."  # [-2, 0] is under the window


def test_a_closed_pipe_is_no_fault() -> None:
    done = subprocess.run(f"{sys.executable} -m chassis_describe urdf {DEMO} | head -n 1", shell=True, cwd=TOP,
                          capture_output=True)
    assert b"Traceback" not in done.stderr
    assert b"BrokenPipe" not in done.stderr


def test_a_part_file_stands_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "my_parts.yaml"
    file.write_text("parts:\n  my_buzzer: {mass: 14, bodies: [{box: [50, 16, 2], at: [0, 0, 1]}], bolts: [[-20, 0], [20, 0]]}\n")
    assert main(["parts", str(file)]) == 0
    assert "my_buzzer" in capsys.readouterr().out
    assert main(["parts", str(file), "my_buzzer"]) == 0
    assert "50 x 16 x 2 mm" in capsys.readouterr().out
    assert main(["parts", str(file), "my_buzer"]) == 2
    assert "my_buzzer" in capsys.readouterr().err
    file.write_text("parts:\n  my_buzzer: {mass: 14, bodys: []}\n")
    assert main(["parts", str(file)]) == 2
    assert f"{file}:2:" in capsys.readouterr().err
    assert main(["parts", "lidar_d70", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)[0]["sensors"][0]["kind"] == "lidar"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
@pytest.mark.parametrize(("shell", "says"), [("{} urdf {} > /dev/full", "No space left"), ("{} frames {} >&-", "output is closed"),
                                             ("mkdir gone && cd gone && rmdir ../gone && {} compile {} -o out", "No such file")])
def test_faults_of_the_system_are_none_of_ours(shell: str, says: str, tmp_path: Path) -> None:
    top = Path(__file__).parents[2]
    command = shell.format(f"{sys.executable} -m chassis_describe", top / "config" / "seedling_cart.yaml")
    done = subprocess.run(["sh", "-c", command], capture_output=True, text=True, cwd=tmp_path,
                          env={**os.environ, "PYTHONPATH": str(top)}, check=False)
    assert done.returncode == 2, done.stderr
    assert says in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
@pytest.mark.parametrize(("arguments", "streams", "says"), [
    ("--help", {"stdout": None}, "standard output is closed"), ("check --help", {"stdout": "/dev/full"}, "No space left"),
    ("--version", {"stdout": "/dev/full"}, "No space left"), ("check absent.yaml", {"stderr": None}, ""),
    ("nonsense", {"stderr": "/dev/full"}, ""), ("check -", {"stdin": None}, "`-`), which is closed"), ("check -", {"stdin": "/dev/zero"}, "4 MiB")])
def test_streams_that_are_closed_full_or_endless(arguments: str, streams: dict[str, str | None], says: str,
                                                 monkeypatch: pytest.MonkeyPatch) -> None:
    """A closed stream is None in Python's sys (its documentation of sys.__stderr__); errno(3): ENOSPC."""
    said = io.StringIO()
    monkeypatch.setattr(sys, "stderr", said)
    (name, place), = streams.items()
    stream = None if place is None else open(place, "r" if name == "stdin" else "w", encoding="utf-8")  # noqa: SIM115
    monkeypatch.setattr(sys, name, stream)
    assert main(arguments.split()) == 2
    assert says in said.getvalue()
    for left in (stream, sys.stderr):
        if left is not None:
            left.close()
