"""How long things take, as ratios within one run: ``python tests/bench/benchmark.py [--rounds 5] [--sizes 12,100,1000,10000]``.

Not a test: a loaded machine would fail it. The reach is printed beside each figure.

The package and ``xacro`` are installed into an environment of their own, and their console scripts are timed.

- Start-up: the bare interpreter, the libraries that reading and writing need, ``xacro``, ``--help`` and ``urdf``, in one run.
- ``urdf`` as a whole process against ``xacro`` expanding a file with the same parts (one macro, called once a part).
- How ``urdf`` grows with the number of parts, and its peak of memory.
- ``check`` against ``urdf``, on the demo and on many placements.
- Layouts that cost minutes where work grows with pairs.
- ``move`` and ``compare`` against ``check``, on the demo.
- ``draw`` of the sheet and of the page against ``check``, on the demo and on 60 parts over three decks.
- How soon a save is on the page of ``view``, and how soon the check of it, against reading, putting together and checking.
- ``places`` of a lidar over 400 holes, four turns, both faces, against a check of each place.
- From a save to a listener of the live node, over a bare publisher (`live.py` beside this file; needs ROS 2's packages).
- How the reader's time grows with the file, with its faults and with chains of names in it.
- How much faster than real time the simulated demo runs among ROS nodes, lidar and imu listened to (needs mujoco and rclpy).
- Mass, collision cover and mesh of plates with many holes or corners.
"""
from __future__ import annotations

import argparse
import contextlib
import json
import math
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

TOP = Path(__file__).resolve().parents[2]

LAYOUT = """\
layout: 1
robot: many
lattice: {{pitch: 20, hole: 3.5, screw: M3}}
decks:
  floor: {{outline: {{rectangle: [{side}, {side}]}}, thickness: 4, material: birch plywood}}
parts:
  block:
    mass: 10
    bodies: [{{box: [12, 10, 8], at: [0, 0, 4]}}]
    bolts: [[0, 0]]
placements:
"""
XACRO = """\
<?xml version="1.0"?>
<robot name="many" xmlns:xacro="http://www.ros.org/wiki/xacro">
  <xacro:property name="pitch" value="0.02"/>
  <xacro:macro name="block" params="name i j turn">
    <link name="${name}_link">
      <inertial>
        <origin xyz="0 0 0.004"/>
        <mass value="0.01"/>
        <inertia ixx="${0.01/12*(0.010**2 + 0.008**2)}" iyy="${0.01/12*(0.012**2 + 0.008**2)}"
                 izz="${0.01/12*(0.012**2 + 0.010**2)}" ixy="0" ixz="0" iyz="0"/>
      </inertial>
      <visual><origin xyz="0 0 0.004"/><geometry><box size="0.012 0.010 0.008"/></geometry></visual>
      <collision><origin xyz="0 0 0.004"/><geometry><box size="0.012 0.010 0.008"/></geometry></collision>
    </link>
    <joint name="${name}_joint" type="fixed">
      <parent link="floor_link"/><child link="${name}_link"/>
      <origin xyz="${i*pitch} ${j*pitch} 0" rpy="0 0 ${radians(turn)}"/>
    </joint>
  </xacro:macro>
  <link name="floor_link"/>
"""


class Run(NamedTuple):
    """``seconds`` by the wall clock, ``cpu`` as the system counts it: the steadier of the two on a busy machine."""

    seconds: float
    cpu: float
    peak_mib: float


def holes(count: int) -> list[tuple[int, int]]:
    """The lattice points of a square of at least ``count``, from its middle."""
    half = math.ceil(math.sqrt(count)) // 2 + 1
    points = [(i, j) for i in range(-half, half + 1) for j in range(-half, half + 1)]
    return sorted(points, key=lambda p: (max(map(abs, p)), p))[:count]


def write_pair(folder: Path, count: int) -> tuple[Path, Path]:
    points = holes(count)
    side = 20 * (2 * max(max(map(abs, p)) for p in points) + 2)
    layout = [LAYOUT.format(side=side)]
    xacro = [XACRO]
    for n, (i, j) in enumerate(points):
        turn = 90 * (n % 4)
        layout.append(f"  block_{n}: {{part: block, on: floor, at: [{i}, {j}], turn: {turn}}}\n")
        xacro.append(f'  <xacro:block name="block_{n}" i="{i}" j="{j}" turn="{turn}"/>\n')
    xacro.append("</robot>\n")
    (folder / f"{count}.yaml").write_text("".join(layout))
    (folder / f"{count}.xacro").write_text("".join(xacro))
    return folder / f"{count}.yaml", folder / f"{count}.xacro"


