"""The node ``chassis_describe_live``: a layout file that is saved, and the robot that knows.

One thread does the work, woken by the one that watches files. A save is read and checked for errors, and published. Once no other
save comes, what takes longer is worked out in a thread of its own, so that the graph is answered meanwhile: all findings, what must
be restarted, markers.
"""
from __future__ import annotations

import contextlib
import gc
import os
import signal
import threading
import time
from collections.abc import Sequence
from typing import Any, NamedTuple

import rclpy
from diagnostic_msgs.msg import DiagnosticArray
from geometry_msgs.msg import Point32, Polygon, PolygonStamped
from rcl_interfaces.msg import ParameterDescriptor
from rclpy.executors import ExternalShutdownException, SingleThreadedExecutor
from rclpy.qos import QoSProfile
from std_msgs.msg import Header
from std_srvs.srv import Trigger
from visualization_msgs.msg import MarkerArray

from chassis_describe import compiler
from chassis_describe.errors import ChassisError, UsageError, our_fault
from chassis_describe.facts.swept_outline import driving_outline
from chassis_describe.findings import Finding, Severity
from chassis_describe.live import diagnosis
from chassis_describe.live.context import refusals, ros_context
from chassis_describe.live.description import LATCHED, LOOK, PUBLISHER, Content, Publication, State
from chassis_describe.live.following import Bad, Following, Good, ToldLater
from chassis_describe.live.frames import every_frame
from chassis_describe.live.markers import markers
from chassis_describe.live.telling import Telling
from chassis_describe.live.watch import OPEN, Watch
from chassis_describe.targets.stack.topics import transform_topic

NODE = "chassis_describe_live"
#: Seconds without another save after which what takes longer is worked out.
REST = 0.3
#: Seconds between two messages of what is sent again and again: costmaps subscribe volatile, aggregators forget.
AGAIN = 1.0


class Settings(NamedTuple):
    """The node's parameters, under their names."""

    layout: str = ""
    overlays: tuple[str, ...] = ()
    prefix: str | None = None
    strict: bool = False
    publisher: str = PUBLISHER
    footprint_topics: tuple[str, ...] = ()
    poll: float = 0.0


#: What each parameter means, as `ros2 param describe` shows it.
_ABOUT = {
    "layout": "the layout file that is followed",
    "overlays": "files that are laid over it, in order",
    "prefix": "before every frame and joint name, instead of the layout's; a single - for the layout's own",
    "strict": "warnings keep a save from being published, too",
    "publisher": "the robot_state_publisher that is given the description, where it is there",
    "footprint_topics": "topics that get the footprint as geometry_msgs/Polygon; none unless named",
    "poll": "seconds between two looks at the files; 0: the system tells of changes, where it can",
}


