"""The story: draught_scout's lidar goes two holes forward. Every number is worked out by hand beside its check.

The figures that the arithmetic starts from are those of the layout and of the catalogue: a lattice of 20 mm, a lidar
of 110 g, wheels of 80 mm, the lidar's scan plane 33 mm above its base.
"""
from __future__ import annotations

import json
import math
import shutil
from pathlib import Path

import pytest

from chassis_describe.cli.main import main

DEMO = Path(__file__).resolve().parents[2] / "config" / "draught_scout.yaml"
PITCH, LIDAR, WHEEL_RADIUS = 0.020, 0.110, 0.040


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> dict[str, object]:
    folder = tmp_path_factory.mktemp("story")
    robot = Path(shutil.copy(DEMO, folder / "draught_scout.yaml"))
    out: dict[str, object] = {"robot": robot}

    def run(*arguments: str) -> str:
        import contextlib
        import io

        stream = io.StringIO()
        with contextlib.redirect_stdout(stream):
            out["code"] = main(list(arguments))
        return stream.getvalue()

    out["before"] = json.loads(run("check", str(robot), "--json"))
    out["frames_before"] = json.loads(run("frames", str(robot), "--json", "--from", "base_link"))
    out["text"] = run("move", str(robot), "lidar", "--by", "2,0")
    assert out["code"] == 0
    out["after"] = json.loads(run("check", str(robot), "--json"))
    out["frames_after"] = json.loads(run("frames", str(robot), "--json", "--from", "base_link"))
    out["change"] = json.loads(run("compare", str(DEMO), str(robot), "--json"))
    return out


def frames(listing: dict) -> dict[str, tuple[list[float], list[float]]]:
    return {f["child"]: (f["xyz"], f["rpy"]) for f in listing["frames"]}


def test_one_number_in_the_file(told: dict) -> None:
    before, after = DEMO.read_text().splitlines(), told["robot"].read_text().splitlines()
    assert len(before) == len(after)
    lines = [(a, b) for a, b in zip(before, after) if a != b]
    assert len(lines) == 1
    assert lines[0][1] == lines[0][0].replace("at: [0, 0]", "at: [2, 0]")


def test_two_frames_moved_by_forty_millimetres(told: dict) -> None:
    # two holes of 20 mm: 2 x 20 = 40 mm forward; the deck is not turned, so all of it is along x of base_link
    old, new = frames(told["frames_before"]), frames(told["frames_after"])
    for frame, (xyz, rpy) in old.items():
        shift = [b - a for a, b in zip(xyz, new[frame][0])]
        assert shift == pytest.approx([0.040, 0, 0] if frame in ("lidar_link", "laser_frame") else [0, 0, 0], abs=1e-12)
        assert new[frame][1] == rpy
    assert [(m["frame"], m["dxyz_mm"]) for m in told["change"]["moved"]] == [
        ("lidar_link", [40, 0, 0]), ("laser_frame", [40, 0, 0])]
    assert "lidar_link, laser_frame: x +40.000 mm" in told["text"]
    # The frame by hand. base_link is between the wheels: hole 1.5 of the lower deck, 30 mm ahead of its middle, so the
    # upper deck's middle is at x = -30 mm and hole 2 of it at -30 + 40 = 10 mm. Height: the axle is 18.5 mm under the
    # lower deck's underside, which is 4 mm under its top: 22.5; then standoffs of 60, plate of 3, scan plane at 33.
    assert new["laser_frame"][0] == pytest.approx([0.010, 0.0, 0.0225 + 0.060 + 0.003 + 0.033], abs=1e-12)


def test_mass_stays_and_the_centre_of_mass_follows(told: dict) -> None:
    # centre of mass: a part of m that moves by d takes that of the whole M along by d*m/M (University Physics Vol. 1,
    # 9.6, from memory): 110 g x 40 mm / 1651 g = 2.67 mm
    old, new = told["before"]["summary"], told["after"]["summary"]
    assert new["mass"] == pytest.approx(old["mass"], rel=1e-12)
    assert new["com"][0] - old["com"][0] == pytest.approx(LIDAR * 0.040 / old["mass"], rel=1e-9)
    assert new["com"][1:] == pytest.approx(old["com"][1:], abs=1e-12)
    assert "centre of mass: x +2.67 mm" in told["text"]


def test_it_stands_as_before_on_other_loads(told: dict) -> None:
    old, new = told["before"]["summary"], told["after"]["summary"]
    assert new["rest"] == old["rest"]
    # Lever rule: the caster, at hole -4.5 (-90 mm) of a deck whose middle is 30 mm behind the axle, is 120 mm behind it
    # and carries com_x/(-120 mm): 25.0/120 = 20.8 %, then 22.3/120 = 18.6 %
    for summary, percent in ((old, 20.8), (new, 18.6)):
        share = next(c["load_share"] for c in summary["contacts"] if c["of"] == "caster")
        assert share == pytest.approx(summary["com"][0] / -0.120, rel=1e-6)
        assert share * 100 == pytest.approx(percent, abs=0.05)


def test_it_tips_forward_sooner(told: dict) -> None:
    # The front edge is the line under the wheels, at x = 0; the centre of mass is 40 + 30.7 = 70.7 mm high. It tips when
    # the centre of mass is above the edge: atan(25.0/70.7) = 19.4 degrees, then atan(22.3/70.7) = 17.5 degrees
    for summary, degrees in ((told["before"]["summary"], 19.4), (told["after"]["summary"], 17.5)):
        edge = next(t for t in summary["tip"] if set(t["edge"]) == {"wheel_left", "wheel_right"})
        by_hand = math.degrees(math.atan2(-summary["com"][0], summary["com"][2] + WHEEL_RADIUS))
        assert edge["angle_deg"] == pytest.approx(by_hand, abs=1e-6)
        assert edge["angle_deg"] == pytest.approx(degrees, abs=0.05)
    assert "tips over wheel_left - wheel_right: at 19.4° before, at 17.5° now" in told["text"]


def test_what_the_move_does_not_touch(told: dict) -> None:
    old, new = told["before"]["summary"], told["after"]["summary"]
    # Footprint: the lidar is a disc of 70 mm; hole 2 puts its front at 40 + 35 = 75 mm of the deck, within the upper
    # deck's own 95 mm, so the outline on the ground is the old one.
    assert new["footprint"] == old["footprint"]
    # Arcs: it stands on the highest deck and scans 33 mm above it; nothing else stands on that deck, so it sees past
    # everything before and after.
    assert new["lidars"]["laser_frame"]["arcs"] == old["lidars"]["laser_frame"]["arcs"] == []
    assert new["wheel_separation"] == old["wheel_separation"]
    assert not {"footprint", "arcs_of(laser_frame)", "wheel_separation", "mass", "rest"} & told["change"]["changed"].keys()


def test_findings_and_who_is_told(told: dict) -> None:
    # 17.5 degrees are more than the 15 that `tips-early` asks for, holes [1..3, -1..1] of the upper deck exist and are
    # free: nothing to say before, nothing after
    assert told["before"]["findings"] == told["after"]["findings"] == []
    assert told["change"]["findings"] == {"gained": [], "lost": []}
    actions = {(r["consumer"], r["action"]) for r in told["change"]["restart"]}
    assert actions == {("robot_state_publisher", "reload"), ("SLAM and localization", "restart"), ("simulator", "restart"),
                       ("laser_frame", "calibrate")}
    assert told["change"]["work"] == [{"verb": "move", "name": "lidar", "words": "2 holes forward"}]
    assert told["text"].endswith("no finding came or went\n")
