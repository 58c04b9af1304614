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
