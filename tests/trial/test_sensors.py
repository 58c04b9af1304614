"""What simulated sensors read, against rays of our own cell by cell, closed forms, and the check's blocked arcs."""
from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest

from chassis_describe import assemble, read
from chassis_describe.facts.self_hits import self_hits_of

pytest.importorskip("mujoco")
pytestmark = pytest.mark.judge
import numpy as np  # noqa: E402

from chassis_describe.trial.engine import GRAVITY, Engine, WorldBox  # noqa: E402
from chassis_describe.trial.kinematics import Motion  # noqa: E402
from chassis_describe.trial.odometry import Odometer  # noqa: E402
from chassis_describe.trial.sensors import Bumper, Depth, InertialUnit, Layers, Ranger, Scan, pinhole_of  # noqa: E402
from chassis_describe.trial.world import few_walls  # noqa: E402
from tests.trial.cells import by_cells, smooth  # noqa: E402

TOP = Path(__file__).resolve().parents[2]
LAYOUTS = Path(__file__).resolve().parents[1] / "targets/layouts"
#: Over draught_scout: a lidar with noise, a thin post in its way (80 mm behind it: the zero beam looks back), a bumper.
MORE = """\
parts:
  lidar_d70:
    mass: 110
    bodies: [{cylinder: [70, 33], at: [0, 0, 16.5]}]
    bolts: [[-20, -20], [-20, 20], [20, -20], [20, 20]]
    sensors: {scan: {kind: lidar, at: [0, 0, 33], range: [0.05 m, 12 m], rate: 10, samples: 720, topic: scan, noise: %s}}
  post: {mass: 5, bodies: [{cylinder: [10, 60], at: [0, 0, 30]}], bolts: [[0, 0]]}
placements:
  post: {part: post, on: upper, at: [-4, 0]}
  bumper: {part: bumper_bar, on: lower, face: under, at: [5, 0], lift: 12}
"""


def robot(tmp_path: Path, noise: float = 0) -> Any:
    (tmp_path / "more.yaml").write_text(MORE % noise)
    return assemble(read(TOP / "config/draught_scout.yaml", overlays=[tmp_path / "more.yaml"]))


def settled(engine: Engine, steps: int = 300) -> Engine:
    for _ in range(steps):
        engine.step()
    return engine


def of(assembly: Any, kind: str) -> Any:
    return next(s for s in assembly.sensors if s.sensor.kind == kind)


def test_a_scan_is_what_rays_meet_to_the_stated_noise_and_holds_the_blocked_arcs(tmp_path: Path) -> None:
    assembly, world = robot(tmp_path, 10), few_walls()
    engine = settled(Engine(assembly, world.blocks(), start=(-0.5, 0.3, 0.4)))
    facet = of(assembly, "lidar")
    scan = Scan(engine, facet, np.random.default_rng(0))
    taken = np.array([scan.read() for _ in range(20)])
    angles = scan.first + scan.step * np.arange(scan.count)
    assert (scan.first, angles[-1]) == (-math.pi, pytest.approx(math.pi - scan.step))
    # The lidar looks back: beam 0 is along -x of the robot, which stands at a yaw of 0.4.
    lidar = assembly.poses[assembly.root].inverse() @ facet.pose
    heading = 0.4 + math.pi + angles
    eye = np.array([-0.5 + lidar.t[0] * math.cos(0.4), 0.3 + lidar.t[0] * math.sin(0.4), lidar.t[2]])
    true = by_cells(world, eye, np.column_stack([np.cos(heading), np.sin(heading), np.zeros(scan.count)]))
    arcs = self_hits_of(assembly)[facet.frame].arcs
    blocked = np.any([(angles >= a.start) & (angles <= a.end) for a in arcs], axis=0)
    seen = smooth(true) & (true < 11.9) & ~blocked
    assert seen.sum() > 200
    off = taken[:, seen] - true[seen]
    assert abs(off.mean()) < 5 * 0.01 / math.sqrt(off.size)
    assert off.std() == pytest.approx(0.01, rel=0.05)
    assert np.isposinf(taken[0][~np.isfinite(true) & ~blocked]).all()
    # The post: 5 mm of radius 80 mm away, so asin(5/80) to each side of the zero beam (closed form).
    assert len(arcs) == 1
    post = np.abs(angles) < math.asin(5 / 80) - scan.step
    assert (taken[:, post] < 0.15).all()
    assert post.sum() >= 5
    assert (taken[:, ~blocked] > 0.5).all()