class LiveNode:
    """The layout on the graph. Raises UsageError where there is no file to follow."""

    def __init__(self, node: Any, executor: Any, settings: Settings) -> None:
        self.node, self.executor = node, executor
        self.settings = _declared(node, settings)
        if not self.settings.layout:
            raise UsageError("there is no layout to follow: name one (`chassis_describe live LAYOUT`, or the parameter `layout`)")
        if self.settings.poll and not 0.01 <= self.settings.poll <= 3600.0:
            raise UsageError(f"the parameter `poll` is {self.settings.poll:g}: write seconds from 0.01 to 3600, or 0")
        for path in (self.settings.layout, *self.settings.overlays):
            if not os.path.isfile(path):
                raise UsageError(f"there is no file {path}")
        self.log = node.get_logger()
        self.following = Following(self.settings.layout, self.settings.overlays, prefix=self.settings.prefix,
                                   strict=self.settings.strict)
        self.bad: Bad | None = None
        self._wanted: str | None = None  # the namespace of the layout that was read last
        self.findings: tuple[Finding, ...] = ()
        self.to_tell: list[str] = []
        self.gone: list[str] = []
        self.stopped = False
        self._due: float | None = None
        self._read_before: Good | Bad | None = None
        self._stir = threading.Event()
        self._said_open: list[str] = []
        self._others: list[str] = []
        self.description = Publication(node, publisher=self.settings.publisher, told=self._described)
        self._diagnostics = node.create_publisher(DiagnosticArray, "/diagnostics", QoSProfile(depth=10))
        self._outline = node.create_publisher(PolygonStamped, "footprint_stamped", LATCHED)
        self._footprints = [node.create_publisher(Polygon, t, LATCHED) for t in self.settings.footprint_topics]
        self._subscribed = [0] * len(self._footprints)
        self._markers = node.create_publisher(MarkerArray, "~/markers", LATCHED)
        node.create_service(Trigger, "~/reload", self._reload)
        self._saved = node.create_guard_condition(self._read)
        self._telling = Telling(self.following, urgent=lambda: self.stopped or self._stirring(),
                                ready=node.create_guard_condition(self._tell).trigger)
        self._timers = [node.create_timer(LOOK, self._look), node.create_timer(AGAIN, self._again)]
        self.watch = Watch(self._changed, poll=self.settings.poll)
        self.watch.follow(self.following.inputs)
        self.log.info(f"following {self.settings.layout}"
                      + ("" if self.watch.by_notice else ", by looking at the files again and again"))
        self._read()

    def spin(self) -> None:
        """Run until stopped."""
        while not self.stopped:
            wait = 0.2 if self._due is None or self._telling.running else max(0.0, min(0.2, self._due - time.monotonic()))
            self.executor.spin_once(timeout_sec=wait)
            good = self.following.good
            if good is not None and not self._telling.running and self._due is not None and time.monotonic() >= self._due:
                self._due = None
                self._telling.start(good)

    def close(self) -> None:
        """End the threads, take down what is latched."""
        self.stopped = True
        self.watch.close()
        self._telling.close()
        self.description.close()

    # --------------------------------------------------------------------------------------------------------------- a save
    def _changed(self) -> None:
        """In the thread of the watch."""
        self._stir.set()
        self._saved.trigger()

    def _stirring(self) -> bool:
        """Whether a save is coming, which goes before all that is said."""
        return self._stir.is_set() or self.watch.stirring

    def _read(self, *, again: bool = False) -> None:
        """The files have changed, or may have."""
        self._stir.clear()
        found = self.following.read(again=again) or self._read_before
        self._read_before = None
        self.watch.follow(self.following.inputs)
        if self.following.outdated():
            self.watch.again()
            if not again and self.following.torn():
                self._read_before = found  # what was read may be the half of it: the watch tells when the writer is done
                return
        if isinstance(found, Bad):
            self._refuse(found)
        elif found is not None:
            self._publish(found)

    def _refuse(self, bad: Bad) -> None:
        stays = "the last good description stays" if self.following.good is not None else "nothing is published yet"
        if bad != self.bad:
            for line in diagnosis.lines(bad.findings) or [bad.words]:
                self.log.error(line)
            self.log.error(f"{self.settings.layout} is not published; {stays}")
        self.bad = bad
        self._diagnose()

    def _publish(self, good: Good) -> None:
        self.bad = None
        self.following.keep(good)
        assembly = good.assembly
        frames = transform_topic(assembly)
        now = self.node.get_clock().now().to_msg()
        self.description.set(Content(good.urdf, every_frame(assembly, now), f"{frames}_static"))
        self._footprint(good)
        self._drive_outline()
        self.log.info(f"{self.settings.layout} is read: {assembly.robot}, {len(assembly.links)} links")
        self._due = time.monotonic() + REST
        wanted, here = assembly.layout.ros.namespace, self.node.get_namespace().strip("/")
        # One that ROS gave at the start goes before the layout's, and nothing is to be moved then.
        said = self._wanted if self._wanted is not None else here and wanted
        self._wanted = wanted
        if wanted not in ("", here, said):
            self.log.warning(f"the layout's namespace is {wanted}, this node's {here or 'none'}: start it again to move it")

    def _tell(self) -> None:
        """What takes longer has been worked out: say it."""
        worked = self._telling.take()
        if worked is None:
            return
        if worked.stopped and self._due is None:
            self._due = time.monotonic() + REST
        fault = worked.fault
        try:
            if worked.told is not None:
                self._say(worked.good, worked.told)
        except Exception as error:  # a fault of ours here must not take the robot's description along
            fault = our_fault(error)
        if fault:
            self.log.error(fault)

    def _say(self, good: Good, told: ToldLater) -> None:
        """All that is to be said of the last save, now that no other comes."""
        self.findings = told.findings
        if told.change is not None:
            self.to_tell = diagnosis.told_of(told.change, alone=self.description.publishes)
            self.gone = diagnosis.gone_from(told.change)
            for row in self.to_tell:
                self.log.warning(row)
            if self.gone:
                self.log.warning(f"frames that are gone: {', '.join(self.gone)}; who has heard of them goes on believing in them")
        for item in told.findings:
            if item.severity is Severity.WARNING:
                self.log.warning(str(item))
        self._markers.publish(markers(good.assembly, told.findings))
        self._diagnose()
        # What a save leaves behind is collected now, so that the next one is not kept waiting for it. Modules and tables stay for
        # good: looking through them took ten times as long as through what saves leave.
        gc.collect()
        if not gc.get_freeze_count():
            gc.freeze()

    def _reload(self, _: Any, response: Any) -> Any:
        """Read the files again, changed or not, and send everything once more."""
        self._read(again=True)
        response.success = self.bad is None
        response.message = self.bad.words if self.bad is not None else f"{self.settings.layout} is read and published"
        return response

    # ---------------------------------------------------------------------------------------------------------- all the time
    def _look(self) -> None:
        self.description.look()
        counts = [publisher.get_subscription_count() for publisher in self._footprints]
        if any(now > before for now, before in zip(counts, self._subscribed)):
            self._drive_outline()
        self._subscribed = counts
        being_written = self.watch.being_written()
        if being_written != self._said_open:
            self._said_open = being_written
            for path in being_written:
                self.log.info(f"{path} is being written, and not closed yet: waiting, at most {OPEN:g} s from its last byte")
        others = self.description.others()
        if others != self._others:
            self._others = others
            for name in others:
                self.log.warning(f"{name} publishes a robot_description too; stop it, or listeners have two")
            self._diagnose()

    def _again(self) -> None:
        self._diagnose()
        good = self.following.good
        if good is not None:
            self._footprint(good)
            self._drive_outline()

    def _drive_outline(self) -> None:
        """To the costmaps that the user has named: on change, to new subscribers, and again, since they subscribe volatile."""
        good = self.following.good
        if good is not None:
            for publisher in self._footprints:
                publisher.publish(_polygon(good))

    def _footprint(self, good: Good) -> None:
        # No stamp: it holds whenever one looks, and RViz takes the newest transform.
        self._outline.publish(PolygonStamped(header=Header(frame_id=good.assembly.root), polygon=_polygon(good)))

    def _described(self, state: State) -> None:
        if state.fault:  # rclpy's logger refuses one line of code that speaks in two severities
            self.log.error(state.words)
        else:
            self.log.info(state.words)
        self._diagnose()

    def _diagnose(self) -> None:
        good = self.following.good
        robot = good.assembly.robot if good is not None else ""
        name, state = self.node.get_name(), self.description.state
        rows = [diagnosis.layout_status(name, robot, self.settings.layout, self.bad, good is not None),
                diagnosis.status(f"{name}: description", robot, Severity.ERROR if state.fault else Severity.NOTE, state.words, {}),
                diagnosis.change_status(name, robot, self.to_tell, self.gone)]
        if self._others:
            rows.append(diagnosis.status(f"{name}: described twice", robot, Severity.WARNING,
                                         f"robot_description is published by {', '.join(self._others)} too", {}))
        rows += diagnosis.finding_statuses(name, robot, self.bad.findings if self.bad is not None else self.findings)
        now = self.node.get_clock().now().to_msg()
        self._diagnostics.publish(DiagnosticArray(header=Header(stamp=now), status=rows))


