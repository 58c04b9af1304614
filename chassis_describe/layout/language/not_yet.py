"""Kinds and keys that robots have and this version does not: said so, with what comes nearest, instead of a guess."""
from __future__ import annotations

from collections.abc import Container

#: Word → what is nearest to it here, the likeliest first. What a later version knows is among the known words, and is not asked
#: for here.
_NEAREST: dict[str, tuple[str, ...]] = {
    "tracks": ("skid_steer", "drive"), "tracked": ("skid_steer",), "caterpillar": ("skid_steer",), "crawler": ("skid_steer",),
    "four_wheel_steering": ("ackermann",), "4ws": ("ackermann",),
    "tricycle": ("ackermann",), "bicycle": ("ackermann",), "car": ("ackermann",), "steering": ("ackermann", "drive"),
    "omnidirectional": ("omni",), "holonomic": ("omni",), "swerve": ("omni",), "legs": ("drive",),
    "balancing": ("differential",),
    "radar": ("ranger",), "thermal_camera": ("camera",), "thermal": ("camera",), "event_camera": ("camera",),
    "stereo_camera": ("depth_camera",), "microphone": (), "magnetometer": ("imu",), "compass": ("imu",), "barometer": (),
    "encoder": (), "thermometer": (), "gas": (), "line_sensor": ("ranger",),
    "arm": ("placements",), "gripper": ("placements",), "suspension": (), "springs": (), "trailer": (), "propeller": (),
    "clamp": ("fixing",), "clamped_to": ("fixing",),
}


#: Words of the trade for kinds that are there under another name.
_CALLED: dict[str, str] = {
    "gps": "gnss", "gps_antenna": "gnss", "sonar": "ranger", "ultrasonic": "ranger", "ultrasound": "ranger",
    "tof": "ranger", "infrared": "ranger", "laser": "lidar", "laser_scanner": "lidar", "bumper": "contact",
    "rgbd": "depth_camera", "rgbd_camera": "depth_camera", "stereo": "depth_camera", "gyro": "imu",
    "diff": "differential", "diff_drive": "differential", "tank": "skid_steer", "four_wheel": "skid_steer",
    "skid": "skid_steer", "glue": "adhesive", "tape": "adhesive", "screws": "bolts",
}


def called_here(word: str, known: Container[str]) -> str | None:
    """The known word for a kind that is also called ``word``; None where there is none."""
    name = _CALLED.get(_spelt(word))
    return name if name is not None and name in known else None


def not_in_this_version(word: str, known: Container[str]) -> str | None:
    """``not in this version: tracks; nearest: `skid_steer```; None for a word that is no such kind or key."""
    plain = _spelt(word)
    if plain not in _NEAREST or plain in known:
        return None
    near = next((n for n in _NEAREST[plain] if n in known), None)
    return f"not in this version: {plain}" + (f"; nearest: `{near}`" if near else "")


def _spelt(word: str) -> str:
    """A word as a key would be spelt."""
    return word.strip().lower().replace("-", "_").replace(" ", "_")
