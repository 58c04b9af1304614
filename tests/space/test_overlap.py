"""Depth and distance of convex solids, against coal (GJK/EPA), MuJoCo contacts, and dense sampling of directions."""
from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from chassis_describe.space.overlap.convex import overlaps_along, spread
from chassis_describe.space.overlap.pairs import Crowd, deep_pairs, near_pairs
from chassis_describe.space.overlap.penetration import apart_at_least, gap, meets, penetration
from chassis_describe.space.pose import IDENTITY, Pose, from_rpy
from chassis_describe.space.solids import Box, Cylinder, Solid, Sphere


def _random_solid(rng: np.random.Generator) -> Solid:
    kind = rng.integers(3)
    if kind == 0:
        return Box(tuple(rng.uniform(0.005, 0.2, 3).tolist()))
    if kind == 1:
        return Cylinder(float(rng.uniform(0.003, 0.08)), float(rng.uniform(0.003, 0.2)))
    return Sphere(float(rng.uniform(0.003, 0.08)))


def _random_pair(rng: np.random.Generator) -> tuple[Solid, Pose, Solid, Pose]:
    def pose() -> Pose:
        rpy = rng.uniform(-3.1, 3.1, 3) if rng.random() < 0.6 else rng.integers(-2, 3, 3) * math.pi / 2
        return Pose(from_rpy(*rpy.tolist()), tuple(rng.uniform(-0.1, 0.1, 3).tolist()))

    pose_a, pose_b = pose(), pose()
    if rng.random() < 0.3:  # parallel axes are what robots are made of, and where searches go wrong
        pose_b = Pose(pose_a.r, pose_b.t)
    return _random_solid(rng), pose_a, _random_solid(rng), pose_b


def _moved(pose: Pose, by: tuple[float, float, float], k: float) -> Pose:
    return Pose(pose.r, tuple(t + k * d for t, d in zip(pose.t, by)))


def test_boxes_turned_by_quarters_meet_where_they_are_deep() -> None:
    """The short way for boxes along the axes says what their depth says."""
    rng = np.random.default_rng(7)
    seen = set()
    for _ in range(200):
        (a, b), limit = (Box(tuple(rng.uniform(0.01, 0.2, 3).tolist())) for _ in range(2)), 1e-4
        pose_a, pose_b = (Pose(from_rpy(*(rng.integers(-2, 3, 3) * math.pi / 2).tolist()),
                               tuple(rng.uniform(-0.1, 0.1, 3).tolist())) for _ in range(2))
        depth = penetration(a, pose_a, b, pose_b)[0]
        assert meets(a, pose_a, b, pose_b, limit) == (depth > limit)
        seen.add(depth > limit)
    assert seen == {True, False}


def test_boxes_and_balls_by_hand() -> None:
    box = Box((0.04, 0.02, 0.01))
    depth, d = penetration(box, IDENTITY, box, Pose(t=(0.039, 0.0, 0.0)))
    assert depth == pytest.approx(0.001)
    assert d == pytest.approx((1.0, 0.0, 0.0))
    assert penetration(box, IDENTITY, box, Pose(t=(0.04, 0.0, 0.0)))[0] == pytest.approx(0.0, abs=1e-15)
    # A cube of 20 mm on its edge: half diagonal 10·√2 mm over the face at z = 5 mm.
    tilted = Pose(from_rpy(math.pi / 4, 0.0, 0.0), (0.0, 0.0, 0.005 + 0.01 * math.sqrt(2) - 0.002))
    assert penetration(box, IDENTITY, Box((0.02, 0.02, 0.02)), tilted)[0] == pytest.approx(0.002, abs=1e-12)
    # A ball at the corner: 3-4-5 triangle in millimetres, radius 6.
    assert penetration(box, IDENTITY, Sphere(0.006), Pose(t=(0.023, 0.014, 0.0)))[0] == pytest.approx(0.001, abs=1e-12)


