"""The key figures of a robot as JSON and on one screen. Prints nothing itself."""
from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from chassis_describe.facts.coverage import BEARINGS, DISTANCES, Coverage, Heights
from chassis_describe.facts.figures import Figures, Ground, LidarFigures, Load, PlayAtRange, RestAttitude, Tip
from chassis_describe.facts.play import Play
from chassis_describe.facts.sight import Arc, Layer
from chassis_describe.reports.wrapping import COLUMNS, wrapped
from chassis_describe.space.mass import TENSOR, Tensor
from chassis_describe.space.pose import Vec3
from chassis_describe.words import away_from, fixed, heading, listing, plain


# ---------------------------------------------------------------------------------------------------------------- JSON
def figures_data(figures: Figures) -> dict[str, Any]:
    """Everything by name, SI but for names that end in a unit; None (or empty) where there is no ground, drive or mass."""
    ground = figures.ground
    return {
        "mass": figures.mass, "com": figures.com, "inertia": inertia_data(figures.inertia),
        "footprint": figures.footprint, "footprint_swept": figures.footprint_swept,
        "circumscribed_radius": figures.circumscribed_radius,
        "inscribed_radius": figures.inscribed_radius,
        "rest": attitude_data(ground.attitude if ground else None),
        "contacts": loads_data(ground.loads if ground else None),
        "load_model": ground.load_model if ground else None,
        "tip": tips_data(ground.tips if ground else None),
        "wheel_separation": figures.wheel_separation, "wheel_radius": figures.wheel_radius,
        "wheel_base": figures.wheel_base, "steer_track": figures.steer_track, "turning_radius": figures.turning_radius,
        "wheel_circle": figures.wheel_circle,
        "lidars": {frame: _lidar_data(lidar) for frame, lidar in figures.lidars.items()},
        "cameras": {frame: {"robot_percent": percent(camera.covered), "nearest_floor": camera.nearest_floor}
                    for frame, camera in figures.cameras.items()},
        "rangers": {frame: {"floor_at": ranger.floor_at} for frame, ranger in figures.rangers.items()},
        "looks": dict(figures.looks),
        "coverage": coverage_data(figures.coverage),
        "play": {frame: play_data(play) for frame, play in figures.play.items()},
        "play_unknown": dict(figures.play_unknown),
        "play_at_range": {frame: {"range": at.range, "off_mm": at.off * 1e3, "text": at_range_words(at)}
                          for frame, at in figures.play_at_range.items()},
    }


def inertia_data(inertia: Tensor | None) -> dict[str, float] | None:
    """By the names of URDF."""
    return dict(zip(TENSOR, inertia)) if inertia is not None else None


def attitude_data(attitude: RestAttitude | None) -> dict[str, float] | None:
    """How base_link stands over the ground."""
    return None if attitude is None else {"roll_deg": math.degrees(attitude.roll), "pitch_deg": math.degrees(attitude.pitch),
                                          "height": attitude.height}


def loads_data(loads: Sequence[Load] | None) -> list[dict[str, Any]] | None:
    """Each contact with its load."""
    return None if loads is None else [{"of": c.of, "xyz": c.point, "load_share": c.share} for c in loads]


def tips_data(tips: Sequence[Tip] | None) -> list[dict[str, Any]] | None:
    """Each edge that the robot tips over."""
    return None if tips is None else [{"edge": tip.edge, "angle_deg": math.degrees(tip.angle),
                                       "acceleration": tip.acceleration} for tip in tips]


def arcs_data(arcs: Sequence[Arc] | None) -> list[Any] | None:
    """``[start, end, [names]]`` of each arc (rad)."""
    return None if arcs is None else [[arc.start, arc.end, arc.owners] for arc in arcs]


def layers_data(layers: Sequence[Layer] | None) -> list[dict[str, float]] | None:
    """Each layer of a 3D lidar."""
    return None if not layers else [{"elevation_deg": math.degrees(layer.elevation), "covered_percent": 100 * layer.covered}
                                    for layer in layers]


def play_data(play: Play | None) -> dict[str, float] | None:
    """How far a frame may be off."""
    return None if play is None else {"shift_mm": play.shift * 1e3, "twist_deg": math.degrees(play.twist)}


