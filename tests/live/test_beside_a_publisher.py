"""The live node beside a robot_state_publisher (a stand-in with the real one's rules): which comes later, dies, is started again,
refuses. There is never a second description."""
from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

import chassis_describe as cd
from tests.live.graph import Ears, Process
from tests.live.test_live_node import LEAN, LIFTED, described, told

OLD = "<robot name='old'><link name='base_link'/></robot>"


class Publishers:
    """Starts stand-ins, one after the other."""

    def __init__(self, folder: Path, environment: dict[str, str]) -> None:
        self.folder, self.environment, self.number = folder, environment, 0
        self.running: Process | None = None

    def start(self, *words: str) -> Process:
        self.end()  # workers share the tests: the one that would have ended it may have gone to the other
        urdf = self.folder / "old.urdf"
        urdf.write_text(OLD)
        self.number += 1
        self.running = Process(["tests/live/stand_in.py", str(urdf), *words], self.environment, self.folder / f"{self.number}.log")
        return self.running

    def end(self, **how: bool) -> None:
        if self.running is not None:
            self.running.end(**how)
            self.running = None


@pytest.fixture(scope="module")
def publishers(layout: Path, ros_environment: dict[str, str]) -> Iterator[Publishers]:
    if shutil.which("check_urdf") is None:
        pytest.skip("check_urdf of urdfdom, which the stand-in asks, is not installed")
    started = Publishers(layout.parent, ros_environment)
    yield started
    started.end()


def alone(ears: Ears, name: str) -> None:
    """Until it is the only one that describes the robot."""
    ears.until(lambda: ears.publishers("/robot_description") == [name], lambda: ears.publishers("/robot_description"))


def test_it_comes_later_and_is_given_the_description(live: Process, layout: Path, ears: Ears, publishers: Publishers) -> None:
    alone(ears, "chassis_describe_live")
    publishers.start()
    alone(ears, "robot_state_publisher")
    described(ears, layout)
    told(ears, "description", 0, "/robot_state_publisher has the description")
    assert "chassis_describe_live" not in ears.publishers("/tf_static")
    layout.write_text(layout.read_text().replace(LEAN, LIFTED))
    described(ears, layout)


def test_frames_that_are_gone_ask_for_another_publisher(live: Process, layout: Path, ears: Ears, publishers: Publishers) -> None:
    """It sends each fixed frame again for as long as it runs, and only who is started after it does not hear of them."""
    publishers.start()
    alone(ears, "robot_state_publisher")
    described(ears, layout)
    ears.until(lambda: ears.frame("ranger_link"))
    layout.write_text(layout.read_text().replace("  ranger: ", "  sonar: "))
    told(ears, "to be told", 1, "restart robot_state_publisher: it goes on sending", "ranger_link", "restart every tf2 listener")
    described(ears, layout)
    ears.until(lambda: {"ranger_link", "sonar_link"} <= {t.child_frame_id for t in ears.last("/tf_static").transforms})
    layout.write_text(layout.read_text().replace("  sonar: ", "  ranger: "))
    described(ears, layout)


def test_it_dies_and_the_node_takes_over(live: Process, layout: Path, ears: Ears, publishers: Publishers) -> None:
    publishers.start()
    alone(ears, "robot_state_publisher")
    publishers.end()
    alone(ears, "chassis_describe_live")
    described(ears, layout)
    everything = {j.child for j in cd.assemble(cd.read(layout)).joints}
    ears.until(lambda: ears.last("/tf_static") and {t.child_frame_id for t in ears.last("/tf_static").transforms} == everything)


def test_it_is_started_again_with_an_old_description(live: Process, layout: Path, ears: Ears, publishers: Publishers) -> None:
    publishers.start()
    alone(ears, "robot_state_publisher")
    described(ears, layout)
    publishers.end()
    publishers.start()
    described(ears, layout)
    alone(ears, "robot_state_publisher")
    publishers.end()
    alone(ears, "chassis_describe_live")


def test_a_refusal_is_said_and_leaves_one_description(live: Process, layout: Path, ears: Ears, publishers: Publishers) -> None:
    publishers.start("--refuse")
    told(ears, "description", 2, "refuses", "Unable to initialize urdf::model")
    alone(ears, "robot_state_publisher")
    ears.until(lambda: ears.last("/robot_description") is not None and ears.last("/robot_description").data == OLD)
    publishers.end()
    described(ears, layout)
    told(ears, "description", 0)


def test_a_save_while_nobody_answers_arrives(live: Process, layout: Path, ears: Ears, publishers: Publishers, ros_node: Any) -> None:
    """It is killed, so its service is believed to be there for a while; the next one gets the newest state."""
    publishers.start()
    told(ears, "description", 0, "has the description")
    publishers.end(kill=True)
    layout.write_text(layout.read_text().replace(LIFTED, LEAN))
    publishers.start()
    described(ears, layout)


def test_who_answers_slowly_is_not_asked_faster_than_it_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    """Late answers count, the same is asked ever more rarely, and one that was started again is asked at once."""
    pytest.importorskip("rclpy", reason="rclpy is not installed")
    from rcl_interfaces.msg import SetParametersResult
    from rcl_interfaces.srv import SetParameters
    from rclpy.task import Future

    from chassis_describe.live import description

    now, asked, there = [0.0], list[Any](), [1]

    def ask(request: Any) -> Any:
        asked.append(Future())
        return asked[-1]

    def answer(number: int) -> None:
        asked[number].set_result(SetParameters.Response(results=[SetParametersResult(successful=True)]))

    client = SimpleNamespace(service_is_ready=lambda: True, call_async=ask, remove_pending_request=lambda future: None)
    node = SimpleNamespace(
        create_client=lambda *_: client, get_namespace=lambda: "/", resolve_topic_name=lambda name: f"/{name}",
        get_publishers_info_by_topic=lambda _: [SimpleNamespace(node_namespace="/", node_name="robot_state_publisher", endpoint_gid=[g])
                                                for g in there])
    monkeypatch.setattr(description, "time", SimpleNamespace(monotonic=lambda: now[0]))
    publication = description.Publication(node)

    def wait(seconds: int) -> None:
        for _ in range(4 * seconds):
            now[0] += description.LOOK
            publication.look()

    publication.set(description.Content("one", [], "/tf_static"))
    wait(4)
    assert (len(asked), publication.state.fault) == (2, True)
    answer(0)
    assert publication.state == description.State("/robot_state_publisher has the description")
    wait(100)
    assert len(asked) == 2
    publication.set(description.Content("two", [], "/tf_static"))
    wait(100)
    assert len(asked) == 3 + 6  # after 3, 6, 12, 24, 24 and 24 s
    there.append(2)  # another one, while the first is believed to be there
    wait(1)
    assert len(asked) == 10
    publication.set(description.Content("three", [], "/tf_static"))
    wait(4)
    answer(9)
    assert publication.state.fault, "that was about the second"
    answer(10)
    assert not publication.state.fault
    wait(100)
    assert len(asked) == 11
