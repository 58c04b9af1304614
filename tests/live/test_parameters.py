"""The live node's parameters over real DDS, as ROS gives them and as the command line does. Workers share these
tests, so none needs another to have run."""
from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import chassis_describe as cd
from chassis_describe.cli.main import main
from chassis_describe.findings import Severity
from tests.live.graph import TOP, Ears, Process
from tests.live.test_live_node import told

#: The lean of the ranger on spacers of 2 mm, and the robot in a namespace of its own.
OVERLAY = "placements: {lean: {lift: 2}}\nros: {namespace: hall}\n"


@pytest.fixture(scope="module")
def layout(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """In a folder with a blank in its name."""
    folder = tmp_path_factory.mktemp("live") / "window sill"
    folder.mkdir()
    (folder / "over.yaml").write_text(OVERLAY)
    return Path(shutil.copy(TOP / "config" / "seedling_cart.yaml", folder / "cart.yaml"))


@pytest.fixture(scope="module")
def live(layout: Path, ros_environment: dict[str, str]) -> Iterator[Process]:
    process = Process(["-m", "chassis_describe", "live", "--ros-args", "-p", f"layout:={layout}", "-p",
                       f"overlays:=['{layout.with_name('over.yaml')}']", "-p", "prefix:=r1_", "-p", "strict:=true", "-p", "poll:=0.05"],
                      ros_environment, layout.parent / "live.log")
    yield process
    assert process.end() == 0, process.said
    print(process.said)


@pytest.fixture
def ears(ros_node: Any) -> Ears:
    from diagnostic_msgs.msg import DiagnosticArray
    from std_msgs.msg import String
    from tf2_msgs.msg import TFMessage

    listener = Ears(ros_node)
    listener.listen("/hall/robot_description", String)
    listener.listen("/tf_static", TFMessage)
    listener.listen("/diagnostics", DiagnosticArray, latched=False)
    return listener


def described(ears: Ears, layout: Path) -> None:
    want = cd.urdf(cd.assemble(cd.read(layout, overlays=[layout.with_name("over.yaml")]), prefix="r1_"))
    ears.until(lambda: ears.last("/hall/robot_description") is not None and ears.last("/hall/robot_description").data == want,
               lambda: "the description of both files")


@pytest.mark.parametrize(("more", "said"), [
    (["--footprint-topic", "bad topic"], "'bad topic': Invalid topic name"),
    (["--publisher", "no good"], "'/no good/set_parameters': Invalid service name"),
    (["--ros-args", "-p", "strict:=5"], "'strict'"), (["--ros-args", "-p", "poll:=-1.0"], "`poll` is -1"),
    (["--ros-args", "-r", "::"], "--ros-args -r ::")], ids=["topic", "publisher", "type", "value", "remapping"])
def test_what_ros_does_not_take_ends_in_a_sentence(more: list[str], said: str, layout: Path, ros_environment: dict[str, str],
                                                   monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> None:
    for name in ("ROS_DOMAIN_ID", "ROS_AUTOMATIC_DISCOVERY_RANGE", "ROS_LOCALHOST_ONLY"):
        monkeypatch.setenv(name, ros_environment[name])
    assert main(["live", str(layout), *more]) == 2
    assert said in capfd.readouterr().err.splitlines()[-1]


def test_without_tf2_msgs_one_sentence_says_what_is_missing(layout: Path, ros_environment: dict[str, str], ros_node: Any) -> None:
    """The description is published all the same, in ROS's namespace, with the prefix of the command line; that the layout has
    another namespace, over which ROS's goes, is nothing to be told."""
    from std_msgs.msg import String

    paths = ros_environment["PYTHONPATH"].split(os.pathsep)
    bare = {**ros_environment, "PYTHONPATH": os.pathsep.join(p for p in paths if "test_messages" not in p)}
    process = Process(["-m", "chassis_describe", "live", str(layout), "--with", str(layout.with_name("over.yaml")), "--prefix", "b_",
                       "--ros-args", "-r", "__ns:=/bare"], bare, layout.parent / "bare.log")
    listener = Ears(ros_node)
    listener.listen("/bare/robot_description", String)
    want = cd.urdf(cd.assemble(cd.read(layout, overlays=[layout.with_name("over.yaml")]), prefix="b_"))
    try:
        listener.until(lambda: listener.last("/bare/robot_description"), lambda: process.said)
        assert listener.last("/bare/robot_description").data == want
        said = "no transforms, since the package tf2_msgs is not here (it comes with a ROS installation)"
        listener.until(lambda: said in process.said)
        assert process.said.count("tf2_msgs") == 1
        assert "namespace" not in process.said
        assert not any(p.node_namespace == "/bare" for topic in ("/tf_static", "/bare/tf_static")
                       for p in ros_node.get_publishers_info_by_topic(topic))
    finally:
        assert process.end() == 0


def test_overlays_prefix_and_the_namespace_of_the_layout(live: Process, layout: Path, ears: Ears) -> None:
    """Frames with a prefix are the robot's own, so they stay on the one /tf_static of all robots."""
    described(ears, layout)
    ears.until(lambda: ears.frame("r1_lean_link"))
    plain = cd.assemble(cd.read(layout))
    z = next(j.placed.t[2] for j in plain.joints if j.child == "lean_link")
    assert ears.frame("r1_lean_link")[2] == pytest.approx(z + 0.002)
    assert ears.node.get_publishers_info_by_topic("/hall/robot_description")[0].node_namespace == "/hall"
    over = layout.with_name("over.yaml")
    over.write_text(OVERLAY.replace("lift: 2", "lift: 1"))
    ears.until(lambda: ears.frame("r1_lean_link")[2] == pytest.approx(z + 0.001))
    described(ears, layout)


def test_poll_looks_for_changes(live: Process, layout: Path, ears: Ears) -> None:
    ears.until(lambda: "by looking at the files again and again" in live.said)


def test_strict_keeps_a_warning_back(live: Process, layout: Path, ears: Ears) -> None:
    """The parts of the robot add up to less than half of what it is said to weigh: a warning, no error."""
    described(ears, layout)
    good = layout.read_text()
    layout.write_text(good + "weighed: 5000\n")
    findings = cd.check(cd.assemble(cd.read(layout)))
    assert {f.severity for f in findings if f.code == "weighed-differs"} == {Severity.WARNING}
    assert not any(f.severity is Severity.ERROR for f in findings)
    told(ears, "layout", 2, "weighed-differs", "last good description")
    layout.write_text(good)
    told(ears, "layout", 0)
    described(ears, layout)


def test_parameters_hold_for_the_nodes_life(live: Process, layout: Path, ears: Ears, ros_node: Any) -> None:
    """As `ros2 param get` and `set` ask; what each is for, `ros2 param describe` says."""
    from rcl_interfaces.msg import Parameter, ParameterType, ParameterValue
    from rcl_interfaces.srv import DescribeParameters, GetParameters, SetParameters

    def asked(kind: Any, service: str, request: Any) -> Any:
        client = ros_node.create_client(kind, f"/hall/chassis_describe_live/{service}")
        ears.until(client.service_is_ready)
        future = client.call_async(request)
        ears.until(future.done)
        return future.result()

    names = ["layout", "overlays", "prefix", "strict", "publisher", "footprint_topics", "poll"]
    values = asked(GetParameters, "get_parameters", GetParameters.Request(names=names)).values
    assert (values[0].string_value, list(values[1].string_array_value), values[2].string_value, values[3].bool_value, values[6].double_value
            ) == (str(layout), [str(layout.with_name("over.yaml"))], "r1_", True, 0.05)
    told_of = asked(DescribeParameters, "describe_parameters", DescribeParameters.Request(names=names)).descriptors
    assert all(d.description and d.read_only for d in told_of)
    other = Parameter(name="strict", value=ParameterValue(type=ParameterType.PARAMETER_BOOL, bool_value=False))
    assert not asked(SetParameters, "set_parameters", SetParameters.Request(parameters=[other])).results[0].successful
