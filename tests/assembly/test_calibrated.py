"""A sensor whose pose was calibrated: true = nominal · correction, by hand; what is measured elsewhere is left alone."""
from __future__ import annotations

import math

import pytest

import chassis_describe as cd
from chassis_describe.reports.frames import as_data

LAYOUT = """
layout: 1
robot: cal
decks:
  lower: {{outline: {{rectangle: [240, 160]}}, thickness: 4, material: birch plywood}}
placements:
  cam: {{part: depth_camera, on: holder, calibrated: {calibrated}}}
  holder: {{part: tilting_holder, on: lower, at: [{i}, 0], turn: 90, set: {{pitch: 15}}}}
"""


def robot(i: int, calibrated: str) -> cd.Assembly:
    return cd.assemble(cd.read("cal.yaml", text=LAYOUT.format(i=i, calibrated=calibrated)))


def noted(i: int) -> str:
    """The nominal pose as `frames` prints it, in mm and degrees."""
    plain = cd.assemble(cd.read("cal.yaml", text=LAYOUT.format(i=i, calibrated="{}")))
    pose = plain.sensors[0].pose
    return (f"{{xyz: {[round(v * 1e3, 3) for v in pose.t]}, rpy: {[round(math.degrees(v), 4) for v in pose.rpy]}}}")


def test_the_correction_is_in_the_sensors_own_axes() -> None:
    """By hand: turned left and 15 degrees down, +x of the sensor is base (0, cos 15°, -sin 15°): 10 mm along it."""
    nominal = robot(2, "{}").sensors[0].pose
    found = robot(2, f"{{nominal: {noted(2)}, xyz: [10, 0, 0], rpy: [0, 0, 30]}}")
    (facet,) = found.sensors
    shift = [a - b for a, b in zip(facet.pose.t, nominal.t)]
    assert shift == pytest.approx([0.0, 0.01 * math.cos(math.radians(15)), -0.01 * math.sin(math.radians(15))], abs=1e-12)
    assert facet.nominal == nominal
    # yawed by 30 degrees about its own z, its x leaves the old one by 30 degrees towards the old y
    along = sum(a * b for a, b in zip(facet.pose.x_axis, nominal.x_axis))
    across = sum(a * b for a, b in zip(facet.pose.x_axis, nominal.y_axis))
    assert (along, across) == pytest.approx((math.cos(math.pi / 6), 0.5), abs=1e-12)
    assert found.poses[facet.frame].t == pytest.approx(facet.pose.t, abs=1e-12)
    for ours, plain in zip(found.links, robot(2, "{}").links):
        assert ours.bodies == plain.bodies, "bodies don't move"
    told = as_data(found)["calibrated"][facet.frame]
    assert told["applied"] is True
    assert told["nominal"]["xyz"] == pytest.approx(nominal.t)


def test_moved_two_holes_it_is_stale_and_left_alone() -> None:
    plain, found = robot(4, "{}"), robot(4, f"{{nominal: {noted(2)}, xyz: [10, 0, 0]}}")
    assert found.sensors[0].stale
    assert found.sensors[0].pose == plain.sensors[0].pose
    assert "calibration-stale" in {f.code for f in cd.check(found)}


def test_compare_says_calibrate_again() -> None:
    from chassis_describe.changes.compare import Side, compare
    from chassis_describe.facts.figures import figures_of

    text = f"{{nominal: {noted(2)}, xyz: [0.1, 0, 0]}}"
    sides = [Side(assembly=a, findings=cd.check(a), figures=figures_of(a)) for a in (robot(2, text), robot(4, text))]
    said = [r.because for r in compare(*sides).restart if r.action == "calibrate"]
    assert said
    assert any("calibrate again" in words for words in said)
