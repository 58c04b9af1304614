"""Plates that this program draws, read again: the same edge, windows, holes and slots. The decks are invented.

The file's hole [0, 0] is the one nearest to the middle of the box, so a deck comes back with its origin there: the offset is found
here among all holes, by the words of the manual.
"""
from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st
from shapely.affinity import translate

import chassis_describe as cd
from chassis_describe.assembly.model import DeckFacet
from chassis_describe.drawings.table import Wish, drawing
from chassis_describe.space.plate.plate import Plate
from tests.layout.plate_files import opener

pytest.importorskip("ezdxf")
DECKS = {
    "plain": "{outline: {rectangle: [240, 160], corner: 12, centre: [13, -7]}, thickness: 4, density: 700}",
    "disc": "{outline: {circle: 260, centre: [5, 5]}, thickness: 4, density: 700, cutouts: [{circle: 40, centre: [31, 42]}], "
            "lattice: {origin: [10, 10]}}",
    "wells": "{outline: {rectangle: [200, 140], corner: 15}, thickness: 4, density: 1200, skip: [[0, 0], [2, 1]], lattice: {pitch: 25, "
             "hole: 4.5, screw: M4, origin: [3, -4]}, cutouts: [{circle: 40, centre: [100, 0]}, {rectangle: [30, 20], corner: 4, "
             "centre: [-20, 10]}, {circle: 16, centre: [-5, 10]}], drilled: [{at: [35, 12], hole: 6}, {at: [-60, 42], slot: [16, 4], turn: 30}]}",
    "corner": "{outline: {polygon: [[-90, -70], [100, -70], [100, 20], [40, 80], [-90, 80]]}, thickness: 3, density: 2700, "
              "cutouts: [{polygon: [[-60, -40], [-31, -44], [-45, -12]]}], drilled: [{at: [71, -51], hole: 8}]}",
    "even": "{outline: {rectangle: [160, 120]}, thickness: 3, density: 2700, lattice: {origin: [10, 10]}, skip: [[-1, 0]]}",
    "bare": "{outline: {rectangle: [160, 120], centre: [20, 10]}, thickness: 3, density: 2700, lattice: none, drilled: [{at: [3, 4], hole: 5}]}",
}


def first(deck: str) -> DeckFacet:
    return cd.assemble(cd.read("r.yaml", text=f"layout: 1\nrobot: r\ndecks:\n  plate: {deck}\n")).decks["plate"]


def again(deck: str, under: bool, keys: str) -> DeckFacet:
    """The deck drawn, and read from its drawing; with its own keys but outline, cutouts and holes."""
    data = drawing(cd.assemble(cd.read("r.yaml", text=f"layout: 1\nrobot: r\ndecks:\n  plate: {deck}\n")), "dxf",
                   Wish(deck="plate", under=under))
    text = f"layout: 1\nrobot: r\ndecks:\n  plate: {{outline: {{file: a.dxf{', seen_from: under' if under else ''}}}, {keys}}}\n"
    return cd.assemble(cd.read("r.yaml", opener=opener(data, text))).decks["plate"]


def zero_of(facet: DeckFacet) -> tuple[float, float]:
    """The lattice hole that is [0, 0] in the file: nearest to the middle of the box, then forward, then left."""
    x0, y0, x1, y1 = facet.plate.outline.bounds
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    lattice = facet.deck.lattice
    if lattice is None:
        return middle
    holes = [(x, y) for x, y, _ in facet.plate.holes[sum(d.hole is not None for d in facet.deck.drilled):]]
    return min(holes, key=lambda h: (round(math.dist(h, middle), 6), -round(h[0], 6), -round(h[1], 6)))


def same(one: Plate, other: Plate, shift: tuple[float, float]) -> None:
    """The plates are one, the second moved by ``-shift`` (m)."""
    a, b = one.polygon(360), translate(other.polygon(360), *shift)
    assert a.symmetric_difference(b).area < 1e-5 * a.length
    mine = sorted((round(x - shift[0], 8) + 0.0, round(y - shift[1], 8) + 0.0, round(d, 8)) for x, y, d in one.holes)
    assert np.allclose(mine, sorted((round(x, 8) + 0.0, round(y, 8) + 0.0, round(d, 8)) for x, y, d in other.holes), atol=2e-9)
    assert [s.length for s in other.slots] == pytest.approx([s.length for s in one.slots], abs=1e-8)


@pytest.mark.parametrize("under", [False, True], ids=["top", "under"])
@pytest.mark.parametrize("name", DECKS)
def test_a_deck_comes_back(name: str, under: bool) -> None:
    deck = DECKS[name]
    old = first(deck)
    lattice = {"wells": "lattice: {pitch: 25, hole: 4.5, screw: M4}", "bare": "lattice: none"}.get(name, "note: again")
    new = again(deck, under, f"thickness: {old.deck.thickness * 1e3:g}, density: {old.deck.density:g}, {lattice}")
    zero = zero_of(old)
    same(old.plate, new.plate, zero)
    if old.deck.lattice is not None:
        assert new.deck.holes is not None
        steps = [(v - o) / old.deck.lattice.pitch for v, o in zip(zero, old.deck.lattice.origin)]
        assert new.deck.holes == {(round((x - zero[0]) / old.deck.lattice.pitch), round((y - zero[1]) / old.deck.lattice.pitch))
                                  for x, y, d in old.plate.holes[sum(d.hole is not None for d in old.deck.drilled):]}
        assert all(abs(s - round(s)) < 1e-6 for s in steps)
    mass = [f.plate.inertial(f.deck.density or 0.0) for f in (old, new)]
    assert mass[1].mass == pytest.approx(mass[0].mass, rel=2e-4)
    if name not in ("wells",):  # where windows cross the edge, the drawing's arcs are found again from chords
        assert mass[1].mass == pytest.approx(mass[0].mass, rel=1e-9)


@given(st.lists(st.floats(45, 150), min_size=5, max_size=11), st.floats(-10, 10), st.floats(-10, 10), st.booleans())
@settings(max_examples=6)
def test_any_outline_comes_back(reach: list[float], x: float, y: float, under: bool) -> None:
    """Star-shaped polygons with their lattice anywhere."""
    ways = [k * math.tau / len(reach) for k in range(len(reach))]
    points = [[round(r * math.cos(a), 3), round(r * math.sin(a), 3)] for r, a in zip(reach, ways)]
    deck = f"{{outline: {{polygon: {points}}}, thickness: 4, density: 700, lattice: {{origin: [{x:.3f}, {y:.3f}]}}}}"
    old = first(deck)
    if len(old.plate.holes) < 2:
        return
    new = again(deck, under, "thickness: 4, density: 700")
    zero = zero_of(old)
    assert len(new.plate.holes) == len(old.plate.holes)
    same(old.plate, new.plate, zero)


