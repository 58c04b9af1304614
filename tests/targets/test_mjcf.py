"""The robot as MJCF, judged by MuJoCo itself: it compiles without a word, weighs what the layout weighs, stands where the
layout stands, and its sensors read what geometry and gravity say."""
from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from chassis_describe import assemble, compile as compile_package, read
from chassis_describe.facts.beams import layer_of_beams
from chassis_describe.space.solids import Hull
from chassis_describe.targets.simulation.mjcf import mjcf, mjcf_tree
from chassis_describe.targets.simulation.rollers import rollers_of
from chassis_describe.xmltree import serialise

mujoco = pytest.importorskip("mujoco")

TOP = Path(__file__).resolve().parents[2]
DEMOS = sorted(path.stem for path in (TOP / "config").glob("*.yaml") if "layout: 1" in path.read_text(encoding="utf-8"))
pytestmark = pytest.mark.judge
#: Along which line the roller on the ground lies, where the wheel grips. Gazebo's mecanum world gives each wheel its own (gz-sim8:
#: examples/worlds/mecanum_drive.sdf): front left and rear right, which have left-hand rollers, 1 -1 0, the others 1 1 0.
GRIPS = {"left": (1, -1, 0), "right": (1, 1, 0), "across": (1, 0, 0)}


def loaded(text: str) -> tuple[Any, Any]:
    model = mujoco.MjModel.from_xml_string(text)
    data = mujoco.MjData(model)
    mujoco.mj_resetDataKeyframe(model, data, 0)
    mujoco.mj_forward(model, data)
    return model, data


@pytest.fixture(scope="module", params=DEMOS)
def robot(request: pytest.FixtureRequest) -> Any:
    return assemble(read(TOP / "config" / f"{request.param}.yaml"))


