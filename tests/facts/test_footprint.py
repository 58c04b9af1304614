"""The outline on the ground against points sampled on every solid, and against shapes whose outline is known."""
from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

import chassis_describe as cd
from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.footprint import (
    circumscribed_radius,
    footprint_of,
    inscribed_radius,
    unrounded_hull,
)
from chassis_describe.space.plane.hull import area, depth
from chassis_describe.space.solids import Box, Cylinder

PARTS = """
parts:
  ball: {mass: 20, caster: {ball: 20, at: [0, 0, 20]}, bodies: [{box: [20, 20, 5], at: [0, 0, 2.5]}]}
  post: {mass: 20, bodies: [{cylinder: [10, 60], at: [0, 0, 30]}]}
  bar: {mass: 20, bodies: [{cylinder: [10, 60], axis: y, at: [0, 0, 30]}]}
  globe: {mass: 20, bodies: [{sphere: 50, at: [0, 0, 40]}]}
  brick: {mass: 20, bodies: [{box: [30, 20, 40], at: [0, 0, 20], rpy: [10, 20, 30]}]}
"""


def robot(placements: str = "", outline: str = "{rectangle: [240, 160]}", lifts: tuple[float, ...] = (0, 0, 0),
          more: str = "") -> Assembly:
    feet = "".join(f"  foot_{n}: {{part: ball, on: base_plate, face: under, at: {at}, lift: {lift}}}\n"
                   for n, at, lift in zip("abc", ([3, 0], [-3, 2], [-3, -2]), lifts))
    text = f"""layout: 1
robot: trial
{PARTS}
decks:
  base_plate: {{outline: {outline}, thickness: 4, material: birch plywood{more}}}
placements:
{feet}{placements}
"""
    return cd.assemble(cd.read("trial.yaml", text=text))


def test_rectangle_is_itself() -> None:
    a = robot()
    assert footprint_of(a) == ((-0.12, -0.08), (0.12, -0.08), (0.12, 0.08), (-0.12, 0.08))
    assert inscribed_radius(a) == 0.08
    assert circumscribed_radius(a) == pytest.approx(math.hypot(0.12, 0.08), abs=1e-15)


def test_disc_is_tangents_of_a_circle() -> None:
    a = robot(outline="{circle: 200}")
    assert len(footprint_of(a)) <= 16
    growth = area(footprint_of(a)) / (math.pi * 0.01)
    # 16 tangents are 1.3 % more (n/π·tan(π/n)); rounding out by under 1.5 mm of 100 adds at most 3 %
    assert 1.0 < growth < 1.045
    assert inscribed_radius(a) is not None and 0.1 <= (inscribed_radius(a) or 0) < 0.102


def test_turned_rectangle_keeps_its_corners() -> None:
    # A plate whose outline is an octagon: eight corners stay eight, on millimetres, none of it outside
    a = robot(outline="{polygon: [[100, 40], [40, 100], [-40, 100], [-100, 40], [-100, -40], [-40, -100], [40, -100], [100, -40]]}")
    assert len(footprint_of(a)) == 8
    assert set(footprint_of(a)) == {(x, y) for x, y in ((0.1, 0.04), (0.04, 0.1), (-0.04, 0.1), (-0.1, 0.04), (-0.1, -0.04),
                                                    (-0.04, -0.1), (0.04, -0.1), (0.1, -0.04))}


def test_hole_free_corner_is_gone_where_a_cutout_takes_it() -> None:
    # a cutout across the outline takes a corner of the plate: the hull does without it
    a = robot(more=", cutouts: [{polygon: [[80, 90], [130, 40], [130, 90]]}]")
    assert depth(unrounded_hull(a), (0.12, 0.08)) == pytest.approx(-(0.12 + 0.08 - 0.17) / math.sqrt(2), abs=1e-12)


def test_no_ground_no_footprint() -> None:
    text = "layout: 1\nrobot: trial\ndecks:\n  p: {outline: {circle: 100}, thickness: 4, material: acrylic}\n"
    a = cd.assemble(cd.read("trial.yaml", text=text))
    assert (footprint_of(a), circumscribed_radius(a), inscribed_radius(a)) == ((), None, None)


