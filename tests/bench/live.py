"""How long a save takes to reach a listener, over a bare publisher: `python tests/bench/live.py [--edits 200] [LAYOUT]`.

The layout's lidar is lifted a little with each edit, in place and by renaming in turns, with pauses of 0 to 0.5 s so that edits
also come while the node is at what follows a save. Beside the live node runs a bare one that publishes the file's text as soon
as the system tells of a change: what it needs is the machine's and DDS's, and is taken away. Needs ROS 2's packages and tf2_msgs,
which the tests build.
"""
from __future__ import annotations

import argparse
import random
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

TOP = Path(__file__).resolve().parents[2]
DOMAIN = 97
BARE = """
import select, sys, rclpy
from std_msgs.msg import String
from chassis_describe.live.description import LATCHED
from chassis_describe.live.notice import Inotify
rclpy.init()
node = rclpy.create_node("bare")
publisher = node.create_publisher(String, "bare", LATCHED)
notice = Inotify()
notice.follow([sys.argv[1].rpartition("/")[0]])
while True:
    select.select([notice.handle], [], [])
    notice.read()
    publisher.publish(String(data=open(sys.argv[1]).read()))
"""


def measured(layout: Path, edits: int, environment: dict[str, str]) -> tuple[list[float], list[float]]:
    """Seconds from each save to the live node's description, and to the bare node's text."""
    import os

    os.environ.update({k: v for k, v in environment.items() if k.startswith("ROS_")})
    import rclpy
    from std_msgs.msg import String

    from chassis_describe.live.description import LATCHED

    text = layout.read_text()
    place = re.search(r"^  lidar:.*?}", text, re.MULTILINE)
    if place is None:
        raise SystemExit("the layout has no placement `lidar`")
    head = re.sub(r", lift: [\d.]+", "", place[0])[:-1]
    commands = ([sys.executable, "-m", "chassis_describe", "live", str(layout)], [sys.executable, "-c", BARE, str(layout)])
    processes = [subprocess.Popen(c, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) for c in commands]
    rclpy.init(domain_id=DOMAIN)
    node = rclpy.create_node("bench")
    heard: dict[str, tuple[float, str]] = {}

    def hear(topic: str) -> Any:
        return lambda m: heard.update({topic: (time.perf_counter(), m.data)})

    node.create_subscription(String, "robot_description", hear("live"), LATCHED)
    node.create_subscription(String, "bare", hear("bare"), LATCHED)
    try:
        while "live" not in heard:
            rclpy.spin_once(node, timeout_sec=0.1)
        time.sleep(2.0)
        chance = random.Random(7)
        live, bare = [], []
        for number in range(edits):
            new = text.replace(place[0], f"{head}, lift: {5 + number / 100:g}}}")
            before = heard["live"][1]
            begun = time.perf_counter()
            if number % 2:
                layout.write_text(new)
            else:
                beside = layout.with_suffix(".new")
                beside.write_text(new)
                begun = time.perf_counter()
                beside.replace(layout)
            while heard["live"][1] == before or heard.get("bare", (0.0, ""))[1] != new:
                rclpy.spin_once(node, timeout_sec=1.0)
                if time.perf_counter() - begun > 20:
                    raise SystemExit(f"edit {number} did not arrive")
            live.append(heard["live"][0] - begun)
            bare.append(heard["bare"][0] - begun)
            time.sleep(chance.uniform(0.0, 0.5))
        return live, bare
    finally:
        for process in processes:
            process.kill()  # the bare one waits for the system alone
            process.wait()
        node.destroy_node()
        rclpy.shutdown()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("layout", nargs="?", type=Path, default=TOP / "config" / "draught_scout.yaml")
    parser.add_argument("--edits", type=int, default=200)
    arguments = parser.parse_args()
    sys.path.insert(0, str(TOP))
    from tests.ros.graph import environment

    with tempfile.TemporaryDirectory() as folder:
        layout = Path(shutil.copy(arguments.layout, folder))
        live, bare = measured(layout, arguments.edits, environment(DOMAIN))
    over = [a - b for a, b in zip(live, bare)]
    for what, values, reach in (("bare publisher", bare, ""), ("live", live, ""), ("over it", over, "reach 50 and 500 ms")):
        print(f"{what:<16} median {statistics.median(values) * 1e3:6.1f} ms   worst {max(values) * 1e3:6.1f} ms   {reach}")


if __name__ == "__main__":
    main()
