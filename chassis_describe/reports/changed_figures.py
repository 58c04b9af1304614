"""The key figures of two robots that differ, as rows for people and as JSON."""
from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

from chassis_describe.changes.figures import CameraChange, FigureChanges, LidarChange, Pair, RangerChange
from chassis_describe.facts.figures import Load, RestAttitude, Tip
from chassis_describe.facts.play import Play
from chassis_describe.facts.sight import Arc
from chassis_describe.reports.figures import (
    arcs_data,
    attitude_data,
    inertia_data,
    layers_data,
    loads_data,
    percent,
    play_data,
    tips_data,
)
from chassis_describe.space.plane.hull import Vec2
from chassis_describe.space.pose import Vec3
from chassis_describe.words import listing, told_apart

Value = TypeVar("Value")
Item = TypeVar("Item", Load, Tip)


# ---------------------------------------------------------------------------------------------------------------- JSON
def figure_changes_data(changed: FigureChanges) -> dict[str, list[Any]]:
    """``[old, new]`` by the names that ``check --json`` uses, a frame's before the dot: ``laser_frame.arcs``."""
    whole = {
        "mass": _both(changed.mass), "com": _both(changed.com), "inertia": _both(changed.inertia, inertia_data),
        "footprint": _both(changed.footprint), "footprint_swept": _both(changed.footprint_swept),
        "circumscribed_radius": _both(changed.circumscribed_radius),
        "inscribed_radius": _both(changed.inscribed_radius), "wheel_separation": _both(changed.wheel_separation),
        "wheel_radius": _both(changed.wheel_radius), "wheel_base": _both(changed.wheel_base),
        "steer_track": _both(changed.steer_track), "turning_radius": _both(changed.turning_radius),
        "wheel_circle": _both(changed.wheel_circle), "rest": _both(changed.attitude, attitude_data),
        "contacts": _both(changed.loads, loads_data), "tip": _both(changed.tips, tips_data),
        "tip_angle_deg": _both(changed.least_tip, _degrees),
        **{f"{frame}.{name}": pair for frame, lidar in changed.lidars.items() for name, pair in _lidar_data(lidar).items()},
        **{f"{frame}.{name}": pair for frame, camera in changed.cameras.items() for name, pair in _camera_data(camera).items()},
        **{f"{frame}.floor_at": _both(ranger.floor_at) for frame, ranger in changed.rangers.items()},
        **{f"{frame}.play": _both(pair, play_data) for frame, pair in changed.play.items()},
        **{f"{name}{'_' if '.' in name else '.'}topic": _both(pair) for name, pair in changed.topics.items()},
        **{f"{owner}.meshes": _both(pair) for owner, pair in changed.meshes.items()},
        **{f"ros.{key}": _both(pair) for key, pair in changed.settings.items()},
    }
    return {name: pair for name, pair in whole.items() if pair is not None}


def _itself(value: object) -> object:
    return value


def _both(pair: Pair[Value] | None, data: Callable[[Value | None], Any] = _itself) -> list[Any] | None:
    return None if pair is None else [data(pair.old), data(pair.new)]


def _degrees(angle: float | None) -> float | None:
    return None if angle is None else math.degrees(angle)


def _lidar_data(lidar: LidarChange) -> dict[str, list[Any] | None]:
    return {"arcs": _both(lidar.arcs, arcs_data), "blocked_deg": _both(lidar.blocked, _degrees),
            "blocked_by": _both(lidar.blocked_by), "layers": _both(lidar.layers, layers_data)}


def _camera_data(camera: CameraChange) -> dict[str, list[Any] | None]:
    return {"robot_percent": _both(camera.covered, percent), "nearest_floor": _both(camera.nearest_floor)}


