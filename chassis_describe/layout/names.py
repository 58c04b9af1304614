"""Names: which ones ROS, TF and the simulators take, and which frames and joints a placement makes of its own.

A name becomes part of link, joint, topic and node names, so it has to be good for all of them (REP-144 for the form;
reserved frames from REP-105 and REP-120; ``world`` is a simulator's own). Frame and joint names: one table, here.
"""
from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from chassis_describe.layout.model import Deck, Part, Placement

#: One or more words of small letters and digits, joined by single underscores, a letter first.
PATTERN = r"^[a-z][a-z0-9]*(?:_[a-z0-9]+)*$"
_GOOD = re.compile(PATTERN[:-1]).fullmatch
FRAME_PATTERN = r"[A-Za-z][A-Za-z0-9_]*"
#: What may stand before every frame and joint: a name and an underscore, so that what it makes is a good name again
#: (tf2 takes no leading slash, ROS names no dash and no two underscores in a row).
PREFIX_PATTERN = rf"{PATTERN[1:-1]}_"
PREFIX_WORDS = "small letters and digits, a letter first, with single underscores between words and one at the end"
#: A ROS namespace, without a slash at either end.
NAMESPACE_PATTERN = rf"{PATTERN[1:-1]}(?:/{PATTERN[1:-1]})*"
TOPIC_PATTERN = r"(?:~/|/)?[A-Za-z][A-Za-z0-9]*(?:_[A-Za-z0-9]+)*(?:/[A-Za-z][A-Za-z0-9]*(?:_[A-Za-z0-9]+)*)*"

#: Names of decks and placements that would meet a frame that others own.
RESERVED = {
    "map": "it is the frame of the map (REP-105)",
    "odom": "it is the frame of odometry (REP-105)",
    "world": "simulators keep it for themselves",
    "base": "its link would be `base_link`, which is the robot's own",
    "base_link": "it is the robot's own frame",
    "base_footprint": "it is the robot's own frame on the ground",
    "earth": "it is the frame of the earth (REP-105)",
}
#: Frames that no sensor of the robot may carry.
OTHERS_FRAMES = frozenset(("map", "odom", "world", "earth"))
_SUGGESTED = {"base": "lower", "map": "map_board", "odom": "odometer", "world": "globe", "earth": "ground_plate",
              "base_link": "lower", "base_footprint": "floor_plate"}
IMAGE_KINDS = ("camera", "depth_camera")


def slip(name: str, plain: bool, *, reserved: bool = False) -> tuple[str, str] | None:
    """What is wrong with a new name, and what to write instead; None when it is good."""
    if plain and name.lower() in ("true", "false", "null"):
        return "YAML reads it as a value of its own", f"write `{name.lower()}_part` or another word"
    if not _GOOD(name):
        if name == "":
            return "it is empty", "write a name such as `lidar_front`"
        if name[:1].isdigit():
            why = "it begins with a digit"
        elif "__" in name:
            why = "it has two underscores in a row"
        elif name.endswith("_") or name.startswith("_"):
            why = "it begins or ends with an underscore"
        elif name.lower() != name and _GOOD(name.lower()):
            why = "names are in small letters"
        else:
            why = "names have small letters, digits and single underscores only"
        better = suggestion(name)
        return why, f"write `{better}`" if better else "write a name such as `lidar_front`"
    if reserved and name in RESERVED:
        return RESERVED[name], f"call it `{_SUGGESTED[name]}`, for instance"
    return None


def suggestion(name: str) -> str | None:
    """The nearest good name: ``2D-Lidar`` → ``lidar_2d``."""
    words = re.findall(r"[a-z0-9]+", name.lower())
    leading = []
    while words and words[0][0].isdigit():
        leading.append(words.pop(0))
    better = "_".join([*words, *leading])
    return better if _GOOD(better) else None


def better_prefix(text: str) -> str:
    """The nearest prefix that is accepted: ``/Robot-1`` → ``robot_1_``."""
    return f"{suggestion(text) or suggestion(f'robot_{text}')}_"


class SensorFrames(NamedTuple):
    """Frames of one sensor on one placement: its own, the optical one below it, and the one its messages carry."""

    sensor: str
    frame: str
    optical: str | None
    message: str


def sensor_frames(placement: str, part: Part, given: Mapping[str, str] | None = None) -> tuple[SensorFrames, ...]:
    """The frames of a placement's sensors; ``given``: names that the layout wants, by sensor."""
    given = given or {}
    out = []
    for sensor in part.sensors:
        if sensor.link is not None and part.description is not None:
            frame = part.description.link_name(sensor.link, "", placement)
            out.append(SensorFrames(sensor.name, frame, None, given.get(sensor.name) or frame))
            continue
        stem = placement if len(part.sensors) == 1 else f"{placement}_{sensor.name}"
        frame, wanted = f"{stem}_frame", given.get(sensor.name)
        if sensor.kind in IMAGE_KINDS and not sensor.driver_tf:
            optical = wanted or f"{stem}_optical_frame"
            out.append(SensorFrames(sensor.name, frame, optical, optical))
        else:
            frame = wanted or frame
            out.append(SensorFrames(sensor.name, frame, None, frame))
    return tuple(out)


def joint_of(frame: str) -> str:
    """The joint that carries a frame: ``x_link`` → ``x_joint``, any other ``f`` → ``f_joint``."""
    return f"{frame[:-5]}_joint" if frame.endswith("_link") else f"{frame}_joint"


def output_names(thing: Deck | Placement) -> Iterator[str]:
    """Every frame and joint name that a deck or placement makes."""
    frames = [f"{thing.name}_link"]
    if isinstance(thing, Placement) and thing.part.description is not None:
        description = thing.part.description
        frames_of_others = [description.link_name(n, "", thing.name) for n in description.links]
        yield from frames_of_others
        yield from (name for n in description.joints if (name := description.joint_name(n, "", thing.name)) not in frames_of_others)
        yield from _seen_with(thing, set(frames_of_others))
        return
    if isinstance(thing, Placement):
        frames += [f"{thing.name}_{a.name}_link" for a in thing.part.adjustments if a.moves]
        for sensor in sensor_frames(thing.name, thing.part, thing.frames):
            frames.append(sensor.frame)
            if sensor.optical is not None:
                frames.append(sensor.optical)
    for frame in frames:
        yield frame
        yield joint_of(frame)


def _seen_with(thing: Placement, others: set[str]) -> Iterator[str]:
    """What a placement with a description makes of its own: its link, and sensors that are none of the description's links."""
    frames = [f"{thing.name}_link"]
    for sensor in sensor_frames(thing.name, thing.part, thing.frames):
        frames += [f for f in (sensor.frame, sensor.optical) if f is not None and f not in others]
    for frame in frames:
        yield frame
        yield joint_of(frame)