def test_nearer_than_it_measures_is_minus_infinity(tmp_path: Path) -> None:
    """REP-117."""
    assembly = robot(tmp_path)
    near = of(assembly, "lidar")
    near = near._replace(sensor=_with_range(near.sensor, (0.15, 12.0)))
    ranges = Scan(settled(Engine(assembly)), near, np.random.default_rng(0)).read()
    assert set(ranges) == {-np.inf, np.inf}
    assert np.isneginf(ranges[360])


def _with_range(sensor: Any, reach: tuple[float, float]) -> Any:
    from dataclasses import replace

    return replace(sensor, range=reach)


def test_a_wall_square_ahead(tmp_path: Path) -> None:
    """Everything that looks forward reads the distance to a wall across the way; the cloud lies in its plane, in optical axes."""
    assembly = robot(tmp_path)
    engine = settled(Engine(assembly, [WorldBox((2.05, 0.0, 0.5), (0.1, 8.0, 1.0))]))
    facet, random = of(assembly, "depth_camera"), np.random.default_rng(0)
    depth = Depth(engine, facet, random)
    points = depth.read()
    assert points.shape == (depth.height, depth.width, 3)
    in_root = assembly.poses[assembly.root].inverse() @ assembly.poses[facet.message_frame]
    flat = points[np.isfinite(points).all(axis=2)]
    placed = flat @ np.array(in_root.r).reshape(3, 3).T + in_root.t
    wall, floor = placed[:, 2] > 0.002, placed[:, 2] < 0.002
    assert placed[wall, 0] == pytest.approx(np.full(wall.sum(), 2.0), abs=2e-3)
    assert placed[floor, 2] == pytest.approx(np.zeros(floor.sum()), abs=2e-3)
    assert wall.any()
    assert floor.any()
    # REP-103: the first row is above the last, the first column on the left.
    row, column = depth.height // 2, depth.width // 4
    assert points[row, column, 0] < 0 < points[row, -1 - column, 0]
    assert points[row - 5, column, 1] < points[row + 5, column, 1]
    # A pinhole (sensor_msgs/CameraInfo): the point of a cell is seen at its pixel.
    image = pinhole_of(facet)
    x, y, z = points[row, column]
    assert image.focal * x / z + image.middle[0] == pytest.approx((column + 0.5) * image.width / depth.width - 0.5, abs=1e-6)
    assert image.focal * y / z + image.middle[1] == pytest.approx((row + 0.5) * image.height / depth.height - 0.5, abs=1e-6)
    # REP-118: the image holds depths along the axis, z of the cloud, and has the pixels that the camera's info tells of.
    ahead = depth.read_image()
    assert ahead.shape == (image.height, image.width)
    pixel = (int((row + 0.5) * image.height / depth.height), int((column + 0.5) * image.width / depth.width))
    assert ahead[pixel] == pytest.approx(z, abs=1e-6)
    assert np.isfinite(ahead).mean() == pytest.approx(np.isfinite(points[..., 2]).mean(), abs=0.02)


def test_a_ranger_reads_the_nearest_point_of_its_cone() -> None:
    """A wall across the cone of half-angle 7.5 degrees at an incidence of 30: nearest under the ray that leans most to it,
    d cos(30) / cos(30 - 7.5) (closed form); nothing there: its farthest."""
    assembly = assemble(read(TOP / "config/prop_barrow.yaml"))
    facet = of(assembly, "ranger")
    assert facet.sensor.fov == pytest.approx(math.radians(15))
    pose = assembly.poses[assembly.root].inverse() @ facet.pose
    turn = math.radians(30)
    d = 1.0
    ahead = math.hypot(pose.x_axis[0], pose.x_axis[1])
    middle = np.array(pose.t[:2]) + d * np.array(pose.x_axis[:2])
    normal = np.array([math.cos(turn), math.sin(turn)])
    centre = middle + 0.05 * normal
    engine = settled(Engine(assembly, [WorldBox((float(centre[0]), float(centre[1]), 1.0), (0.1, 6.0, 2.0), turn)]))
    read_now = Ranger(engine, facet, np.random.default_rng(0)).read()
    # The beam climbs by 10 degrees: the angle between it and the wall's normal is that of cos(30) times its level part.
    incidence = math.acos(math.cos(turn) * ahead)
    assert read_now == pytest.approx(d * math.cos(incidence) / math.cos(incidence - facet.sensor.fov / 2), rel=0.004)
    assert Ranger(settled(Engine(assembly)), facet, np.random.default_rng(0)).read() == facet.sensor.range[1]


