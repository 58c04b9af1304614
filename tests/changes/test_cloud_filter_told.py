"""Who keeps the boxes that hold the robot itself: its cloud filter is told when they change, and only then."""
from __future__ import annotations

from pathlib import Path

import pytest

from chassis_describe import assemble, read
from chassis_describe.changes.compare import compare
from chassis_describe.changing import checked

CLOUDS = Path(__file__).parents[1] / "targets" / "layouts" / "clouds.yaml"


@pytest.mark.parametrize(("old", "new", "told"), [
    ("topic: front}", "topic: ahead}", False),
    ("mast:        {part: camera_mast, on: upper, at: [-4, 0]}", "mast:        {part: camera_mast, on: upper, at: [-3, 0]}", True)])
def test_told(old: str, new: str, told: bool) -> None:
    text = CLOUDS.read_text(encoding="utf-8")
    assert text.count(old) == 1
    sides = [checked(assemble(read(CLOUDS, text=t))) for t in (text, text.replace(old, new))]
    got = [r for r in compare(*sides).restart if r.consumer == "cloud filter"]
    assert bool(got) is told
    assert all(r.action == "restart" for r in got)


FRONT = "front:       {part: depth_camera, on: upper, at: [4, 0], topic: front}"
MOVED = FRONT.replace("[4, 0]", "[4, 1]")
SCANS = ("SLAM and localization", "scan from a cloud or depth image")


@pytest.mark.parametrize(("ros", "old", "new", "told"), [
    ("{scan_from: front}", FRONT, MOVED, {SCANS[1]}),  # in the root's frame, which stays
    ("{scan_from: front, scan_by: depth_image}", FRONT, MOVED, set(SCANS)),  # in the camera's frame
    ("{scan_from: ring}", FRONT, MOVED, set()),
    ("{scan_from: front}", "length: 90", "length: 100", {SCANS[1]}),
    ("{scan_from: front}", "topic: front}", "topic: ahead}", set())])
def test_who_makes_a_scan_of_something_else_is_told(ros: str, old: str, new: str, told: set[str]) -> None:
    text = CLOUDS.read_text(encoding="utf-8") + f"ros: {ros}\n"
    assert text.count(old) == 1
    sides = [checked(assemble(read(CLOUDS, text=t))) for t in (text, text.replace(old, new))]
    assert {r.consumer for r in compare(*sides).restart} & set(SCANS) == told