def test_the_package_holds_what_compiles_without_a_word(robot: Any, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    path = TOP / "config" / f"{robot.robot}.yaml"
    compile_package(path, tmp_path / "package", despite_errors=True)
    capfd.readouterr()
    model = mujoco.MjModel.from_xml_path(str(tmp_path / "package/simulation/scene.xml"))
    said = capfd.readouterr()
    assert (said.out, said.err) == ("", "")
    assert model.geom("floor").id == 0 or model.ngeom > 1


def test_masses_and_frames_are_the_layouts(robot: Any) -> None:
    model, data = loaded(mjcf(robot))
    root = robot.poses[robot.root].inverse()
    for name, pose in robot.poses.items():
        found = data.body(name) if mujoco.mj_name2id(model, mujoco.mjtObj.mjOBJ_BODY, name) >= 0 else data.site(name)
        there = root @ pose
        assert np.abs(found.xpos - there.t).max() < 1e-9, name
        assert np.abs(found.xmat - there.r).max() < 1e-9, name
    whole = robot.inertial.moved(root)
    assert model.body_subtreemass[1] == pytest.approx(whole.mass, rel=1e-9)
    assert data.subtree_com[1] == pytest.approx(whole.com, abs=1e-9)
    # The mass matrix of the free joint turns about the root: its lower block is the inertia there (parallel axes).
    full = np.zeros((model.nv, model.nv))
    mujoco.mj_fullM(model, data, full) if _new_order() else mujoco.mj_fullM(model, full, data.qM)
    x, y, z = whole.com
    m = whole.mass
    xx, yy, zz, xy, xz, yz = whole.inertia
    expected = np.array([[xx + m * (y * y + z * z), xy - m * x * y, xz - m * x * z],
                         [xy - m * x * y, yy + m * (x * x + z * z), yz - m * y * z],
                         [xz - m * x * z, yz - m * y * z, zz + m * (x * x + y * y)]])
    assert np.abs(full[3:6, 3:6] - expected).max() < 1e-9


def _new_order() -> bool:
    return "mj_fullM(m: mujoco._structs.MjModel, d: mujoco._structs.MjData" in (mujoco.mj_fullM.__doc__ or "")


@pytest.mark.parametrize("name", DEMOS)
def test_wheels_turn_as_the_urdf_says(name: str) -> None:
    """Kinematics at random joint values against pinocchio on the written URDF."""
    pin = pytest.importorskip("pinocchio")
    from chassis_describe import urdf

    robot = assemble(read(TOP / "config" / f"{name}.yaml"))
    model, data = loaded(mjcf(robot))
    judge = pin.buildModelFromXML(urdf(robot))
    scratch = judge.createData()
    rng = np.random.default_rng(4)
    for _ in range(5):
        q = pin.neutral(judge)
        for joint in robot.joints:
            if joint.type == "fixed" or joint.mimic is not None:
                continue
            low, high = (joint.lower, joint.upper) if joint.lower is not None else (-3.0, 3.0)
            value = rng.uniform(low, high)
            data.qpos[model.joint(joint.name).qposadr[0]] = value
            n = judge.joints[judge.getJointId(joint.name)]
            q[n.idx_q: n.idx_q + n.nq] = (math.cos(value), math.sin(value)) if n.nq == 2 else value
            for other in robot.joints:
                if other.mimic is not None and other.mimic.joint == joint.name:
                    data.qpos[model.joint(other.name).qposadr[0]] = value * other.mimic.times + other.mimic.plus
        mujoco.mj_kinematics(model, data)
        pin.framesForwardKinematics(judge, scratch, q)
        for link in robot.links:
            if mujoco.mj_name2id(model, mujoco.mjtObj.mjOBJ_BODY, link.name) >= 0:
                there = scratch.oMf[judge.getFrameId(link.name)]
                assert np.abs(data.body(link.name).xpos - there.translation).max() < 1e-9, link.name
                assert np.abs(data.body(link.name).xmat.reshape(3, 3) - there.rotation).max() < 1e-9, link.name


def walled(distance: float) -> Any:
    """The demo in front of a wall that many metres before base_footprint, standing still."""
    robot = assemble(read(TOP / "config/draught_scout.yaml"))
    wall = f'<geom name="wall" type="box" pos="{distance + 0.05} 0 1" size="0.05 20 1" contype="2" conaffinity="1"/>'
    floor = '<geom name="floor" type="plane" size="0 0 1" contype="2" conaffinity="1"/>'
    return robot, *loaded(mjcf(robot).replace("<worldbody>", f"<worldbody>{wall}{floor}"))


@pytest.mark.parametrize("fov", ["", ", fov: 90", ", fov: 179"])
def test_an_image_is_drawn_as_wide_as_it_is_told(fov: str) -> None:
    """A pinhole's focal length is half the width over tan(fov/2), half the height over tan(fovy/2) (plane trigonometry), also of
    a camera that says nothing of its view, and of one that no plane holds."""
    from chassis_describe.trial.sensors import pinhole_of

    robot = assemble(read("eye.yaml", text="{layout: 1, robot: one, decks: {low: {outline: {circle: 200}, thickness: 4, mass: 100}}, "
                          "parts: {eye: {mass: 50, bodies: [{box: [30, 30, 20], at: [0, 0, 10]}], "
                          f"sensors: {{eye: {{kind: depth_camera, at: [16, 0, 10]{fov}}}}}}}}}, "
                          "placements: {eye: {part: eye, on: low, at: [0, 0], fixing: adhesive}}}"))
    image = pinhole_of(robot.sensors[0])
    drawn = mjcf_tree(robot).find(".//camera")
    assert drawn is not None
    assert image.focal == pytest.approx(image.height / 2 / math.tan(math.radians(float(drawn.get("fovy", ""))) / 2), rel=1e-9)
    assert drawn.get("resolution") == f"{image.width} {image.height}"


def test_beams_measure_the_wall() -> None:
    """A wall square to x: a beam at an angle measures distance / cos(angle) from its frame (plane trigonometry)."""
    robot, model, data = walled(2.0)
    facet = next(s for s in robot.sensors if s.sensor.kind == "lidar")
    first, step, count = layer_of_beams(facet)
    names = [model.sensor(n).name for n in range(model.nsensor)]
    mine = [n for n, name in enumerate(names) if name.startswith(f"{facet.frame}_range")]
    assert len(mine) == count
    x = data.site(facet.frame).xpos[0]
    forward = data.site(facet.frame).xmat.reshape(3, 3)[0]
    far = facet.sensor.range[1]
    seen = 0
    for n, sensor in enumerate(mine):
        angle = first + n * step
        along = forward[0] * math.cos(angle) + forward[1] * math.sin(angle)
        read_ = data.sensordata[model.sensor_adr[sensor]]
        if along > 0.2 and (2.0 - x) / along < min(far, 19):
            assert read_ == pytest.approx((2.0 - x) / along, rel=1e-6)
            seen += 1
        elif along < 0:
            assert read_ < 0  # nothing there
    assert seen > count / 4


def test_imu_reads_gravity() -> None:
    """At rest an accelerometer reads +g along the vertical (REP-145), a gyroscope nothing."""
    robot, model, data = walled(2.0)
    facet = next(s for s in robot.sensors if s.sensor.kind == "imu")
    for _ in range(1500):
        mujoco.mj_step(model, data)
    at = model.sensor(f"{facet.frame}_accelerometer").adr[0]
    up = data.site(facet.frame).xmat.reshape(3, 3).T @ np.array([0.0, 0.0, 9.81])
    assert data.sensordata[at: at + 3] == pytest.approx(up, abs=0.02)
    turn = model.sensor(f"{facet.frame}_gyro").adr[0]
    assert np.abs(data.sensordata[turn: turn + 3]).max() < 1e-3


def test_camera_looks_along_its_optical_frame() -> None:
    """MuJoCo's cameras look along -z with y up (XML reference, camera): REP-103's optical frame turned by half about x."""
    robot = assemble(read(TOP / "config/draught_scout.yaml"))
    model, data = loaded(mjcf(robot))
    facet = next(s for s in robot.sensors if s.optical_frame is not None)
    camera = data.cam_xmat[model.camera(facet.frame).id].reshape(3, 3)
    optical = data.site(facet.optical_frame).xmat.reshape(3, 3)
    assert np.abs(camera - optical @ np.diag([1.0, -1.0, -1.0])).max() < 1e-9
    width, height = facet.sensor.resolution
    # Pinhole: tan(v/2) = tan(h/2) · height / width.
    assert math.tan(math.radians(model.cam_fovy[model.camera(facet.frame).id]) / 2) == pytest.approx(
        math.tan(facet.sensor.fov / 2) * height / width, rel=1e-9)


@pytest.mark.parametrize("hand", ["left", "right", "across"])
@pytest.mark.parametrize(("radius", "width"), [(0.05, 0.05), (0.03, 0.03), (0.1, 0.08)])
def test_a_wheel_of_rollers_is_round(hand: Any, radius: float, width: float) -> None:
    """The lowest point of ellipsoids in any turn of the wheel: support function h = sqrt(a²(1 - u²) + b² u²)."""
    rollers = rollers_of(radius, width, hand)
    for phi in np.linspace(0, 2 * math.pi / len(rollers), 60):
        down = np.array([math.sin(phi), 0.0, -math.cos(phi)])  # straight down, in the turned wheel
        lowest = max(down @ r.pose.t + math.sqrt(r.radius ** 2 * (1 - (down @ r.pose.z_axis) ** 2)
                                                 + r.half_length ** 2 * (down @ r.pose.z_axis) ** 2) for r in rollers)
        assert radius * (1 - 1e-9) <= lowest <= radius * 1.002
    ground = min(rollers, key=lambda r: r.pose.t[2])
    grip = np.array(GRIPS[hand])
    assert abs(np.dot(ground.pose.z_axis, grip / np.linalg.norm(grip))) == pytest.approx(1.0)


# ------------------------------------------------------------------------------------------------- what the layout's keys do
@pytest.fixture(scope="module")
def senses() -> tuple[Any, Any, Any]:
    found = assemble(read(Path(__file__).parent / "layouts/every_sense.yaml"))
    return found, *loaded(mjcf(found, mesh_address=None))


def test_noise_and_casters_friction_are_in_the_model(senses: tuple[Any, Any, Any]) -> None:
    """By hand from the layout: 10 mm, 0.2 deg/s, 0.05 m/s2; ball 0.05, swivel's wheel the 0.1 of common practice."""
    _, model, _ = senses
    noise = {model.sensor(n).name: model.sensor_noise[n] for n in range(model.nsensor)}
    assert noise["half_frame_range_0"] == pytest.approx(0.010)
    assert noise["board_frame_gyro"] == pytest.approx(math.radians(0.2))
    assert noise["board_frame_accelerometer"] == pytest.approx(0.05)
    assert noise["turner_frame_range_0"] == 0.0
    grip = {model.geom(n).name: model.geom_friction[n][0] for n in range(model.ngeom)}
    assert {v for name, v in grip.items() if name.startswith("ball_link_collision") and v != 1.0} == {0.05}
    assert grip["swivel_roll_link_collision"] == pytest.approx(0.1)


def test_a_bumper_feels_what_pushes_it(senses: tuple[Any, Any, Any]) -> None:
    """A block laid on the bumper's rubber weighs m g on the touch sensor (MuJoCo's XML reference, sensor/touch); without it nothing."""
    robot, _, _ = senses
    alone = serialise(mjcf_tree(robot, beams=False))
    model, data = loaded(alone)
    at = model.sensor("bumper_frame_touch").adr[0]
    mujoco.mj_step(model, data)
    assert data.sensordata[at] == 0.0
    body = data.body("bumper_link")
    top = body.xpos + body.xmat.reshape(3, 3) @ np.array([0.026, 0.0, 0.024])
    block = (f'<body pos="{top[0]} {top[1]} {top[2] + 0.0099}"><freejoint/><geom type="box" size="0.004 0.02 0.01" mass="0.02" '
             'contype="2" conaffinity="1"/></body><geom type="plane" size="0 0 1" contype="2" conaffinity="5"/>')
    text = alone.replace("<worldbody>", f"<worldbody>{block}")
    model = mujoco.MjModel.from_xml_string(text.split("<keyframe>")[0] + "</mujoco>")
    data = mujoco.MjData(model)
    at = model.sensor("bumper_frame_touch").adr[0]
    felt = []
    for step in range(600):
        mujoco.mj_step(model, data)
        if step >= 400:
            felt.append(data.sensordata[at])
    assert float(np.mean(felt)) == pytest.approx(0.02 * 9.81, rel=0.03)


def test_described_parts_have_motors_and_start_where_the_layout_sets_them() -> None:
    """The arm of tests/described: four commanded joints an arm (its ros2_control), the finger that follows has none."""
    robot = assemble(read(TOP / "tests/described/arm_cart.yaml"))
    model, data = loaded(mjcf(robot))
    assert {model.actuator(n).name for n in range(model.nu)} == {
        f"{arm}_{joint}" for arm in ("arm", "arm_2") for joint in ("waist", "shoulder", "elbow", "finger_left")}
    assert model.body_subtreemass[1] == pytest.approx(robot.inertial.mass, rel=1e-9)
    for name, pose in robot.poses.items():
        if mujoco.mj_name2id(model, mujoco.mjtObj.mjOBJ_BODY, name) >= 0:
            assert np.abs(data.body(name).xpos - (robot.poses[robot.root].inverse() @ pose).t).max() < 1e-9, name
    aims = {model.actuator(n).name: data.ctrl[n] for n in range(model.nu)}
    assert aims["arm_elbow"] == pytest.approx(math.radians(45))
    assert aims["arm_2_waist"] == pytest.approx(math.radians(120))
    # Hung in the air it stays there: the motors hold what the keyframe says (gravity off: the base falls with it).
    model.opt.gravity[:] = 0
    start = data.qpos[7:].copy()
    for _ in range(500):
        mujoco.mj_step(model, data)
    assert np.abs(data.qpos[7:] - start).max() < 1e-3


def test_described_meshes_collide_and_are_seen_as_their_hull() -> None:
    """The corners that MuJoCo keeps of each hull, put where it puts them, span what the hull spans in its link."""
    pytest.importorskip("xacro")
    robot = assemble(read(TOP / "config/games_waiter.yaml"))
    model, _ = loaded(mjcf(robot))
    compared = 0
    for link in robot.links:
        hulls = [item for item in link.bodies if isinstance(item.solid, Hull)]
        geoms = [n for n in range(model.ngeom) if model.geom_bodyid[n] == mujoco.mj_name2id(model, mujoco.mjtObj.mjOBJ_BODY, link.name)
                 and model.geom_type[n] == mujoco.mjtGeom.mjGEOM_MESH] if len(hulls) == 1 else []
        for n in geoms:
            first, count = model.mesh_vertadr[model.geom_dataid[n]], model.mesh_vertnum[model.geom_dataid[n]]
            turn = np.zeros(9)
            mujoco.mju_quat2Mat(turn, model.geom_quat[n])
            kept = model.mesh_vert[first:first + count] @ turn.reshape(3, 3).T + model.geom_pos[n]
            ours = np.array([hulls[0].pose.point(corner) for corner in hulls[0].solid.points])
            assert np.abs(kept.min(axis=0) - ours.min(axis=0)).max() < 1e-7  # MuJoCo keeps corners in single precision
            assert np.abs(kept.max(axis=0) - ours.max(axis=0)).max() < 1e-7
            compared += 1
    assert compared >= 4


def test_a_world_of_ones_own_stands_around_the_robot(tmp_path: Path) -> None:
    (tmp_path / "hall.xml").write_text('<mujoco><worldbody><geom name="tiles" type="plane" size="9 9 1"/></worldbody></mujoco>')
    (tmp_path / "robot.yaml").write_text("layout: 1\nrobot: tray\nsimulation: {world: hall.xml}\ndecks:\n  lower: {outline: {rectangle: "
                                         "[200, 120]}, thickness: 4, material: birch plywood}\n")
    compile_package(tmp_path / "robot.yaml", tmp_path / "package", despite_errors=True)
    model = mujoco.MjModel.from_xml_path(str(tmp_path / "package/simulation/scene.xml"))
    assert mujoco.mj_name2id(model, mujoco.mjtObj.mjOBJ_GEOM, "tiles") >= 0
    assert mujoco.mj_name2id(model, mujoco.mjtObj.mjOBJ_GEOM, "floor") < 0
