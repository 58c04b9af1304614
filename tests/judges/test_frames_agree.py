"""Where everything is and what it weighs, by two independent readers of the URDF that we write.

Judges: pinocchio (forward kinematics, spatial inertia; Featherstone's algorithms) and yourdfpy (its own kinematics).
"""
from __future__ import annotations

import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest


def homogeneous(pose: Any) -> np.ndarray:
    matrix = np.eye(4)
    matrix[:3, :3] = np.reshape(pose.r, (3, 3))
    matrix[:3, 3] = pose.t
    return matrix


def in_root(assembly: Any) -> dict[str, np.ndarray]:
    into = np.linalg.inv(homogeneous(assembly.poses[assembly.root]))
    return {name: into @ homogeneous(pose) for name, pose in assembly.poses.items()}


def in_force(pinocchio: Any, model: Any, assembly: Any) -> Any:
    """Every joint at the value that the layout gives it; one without stops is a cosine and a sine to pinocchio."""
    q = pinocchio.neutral(model)
    for joint in assembly.joints:
        if joint.type != "fixed":
            read = model.joints[model.getJointId(joint.name)]
            q[read.idx_q:read.idx_q + read.nq] = [joint.value] if read.nq == 1 else [math.cos(joint.value), math.sin(joint.value)]
    return q


def test_frames_by_pinocchio(robot: Any, judge: Callable[[str], Any]) -> None:
    pinocchio = judge("pinocchio")
    model = pinocchio.buildModelFromXML(robot.urdf)
    data = model.createData()
    pinocchio.framesForwardKinematics(model, data, in_force(pinocchio, model, robot.assembly))
    expected = in_root(robot.assembly)
    assert len(expected) == len(robot.assembly.links) > 5
    for name, pose in expected.items():
        read = data.oMf[model.getFrameId(name, pinocchio.FrameType.BODY)].homogeneous
        np.testing.assert_allclose(read, pose, rtol=0, atol=1e-9, err_msg=name)


def test_frames_by_yourdfpy(robot: Any, judge: Callable[[str], Any], tmp_path: Path) -> None:
    yourdfpy = judge("yourdfpy")
    path = tmp_path / "robot.urdf"
    path.write_text(robot.urdf)
    model = yourdfpy.URDF.load(str(path), load_meshes=False)
    model.update_cfg({j.name: j.value for j in robot.assembly.joints if j.type != "fixed"})
    for name, pose in in_root(robot.assembly).items():
        np.testing.assert_allclose(model.get_transform(name), pose, rtol=0, atol=1e-9, err_msg=name)


def test_whole_robot_by_pinocchio(robot: Any, judge: Callable[[str], Any]) -> None:
    """Mass, centre of mass and inertia in base_link, summed by pinocchio's own spatial algebra."""
    pinocchio = judge("pinocchio")
    model = pinocchio.buildModelFromXML(robot.urdf)
    data = model.createData()
    pinocchio.framesForwardKinematics(model, data, in_force(pinocchio, model, robot.assembly))
    total = pinocchio.Inertia.Zero()
    for index in range(model.njoints):
        total += data.oMi[index].act(model.inertias[index])
    base = data.oMf[model.getFrameId(robot.assembly.base, pinocchio.FrameType.BODY)]
    total = base.actInv(total)
    ours = robot.assembly.inertial
    assert total.mass == pytest.approx(ours.mass, rel=1e-9)
    np.testing.assert_allclose(total.lever, ours.com, rtol=0, atol=1e-9)
    xx, yy, zz, xy, xz, yz = ours.inertia
    scale = max(xx, yy, zz)
    np.testing.assert_allclose(total.inertia, [[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]], rtol=0, atol=1e-9 * scale)


def test_each_link_by_pinocchio(robot: Any, judge: Callable[[str], Any]) -> None:
    """A link at a time: the model is rebuilt with a free joint for every link, so that nothing is lumped."""
    pinocchio = judge("pinocchio")
    text = re.sub('type="(fixed|continuous|revolute|prismatic)"', 'type="floating"', robot.urdf)
    model = pinocchio.buildModelFromXML(text)
    for link in robot.assembly.links:
        if link.inertial is None:
            continue
        frame = model.frames[model.getFrameId(link.name, pinocchio.FrameType.BODY)]
        read = model.inertias[frame.parentJoint]
        assert read.mass == pytest.approx(link.inertial.mass, rel=1e-9)
        np.testing.assert_allclose(read.lever, link.inertial.com, rtol=0, atol=1e-9)
        xx, yy, zz, xy, xz, yz = link.inertial.inertia
        np.testing.assert_allclose(read.inertia, [[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]], rtol=0,
                                   atol=1e-9 * max(xx, yy, zz), err_msg=link.name)
