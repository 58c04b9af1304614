"""The node ``chassis_describe_simulator``: the engine in real time, the robot's topics around it. One thread, no more.

Everything is stamped with the engine's time, which ``/clock`` tells; commands count from when they arrive.
"""
from __future__ import annotations

import math
import signal
import time
from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
import rclpy
from builtin_interfaces.msg import Time
from geometry_msgs.msg import Twist, TwistStamped
from rclpy.executors import SingleThreadedExecutor
from rclpy.qos import QoSProfile, ReliabilityPolicy
from rosgraph_msgs.msg import Clock
from trajectory_msgs.msg import JointTrajectory

from chassis_describe.assembly.model import Assembly
from chassis_describe.compiler import urdf
from chassis_describe.errors import UsageError
from chassis_describe.live.context import ros_context
from chassis_describe.live.description import LATCHED, LOOK, Content, Publication, State, transform_message
from chassis_describe.live.frames import transform
from chassis_describe.targets.stack import distros
from chassis_describe.targets.stack.topics import COMMAND_TOPIC, odom_frame, transform_topic
from chassis_describe.trial import messages
from chassis_describe.trial.engine import Engine
from chassis_describe.trial.frames import Joints, described_frames, driver_frames
from chassis_describe.trial.images import Images
from chassis_describe.trial.kinematics import Motion
from chassis_describe.trial.streams import Feed, cameras_of, robot_streams, sensor_streams
from chassis_describe.trial.trajectory import Follower, Point, followers
from chassis_describe.trial.world import World

NODE = "chassis_describe_simulator"
#: Seconds after which a velocity command no longer counts (the drive controllers' default, cmd_vel_timeout).
EXPIRES = 0.5
#: Seconds between two turns of the loop at most: the controller manager's default update rate.
_TURN = 0.01
#: Seconds of the wall clock behind which time is given up; between two remarks that the machine is too slow.
_BEHIND, _REMARK = 0.25, 30.0
#: Serves subscribers of both kinds.
SENSOR_QOS = QoSProfile(depth=5, reliability=ReliabilityPolicy.RELIABLE)


class SimulatorSettings(NamedTuple):
    """``start`` (m, m, rad) in the world; ``speed``: seconds of the robot to a second; ``seed`` of all noise."""

    start: tuple[float, float, float] = (0.0, 0.0, 0.0)
    speed: float = 1.0
    seed: int = 0


class _Due:
    """A stream, its publisher, and when it is due: the n-th message at n / rate, so that rates hold over hours."""

    def __init__(self, stream: Feed, publisher: Any) -> None:
        self.stream, self.publisher, self.sent = stream, publisher, 0

    def publish(self, now: float, stamp: int) -> None:
        if now * self.stream.rate < self.sent + 1 - 1e-6:
            return
        self.sent = int(now * self.stream.rate + 1e-6)
        if not self.stream.asked or self.publisher.get_subscription_count():
            self.publisher.publish(self.stream.make(stamp))


