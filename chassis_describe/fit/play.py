"""Play as key figures: how far each frame may be off, and what that is at a sensor's range."""
from __future__ import annotations

import math
from typing import Any

from chassis_describe.assembly.model import Assembly
from chassis_describe.assembly.play import play_breaks
from chassis_describe.fit.words import plain

#: Where a sensor states no range, its play is told at this distance (m).
ANY_RANGE = 1.0


def play_summary(assembly: Assembly) -> dict[str, Any]:
    """``play`` of every frame (None without figure), ``play_unknown`` (who is taped or strapped), ``play_at_range``."""
    return {
        "play": {frame: None if play is None else {"shift_mm": play.shift * 1e3, "twist_deg": math.degrees(play.twist)}
                 for frame, play in assembly.play.items()},
        "play_unknown": dict(play_breaks(assembly)),
        "play_at_range": play_at_range(assembly),
    }


def play_at_range(assembly: Assembly) -> dict[str, dict[str, Any]]:
    """For each sensor's frame that has a figure: how far off a point at the end of its range may seem.

    ``off_mm``: range times twist, for which small angles do, plus the shift of the frame. ``range`` in metres.
    """
    out: dict[str, dict[str, Any]] = {}
    for facet in assembly.sensors:
        play = assembly.play.get(facet.frame)
        if play is None:
            continue
        reach = facet.sensor.range[1] if facet.sensor.range is not None else ANY_RANGE
        twist = math.degrees(play.twist)
        sideways = 2 * math.sin(min(play.twist, math.pi) / 2) * reach
        off = (play.shift + sideways) * 1e3
        text = "turns freely" if play.free else f"±{plain(twist)}° is {sideways * 1e3:.0f} mm at {plain(reach)} m"
        out[facet.frame] = {"range": reach, "off_mm": off, "text": text}
    return out
