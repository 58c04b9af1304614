"""Screw lengths against the standards' series and stacks added up by hand (mm).

Series: ISO 4762, ISO 7380-1, ISO 7045 as reproduced in cq_warehouse (nominal_screw_lengths.csv, *_parameters.csv); nut ISO 4032
M3 2.4 high; washer ISO 7089 M3 0.5 thick; pitch of M3 0.5 (ISO 261). Rules (common practice): 1 to 3 threads show past a nut, an
engagement of one diameter at least, 0.5 mm to the bottom of a thread.
"""
from __future__ import annotations

from pathlib import Path

import pytest

import chassis_describe as cd
from chassis_describe.facts.bolting import bolts_of
from chassis_describe.facts.screws import Screw, screws_by_user, screws_of
from tests.demos import NAMES
from tests.drawings.crowded import crowded

CONFIG = Path(__file__).resolve().parents[2] / "config"
SERIES = {"socket": (5, 6, 8, 10, 12, 16, 20, 25, 30), "button": (6, 8, 10, 12, 16, 20, 25, 30),
          "pan": (4, 5, 6, 8, 10, 12, 14, 16, 20, 25, 30)}  # M3
PART = "  thing: {mass: 20, bodies: [{box: [60, 20, 10], at: [0, 0, 5]}], bolts: [[-20, 0], [20, 0]], %s}\n"


def one(part: str, deck: str, more: str = "", placement: str = "") -> Screw:
    """The screw of a part with two bolts on one deck."""
    text = (f"layout: 1\nrobot: stack\nparts:\n{PART % part}decks:\n  plate: {{outline: {{rectangle: [200, 140]}}, {deck}}}\n"
            f"placements:\n  thing: {{part: thing, on: plate{placement}}}\n{more}")
    found = screws_of(cd.assemble(cd.read("stack.yaml", text=text)))
    assert len(found) == 2
    return found[0]


@pytest.mark.parametrize(("part", "deck", "more", "placement", "length", "washers"), [
    # through: flange 3 + plate 4 + nut 2.4 = 9.4; 10 shows 0.6, a thread and a bit
    ("bolt_hole: 3.2, flange: 3", "thickness: 4, material: aluminium", "", "", 10, 0),
    # flange 3 + plate 3 + washer 0.5 (wood) + nut 2.4 = 8.9; 10 shows 1.1, two threads
    ("bolt_hole: 3.2, flange: 3", "thickness: 3, material: birch plywood", "", "", 10, 1),
    # flange 3 + spacer 5 + plate 3 + nut 2.4 = 13.4: 14 is in the series of ISO 7045 (pan) only
    ("bolt_hole: 3.2, flange: 3", "thickness: 3, material: aluminium", "fasteners: {head: pan}\n", ", lift: 5", 14, 0),
    # lock nut ISO 7040, 4.5 high: 3 + 4 + 4.5 = 11.5; 12 shows one thread
    ("bolt_hole: 3.2, flange: 3", "thickness: 4, material: aluminium", "fasteners: {nut: lock}\n", "", 12, 0),
    # 2 + 4 + 2.4 = 8.4 wants 8.9 to 9.9; with one washer more 9.4 to 10.4
    ("bolt_hole: 3.2, flange: 2", "thickness: 4, material: aluminium", "", "", 10, 1),
    # washers everywhere: 3 + 3 + 1.0 + 2.4 = 9.4
    ("bolt_hole: 3.2, flange: 3", "thickness: 3, material: aluminium", "fasteners: {washers: true}\n", "", 10, 2),
    # tapped 5: plate 3 + washer 0.5 = 3.5; from 6.5 to 8
    ("tapped: 5", "thickness: 3, material: acrylic", "", "", 8, 1),
    # tapped 6: plate 4 + spacer 5 = 9; from 12 to 14.5
    ("tapped: 6", "thickness: 4, material: aluminium", "", ", lift: 5", 12, 0),
])
def test_by_hand(part: str, deck: str, more: str, placement: str, length: float, washers: int) -> None:
    screw = one(part, deck, more, placement)
    assert screw.length == pytest.approx(length * 1e-3), screw.why
    assert screw.washers == washers
    assert (screw.nut is None) == ("tapped" in part)
    assert screw.head == ("under" if "tapped" in part else "top")


@pytest.mark.parametrize(("part", "deck", "more", "says"), [
    ("tapped: 3", "thickness: 4, material: aluminium", "", "its thread of thing takes 2.5 mm, and M3 wants 3 mm"),
    ("bolt_hole: 3.2, flange: 9", "thickness: 4, material: aluminium", "", "no ISO 4762 length from 15.9 to 16.9"),
    ("bolt_hole: 3.2, flange: 3", "thickness: 4, material: aluminium", "fasteners: {lengths: [6, 20]}\n", "none of `lengths`"),
    ("bolt_hole: 2.7, screw: M2.5", "thickness: 4, material: aluminium", "fasteners: {head: button}\n", "ISO 7380-1 has no M2.5"),
    ("bolt_hole: 2.7, screw: M2.5", "thickness: 4, material: aluminium", "fasteners: {nut: lock}\n", "no lock nut for M2.5"),
])
def test_none_fits_is_said(part: str, deck: str, more: str, says: str) -> None:
    screw = one(part, deck, more)
    if "flange: 9" in part:
        # 9 + 4 + 2.4 = 15.4; 16 would show 0.6: it fits
        assert screw.length == pytest.approx(0.016)
        return
    assert screw.length is None
    assert says in screw.why
    assert screw.stack


