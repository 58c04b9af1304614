"""Which key figures of two robots differ: a pair of values for each that does. SI, radians."""
from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import fields
from typing import Generic, TypeVar

from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.figures import CameraFigures, Figures, Ground, LidarFigures, Load, RangerFigures, RestAttitude, Tip
from chassis_describe.facts.meshes import mesh_words
from chassis_describe.facts.play import Play
from chassis_describe.facts.sensor_topics import absolute, cloud_topics, made_scan_topic, published_by_sensors, scan_topics
from chassis_describe.facts.sight import Arc, Layer
from chassis_describe.facts.slam_lidar import source_of_scan
from chassis_describe.space.mass import Tensor
from chassis_describe.space.plane.hull import Vec2
from chassis_describe.space.pose import Vec3
from chassis_describe.values import dataclass

#: Figures that differ by less than this share are one figure (the last of 12 written digits).
_SAME_SHARE = 1e-9
#: What of ``ros:`` changes what is compiled.
_SETTINGS = ("distro", "odometry", "control", "simulation", "hardware", "hardware_of", "casters", "prefix", "namespace",
             "slam_lidar", "scan_from", "scan_by", "visual")

Value = TypeVar("Value")
Thing = TypeVar("Thing")


@dataclass(frozen=True)
class Pair(Generic[Value]):
    """A figure of both robots; None where that robot has none."""

    old: Value | None
    new: Value | None


@dataclass(frozen=True, kw_only=True)
class LidarChange:
    """What differs of a scan; None where nothing does."""

    arcs: Pair[tuple[Arc, ...]] | None
    blocked: Pair[float] | None
    blocked_by: Pair[list[str]] | None
    layers: Pair[tuple[Layer, ...]] | None


@dataclass(frozen=True, kw_only=True)
class CameraChange:
    """What differs of an image; None where nothing does."""

    covered: Pair[float] | None
    nearest_floor: Pair[float] | None


@dataclass(frozen=True, kw_only=True)
class RangerChange:
    """What differs of a cone; None where nothing does."""

    floor_at: Pair[float] | None


@dataclass(frozen=True, kw_only=True)
class FigureChanges:
    """Every figure that differs: None, or no entry under its frame, where it does not. ``topics``: of what a sensor measures by
    the frame in the messages, of what else it publishes, or is made of it, by ``frame.role``; ``meshes``: files for the eye, in
    words that say their content, by what they are drawn for; ``settings``: by the key under ``ros``. Whatever was renamed goes by
    its new name on both sides."""

    mass: Pair[float] | None
    com: Pair[Vec3] | None
    inertia: Pair[Tensor] | None
    footprint: Pair[tuple[Vec2, ...]] | None
    footprint_swept: Pair[tuple[Vec2, ...]] | None
    circumscribed_radius: Pair[float] | None
    inscribed_radius: Pair[float] | None
    wheel_separation: Pair[float] | None
    wheel_radius: Pair[float] | None
    wheel_base: Pair[float] | None
    steer_track: Pair[float] | None
    turning_radius: Pair[float] | None
    wheel_circle: Pair[float] | None
    attitude: Pair[RestAttitude] | None
    loads: Pair[tuple[Load, ...]] | None
    tips: Pair[tuple[Tip, ...]] | None
    least_tip: Pair[float] | None
    lidars: Mapping[str, LidarChange]
    cameras: Mapping[str, CameraChange]
    rangers: Mapping[str, RangerChange]
    play: Mapping[str, Pair[Play]]
    topics: Mapping[str, Pair[str]]
    meshes: Mapping[str, Pair[tuple[str, ...]]]
    settings: Mapping[str, Pair[str]]

    @property
    def topics_of_stayed(self) -> Mapping[str, Pair[str]]:
        """Those of sensors that both robots have."""
        def stayed(frame: str) -> bool:
            pair = self.topics.get(frame)
            return pair is None or (pair.old is not None and pair.new is not None)

        return {name: pair for name, pair in self.topics.items() if stayed(name.partition(".")[0])}

    def __bool__(self) -> bool:
        return any(getattr(self, part.name) for part in fields(self))


def figure_changes(old: Figures, new: Figures, robots: tuple[Assembly, Assembly], owners: Mapping[str, str],
                   frames: Mapping[str, str]) -> FigureChanges:
    """What differs; ``owners`` and ``frames``: old name → new name of what is still there."""
    one = _Names({**owners, **frames}, frames)
    was, now = one.ground(old.ground), new.ground
    first, second = robots
    rooted = bool(first.layout.ros.namespace or second.layout.ros.namespace)
    return FigureChanges(
        mass=_pair(old.mass, new.mass), com=_pair(old.com, new.com), inertia=_pair(old.inertia, new.inertia),
        footprint=_pair(old.footprint, new.footprint), footprint_swept=_pair(old.footprint_swept, new.footprint_swept),
        circumscribed_radius=_pair(old.circumscribed_radius, new.circumscribed_radius),
        inscribed_radius=_pair(old.inscribed_radius, new.inscribed_radius),
        wheel_separation=_pair(old.wheel_separation, new.wheel_separation),
        wheel_radius=_pair(old.wheel_radius, new.wheel_radius), wheel_base=_pair(old.wheel_base, new.wheel_base),
        steer_track=_pair(old.steer_track, new.steer_track), turning_radius=_pair(old.turning_radius, new.turning_radius),
        wheel_circle=_pair(old.wheel_circle, new.wheel_circle),
        attitude=_pair(was and was.attitude, now and now.attitude), loads=_pair(was and was.loads, now and now.loads),
        tips=_pair(_in_order(was), _in_order(now)), least_tip=_pair(was and was.least_tip, now and now.least_tip),
        lidars=_by_frame({f: one.lidar(v) for f, v in one.keys(old.lidars).items()}, new.lidars, _lidar),
        cameras=_by_frame(one.keys(old.cameras), new.cameras, _camera),
        rangers=_by_frame(one.keys(old.rangers), new.rangers, _ranger),
        play=_by_frame(one.keys(old.play), new.play, lambda a, b: _pair(a, b, lambda p: (p.shift, p.twist))),
        topics=_by_frame(_topics(first, frames, from_root=rooted), _topics(second, {}, from_root=rooted), _pair),
        meshes=_by_frame({owners.get(n, n): words for n, words in mesh_words(first).items()}, mesh_words(second), _pair),
        settings=_by_frame(_settings(first), _settings(second), _pair))