def run(settings: Settings, ros_arguments: Sequence[str] = ()) -> None:
    """Follow a layout until SIGINT or SIGTERM. Raises UsageError."""
    context = ros_context(ros_arguments)
    live: LiveNode | None = None
    stopped = False

    def stop(*_: object) -> None:
        nonlocal stopped
        stopped = True
        if live is not None:
            live.stopped = True

    before = {number: signal.signal(number, stop) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        with refusals():
            node = rclpy.create_node(NODE, namespace=_namespace(settings, context) or None, context=context)
        executor = SingleThreadedExecutor(context=context)
        executor.add_node(node)
        try:
            with refusals():
                live = LiveNode(node, executor, settings)
            live.stopped = stopped
            with contextlib.suppress(ExternalShutdownException):
                live.spin()
        finally:
            if live is not None:
                live.close()
            executor.shutdown()
            node.destroy_node()
    finally:
        rclpy.shutdown(context=context)
        for number, handler in before.items():
            signal.signal(number, handler)


def _namespace(settings: Settings, context: Any) -> str:
    """The layout's own, where it can be read: a node can't change its namespace later. ``__ns`` of ROS goes before it."""
    if not settings.layout:  # it comes as a parameter, which only a node can ask for
        asking = rclpy.create_node(NODE, context=context, start_parameter_services=False, enable_rosout=False)
        settings = _declared(asking, settings)
        asking.destroy_node()
    if not settings.layout:
        return ""
    with contextlib.suppress(ChassisError):  # said when the node reads it
        return compiler.read(settings.layout, overlays=settings.overlays).ros.namespace
    return ""


def _declared(node: Any, settings: Settings) -> Settings:
    """The parameters as they were given to the node, else the settings. They hold for the node's life."""
    values: dict[str, Any] = {}
    for name, default in settings._asdict().items():
        about = ParameterDescriptor(description=_ABOUT[name], read_only=True)
        if isinstance(default, tuple):  # rclpy takes an empty list for one of bytes
            values[name] = tuple(v for v in node.declare_parameter(name, list(default) or [""], about).value if v)
        elif name == "prefix":
            given = node.declare_parameter(name, "-" if default is None else default, about).value
            values[name] = None if given == "-" else given
        else:
            values[name] = node.declare_parameter(name, default, about).value
    return Settings(**values)


def _polygon(good: Good) -> Polygon:
    """The outline to drive by, in base_footprint."""
    return Polygon(points=[Point32(x=float(x), y=float(y)) for x, y in driving_outline(good.assembly)])
