"""Joints that move, in the written URDF: where everything is at random joint values, what it weighs there, limits, mimic.

The reference is a product of exponentials of its own (Lynch and Park, Modern Robotics, 4.1): each adjustment is a screw in
the axes of its part, T = exp([S1] θ1) ... exp([Sn] θn) M, with the exponential in closed form (ibid., 3.51, 3.88). Readers: pinocchio, yourdfpy,
MuJoCo, libsdformat. The robots are invented.
"""
from __future__ import annotations

import io
import math
import random
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from lxml import etree

import chassis_describe as cd

LAYOUT = Path(__file__).resolve().parents[1] / "targets" / "layouts" / "nodder.yaml"
Matrix = Any


# ------------------------------------------------------------------------------------------------------------- reference
def turned(rpy: list[float]) -> Matrix:
    """Rz(yaw)·Ry(pitch)·Rx(roll) by matrix exponentials; degrees."""
    out = np.eye(4)
    for axis, angle in ((2, rpy[2]), (1, rpy[1]), (0, rpy[0])):
        w = np.zeros(3)
        w[axis] = 1
        out = out @ screw(w, np.zeros(3), math.radians(angle), "turn")
    return out


def screw(axis: Matrix, point: Matrix, value: float, kind: str) -> Matrix:
    """exp([S] θ) of a turn about a line, or a slide along a direction."""
    out = np.eye(4)
    if kind == "slide":
        out[:3, 3] = np.asarray(axis) * value
        return out
    x, y, z = axis
    w = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    s, c = math.sin(value), math.cos(value)
    out[:3, :3] += s * w + (1 - c) * w @ w
    out[:3, 3] = (value * np.eye(3) + (1 - c) * w + (value - s) * w @ w) @ -np.cross(axis, point)
    return out


def at(xyz: list[float], rpy: list[float] | None = None) -> Matrix:
    """A pose from mm and degrees."""
    out = turned(rpy or [0, 0, 0])
    out[:3, 3] = np.array(xyz) * 1e-3
    return out


@dataclass
class Axis:
    """One adjustment as the test wrote it: mm and degrees."""

    name: str
    kind: str
    motion: str
    axis: list[float]
    pivot: list[float] | None
    range: tuple[float, float] | None
    value: float
    follows: tuple[str, float, float] | None = None

    @property
    def unit(self) -> float:
        return math.pi / 180 if self.kind == "turn" else 1e-3


@dataclass
class Holder:
    """A part with one seat, what moves it, bodies and sensors on each step of the chain, and where it is."""

    name: str
    seat: tuple[list[float], list[float]]
    axes: list[Axis]
    on: str
    place: Matrix  # in the support's plane
    bodies: list[tuple[int, list[float], list[float], float]] = field(default_factory=list)  # steps, box, at, grams

    def moved(self, steps: int, values: dict[str, float]) -> Matrix:
        """How what moves with the first so many adjustments has moved, in part axes."""
        zero = at(*self.seat)
        out = np.eye(4)
        for a in self.axes[:steps]:
            line = zero[:3, :3] @ (np.array(a.axis) / np.linalg.norm(a.axis))
            point = zero[:3, 3] if a.pivot is None else np.array(a.pivot) * 1e-3
            out = out @ screw(line, point, values[f"{self.name}_{a.name}"], a.kind)
        return out


@dataclass
class Tower:
    """Holders on one another, as a layout and as matrices."""

    holders: dict[str, Holder]
    text: str

    def axes(self) -> Iterator[tuple[str, Axis]]:
        for holder in self.holders.values():
            for a in holder.axes:
                yield f"{holder.name}_{a.name}", a

    def values(self, moved: dict[str, float]) -> dict[str, float]:
        """Every adjustment's value (SI): those moved, followers, those set by hand."""
        out = {name: moved.get(name, a.value * a.unit) for name, a in self.axes() if a.follows is None}
        for name, a in self.axes():
            if a.follows is not None:
                leader, times, plus = a.follows
                lead = f"{name.partition('_')[0]}_{leader}"
                unit = next(b.unit for n, b in self.axes() if n == lead)
                out[name] = (times * out[lead] / unit + plus) * a.unit
        return out

    def part(self, name: str, values: dict[str, float]) -> Matrix:
        """Part axes of a holder in base_link."""
        holder = self.holders[name]
        if holder.on == "lower":
            return holder.place
        below = self.holders[holder.on]
        seat = below.moved(len(below.axes), values) @ at(*below.seat)
        return self.part(below.name, values) @ seat @ holder.place