def test_tilt_is_in_it() -> None:
    # the front foot 20 mm short on a base of 120 mm: atan(20/120) nose down; a post on the nose leans forward
    a, level = robot("  p: {part: post, on: base_plate, at: [6, 0]}", lifts=(0, 20, 20)), robot("  p: {part: post, on: base_plate, at: [6, 0]}")
    assert a.rest is not None
    pitch = a.rest.base_in_ground.rpy[1]
    assert math.degrees(pitch) == pytest.approx(math.degrees(math.atan2(20, 120)), abs=1e-9)
    front = max(x for x, _ in unrounded_hull(a))
    # its top: 120 + 5 mm forward, 60 mm over the plate's top face, by hand
    assert front == pytest.approx((0.12 + 0.005 / math.cos(math.pi / 64) * math.cos(math.pi / 64)) * math.cos(pitch)
                                  + 0.06 * math.sin(pitch), abs=1e-9)
    assert front > max(x for x, _ in unrounded_hull(level))


def surface(a: Assembly, rng: np.random.Generator) -> np.ndarray:
    """Points on everything, in base_footprint (n, 2)."""
    assert a.rest is not None
    out = []
    for link in a.links:
        pose = a.rest.base_in_ground @ a.poses[link.name]
        if link.plate is not None:
            polygon = link.plate.polygon(256)
            for x, y in polygon.exterior.coords:
                out += [pose.point((x, y, 0.0)), pose.point((x, y, -link.plate.thickness))]
        for body in link.bodies:
            at, solid = pose @ body.pose, body.solid
            for _ in range(60):
                u = rng.normal(size=3)
                u /= np.linalg.norm(u)
                if isinstance(solid, Box):
                    p = np.sign(u) * np.array(solid.size) / 2
                elif isinstance(solid, Cylinder):
                    ring = u[:2] / np.linalg.norm(u[:2]) * solid.radius
                    p = np.array([*ring, math.copysign(solid.length / 2, u[2])])
                else:
                    p = u * solid.radius
                out.append(at.point(p.tolist()))
    return np.array(out)[:, :2]


coordinate = st.integers(-5, 5)


@settings(max_examples=25, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(["post", "bar", "globe", "brick"]), coordinate, coordinate,
                          st.integers(-180, 180), st.sampled_from(["top", "under"])), max_size=5),
       st.tuples(*[st.integers(0, 8)] * 3))
def test_footprint_holds_everything(things: list[tuple[str, int, int, int, str]], lifts: tuple[int, int, int]) -> None:
    lines = "".join(f"  t{k}: {{part: {part}, on: base_plate, at: [{i}, {j}], turn: {turn}, face: {face}}}\n"
                    for k, (part, i, j, turn, face) in enumerate(things))
    a = robot(lines, lifts=lifts)
    exact, outline = unrounded_hull(a), footprint_of(a)
    points = surface(a, np.random.default_rng(1))
    assert min(depth(exact, tuple(p)) for p in points) >= -1e-9
    assert min(depth(outline, tuple(p)) for p in points) >= -1e-9
    assert len(outline) <= 16
    assert area(outline) > 0
    # bounded tightly: no side of the exact hull is further out than the furthest sampled point by more than a sample's gap
    for k in range(24):
        n = np.array([math.cos(k * math.pi / 12), math.sin(k * math.pi / 12)])
        assert max(np.array(exact) @ n) - max(points @ n) < 3e-3


def test_mirrored_robot_mirrored_footprint() -> None:
    def outline(sign: int) -> set[tuple[float, float]]:
        a = robot(f"  p: {{part: globe, on: base_plate, at: [2, {4 * sign}]}}\n  q: {{part: post, on: base_plate, at: [-5, {3 * sign}]}}\n")
        return {(round(x, 9), round(sign * y, 9) + 0.0) for x, y in unrounded_hull(a)}

    assert outline(1) == outline(-1)