class Simulator:
    """The robot among nodes. Raises UsageError where it can't begin."""

    def __init__(self, node: Any, executor: Any, assembly: Assembly, world: World, settings: SimulatorSettings) -> None:
        if assembly.rest is None:
            raise UsageError(f"{assembly.robot} has no wheels and no casters, so there is nothing to simulate")
        self.node, self.executor, self.assembly, self.settings = node, executor, assembly, settings
        self.engine = Engine(assembly, world.blocks(), start=settings.start)
        if self.engine.in_a_block():
            x, y, _ = settings.start
            raise UsageError(f"at {x:g}, {y:g} the robot stands in a wall; name a free place by --start x,y,yaw")
        self.images = Images(self.engine, cameras_of(assembly))
        self.joints = Joints(self.engine, assembly)
        self.followers = followers(assembly)
        self.stopped = False
        self._last_told = ""
        self._command, self._heard = Motion(), -math.inf
        random = np.random.default_rng(settings.seed)
        streams = [*robot_streams(self.engine, assembly, self.joints),
                   *sensor_streams(self.engine, assembly, random, self.images)]
        fastest = max(s.rate for s in streams)
        self._steps = max(1, math.floor(min(_TURN, 1.0 / fastest) / self.engine.step_time + 1e-6))
        self._samples = [s.sample for s in streams if s.sample is not None]
        self._clock = node.create_publisher(Clock, "/clock", SENSOR_QOS)
        self._due = [_Due(s, node.create_publisher(s.kind, s.topic, SENSOR_QOS)) for s in streams]
        self._transforms: Any = transform_message()
        self._tf = None if self._transforms is None else node.create_publisher(
            self._transforms, transform_topic(assembly), SENSOR_QOS)
        self.description = Publication(node, feed=False, told=self._told)
        self._publish_frames()
        self._listen()
        self._say(streams)

    # -------------------------------------------------------------------------------------------------------- what it hears
    def _listen(self) -> None:
        if self.engine.drives:
            stamped = distros.text("cmd_vel_type", self.assembly.layout.ros.distro).endswith("Stamped")
            self.node.create_subscription(TwistStamped if stamped else Twist, COMMAND_TOPIC,
                                          (lambda m: self._drive(m.twist)) if stamped else self._drive, SENSOR_QOS)
        for controller, follower in self.followers.items():
            self.node.create_subscription(JointTrajectory, f"{controller}/joint_trajectory",
                                          lambda m, c=controller, f=follower: self._follow(c, f, m), SENSOR_QOS)

    def _drive(self, twist: Twist) -> None:
        motion = Motion(twist.linear.x, twist.linear.y, twist.angular.z)
        if all(map(math.isfinite, motion)):
            self._command, self._heard = motion, self.engine.time
        else:
            self.node.get_logger().warning(f"a command on {COMMAND_TOPIC} that is not finite is not followed")

    def _follow(self, controller: str, follower: Follower, message: JointTrajectory) -> None:
        points = [Point(messages.seconds(p.time_from_start), dict(zip(message.joint_names, p.positions)),
                        dict(zip(message.joint_names, p.velocities))) for p in message.points]
        start = messages.seconds(message.header.stamp)
        wrong = follower.take(points, self.engine.time, start or None)
        if wrong is not None:
            self.node.get_logger().warning(f"a trajectory for {controller} is not followed: {wrong}")

    # ------------------------------------------------------------------------------------------------------------ its loop
    def spin(self) -> None:
        """Run until stopped."""
        begin, looked, told, late = time.monotonic(), time.monotonic(), -math.inf, 0.0
        origin = self.engine.time
        while not self.stopped:
            due = begin + (self.engine.time - origin) / self.settings.speed
            while True:  # messages are taken while it waits, and at least one in each turn
                left = due - time.monotonic()
                self.executor.spin_once(timeout_sec=max(0.0, left))
                if left <= 0.0 or self.stopped:
                    break
            now = time.monotonic()
            if now - due > _BEHIND:
                begin, late = begin + (now - due), late + (now - due)
                if now - told > _REMARK:
                    told = now
                    self.node.get_logger().warning("this machine is too slow for it: the robot's time runs behind, as /clock says; "
                                                   "fewer walls, sensors or subscribers help")
            if now - looked > LOOK:
                looked = now
                self._describe()
            self.turn()

    def turn(self) -> None:
        """One turn of the loop: what was commanded, some steps of the engine, what is due."""
        engine = self.engine
        fresh = engine.time - self._heard <= EXPIRES
        engine.command(self._command if fresh else Motion())
        for follower in self.followers.values():
            for joint, value in follower.wanted(engine.time).items():
                engine.drive_joint(joint, value)
        for _ in range(self._steps):
            engine.step()
            for sample in self._samples:
                sample()
        engine.whereabouts()  # raises where the robot flew apart
        stamp = round(engine.time * 1e9)
        now = messages.time_of(stamp)
        self._clock.publish(Clock(clock=now))
        for due in self._due:
            due.publish(engine.time, stamp)
        self._move(now)

    def close(self) -> None:
        """Give everything back."""
        self.description.close()
        self.images.close()

    # ----------------------------------------------------------------------------------------------------------- its frames
    def _publish_frames(self) -> None:
        """What never changes: what drivers publish, at once and for good; the description's frames unless others have them."""
        static = f"{transform_topic(self.assembly)}_static"
        below = driver_frames(self.assembly)
        if below and self._transforms is not None:
            self.node.create_publisher(self._transforms, static, LATCHED).publish(self._transforms(transforms=below))
        self.description.set(Content(urdf(self.assembly), described_frames(self.assembly), static))

    def _describe(self) -> None:
        """Describe the robot unless somebody else does: robot_state_publisher under any name, or a node that follows the file."""
        others = self.description.others()
        if others:
            self.description.close()
            self._told(State(f"{others[0]} describes the robot"))
        else:
            self.description.look()

    def _move(self, stamp: Time) -> None:
        """Transforms that change: of odometry, and of the joints while nobody else describes the robot."""
        if self._tf is None:
            return
        moving = self.joints.transforms(stamp) if self.description.publishes else []
        if self.engine.drives and self.assembly.layout.ros.odometry == "controller":
            moving.append(transform(odom_frame(self.assembly), self.assembly.root, messages.flat(self.engine.odometry), stamp))
        if moving:
            self._tf.publish(self._transforms(transforms=moving))

    # --------------------------------------------------------------------------------------------------------- what it says
    def _told(self, state: State) -> None:
        if state.words != self._last_told:
            self._last_told = state.words
            self.node.get_logger().info(state.words)

    def _say(self, streams: Sequence[Feed]) -> None:
        log = self.node.get_logger()
        if self._transforms is None:
            log.warning("the package tf2_msgs is not here (it comes with a ROS installation), so no transforms are published")
        if not self.images.renders and cameras_of(self.assembly):
            log.warning("pictures are not published, since OpenGL does not render here; without a screen MUJOCO_GL=egl may help")
        if self.assembly.drive is not None and not self.engine.drives:
            log.warning("some driven wheel has no motor in the layout, so the robot can't be driven")
        if self.engine.drives and self.assembly.layout.ros.odometry == "ekf":
            log.info(f"{odom_frame(self.assembly)} to {self.assembly.root} is left to robot_localization, as the layout asks")
        for sensor in self.assembly.sensors:
            if sensor.sensor.kind == "gnss":
                log.warning(f"{sensor.placement} is not simulated: there is no satellite navigation here")
        for stream in streams:
            note = f", {stream.note}" if stream.note else ""
            log.info(f"{self.node.resolve_topic_name(stream.topic)}: {stream.kind.__name__}, {stream.rate:g} Hz{note}")


def run(assembly: Assembly, world: World, settings: SimulatorSettings, ros_arguments: Sequence[str] = ()) -> None:
    """Simulate until SIGINT or SIGTERM. Raises UsageError, TargetError."""
    context = ros_context(ros_arguments)
    try:
        node = rclpy.create_node(NODE, namespace=assembly.layout.ros.namespace or None, context=context)
        executor = SingleThreadedExecutor(context=context)
        executor.add_node(node)
        try:
            _run(Simulator(node, executor, assembly, world, settings))
        finally:
            executor.shutdown()
            node.destroy_node()
    finally:
        rclpy.shutdown(context=context)


def _run(simulator: Simulator) -> None:
    def stop(*_: object) -> None:
        simulator.stopped = True

    before = {number: signal.signal(number, stop) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        simulator.spin()
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
        simulator.close()
