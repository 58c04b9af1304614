"""Nothing is covered before its screw is in: judged by the shadows that trimesh's solids throw on the decks."""
from __future__ import annotations

import re
from pathlib import Path

import pytest
from shapely.geometry import Point

import chassis_describe as cd
from chassis_describe.assembly.model import Assembly
from chassis_describe.documents import documents, instead_of_figures
from chassis_describe.facts.bolting import bolts_of
from chassis_describe.facts.build_order import BuildStep, build_order
from tests.drawings.crowded import crowded

pytest.importorskip("trimesh")  # its shadows judge what a part covers
pytest.importorskip("reportlab")
from tests.demos import NAMES
from tests.drawings.test_sheet import shadow

CONFIG = Path(__file__).resolve().parents[2] / "config"


def robot(source: str) -> Assembly:
    if source.startswith("crowd"):
        return cd.assemble(cd.read("crowd.yaml", text=crowded(int(source[5:]), 24)))
    return cd.assemble(cd.read(CONFIG / f"{source}.yaml"))


def root(assembly: Assembly, name: str) -> tuple[str, str]:
    placed = assembly.parts[name]
    while placed.deck is None:
        placed = assembly.parts[placed.placement.on]
    return placed.deck, placed.face or "top"


@pytest.mark.parametrize("source", [*NAMES, "crowd1", "crowd2"])
def test_heads_and_nuts_are_free_when_their_turn_comes(source: str) -> None:
    assembly = robot(source)
    order = build_order(assembly)
    assert sorted(s.name for s in order if s.kind == "part") == sorted(assembly.parts)
    shadows = {name: shadow(assembly, root(assembly, name)[0], name) for name in assembly.parts}
    done: list[BuildStep] = []
    for step in order:
        if step.kind == "part":
            placed = assembly.parts[step.name]
            # A thread in the part: only the head is reached, from the face that the part is not on. Else both faces.
            opposite = "under" if placed.face == "top" else "top"
            faces = (opposite,) if placed.part.tapped is not None else ("top", "under")
            points = [u for u in bolts_of(assembly) if u.user == step.name and u.deck is not None and u.kind == "part"]
        elif step.kind in ("standoffs", "close"):
            points = [u for u in bolts_of(assembly) if u.user == step.name and u.deck == step.deck and u.kind == "standoff"]
            faces = (step.face,)
        else:
            points, faces = [], ()
        shared = {(u.deck, u.hole.hole) for u in bolts_of(assembly) if u.hole is not None and u.user != step.name}
        for use in points:
            if use.hole is None or (use.deck, use.hole.hole) in shared or use.distance > max(use.clearance, 0.0):
                continue  # one screw for two things: reached where its head is, in the other's step
            at = Point(use.at[0] * 1e3, use.at[1] * 1e3)
            for before in done:
                if before.kind != "part" or root(assembly, before.name)[0] != use.deck or before.name in step.covered:
                    continue
                if root(assembly, before.name)[1] in faces and shadows[before.name].contains(at):
                    riders = [before.name]
                    carrier = assembly.parts[before.name]
                    while carrier.deck is None:
                        carrier = assembly.parts[carrier.placement.on]
                        riders.append(carrier.name)
                    assert step.name in riders, f"{before.name} covers a screw of {step.name} on {use.deck}"
        done.append(step)


@pytest.mark.parametrize("source", NAMES)
def test_decks_close_after_what_is_inside(source: str) -> None:
    assembly = robot(source)
    order = list(build_order(assembly))
    at = {(s.kind, s.name): k for k, s in enumerate(order)}
    for (kind, name), k in at.items():
        if kind == "close":
            assert order[k - 1].kind == "cables"
            assert at["standoffs", name] < k
            for part, _placed in assembly.parts.items():
                if root(assembly, part) == (name, "under"):
                    assert at["part", part] < k
                if root(assembly, part)[0] == getattr(assembly.decks[name].deck.placing, "deck", None):
                    assert at["part", part] < k
        if kind == "part" and assembly.parts[name].placement.support == "shaft":
            assert at["part", assembly.parts[name].placement.on] < k


def test_a_package_of_very_many_steps_says_that_they_are_not_drawn(tmp_path: Path) -> None:
    """Each figure shows the whole deck again: 400 boards on a deck are 400 figures of 400 outlines."""
    boards = "".join(f"  b{k}: {{part: board, on: lower, at: [{k % 20 - 10}, {k // 20 - 10}]}}\n" for k in range(400))
    crowd = ("layout: 1\nrobot: crowd\nparts:\n  board: {mass: 5, bolts: [[0, 0]], bodies: [{box: [10, 10, 4], at: [0, 0, 2]}]}\n"
             "decks:\n  lower: {outline: {rectangle: [500, 500]}, thickness: 4, density: 700}\nplacements:\n" + boards)
    (tmp_path / "crowd.yaml").write_text(crowd)
    assembly = cd.assemble(cd.read(tmp_path / "crowd.yaml"))
    papers = {paper.path: paper.data.decode() for paper in documents(assembly, ())}
    count = 400 * (400 + 25 * 25)  # boards and holes of a lattice of 20 mm, 480 mm from first to last
    assert sorted(papers) == ["docs/sheet.svg", "docs/steps.md"]
    assert "draws a figure for each" in papers["docs/steps.md"]
    assert "400. " in papers["docs/steps.md"] and "![" not in papers["docs/steps.md"]
    assert not instead_of_figures(assembly, count) and instead_of_figures(assembly, count - 1)


def test_where_a_crowd_covers_a_screw_every_step_says_who_is_over_it_by_then() -> None:
    """150 boards in one place: no order helps; each is told all that were fixed before it."""
    rows = "".join(f"  b{k}: {{part: board, on: lower, at: [0.5, 0]}}\n" for k in range(150))
    assembly = cd.assemble(cd.read("crowd.yaml", text=(
        "layout: 1\nrobot: crowd\nparts:\n  board: {mass: 5, bolts: [[-10, 0], [10, 0]], bodies: [{box: [40, 20, 4], at: [0, 0, 2]}]}\n"
        f"decks:\n  lower: {{outline: {{rectangle: [500, 500]}}, thickness: 4, density: 700}}\nplacements:\n{rows}")))
    order = build_order(assembly)
    assert [s.covered for s in order] == [tuple(f"b{n}" for n in range(k)) for k in range(150)]


def test_a_sheet_of_very_many_names_says_how_many_it_leaves_out() -> None:
    from chassis_describe.drawings.table import Wish, drawing

    rows = "".join(f"  b{k}: {{part: board, on: lower, at: [{k % 20 - 10}, {k // 20 - 10}]}}\n" for k in range(150))
    assembly = cd.assemble(cd.read("crowd.yaml", text=(
        "layout: 1\nrobot: crowd\nparts:\n  board: {mass: 5, bolts: [[0, 0]], bodies: [{box: [10, 10, 4], at: [0, 0, 2]}]}\n"
        f"decks:\n  lower: {{outline: {{rectangle: [500, 500]}}, thickness: 4, density: 700}}\nplacements:\n{rows}")))
    short = drawing(assembly, "svg", Wish(most=1)).decode()
    left_out = int(re.search(r"(\d+) more names are left out here", short)[1])  # type: ignore[index]
    named = [k for k in range(150) if f">b{k}</tspan>" in short]
    assert 0 < len(named) == 150 - left_out < 150
    whole = drawing(assembly, "svg", Wish()).decode()
    assert "left out" not in whole and all(f">b{k}</tspan>" in whole for k in range(150))