@pytest.mark.parametrize("roll", [0, 180])
def test_an_inertial_unit_at_rest_reads_g_upwards_and_turning_its_rate(tmp_path: Path, roll: int) -> None:
    """REP-145: specific force +g along up, in the board's axes, so -g on the z of a board that hangs; a turn to the left is
    positive about up."""
    face = "under" if roll else "top"
    (tmp_path / "imu.yaml").write_text(f"placements: {{imu: {{part: imu_board, on: upper, face: {face}, at: [3, 0]}}}}\n")
    assembly = assemble(read(TOP / "config/draught_scout.yaml", overlays=[tmp_path / "imu.yaml"]))
    engine, sign = settled(Engine(assembly)), -1.0 if roll else 1.0
    imu = InertialUnit(engine, of(assembly, "imu"), np.random.default_rng(0))
    assert imu.read().accel == pytest.approx([0.0, 0.0, sign * GRAVITY], abs=2e-3)
    engine.command(Motion(turn=0.5))
    settled(engine, 500)
    for _ in range(500):
        engine.step()
        imu.sample()
    turning = imu.read()
    assert turning.gyro == pytest.approx([0.0, 0.0, sign * 0.5], abs=5e-3)
    assert turning.accel[2] == pytest.approx(sign * GRAVITY, rel=0.01)


def test_layers_of_a_lidar_lie_on_their_cones() -> None:
    """Each point's elevation is one of those that divide the vertical angle evenly; on the floor z = 0."""
    assembly = assemble(read(LAYOUTS / "clouds.yaml"))
    facet = next(s for s in assembly.sensors if s.sensor.layers > 1)
    engine = settled(Engine(assembly), 50)
    points = Layers(engine, facet, np.random.default_rng(0)).read()
    assert len(points)
    up = np.arctan2(points[:, 2], np.hypot(points[:, 0], points[:, 1]))
    wanted = np.linspace(*facet.sensor.vertical, facet.sensor.layers)
    assert np.abs(up[:, None] - wanted).min(axis=1) == pytest.approx(np.zeros(len(up)), abs=1e-9)


def test_a_bumper_feels_the_wall_that_it_is_driven_into(tmp_path: Path) -> None:
    assembly = robot(tmp_path)
    engine = settled(Engine(assembly, [WorldBox((0.5, 0.0, 0.5), (0.1, 2.0, 1.0))]))
    bumper = Bumper(engine, of(assembly, "contact"))
    odometer = Odometer(engine)
    assert not bumper.read()
    engine.command(Motion(0.2))
    settled(engine, 500)
    _, velocity = odometer.read()
    assert not bumper.read()
    assert velocity.forward == pytest.approx(0.2, rel=0.2)
    settled(engine, 2500)
    assert bumper.read()
    assert engine.whereabouts().x < 0.45


def test_it_does_not_start_in_a_wall(tmp_path: Path) -> None:
    assembly = robot(tmp_path)
    block = [WorldBox((2.0, 0.0, 0.5), (0.1, 4.0, 1.0))]
    assert not Engine(assembly, block).in_a_block()
    assert Engine(assembly, block, start=(1.95, 0.5, 1.0)).in_a_block()


def test_the_same_seed_gives_the_same_noise(tmp_path: Path) -> None:
    assembly = robot(tmp_path, 10)
    engine = Engine(assembly, few_walls().blocks())
    one, same, other = (Scan(engine, of(assembly, "lidar"), np.random.default_rng(seed)).read() for seed in (5, 5, 6))
    assert (one == same).all()
    assert (one != other).any()


