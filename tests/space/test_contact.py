"""How robots stand, against hand-worked cases, energy minimised on a grid, and a physics engine (mujoco)."""
from __future__ import annotations

import math
import random

import numpy as np
import pytest
from hypothesis import given, settings, strategies as st

from chassis_describe.space.ground.contact import Rest, Roller, rest
from chassis_describe.space.pose import Pose, Vec3, about_axis, from_rpy


def ball(name: str, x: float, y: float, z: float, r: float = 0.01) -> Roller:
    return Roller(name=name, centre=(x, y, z), radius=r)


def wheel(name: str, x: float, y: float, z: float, r: float = 0.04) -> Roller:
    return Roller(name=name, centre=(x, y, z), radius=r, axis=(0.0, 1.0, 0.0))


def tripod(short: float = 0.0) -> list[Roller]:
    return [wheel("left", 0, 0.1, 0), wheel("right", 0, -0.1, 0), ball("caster", -0.15, 0, -0.03 + short)]


def held(rollers: list[Roller], found: Rest) -> None:
    """What must be true of any rest: nothing under the ground, what touches touches, z of the ground is the normal."""
    ground = found.base_in_ground
    for roller, contact in zip(rollers, found.contacts):
        assert ground.point(contact.point)[2] == pytest.approx(contact.gap, abs=1.1e-6)
        assert contact.gap >= -1e-6
        # no point of the roller is lower than the one that is said to be its lowest
        for k in range(24):
            a = 2 * math.pi * k / 24
            if roller.axis is not None:
                spoke: Vec3 = (math.cos(a), 0.0, math.sin(a))
            else:
                spoke = (math.cos(a) * math.sin(3 * a), math.sin(a) * math.sin(3 * a), math.cos(3 * a))
            p = tuple(c + roller.radius * s for c, s in zip(roller.centre, spoke))
            assert ground.point(p)[2] >= contact.gap - 2e-6
    assert ground.r[6:] == pytest.approx(found.normal, abs=1e-12)
    assert ground.rpy[2] == 0.0


def test_level_robot_is_exactly_level() -> None:
    # A wheel of 40 mm and a ball of 10 mm, 30 mm lower: both end 40 mm under the axle; nothing left of rounding.
    found = rest(tripod(), (-0.03, 0.0, 0.06))
    assert found.status == "stable"
    assert found.touching == ("left", "right", "caster")
    assert found.base_in_ground.rpy == (0.0, 0.0, 0.0)
    assert found.base_in_ground.t == (0.0, 0.0, 0.04)
    assert found.normal == (0.0, 0.0, 1.0)
    assert [c.gap for c in found.contacts] == [0.0, 0.0, 0.0]


def test_sums_of_millimetres_are_level_too() -> None:
    # 0.1 + 0.2 is not 0.3 in binary: 5.6e-17 m of it must not become a tilt.
    rollers = [wheel("a", 0, 0.1, 0.1 + 0.2), wheel("b", 0, -0.1, 0.3), ball("c", -0.1, 0, 0.27)]
    found = rest(rollers, (-0.02, 0, 0.4))
    assert found.base_in_ground.r == (1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0)


def test_short_caster_of_the_handbook_case() -> None:
    # Caster 5 mm short on a base of 150 mm: about 1.9° (plain trigonometry; atan(5/150) = 1.909° for points).
    found = rest(tripod(0.005), (-0.03, 0.0, 0.06))
    roll, pitch, yaw = found.base_in_ground.rpy
    assert (roll, yaw) == (0.0, 0.0)
    assert math.degrees(pitch) == pytest.approx(-1.9, abs=0.03)
    # Exactly: for a wheel at the origin and a ball d behind and z under it, both touch a plane tilted by p where
    # R = d·sin(p) + z·cos(p) + r (heights along the normal).
    p = abs(pitch)
    assert 0.15 * math.sin(p) + 0.025 * math.cos(p) + 0.01 == pytest.approx(0.04, abs=1e-14)
    # the axle is at its radius over the ground, whatever the tilt in pitch
    assert found.base_in_ground.t == pytest.approx((0, 0, 0.04), abs=1e-15)
    held(tripod(0.005), found)


def test_point_feet_stand_on_the_plane_through_them() -> None:
    # With balls of one size the ground is parallel to the plane of their centres: normal by the cross product.
    a, b, c = np.array([0.2, 0.1, 0.003]), np.array([-0.1, 0.12, -0.006]), np.array([0.0, -0.2, 0.01])
    n = np.cross(b - a, c - a)
    n /= np.linalg.norm(n) * np.sign(n[2])
    found = rest([ball(k, *p) for k, p in zip("abc", (a, b, c))], (0.02, 0.0, 0.1))
    np.testing.assert_allclose(found.normal, n, atol=1e-14)
    assert found.base_in_ground.t[2] == pytest.approx(0.01 - n @ a, abs=1e-14)