def tower(seed: int) -> Tower:
    """Three holders, each on the seat of the one before, with up to four adjustments of every sort."""
    rng = random.Random(seed)

    def near(size: float) -> float:
        return round(rng.uniform(-size, size), 3)

    holders: dict[str, Holder] = {}
    parts, placements = [], []
    for number in range(3):
        name = f"p{number}"
        axes: list[Axis] = []
        for k in range(rng.randint(1, 4)):
            kind, motion = rng.choice(["turn", "slide"]), rng.choice(["driven", "free", "by_hand"])
            leaders = [a for a in axes if a.follows is None and a.range is not None]
            axis = [near(1), near(1), near(1)] if rng.random() < 0.6 else rng.choice([[0, 0, 1], [1, 0, 0], [0, -1, 0]])
            if max(map(abs, axis)) < 0.2:
                axis = [0, 1, 0]
            pivot = [near(60), near(60), near(60)] if rng.random() < 0.6 else None
            if leaders and rng.random() < 0.3:
                leader = rng.choice(leaders)
                times = rng.choice([-2.0, 0.5, 1.0, -1.0])
                axes.append(Axis(f"a{k}", kind, leader.motion, axis, pivot, None, 0.0, (leader.name, times, near(5))))
                continue
            span = None if kind == "turn" and rng.random() < 0.2 else (-round(rng.uniform(5, 80), 2), round(rng.uniform(5, 80), 2))
            value = round(rng.uniform(*(span or (-180, 180))), 2)
            axes.append(Axis(f"a{k}", kind, motion, axis, pivot, span, value))
        seat = ([near(40), near(40), near(80)], [near(180), near(80), near(180)])
        turn, shift = near(180), [near(20), near(20), near(20)]
        if number == 0:
            i, j = rng.randint(-2, 2), rng.randint(-2, 2)
            place = at([20 * i, 20 * j, 0]) @ at(shift, [0, 0, turn])
            where = f"on: lower, at: [{i}, {j}], turn: {turn}, offset: {shift}"
        else:
            place = at(shift, [0, 0, turn])
            where = f"on: p{number - 1}, turn: {turn}, offset: {shift}"
        holder = holders[name] = Holder(name, seat, axes, "lower" if number == 0 else f"p{number - 1}", place)
        for steps in range(len(axes) + 1):
            for _ in range(rng.randint(1, 2)):
                holder.bodies.append((steps, [rng.randint(5, 40) for _ in "xyz"], [near(50), near(50), near(50)],
                                      rng.randint(5, 90)))
        parts.append(_part(holder))
        made = ", ".join(f"{a.name}: {a.value}" for a in axes if a.follows is None)
        placements.append(f"  {name}: {{part: {name}, {where}" + (f", set: {{{made}}}" if made else "") + "}")
    text = "\n".join(["layout: 1", "robot: tower", "parts:", *parts, "decks:",
                      "  lower: {outline: {rectangle: [200, 160]}, thickness: 4, material: acrylic}", "placements:", *placements])
    return Tower(holders, text)


def _with(holder: Holder, steps: int) -> str:
    return "" if not steps else f", with: top.{holder.axes[steps - 1].name}"


def _part(holder: Holder) -> str:
    lines = [f"  {holder.name}:", f"    mass: {sum(b[3] for b in holder.bodies)}", "    bodies:"]
    lines += [f"      - {{box: {box}, at: {xyz}, mass: {grams}{_with(holder, steps)}}}"
              for steps, box, xyz, grams in holder.bodies]
    lines += ["    seats:", "      top:", f"        at: {holder.seat[0]}", f"        rpy: {holder.seat[1]}",
              "        bolts: [[0, 0]]", "        hole: 3", "        adjust:"]
    for a in holder.axes:
        item = f"name: {a.name}, kind: {a.kind}, axis: {a.axis}"
        if a.pivot is not None:
            item += f", pivot: {a.pivot}"
        if a.follows is not None:
            item += f", follows: {{of: {a.follows[0]}, times: {a.follows[1]}, plus: {a.follows[2]}}}"
        else:
            item += f", motion: {a.motion}, range: {list(a.range) if a.range else 'endless'}, rest: {a.value}"
        if a.motion == "driven" and a.follows is None:
            item += ", motor: {torque: 1, speed: 60}" if a.kind == "turn" else ", motor: {force: 10, speed: 50}"
        lines.append(f"          - {{{item}}}")
    lines += ["    sensors:"]
    lines += [f"      s{steps}: {{kind: imu, at: [3, {2 * steps}, 5], rpy: [10, 20, 30]{_with(holder, steps)}}}"
              for steps in range(len(holder.axes) + 1)]
    return "\n".join(lines)


