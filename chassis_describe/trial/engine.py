"""A robot in MuJoCo: stepped, commanded, looked at. What the course and the node share. Metres, seconds, radians."""
from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from lxml import etree

from chassis_describe.assembly.model import Assembly
from chassis_describe.errors import TargetError, UsageError
from chassis_describe.layout.build.casters import ROLL
from chassis_describe.space.pose import Vec3
from chassis_describe.targets.simulation.mjcf import mjcf_tree, simulated
from chassis_describe.targets.simulation.mjcf_attributes import floor_bits
from chassis_describe.trial.kinematics import FloorPose, Motion, moved, steering_angles, wheel_speeds
from chassis_describe.xmltree import child, number, numbers, serialise

#: Standard acceleration of gravity (ISO 80000-3), m/s².
GRAVITY = 9.80665
#: Friction of the floor itself; tyres and casters have priority, so this is what other parts of the robot meet.
_FLOOR_FRICTION = 0.6

#: Speed against what a held wheel is off, 1/s (our choice).
_STANDING_GAIN = 20.0
#: What is pressed in less than this (m) only touches.
_PRESSED = 0.001


class WorldBox(NamedTuple):
    """A box that stands in the world: its centre, its full edge lengths, and how far it is turned about z (rad)."""

    centre: Vec3
    size: Vec3
    turn: float = 0.0


class Whereabouts(NamedTuple):
    """Of the root (base_footprint) in the world, and the tilt of its z against the world's."""

    x: float
    y: float
    z: float
    yaw: float
    tilt: float


def mujoco() -> Any:
    """The engine's module. Raises UsageError with what to install where it is missing."""
    try:
        import mujoco as module
    except ImportError:
        raise UsageError("simulating needs the package mujoco: pip install 'chassis_describe[sim]'") from None
    return module