# ---------------------------------------------------------------------------------------------------------------- rows
def figure_rows(changed: FigureChanges) -> list[str]:
    """One row for each figure that people ask for; what follows from another is in the JSON alone."""
    rows = [
        *_row("mass", changed.mass, _mass),
        *_row("centre of mass", changed.com, _centre),
        *_row("footprint", changed.footprint, _footprint),
        *_row("swept footprint", changed.footprint_swept, _footprint),
        *_row("outer radius", changed.circumscribed_radius, _length),
        *_row("inner radius", changed.inscribed_radius, _length),
        *_row("wheel separation", changed.wheel_separation, _length),
        *_row("wheel radius", changed.wheel_radius, _length),
        *_row("wheel base", changed.wheel_base, _length),
        *_row("steering track", changed.steer_track, _length),
        *_row("smallest circle", changed.turning_radius, _length),
        *_row("circle of wheels", changed.wheel_circle, _length),
        *_row("rest pose", changed.attitude, _steps, label="stands"),
        *_named(changed.loads, lambda load: load.of, "load on {}", _load, lambda load: load.share or 0.0, 0.005),
        *_named(changed.tips, lambda tip: " - ".join(sorted(tip.edge)), "tips over {}",
                lambda tip: f"at {math.degrees(tip.angle):.1f}°", lambda tip: math.degrees(tip.angle), 0.05),
    ]
    for frame, lidar in changed.lidars.items():
        rows += _lidar_rows(frame, lidar)
    for frame, camera in changed.cameras.items():
        rows += _camera_rows(frame, camera)
    for frame, ranger in changed.rangers.items():
        rows += _ranger_rows(frame, ranger)
    rows += [f"{_of_topic(name)} {pair.old or 'none'} before, {pair.new or 'none'} now"
             for name, pair in changed.topics_of_stayed.items()]
    rows += [f"{owner}: mesh {'; '.join(pair.old or ()) or 'none'} before, {'; '.join(pair.new or ()) or 'none'} now"
             for owner, pair in changed.meshes.items()]
    rows += [f"ros: {key} {pair.old or 'none'} before, {pair.new or 'none'} now" for key, pair in changed.settings.items()]
    return rows + _play_rows(changed.play)


def _of_topic(name: str) -> str:
    """``laser_frame: topic``, ``eye_optical_frame: info topic``."""
    frame, _, role = name.partition(".")
    return f"{frame}: {role} topic" if role else f"{frame}: topic"


def _row(name: str, pair: Pair[Value] | None, words: Callable[[Value, Value], list[str]], label: str = "") -> list[str]:
    """Of a figure of the whole robot; ``label`` where its row begins with something else than the name."""
    if pair is None:
        return []
    if pair.old is None or pair.new is None:
        return [f"{name}: there now, not before" if pair.old is None else f"{name}: was there before, is not any more"]
    return [f"{label or name}: {text}" for text in words(pair.old, pair.new)]


def _before_and_now(old: float, new: float, unit: str, digits: int = 1) -> list[str]:
    """Both numbers with as many decimals as it takes to tell them apart; nothing where thousandths of the last one don't."""
    both = told_apart(old, new, digits)
    return [f"{both[0]}{unit} before, {both[1]}{unit} now"] if both is not None else []


def _mass(old: float, new: float) -> list[str]:
    both = told_apart(old * 1e3, new * 1e3, 1)
    if both is None:
        return []
    digits = len(both[0].partition(".")[2])
    return [f"{both[0]} g before, {both[1]} g now ({(new - old) * 1e3:+.{digits}f} g)"]


def _length(old: float, new: float) -> list[str]:
    return _before_and_now(old * 1e3, new * 1e3, " mm")


def _centre(old: Vec3, new: Vec3) -> list[str]:
    steps = [f"{axis} {(b - a) * 1e3:+.2f} mm" for axis, a, b in zip("xyz", old, new) if abs(b - a) >= 5e-6]
    return [", ".join(steps)] if steps else []


def _footprint(old: Sequence[Vec2], new: Sequence[Vec2]) -> list[str]:
    was, now = _extent(old), _extent(new)
    return [f"{was} before, {now} now" if was != now else f"its corners have changed within {now}"]


def _extent(points: Sequence[Vec2]) -> str:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return (f"x {min(xs) * 1e3:.0f} to {max(xs) * 1e3:.0f}, y {min(ys) * 1e3:.0f} to {max(ys) * 1e3:.0f} mm"
            if points else "none")