def test_coaxial_and_crossed_cylinders_by_hand() -> None:
    rod = Cylinder(0.005, 0.1)
    assert penetration(rod, IDENTITY, Cylinder(0.02, 0.2), IDENTITY)[0] == pytest.approx(0.025, abs=1e-9)
    crossed = Pose(from_rpy(math.pi / 2, 0.0, 0.0), (0.008, 0.0, 0.0))
    assert penetration(rod, IDENTITY, rod, crossed)[0] == pytest.approx(0.002, abs=1e-12)
    # Side by side at 9 mm, and end to end with 1 mm of overlap.
    assert penetration(rod, IDENTITY, rod, Pose(t=(0.009, 0.0, 0.03)))[0] == pytest.approx(0.001, abs=1e-9)
    assert penetration(rod, IDENTITY, rod, Pose(t=(0.001, 0.0, 0.099)))[0] == pytest.approx(0.001, abs=1e-9)
    assert gap(rod, IDENTITY, rod, Pose(t=(0.0, 0.013, 0.1))) == pytest.approx(0.003, abs=1e-9)


def test_depth_separates_and_nothing_shorter_does() -> None:
    rng = np.random.default_rng(5)
    directions = rng.normal(size=(4000, 3))
    directions /= np.linalg.norm(directions, axis=1)[:, None]
    seen = 0
    for _ in range(300):
        a, pose_a, b, pose_b = _random_pair(rng)
        depth, d = penetration(a, pose_a, b, pose_b)
        if depth <= 1e-6:
            continue
        seen += 1
        assert math.hypot(*d) == pytest.approx(1.0)
        assert penetration(a, pose_a, b, _moved(pose_b, d, depth + 1e-8))[0] <= 0.0
        assert penetration(a, pose_a, b, _moved(pose_b, d, depth - 1e-6))[0] > 0.0
        assert depth <= overlaps_along(spread(a, pose_a), spread(b, pose_b), directions).min() + 1e-12
    assert seen > 60


@pytest.mark.thorough
def test_against_coal() -> None:
    coal = pytest.importorskip("coal")

    def theirs(solid: Solid) -> object:
        if isinstance(solid, Box):
            return coal.Box(*solid.size)
        return coal.Cylinder(solid.radius, solid.length) if isinstance(solid, Cylinder) else coal.Sphere(solid.radius)

    def placed(pose: Pose) -> object:
        return coal.Transform3s(np.array(pose.r).reshape(3, 3), np.array(pose.t))

    rng = np.random.default_rng(1)
    request = coal.DistanceRequest()
    request.enable_signed_distance = True
    request.gjk_tolerance, request.epa_tolerance = 1e-9, 1e-7
    request.gjk_max_iterations = request.epa_max_iterations = 1000
    counts = {True: 0, False: 0}
    for _ in range(1200):
        a, pose_a, b, pose_b = _random_pair(rng)
        reference = coal.distance(theirs(a), placed(pose_a), theirs(b), placed(pose_b), request, coal.DistanceResult())
        depth, _ = penetration(a, pose_a, b, pose_b)
        if depth > 0:
            kinds = {type(a), type(b)}
            if kinds == {Sphere, Cylinder}:
                # coal's way out of a cylinder is not always the shortest; ours is checked to be one just above.
                assert depth <= -reference + 1e-9
            else:
                assert depth == pytest.approx(-reference, abs=2e-7)
        else:
            assert gap(a, pose_a, b, pose_b) == pytest.approx(reference, abs=1e-7)
            assert -depth <= reference + 1e-7
        assert apart_at_least(a, pose_a, b, pose_b) <= max(reference, 0.0) + 1e-7
        counts[depth > 0] += 1
    assert min(counts.values()) > 300


