"""Let go, the robot stands as the layout says: height and attitude after five simulated seconds.

Judges: MuJoCo and PyBullet, two engines with different contact models, on the URDF that we write. Both let bodies sink
into the ground a little; a millimetre and 0.2 degrees are what such soft contacts are good for (common practice).
"""
from __future__ import annotations

import json
import math
import subprocess
import sys
import textwrap
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

TOP = Path(__file__).resolve().parents[2]
HEIGHT, TILT = 1e-3, math.radians(0.2)

#: Ours, invented: a slab on four balls, one of them 3 mm shorter, and a weight that decides which three it stands on.
FOUR_BALLS = """
layout: 1
robot: slab
decks:
  slab: {outline: {rectangle: [240, 240]}, thickness: 10, density: 1200}
parts:
  long_ball:
    mass: 30
    bodies: [{box: [20, 20, 10], at: [0, 0, 5]}]
    caster: {ball: 20, at: [0, 0, 30]}
  short_ball:
    mass: 30
    bodies: [{box: [20, 20, 10], at: [0, 0, 5]}]
    caster: {ball: 20, at: [0, 0, 27]}
  weight:
    mass: 1000
    bodies: [{box: [60, 60, 40], at: [0, 0, 20]}]
placements:
  ball_fl: {part: long_ball, on: slab, face: under, at: [5, 5]}
  ball_fr: {part: long_ball, on: slab, face: under, at: [5, -5]}
  ball_bl: {part: long_ball, on: slab, face: under, at: [-5, 5]}
  ball_br: {part: short_ball, on: slab, face: under, at: [-5, -5]}
  weight:  {part: weight, on: slab, at: %s}
"""


def demo(change: Callable[[str], str] = lambda text: text) -> str:
    return change((TOP / "config/draught_scout.yaml").read_text(encoding="utf-8"))


def short_caster(text: str) -> str:
    changed = text.replace("lift: 18.5}", "lift: 13.5}")
    assert changed != text
    return changed


CASES = {
    "demo": demo(),
    "caster 5 mm short": demo(short_caster),
    "one of four lifted": FOUR_BALLS % "[3, 3]",
    "tilted onto the short one": FOUR_BALLS % "[-3, -3]",
}


@pytest.fixture(params=list(CASES))
def case(request: pytest.FixtureRequest) -> Any:
    import chassis_describe as cd
    from chassis_describe.compiler import read

    return cd.assemble(read(TOP / "config/draught_scout.yaml", text=CASES[request.param]))


def expected(assembly: Any) -> tuple[float, tuple[float, float, float]]:
    """Height of base_link over the ground, and which way is up in base_link."""
    return assembly.rest.base_in_ground.t[2], assembly.rest.normal


def test_the_cases_are_what_their_names_say() -> None:
    import chassis_describe as cd
    from chassis_describe.compiler import read

    rests = {name: cd.assemble(read(TOP / "config/draught_scout.yaml", text=text)).rest for name, text in CASES.items()}
    tilts = {name: math.degrees(math.acos(min(1.0, rest.normal[2]))) for name, rest in rests.items()}
    assert tilts["demo"] < 0.01
    assert tilts["caster 5 mm short"] > 2
    assert tilts["one of four lifted"] < 1e-6
    assert tilts["tilted onto the short one"] > 0.3
    gaps = {c.name: c.gap for c in rests["one of four lifted"].contacts}
    assert gaps["ball_br"] == pytest.approx(0.003, abs=1e-9)


def compare(height: float, up: Any, assembly: Any) -> None:
    wanted_height, wanted_up = expected(assembly)
    assert height == pytest.approx(wanted_height, abs=HEIGHT)
    between = math.acos(max(-1.0, min(1.0, sum(a * b for a, b in zip(up, wanted_up)))))
    assert between < TILT, f"{math.degrees(between):.3f} degrees"


def test_settles_in_mujoco(case: Any, judge: Callable[[str], Any]) -> None:
    mujoco = judge("mujoco")
    import chassis_describe as cd

    spec = mujoco.MjSpec.from_string(cd.urdf(case).replace(
        "</robot>", '<mujoco><compiler fusestatic="false"/></mujoco></robot>'))
    spec.option.timestep = 0.001
    # The root is welded to the world by default: free it, and give it a floor.
    spec.worldbody.first_body().add_freejoint()
    spec.worldbody.add_geom(type=mujoco.mjtGeom.mjGEOM_PLANE, size=[5, 5, 0.1])
    for geom in spec.geoms:
        geom.solref = [0.004, 1]
    model = spec.compile()
    data = mujoco.MjData(model)
    mujoco.mj_resetData(model, data)
    data.qpos[2] += 0.005
    while data.time < 5:
        mujoco.mj_step(model, data)
    body = data.body(case.base)
    compare(body.xpos[2], body.xmat[6:9], case)


BULLET = textwrap.dedent("""
    import json, sys, pybullet as p
    p.connect(p.DIRECT)
    p.setGravity(0, 0, -9.81)
    p.setTimeStep(1 / 1000)
    plane = p.createCollisionShape(p.GEOM_PLANE)
    p.createMultiBody(0, plane)
    body = p.loadURDF(sys.argv[1], [0, 0, float(sys.argv[2])],
                      flags=p.URDF_USE_INERTIA_FROM_FILE | p.URDF_USE_IMPLICIT_CYLINDER)
    for joint in range(p.getNumJoints(body)):
        p.setJointMotorControl2(body, joint, p.VELOCITY_CONTROL, force=0)
    for link in range(-1, p.getNumJoints(body)):
        p.changeDynamics(body, link, linearDamping=0.1, angularDamping=0.1)
    for _ in range(5000):
        p.stepSimulation()
    position, attitude = p.getBasePositionAndOrientation(body)
    inertial = p.getDynamicsInfo(body, -1)
    inverse = p.invertTransform(inertial[3], inertial[4])
    position, attitude = p.multiplyTransforms(position, attitude, *inverse)
    print("result", json.dumps([position, p.getMatrixFromQuaternion(attitude)]))
""")


def test_settles_in_pybullet(case: Any, judge: Callable[[str], Any], without_frames: Callable[[str], tuple[str, str]],
                             tmp_path: Path) -> None:
    judge("pybullet")
    import chassis_describe as cd

    root, text = without_frames(cd.urdf(case))
    path = tmp_path / "robot.urdf"
    path.write_text(text)
    # base_link is only a frame and left out: the deck below it is the base here.
    base_in_root = case.poses[root].inverse()
    start = case.rest.base_in_ground.t[2] + 0.03 - min(0.0, base_in_root.t[2])
    done = subprocess.run([sys.executable, "-c", BULLET, str(path), str(start)], capture_output=True, text=True,
                          timeout=120)
    assert done.returncode == 0, done.stderr
    position, matrix = json.loads(done.stdout.split("result")[1])
    up_in_root = tuple(matrix[6:9])
    height = position[2] + sum(u * t for u, t in zip(up_in_root, base_in_root.t))
    up = case.poses[root].vector(up_in_root)
    compare(height, up, case)
