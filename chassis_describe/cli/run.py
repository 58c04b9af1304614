"""Commands that run the robot: ``simulate``, ``live``."""
from __future__ import annotations

import argparse
import math
import re
import sys
from typing import Any

from chassis_describe.cli import arguments
from chassis_describe.cli.arguments import Parser, Run, layout_argument, shared
from chassis_describe.cli.printing import OK, print_json


def simulate(parser: Parser) -> Run:
    """The trial course, or the simulator among ROS nodes."""
    layout_argument(parser)
    shared(parser, "--json")
    shared(parser, "--prefix")
    ros = parser.add_argument_group("among ROS nodes, in real time, until it is stopped")
    ros.add_argument("--ros", action="store_true", help="run as a node: commands in, sensors and odometry out")
    ros.add_argument("--world", metavar="MAP.yaml", help="walls from a map as Nav2's map server reads it (default: a few walls)")
    ros.add_argument("--start", type=_start, metavar="X,Y,YAW", help="where the robot starts in the map: m, m, rad (or 90deg)")
    ros.add_argument("--speed", type=_speed, metavar="TIMES", help="so many seconds of the robot to a second (default: 1)")
    ros.add_argument("--seed", type=_seed, metavar="NUMBER", help="of the sensors' noise (default: 0)")
    shared(ros, "--ros-args")
    parser.epilog = ("Needs the package mujoco (`pip install '.[sim]'`), --ros ROS 2's Python packages too (`.[sim,ros]`). Without "
                     "--ros: same layout, same figures; the check does not ask them. Exit code 0 whatever the robot does.")
    return _simulate


def _simulate(options: argparse.Namespace) -> int:
    if options.ros:
        return _among_nodes(options)
    for name in ("world", "start", "speed", "seed", "ros_args"):
        if getattr(options, name) is not None:
            from chassis_describe.errors import UsageError

            raise UsageError(f"--{name.replace('_', '-')} belongs to --ros")
    from chassis_describe.trial.course import run
    from chassis_describe.trial.report import trials_data, trials_text

    assembly = arguments.assembly(options)
    told = _progress if sys.stderr.isatty() else lambda name: None
    trials = run(assembly, told)
    if options.json:
        print_json(trials_data(assembly.robot, trials))
    else:
        sys.stdout.write(trials_text(assembly.robot, trials))
    return OK


def _among_nodes(options: argparse.Namespace) -> int:
    from chassis_describe.errors import UsageError
    from chassis_describe.live.packages import needing_ros
    from chassis_describe.trial.engine import mujoco
    from chassis_describe.trial.world import few_walls, read_world

    if options.json:
        raise UsageError("--json belongs to the trial course; --ros publishes")
    assembly = arguments.assembly(options)
    mujoco()
    world = few_walls() if options.world is None else read_world(options.world)
    node = needing_ros("trial.node", "--ros", extra="sim,ros")
    given: dict[str, Any] = {name: getattr(options, name) for name in ("start", "speed", "seed")
                             if getattr(options, name) is not None}
    node.run(assembly, world, node.SimulatorSettings(**given), options.ros_args or ())
    return OK


def _progress(name: str) -> None:
    sys.stderr.write(f"trying: {name} ...\n")


def _start(text: str) -> tuple[float, float, float]:
    words = [word.strip() for word in text.strip("[] ").split(",")]
    try:
        x, y, yaw = (float(re.sub(r"\s*(?:rad|deg|°)$", "", word)) for word in words)
    except ValueError:
        x = math.nan
    if not math.isfinite(x) or not math.isfinite(y) or not math.isfinite(yaw):
        raise argparse.ArgumentTypeError(f"{text!r} is not a place; write X,Y,YAW in metres and radians, such as 1.5,0,3.14")
    return x, y, math.radians(yaw) if words[2].endswith(("deg", "°")) else yaw


def _speed(text: str) -> float:
    try:
        speed = float(text)
    except ValueError:
        speed = math.nan
    if not 0.0 < speed <= 100.0:
        raise argparse.ArgumentTypeError(f"{text!r} is not a speed; write a number above 0, at most 100, such as 2")
    return speed


def _seed(text: str) -> int:
    if not re.fullmatch(r"\d{1,18}", text):
        raise argparse.ArgumentTypeError(f"{text!r} is not a seed; write a whole number such as 7")
    return int(text)


def live(parser: Parser) -> Run:
    """The node that follows the file."""
    parser.add_argument("layout", metavar="LAYOUT", nargs="?", default="", help="layout file to follow (or the parameter `layout`)")
    shared(parser, "--with")
    shared(parser, "--prefix")
    shared(parser, "--strict", help="warnings keep a save from being published, too")
    parser.add_argument("--publisher", default="robot_state_publisher", metavar="NODE",
                        help="the robot_state_publisher that gets the description where it is there (default: %(default)s)")
    parser.add_argument("--footprint-topic", dest="footprint_topics", action="append", default=[], metavar="TOPIC",
                        help="publish the footprint there, such as local_costmap/footprint; may be repeated (default: nowhere, "
                        "since it changes the shape that a driving robot avoids collisions with)")
    parser.add_argument("--poll", type=arguments.seconds, default=0.0, metavar="SECONDS",
                        help="look at the files so often, where the system does not tell of changes (network folders)")
    shared(parser, "--ros-args")
    parser.epilog = ("Runs until it is stopped, and writes no file. A save that does not read, or has errors, changes nothing on "
                     "the robot. First drive after any change: wheels off the ground.")
    return _live


def _live(options: argparse.Namespace) -> int:
    from chassis_describe.errors import UsageError
    from chassis_describe.live.packages import needing_ros

    if options.layout == "-":
        raise UsageError("standard input can't be followed; name a file")
    node = needing_ros("live.node", "live")
    node.run(node.Settings(layout=options.layout, overlays=tuple(options.overlays), prefix=options.prefix, strict=options.strict,
                           publisher=options.publisher, footprint_topics=tuple(options.footprint_topics), poll=options.poll),
             options.ros_args or ())
    return OK


def simulator_node() -> int:
    """``ros2 run chassis_describe chassis_describe_simulator``: `simulate --ros` under the node's own name, for launch files."""
    from chassis_describe.cli.main import main

    return main(["simulate", "--ros", *sys.argv[1:]])


def live_node() -> int:
    """``ros2 run chassis_describe chassis_describe_live``: `live` under the node's own name, for launch files."""
    from chassis_describe.cli.main import main

    return main(["live", *sys.argv[1:]])
