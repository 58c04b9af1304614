"""The key figures of a robot, as the summary of ``check`` gives them (SI but for names that end in a unit)."""
from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from typing import Any

from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.footprint import circumscribed_radius, footprint_of, inscribed_radius
from chassis_describe.facts.play import play_breaks, play_of
from chassis_describe.facts.sight import Arc, sight_of
from chassis_describe.facts.standing import standing
from chassis_describe.words import plain


def summary(assembly: Assembly) -> dict[str, Any]:
    """Everything by name; None (or empty) where there is no ground, drive or mass."""
    whole, drive, standing = assembly.inertial, assembly.drive, assembly.rest is not None
    return {
        "mass": whole.mass if whole else None,
        "com": whole.com if whole else None,
        "inertia": dict(zip(("ixx", "iyy", "izz", "ixy", "ixz", "iyz"), whole.inertia)) if whole else None,
        "footprint": [list(p) for p in footprint_of(assembly)] if standing else None,
        "circumscribed_radius": circumscribed_radius(assembly) if standing else None,
        "inscribed_radius": inscribed_radius(assembly) if standing else None,
        **ground_summary(assembly),
        "wheel_separation": drive.wheel_separation if drive else None,
        "wheel_radius": drive.wheel_radius if drive else None,
        **sight_summary(assembly),
        **play_summary(assembly),
    }


def ground_summary(assembly: Assembly) -> dict[str, Any]:
    """``rest``, ``contacts``, ``load_model`` and ``tip`` of the summary; None where nothing rolls.

    Loads of four and more contacts follow a stated model (``equal springs``): statics alone does not decide them.
    """
    stand, rest = standing(assembly), assembly.rest
    if stand is None or rest is None:
        return {"rest": None, "contacts": None, "load_model": None, "tip": None}
    roll, pitch, _ = rest.base_in_ground.rpy
    shares = stand.shares
    return {
        "rest": {"roll_deg": math.degrees(roll) + 0.0, "pitch_deg": math.degrees(pitch) + 0.0,
                 "height": rest.base_in_ground.t[2]},
        "contacts": [{"of": n, "xyz": list(p), "load_share": shares.get(n)} for n, p in zip(stand.names, stand.points)],
        "load_model": stand.loads.model if stand.loads.shares is not None else None,
        "tip": [{"edge": [stand.touching[k] for k in t.ends], "angle_deg": math.degrees(t.angle),
                 "acceleration": t.acceleration} for t in stand.tips],
    }


def sight_summary(assembly: Assembly) -> dict[str, Any]:
    """``lidars``, ``cameras`` and ``rangers`` of the summary, by frame. Distances in metres along the floor, None where
    none is seen; ``layers`` only for 3D lidars; ``arcs`` hold names,
    ``blocked_by`` words for people. Of cameras that are not judged (no field of view given, or a fisheye's)
    both figures are None.
    """
    sight = sight_of(assembly)
    lidars: dict[str, Any] = {}
    for frame, lidar in sight.lidars.items():
        lidars[frame] = {"arcs": [[a.start, a.end, list(a.owners)] for a in lidar.arcs],
                         "blocked_deg": math.degrees(lidar.blocked), "blocked_by": blockers_in_words(lidar.arcs)}
        if lidar.layers:
            lidars[frame]["layers"] = [{"elevation_deg": math.degrees(layer.elevation),
                                        "covered_percent": 100 * layer.covered} for layer in lidar.layers]
    return {
        "lidars": lidars,
        "cameras": {frame: {"robot_percent": None if camera.covered is None else 100 * camera.covered,
                            "nearest_floor": camera.nearest_floor} for frame, camera in sight.cameras.items()},
        "rangers": {frame: {"floor_at": ranger.floor.along if ranger.floor is not None else None}
                    for frame, ranger in sight.rangers.items()},
    }


def blockers_in_words(arcs: Iterable[Arc]) -> list[str]:
    """What blocks some arcs, each thing once, in the order of the alphabet; several standoffs of a deck as one."""
    met = Counter(word for arc in arcs for word in arc.words)
    return sorted(word.replace("a standoff on ", "standoffs on ") if n > 1 else word for word, n in met.items())


#: Where a sensor states no range, its play is told at this distance (m).
ANY_RANGE = 1.0


def play_summary(assembly: Assembly) -> dict[str, Any]:
    """``play`` of every frame (None without figure), ``play_unknown`` (who is taped or strapped), ``play_at_range``."""
    return {
        "play": {frame: None if play is None else {"shift_mm": play.shift * 1e3, "twist_deg": math.degrees(play.twist)}
                 for frame, play in play_of(assembly).items()},
        "play_unknown": dict(play_breaks(assembly)),
        "play_at_range": play_at_range(assembly),
    }


def play_at_range(assembly: Assembly) -> dict[str, dict[str, Any]]:
    """For each sensor's frame that has a figure: how far off a point at the end of its range may seem.

    ``off_mm``: range times twist, for which small angles do, plus the shift of the frame. ``range`` in metres.
    """
    out: dict[str, dict[str, Any]] = {}
    for facet in assembly.sensors:
        play = play_of(assembly).get(facet.frame)
        if play is None:
            continue
        reach = facet.sensor.range[1] if facet.sensor.range is not None else ANY_RANGE
        twist = math.degrees(play.twist)
        sideways = 2 * math.sin(min(play.twist, math.pi) / 2) * reach
        off = (play.shift + sideways) * 1e3
        text = "turns freely" if play.free else f"±{plain(twist)}° is {sideways * 1e3:.0f} mm at {plain(reach)} m"
        out[facet.frame] = {"range": reach, "off_mm": off, "text": text}
    return out
