"""Conventions of the ROS Enhancement Proposals, judged by axes and by the tree, never by digits of rpy.

REP-103 (units, axes, optical suffix), REP-105 (one parent a frame; map and odom belong to others), REP-120 (base_footprint on
the floor), REP-138 (lidar: x along the zero ray, in the scan plane), REP-145 (IMU: specific force +g on the axis that points up).
"""
from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import chassis_describe as cd
from chassis_describe.assembly.model import Assembly
from tests.demos import NAMES

TOP = Path(__file__).resolve().parents[2]
UP = np.array([0.0, 0.0, 1.0])


@pytest.fixture(params=NAMES)
def robot(request: pytest.FixtureRequest) -> Assembly:
    return cd.assemble(cd.read(TOP / "config" / f"{request.param}.yaml"))


def rotation(robot: Assembly, frame: str) -> np.ndarray:
    return np.array(robot.poses[frame].r).reshape(3, 3)


def test_rep_103_frames_are_right_handed_and_optical_frames_look_along_z(robot: Assembly) -> None:
    for frame in robot.poses:
        assert np.linalg.det(rotation(robot, frame)) == pytest.approx(1.0, abs=1e-12)
    for sensor in robot.sensors:
        if sensor.optical_frame is not None:
            body, optical = rotation(robot, sensor.frame), rotation(robot, sensor.optical_frame)
            np.testing.assert_allclose(optical[:, 2], body[:, 0], atol=1e-15)  # z forward
            np.testing.assert_allclose(optical[:, 0], -body[:, 1], atol=1e-15)  # x right
            np.testing.assert_allclose(optical[:, 1], -body[:, 2], atol=1e-15)  # y down
            assert sensor.optical_frame.endswith("_optical_frame")


def test_rep_105_one_tree_with_one_parent_a_frame(robot: Assembly) -> None:
    children = [joint.child for joint in robot.joints]
    assert len(children) == len(set(children))
    assert set(robot.poses) == {robot.root, *children}
    assert all(joint.parent in robot.poses for joint in robot.joints)
    assert not {"map", "odom", "earth"} & set(robot.poses)  # localisation and odometry publish these


def test_rep_120_base_footprint_is_on_the_floor_below_base_link(robot: Assembly) -> None:
    ground = robot.poses["base_footprint"].inverse()
    base_in_ground = ground.t
    assert base_in_ground[:2] == pytest.approx((0.0, 0.0), abs=1e-12)
    lowest = min(ground.point(wheel.centre)[2] - wheel.radius for wheel in robot.wheels)
    assert lowest == pytest.approx(0.0, abs=1e-6)
    # yaw of base_link: its x, laid flat, is the footprint's x
    forward = np.array(ground.vector((1.0, 0.0, 0.0)))
    assert forward[1] == pytest.approx(0.0, abs=1e-12)
    assert forward[0] > 0


def test_rep_138_lidars_scan_about_z_from_the_zero_ray(robot: Assembly) -> None:
    for sensor in robot.sensors:
        if sensor.sensor.kind == "lidar":
            placed = robot.parts[sensor.placement]
            # the demo's scan planes are level: z along the part's own axis, up or, hanging, down
            np.testing.assert_allclose(rotation(robot, sensor.frame)[:, 2], placed.pose.z_axis, atol=1e-12)
            assert abs(rotation(robot, sensor.frame)[:, 2] @ UP) == pytest.approx(1.0, abs=1e-12)


def test_rep_145_an_imu_at_rest_reads_plus_g_upwards(robot: Assembly) -> None:
    up_in_base = np.array(robot.rest.normal)
    for sensor in robot.sensors:
        if sensor.sensor.kind == "imu":
            specific_force = rotation(robot, sensor.frame).T @ (9.80665 * up_in_base)
            facing = rotation(robot, sensor.frame)[:, 2] @ up_in_base
            assert specific_force[2] == pytest.approx(9.80665 * facing, abs=1e-9)
            assert abs(facing) == pytest.approx(1.0, abs=1e-6)  # the demos' boards lie flat
