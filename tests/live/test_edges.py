"""What the live node touches, and what is said where ROS 2 is missing. No ROS is needed here."""
from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from chassis_describe.cli.main import main

TOP = Path(__file__).resolve().parents[2]
#: Follows a layout, all modules being there after the first save; prints the files that the second one opens (PEP 578's events).
OPENED = """
import sys
from pathlib import Path
from chassis_describe.live.following import Following
following = Following(sys.argv[1])
following.keep(following.read())
following.told()
layout = Path(sys.argv[1])
layout.write_text(layout.read_text().replace("at: [4, -0.5]", "at: [4, -0.5], lift: 2"))
opened = []
sys.addaudithook(lambda event, given: opened.append((event, *map(str, given))) if event in ("open", "socket.connect") else None)
following.keep(following.read())
following.told()
for item in opened:
    print(*item, sep="|")
print("inputs", *following.inputs, sep="|")
"""


@pytest.mark.parametrize("words", [["live"], ["match", "--running"]], ids=["live", "match"])
def test_without_ros_one_sentence_says_what_to_install(words: list[str], monkeypatch: pytest.MonkeyPatch,
                                                       capsys: pytest.CaptureFixture[str]) -> None:
    for name in [n for n in sys.modules if n.split(".")[0] == "rclpy" or n in ("chassis_describe.live.node", "chassis_describe.live.listen")]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "rclpy", None)
    assert main([words[0], str(TOP / "config" / "seedling_cart.yaml"), *words[1:]]) == 2
    said = capsys.readouterr().err.strip()
    assert len(said.splitlines()) == 1
    assert "rclpy is not here: source your ROS installation, or pip install 'chassis_describe[ros]'" in said


def test_a_save_opens_the_files_that_are_followed_and_no_others(tmp_path: Path) -> None:
    """Read only, and nothing is connected to."""
    layout = shutil.copy(TOP / "config" / "seedling_cart.yaml", tmp_path / "cart.yaml")
    done = subprocess.run([sys.executable, "-c", OPENED, str(layout)], cwd=TOP, capture_output=True, text=True, check=True)
    rows = [line.split("|") for line in done.stdout.splitlines()]
    inputs = set(rows.pop()[1:])
    assert {row[0] for row in rows} == {"open"}
    by_path = [row for row in rows if not row[1].isdigit()]  # then the open file, by its number
    assert str(layout) in {row[1] for row in by_path} <= inputs
    assert all(int(row[3]) & os.O_ACCMODE == os.O_RDONLY for row in rows)