class Engine:
    """One robot on a floor, blocks around it, its root at ``start`` (m, m, rad) in the beginning. The engine's own sensors
    are off: who wants to see casts rays."""

    def __init__(self, assembly: Assembly, blocks: Sequence[WorldBox] = (), *,
                 start: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> None:
        self.api = mujoco()
        self._begin = start
        self._blocks = len(blocks)
        self.assembly = assembly = simulated(assembly)
        self.model = self.api.MjModel.from_xml_string(_world(assembly, blocks))
        # A contact may creep under friction that should hold it: a few rounds against slip end that.
        self.model.opt.noslip_iterations = 5
        self.data = self.api.MjData(self.model)
        self.step_time: float = self.model.opt.timestep
        drive = assembly.drive
        self.wheels = () if drive is None else tuple(w for w in drive.wheels if w.motor is not None)
        steering = () if drive is None else tuple(s.moving.joint for s in drive.steered)
        self._address = {w.joint: int(self.model.joint(w.joint).qposadr[0]) for w in self.wheels}
        self._steering = {joint: int(self.model.joint(joint).qposadr[0]) for joint in steering}
        self._actuator = {joint: int(self.model.actuator(joint).id) for joint in (*self._address, *steering)}
        self.odometry = FloorPose()
        self._turned: dict[str, float] = {}
        self._start: dict[str, float] = {}
        self._twist = np.zeros(6)
        self.reset()

    def reset(self) -> None:
        """Back to the attitude of rest where it began, joints at their values in force, odometry at zero."""
        self.api.mj_resetDataKeyframe(self.model, self.data, 0)
        x, y, yaw = self._begin
        self.data.qpos[0:2] = x, y
        self.data.qpos[3:7] = math.cos(yaw / 2), 0.0, 0.0, math.sin(yaw / 2)
        self.hold()
        self.api.mj_forward(self.model, self.data)
        self.odometry = FloorPose()
        self._turned = self._start = self.turned()

    def hold(self) -> None:
        """Every position actuator where its joint is now, every velocity at zero."""
        self.data.ctrl[:] = 0.0
        for n in range(self.model.nu):
            joint = int(self.model.actuator_trnid[n, 0])
            if self.model.actuator_biasprm[n, 1] != 0.0:  # a position servo
                self.data.ctrl[n] = self.data.qpos[self.model.jnt_qposadr[joint]]

    def reshape(self, number_: int, block: WorldBox) -> None:
        """Another place and size for one of the blocks."""
        geom = self.model.geom(f"block_{number_}").id
        self.model.geom_pos[geom] = block.centre
        self.model.geom_size[geom] = [s / 2 for s in block.size]
        self.model.geom_rbound[geom] = math.hypot(*block.size) / 2
        self.model.geom_aabb[geom] = (0, 0, 0, *(s / 2 for s in block.size))

    def tilt_ground(self, angle: float, towards: tuple[float, float]) -> None:
        """As if the ground were tilted by an angle, down towards a direction of the world: gravity is turned instead."""
        x, y = towards
        self.model.opt.gravity[:] = (GRAVITY * math.sin(angle) * x, GRAVITY * math.sin(angle) * y, -GRAVITY * math.cos(angle))

    def command(self, motion: Motion) -> None:
        """Wheel speeds and steering angles for a velocity of the base, as the controller computes them."""
        drive = self.assembly.drive
        if drive is None:
            return
        wanted = wheel_speeds(drive, motion, self.steered()) | steering_angles(drive, motion)
        for joint, value in wanted.items():
            if joint in self._actuator:
                self.data.ctrl[self._actuator[joint]] = value

    def drive_joint(self, joint: str, value: float) -> None:
        """Where a joint with a position motor is to go (rad, of a slide m)."""
        self.data.ctrl[self.model.actuator(joint).id] = value

    def bodies_of(self, placement: str) -> set[int]:
        """The bodies of a part, what moves on it among them."""
        placed = self.assembly.parts[placement]
        links = {placed.link, *placed.moving.values(), *placed.described.values()}
        return {n for n in range(self.model.nbody) if self.model.body(n).name in links}

    def touched(self, own: set[int]) -> bool:
        """Whether any of these bodies touches the floor or a block."""
        owner = self.model.geom_bodyid
        pairs = (sorted((int(owner[c.geom1]), int(owner[c.geom2]))) for c in self.data.contact)
        return any(first == 0 and second in own for first, second in pairs)

    def in_a_block(self) -> bool:
        """Whether any of the robot is inside a block."""
        # The world's own geoms come first in the model: the floor, then the blocks.
        return any(c.dist < -_PRESSED and 1 <= min(c.geom1, c.geom2) <= self._blocks for c in self.data.contact)

    def stand_still(self) -> None:
        """Wheels held where odometry began, as a controller's loop holds them: with all the torque that it takes, no more."""
        for joint, address in self._address.items():
            self.data.ctrl[self._actuator[joint]] = -_STANDING_GAIN * (self.data.qpos[address] - self._start[joint])

    def step(self) -> None:
        """One step of the engine, and what odometry makes of it."""
        self.api.mj_step(self.model, self.data)
        drive = self.assembly.drive
        if drive is not None and self.drives:
            now = self.turned()
            self.odometry = self.odometry.after(moved(
                drive, {j: now[j] - self._turned[j] for j in now}, self.steered()))
            self._turned = now

    def turned(self) -> dict[str, float]:
        """How far each driven wheel's joint has turned (rad)."""
        return {joint: float(self.data.qpos[address]) for joint, address in self._address.items()}

    def steered(self) -> dict[str, float]:
        """Where each steering joint is (rad)."""
        return {joint: float(self.data.qpos[address]) for joint, address in self._steering.items()}

    @property
    def time(self) -> float:
        """Seconds since the reset."""
        return float(self.data.time)

    def whereabouts(self) -> Whereabouts:
        """Where the root is now."""
        x, y, z = (float(v) for v in self.data.body(self.assembly.root).xpos)
        if not math.isfinite(x + y + z):
            raise TargetError(f"{self.assembly.robot} flew apart in the simulation; that is a fault of the model made of it")
        m = self.data.body(self.assembly.root).xmat
        return Whereabouts(x, y, z, math.atan2(m[3], m[0]), math.acos(max(-1.0, min(1.0, float(m[8])))))

    @property
    def drives(self) -> bool:
        """Whether every driven wheel has a motor, so that something can be commanded and measured."""
        drive = self.assembly.drive
        return drive is not None and len(self.wheels) == len(drive.wheels)

    def velocity(self, name: str) -> tuple[tuple[float, ...], tuple[float, ...]]:
        """Linear (m/s, of the body's own origin) and angular (rad/s) velocity of a body, in its own axes."""
        found = self._twist
        self.api.mj_objectVelocity(self.model, self.data, self.api.mjtObj.mjOBJ_XBODY, self.model.body(name).id, found, 1)
        return tuple(float(v) for v in found[3:]), tuple(float(v) for v in found[:3])

    def base(self) -> tuple[Vec3, tuple[float, ...]]:
        """Position and rotation matrix (rows) of base_link in the world."""
        body = self.data.body(self.assembly.base)
        return tuple(float(v) for v in body.xpos), tuple(float(v) for v in body.xmat)  # type: ignore[return-value]

    def gaps(self) -> dict[str, float]:
        """By wheel and caster: how far its lowest point is above the floor (m), negative where it is pressed in."""
        out = {}
        for wheel in self.assembly.wheels:
            body = self.data.body(wheel.link)
            lean = float(body.xmat[7])  # z of the wheel's axle, the body's y
            out[wheel.placement] = float(body.xpos[2]) - wheel.radius * math.sqrt(max(0.0, 1.0 - lean * lean))
        for caster in self.assembly.casters:
            out[caster.placement] = self._caster_gap(caster.placement)
        return out

    def _caster_gap(self, placement: str) -> float:
        facet = next(c for c in self.assembly.casters if c.placement == placement)
        # A turning caster's wheel is on a link of its own, at its axle; else it is where the caster's own link has it.
        name = self.assembly.parts[placement].moving.get(ROLL, facet.link)
        link, into = self.data.body(name), self.assembly.poses[name].inverse()
        x, y, z = into.point(facet.centre)
        height = float(link.xpos[2]) + float(link.xmat[6]) * x + float(link.xmat[7]) * y + float(link.xmat[8]) * z
        if facet.kind == "ball":
            return height - facet.radius
        ax, ay, az = into.vector(facet.axis)
        lean = float(link.xmat[6]) * ax + float(link.xmat[7]) * ay + float(link.xmat[8]) * az
        return height - facet.radius * math.sqrt(max(0.0, 1.0 - lean * lean))


def _world(assembly: Assembly, blocks: Sequence[WorldBox]) -> str:
    root = mjcf_tree(assembly, beams=False)
    option = root.find("option")
    assert option is not None
    option.set("gravity", numbers((0, 0, -GRAVITY)))
    world = root.find("worldbody")
    assert world is not None
    # Lit from where one looks, so that cameras see something.
    child(child(root, "visual"), "headlight", [("ambient", "0.5 0.5 0.5"), ("diffuse", "0.4 0.4 0.4")])
    floor = [("name", "floor"), ("type", "plane"), ("size", "0 0 0.05"), ("friction", f"{number(_FLOOR_FRICTION)} 0.005 0.0001"),
             ("rgba", "0.82 0.82 0.80 1"), *floor_bits()]
    world.insert(0, etree.Element("geom", dict(floor)))
    _hold(root, assembly)
    for n, block in enumerate(blocks):
        child(world, "geom", [("name", f"block_{n}"), ("type", "box"), ("pos", numbers(block.centre)),
                              ("size", numbers([s / 2 for s in block.size])), ("rgba", "0.66 0.70 0.74 1"), *floor_bits(),
                              *([("euler", numbers((0.0, 0.0, block.turn)))] if block.turn else [])])
    return serialise(root)


def _hold(root: etree._Element, assembly: Assembly) -> None:
    """Joints of a part that others describe, where the layout has them: motors that it does not know hold them."""
    held = [j for j in assembly.joints if j.described is not None and j.mimic is None and j.type in ("revolute", "prismatic")]
    if held:
        holds = root.find("equality")
        holds = child(root, "equality") if holds is None else holds
        for joint in held:
            child(holds, "joint", [("name", f"{joint.name}_held"), ("joint1", joint.name), ("solref", "0.004 1"),
                                   ("polycoef", numbers((joint.value, 0, 0, 0, 0)))])
