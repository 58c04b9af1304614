"""What driven joints follow, against the polynomials that trajectory controllers are documented with."""
from __future__ import annotations

from pathlib import Path

import pytest

from chassis_describe import assemble, read
from chassis_describe.trial.trajectory import Follower, Point, followers

TOP = Path(__file__).resolve().parents[2]
LAYOUTS = TOP / "tests/targets/layouts"


def test_lines_between_points_and_held_at_the_end() -> None:
    follower = Follower({"pan": 0.0, "tilt": 1.0})
    assert follower.take([Point(1.0, {"pan": 1.0, "tilt": 1.0}), Point(3.0, {"tilt": 0.0, "pan": 1.0})], now=10.0) is None
    assert follower.wanted(10.5) == pytest.approx({"pan": 0.5, "tilt": 1.0})
    assert follower.wanted(12.0) == pytest.approx({"pan": 1.0, "tilt": 0.5})
    assert follower.wanted(99.0) == {"pan": 1.0, "tilt": 0.0}


def test_velocities_make_a_cubic() -> None:
    """ros2_controllers doc/trajectory.rst: with positions and velocities at both ends, a cubic: from rest at 0 to rest at 1 in
    1 s it is 3 t^2 - 2 t^3."""
    follower = Follower({"pan": 0.0})
    follower.take([Point(1.0, {"pan": 1.0}, {"pan": 0.0})], now=0.0)
    for t in (0.0, 0.2, 0.5, 0.9, 1.0):
        assert follower.wanted(t)["pan"] == pytest.approx(3 * t**2 - 2 * t**3)


def test_a_new_one_begins_where_the_old_one_was_and_an_empty_one_stops() -> None:
    follower = Follower({"pan": 0.0})
    follower.take([Point(2.0, {"pan": 2.0})], now=0.0)
    follower.take([Point(1.0, {"pan": 0.0})], now=1.0)
    assert follower.wanted(1.5)["pan"] == pytest.approx(0.5)
    follower.take([], now=1.5)
    assert follower.wanted(9.0)["pan"] == pytest.approx(0.5)
    follower.take([Point(1.0, {"pan": 1.0})], now=10.0, start=12.0)
    assert follower.wanted(13.0)["pan"] == pytest.approx(1.0)


@pytest.mark.parametrize("points", [
    [Point(1.0, {"tilt": 1.0})], [Point(1.0, {"pan": 1.0, "tilt": 1.0})], [Point(1.0, {})], [Point(-1.0, {"pan": 1.0})],
    [Point(1.0, {"pan": float("nan")})], [Point(1.0, {"pan": 1.0}), Point(1.0, {"pan": 0.0})]])
def test_what_can_not_be_followed_is_refused_whole(points: list[Point]) -> None:
    follower = Follower({"pan": 0.5})
    assert follower.take(points, now=0.0) is not None
    assert follower.wanted(5.0) == {"pan": 0.5}


def test_steering_is_the_drives_and_followers_follow() -> None:
    assert not followers(assemble(read(LAYOUTS / "steered.yaml")))
    watch = followers(assemble(read(TOP / "config/aviary_watch.yaml")))
    assert watch
    for controller, follower in watch.items():
        assert controller.endswith("_controller")
        assert follower.joints