class _Names:
    """Names that things had, and have now."""

    def __init__(self, of: Mapping[str, str], frames: Mapping[str, str]) -> None:
        self._of, self._frames = of, frames

    def keys(self, by_frame: Mapping[str, Value]) -> dict[str, Value]:
        """The same under the frames' new names."""
        return {self._frames.get(frame, frame): value for frame, value in by_frame.items()}

    def ground(self, ground: Ground | None) -> Ground | None:
        """Contacts by their new names."""
        return ground and ground._replace(
            loads=tuple(load._replace(of=self._new(load.of)) for load in ground.loads),
            tips=tuple(tip._replace(edge=(self._new(tip.edge[0]), self._new(tip.edge[1]))) for tip in ground.tips))

    def lidar(self, lidar: LidarFigures) -> LidarFigures:
        """What blocks it by its new name."""
        return lidar._replace(arcs=tuple(arc._replace(owners=tuple(map(self._new, arc.owners)),
                                                      words=tuple(map(self._new_at_end, arc.words))) for arc in lidar.arcs))

    def _new(self, name: str) -> str:
        return self._of.get(name, name)

    def _new_at_end(self, words: str) -> str:
        """``a standoff on lower``: names hold no blanks."""
        head, blank, name = words.rpartition(" ")
        return f"{head}{blank}{self._new(name)}"


def _in_order(ground: Ground | None) -> tuple[Tip, ...] | None:
    """From which edge the polygon is counted means nothing."""
    return ground and tuple(sorted(ground.tips, key=lambda tip: sorted(tip.edge)))


def _lidar(old: LidarFigures | None, new: LidarFigures | None) -> LidarChange | None:
    return _any(LidarChange(
        arcs=_pair(old and old.arcs, new and new.arcs, lambda arcs: [(a.start, a.end, a.owners) for a in arcs]),
        blocked=_pair(old and old.blocked, new and new.blocked),
        blocked_by=_pair(old and old.blocked_by, new and new.blocked_by),
        layers=_pair((old and old.layers) or None, (new and new.layers) or None)))


def _camera(old: CameraFigures | None, new: CameraFigures | None) -> CameraChange | None:
    return _any(CameraChange(covered=_pair(old and old.covered, new and new.covered),
                             nearest_floor=_pair(old and old.nearest_floor, new and new.nearest_floor)))


def _ranger(old: RangerFigures | None, new: RangerFigures | None) -> RangerChange | None:
    return _any(RangerChange(floor_at=_pair(old and old.floor_at, new and new.floor_at)))


_SensorChange = TypeVar("_SensorChange", LidarChange, CameraChange, RangerChange)


def _any(change: _SensorChange) -> _SensorChange | None:
    return change if any(getattr(change, part.name) is not None for part in fields(change)) else None


def _topics(assembly: Assembly, frames: Mapping[str, str], *, from_root: bool) -> dict[str, str | None]:
    """What is heard of each sensor: where it measures by its frame, whatever else by ``frame.role``."""
    filters = {**scan_topics(assembly), **cloud_topics(assembly)}
    source = source_of_scan(assembly)
    out: dict[str, str | None] = {}
    for facet in assembly.sensors:
        of = frames.get(facet.message_frame, facet.message_frame)
        streams = published_by_sensors(assembly)[facet.frame]
        heard = {of if one.role == "measurement" else f"{of}.{one.role}": one.topic for one in streams}
        if filters.get(facet.frame, heard[of]) != heard[of]:
            heard[f"{of}.filtered"] = filters[facet.frame]
        if source is not None and source.frame == facet.frame:
            heard[f"{of}.scan"] = made_scan_topic(assembly)
        out.update((name, absolute(assembly, topic) if from_root else topic) for name, topic in heard.items())
    return out


def _settings(assembly: Assembly) -> dict[str, str | None]:
    return {name: getattr(assembly.layout.ros, name) for name in _SETTINGS}


def _by_frame(old: Mapping[str, Value | None], new: Mapping[str, Value | None],
              change: Callable[[Value | None, Value | None], Thing | None]) -> dict[str, Thing]:
    found = {name: change(old.get(name), new.get(name)) for name in dict.fromkeys([*old, *new])}
    return {name: value for name, value in found.items() if value is not None}


def _itself(value: Value) -> object:
    return value


def _pair(old: Value | None, new: Value | None, by: Callable[[Value], object] = _itself) -> Pair[Value] | None:
    """Both, unless they are the same by what counts of them."""
    same = _same(None if old is None else by(old), None if new is None else by(new))
    return None if same else Pair(old, new)


def _same(a: object, b: object) -> bool:
    if isinstance(a, float) and isinstance(b, float):
        return math.isclose(a, b, rel_tol=_SAME_SHARE, abs_tol=1e-12)
    if isinstance(a, (list, tuple)) and isinstance(b, (list, tuple)):
        return len(a) == len(b) and all(map(_same, a, b))
    return a == b
