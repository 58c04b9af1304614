"""The simulator as its users meet it: a process of ours in a DDS graph, nodes of the test around it.

One simulator for the module: draught_scout in our corridor, with a head that moves, a noisy lidar and a bumper.
"""
from __future__ import annotations

import math
import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from chassis_describe import assemble, read
from chassis_describe.cli.main import main
from chassis_describe.facts.self_hits import self_hits_of

pytest.importorskip("mujoco")
pytest.importorskip("PIL.Image", reason="pillow, of the extra `sim`, is not installed")
pytestmark = pytest.mark.ros
TOP = Path(__file__).resolve().parents[2]
CORRIDOR = TOP / "config/worlds/corridor.yaml"
MORE = """\
parts:
  lidar_d70:
    mass: 110
    bodies: [{cylinder: [70, 22], at: [0, 0, 11]}, {cylinder: [56, 20], at: [0, 0, 32]}]
    bolts: [[-20, -20], [-20, 20], [20, -20], [20, 20]]
    sensors: {scan: {kind: lidar, at: [0, 0, 33], range: [0.15 m, 12 m], rate: 10, samples: 720, topic: scan, noise: 8}}
placements:
  head: {part: pan_tilt_head, on: upper, at: [-3, 0]}
  bumper: {part: bumper_bar, on: lower, face: under, at: [5, 0], lift: 12}
"""


class Graph:
    """What a node of the test hears, by topic."""

    def __init__(self, node: Any) -> None:
        self.node = node
        self.heard: dict[str, list[Any]] = {}

    def listen(self, topic: str, kind: Any, qos: Any = 10) -> list[Any]:
        heard = self.heard.setdefault(topic, [])
        self.node.create_subscription(kind, topic, heard.append, qos)
        return heard

    def until(self, done: Callable[[], bool], seconds: float = 60.0, each: Callable[[], None] = lambda: None) -> None:
        """Spin until something is there; a machine that is busy takes its time."""
        end = time.monotonic() + seconds
        while not done():
            assert time.monotonic() < end, f"not heard: { {t: len(h) for t, h in self.heard.items()} }"
            each()
            self.node.spin(0.05)


@pytest.fixture(scope="module")
def layout(tmp_path_factory: pytest.TempPathFactory) -> tuple[str, str]:
    more = tmp_path_factory.mktemp("simulator") / "more.yaml"
    more.write_text(MORE)
    return str(TOP / "config/draught_scout.yaml"), str(more)


@pytest.fixture(scope="module")
def simulator(ros_environment: dict[str, str], layout: tuple[str, str]) -> Iterator[subprocess.Popen[str]]:
    process = subprocess.Popen(
        [sys.executable, "-m", "chassis_describe", "simulate", layout[0], "--with", layout[1], "--ros", "--world", str(CORRIDOR),
         "--start", "0.5,-0.2,0.1", "--seed", "4", "--speed", "2", "--ros-args", "-r", "ground_truth:=truth"],
        env=ros_environment, stderr=subprocess.PIPE, text=True)
    yield process
    if process.poll() is None:
        process.terminate()
    process.communicate(timeout=60)


@pytest.fixture
def graph(ros_node: Any, simulator: subprocess.Popen[str]) -> Graph:
    assert simulator.poll() is None
    return Graph(ros_node)