def moves(a: Axis, t: Tower, name: str) -> bool:
    if a.follows is None:
        return a.motion != "by_hand"
    lead = f"{name.partition('_')[0]}_{a.follows[0]}"
    return next(b.motion for n, b in t.axes() if n == lead) != "by_hand"


def drawn(t: Tower, rng: random.Random) -> dict[str, float]:
    """Random values of the joints that nobody else decides, within limits (SI)."""
    return {name: rng.uniform(*(v * a.unit for v in (a.range or (-180, 180))))
            for name, a in t.axes() if a.follows is None and a.motion != "by_hand"}


def expected(t: Tower, values: dict[str, float]) -> dict[str, Matrix]:
    """Every sensor's frame in base_link."""
    out = {}
    for name, holder in t.holders.items():
        for steps in range(len(holder.axes) + 1):
            out[f"{name}_s{steps}_frame"] = (t.part(name, values) @ holder.moved(steps, values)
                                             @ at([3, 2 * steps, 5], [10, 20, 30]))
    return out


# ------------------------------------------------------------------------------------------------------------ kinematics
SEEDS = range(25)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_assembly_stands_at_the_values_in_force(seed: int) -> None:
    t = tower(seed)
    robot = cd.assemble(cd.read("tower.yaml", text=t.text))
    for name, wanted in expected(t, t.values({})).items():
        pose = robot.poses[name]
        np.testing.assert_allclose(np.array(pose.r).reshape(3, 3), wanted[:3, :3], atol=1e-9, err_msg=name)
        np.testing.assert_allclose(pose.t, wanted[:3, 3], atol=1e-9, err_msg=name)


@pytest.mark.parametrize("seed", SEEDS)
def test_forward_kinematics_by_pinocchio(seed: int, judge: Callable[[str], Any]) -> None:
    pin = judge("pinocchio")
    t, rng = tower(seed), random.Random(seed)
    robot = cd.assemble(cd.read("tower.yaml", text=t.text))
    model = pin.buildModelFromXML(cd.urdf(robot), mimic=True)
    data = model.createData()
    for _ in range(4):
        moved = drawn(t, rng)
        values = t.values(moved)
        q = pin.neutral(model)
        for name, value in moved.items():
            joint = model.joints[model.getJointId(f"{name}_joint")]
            q[joint.idx_q:joint.idx_q + joint.nq] = [value] if joint.nq == 1 else [math.cos(value), math.sin(value)]
        pin.framesForwardKinematics(model, data, q)
        for name, wanted in expected(t, values).items():
            got = data.oMf[model.getFrameId(name)].homogeneous
            np.testing.assert_allclose(got, wanted, atol=1e-9, err_msg=name)


@pytest.mark.parametrize("seed", SEEDS[:6])
def test_forward_kinematics_by_yourdfpy(seed: int, judge: Callable[[str], Any]) -> None:
    yourdfpy = judge("yourdfpy")
    t, rng = tower(seed), random.Random(seed)
    robot = cd.assemble(cd.read("tower.yaml", text=t.text))
    model = yourdfpy.URDF.load(io.StringIO(cd.urdf(robot)), load_meshes=False, build_scene_graph=True)
    moved = drawn(t, rng)
    model.update_cfg({f"{name}_joint": value for name, value in moved.items()})
    for name, wanted in expected(t, t.values(moved)).items():
        np.testing.assert_allclose(model.get_transform(name, robot.base), wanted, atol=1e-9, err_msg=name)


