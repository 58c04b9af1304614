"""Moving parts through the page's questions: nothing before Enter, one change at Enter, the same bytes back."""
from __future__ import annotations

import json
import math
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

import chassis_describe as cd
from chassis_describe.changes.move import Request
from chassis_describe.changing import checked, prepare
from chassis_describe.cli.main import main  # the command is the judge of the page
from chassis_describe.drawings.views import deck_views
from chassis_describe.page.movable import placements_data
from chassis_describe.page.ranking import Ranking
from chassis_describe.placing import places, question
from chassis_describe.values import replace
from tests.page.conftest import CONFIG

Serve = Callable[..., Any]


def ask_move(served: Any, task: str, name: str, to: list[str], turn: str | None = None) -> Any:
    return served.ask(do=task, of=name, to=to, turn=turn, revision=served.revision)


def locked(served: Any) -> dict[str, str | None]:
    return {p["name"]: p["locked"] for p in served.news("picture")["placements"]}


@pytest.mark.thorough
def test_ten_ghost_steps_write_nothing_and_enter_writes_what_move_writes(serve: Serve, cart: Path, tmp_path: Path,
                                                                         capsys: pytest.CaptureFixture[str]) -> None:
    before = cart.read_bytes()
    served = serve(cart)
    listing = sorted(p.name for p in tmp_path.iterdir())
    stamp = cart.stat().st_mtime_ns
    for k in range(10):
        assert ask_move(served, "preview", "cells", [str(k - 5), "-1"]).status == 200
    assert (cart.read_bytes(), cart.stat().st_mtime_ns) == (before, stamp)
    assert sorted(p.name for p in tmp_path.iterdir()) == listing
    said = ask_move(served, "preview", "cells", ["-1", "-1"]).data
    other = tmp_path / "other.yaml"
    other.write_bytes(before)
    main(["move", str(other), "cells", "--by", "1,0"])
    told = capsys.readouterr().out.replace(str(other), str(cart))
    assert said["words"] in told  # compare's words
    assert ask_move(served, "write", "cells", ["-1", "-1"]).status == 200
    assert cart.read_bytes() == other.read_bytes()
    assert served.ask(do="undo", revision=served.revision).data["words"] == "move cells"
    assert cart.read_bytes() == before
    assert served.ask(do="redo", revision=served.revision).status == 200
    assert cart.read_bytes() == other.read_bytes()
    assert served.ask(do="redo", revision=served.revision).status == 409


def test_children_and_the_mirror_twin_are_said_before_enter(serve: Serve, scout: Path) -> None:
    served = serve(scout)
    found = ask_move(served, "preview", "motor_left", ["0.5", "2"]).data
    assert found["along"] == ["wheel_left goes along on motor_left", "motor_right moves too, the mirror image of motor_left, and takes wheel_right along"]
    assert set(found["moved"]) == {"motor_left", "wheel_left", "motor_right", "wheel_right"}
    assert {o["name"] for o in found["outlines"]} == set(found["moved"])
    assert ask_move(served, "preview", "motor_left", ["1.5", "2"]).data["nothing"]


