"""Swivel casters on joints of their own: where the joints are by hand, the same masses, which way a positive roll goes."""
from __future__ import annotations

import math

import pytest

import chassis_describe as cd
from chassis_describe.layout.build.casters import with_turning_casters
from tests.robots import DRIVE, catalogue_drive, layout

LAYOUT = layout(
    "trolley", decks="  lower: {outline: {rectangle: [240, 160]}, thickness: 4, material: birch plywood}",
    placements=catalogue_drive("lower") + """\
  caster:      {part: swivel_caster_h45, on: lower, face: under, at: [-4.5, 0.5], lift: 13}
  ball:        {part: ball_caster_h40, on: lower, face: under, at: [4.5, 0.5], lift: 18}
""", more=DRIVE)


def robot(turning: bool) -> cd.Assembly:
    return cd.assemble(cd.read("trolley.yaml", text=LAYOUT + ("ros: {casters: turning}\n" if turning else "")))


def test_still_is_the_default_and_nothing_else_changes() -> None:
    still, turns = robot(False), robot(True)
    assert not still.moving
    assert [(m.joint, m.adjustment.motion) for m in turns.moving] == [("caster_swivel_joint", "free"), ("caster_roll_joint", "free")]
    for name, pose in still.poses.items():
        assert turns.poses[name] == pose
    assert turns.inertial is not None
    assert still.inertial is not None
    assert turns.inertial.mass == pytest.approx(still.inertial.mass, rel=1e-14)
    assert turns.inertial.com == pytest.approx(still.inertial.com, abs=1e-14)
    assert turns.rest == still.rest


def test_links_by_hand() -> None:
    """swivel_caster_h45: axle 16 mm behind the swivel axis, 30 mm from the deck; 18 g wheel, 8 + 6 + 2 + 2 g that turn."""
    found = robot(True)
    joints = {j.name: j for j in found.joints}
    swivel, roll = joints["caster_swivel_joint"], joints["caster_roll_joint"]
    assert (swivel.type, swivel.parent, swivel.axis, swivel.pose.t) == ("continuous", "caster_link", (0, 0, 1), (0, 0, 0.030))
    assert (roll.type, roll.parent, roll.pose.t) == ("continuous", "caster_swivel_link", pytest.approx((-0.016, 0, 0)))
    masses = {name: found.link_of[name].inertial.mass for name in ("caster_swivel_link", "caster_roll_link")}  # type: ignore[union-attr]
    assert masses == pytest.approx({"caster_swivel_link": 0.018, "caster_roll_link": 0.018})
    # omega x r of the lowest point: it moves back where the wheel rolls forward
    axis = found.poses["caster_roll_link"].vector(roll.axis)
    assert axis == pytest.approx((0.0, 1.0, 0.0), abs=1e-12)


def test_a_positive_roll_goes_forward_by_mujoco() -> None:
    """The caster alone, hung on rails: its wheel turned by friction on a moving floor would need physics; the sign is
    enough: with joint velocity +1 the lowest point of the wheel moves to -x of the fork."""
    mujoco = pytest.importorskip("mujoco")
    model = mujoco.MjSpec.from_string(cd.urdf(robot(True))).compile()
    data = mujoco.MjData(model)
    joint = model.joint("caster_roll_joint")
    data.qvel[joint.dofadr[0]] = 1.0
    mujoco.mj_forward(model, data)
    body = model.body("caster_roll_link").id
    velocity = [0.0] * 6
    import numpy as np

    velocity = np.zeros(6)
    mujoco.mj_objectVelocity(model, data, mujoco.mjtObj.mjOBJ_BODY, body, velocity, 0)
    lowest = np.cross(velocity[:3], [0.0, 0.0, -0.015])
    assert lowest == pytest.approx([-0.015, 0.0, 0.0], abs=1e-9)


def test_simulators_always_turn_them() -> None:
    turned = cd.assemble(with_turning_casters(robot(False).layout))
    assert cd.urdf(turned) == cd.urdf(robot(True))
    assert math.isfinite(turned.inertial.mass)  # type: ignore[union-attr]