# ------------------------------------------------------------------------------------------------------------ mass
@pytest.mark.parametrize("seed", SEEDS)
def test_mass_and_inertia_at_any_joint_value_by_pinocchio(seed: int, judge: Callable[[str], Any]) -> None:
    """Against the boxes as written: each where the screws put it, mass sums and parallel axes done here."""
    pin = judge("pinocchio")
    t, rng = tower(seed), random.Random(seed + 1)
    robot = cd.assemble(cd.read("tower.yaml", text=t.text))
    plate = robot.link_of["lower_link"].inertial
    assert plate is not None
    model = pin.buildModelFromXML(cd.urdf(robot), mimic=True)
    data = model.createData()
    for moved in ({}, drawn(t, rng)):
        values = t.values(moved)
        q = pin.neutral(model)
        for name, a in t.axes():
            if a.follows is None and a.motion != "by_hand":
                joint = model.joints[model.getJointId(f"{name}_joint")]
                v = values[name]
                q[joint.idx_q:joint.idx_q + joint.nq] = [v] if joint.nq == 1 else [math.cos(v), math.sin(v)]
        pin.forwardKinematics(model, data, q)
        total = sum((data.oMi[k].act(model.inertias[k]) for k in range(1, model.njoints)), model.inertias[0])
        items = [(plate.mass, np.array(plate.com), tensor(plate.inertia))]
        for name, holder in t.holders.items():
            for steps, box, xyz, grams in holder.bodies:
                pose = t.part(name, values) @ holder.moved(steps, values) @ at(xyz)
                x, y, z = (v * 1e-3 for v in box)
                own = grams * 1e-3 / 12 * np.diag([y * y + z * z, x * x + z * z, x * x + y * y])
                items.append((grams * 1e-3, pose[:3, 3], pose[:3, :3] @ own @ pose[:3, :3].T))
        mass = sum(m for m, _, _ in items)
        com = sum(m * c for m, c, _ in items) / mass
        inertia = sum(i + m * ((c - com) @ (c - com) * np.eye(3) - np.outer(c - com, c - com)) for m, c, i in items)
        assert total.mass == pytest.approx(mass, rel=1e-9)
        np.testing.assert_allclose(total.lever, com, atol=1e-9)
        np.testing.assert_allclose(total.inertia, inertia, atol=1e-9, rtol=1e-8)
        if not moved:  # the values in force: the summary's own sum
            assert robot.inertial.mass == pytest.approx(mass, rel=1e-12)
            np.testing.assert_allclose(robot.inertial.com, com, atol=1e-12)
            np.testing.assert_allclose(tensor(robot.inertial.inertia), inertia, atol=1e-12)


def tensor(six: tuple[float, ...]) -> Matrix:
    xx, yy, zz, xy, xz, yz = six
    return np.array([[xx, xy, xz], [xy, yy, yz], [xz, yz, zz]])


# ------------------------------------------------------------------------------------------------------- limits and mimic
@pytest.fixture(scope="module")
def nodder() -> Any:
    return cd.assemble(cd.read(LAYOUT))


#: By hand from nodder.yaml: joint → lower, upper (degrees or mm), effort, velocity. 8 kgf·cm = 8·9.80665 N / 100 m;
#: 0.12 s for 60 degrees = 500 degrees a second.
LIMITS = {
    "neck_pan_joint": (-120, 120, 0.784532, math.radians(500)),
    "neck_tilt_joint": (-30, 45, 0.8, 83 * math.pi / 30),
    "grip_left_joint": (0, 20, 40, 0.02),
    "grip_right_joint": (0, 20, 40, 0.02),
    "mast_up_joint": (0, 120, 90, 0.025),
    # -2.5 degrees for each mm and 20 more; the lift's force through that transmission: 90 N · 1 mm / 2.5 degrees
    "mast_dial_joint": (20 - 300, 20, 90 * 1e-3 / math.radians(2.5), 25 * math.radians(2.5)),
    "flap_open_joint": (0, 110, 1000, 100),
}
SLIDES = {"grip_left_joint", "grip_right_joint", "mast_up_joint"}
#: Follower → leader, times and plus in SI.
MIMICS = {"grip_right_joint": ("grip_left_joint", 1.0, 0.0),
          "mast_dial_joint": ("mast_up_joint", -math.radians(2.5) / 1e-3, math.radians(20))}


def si(joint: str, value: float) -> float:
    return value * 1e-3 if joint in SLIDES else math.radians(value)