@pytest.mark.thorough
def test_against_mujoco_contacts() -> None:
    mujoco = pytest.importorskip("mujoco")
    rng = np.random.default_rng(3)
    pairs = [_random_pair(rng) for _ in range(800)]
    rows = []
    for n, pair in enumerate(pairs):
        for side, (solid, pose) in enumerate((pair[:2], pair[2:])):
            if isinstance(solid, Box):
                shape, size = "box", [s / 2 for s in solid.size]
            elif isinstance(solid, Cylinder):
                shape, size = "cylinder", [solid.radius, solid.length / 2]
            else:
                shape, size = "sphere", [solid.radius]
            x, y, z, w = pose.quaternion
            # Each pair in a collision layer of its own would run out of bits: stand them a metre apart in a square.
            at = (pose.t[0] + n % 40, pose.t[1] + n // 40, pose.t[2])
            rows.append(f'<body name="b{n}_{side}" pos="{at[0]!r} {at[1]!r} {at[2]!r}" quat="{w!r} {x!r} {y!r} {z!r}">'
                        f'<freejoint/><geom type="{shape}" size="{" ".join(map(repr, size))}" mass="1"/></body>')
    model = mujoco.MjModel.from_xml_string(
        '<mujoco><option ccd_tolerance="1e-9" ccd_iterations="500"/><size memory="200M"/>'
        f'<worldbody>{"".join(rows)}</worldbody></mujoco>')
    data = mujoco.MjData(model)
    mujoco.mj_fwdPosition(model, data)
    deepest = [0.0] * len(pairs)
    for k in range(data.ncon):
        contact = data.contact[k]
        one, two = (model.geom_bodyid[g] - 1 for g in contact.geom)
        assert one // 2 == two // 2
        deepest[one // 2] = max(deepest[one // 2], -float(contact.dist))
    met = off = 0
    for (a, pose_a, b, pose_b), theirs in zip(pairs, deepest):
        ours = max(0.0, penetration(a, pose_a, b, pose_b)[0])
        if max(ours, theirs) > 2e-6:
            assert min(ours, theirs) > 0, (a, pose_a, b, pose_b, ours, theirs)
        met += ours > 0
        off += abs(ours - theirs) > 1e-4
    assert met > 200
    # Its contacts are made for forces: for some pairs their depth is along another normal than the shortest way out.
    assert off < 0.2 * met


@pytest.mark.thorough
def test_broad_phase_finds_what_all_pairs_find() -> None:
    rng = np.random.default_rng(2)
    solids, poses = [], []
    for _ in range(160):
        solid, pose, _, _ = _random_pair(rng)
        solids.append(solid)
        poses.append(Pose(pose.r, tuple(rng.uniform(0, 0.7, 3).tolist())))
    solids.append(Box((2.0, 0.01, 0.01)))  # one long thing must not be lost to the sweep
    poses.append(Pose(t=(0.3, 0.3, 0.3)))
    group = np.arange(len(solids)) // 2
    crowd = Crowd(solids, poses)
    chunks = list(near_pairs(crowd, group, chunk=500))
    assert len(chunks) > 3
    left = [pair for near in chunks for pair in zip(*deep_pairs(crowd, *near, 1e-4))]
    assert len(left) == len(set(left))
    found = {(int(i), int(j)) for i, j in left if penetration(solids[i], poses[i], solids[j], poses[j])[0] > 1e-4}
    expected = {(i, j) for i, j in itertools.combinations(range(len(solids)), 2) if group[i] != group[j]
                and penetration(solids[i], poses[i], solids[j], poses[j])[0] > 1e-4}
    assert found == expected
    assert len(expected) > 50


def test_broad_phase_margin_keeps_what_is_near() -> None:
    crowd = Crowd([Sphere(0.01), Sphere(0.01), Sphere(0.01)], [Pose(t=(x, 0.0, 0.0)) for x in (0.0, 0.0215, 0.05)])
    assert not sum(len(i) for i, _ in near_pairs(crowd, np.arange(3)))
    ((i, j),) = near_pairs(crowd, np.arange(3), margin=0.002)
    assert list(zip(i.tolist(), j.tolist())) == [(0, 1)]