def coverage_data(coverage: Coverage | None) -> dict[str, Any] | None:
    """Lowest and highest height seen (mm), a list of bearings for each distance; None where nothing is seen."""
    if coverage is None:
        return None
    return {"bearings_deg": BEARINGS, "at_m": DISTANCES, "lowest_mm": _millimetres(coverage.lowest),
            "highest_mm": _millimetres(coverage.highest)}


def _millimetres(rows: Heights) -> list[list[float | None]]:
    """To a tenth, which is what the search for an edge of sight finds."""
    return [[None if height is None else round(height * 1e3, 1) for height in row] for row in rows]


def percent(share: float | None) -> float | None:
    """A share in percent."""
    return None if share is None else 100 * share


def _lidar_data(lidar: LidarFigures) -> dict[str, Any]:
    data: dict[str, Any] = {"arcs": arcs_data(lidar.arcs), "blocked_deg": math.degrees(lidar.blocked),
                            "blocked_by": lidar.blocked_by}
    return {**data, "layers": layers_data(lidar.layers)} if lidar.layers else data


def at_range_words(at: PlayAtRange) -> str:
    """``±1.43° is 125 mm at 5 m``."""
    if at.play.free:
        return "turns freely"
    return f"±{plain(math.degrees(at.play.twist))}° is {at.sideways * 1e3:.0f} mm at {plain(at.range)} m"


# ---------------------------------------------------------------------------------------------------------------- text
def figures_text(robot: str, figures: Figures, *, width: int = COLUMNS) -> str:
    """The key figures on one screen, millimetres and degrees; lines of at most ``width``."""
    rows = figures_rows(figures)
    column = max((len(name) for name, _ in rows), default=0)
    return f"{robot}\n" + "".join(wrapped(f"  {name.ljust(column)}  {text}", width, column + 4) + "\n" for name, text in rows)


def figures_rows(figures: Figures) -> list[tuple[str, str]]:
    """The key figures in words: of what, and what; a row without a name goes on with the one above."""
    rows: list[tuple[str, str]] = []
    if figures.mass is not None and figures.com is not None:
        rows.append(("mass", f"{figures.mass:.3f} kg, centre of mass {_where(figures.com)} base_link"))
    if figures.ground is not None:
        rows += _ground_rows(figures.ground)
    if figures.wheel_circle is not None and figures.wheel_radius is not None:
        rows.append(("drive", f"wheels {_mm(figures.wheel_circle)} mm from the middle, radius {_mm(figures.wheel_radius, 2)} mm"))
    elif figures.wheel_separation is not None and figures.wheel_radius is not None:
        separation, radius = _mm(figures.wheel_separation), _mm(figures.wheel_radius, 2)
        steers = ""
        if figures.turning_radius is not None and figures.wheel_base is not None:
            steers = f", wheel base {_mm(figures.wheel_base)} mm, turns on a circle of {_mm(figures.turning_radius)} mm"
        rows.append(("drive", f"wheels {separation} mm apart, radius {radius} mm{steers}"))
    elif figures.ground is not None and figures.ground.loads:
        rows.append(("drive", "none: `drive` names no driven wheels, so no controller is written"))
    rows += _footprint_rows(figures)
    rows += [(frame, text) for frame, text in figures.looks.items()]
    rows += _sight_rows(figures)
    if figures.coverage_words is not None:
        rows.append(("overlooks", figures.coverage_words))
    return rows + _play_rows(figures.play)


def _footprint_rows(figures: Figures) -> list[tuple[str, str]]:
    outer, inner = figures.circumscribed_radius, figures.inscribed_radius
    if not figures.footprint or outer is None or inner is None:
        return []
    xs, ys = [p[0] for p in figures.footprint], [p[1] for p in figures.footprint]
    size = f"{_mm(max(xs) - min(xs), 0)} x {_mm(max(ys) - min(ys), 0)} mm, {len(xs)} corners"
    rows = [("footprint", f"{size}; turns within {_mm(outer)} mm, inner radius {_mm(inner)} mm")]
    if figures.footprint_swept and figures.footprint_swept != figures.footprint:
        xs, ys = [p[0] for p in figures.footprint_swept], [p[1] for p in figures.footprint_swept]
        size = f"{_mm(max(xs) - min(xs), 0)} x {_mm(max(ys) - min(ys), 0)} mm, {len(xs)} corners"
        rows.append(("swept", f"{size}, with what moves wherever it can be"))
    return rows