def test_limits_by_pinocchio(nodder: Any, judge: Callable[[str], Any]) -> None:
    model = judge("pinocchio").buildModelFromXML(cd.urdf(nodder))
    assert model.njoints - 1 == len(LIMITS) + 1
    for name, (low, high, effort, velocity) in LIMITS.items():
        joint = model.joints[model.getJointId(name)]
        got = (model.lowerPositionLimit[joint.idx_q], model.upperPositionLimit[joint.idx_q],
               model.upperEffortLimit[joint.idx_v], model.upperVelocityLimit[joint.idx_v])
        assert got == pytest.approx((si(name, low), si(name, high), effort, velocity), rel=1e-10, abs=1e-12), name
    spin = model.joints[model.getJointId("turntable_spin_joint")]
    assert (spin.nq, spin.nv) == (2, 1), "turns without end"


def test_mimic_by_yourdfpy_and_urdfdom(nodder: Any, judge: Callable[[str], Any], tool: Callable[[str], list[str]],
                                       tmp_path: Path) -> None:
    model = judge("yourdfpy").URDF.load(io.StringIO(cd.urdf(nodder)), load_meshes=False)
    found = {name: (j.mimic.joint, j.mimic.multiplier, j.mimic.offset) for name, j in model.joint_map.items() if j.mimic}
    assert found.keys() == MIMICS.keys()
    for name, (leader, times, plus) in MIMICS.items():
        assert found[name][0] == leader
        assert found[name][1:] == pytest.approx((times, plus), rel=1e-10)
    path = tmp_path / "nodder.urdf"
    path.write_text(cd.urdf(nodder))
    for program in tool("check_urdf"):
        done = subprocess.run([program, str(path)], capture_output=True, text=True, timeout=120)
        assert (done.returncode, done.stderr) == (0, "")


def test_limits_by_mujoco(nodder: Any, judge: Callable[[str], Any], capfd: pytest.CaptureFixture[str]) -> None:
    mujoco = judge("mujoco")
    text = cd.urdf(nodder).replace("</robot>", '<mujoco><compiler fusestatic="false" balanceinertia="false"/></mujoco></robot>')
    model = mujoco.MjSpec.from_string(text).compile()
    printed = capfd.readouterr()
    assert printed.out + printed.err == ""
    for name, (low, high, effort, _) in LIMITS.items():
        joint = model.joint(name)
        assert joint.limited[0]
        assert joint.range == pytest.approx([si(name, low), si(name, high)], rel=1e-10, abs=1e-12)
        assert joint.type[0] == (mujoco.mjtJoint.mjJNT_SLIDE if name in SLIDES else mujoco.mjtJoint.mjJNT_HINGE)
        assert list(model.jnt_actfrcrange[joint.id]) == pytest.approx([-effort, effort], rel=1e-10)
    assert not model.joint("turntable_spin_joint").limited[0]


def test_limits_by_libsdformat(nodder: Any, tool: Callable[[str], list[str]], tmp_path: Path) -> None:
    """Release 12 drops mimic (sdformat, sdf12:src/parser_urdf.cc); limits have six digits."""
    path = tmp_path / "nodder.urdf"
    path.write_text(cd.urdf(nodder))
    done = subprocess.run([tool("ign")[0], "sdf", "-p", str(path)], capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    assert [line for line in done.stderr.splitlines() if "libignition-tools-backward.so" not in line] == []
    joints = {j.get("name"): j for j in etree.fromstring(done.stdout.encode()).iter("joint")}
    for name, (low, high, effort, velocity) in LIMITS.items():
        limit = joints[name].find("axis/limit")
        got = [float(limit.findtext(k)) for k in ("lower", "upper", "effort", "velocity")]
        assert got == pytest.approx([si(name, low), si(name, high), effort, velocity], rel=2e-5, abs=1e-6), name
        assert joints[name].get("type") == ("prismatic" if name in SLIDES else "revolute")


def test_values_in_force_are_told_beside_the_joints(nodder: Any) -> None:
    """By hand: as `set`, else `rest`; the dial follows the lift at 80 mm: 20 - 2.5 · 80 degrees."""
    from chassis_describe.reports.frames import as_data

    told = {row["joint"]: row["value"] for row in as_data(nodder)["frames"]}
    wanted = {"turntable_spin_joint": 200, "neck_pan_joint": 10, "neck_tilt_joint": 20, "grip_left_joint": 0,
              "grip_right_joint": 0, "mast_up_joint": 80, "mast_dial_joint": -180, "flap_open_joint": 20}
    assert {k: v for k, v in told.items() if v is not None} == pytest.approx({k: si(k, v) for k, v in wanted.items()})
    assert told["neck_joint"] is None
