"""Random layouts: forward kinematics of the written URDF by independent readers, and laws that placement must obey."""
from __future__ import annotations

import math
import random

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

import chassis_describe as cd
from chassis_describe.assembly.model import Assembly
from chassis_describe.space.pose import Pose, rot_z

pin = pytest.importorskip("pinocchio")

PARTS = """
parts:
  block: {mass: 80, bodies: [{box: [30, 20, 10], at: [0, 0, 5]}, {sphere: 8, at: [9, 4, 14]}], bolts: [[-10, 0], [10, 0]]}
  eye:
    mass: 20
    bodies: [{box: [10, 20, 10], at: [0, 0, 5]}]
    sensors:
      left: {kind: camera, at: [6, 3, 5], rpy: [0, 10, 5], fov: 60, resolution: [64, 48], range: [0.1 m, 5 m]}
      up: {kind: imu, at: [0, 0, 2], axes: {x: left, z: up}}
  scanner:
    mass: 100
    bodies: [{cylinder: [60, 40], at: [0, 0, 20]}]
    bolts: [[-10, 0], [10, 0]]
    sensors: {beam: {kind: lidar, at: [0, 0, 30], fov: 360, samples: 720, range: [0.1 m, 8 m], zero_beam: 35}}
  bracket:
    mass: 40
    bodies: [{box: [20, 20, 4], at: [0, 0, 2]}, {box: [4, 20, 20], at: [10, 0, 30], rpy: [10, 20, 30], with: face}]
    bolts: [[-10, 0], [10, 0]]
    seats:
      face:
        at: [10, 2, 30]
        rpy: [5, 0, 0]
        lattice: {pitch: 8, hole: 3.4}
        adjust:
          - {name: pan, axis: [0, 0, 1], pivot: [0, 0, 20], range: [-170, 170]}
          - {name: pitch, axis: [0, 1, 0], range: [-90, 90], rest: 5}
"""


def layout(seed: int) -> str:
    """A layout of two or three decks and a dozen parts in chains; nothing has to fit, everything has to have a place."""
    rng = random.Random(seed)
    lines = ["layout: 1", "robot: dice", PARTS, "decks:",
             "  a: {outline: {rectangle: [300, 200]}, thickness: 4, material: birch plywood, lattice: {origin: [3, -7]}}",
             (f"  b: {{outline: {{circle: 200}}, thickness: 3, material: acrylic, {rng.choice(['above', 'below'])}: a, "
              f"shift: [{rng.randint(-2, 2)}, 1], turn: {rng.choice([0, 90, 33, -120])}, "
              "standoffs: [{length: 40, holes: [[0, 0], [1, 1]]}]}"),
             (f"  c: {{outline: {{rectangle: [80, 60]}}, thickness: 3, material: acrylic, fixed_to: b, "
              f"xyz: [{rng.randint(-50, 50)}, 20, 60], rpy: [{rng.randint(-180, 180)}, {rng.randint(-80, 80)}, 40]}}"),
             "placements:"]
    holders: list[str] = []
    for k in range(12):
        part = rng.choice(["block", "eye", "scanner", "bracket"])
        at = f"[{rng.randint(-4, 4) / 2}, {rng.randint(-4, 4) / 2}]"
        turn = f"turn: {rng.choice([0, 90, 180, -90, round(rng.uniform(-180, 180), 2)])}"
        more = f", lift: {rng.choice([0, 5, 12.5])}, offset: [{rng.randint(-3, 3)}, 1, 2]"
        if part == "bracket":
            more += f", set: {{pan: {rng.randint(-170, 170)}, pitch: {rng.randint(-90, 90)}}}"
        if holders and rng.random() < 0.5:
            where = f"on: {rng.choice(holders)}, at: {at}, {turn}"
        else:
            where = f"on: {rng.choice('abc')}, face: {rng.choice(['top', 'under'])}, at: {at}, {turn}"
        lines.append(f"  p{k}: {{part: {part}, {where}{more}}}")
        if part == "bracket":
            holders.append(f"p{k}")
    return "\n".join(lines)


def assembled(text: str) -> Assembly:
    return cd.assemble(cd.read("dice.yaml", text=text))