def test_commands_in_odometry_and_joint_states_out(graph: Graph) -> None:
    """A command drives, counts for half a second and no longer; odometry is what the wheels did, in the frames of REP-105."""
    from geometry_msgs.msg import TwistStamped
    from nav_msgs.msg import Odometry
    from rosgraph_msgs.msg import Clock
    from sensor_msgs.msg import JointState
    from tf2_msgs.msg import TFMessage

    states, odometry, truth = (graph.listen(*of) for of in (("joint_states", JointState), ("odom", Odometry), ("truth", Odometry)))
    clock, moving = graph.listen("/clock", Clock), graph.listen("/tf", TFMessage)
    commands = graph.node.create_publisher(TwistStamped, "cmd_vel", 10)
    order = TwistStamped()
    order.twist.linear.x = 0.15
    graph.until(lambda: bool(states and odometry and truth and moving and clock))
    begin = odometry[-1].pose.pose.position.x
    graph.until(lambda: odometry[-1].pose.pose.position.x > begin + 0.2, each=lambda: commands.publish(order))
    driven = odometry[-1]
    assert (driven.header.frame_id, driven.child_frame_id) == ("odom", "base_footprint")
    assert driven.twist.twist.linear.x == pytest.approx(0.15, rel=0.1)
    assert driven.pose.covariance[0] > 0
    assert set(states[-1].name) == {"wheel_left_joint", "wheel_right_joint", "head_pan_joint", "head_tilt_joint"}
    speed = states[-1].velocity[list(states[-1].name).index("wheel_left_joint")]
    assert speed == pytest.approx(0.15 / 0.04, rel=0.1)  # wheels of 80 mm
    heard, at = len(odometry), _time(odometry[-1])
    graph.until(lambda: _time(odometry[-1]) > at + 2.0)
    assert abs(odometry[-1].twist.twist.linear.x) < 0.005
    rolled = [m for m in odometry[heard:] if abs(m.twist.twist.linear.x) > 0.01]
    assert _time(rolled[-1]) < at + 1.2
    # The truth agrees with the wheels; its frame is the map's, where the robot began at 0.5, -0.2.
    place, found = odometry[-1].pose.pose.position, truth[-1].pose.pose.position
    assert truth[-1].header.frame_id == "map"
    assert math.dist((found.x - 0.5, found.y + 0.2), (place.x * math.cos(0.1), place.x * math.sin(0.1))) < 0.02
    held = {t.child_frame_id: t for m in moving for t in m.transforms}
    assert held["base_footprint"].header.frame_id == "odom"
    assert held["base_footprint"].transform.translation.x == pytest.approx(place.x, abs=0.01)
    times = [m.clock.sec + m.clock.nanosec * 1e-9 for m in clock]
    assert all(a < b for a, b in zip(times, times[1:]))
    for topic in ("/joint_states", "/odom", "/clock", "/scan"):
        (info,) = graph.node.get_publishers_info_by_topic(topic)
        assert info.node_name == "chassis_describe_simulator"
        assert (info.qos_profile.reliability.name, info.qos_profile.durability.name) == ("RELIABLE", "VOLATILE")


def test_sensors_publish_in_their_frames(graph: Graph, layout: tuple[str, str]) -> None:
    import numpy as np
    from nav_msgs.msg import Odometry
    from rclpy.qos import qos_profile_sensor_data
    from sensor_msgs.msg import CameraInfo, Image, Imu, LaserScan, PointCloud2, Range
    from std_msgs.msg import Bool

    from chassis_describe.trial.world import read_world
    from tests.trial.cells import by_cells, smooth

    scans = graph.listen("scan", LaserScan, qos_profile_sensor_data)  # best effort, as drivers' subscribers often are
    truth = graph.listen("truth", Odometry)
    others = {topic: graph.listen(topic, kind) for topic, kind in {
        "imu/data_raw": Imu, "wall_left": Range, "depth/points": PointCloud2, "depth/camera_info": CameraInfo, "depth/depth_image": Image,
        "bumper": Bool}.items()}
    graph.until(lambda: bool(scans and truth) and all(others.values()))
    scan = scans[-1]
    assert scan.header.frame_id == "laser_frame"
    assert (scan.angle_max - scan.angle_min) / (len(scan.ranges) - 1) == pytest.approx(scan.angle_increment, rel=1e-6)
    assert len(scan.ranges) == 720
    assert (scan.range_min, scan.range_max, scan.scan_time) == pytest.approx((0.15, 12.0, 0.1))
    # The head is in the way of the zero beam, which looks back; the check says which beams (angles in messages are floats).
    robot = assemble(read(layout[0], overlays=[layout[1]]))
    arcs = self_hits_of(robot)["laser_frame"].arcs
    angles = [scan.angle_min + n * scan.angle_increment for n in range(720)]
    near = [a for a, r in zip(angles, scan.ranges) if r < 0.15]
    assert len(near) > 40
    assert all(any(arc.start - 1e-6 <= a <= arc.end + 1e-6 for arc in arcs) for a in near)
    # Elsewhere it is what rays of our own meet in the map, from where the truth says that the robot stands; noise of 8 mm.
    place, turn = truth[-1].pose.pose.position, truth[-1].pose.pose.orientation
    yaw = 2 * math.atan2(turn.z, turn.w)
    lidar = robot.poses[robot.root].inverse() @ robot.poses["laser_frame"]
    eye = np.array([place.x + lidar.t[0] * math.cos(yaw) - lidar.t[1] * math.sin(yaw),
                    place.y + lidar.t[0] * math.sin(yaw) + lidar.t[1] * math.cos(yaw), lidar.t[2]])
    heading = yaw + math.pi + np.array(angles)  # its zero beam looks back
    true = by_cells(read_world(str(CORRIDOR)), eye, np.column_stack([np.cos(heading), np.sin(heading), np.zeros(720)]))
    free = smooth(true) & (true < 11.9) & ~np.any([(np.array(angles) > a.start) & (np.array(angles) < a.end) for a in arcs], axis=0)
    assert free.sum() > 500
    off = np.array(scan.ranges)[free] - true[free]
    assert abs(off.mean()) < 0.002
    assert off.std() == pytest.approx(0.008, rel=0.15)
    imu = others["imu/data_raw"][-1]
    assert imu.header.frame_id == "imu_frame"
    assert imu.linear_acceleration.z == pytest.approx(9.80665, abs=0.5)
    assert imu.orientation_covariance[0] == -1.0  # REP-145: raw data has no orientation
    ranger = others["wall_left"][-1]
    assert (ranger.header.frame_id, ranger.field_of_view) == ("wall_left_frame", pytest.approx(math.radians(15)))
    assert ranger.min_range <= ranger.range <= ranger.max_range
    cloud, info = others["depth/points"][-1], others["depth/camera_info"][-1]
    assert cloud.header.frame_id == info.header.frame_id == "depth_optical_frame"
    assert len(cloud.data) == cloud.row_step * cloud.height
    assert (info.width, info.height) == (640, 400)
    image = others["depth/depth_image"][-1]  # REP-118
    assert (image.encoding, image.width, image.height, image.step, len(image.data)) == ("32FC1", 640, 400, 2560, 1024000)
    assert info.k[0] == pytest.approx(320 / math.tan(math.radians(35)))
    assert others["bumper"][-1].data is False


