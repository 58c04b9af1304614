"""What is in the way of a joint, and how far out it reaches, against dense sampling by coal and by our own screws.

coal (the collision library behind pinocchio) judges box against box at every 0.1 degrees; the outline is judged against
points of the bodies at random values of all joints. Invented robots.
"""
from __future__ import annotations

import math
import random
from typing import Any

import numpy as np
import pytest

import chassis_describe as cd
from chassis_describe.facts.footprint import footprint_of
from chassis_describe.facts.sweep import links_at, ways_of
from chassis_describe.facts.swept_outline import driven_leave, swept_footprint_of
from chassis_describe.space.pose import translation
from chassis_describe.space.solids import Box

coal = pytest.importorskip("coal")

HEAD = """
layout: 1
robot: sweeper
checks: {limits: {overlap_mm: 0.001}}
decks:
  lower: {outline: {rectangle: [400, 400]}, thickness: 4, material: birch plywood}
"""


def swinging(seed: int) -> str:
    """An arm on a servo and three posts around it."""
    rng = random.Random(seed)
    reach, tilt = rng.randint(60, 120), rng.randint(-20, 20)
    posts = []
    for k in range(3):
        angle, away = rng.uniform(-math.pi, math.pi), rng.uniform(50, 150)
        posts.append(f"  post{k}: {{part: post, on: lower, fixing: adhesive, turn: {rng.randint(0, 89)}, "
                     f"offset: [{away * math.cos(angle):.2f}, {away * math.sin(angle):.2f}, 0]}}")
    return HEAD + f"""
parts:
  servo:
    mass: 60
    bodies: [{{box: [20, 20, 30], at: [0, 0, 15]}}, {{box: [{reach}, 8, 6], at: [{reach / 2}, 0, 34], rpy: [10, 0, 5], with: arm}}]
    seats:
      arm:
        at: [0, 0, 30]
        adjust: [{{name: turn, axis: [0, {math.sin(math.radians(tilt)):.6f}, 1], motion: driven, range: [-170, 170],
                  motor: {{torque: 1, speed: 60}}}}]
  post: {{mass: 40, bodies: [{{box: [14, 20, 60], at: [0, 0, 30]}}]}}
placements:
  servo: {{part: servo, on: lower, fixing: adhesive}}
""" + "\n".join(posts)


def touches(robot: cd.Assembly, value: float) -> bool:
    """coal: whether the arm meets a post or the deck at that value of its joint."""
    (facet,) = robot.moving
    pose = links_at(robot, facet, value)[facet.link]
    (arm,) = robot.link_of[facet.link].bodies
    if _meet(arm.solid, pose @ arm.pose, Box((0.4, 0.4, 0.004)), robot.poses["lower_link"] @ translation(0, 0, -0.002)):
        return True
    return any(_meet(arm.solid, pose @ arm.pose, body.solid, robot.poses[link.name] @ body.pose)
               for link in robot.links if link.owner.startswith("post") for body in link.bodies)


def _meet(a: Any, pose_a: Any, b: Any, pose_b: Any) -> bool:
    assert isinstance(a, Box)
    assert isinstance(b, Box)
    found = coal.CollisionResult()
    return bool(coal.collide(coal.Box(*a.size), _transform(pose_a), coal.Box(*b.size), _transform(pose_b),
                             coal.CollisionRequest(), found))


def _transform(pose: Any) -> Any:
    return coal.Transform3s(np.array(pose.r).reshape(3, 3), np.array(pose.t))


def test_free_arcs_against_dense_sampling_by_coal() -> None:
    told = 0
    for seed in range(16):
        robot = cd.assemble(cd.read("sweeper.yaml", text=swinging(seed)))
        (way,) = ways_of(robot)
        if not way.clear:
            assert touches(robot, 0.0)
            continue
        fine, end = math.radians(0.1), math.radians(170)
        low = next((-fine * (k - 1) for k in range(1, 1701) if touches(robot, -fine * k)), -end)
        high = next((fine * (k - 1) for k in range(1, 1701) if touches(robot, fine * k)), end)
        assert way.low == pytest.approx(low, abs=math.radians(0.15)), seed
        assert way.high == pytest.approx(high, abs=math.radians(0.15)), seed
        assert bool(way.below) == (low > -end)
        assert bool(way.above) == (high < end)
        told += bool(way.below or way.above)
    assert told >= 5