STACK = """layout: 1
robot: tower
decks:
  low: {outline: {rectangle: [200, 140]}, thickness: 4, material: birch plywood}
  high: {outline: {rectangle: [200, 140]}, thickness: 3, material: acrylic, above: low, standoffs: [{length: %s, holes: [[2, 2], [2, -2], [-2, 0]]%s}]}
"""


@pytest.mark.parametrize(("length", "thread", "low", "high"), [
    (60, "", 8, 8),  # low: washer 0.5 + 4 = 4.5, engagement 3 to 5.5: 7.5 to 10; high: 3.5: 6.5 to 9
    (60, ", thread: 4", 8, None),  # 3 to 3.5: 7.5 to 8, and 6.5 to 7, where no length is
    (6, "", None, None),  # screws from both ends may take 2.5 each, and M3 wants 3
    (8, "", 8, None),  # 3.5 each: 7.5 to 8; 6.5 to 7
])
def test_standoffs(length: float, thread: str, low: float | None, high: float | None) -> None:
    assembly = cd.assemble(cd.read("tower.yaml", text=STACK % (length, thread)))
    screws = screws_by_user(assembly)["high"]
    assert len(screws) == 6
    for screw in screws:
        wanted = low if screw.deck == "low" else high
        assert screw.length == (pytest.approx(wanted * 1e-3) if wanted is not None else None), (screw.deck, screw.why)
        assert screw.head == ("under" if screw.deck == "low" else "top")
        if screw.length is not None:  # both screws in one standoff
            reach = [screw.length - sum(layer.thickness for layer in s.layers) for s in screws if s.length is not None][:1]
            assert 2 * max(reach) < length * 1e-3


def test_one_screw_serves_both_faces() -> None:
    """A part over a standoff: flange 3 + plate 4 into 6 mm of thread: one screw from the part's side, 10 to 12.5 mm."""
    text = ("layout: 1\nrobot: shared\nparts:\n" + PART % "bolt_hole: 3.2, flange: 3" + "decks:\n"
            "  low: {outline: {rectangle: [200, 140]}, thickness: 4, material: aluminium}\n"
            "  high: {outline: {rectangle: [200, 140]}, thickness: 4, material: aluminium, above: low, "
            "standoffs: [{length: 40, holes: [[-1, 0], [1, 0], [3, 2]]}]}\n"
            "placements:\n  thing: {part: thing, on: high}\n")
    screws = [s for s in screws_of(cd.assemble(cd.read("shared.yaml", text=text))) if "thing" in s.users]
    assert [s.users for s in screws] == [("high", "thing")] * 2
    assert {s.length for s in screws} == {0.01}
    assert {s.head for s in screws} == {"top"}
    assert {s.into for s in screws} == {"thread"}


@pytest.mark.parametrize("source", [*NAMES, "crowd"])
@pytest.mark.parametrize("head", ["socket", "button", "pan"])
def test_every_length_is_made_and_holds(source: str, head: str) -> None:
    """The rules again for every screw of whole robots, from the stack that it says: by the series above, not the program's."""
    text = crowded(2, 20) if source == "crowd" else (CONFIG / f"{source}.yaml").read_text(encoding="utf-8")
    assembly = cd.assemble(cd.read(CONFIG / f"{source}.yaml", text=f"{text}\nfasteners: {{head: {head}}}\n"))
    screws = screws_of(assembly)
    for screw in screws:
        if screw.length is None:
            assert screw.why
            continue
        length = screw.length * 1e3
        if screw.thread == "M3":
            assert round(length, 6) in SERIES[head]
        stack = sum(layer.thickness for layer in screw.layers) * 1e3
        if screw.into == "nut":
            assert any(layer.what == "nut" for layer in screw.layers)
            pitch = {"M2": 0.4, "M2.5": 0.45, "M3": 0.5}[screw.thread]
            assert pitch - 1e-6 <= length - stack <= 3 * pitch + 1e-6
        else:
            assert length - stack >= {"M2": 2, "M2.5": 2.5, "M3": 3}[screw.thread] - 1e-6
    # one screw for each hole that is used, and one for each bolt that meets none
    met = {(u.hole.on, u.hole.hole) for u in bolts_of(assembly) if u.hole is not None and u.distance <= max(u.clearance, 0) + 1e-9}
    rest = [u for u in bolts_of(assembly) if u.hole is None or u.distance > max(u.clearance, 0) + 1e-9]
    assert len(met) <= len(screws) <= len(met) + len(rest)