def test_driven_joints_follow_trajectories(graph: Graph) -> None:
    from sensor_msgs.msg import JointState
    from trajectory_msgs.msg import JointTrajectory, JointTrajectoryPoint

    states = graph.listen("joint_states", JointState)
    goals = graph.node.create_publisher(JointTrajectory, "head_controller/joint_trajectory", 10)
    goal = JointTrajectory(joint_names=["head_tilt_joint", "head_pan_joint"])
    goal.points = [JointTrajectoryPoint(positions=[-0.2, 0.6])]
    goal.points[0].time_from_start.nanosec = 500_000_000
    graph.until(lambda: goals.get_subscription_count() > 0)
    goals.publish(goal)

    def there() -> bool:
        now = dict(zip(states[-1].name, states[-1].position)) if states else {}
        return bool(now) and abs(now["head_pan_joint"] - 0.6) < 0.03 and abs(now["head_tilt_joint"] + 0.2) < 0.03
    graph.until(there)


def test_the_robot_is_described_unless_somebody_else_does(graph: Graph) -> None:
    """Latched, as robot_state_publisher has it; one that comes later takes over."""
    from rclpy.qos import DurabilityPolicy, QoSProfile
    from std_msgs.msg import String
    from tf2_msgs.msg import TFMessage

    latched = QoSProfile(depth=1, durability=DurabilityPolicy.TRANSIENT_LOCAL)
    described = graph.listen("robot_description", String, latched)
    fixed, moving = graph.listen("/tf_static", TFMessage, latched), graph.listen("/tf", TFMessage)
    graph.until(lambda: bool(described and fixed and moving))
    assert described[0].data.startswith("<?xml")
    assert {t.child_frame_id for t in fixed[0].transforms} >= {"base_link", "laser_frame", "depth_optical_frame"}
    graph.until(lambda: "head_pan_joint" in str(described[0].data) and any(
        t.child_frame_id == "wheel_left_link" for m in moving for t in m.transforms))
    other = graph.node.create_publisher(String, "robot_description", latched)

    def publishers() -> set[str]:
        return {p.node_name for p in graph.node.get_publishers_info_by_topic("robot_description")}
    graph.until(lambda: publishers() == {"listener_of_the_test"})
    assert not graph.node.get_publishers_info_by_topic("/tf_static")
    graph.node.destroy_publisher(other)
    graph.until(lambda: publishers() == {"chassis_describe_simulator"})