CHAIN = HEAD + """
parts:
  wheelbase: {mass: 100, bodies: [{sphere: 30, at: [0, 0, 15]}], caster: {ball: 30, at: [0, 0, 15]}}
  crane:
    mass: 300
    bodies:
      - {box: [30, 30, 30], at: [0, 0, 15]}
      - {box: [200, 20, 10], at: [100, 0, 40], with: tip.pan}
      - {cylinder: [20, 90], at: [200, 0, 60], with: tip.lift}
      - {box: [80, 10, 10], at: [240, 0, 110], with: tip.elbow}
      - {sphere: 24, at: [290, 0, 110], with: tip.elbow}
    seats:
      tip:
        at: [280, 0, 110]
        adjust:
          - {name: pan, axis: up, pivot: [0, 0, 30], motion: driven, range: [-70, 40], motor: {torque: 1, speed: 60}}
          - {name: lift, kind: slide, axis: up, motion: driven, range: [0, 60], motor: {force: 10, speed: 60}}
          - {name: elbow, axis: [0.2, 0, 1], pivot: [200, 0, 110], motion: driven, range: [-100, 130], rest: 100,
             motor: {torque: 1, speed: 60}}
placements:
  a: {part: wheelbase, on: lower, face: under, at: [5, 5], fixing: adhesive}
  b: {part: wheelbase, on: lower, face: under, at: [5, -5], fixing: adhesive}
  c: {part: wheelbase, on: lower, face: under, at: [-5, 0], fixing: adhesive}
  crane: {part: crane, on: lower, at: [4, 3], fixing: adhesive, turn: 20}
"""


def test_swept_footprint_holds_every_pose_and_little_more() -> None:
    """Points of every body at 1000 random values of all three joints lie in it; their hull is nearly as large."""
    from shapely.geometry import MultiPoint, Point, Polygon

    robot = cd.assemble(cd.read("crane.yaml", text=CHAIN))
    outline = Polygon(swept_footprint_of(robot))
    joints = {j.name: j for j in robot.joints}
    rng, points = random.Random(1), []
    assert robot.rest is not None
    for _ in range(1000):
        ends = rng.random() < 0.3
        values = {m.joint: (rng.choice(m.adjustment.range) if ends else rng.uniform(*m.adjustment.range))
                  for m in robot.moving if m.adjustment.range}
        pose = robot.rest.base_in_ground @ robot.poses["crane_link"]
        for moving in robot.moving:
            pose = pose @ joints[moving.joint].at(values[moving.joint])
            for body in robot.link_of[moving.link].bodies:
                if isinstance(body.solid, Box):
                    x, y, z = (s / 2 for s in body.solid.size)
                    points += [(pose @ body.pose).point((x * a, y * b, z * c))[:2] for a in (-1, 1) for b in (-1, 1) for c in (-1, 1)]
                else:
                    points.append((pose @ body.pose).t[:2])
    assert all(outline.buffer(1e-9).covers(Point(p)) for p in points)
    inner = MultiPoint([*points, *footprint_of(robot)]).convex_hull
    assert inner.area <= outline.area <= 1.06 * inner.area  # simplified by 2 %, a ball's radius, chords and the grid


def test_what_leaves_the_footprint_is_driven_by() -> None:
    robot = cd.assemble(cd.read("crane.yaml", text=CHAIN))
    assert driven_leave(robot)
    from chassis_describe.targets.stack import navigation

    (file,) = navigation.artifacts(robot)
    text = file.data.decode()
    assert "with all that motors move" in text
    inside = cd.assemble(cd.read("crane.yaml", text=CHAIN.replace("[200, 20, 10], at: [100", "[20, 20, 10], at: [0").replace(
        "at: [200, 0, 60]", "at: [0, 0, 60]").replace("at: [240", "at: [0").replace("at: [290", "at: [0").replace(
        "pivot: [200, 0, 110]", "pivot: [0, 0, 110]")))
    assert not driven_leave(inside)
    (file,) = navigation.artifacts(inside)
    assert "with all that motors move" not in file.data.decode()