def timed(command: list[str]) -> Run:
    """One whole process, its output read and thrown away; peak as the system counts it."""
    environment = {name: value for name, value in os.environ.items() if name not in ("PYTHONPATH", "PYTHONDONTWRITEBYTECODE")}
    begin = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, env=environment, cwd="/")
    assert process.stderr is not None
    said = process.stderr.read()
    _, status, usage = os.wait4(process.pid, 0)
    seconds = time.perf_counter() - begin
    process.returncode = os.waitstatus_to_exitcode(status)
    refused = process.returncode == 2 and b": error: " in said
    if process.returncode not in (0, 1) and not refused:  # check: 1 for findings
        raise SystemExit(f"{command}: exit {process.returncode}\n{said.decode()}")
    return Run(seconds, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024)


def medians(commands: dict[str, list[str]], rounds: int, once: str = "") -> dict[str, Run]:
    """Median of each, in alternation so that a slow moment of the machine meets all; ``once``: one that takes minutes."""
    runs: dict[str, list[Run]] = {name: [] for name in commands}
    for number in range(rounds):
        for name, command in commands.items():
            if number == 0 or name != once:
                runs[name].append(timed(command))
    return {name: Run(statistics.median(r.seconds for r in taken), statistics.median(r.cpu for r in taken),
                      max(r.peak_mib for r in taken)) for name, taken in runs.items()}


def ratio(one: Run, other: Run) -> str:
    """By wall clock, by processor time in brackets, and the wall times."""
    return (f"{one.seconds / other.seconds:.2f} x (cpu {one.cpu / other.cpu:.2f} x; "
            f"{one.seconds * 1e3:.0f} / {other.seconds * 1e3:.0f} ms)")


def in_process(work: Callable[[], object], rounds: int) -> float:
    taken = []
    for _ in range(rounds):
        begin = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begin)
    return statistics.median(taken)


def row(what: str, measured: str, reach: str = "") -> None:
    print(f"{what:<46} {measured:>44}   {reach}", flush=True)


#: Where the installed scripts are; set by :func:`install`.
SCRIPTS = Path()


def install(folder: Path) -> None:
    """An environment with this package and xacro in it, as users have them: scripts, bytecode and all."""
    global SCRIPTS  # noqa: PLW0603 - one environment a run
    subprocess.run([sys.executable, "-m", "venv", str(folder)], check=True)
    source = folder / "source"  # a copy, so that the build leaves nothing in the checkout
    subprocess.run(["git", "checkout-index", "-a", f"--prefix={source}/"], cwd=TOP, check=True)
    SCRIPTS = folder / "bin"
    subprocess.run([str(SCRIPTS / "pip"), "install", "-q", "--disable-pip-version-check", str(source), "xacro"], check=True)


def ours(*arguments: str) -> list[str]:
    return [str(SCRIPTS / "chassis_describe"), *arguments]


def expand(path: Path) -> list[str]:
    return [str(SCRIPTS / "xacro"), str(path)]


def start_up(folder: Path, rounds: int) -> None:
    """Where the time of a small robot goes, all against the bare interpreter."""
    layout, model = write_pair(folder, 12)
    python = str(SCRIPTS / "python")
    taken = medians({"bare interpreter": [python, "-c", "pass"],
                     "import yaml, lxml.etree": [python, "-c", "import yaml, lxml.etree"],
                     "import the reader": [python, "-c", "import chassis_describe.layout.read"],
                     "chassis_describe --help": ours("--help"),
                     "xacro, 12 parts": expand(model), "urdf, 12 parts": ours("urdf", str(layout))}, rounds)
    for name, run in taken.items():
        row(name, ratio(run, taken["bare interpreter"]))


