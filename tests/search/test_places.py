"""`places`: every place against the whole check of a robot that is written so; any number of workers; unfinished layouts; twins.

The single checks read a layout whose text has the place in it, so neither the quick way nor the moved layout is trusted. Layouts
are invented.
"""
from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest
from lxml import etree

from chassis_describe import compiler, placing
from chassis_describe.assembly.model import Assembly
from chassis_describe.cli.main import main
from chassis_describe.errors import UsageError
from chassis_describe.facts.figures import figures_of
from chassis_describe.facts.landings import Landing
from chassis_describe.fit import check
from chassis_describe.search import best
from chassis_describe.search.best import landings_for, question
from chassis_describe.search.judge import Judge, raw_findings, score_of

SCOUT = Path(__file__).resolve().parents[2] / "config" / "draught_scout.yaml"
HEAD = """
layout: 1
robot: small
decks:
  floor: {outline: {rectangle: [150, 110]}, thickness: 3, material: birch plywood, skip: [[0, 0]]}
parts:
  block: {mass: 90, bodies: [{box: [30, 22, 40], at: [0, 0, 20]}], bolts: [[-10, 0], [10, 0]]}
  post: {mass: 20, bodies: [{box: [16, 16, 60], at: [0, 0, 30]}], bolts: [[0, 0]],
         seats: {top: {at: [0, 0, 60], bolts: [{at: [-10, 0], hole: 3.5}, {at: [10, 0], hole: 3.5}]}}}
  eye: {mass: 30, bodies: [{cylinder: [18, 20], at: [0, 0, 10]}], bolts: [[-10, 0], [10, 0]],
        sensors: {eye: {kind: lidar, at: [0, 0, 14], range: [20, 4000], samples: 360}}}
placements:
"""
ROLLING = """
  motor_left:  {part: gearmotor_d37, on: floor, face: under, at: [0.5, 1], points: left}
  motor_right: {mirror_of: motor_left}
  wheel_left:  {part: wheel_d80, on: motor_left}
  wheel_right: {part: wheel_d80, on: motor_right}
  caster:      {part: ball_caster_h40, on: floor, face: under, at: [-2.5, 0], lift: 18.5}
"""
DRIVE = "\ndrive: {kind: differential, left: [wheel_left], right: [wheel_right]}\n"
FIRST = "  first: {part: block, on: floor, at: [1.5, 1]}\n"
ON = "on: floor, at: [{i}, {j}], face: {face}, turn: {turn}"
#: What is asked for, a layout with its place as a gap, and where it is now.
CASES = {
    "a lidar among standing things": ("eye", HEAD + "  a: {part: post, on: floor, at: [2, 0]}\n" + FIRST + "  eye: {part: eye, " + ON
                                      + "}\n", (-1.5, -1)),
    "a post with what stands on it": ("post", HEAD + FIRST + "  post: {part: post, " + ON + "}\n  eye: {part: eye, on: post}\n", (-1, -1)),
    "a twin": ("one", HEAD + FIRST.replace("1]", "0]") + "  one: {part: block, " + ON + "}\n  two: {mirror_of: one}\n", (-1.5, 1)),
    "unfinished: its holes are taken": ("late", HEAD + FIRST + "  late: {part: block, " + ON + "}\n", (1.5, 1)),
    "on wheels": ("load", HEAD + ROLLING + "  load: {part: battery_small, fixing: strap, " + ON + "}\n" + DRIVE, (0, 0)),
    "a caster": ("caster", HEAD + ROLLING.replace("on: floor, face: under, at: [-2.5, 0]", ON) + DRIVE, (-2.5, 0)),
}


def filled(text: str, i: float, j: float, face: str, turn: float) -> str:
    return text.replace("{i}", repr(i)).replace("{j}", repr(j)).replace("{face}", face).replace("{turn}", repr(turn))


def read(text: str) -> Assembly:
    return compiler.assemble(compiler.read("small.yaml", text=text.encode()))


def errors(assembly: Assembly) -> set[tuple[str, tuple[str, ...]]]:
    return {(f.code, f.of) for f in check(assembly) if f.severity.value == "error"}


