"""Mirror images on lattices whose hole [0, 0] is off the middle: what is mirrored are the millimetres. Worked by hand."""
from __future__ import annotations

import pytest

import chassis_describe as cd
from chassis_describe.errors import LayoutError


def robot(placements: str, origin: str = "[0, 10]", upper: str = "") -> cd.Assembly:
    return cd.assemble(cd.read("trial.yaml", text=f"""layout: 1
robot: trial
parts:
  block: {{mass: 30, bodies: [{{box: [50, 10, 10], at: [0, 0, 5]}}], bolts: [[-20, 0], [20, 0]]}}
  tray:
    mass: 30
    bodies: [{{box: [60, 60, 2], at: [0, 0, 1]}}]
    bolts: [[-20, 0], [20, 0]]
    seats: {{face: {{at: [0, 0, 2], lattice: {{pitch: 10, hole: 3.5, screw: M3, origin: [0, 5]}}}}}}
decks:
  lower: {{outline: {{rectangle: [300, 200]}}, thickness: 4, material: birch plywood, lattice: {{origin: {origin}}}}}
{upper}
placements:
{placements}
"""))


def y_of(a: cd.Assembly, name: str) -> float:
    return a.parts[name].pose.t[1] * 1e3


def test_at_is_mirrored_in_millimetres() -> None:
    # origin y 10: j = 2 is y = 50, so the image is at y = -50: j = -3 (-j - 2·10/20)
    a = robot("  left: {part: block, on: lower, at: [1, 2]}\n  right: {mirror_of: left}")
    assert (y_of(a, "left"), y_of(a, "right")) == pytest.approx((50, -50), abs=1e-9)
    assert a.parts["right"].at == (1, -3)


def test_a_place_that_is_left_out_is_mirrored_too() -> None:
    a = robot("  left: {part: block, on: lower}\n  right: {mirror_of: left}")
    assert (y_of(a, "left"), y_of(a, "right")) == pytest.approx((10, -10), abs=1e-9)


def test_screws_are_mirrored_in_millimetres() -> None:
    a = robot("  left: {part: block, on: lower, screws: [[1, 2], [3, 2]], points: forward}\n  right: {mirror_of: left}")
    assert a.parts["right"].placement.screws == ((1, -3), (3, -3))
    assert (y_of(a, "left"), y_of(a, "right")) == pytest.approx((50, -50), abs=1e-9)


def test_screws_without_a_hole_opposite_are_refused() -> None:
    # origin y 5: j = 2 is y = 45, and y = -45 is no multiple of 20 from 5
    with pytest.raises(LayoutError) as raised:
        robot("  left: {part: block, on: lower, screws: [[1, 2], [3, 2]], points: forward}\n  right: {mirror_of: left}", "[0, 5]")
    assert "no hole lies opposite" in raised.value.findings[0].message
    a = robot("  left: {part: block, on: lower, at: [1, 2]}\n  right: {mirror_of: left}", "[0, 5]")
    assert a.parts["right"].at == (1, -2.5)  # which the check then says


def test_an_image_of_an_image_is_the_thing_itself() -> None:
    a = robot("  left: {part: block, on: lower, at: [1, 2]}\n  right: {mirror_of: left}\n  again: {mirror_of: right, turn: 90}")
    assert y_of(a, "again") == pytest.approx(50, abs=1e-9)


def test_a_key_of_its_own_wins_as_it_is_written() -> None:
    a = robot("  left: {part: block, on: lower, at: [1, 2]}\n  right: {mirror_of: left, at: [1, -4]}")
    assert y_of(a, "right") == pytest.approx(-70, abs=1e-9)


def test_the_plane_is_the_one_of_its_own_deck() -> None:
    upper = """  upper: {outline: {rectangle: [200, 160]}, thickness: 4, material: birch plywood, above: lower, shift: [0, -0.5],
          standoffs: [{length: 40, holes: [[-3, -3], [-3, 2], [3, -3]]}], lattice: {origin: [0, 0]}}"""
    a = robot("  left: {part: block, on: lower, at: [1, 2]}\n  right: {mirror_of: left, on: upper}", upper=upper)
    local = a.decks["upper"].pose.inverse().point(a.parts["right"].pose.t)
    assert local[1] * 1e3 == pytest.approx(-50, abs=1e-9)


def test_on_seats_likewise_and_the_hint_names_the_seat() -> None:
    trays = "  tray_left: {part: tray, on: lower, at: [0, 2]}\n  tray_right: {mirror_of: tray_left}\n"
    a = robot(trays + "  left: {part: block, on: tray_left, at: [0, 1]}\n  right: {mirror_of: left, on: tray_right}")
    # seat origin y 5, pitch 10: j = 1 is 15 to the left of the seat, so 15 to its right on the other tray
    assert (y_of(a, "left"), y_of(a, "right")) == pytest.approx((50 + 15, -50 - 15), abs=1e-9)
    a = robot(trays + "  left: {part: block, on: tray_left, at: [0, -0.5]}\n  right: {mirror_of: left}")
    hints = [f.hint for f in cd.check(a) if f.code in ("hole-taken", "bodies-overlap") and set(f.of) >= {"left", "right"}]
    assert hints and all("write `on: tray_right` for right" in h for h in hints)


def test_following_a_hint_about_an_image_moves_both_to_where_it_fits() -> None:
    import re

    lines = "  left: {part: block, on: lower, at: [1, 2.3]}\n  right: {mirror_of: left}"
    found = [f for f in cd.check(robot(lines)) if f.code == "bolt-off-hole"]
    assert len(found) == 2
    for f in found:
        at = re.search(r"`(at: \[[^]]*\])`", f.hint)
        assert at is not None
        assert not [g for g in cd.check(robot(lines.replace("at: [1, 2.3]", at[1]))) if g.code == "bolt-off-hole"]