def matrix(pose: Pose) -> np.ndarray:
    out = np.eye(4)
    out[:3, :3] = np.array(pose.r).reshape(3, 3)
    out[:3, 3] = pose.t
    return out


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6))
def test_forward_kinematics_of_the_urdf_by_pinocchio(seed: int) -> None:
    robot = assembled(layout(seed))
    model = pin.buildModelFromXML(cd.urdf(robot))
    data = model.createData()
    pin.forwardKinematics(model, data, pin.neutral(model))
    pin.updateFramePlacements(model, data)
    root = data.oMf[model.getFrameId(robot.base)]
    for name, pose in robot.poses.items():
        seen = root.inverse() * data.oMf[model.getFrameId(name)]
        np.testing.assert_allclose(seen.homogeneous, matrix(pose), atol=1e-9, err_msg=name)
    # the same text weighs what we say it weighs
    pin.crba(model, data, pin.neutral(model))
    total = pin.computeTotalMass(model)
    fixed = model.inertias[0] if model.njoints == 1 else None
    mass = total if fixed is None else fixed.mass
    assert mass == pytest.approx(robot.inertial.mass, rel=1e-9)
    if fixed is not None:
        np.testing.assert_allclose(fixed.lever, robot.inertial.com, atol=1e-10)
        xx, yy, zz, xy, xz, yz = robot.inertial.inertia
        np.testing.assert_allclose(fixed.inertia, [[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]], rtol=1e-9, atol=1e-12)


@settings(max_examples=6, deadline=None)
@given(st.integers(0, 10**6))
def test_forward_kinematics_of_the_urdf_by_yourdfpy(seed: int) -> None:
    import io

    import yourdfpy

    robot = assembled(layout(seed))
    model = yourdfpy.URDF.load(io.StringIO(cd.urdf(robot)), load_meshes=False, build_scene_graph=True)
    for name, pose in robot.poses.items():
        np.testing.assert_allclose(model.get_transform(name, robot.base), matrix(pose), atol=1e-9, err_msg=name)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10**6), st.floats(-180, 180))
def test_turning_a_deck_turns_all_that_it_carries(seed: int, degrees: float) -> None:
    text = layout(seed)
    line = next(x for x in text.splitlines() if x.startswith("  b: "))
    old = float(line.split("turn: ")[1].split(",")[0])
    turned = text.replace(line, line.replace(f"turn: {line.split('turn: ')[1].split(',')[0]}", f"turn: {old + degrees}"))
    before, after = assembled(text), assembled(turned)
    deck, same_deck = before.poses["b_link"], after.poses["b_link"]
    np.testing.assert_allclose(matrix(same_deck), matrix(deck @ Pose(rot_z(math.radians(degrees)))), atol=1e-9)
    for name, placed in before.parts.items():
        chain = placed
        while chain.deck is None:
            chain = before.parts[chain.placement.on]
        if chain.deck == "a":
            np.testing.assert_allclose(matrix(after.poses[placed.link]), matrix(before.poses[placed.link]), atol=1e-12)
        else:
            np.testing.assert_allclose(matrix(same_deck.inverse() @ after.poses[placed.link]),
                                       matrix(deck.inverse() @ before.poses[placed.link]), atol=1e-9, err_msg=name)
    # no part's own inertia knows where it is bolted
    for name in before.parts:
        assert before.link_of[f"{name}_link"].inertial == after.link_of[f"{name}_link"].inertial


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10**6), st.floats(-40, 40), st.floats(-40, 40))
def test_moving_the_lattice_moves_every_frame_on_it(seed: int, dx: float, dy: float) -> None:
    text = layout(seed)
    moved = assembled(text.replace("origin: [3, -7]", f"origin: [{3 + dx!r}, {-7 + dy!r}]"))
    before = assembled(text)
    for name, pose in before.poses.items():
        if name in (before.base, "a_link"):
            continue
        np.testing.assert_allclose(np.array(moved.poses[name].t) - pose.t, (dx / 1e3, dy / 1e3, 0), atol=1e-12)
        np.testing.assert_allclose(moved.poses[name].r, pose.r, atol=1e-12)


MIRROR = np.diag([1.0, -1.0, 1.0])


@settings(max_examples=20, deadline=None)
@given(st.sampled_from(["top", "under"]), st.integers(-8, 8), st.integers(-8, 8), st.floats(-180, 180), st.floats(-5, 5))
def test_mirror_of_places_the_mirrored_pose(face: str, i: int, j: int, turn: float, y: float) -> None:
    text = (f"layout: 1\nrobot: dice\n{PARTS}\ndecks:\n"
            "  a: {outline: {rectangle: [300, 200]}, thickness: 4, material: birch plywood}\nplacements:\n"
            f"  one: {{part: block, on: a, face: {face}, at: [{i / 2}, {j / 2}], turn: {turn!r}, offset: [1, {y!r}, 2], lift: 3}}\n"
            "  two: {mirror_of: one}\n")
    robot = assembled(text)
    one, two = robot.poses["one_link"], robot.poses["two_link"]
    np.testing.assert_allclose(two.t, MIRROR @ one.t, atol=1e-12)
    # a part is placed mirrored, not mirrored itself: its x and z go through the mirror, its y stays right-handed
    np.testing.assert_allclose(two.x_axis, MIRROR @ one.x_axis, atol=1e-12)
    np.testing.assert_allclose(two.z_axis, MIRROR @ one.z_axis, atol=1e-12)
    np.testing.assert_allclose(two.y_axis, -(MIRROR @ one.y_axis), atol=1e-12)
