"""The robot as MJCF, judged by MuJoCo itself: it compiles without a word, weighs what the layout weighs, stands where the
layout stands, and its sensors read what geometry and gravity say."""
from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from chassis_describe import assemble, compile as compile_package, read
from chassis_describe.targets.simulation.mjcf import layer_of_beams, mjcf
from chassis_describe.targets.simulation.rollers import axle_at_ground, rollers_of

mujoco = pytest.importorskip("mujoco")

TOP = Path(__file__).resolve().parents[2]
DEMOS = sorted(path.stem for path in (TOP / "config").glob("*.yaml") if "layout: 1" in path.read_text(encoding="utf-8"))
pytestmark = pytest.mark.judge


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
    assert abs(np.dot(ground.pose.z_axis, axle_at_ground(hand))) == pytest.approx(1.0)


def test_axles_at_the_ground_grip_as_the_kinematics_assume() -> None:
    """Gazebo's mecanum world gives each wheel the direction in which it grips (gz-sim8: examples/worlds/mecanum_drive.sdf):
    front left and rear right 1 -1 0, the others 1 1 0. Left-hand rollers go front left and rear right."""
    c = math.sqrt(0.5)
    assert axle_at_ground("left") == pytest.approx((c, -c, 0))
    assert axle_at_ground("right") == pytest.approx((c, c, 0))