def test_places_where_bolts_fit_are_those_that_the_check_lets_be(serve: Serve, cart: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every place that is marked as free passes the check of bolts and holes; a place beside it does not (the command's findings)."""
    served = serve(cart)
    fits = served.ask(do="fits", of="driver", turn="0", revision=served.revision).data
    free = [p["at"] for p in fits["places"] if p["taken"] is None]
    assert len(free) > 3
    text = cart.read_text()
    codes = {"bolt-off-hole", "hole-absent", "hole-taken", "hole-near-edge", "screw-too-big"}
    wrong = [free[0][0] + 0.3, free[0][1]]
    for at, fine in ((free[0], True), (free[-1], True), (free[len(free) // 2], True), (wrong, False)):
        cart.write_text(text.replace("driver:      {part: motor_driver_small, on: plate, at: [2, -0.5]",
                                     f"driver:      {{part: motor_driver_small, on: plate, at: [{at[0]}, {at[1]}]"))
        main(["check", str(cart), "--json"])
        found = {f["code"] for f in json.loads(capsys.readouterr().out)["findings"]
                 if "driver" in f["of"] and f["severity"] != "note"}
        assert (not found & codes) == fine, (at, found)


@pytest.mark.parametrize(("name", "quarters"), [("driver", 0), ("driver", 1), ("controller", 0)])
def test_places_on_the_page_are_those_of_the_command(serve: Serve, cart: Path, name: str, quarters: int) -> None:
    """Place by place: what is refused with which code, and what is better than what, over the one face of one deck."""
    served = serve(cart)
    assembly = cd.assemble(cd.read(str(cart)))
    placed = assembly.parts[name]
    turn = math.degrees(placed.turn) + 90.0 * quarters
    told = {"judged": -1, "tried": 0}
    while told["judged"] != told["tried"]:
        told = served.ask(do="places", of=name, turn=f"{turn:.6f}", revision=served.revision).data
    asked = question(assembly, name, on=[placed.deck or ""], quarter=True)
    asked = replace(asked, turns={where: tuple(t for t in turns if abs(math.remainder(math.degrees(t) - turn, 360.0)) < 1e-6)
                                  for where, turns in asked.turns.items()})
    found = places(assembly, asked, workers=1)
    assert told["by"] == list(asked.prefer)
    by_place = {tuple(s["at"]): s for s in told["spots"]}
    assert len(by_place) == found.tried > 0
    for to, verdict in found.every:
        assert by_place[tuple(round(v, 9) for v in to.at)]["refused"] == verdict.refused
    order = [by_place[tuple(round(v, 9) for v in p.to.at)]["rank"] for p in found.best if p.to is not None]
    assert order == sorted(order)
    assert not order or order[0] == 0


def test_an_answer_says_how_far_it_is_and_ends_with_the_whole_one() -> None:
    assembly = cd.assemble(cd.read(str(CONFIG / "seedling_cart.yaml")))
    ranking, seen = Ranking(), []
    while not seen or seen[-1]["judged"] < seen[-1]["tried"]:
        seen.append(ranking.answer(assembly, "r", "driver", 0.0, seconds=0.0))
    assert [s["judged"] for s in seen] == list(range(1, seen[-1]["tried"] + 1))
    assert seen[-1] == Ranking().answer(assembly, "r", "driver", 0.0, seconds=60.0)


def test_on_a_seat_nothing_is_ranked(serve: Serve, scout: Path) -> None:
    served = serve(scout)
    free = [name for name, why in locked(served).items() if why is None]
    on_seats = [name for name in free if served.viewer.robot.shown.assembly.parts[name].deck is None]
    for name in on_seats:
        assert served.ask(do="places", of=name, turn="0", revision=served.revision).data["spots"] == []
    assert served.ask(do="places", of="wheel_left", turn="0", revision=served.revision).status == 409
    assert served.ask(do="places", of="lidar", turn="0", revision="old").status == 409


def test_two_editors(serve: Serve, cart: Path) -> None:
    """Who asked of an older file is refused; an external save ends undo, and says so."""
    one, other = serve(cart), serve(cart)
    old = other.revision
    assert ask_move(one, "write", "driver", ["3", "-0.5"]).status == 200
    after = cart.read_bytes()
    late = other.ask(do="write", of="driver", to=["4", "-0.5"], turn=None, revision=old)
    assert late.status == 409
    assert cart.read_bytes() == after
    other.news("picture", lambda p: p["revision"] == one.revision)
    assert ask_move(other, "write", "controller", ["-3", "1"]).status == 200
    both = cart.read_bytes()
    stopped = one.news("history", lambda h: h["stopped"])
    assert stopped["undo"] is None
    assert "another program" in stopped["stopped"]
    refused = one.ask(do="undo", revision=one.revision)
    assert refused.status == 409
    assert "another program" in refused.data["refused"]
    assert cart.read_bytes() == both
    assert other.ask(do="undo", revision=other.revision).status == 200
    assert cart.read_bytes() == after


def test_nothing_is_edited_while_the_file_does_not_read(serve: Serve, cart: Path) -> None:
    served = serve(cart)
    revision, broken = served.revision, cart.read_bytes() + b"nonsense: [\n"
    cart.write_bytes(broken)
    served.news("trouble", bool)
    for task in ("preview", "write"):
        reply = served.ask(do=task, of="driver", to=["3", "-0.5"], turn=None, revision=revision)
        assert reply.status == 409
        assert "does not read" in reply.data["refused"]
    assert cart.read_bytes() == broken


def test_locked_with_the_reason_and_only_the_layout_is_written(serve: Serve, scout: Path, tmp_path: Path) -> None:
    over = tmp_path / "night.yaml"
    over.write_text("placements:\n  lidar: {at: [1, 0]}\n")
    served = serve(scout, over)
    reasons = locked(served)
    assert reasons["lidar"] == f"is defined in {over}, which is laid over the layout: change it there"
    assert reasons["motor_right"] == "is the mirror image of motor_left: move that one, and it follows"
    assert reasons["battery"] == "sits on a seat of cradle, which has no lattice: move cradle"
    assert reasons["imu"] is None
    before = (scout.read_bytes(), over.read_bytes())
    for name in ("lidar", "motor_right", "wheel_left", "battery", "no_such_part"):
        assert ask_move(served, "write", name, ["2", "0"]).status == 409, name
    assert (scout.read_bytes(), over.read_bytes()) == before
    assert ask_move(served, "write", "imu", ["-2.5", "2.5"]).status == 200
    assert over.read_bytes() == before[1]
    assert scout.read_bytes() != before[0]


def test_a_move_that_cannot_be_is_refused_with_its_reason(serve: Serve, cart: Path) -> None:
    text = cart.read_text().replace("driver:      {part: motor_driver_small, on: plate, at: [2, -0.5], lift: 5}",
                                    "driver:      {part: motor_driver_small, on: plate, screws: [[1, -1], [1, 0], [3, -1], [3, 0]], points: forward, lift: 5}")
    cart.write_text(text)
    served = serve(cart)
    reply = ask_move(served, "preview", "driver", ["2.5", "-0.5"])
    assert reply.status == 409
    assert "whole" in reply.data["refused"]
    assert cart.read_text() == text


@pytest.mark.parametrize("turn", ["0", "90"])
def test_a_step_of_the_ghost_is_where_the_part_goes(tmp_path: Path, turn: str) -> None:
    """A law: one hole along `i` or `j` shifts a part's origin in the plan by the page's own step, on both faces of a deck and on the
    lattice of a seat (10 mm), however its holder is turned; a quarter turn turns it the page's way round."""
    path = tmp_path / "law.yaml"
    path.write_text(f"""layout: 1
robot: law
decks:
  floor: {{outline: {{rectangle: [300, 300]}}, lattice: {{pitch: 20, hole: 3.5, screw: M3}}, thickness: 4, material: birch plywood}}
placements:
  grid: {{part: flat_holder, on: floor, at: [0, 0], turn: {turn}}}
  board: {{part: imu_board, on: grid, at: [0, 0]}}
  top: {{part: imu_board, on: floor, at: [5.5, 5.5], turn: {turn}}}
  below: {{part: imu_board, on: floor, face: under, at: [-5.5, -5.5], turn: {turn}}}
""")
    old = cd.assemble(cd.read(path))
    own, side = old.layout.files[:1], checked(old)
    where = {p.name: p for p in deck_views(old)["floor"].parts}
    for shown in placements_data(old, own):
        plane, part = shown["plane"], where[shown["name"]]
        for step, along in (((1, 0), plane["i"]), ((0, 1), plane["j"])):
            to = (Decimal(repr(shown["at"][0])) + step[0], Decimal(repr(shown["at"][1])) + step[1])
            done = prepare(str(path), Request(placement=shown["name"], to=to), old, before=side)
            assert done is not None
            new = next(p for p in deck_views(done.new)["floor"].parts if p.name == shown["name"])
            assert [new.origin[k] - part.origin[k] for k in (0, 1)] == pytest.approx(along, abs=1e-4)
            assert math.hypot(*along) == pytest.approx(10 if shown["name"] == "board" else 20)
        done = prepare(str(path), Request(placement=shown["name"], turn=Decimal(repr(shown["turn"] + 90))), old, before=side)
        assert done is not None
        new = next(p for p in deck_views(done.new)["floor"].parts if p.name == shown["name"])
        assert part.forward is not None
        assert new.forward == pytest.approx((-part.forward[1] * plane["ccw"], part.forward[0] * plane["ccw"]))