def test_four_contacts_one_short() -> None:
    # Feet at the corners of a square, one 2 mm short, the mass away from it: three carry, the fourth hangs 2 mm.
    feet = [ball("fl", 0.1, 0.1, 0), ball("fr", 0.1, -0.1, 0), ball("rl", -0.1, 0.1, 0), ball("rr", -0.1, -0.1, 0.002)]
    found = rest(feet, (0.03, 0.03, 0.05))
    assert (found.status, found.touching) == ("stable", ("fl", "fr", "rl"))
    assert found.base_in_ground.rpy == (0.0, 0.0, 0.0)
    assert found.contacts[3].gap == pytest.approx(0.002, abs=1e-15)


def test_four_legged_table_rocks() -> None:
    # The same with the mass over the middle: it tips to either side of the diagonal, and level is less tilted.
    feet = [ball("fl", 0.1, 0.1, 0), ball("fr", 0.1, -0.1, 0), ball("rl", -0.1, 0.1, 0), ball("rr", -0.1, -0.1, 0.002)]
    found = rest(feet, (0.0, 0.0, 0.05))
    assert found.status == "rocks"
    assert found.touching == ("fl", "fr", "rl")
    assert found.other_faces == (("fr", "rl", "rr"),)


def test_within_a_micrometre_counts_as_on_the_plane() -> None:
    feet = [ball("a", 0.1, 0.1, 0), ball("b", 0.1, -0.1, 0), ball("c", -0.1, 0.1, 0)]
    assert len(rest([*feet, ball("d", -0.1, -0.1, 0.9e-6)], (0, 0, 0.1)).touching) == 4
    assert len(rest([*feet, ball("d", -0.1, -0.1, 2.5e-6)], (0.01, 0.01, 0.1)).touching) == 3


def test_mass_outside() -> None:
    found = rest(tripod(), (0.05, 0.0, 0.06))
    assert (found.status, found.touching) == ("outside", ("left", "right", "caster"))
    # Of two faces the one nearest under the mass: six feet on a hump, the mass far in front
    hump = [ball("a", 0.2, 0.1, 0.01), ball("b", 0.2, -0.1, 0.01), ball("c", 0, 0.1, 0), ball("d", 0, -0.1, 0),
            ball("e", -0.2, 0.1, 0.01), ball("f", -0.2, -0.1, 0.01)]
    found = rest(hump, (0.3, 0, 0.05))
    assert (found.status, set(found.touching)) == ("outside", {"a", "b", "c", "d"})
    assert rest(hump, (0.1, 0, 0.01)).touching == ("a", "b", "c", "d")
    assert rest(hump, (0.0, 0, 0.05)).status == "rocks"  # over the ridge: both slopes


@pytest.mark.parametrize("rollers", [
    [wheel("l", 0, 0.1, 0), wheel("r", 0, -0.1, 0)],
    [ball("only", 0, 0, 0)],
    [wheel("l", 0, 0.1, 0), wheel("m", 0, 0, 0), wheel("r", 0, -0.1, 0)],
    [wheel("l", 0, 0.1, 0), wheel("r", 0, -0.1, 0.003)],
])
def test_too_few_contacts_are_level_on_the_lowest(rollers: list[Roller]) -> None:
    found = rest(rollers, (0, 0, 0.1))
    assert found.status == "degenerate"
    assert found.base_in_ground.rpy == (0.0, 0.0, 0.0)
    low = min(r.centre[2] - r.radius for r in rollers)
    assert found.base_in_ground.t[2] == -low
    assert {c.name for c in found.contacts if c.gap <= 1e-6} == set(found.touching)


def test_nothing_to_stand_on() -> None:
    with pytest.raises(ValueError, match="stand"):
        rest([], (0, 0, 0))


def test_a_wheel_leans_on_its_rim() -> None:
    # One wheel 4 mm smaller than the other: the robot rolls, and discs (not balls) touch at their rims:
    # h(n) = n·c - r·sqrt(1 - ny²); solved here for the roll angle by bisection.
    rollers = [wheel("l", 0, 0.1, 0, 0.040), wheel("r", 0, -0.1, 0, 0.036), ball("c", -0.15, 0, -0.028)]
    found = rest(rollers, (-0.03, 0, 0.05))
    n = np.array(found.normal)
    heights = [n @ r.centre - r.radius * (math.sqrt(1 - n[1] ** 2) if r.axis else 1.0) for r in rollers]
    assert max(heights) - min(heights) < 1e-15
    low, high = 0.0, 0.1
    for _ in range(80):  # wheels alone: 0.2·sin(a) = 0.004·cos(a) in their own plane, pitch aside
        middle = (low + high) / 2
        low, high = (middle, high) if 0.2 * math.sin(middle) < 0.004 * math.cos(middle) else (low, middle)
    assert math.asin(abs(n[1]) / math.hypot(n[1], n[2])) == pytest.approx(low, abs=2e-4)
    held(rollers, found)