@pytest.mark.thorough
@pytest.mark.parametrize("case", list(CASES))
def test_every_place_is_that_of_a_check_of_its_own(case: str) -> None:
    name, text, now = CASES[case]
    face = "under" if case == "a caster" else "top"
    drawn = read(filled(text, *now, face, 0))
    judge = Judge(drawn, name)
    asked = question(drawn, name, face="both" if case != "a caster" else face)
    base = set(judge.known)
    tried = landings_for(drawn, asked)
    assert len(tried) > 5
    fits = 0
    for to in tried[::3 if "motor" not in text else max(1, len(tried) // 8)]:  # a check of a robot on wheels takes its time
        there = read(filled(text, *to.at, to.face, math.degrees(to.turn)))
        gained = errors(there) - base
        verdict = judge(to)
        assert (verdict.refused is None) == (not gained), (to, verdict, gained)
        if verdict.refused is not None:
            assert verdict.refused in {code for code, _ in gained} or len(gained) == 1
            continue
        fits += 1
        assert verdict.score is not None
        assert judge.told(to).warnings == tuple(sorted(f.code for f in raw_findings(there) if f.severity.value == "warning"))
        truth = score_of(there)
        figures = figures_of(there)
        assert verdict.score.blocked == pytest.approx(sum(v.blocked for v in figures.lidars.values()), abs=1e-9)
        assert verdict.score.com == pytest.approx(truth.com, abs=1e-12)
        assert verdict.score.footprint == pytest.approx(truth.footprint, abs=1e-12)
        if figures.ground is not None:
            assert verdict.score.tip == pytest.approx(figures.ground.least_tip, abs=1e-9)
    assert fits


def test_the_quick_way_is_taken_where_it_may_be() -> None:
    quick = {case: Judge(read(filled(text, *now, "under" if case == "a caster" else "top", 0)), name).quick
             for case, (name, text, now) in CASES.items()}
    assert quick == {"a lidar among standing things": True, "a post with what stands on it": True, "a twin": False,
                     "unfinished: its holes are taken": True, "on wheels": True, "a caster": False}


def test_holes_that_are_not_there_are_no_places() -> None:
    """150 x 110 mm at 20 mm pitch: i -3 to 3, j -2 to 2, less [0, 0]. Two bolts 20 mm apart, from i - 0.5 to i + 0.5: 6 x 5 places,
    two of which need [0, 0]."""
    name, text, now = CASES["unfinished: its holes are taken"]
    drawn = read(filled(text, *now, "top", 0))
    tried = landings_for(drawn, question(drawn, name))
    assert len(tried) == 6 * 5 - 2
    assert not [t for t in tried if (0, 0) in t.holes]
    assert len(landings_for(drawn, question(drawn, name, face="both", quarter=True))) == 2 * (2 * 28 + 2 * (7 * 4 - 2))


def test_a_heading_is_kept() -> None:
    """Wherever it goes, x points where it pointed: on the other face, on a turned deck, off a turned seat; `points` means the same."""
    turned = HEAD.replace("parts:", "  lid: {outline: {rectangle: [150, 110]}, thickness: 3, above: floor, turn: 90, standoffs: "
                          "[{length: 80, holes: [[-3, -1], [-3, 1], [3, -1], [3, 1]]}]}\nparts:", 1)
    for placed in ("on: floor, at: [0.5, 1], points: left", "on: lid, face: under, at: [0, 1.5], points: forward"):
        drawn = read(turned + f"  eye: {{part: eye, {placed}}}\n")
        x = drawn.parts["eye"].pose.vector((1, 0, 0))
        for to in landings_for(drawn, question(drawn, "eye", face="both"))[::7]:
            there = read(turned + "  eye: {part: eye, " + filled(ON, *to.at, to.face, math.degrees(to.turn)).replace("floor", to.on) + "}\n")
            assert there.parts["eye"].pose.vector((1, 0, 0)) == pytest.approx(x, abs=1e-9), to
    # It hangs 80 mm above the floor, over its (-30, 0): so many holes away are places there.
    best = placing.places(drawn, question(drawn, "eye", on=["floor"], face="top"), workers=1).best
    assert [p.away for p in best] == pytest.approx([math.dist((20 * p.to.at[0], 20 * p.to.at[1], 0), (-30, 0, 80)) / 20 for p in best if p.to])
    seated = read(HEAD + "  post: {part: post, on: floor, at: [1, 1], points: left}\n  eye: {part: eye, on: post}\n")
    assert [v for turns in question(seated, "eye", face="both").turns.values() for v in turns] == pytest.approx([math.pi / 2, -math.pi / 2])


def test_what_a_place_was_ranked_by_is_told(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    name, text, now = CASES["a lidar among standing things"]
    path = tmp_path / "small.yaml"
    path.write_text(filled(text, *now, "top", 0))
    assert main(["places", str(path), name, "--prefer", "com", "--write", "--workers", "1"]) == 0
    said = capsys.readouterr().out
    assert "centre of mass moves 0 mm, as now\n" in said and said.endswith("is there already\n")
    assert path.read_text() == filled(text, *now, "top", 0)
    path.write_text(filled(text, 0.3, 0.3, "top", 0).replace("[[-10, 0], [10, 0]],\n", "[[-10, 0], [9, 4]],\n"))
    assert main(["places", str(path), name]) == 1
    assert f"chassis_describe adapter {path} {name}" in capsys.readouterr().out


@pytest.mark.thorough
def test_the_answer_is_the_same_on_any_number_of_workers() -> None:
    name, text, now = CASES["a lidar among standing things"]
    drawn = read(filled(text, *now, "top", 0))
    asked = question(drawn, name, face="both", quarter=True)
    assert len(landings_for(drawn, asked)) > 64
    alone, shared = placing.places(drawn, asked, workers=1), placing.places(drawn, asked, workers=3)
    assert alone.every == shared.every
    assert (alone.best, alone.now, alone.refused) == (shared.best, shared.now, shared.refused)
    assert alone.fits + sum(alone.refused.values()) == alone.tried


@pytest.mark.thorough
def test_the_lidar_of_the_demo_from_its_worst_hole_to_its_best(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """On the upper deck it sees all round everywhere, so the place decides how the robot tips: at the front worst."""
    path, svg = tmp_path / "scout.yaml", tmp_path / "places.svg"
    path.write_text(SCOUT.read_text().replace("on: upper, at: [0, 0], points: back", "on: upper, at: [3, 0], points: back"))
    assert main(["places", str(path), "lidar", "--on", "upper", "--json", "--draw", str(svg), "--write", "--workers", "1"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert list(found) == ["placement", "tried", "fits", "refused", "now", "best"]
    assert list(found["best"][0]) == ["on", "face", "at", "turn", "blocked_deg", "tip_deg", "com_shift_mm", "footprint_mm2", "warnings",
                                      "holes_away"]
    assert found["now"]["at"] == [3.0, 0.0]
    assert found["best"][0]["tip_deg"] > found["now"]["tip_deg"] + 5
    ranks = [(round(p["blocked_deg"]), -round(p["tip_deg"]), len(p["warnings"]), p["holes_away"]) for p in found["best"]]
    assert ranks == sorted(ranks)
    moved = compiler.assemble(compiler.read(path))
    assert list(moved.parts["lidar"].at or ()) == found["best"][0]["at"]
    ground = figures_of(moved).ground
    assert ground is not None
    assert math.degrees(ground.least_tip or 0.0) == pytest.approx(found["best"][0]["tip_deg"], abs=1e-4)
    drawing = etree.fromstring(svg.read_bytes())
    spots = [e for e in drawing.iter() if e.get("data-good") is not None]
    assert len(spots) == found["fits"] + 3  # three of the legend


def test_a_plan_can_be_coloured_place_by_place() -> None:
    name, text, now = CASES["a lidar among standing things"]
    drawn = read(filled(text, *now, "top", 0))
    found = placing.places(drawn, question(drawn, name, quarter=True), workers=1)
    spots = {s.at: s for s in placing.spots_of(drawn, found, "floor", "top")}
    assert len({t.at for t, _ in found.every}) == len(spots)
    best = found.best[0].to
    assert isinstance(best, Landing)
    assert spots[best.at].rank == 0
    assert {s.refused for s in spots.values() if s.rank is None} <= set(found.refused)
    assert all((s.rank is None) == (s.refused is not None) for s in spots.values())
    assert spots[best.at].point == pytest.approx((0.02 * best.at[0], 0.02 * best.at[1]))


def test_of_many_places_as_good_as_one_another_few_are_put_together(monkeypatch: pytest.MonkeyPatch) -> None:
    """All tie: ten without a warning among the nearest are enough, and the answer is that of telling all."""
    drawn = read(HEAD + "  late: {part: block, on: floor, at: [0.5, 1]}\n")
    asked, tell = question(drawn, "late", face="both", prefer=["view"]), Judge.told
    told: list[Landing] = []

    def counted(judge: Judge, to: Landing) -> Any:
        told.append(to)
        return tell(judge, to)

    monkeypatch.setattr(Judge, "told", counted)
    monkeypatch.setattr(best, "_AT_ONCE", 12)
    few = placing.places(drawn, asked, workers=1)
    many, found = len(told), few.fits
    monkeypatch.setattr(best, "_AT_ONCE", 1000)
    assert placing.places(drawn, asked, workers=1).best == few.best
    assert many < len(told) - many == found


@pytest.mark.parametrize(("words", "says"), [
    (["lidr"], "did you mean `lidar`?"), (["wheel_left"], "ask where `motor_left`"), (["lidar", "--on", "uper"], "did you mean `upper`?"),
    (["lidar", "--prefer", "view,speed"], "say view, tip, com, footprint"), (["lidar", "--workers", "0"], "counted from 1"),
    (["lidar", "--draw", "places.dxf"], "drawn as .svg, .pdf or .png"),
])
def test_questions_without_sense(words: list[str], says: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["places", str(SCOUT), *words]) == 2
    assert says in capsys.readouterr().err


def test_no_such_place_is_written(tmp_path: Path) -> None:
    name, text, now = CASES["a lidar among standing things"]
    drawn = read(filled(text, *now, "top", 0))
    found: Any = placing.places(drawn, question(drawn, name), workers=1)
    with pytest.raises(UsageError, match="99 is none of them"):
        placing.put(str(tmp_path / "small.yaml"), found, 99)