def test_the_manuals_run_drives_along_the_corridor(graph: Graph, ros_environment: dict[str, str]) -> None:
    """The second command of the manual, word for word, beside the simulator that the first one starts."""
    text = (TOP / "chassis_describe/manual/simulate.md").read_text(encoding="utf-8")
    script = re.search(r"^python3 - <<'END'\n(.*?)^END$", text, re.DOTALL | re.MULTILINE)
    assert script is not None
    done = subprocess.run([sys.executable, "-c", script[1]], env=ros_environment, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    seen = [float(line.split()[0]) for line in done.stdout.splitlines()]
    assert len(seen) >= 5
    assert seen[-1] < seen[0] - 0.2


def test_it_ends_cleanly(graph: Graph, simulator: subprocess.Popen[str]) -> None:
    """The last that takes it: SIGTERM, exit code 0, no complaint of a thread or a publisher left behind."""
    from rosgraph_msgs.msg import Clock

    clock = graph.listen("/clock", Clock)
    graph.until(lambda: bool(clock))
    simulator.send_signal(signal.SIGTERM)
    _, said = simulator.communicate(timeout=60)
    assert simulator.returncode == 0, said
    assert "Traceback" not in said
    assert "joint_states: JointState, 100 Hz" in said


@pytest.fixture
def ros_here(ros_environment: dict[str, str], monkeypatch: pytest.MonkeyPatch) -> None:
    """Nodes of ours in this process."""
    from tests.ros.graph import load_here

    for name in ("ROS_DOMAIN_ID", "ROS_AUTOMATIC_DISCOVERY_RANGE", "ROS_LOCALHOST_ONLY"):
        monkeypatch.setenv(name, ros_environment[name])
    load_here()


def test_no_thread_is_left(ros_here: None) -> None:
    """After a run no thread is there that was not there before, and signals are whose they were."""
    from chassis_describe.trial import node
    from chassis_describe.trial.world import few_walls

    handler, threads = signal.getsignal(signal.SIGTERM), set(threading.enumerate())

    def stop() -> None:
        while signal.getsignal(signal.SIGTERM) is handler:  # not before it listens: the test itself would end
            time.sleep(0.05)
        time.sleep(0.3)
        os.kill(os.getpid(), signal.SIGTERM)
    stopper = threading.Thread(target=stop, daemon=True)
    stopper.start()
    node.run(assemble(read(TOP / "config/seedling_cart.yaml")), few_walls(), node.SimulatorSettings(speed=2.0))
    stopper.join()
    assert set(threading.enumerate()) == threads
    assert signal.getsignal(signal.SIGTERM) is handler


@pytest.fixture
def simulated(ros_node: Any) -> Callable[..., Any]:
    """A simulator in this process, on the test's own node; it does not run by itself."""
    from chassis_describe.trial.node import Simulator, SimulatorSettings
    from chassis_describe.trial.world import few_walls

    return lambda robot: Simulator(ros_node, None, robot, few_walls(), SimulatorSettings())


def published(node: Any) -> set[str]:
    """Topics that a node of this process publishes; others may do the same in the same domain."""
    return {topic for topic, _ in node.get_publisher_names_and_types_by_node(node.get_name(), "/")}


def test_distro_and_filter_choose_what_it_takes_and_gives(simulated: Any, ros_node: Any, tmp_path: Path) -> None:
    """Humble's stack sends Twist (tests/targets/test_distros.py has the source); with a filter the transform is the filter's."""
    (tmp_path / "more.yaml").write_text("ros: {distro: humble, odometry: ekf}\nplacements: {fix: {part: gnss_antenna, on: upper, at: [-3, 0]}}\n")
    robot = assemble(read(TOP / "config/draught_scout.yaml", overlays=[tmp_path / "more.yaml"]), prefix="one_")
    simulator = simulated(robot)
    kinds = dict(ros_node.get_subscriber_names_and_types_by_node(ros_node.get_name(), "/"))
    assert kinds["/cmd_vel"] == ["geometry_msgs/msg/Twist"]
    sent: list[Any] = []
    simulator._tf.publish = sent.append
    simulator.turn()
    assert not sent
    assert "/fix" not in published(ros_node)
    stream = next(d.stream for d in simulator._due if d.stream.topic == "odom")
    assert (stream.make(0).header.frame_id, stream.make(0).child_frame_id) == ("one_odom", "one_base_footprint")


def test_frames_that_drivers_publish_are_the_simulators(simulated: Any, ros_node: Any, tmp_path: Path) -> None:
    """With `driver_tf` the description ends at the sensor's frame; what the driver adds below it is there all the same."""
    from rclpy.qos import DurabilityPolicy, QoSProfile
    from tf2_msgs.msg import TFMessage

    (tmp_path / "more.yaml").write_text("""\
parts:
  cam:
    mass: 20
    bodies: [{box: [20, 20, 20], at: [0, 0, 10]}]
    bolts: [[0, 0]]
    sensors: {image: {kind: camera, at: [11, 0, 10], fov: 60, resolution: [64, 48], rate: 5, topic: eye/image, driver_tf: true}}
placements: {eye: {part: cam, on: upper, at: [3, 0]}}
""")
    robot = assemble(read(TOP / "config/draught_scout.yaml", overlays=[tmp_path / "more.yaml"]))
    graph = Graph(ros_node)
    fixed = graph.listen("/tf_static", TFMessage, QoSProfile(depth=5, durability=DurabilityPolicy.TRANSIENT_LOCAL))
    simulator = simulated(robot)
    assert "eye_optical_frame" not in robot.poses
    graph.until(lambda: any(t.child_frame_id == "eye_optical_frame" for m in fixed for t in m.transforms))
    found = next(t for m in fixed for t in m.transforms if t.child_frame_id == "eye_optical_frame")
    assert found.header.frame_id == "eye_frame"
    turn = found.transform.rotation
    assert (turn.x, turn.y, turn.z, turn.w) == pytest.approx((-0.5, 0.5, -0.5, 0.5))  # REP-103's optical rotation
    info = next(d.stream for d in simulator._due if d.stream.topic == "eye/camera_info").make(0)
    assert (info.header.frame_id, info.k[2], info.k[5]) == ("eye_optical_frame", 31.5, 23.5)


def test_a_picture_is_written_row_by_row_from_the_top(ros_here: None) -> None:
    """sensor_msgs/Image: step is a row's length in bytes."""
    import numpy as np

    from chassis_describe.trial.messages import picture

    message = picture(5, "eye", np.arange(24, dtype=np.uint8).reshape(2, 4, 3))
    assert (message.height, message.width, message.step, message.encoding) == (2, 4, 12, "rgb8")
    assert list(message.data) == list(range(24))


def test_without_tf2_msgs_it_runs_and_says_so(ros_node: Any, simulated: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    from chassis_describe.trial import node

    said: list[str] = []
    monkeypatch.setattr(node, "transform_message", lambda: None)
    log = SimpleNamespace(info=said.append, warning=said.append)
    monkeypatch.setattr(ros_node, "get_logger", lambda: log)
    simulator = simulated(assemble(read(TOP / "config/seedling_cart.yaml")))
    simulator.turn()
    assert sum("tf2_msgs" in line and "no transforms are published" in line for line in said) == 1
    assert "/tf" not in published(ros_node)


@pytest.mark.parametrize(("missing", "said"), [("rclpy", "pip install 'chassis_describe[sim,ros]'"),
                                               ("mujoco", "pip install 'chassis_describe[sim]'")])
def test_what_is_missing_is_named_with_what_to_install(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
                                                       missing: str, said: str) -> None:
    monkeypatch.delitem(sys.modules, "chassis_describe.trial.node", raising=False)
    monkeypatch.setitem(sys.modules, missing, None)
    assert main(["simulate", str(TOP / "config/seedling_cart.yaml"), "--ros"]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert missing in line
    assert said in line


@pytest.mark.parametrize(("more", "said"), [(["--start", "0,1,0"], "stands in a wall"), (["--ros-args", "-r", "::"], "--ros-args")])
def test_what_can_not_begin_ends_in_a_sentence(ros_here: None, capfd: pytest.CaptureFixture[str], more: list[str], said: str) -> None:
    assert main(["simulate", str(TOP / "config/seedling_cart.yaml"), "--ros", "--world", str(CORRIDOR), *more]) == 2
    assert said in capfd.readouterr().err.splitlines()[-1]


def _time(message: Any) -> float:
    return float(message.header.stamp.sec + message.header.stamp.nanosec * 1e-9)
