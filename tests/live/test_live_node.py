"""The live node over real DDS: who publishes, what a save brings, what a bad one leaves alone. The tests go on from one another."""
from __future__ import annotations

import json
import shutil
import threading
from pathlib import Path
from typing import Any

import pytest

import chassis_describe as cd
from chassis_describe.cli.main import main
from chassis_describe.facts.footprint import footprint_of
from tests.live.graph import Ears, Process

LIFT = "lift: 6.5"
LEAN = "at: [4, -0.5]"
#: The same on spacers of 2 mm.
LIFTED = f"{LEAN}, lift: 2"


def told(ears: Ears, name: str, level: int, *words: str) -> str:
    """Until /diagnostics says so."""
    def holds() -> str:
        found = ears.statuses().get(name, (-1, ""))
        return found[1] if found[0] == level and all(w in found[1] for w in words) else ""

    return str(ears.until(holds, lambda: (name, level, words)))


def described(ears: Ears, layout: Path) -> None:
    """Until the newest description is that of the file as it is now."""
    want = cd.urdf(cd.assemble(cd.read(layout)))
    ears.until(lambda: ears.last("/robot_description") is not None and ears.last("/robot_description").data == want,
               lambda: "the description of the file")


def test_a_late_joiner_gets_everything(live: Process, layout: Path, ears: Ears) -> None:
    described(ears, layout)
    assembly = cd.assemble(cd.read(layout))
    everything = {j.child: j for j in assembly.joints}
    ears.until(lambda: ears.last("/tf_static"))
    assert {t.child_frame_id for t in ears.last("/tf_static").transforms} == everything.keys()
    for t in ears.last("/tf_static").transforms:
        joint = everything[t.child_frame_id]
        assert t.header.frame_id == joint.parent
        v, q = t.transform.translation, t.transform.rotation
        assert (v.x, v.y, v.z) == pytest.approx(joint.placed.t, abs=1e-12)
        assert (q.x, q.y, q.z, q.w) == pytest.approx(joint.placed.quaternion, abs=1e-12)
    assert ears.publishers("/robot_description") == ["chassis_describe_live"]
    told(ears, "layout", 0)
    outline = footprint_of(assembly)
    ears.until(lambda: ears.last("/footprint_stamped") and ears.last("/local_costmap/footprint"))
    assert ears.last("/footprint_stamped").header.frame_id == "base_footprint"
    for polygon in (ears.last("/footprint_stamped").polygon, ears.last("/local_costmap/footprint")):
        assert [(p.x, p.y) for p in polygon.points] == [pytest.approx(p, abs=1e-6) for p in outline]
    drawn = ears.until(lambda: ears.last("/chassis_describe_live/markers"))
    spaces = {m.ns for m in drawn.markers}
    assert {"holes plate", "coordinates plate", "footprint", "support polygon", "centre of mass", "fields of view"} <= spaces
    holes = next(m for m in drawn.markers if m.ns == "holes plate")
    labels = {m.text: m.pose.position for m in drawn.markers if m.ns == "coordinates plate"}
    assert holes.header.frame_id == "plate_link"
    assert len(labels) == len(holes.points) == 54  # nine by six, as the file says
    # The file: `lattice: {origin: [0, 10]}` mm, pitch 20.
    assert (labels["-4,2"].x, labels["-4,2"].y) == pytest.approx((-0.08, 0.05))


def test_a_save_moves_frames_and_says_who_must_know(live: Process, layout: Path, ears: Ears) -> None:
    """Spacers of 2 mm lift it by that."""
    ears.until(lambda: ears.frame("lean_link"))
    before = ears.frame("lean_link")
    assert before is not None
    layout.write_text(layout.read_text().replace(LEAN, LIFTED))
    ears.until(lambda: ears.frame("lean_link") == pytest.approx((*before[:2], before[2] + 0.002)))
    described(ears, layout)
    told(ears, "to be told", 1, "simulator")
    assert "reload" not in ears.statuses()["to be told"][1], "the node does that itself"


def test_frames_that_are_gone_are_named(live: Process, layout: Path, ears: Ears) -> None:
    layout.write_text(layout.read_text().replace("  ranger: ", "  sonar: "))
    said = told(ears, "to be told", 1, "never forget", "ranger_link")
    assert "robot_state_publisher" not in said, "there is none: the node's own message holds the frames that there are"
    ears.until(lambda: "frames that are gone" in live.said)
    assert not {t.child_frame_id for t in ears.last("/tf_static").transforms} & {"ranger_link"}
    layout.write_text(layout.read_text().replace("  sonar: ", "  ranger: "))
    described(ears, layout)


@pytest.mark.parametrize(("was", "now", "words"), [
    ("placements:", "placements: [", ("cart.yaml:", "error", "yaml-syntax")),
    ("part: ball_caster_h40", "part: ball_caster_h4", ("cart.yaml:", "error", "ball_caster_h40")),
    (LIFT, "lift: 6.5, offset: [9, 0, 0]", ("cart.yaml:", "error", "bolt-off-hole")),
], ids=["no YAML", "no such part", "an error of the check"])
def test_a_bad_save_changes_nothing_and_is_said(live: Process, layout: Path, ears: Ears, was: str, now: str, words: tuple[str, ...]) -> None:
    described(ears, layout)
    good = layout.read_text()
    assert was in good
    count = len(ears.heard["/robot_description"])
    layout.write_text(good.replace(was, now, 1))
    said = told(ears, "layout", 2, *words, "last good description")
    line = 1 + good[:good.index(was)].count("\n")
    assert f"cart.yaml:{line}:" in said or "yaml-syntax" in said
    assert "(" in said, "a hint"
    assert len(ears.heard["/robot_description"]) == count
    layout.write_text(good)
    told(ears, "layout", 0)
    described(ears, layout)