def _steps(old: RestAttitude, new: RestAttitude) -> list[str]:
    angles = (("roll", old.roll, new.roll), ("pitch", old.pitch, new.pitch))
    steps = [f"{name} {words}" for name, was, now in angles
             for words in _before_and_now(math.degrees(was), math.degrees(now), "°", 3)]
    return steps + [f"base_link above the ground {words}"
                    for words in _before_and_now(old.height * 1e3, new.height * 1e3, " mm", 2)]


def _load(load: Load) -> str:
    return "unknown" if load.share is None else f"{load.share * 100:.0f} %"


def _named(pair: Pair[tuple[Item, ...]] | None, name: Callable[[Item], str], label: str, text: Callable[[Item], str],
           value: Callable[[Item], float], least: float) -> list[str]:
    """One row for each entry that is in both lists and differs by what the text shows."""
    if pair is None:
        return []
    before = {name(item): item for item in pair.old or ()}
    rows = []
    for item in pair.new or ():
        was = before.get(name(item))
        if was is not None and text(was) != text(item) and abs(value(item) - value(was)) >= least:
            rows.append(f"{label.format(name(item))}: {text(was)} before, {text(item)} now")
        elif was is None:
            rows.append(f"{label.format(name(item))}: {text(item)}, new")
    return rows


def _lidar_rows(frame: str, lidar: LidarChange) -> list[str]:
    rows = []
    if lidar.arcs is not None and lidar.arcs.old is not None and lidar.arcs.new is not None:
        before, now = _arcs(lidar.arcs.old), _arcs(lidar.arcs.new)
        rows += [f"{frame}: the robot blocks {before} before, {now} now"] if before != now else []
    if lidar.layers is not None and lidar.layers.old is not None and lidar.layers.new is not None:
        rows.append(f"{frame}: what the robot covers of its layers has changed")
    return rows


def _arcs(arcs: Sequence[Arc]) -> str:
    def one(arc: Arc) -> str:
        by = f" ({', '.join(arc.owners)})" if arc.owners else ""
        return f"{math.degrees(arc.start):.1f}° to {math.degrees(arc.end):.1f}°{by}"

    return ", ".join(one(arc) for arc in arcs) or "nothing"


def _camera_rows(frame: str, camera: CameraChange) -> list[str]:
    rows = []
    covered = camera.covered
    if covered is not None and covered.old is not None and covered.new is not None:
        both = told_apart(100 * covered.old, 100 * covered.new, 1)
        rows += [f"{frame}: {both[0]} % of the image is the robot before, {both[1]} % now"] if both is not None else []
    return rows + _distance(frame, "sees the floor from", camera.nearest_floor)


def _ranger_rows(frame: str, ranger: RangerChange) -> list[str]:
    return _distance(frame, "its cone meets the floor at", ranger.floor_at)


def _distance(frame: str, words: str, pair: Pair[float] | None) -> list[str]:
    if pair is None:
        return []
    if pair.old is None:
        return [f"{frame}: {words} {pair.new:.2f} m now, not before"]
    if pair.new is None:
        return [f"{frame}: {words} {pair.old:.2f} m before, not any more"]
    return [f"{frame}: {words} {both}" for both in _before_and_now(pair.old, pair.new, " m", 2)]


def _play_rows(changed: Mapping[str, Pair[Play]]) -> list[str]:
    """How far frames can be off by the play of screws, alike ones together; hundredths of a millimetre count."""
    groups: dict[str, list[str]] = {}
    for frame, pair in changed.items():
        if pair.old is not None and pair.new is not None and _play(pair.old) != _play(pair.new):
            groups.setdefault(f"{_play(pair.old)} before, {_play(pair.new)} now", []).append(frame)
    return [f"play of {listing(frames, most=8, last=', ')}: {words}" for words, frames in groups.items()]


def _play(play: Play) -> str:
    return "turns freely" if play.free else f"{play.shift * 1e3:.2f} mm and {math.degrees(play.twist):.2f}°"