# ------------------------------------------------------------------------------------------------------------------- laws
coordinate = st.floats(-0.3, 0.3)
roller = st.builds(lambda x, y, z, r, disc: Roller(name="", centre=(x, y, z / 10), radius=r,
                                                   axis=(0.0, 1.0, 0.0) if disc else None),
                   coordinate, coordinate, coordinate, st.floats(0.01, 0.08), st.booleans())


def named(rollers: list[Roller]) -> list[Roller]:
    return [Roller(name=f"r{k}", centre=r.centre, radius=r.radius, axis=r.axis) for k, r in enumerate(rollers)]


@settings(max_examples=60, deadline=None)
@given(st.lists(roller, min_size=3, max_size=7), coordinate, coordinate, st.floats(0.0, 0.2))
def test_rest_holds_and_mirrors(rollers: list[Roller], x: float, y: float, z: float) -> None:
    rollers = named(rollers)
    found = rest(rollers, (x, y, z))
    held(rollers, found)
    flipped = [Roller(name=r.name, centre=(r.centre[0], -r.centre[1], r.centre[2]), radius=r.radius, axis=r.axis)
               for r in rollers]
    mirror = rest(flipped, (x, -y, z))
    assert mirror.status == found.status
    if found.status == "stable":
        assert mirror.touching == found.touching
        roll, pitch, _ = found.base_in_ground.rpy
        assert mirror.base_in_ground.rpy == pytest.approx((-roll, pitch, 0.0), abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(st.lists(roller, min_size=3, max_size=6), coordinate, coordinate, st.floats(-math.pi, math.pi))
def test_turning_the_base_about_z_changes_nothing_on_the_ground(rollers: list[Roller], x: float, y: float,
                                                                turn: float) -> None:
    rollers = named(rollers)
    pose = Pose(from_rpy(0.0, 0.0, turn))
    turned = [Roller(name=r.name, centre=pose.point(r.centre), radius=r.radius,
                     axis=pose.vector(r.axis) if r.axis else None) for r in rollers]
    one, two = rest(rollers, (x, y, 0.08)), rest(turned, pose.point((x, y, 0.08)), forward=pose.x_axis)
    assert one.status == two.status
    if one.status == "stable":
        assert one.touching == two.touching
        assert [c.gap for c in two.contacts] == pytest.approx([c.gap for c in one.contacts], abs=1e-9)
        np.testing.assert_allclose((two.base_in_ground @ pose).r, one.base_in_ground.r, atol=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_stable_rest_is_a_minimum_of_energy(seed: int) -> None:
    # Height of the centre of mass over a plane under the rollers, E(n) = max_i n·(com - c_i) + r_i·s_i(n): every stable
    # face is a local minimum of it over directions (principle of minimum potential energy), found here by descent.
    rng = random.Random(seed)
    rollers = []
    for k in range(rng.randint(3, 6)):
        a = 2 * math.pi * (k + rng.random() / 2) / 6 * 2
        disc = rng.random() < 0.5
        rollers.append(Roller(name=f"r{k}", centre=(0.15 * math.cos(a), 0.15 * math.sin(a), rng.uniform(-0.01, 0.01)),
                              radius=rng.uniform(0.02, 0.03), axis=(0.0, 1.0, 0.0) if disc else None))
    com = np.array([rng.uniform(-0.04, 0.04), rng.uniform(-0.04, 0.04), 0.05])
    found = rest(rollers, tuple(com))
    if found.status not in ("stable", "rocks"):
        pytest.skip("the mass is not over the contacts")

    centres, radii = np.array([r.centre for r in rollers]), np.array([r.radius for r in rollers])
    discs = np.array([r.axis is not None for r in rollers])

    def energy(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        n = np.stack([x, y, np.sqrt(1 - x * x - y * y)], axis=-1)
        s = np.where(discs, np.sqrt(1 - n[..., 1:2] ** 2), 1.0)
        return ((n @ com)[..., None] - n @ centres.T + radii * s).max(axis=-1)

    x, y = (np.array(v) for v in found.normal[:2])
    here = float(energy(x, y))
    assert here == pytest.approx(found.base_in_ground.point(tuple(com))[2], abs=1e-6)
    around = np.linspace(0, 2 * math.pi, 1441)
    for step in (1e-3, 1e-4):
        assert energy(x + step * np.cos(around), y + step * np.sin(around)).min() > here - 1e-9
    if found.status == "stable":  # the only minimum: a descent from elsewhere ends here
        u, v, step = x + 0.05, y - 0.04, 0.02
        while step > 1e-7:
            tried = energy(u + step * np.cos(around), v + step * np.sin(around))
            k = int(np.argmin(tried))
            if tried[k] < energy(u, v):
                u, v = u + step * np.cos(around[k]), v + step * np.sin(around[k])
            else:
                step /= 2
        assert float(energy(u, v)) == pytest.approx(here, abs=1e-5)


# ----------------------------------------------------------------------------------------------------- physics engine
CASES = {
    "level": ([("s", 0, 0.1, 0, 0.04), ("s", 0, -0.1, 0, 0.04), ("s", -0.15, 0, -0.03, 0.01)], (-0.04, 0.0, 0.03)),
    "short": ([("s", 0, 0.1, 0, 0.04), ("s", 0, -0.1, 0, 0.04), ("s", -0.15, 0, -0.02, 0.01)], (-0.04, 0.0, 0.03)),
    "rolled": ([("s", 0.1, 0.1, 0, 0.03), ("s", 0.1, -0.1, 0.02, 0.03), ("s", -0.15, 0, 0, 0.03)], (-0.02, 0.01, 0.02)),
    "four": ([("s", 0.1, 0.1, 0, 0.03), ("s", 0.1, -0.1, 0, 0.03), ("s", -0.1, -0.1, 0, 0.03),
              ("s", -0.1, 0.1, 0.008, 0.03)], (0.02, -0.03, 0.02)),
    "discs": ([("w", 0, 0.1, 0, 0.04), ("w", 0, -0.1, 0, 0.04), ("s", -0.15, 0.0, -0.02, 0.01)], (-0.04, 0.0, 0.03)),
}


@pytest.mark.parametrize("name", CASES)
def test_physics_engine_comes_to_the_same_rest(name: str) -> None:
    mujoco = pytest.importorskip("mujoco")
    feet, com = CASES[name]
    geoms = []
    for kind, x, y, z, r in feet:
        if kind == "s":
            geoms.append(f'<geom type="sphere" size="{r}" pos="{x} {y} {z}" mass="0"/>')
        else:  # a thin cylinder about y
            geoms.append(f'<geom type="cylinder" size="{r} 0.0005" euler="90 0 0" pos="{x} {y} {z}" mass="0"/>')
    xml = f"""<mujoco><option timestep="0.002" gravity="0 0 -9.81"/>
      <default><geom friction="0.02 0.001 0.0001" solref="0.004 1" solimp="0.99 0.999 0.0001"/></default>
      <worldbody><geom type="plane" size="3 3 0.1"/>
      <body name="robot" pos="0 0 0.06"><freejoint/>
      <inertial pos="{com[0]} {com[1]} {com[2]}" mass="2" diaginertia="0.01 0.01 0.01"/>{"".join(geoms)}</body>
      </worldbody></mujoco>"""
    model = mujoco.MjModel.from_xml_string(xml)
    model.dof_damping[:] = 0.1
    data = mujoco.MjData(model)
    for _ in range(3000):
        mujoco.mj_step(model, data)
    assert np.abs(data.qvel).max() < 0.02, "still moving"
    rotation = data.xmat[1].reshape(3, 3)
    rollers = [Roller(name=str(k), centre=(x, y, z), radius=r, axis=(0.0, 1.0, 0.0) if kind == "w" else None)
               for k, (kind, x, y, z, r) in enumerate(feet)]
    found = rest(rollers, com)
    angle = math.degrees(math.acos(min(1.0, float(rotation[2] @ np.array(found.normal)))))
    assert angle < 0.2
    assert data.xpos[1][2] == pytest.approx(found.base_in_ground.t[2], abs=1e-3)


def test_tilted_axle_is_the_smallest_support_of_a_disc() -> None:
    # a disc about any axis: its lowest point by brute force over the rim
    axis = (0.2, 0.9, -0.3)
    disc = Roller(name="w", centre=(0.1, 0.2, 0.3), radius=0.05, axis=axis)
    up = np.array([0.1, -0.2, 1.0])
    u = np.array(about_axis(axis, 0.0)).reshape(3, 3) @ np.cross(axis, (0, 0, 1))
    u /= np.linalg.norm(u)
    v = np.cross(np.array(axis) / np.linalg.norm(axis), u)
    angles = np.linspace(0, 2 * math.pi, 100001)
    rim = np.array(disc.centre) + 0.05 * (np.cos(angles)[:, None] * u + np.sin(angles)[:, None] * v)
    low = rim[np.argmin(rim @ up)]
    np.testing.assert_allclose(disc.lowest(tuple(up)), low, atol=1e-5)