@pytest.mark.parametrize(("name", "motion", "share"), [
    ("two_wheels", Motion(0.1, 0.0, 0.4), 0.02), ("four_wheels", Motion(0.1), 0.02), ("mecanum", Motion(0.1, 0.08, 0.3), 0.05),
    ("three_omni", Motion(0.08, 0.06, 0.3), 0.05), ("steered", Motion(0.2, 0.0, 0.2), 0.02),
    ("three_wheeler", Motion(0.2, 0.0, 0.2), 0.02)])
def test_odometry_tells_the_velocity_that_was_asked_for(name: str, motion: Motion, share: float) -> None:
    """Of every kind of drive: the controller's inverse kinematics and its forward ones agree while the wheels keep up."""
    engine = Engine(assemble(read(LAYOUTS / f"{name}.yaml")))
    for _ in range(100):
        engine.command(motion)
        settled(engine, 10)
    odometer = Odometer(engine)
    for _ in range(50):
        engine.command(motion)
        settled(engine, 10)
    place, velocity = odometer.read()
    assert velocity == pytest.approx(motion, rel=share, abs=share * 0.3)
    assert place.yaw == pytest.approx(1.5 * motion.turn, abs=0.15)


def test_an_arm_that_others_describe_is_held_where_the_layout_has_it() -> None:
    """Its motors are unknown; without them it would fall within the second (tested: by 0.7 rad)."""
    assembly = assemble(read(TOP / "config/games_waiter.yaml"))
    arm = [j for j in assembly.joints if j.described is not None and j.type == "revolute"]
    engine = settled(Engine(assembly), 1000)
    assert len(arm) == 4
    for joint in arm:
        assert engine.data.joint(joint.name).qpos[0] == pytest.approx(joint.value, abs=0.01)


def test_a_sensor_at_a_link_that_others_describe(tmp_path: Path) -> None:
    """It hangs level at the end of the arm: g upwards in the link's own axes (the tray is level, as the demo says)."""
    (tmp_path / "more.yaml").write_text("""\
parts:
  arm_imu: {like: tray_arm, sensors: {imu: {kind: imu, link: tray, topic: arm_imu}}}
placements: {arm: {part: arm_imu}}
""")
    assembly = assemble(read(TOP / "config/games_waiter.yaml", overlays=[tmp_path / "more.yaml"]))
    facet = next(s for s in assembly.sensors if s.placement == "arm")
    imu = InertialUnit(settled(Engine(assembly), 1000), facet, np.random.default_rng(0))
    up = (assembly.poses[assembly.root].inverse() @ facet.pose).inverse().vector((0.0, 0.0, GRAVITY))
    assert facet.frame == "arm_tray"
    assert imu.read().accel == pytest.approx(up, abs=0.1)


def test_a_sensor_sees_through_all_links_of_its_own_part(tmp_path: Path) -> None:
    """A lidar in the arm's last joint: the arm is its own part, whatever of it moves; the wall ahead is not."""
    (tmp_path / "more.yaml").write_text("""\
parts: {arm_scan: {like: tray_arm, sensors: {scan: {kind: lidar, link: tray, samples: 4, topic: arm_scan}}}}
placements: {arm: {part: arm_scan}}
""")
    assembly = assemble(read(TOP / "config/games_waiter.yaml", overlays=[tmp_path / "more.yaml"]))
    facet = next(s for s in assembly.sensors if s.placement == "arm")
    engine = settled(Engine(assembly, [WorldBox((2.05, 0.0, 0.5), (0.1, 8.0, 1.0))]))
    groups = engine.model.geom_group.copy()
    ranges = Scan(engine, facet, np.random.default_rng(0)).read()
    x = (assembly.poses[assembly.root].inverse() @ facet.pose).t[0]
    assert ranges[2] == pytest.approx(2.0 - x, abs=0.01)  # -pi, -pi/2, 0: ahead
    assert np.isposinf(ranges[[0, 1, 3]]).all()
    assert (engine.model.geom_group == groups).all()
