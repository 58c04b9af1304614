"""A part that weighs something else on this robot: all of its bodies scale alike. Shares worked by hand (grams)."""
from __future__ import annotations

import pytest

import chassis_describe as cd


def masses(part: str, weighed: str = "") -> list[float]:
    a = cd.assemble(cd.read("trial.yaml", text=f"""layout: 1
robot: trial
parts:
  motor: {{{part}, bolts: [[-20, 0], [20, 0]]}}
decks:
  lower: {{outline: {{rectangle: [200, 160]}}, thickness: 4, material: birch plywood}}
placements:
  m: {{part: motor, on: lower, at: [0, 0]{weighed}}}
"""))
    return [b.mass * 1e3 for b in a.link_of["m_link"].bodies]


TWO = "mass: 300, bodies: [{box: [40, 20, 20], at: [0, 0, 10], mass: 250}, {box: [50, 20, 2], at: [0, 0, 21]}]"


@pytest.mark.parametrize(("weighed", "expected"), [("", [250, 50]), (", mass: 200", [500 / 3, 100 / 3]), (", mass: 600", [500, 100])])
def test_bodies_with_a_mass_of_their_own_scale_too(weighed: str, expected: list[float]) -> None:
    assert masses(TWO, weighed) == pytest.approx(expected, rel=1e-12)


def test_bodies_without_a_total_scale_alike() -> None:
    part = "bodies: [{box: [40, 20, 20], at: [0, 0, 10], mass: 250}, {box: [50, 20, 2], at: [0, 0, 21], mass: 50}]"
    assert masses(part) == pytest.approx([250, 50])
    assert masses(part, ", mass: 200") == pytest.approx([500 / 3, 100 / 3], rel=1e-12)


@pytest.mark.parametrize("part", [
    "mass: 300, bodies: [{box: [40, 20, 20], at: [0, 0, 10]}]",
    "bodies: [{box: [40, 20, 20], at: [0, 0, 10], mass: 300}]",  # its mass is the sum of its bodies
])
def test_a_measured_inertia_scales_with_the_mass(part: str) -> None:
    inertia = "inertia: {ixx: 2e-5, iyy: 5e-5, izz: 5e-5}"

    def izz(weighed: str) -> float:
        a = cd.assemble(cd.read("trial.yaml", text=f"""layout: 1
robot: trial
parts: {{motor: {{{part}, {inertia}, bolts: [[-20, 0], [20, 0]]}}}}
decks: {{lower: {{outline: {{rectangle: [200, 160]}}, thickness: 4, material: birch plywood}}}}
placements: {{m: {{part: motor, on: lower, at: [0, 0]{weighed}}}}}
"""))
        found = a.link_of["m_link"].inertial
        assert found is not None
        return found.inertia[2]

    assert izz("") == pytest.approx(5e-5, rel=1e-12)
    assert izz(", mass: 200") == pytest.approx(5e-5 * 2 / 3, rel=1e-12)