def _ground_rows(ground: Ground) -> list[tuple[str, str]]:
    roll, pitch = math.degrees(ground.attitude.roll), math.degrees(ground.attitude.pitch)
    level = max(abs(roll), abs(pitch)) < 0.005
    ways = ((roll, "right side down", "left side down"), (pitch, "nose down", "nose up"))
    tilt = "level" if level else " and ".join(f"{abs(angle):.2f}° {plus if angle > 0 else minus}"
                                              for angle, plus, minus in ways if abs(angle) >= 0.005)
    rows = [("stands", f"{tilt}, base_link {_mm(ground.attitude.height)} mm above the ground")]
    loads = [f"{load.of} {load.share * 100:.0f} %" for load in ground.loads if load.share is not None]
    if loads:
        rows.append(("load", ", ".join(loads)))
    tips = sorted(ground.tips, key=lambda tip: tip.angle)
    feet = {load.of: load.point for load in ground.loads}
    touching = [feet[name] for name in dict.fromkeys(name for tip in tips for name in tip.edge)]
    fallen = [tip for tip in tips if tip.angle < 0]
    for k, tip in enumerate((fallen or tips)[:4]):
        over = f"{_towards(tip.edge, feet, touching)} over {' - '.join(tip.edge)}"
        if fallen:
            rows.append(("" if k else "falls", f"{over}: the centre of mass lies outside"))
        else:
            rows.append(("" if k else "tips", f"{over}: at {math.degrees(tip.angle):.1f}° or {tip.acceleration:.1f} m/s²"))
    return rows


def _towards(edge: tuple[str, str], feet: Mapping[str, Vec3], touching: Sequence[Vec3]) -> str:
    """The way that the robot falls over an edge, seen from the middle of its contacts: ``forward``."""
    a, b = feet[edge[0]], feet[edge[1]]
    return heading(*away_from((b[1] - a[1], a[0] - b[0]), a, touching))


def _sight_rows(figures: Figures) -> list[tuple[str, str]]:
    rows = []
    for frame, lidar in figures.lidars.items():
        by = f" by {listing(lidar.blocked_by)}" if lidar.blocked_by else ""
        rows.append((frame, f"{math.degrees(lidar.blocked):.1f}° of its scan blocked{by}"))
        most = max((layer.covered for layer in lidar.layers), default=0.0)
        if most:
            rows.append(("", f"the robot covers up to {100 * most:.1f} % of one of its {len(lidar.layers)} layers"))
    for frame, camera in figures.cameras.items():
        if camera.covered is None:
            rows.append((frame, "not judged: its field of view is not given, or is a fisheye's"))
            continue
        floor = camera.nearest_floor
        seen = "sees no floor" if floor is None else f"sees the floor from {floor:.2f} m"
        rows.append((frame, f"{100 * camera.covered:.1f} % of its image is the robot, {seen}"))
    for frame, ranger in figures.rangers.items():
        at = ranger.floor_at
        rows.append((frame, "cone clear of the floor" if at is None else f"cone meets the floor at {at:.2f} m"))
    return rows


def _play_rows(plays: Mapping[str, Play | None]) -> list[tuple[str, str]]:
    known = {frame: play for frame, play in plays.items() if play is not None and (play.shift or play.twist)}
    if not known:
        return []
    frame, worst = max(known.items(), key=lambda item: (item[1].twist, item[1].shift))
    shift = max(play.shift for play in known.values())
    return [("play", f"up to {shift * 1e3:.2f} mm and {math.degrees(worst.twist):.2f}° (most: {frame})")]


def _mm(value: float, digits: int = 1) -> str:
    return fixed(value * 1e3, digits)


def _where(com: Vec3) -> str:
    words = [(com[0], "ahead of", "behind"), (com[1], "left of", "right of"), (com[2], "above", "below")]
    parts = [f"{abs(v) * 1e3:.1f} mm {plus if v > 0 else minus}" for v, plus, minus in words if abs(v) >= 5e-5]
    if not parts:
        return "at"
    # "12 mm ahead of, 3 mm left of and 40 mm above base_link"
    return parts[0] if len(parts) == 1 else f"{', '.join(parts[:-1])} and {parts[-1]}"