def test_files_that_come_and_go(live: Process, layout: Path, ears: Ears) -> None:
    """Cut off in the middle, deleted, restored by a rename, and the folder replaced by another one."""
    described(ears, layout)
    good = layout.read_text()
    layout.write_text(good[:good.index("part: ball_caster")])
    told(ears, "layout", 2)
    layout.unlink()
    told(ears, "layout", 2, "there is no file")
    beside = layout.with_suffix(".new")
    beside.write_text(good.replace(LIFT, "lift: 7"))
    beside.replace(layout)
    described(ears, layout)
    folder = layout.parent
    other = folder.with_name("other")
    shutil.copytree(folder, other)
    (other / layout.name).write_text(good.replace(LIFT, "lift: 6"))
    folder.rename(folder.with_name("away"))
    other.rename(folder)
    described(ears, layout)
    layout.write_text(good)
    described(ears, layout)


def test_of_200_rapid_edits_the_last_arrives(live: Process, layout: Path, ears: Ears) -> None:
    good = layout.read_text().replace(LIFTED, LEAN)
    for number in range(200):
        text = good.replace(LEAN, f"{LEAN}, lift: {number / 100}")
        if number % 3 == 0:
            beside = layout.with_suffix(".new")
            beside.write_text(text)
            beside.replace(layout)
        else:
            layout.write_text(text)
    layout.write_text(good.replace(LEAN, LIFTED))
    described(ears, layout)
    layout.write_text(good)
    described(ears, layout)


def test_match_holds_the_running_robot_against_the_layout(live: Process, layout: Path, ears: Ears, ros_node: Any, ros_domain: int,
                                                          monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """The same at first, and with a publisher that says nothing; then that one has a frame where it was before."""
    from geometry_msgs.msg import TransformStamped
    from rclpy.qos import DurabilityPolicy, QoSProfile
    from tf2_msgs.msg import TFMessage

    from chassis_describe.live import listen

    monkeypatch.setenv("ROS_DOMAIN_ID", str(ros_domain))
    described(ears, layout)

    def judged(code: int, said: str = "") -> Any:
        """Until match ends so; on a busy machine a node that is new may not have heard of all others in time."""
        out = []
        for _ in range(10):
            done = main(["match", str(layout), "--running", "--seconds", "0.5", "--json"])
            out.append(capsys.readouterr())
            if done == code and said in out[-1].err:
                return json.loads(out[-1].out)["differences"]
        raise AssertionError(out)

    assert judged(0) == []
    other = ros_node.create_publisher(TFMessage, "/tf_static", QoSProfile(depth=1, durability=DurabilityPolicy.TRANSIENT_LOCAL))
    with monkeypatch.context() as hurried:
        hurried.setattr(listen, "_LATER", 1.0)
        judged(0, "/tf_static has 2 publishers (/chassis_describe_live and /listener_of_the_test), and 1 of them was heard")
    old = TransformStamped()
    old.header.frame_id, old.child_frame_id, old.transform.rotation.w = "plate_link", "lean_link", 1.0
    later = threading.Timer(2.0, other.publish, [TFMessage(transforms=[old])])  # it is known long before, and waited for
    later.start()
    found = judged(1)
    later.join()
    assert [(d["kind"], d["of"], d["unit"]) for d in found] == [("twice", "lean_link", "mm")]
    assert [0.0, 0.0, 0.0] in (found[0]["expected"], found[0]["found"])


def test_junk_on_its_topics_is_nothing_to_it(live: Process, layout: Path, ears: Ears, ros_node: Any) -> None:
    """It subscribes to nothing; that somebody else describes the robot is said."""
    from rclpy.qos import DurabilityPolicy, QoSProfile
    from std_msgs.msg import String
    from tf2_msgs.msg import TFMessage

    latched = QoSProfile(depth=1, durability=DurabilityPolicy.TRANSIENT_LOCAL)
    ros_node.create_publisher(String, "/robot_description", latched).publish(String(data="<robot"))
    ros_node.create_publisher(TFMessage, "/tf_static", latched).publish(TFMessage())
    told(ears, "described twice", 1, "listener_of_the_test")
    ears.until(lambda: ("chassis_describe_live", "/") in ros_node.get_node_names_and_namespaces())  # the graph comes later than messages
    topics = dict(ros_node.get_subscriber_names_and_types_by_node("chassis_describe_live", "/"))
    assert not set(topics) - {"/parameter_events", "/clock"}, topics
    layout.write_text(layout.read_text().replace(LEAN, LIFTED))
    described(ears, layout)


def test_reload_answers_whether_it_was_good(live: Process, layout: Path, ears: Ears, ros_node: Any) -> None:
    from std_srvs.srv import Trigger

    client = ros_node.create_client(Trigger, "/chassis_describe_live/reload")
    ears.until(client.service_is_ready)
    future = client.call_async(Trigger.Request())
    ears.until(future.done)
    assert future.result().success
    assert str(layout) in future.result().message