def against_xacro(folder: Path, sizes: list[int], rounds: int) -> None:
    reach = {12: "reach 3 x", 1000: "reach 0.3 x"}
    seen: dict[int, Run] = {}
    for size in sizes:
        layout, model = write_pair(folder, size)
        large = size > 5000
        taken = medians({"ours": ours("urdf", str(layout)), "xacro": expand(model)}, min(rounds, 3) if large else rounds,
                        "xacro" if large else "")
        mine, theirs = taken["ours"], taken["xacro"]
        row(f"urdf against xacro, {size} parts", ratio(mine, theirs), reach.get(size, ""))
        if size // 10 in seen:
            row(f"urdf, {size} parts against {size // 10}", ratio(mine, seen[size // 10]), "reach 13 x")
        if size == max(sizes):
            row(f"urdf, {size} parts, peak of memory", f"{mine.peak_mib:.0f} MiB",
                "reach 400 MiB" if size == 10_000 else "")
        seen[size] = mine


def check_against_urdf(folder: Path, rounds: int) -> None:
    layouts = {"demo": TOP / "config/draught_scout.yaml", "1000 placements": write_pair(folder, 1000)[0],
               "4000 placements": write_pair(folder, 4000)[0]}
    reach = {"demo": "reach 2 x", "1000 placements": "reach 3 x"}
    seen: dict[str, Run] = {}
    for name, layout in layouts.items():
        few = rounds if name == "demo" else min(rounds, 3)
        taken = medians({"check": ours("check", str(layout)), "urdf": ours("urdf", str(layout))}, few)
        row(f"check against urdf, {name}", ratio(taken["check"], taken["urdf"]), reach.get(name, ""))
        seen[name] = taken["check"]
    row("check, 4000 placements against 1000", ratio(seen["4000 placements"], seen["1000 placements"]), "reach 6 x")


def bombs(folder: Path, rounds: int) -> None:
    """Layouts that cost minutes where work grows with pairs: each in seconds, or refused at once."""
    parts = """
  box: {mass: 60, bodies: [{box: [70, 50, 20], at: [0, 0, 10]}], bolts: [[-30, -20], [-30, 20], [30, -20], [30, 20]]}
  tube: {mass: 60, bodies: [{cylinder: [40, 60], at: [0, 0, 30], rpy: [20, 35, 0]}], bolts: [[-10, 0], [10, 0]]}
  plug: {mass: 10, bodies: [{box: [10, 10, 10], at: [0, 0, 5]}], bolts: [[-10, 0], [10, 0]],
         keep_clear: [{box: [300, 300, 60], at: [0, 0, 35]}]}
"""
    def crowd(part: str, count: int, apart: int = 3) -> str:
        rows = "".join(f"  p_{k}: {{part: {part}, on: lower, at: [{0.5 + k % apart}, {k // apart % apart}]}}\n" for k in range(count))
        deck = "decks:\n  lower: {outline: {rectangle: [600, 600]}, thickness: 4, density: 700}\n"
        return f"layout: 1\nrobot: crowd\nparts:{parts}{deck}placements:\n{rows}"

    corners = (f"[{r * math.cos(a):.3f}, {r * math.sin(a):.3f}]" for k in range(200)
               for a, r in ((math.pi * k / 100, 60 if k % 2 else 45),))
    drilled = ("layout: 1\nrobot: fine\nlattice: {{pitch: {pitch}, hole: 3.5, screw: M3}}\ndecks:\n"
               "  lower: {{outline: {{rectangle: [1000, 1000]}}, thickness: 4, density: 700{more}}}\n")
    texts = {"1000 boxes in one place": crowd("box", 1000, 1), "1000 boxes over one another": crowd("box", 1000),
             "300 boxes over one another": crowd("box", 300), "30 tilted cylinders over one another": crowd("tube", 30),
             "100 spaces to keep clear over all": crowd("plug", 100), "a deck of 10 000 holes": drilled.format(pitch=10, more=""),
             "a deck of 62 500 holes": drilled.format(pitch=4, more=""),
             "a jagged cutout": drilled.format(pitch=20, more=f", cutouts: [{{polygon: [{', '.join(corners)}]}}]")}
    for what, text in texts.items():
        path = folder / "bomb.yaml"
        path.write_text(text)
        taken = medians({"check": ours("check", str(path)),
                         "compile": ours("compile", str(path), "-o", str(folder / "bomb"), "--despite-errors", "--replace")},
                        min(rounds, 2))
        for name, run in taken.items():
            row(f"{name}, {what}", f"{run.seconds:.1f} s, cpu {run.cpu:.1f} s, {run.peak_mib:.0f} MiB", "reach 5 s, 500 MiB, idle machine")


def changes(folder: Path, rounds: int) -> None:
    """``move`` and ``compare`` check two robots in one process: at most twice the time of ``check``, start-up and all."""
    demo = TOP / "config/draught_scout.yaml"
    text = demo.read_text()
    moved = folder / "moved.yaml"
    moved.write_text(text.replace("on: upper, at: [0, 0]", "on: upper, at: [2, 0]"))
    taken = medians({"check": ours("check", str(demo)), "compare": ours("compare", str(demo), str(moved)),
                     "move": ours("move", str(demo), "lidar", "--by", "2,0", "--dry-run")}, rounds)
    for name in ("move", "compare"):
        row(f"{name} against check, demo", ratio(taken[name], taken["check"]), "reach 2 x")


def pictures(folder: Path, rounds: int) -> None:
    """The sheet as a whole process. Seconds are those of this machine as busy as it is."""
    decks = ("low", "mid", "high")
    lines = ["layout: 1", "robot: many", "decks:", "  low: {outline: {rectangle: [400, 300]}, thickness: 4, material: aluminium}"]
    lines += [f"  {name}: {{outline: {{rectangle: [400, 300]}}, thickness: 3, material: acrylic, above: {below}, "
              "standoffs: [{length: 60, holes: [[-9, -6], [-9, 6], [9, -6], [9, 6]]}]}" for below, name in zip(decks, decks[1:])]
    lines.append("placements:")
    lines += [f"  board_{k}: {{part: imu_board, on: {decks[k % 3]}, at: [{3 * (k // 3 % 5) - 5.5}, {3 * (k // 15) - 4.5}]}}"
              for k in range(60)]
    crowd = folder / "crowd.yaml"
    crowd.write_text("\n".join(lines) + "\n")
    for name, layout, reach in (("demo", TOP / "config/draught_scout.yaml", 1.5), ("60 parts, three decks", crowd, 4.0)):
        sheet = str(folder / "sheet.svg")
        page = str(folder / "page.html")
        taken = medians({"draw": ours("draw", str(layout), "-o", sheet), "page": ours("draw", str(layout), "-o", page),
                         "check": ours("check", str(layout))}, rounds)
        row(f"draw against check, {name}", ratio(taken["draw"], taken["check"]), f"reach {reach:g} s on an idle machine")
        row(f"draw of the page against check, {name}", ratio(taken["page"], taken["check"]), f"reach {reach:g} s on an idle machine")
        following(folder, layout, name, rounds)


def following(folder: Path, layout: Path, name: str, rounds: int) -> None:
    """From the end of a save until its picture, and its check, are on their way to the page; seconds, with the watch's own pause."""
    sys.path.insert(0, str(TOP))
    import chassis_describe as cd
    from chassis_describe.page.watching import Watching

    path = folder / "followed.yaml"
    text = layout.read_text()
    path.write_text(text)
    robot = Watching(str(path), (), edit=False)
    robot.start()
    taken: dict[str, list[float]] = {"picture": [], "verdict": []}

    def up() -> dict[str, int]:
        return {n.kind: n.number for n in robot.board.newer(0, 0.0) or []}

    while "verdict" not in up():
        time.sleep(0.01)
    for number in range(rounds):
        known = up()
        path.write_text(f"{text}# {number}\n")
        begin = time.perf_counter()
        for kind, seconds in taken.items():
            while up().get(kind) == known[kind]:
                time.sleep(0.005)
            seconds.append(time.perf_counter() - begin)
    robot.stop()
    alone = in_process(lambda: cd.check(cd.assemble(cd.read(path))), rounds)
    for kind, what in (("picture", "a save on the page"), ("verdict", "its check on the page")):
        seconds = statistics.median(taken[kind])
        row(f"{what}, {name}", f"{seconds / alone:.2f} x reading and checking ({seconds * 1e3:.0f} ms)",
            "reach 500 ms on an idle machine" if kind == "picture" else "")


def places(folder: Path, rounds: int) -> None:
    """One lidar over a deck of some 400 holes, four turns, both faces, start-up and all; against the check of one such robot.

    Seconds are those of this machine as busy as it is."""
    layout = folder / "places.yaml"
    sys.path.insert(0, str(TOP))
    from tests import robots

    layout.write_text(robots.layout("wide", decks="""\
  floor:
    outline: {rectangle: [410, 410]}
    thickness: 4
    material: birch plywood
    cutouts: [{rectangle: [100, 60], centre: [10, 185]}, {rectangle: [100, 60], centre: [10, -185]}]
""", placements=robots.catalogue_drive("floor", at="[0.5, 6]") + """\
  caster:      {part: ball_caster_h40, on: floor, face: under, at: [-7.5, 0], lift: 18.5}
  cradle:      {part: battery_cradle_small, on: floor, at: [-4, 6], points: left}
  battery:     {part: battery_small, on: cradle, fixing: strap}
  lidar:       {part: lidar_d70, on: floor, at: [4, 0], lift: 5}
""", more=robots.DRIVE))
    asked = [*ours("places", str(layout), "lidar"), "--face", "both", "--turn", "quarter", "--json"]
    tried = int(json.loads(subprocess.run(asked, capture_output=True, check=True, cwd="/").stdout)["tried"])
    from chassis_describe import compiler

    read = compiler.read(layout)
    one = in_process(lambda: compiler.check(compiler.assemble(read)), rounds)
    run = medians({"places": asked}, rounds)["places"]
    row(f"places of a lidar, {tried} tried", f"{run.seconds:.1f} s (cpu {run.cpu:.1f} s)", "reach 5 s on two idle cores")
    row("places against a check of each", f"{run.cpu / (tried * one):.3f} x (check {one * 1e3:.0f} ms)", "reach 0.1 x")


def reader(rounds: int) -> None:
    """Ten times the file in about ten times the time; a search in squares would take a hundred times."""
    sys.path.insert(0, str(TOP))
    from chassis_describe.errors import LayoutError
    from chassis_describe.layout.read import read

    head = "layout: 1\nrobot: r\ndecks: {a: {outline: {circle: 100}, thickness: 4}}\n"
    part = "parts: {b: {mass: 5, bodies: [{box: [9, 9, 9]}]}}\nplacements:\n"
    lines: dict[str, tuple[str, Callable[[int, int], str]]] = {
        "placements": (head + part, lambda k, most: f"  p{k}: {{part: b, on: a, at: [{k % 90}, {k // 90}]}}"),
        "unknown names": (head + part, lambda k, most: f"  p{k}: {{part: bb, on: q{k}}}"),
        "mirror images in a chain": (head + part, lambda k, most: f"  p{k}: {{mirror_of: p{k + 1}}}" if k < most - 1 else
                                     f"  p{k}: {{part: b, on: a, at: [1, 2]}}"),
        "supports in a ring": (head + part, lambda k, most: f"  p{k}: {{part: b, on: p{(k + 1) % most}}}"),
        "parts like one another": (head + "parts:\n", lambda k, most: f"  p{k}: {{like: p{(k + 1) % most}}}"),
    }

    def read_or_refuse(text: str) -> None:
        with contextlib.suppress(LayoutError):
            read("r.yaml", text=text)

    for what, (start, line) in lines.items():
        few, many = ("".join([start, *(f"{line(k, count)}\n" for k in range(count))]) for count in (300, 3000))
        base = in_process(lambda text=few: read_or_refuse(text), rounds)  # type: ignore[misc]
        taken = in_process(lambda text=many: read_or_refuse(text), rounds)  # type: ignore[misc]
        row(f"reading 3000 {what}", f"{taken * 1e3:.1f} ms, {taken / base:.1f} x that of 300", "reach 25 x")


def plates(rounds: int) -> None:
    """Each against the mass of a plate with 10 000 holes."""
    sys.path.insert(0, str(TOP))
    from chassis_describe.space.cover.cover import cover
    from chassis_describe.space.plate.mesh import plate_mesh, stl
    from chassis_describe.space.plate.plate import Plate, Polygon, Rectangle

    def drilled() -> Plate:
        points = [(0.02 * i, 0.02 * j, 0.0035) for i in range(-50, 50) for j in range(-50, 50)]
        return Plate(outline=Rectangle(size=(2.04, 2.04)), thickness=0.004, holes=tuple(points))

    def overlapping() -> Plate:
        points = [(0.010 * i, 0.010 * j, 0.011) for i in range(30) for j in range(30)]
        return Plate(outline=Rectangle(size=(0.4, 0.4), centre=(0.145, 0.145)), thickness=0.004, holes=tuple(points))

    def wavy() -> Plate:
        turns = [2 * math.pi * k / 400 for k in range(400)]
        outline = Polygon(points=tuple(((0.2 + 0.02 * math.sin(9 * t)) * math.cos(t), (0.2 + 0.02 * math.sin(9 * t)) * math.sin(t))
                                       for t in turns))
        wells = tuple(Rectangle(size=(0.08, 0.03), centre=(0.0, y)) for y in (-0.1, 0.1))
        return Plate(outline=outline, cutouts=wells, thickness=0.004)

    base = in_process(lambda: drilled().inertial(650.0), rounds)
    row("mass of a plate with 10 000 holes", f"{base * 1e3:.1f} ms")
    for what, work in (("collision cover of the same", lambda: cover(drilled())),
                       ("mesh of the same", lambda: stl(plate_mesh(drilled()))),
                       ("mass of a plate with 900 overlapping holes", lambda: overlapping().inertial(650.0)),
                       ("collision cover of 400 wavy corners, two wells", lambda: cover(wavy(), (0, 1)))):
        taken = in_process(work, rounds)
        row(what, f"{taken * 1e3:.1f} ms, {taken / base:.2f} of that")


def simulation(seconds: float = 10.0) -> None:
    """The node's own loop without its waiting, and a listener, so that scans are cast: simulated seconds to one of the wall."""
    sys.path.insert(0, str(TOP))
    try:
        import rclpy
        from sensor_msgs.msg import Imu, LaserScan

        from chassis_describe.trial.node import Simulator, SimulatorSettings
    except ImportError as error:
        row("simulated demo among ROS nodes", f"not measured: {error.name} is not installed")
        return
    from chassis_describe.compiler import assemble, read as read_layout
    from chassis_describe.trial.kinematics import Motion
    from chassis_describe.trial.world import few_walls, read_world

    os.environ.setdefault("ROS_AUTOMATIC_DISCOVERY_RANGE", "LOCALHOST")
    rclpy.init()
    robot = assemble(read_layout(TOP / "config/draught_scout.yaml"))
    for what, world in (("a few walls", few_walls()), ("our corridor", read_world(str(TOP / "config/worlds/corridor.yaml")))):
        node, listener = rclpy.create_node("benchmark"), rclpy.create_node("listener")
        executor = rclpy.executors.SingleThreadedExecutor()
        heard: dict[str, int] = {}

        def count(message: object, heard: dict[str, int] = heard) -> None:
            heard[type(message).__name__] = heard.get(type(message).__name__, 0) + 1

        for topic, kind in (("scan", LaserScan), ("imu/data_raw", Imu)):
            listener.create_subscription(kind, topic, count, 100)
        executor.add_node(node)
        executor.add_node(listener)
        simulator = Simulator(node, executor, robot, world, SimulatorSettings())
        until = time.monotonic() + 10.0
        while len(heard) < 2 and time.monotonic() < until:
            simulator.turn()
            executor.spin_once(timeout_sec=0.01)
        start, scans = simulator.engine.time, heard.get("LaserScan", 0)
        begin, cpu = time.perf_counter(), time.process_time()
        while simulator.engine.time < start + seconds:
            simulator._command, simulator._heard = Motion(0.1 * math.cos(simulator.engine.time)), simulator.engine.time
            simulator.turn()
            executor.spin_once(timeout_sec=0.0)
        taken, cpu = time.perf_counter() - begin, time.process_time() - cpu
        row(f"simulated demo among ROS nodes, {what}", f"{seconds / taken:.1f} x real time (cpu {seconds / cpu:.1f} x; "
            f"{heard.get('LaserScan', 0) - scans} scans heard)", "reach 1 x")
        executor.shutdown()
        node.destroy_node()
        listener.destroy_node()
    rclpy.shutdown()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--sizes", type=lambda text: [int(v) for v in text.split(",")], default=[12, 100, 1000, 10_000])
    parser.add_argument("--only", choices=["start", "xacro", "check", "bombs", "change", "pictures", "places", "reader",
                                           "plates", "simulation", "live"])
    arguments = parser.parse_args()
    if arguments.only in (None, "simulation"):
        simulation()
    if arguments.only in (None, "live"):
        subprocess.run([sys.executable, str(TOP / "tests" / "bench" / "live.py")], check=False)
    if arguments.only in ("simulation", "live"):
        return
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        install(folder / "environment")
        if arguments.only in (None, "start"):
            start_up(folder, arguments.rounds)
        if arguments.only in (None, "xacro"):
            against_xacro(folder, arguments.sizes, arguments.rounds)
        if arguments.only in (None, "check"):
            check_against_urdf(folder, arguments.rounds)
        if arguments.only in (None, "bombs"):
            bombs(folder, arguments.rounds)
        if arguments.only in (None, "change"):
            changes(folder, arguments.rounds)
        if arguments.only in (None, "pictures"):
            pictures(folder, arguments.rounds)
        if arguments.only in (None, "places"):
            places(folder, arguments.rounds)
        if arguments.only in (None, "reader"):
            reader(arguments.rounds)
        if arguments.only in (None, "plates"):
            plates(arguments.rounds)


if __name__ == "__main__":
    main()
