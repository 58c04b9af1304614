"""The fit rule in words, on patterns small enough to do by hand: 20 mm pitch, 3.5 mm holes, M3 screws.

Play by hand: (3.5 - 3)/2 + (h - 3)/2; both 0.25 for h = 3.5, 0.25 for a thread.
"""
from __future__ import annotations

import pytest

from chassis_describe.assembly.fitting import lattice_fit
from chassis_describe.layout.model import Part
from chassis_describe.source import Mark

MARK = Mark("made", 1, 1)


def part(*bolts: tuple[float, float], **more: object) -> Part:
    return Part(name="made", bolts=tuple((x * 1e-3, y * 1e-3) for x, y in bolts), flange=0.003, mark=MARK, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(("bolts", "rule"), [
    ([(-20, 0), (20, 0)], "at integers, any quarter turn"),
    ([(0, -10), (0, 10)], "at halves in j; turned by a quarter, at halves in i"),
    ([(-20, -10), (-20, 10), (20, -10), (20, 10)], "at halves in j; turned by a quarter, at halves in i"),
    ([(-10, -10), (10, 10)], "at halves in i and j, any quarter turn"),
    ([(0, 0), (40, 20)], "at integers, any quarter turn"),
    ([(10, 0), (10, 20)], "at halves in i; turned by a quarter, at halves in j"),
])
def test_rules_in_words(bolts: list[tuple[float, float]], rule: str) -> None:
    assert lattice_fit(part(*bolts), 0.020, 0.0035).sentence == rule


def test_play_decides() -> None:
    """Bolts 40.4 mm apart are each 0.2 mm off; 41.2 apart 0.6 mm, more than 0.25 + 0.25."""
    assert lattice_fit(part((-20.2, 0), (20.2, 0)), 0.020, 0.0035).places
    assert not lattice_fit(part((-20.6, 0), (20.6, 0)), 0.020, 0.0035).places
    # threads have no play of their own: 0.25 is left
    assert lattice_fit(part((-20.2, 0), (20.2, 0), tapped=0.005), 0.020, 0.0035).places
    assert not lattice_fit(part((-20.3, 0), (20.3, 0), tapped=0.005), 0.020, 0.0035).places


def test_other_fractions_are_found_and_said() -> None:
    """Origin 6 mm before the first bolt: it fits at integers less 0.3, that is plus 0.7."""
    fit = lattice_fit(part((6, 0), (46, 0)), 0.020, 0.0035)
    assert [(round(p.i, 6), round(p.j, 6), p.quarter) for p in fit.places] == [
        (0.7, 0, 0), (0, 0.7, 1), (0.3, 0, 2), (0, 0.3, 3)]
    assert "at integers plus [0.7, 0]" in fit.sentence


def test_what_does_not_fit_says_by_how_much() -> None:
    """75 mm is 15 more than three pitches and 5 less than four: shared between two bolts, 2.5 mm each, both ways."""
    square = part((-37.5, -37.5), (-37.5, 37.5), (37.5, -37.5), (37.5, 37.5))
    fit = lattice_fit(square, 0.020, 0.0035)
    assert not fit.places
    assert fit.miss == pytest.approx(0.0025 * 2 ** 0.5)
    assert "3.54 mm" in fit.sentence and "adapter" in fit.sentence


def test_a_finer_lattice_takes_what_the_usual_one_refuses() -> None:
    assert lattice_fit(part((-15, 0), (15, 0)), 0.010, 0.0032).places
    assert not lattice_fit(part((-15, 0), (15, 0)), 0.020, 0.0035).places


def test_screws_that_do_not_pass() -> None:
    assert "don't pass" in lattice_fit(part((0, 0), (20, 0), screw="M4"), 0.020, 0.0035).sentence


def test_without_bolts() -> None:
    fit = lattice_fit(part(), 0.020, 0.0035)
    assert fit.places == () and "fixing: strap" in fit.sentence
