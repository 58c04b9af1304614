"""The key figures of a robot in one value: what a builder asks for first, and what two robots are compared by. SI, radians."""
from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.coverage import Coverage, coverage_of, measures
from chassis_describe.facts.coverage_words import coverage_words
from chassis_describe.facts.footprint import circumscribed_radius, footprint_of, inscribed_radius
from chassis_describe.facts.looks import looks
from chassis_describe.facts.play import Play, play_breaks, play_of
from chassis_describe.facts.sight import Arc, CameraView, Layer, LidarView, RangerView, sight_of
from chassis_describe.facts.standing import standing
from chassis_describe.facts.sweep import swept
from chassis_describe.facts.swept_outline import swept_footprint_of
from chassis_describe.facts.turning import smallest_turn
from chassis_describe.space.mass import Tensor
from chassis_describe.space.plane.hull import Vec2
from chassis_describe.space.pose import Vec3
from chassis_describe.values import dataclass

#: Where a sensor states no range, its play is told at this distance (m).
ANY_RANGE = 1.0


class RestAttitude(NamedTuple):
    """base_link over the ground at rest: roll and pitch (rad), height of its origin (m)."""

    roll: float
    pitch: float
    height: float


class Load(NamedTuple):
    """A wheel or caster and the share of the weight on it; None where that is not known. ``point``: its lowest point in
    base_footprint."""

    of: str
    point: Vec3
    share: float | None


class Tip(NamedTuple):
    """The robot tips over the line between two contacts on a slope of ``angle``, or at ``acceleration`` on level ground
    (m/s²); both are negative where it falls over by itself."""

    edge: tuple[str, str]
    angle: float
    acceleration: float


class Ground(NamedTuple):
    """How the robot stands. Loads of four and more contacts follow a stated model (``equal springs``), for statics
    alone does not decide them; ``load_model`` is None where no load is known."""

    attitude: RestAttitude
    loads: tuple[Load, ...]
    load_model: str | None
    tips: tuple[Tip, ...]

    @property
    def least_tip(self) -> float | None:
        """The least angle (rad) at which it tips; None without an edge to tip over."""
        return min((tip.angle for tip in self.tips), default=None)


class LidarFigures(NamedTuple):
    """What the robot blocks of a scan: arcs in the sensor's own angles, their sum (rad), and of a 3D lidar each layer."""

    arcs: tuple[Arc, ...]
    blocked: float
    layers: tuple[Layer, ...]

    @property
    def blocked_by(self) -> list[str]:
        """What blocks it, in words."""
        return blockers_in_words(self.arcs)


class CameraFigures(NamedTuple):
    """Share of the image that is the robot (0 … 1), and the distance to the nearest floor that it sees (m).

    Both are None where the camera is not judged: no field of view is given, or it is a fisheye's.
    """

    covered: float | None
    nearest_floor: float | None


class RangerFigures(NamedTuple):
    """Where the cone meets the floor (m along it); None where it does not within range."""

    floor_at: float | None


class PlayAtRange(NamedTuple):
    """How far off a point at the end of a sensor's range (m) may seem: ``off`` in all, ``sideways`` by the twist alone."""

    range: float
    off: float
    sideways: float
    play: Play


@dataclass(frozen=True, kw_only=True)
class Figures:
    """One robot in figures; None where there is no mass, ground or drive, or nothing of it on such a drive. What belongs to a
    frame goes by its name. ``wheel_circle``: of an omni drive, the wheels' distance from the middle."""

    mass: float | None
    com: Vec3 | None
    inertia: Tensor | None
    footprint: tuple[Vec2, ...] | None
    footprint_swept: tuple[Vec2, ...] | None  # None where nothing moves while the robot runs
    circumscribed_radius: float | None
    inscribed_radius: float | None
    ground: Ground | None
    wheel_separation: float | None
    wheel_radius: float | None
    wheel_base: float | None
    steer_track: float | None
    turning_radius: float | None
    wheel_circle: float | None
    lidars: Mapping[str, LidarFigures]
    cameras: Mapping[str, CameraFigures]
    rangers: Mapping[str, RangerFigures]
    looks: Mapping[str, str]
    coverage: Coverage | None
    coverage_words: str | None  # None where nothing measures distances
    play: Mapping[str, Play | None]
    play_unknown: Mapping[str, str]
    play_at_range: Mapping[str, PlayAtRange]


@kept
def figures_of(assembly: Assembly) -> Figures:
    """Every key figure of a robot."""
    whole, drive, on_ground, sight = assembly.inertial, assembly.drive, assembly.rest is not None, sight_of(assembly)
    coverage = coverage_of(assembly)
    return Figures(
        mass=whole.mass if whole else None, com=whole.com if whole else None, inertia=whole.inertia if whole else None,
        footprint=footprint_of(assembly) if on_ground else None,
        footprint_swept=swept_footprint_of(assembly) if on_ground and swept(assembly) else None,
        circumscribed_radius=circumscribed_radius(assembly) if on_ground else None,
        inscribed_radius=inscribed_radius(assembly) if on_ground else None,
        ground=ground_figures(assembly),
        wheel_separation=drive.wheel_separation or None if drive else None, wheel_radius=drive.wheel_radius if drive else None,
        wheel_base=drive.wheel_base if drive and drive.kind in ("mecanum", "ackermann") else None,
        steer_track=drive.steer_track or None if drive else None,
        turning_radius=smallest_turn(drive) if drive and drive.kind == "ackermann" else None,
        wheel_circle=drive.circle_radius or None if drive else None,
        lidars={frame: _lidar(view) for frame, view in sight.lidars.items()},
        cameras={frame: _camera(view) for frame, view in sight.cameras.items()},
        rangers={frame: _ranger(view) for frame, view in sight.rangers.items()},
        looks=looks(assembly), coverage=coverage, coverage_words=_coverage_words(assembly, coverage),
        play=play_of(assembly), play_unknown=play_breaks(assembly), play_at_range=play_at_range(assembly))


def ground_figures(assembly: Assembly) -> Ground | None:
    """How the robot stands; None where nothing rolls."""
    stand, rest = standing(assembly), assembly.rest
    if stand is None or rest is None:
        return None
    roll, pitch, _ = rest.base_in_ground.rpy
    shares = stand.shares
    return Ground(RestAttitude(roll, pitch, rest.base_in_ground.t[2]),
                  tuple(Load(n, p, shares.get(n)) for n, p in zip(stand.names, stand.points)),
                  stand.loads.model if stand.loads.shares is not None else None,
                  tuple(Tip((stand.reached[t.ends[0]], stand.reached[t.ends[1]]), t.angle, t.acceleration)
                        for t in stand.tips))


def _coverage_words(assembly: Assembly, coverage: Coverage | None) -> str | None:
    if coverage is None or not measures(assembly):
        return None
    return coverage_words(coverage, assembly.layout.limits["blind_height_mm"] * 1e-3)


def _lidar(view: LidarView) -> LidarFigures:
    return LidarFigures(view.arcs, view.blocked, view.layers)


def _camera(view: CameraView) -> CameraFigures:
    return CameraFigures(view.covered, view.nearest_floor)


def _ranger(view: RangerView) -> RangerFigures:
    return RangerFigures(view.floor.along if view.floor is not None else None)


def blockers_in_words(arcs: Iterable[Arc]) -> list[str]:
    """What blocks some arcs, each thing once, in the order of the alphabet; several standoffs of a deck as one."""
    met = Counter(word for arc in arcs for word in arc.words)
    return sorted(word.replace("a standoff on ", "standoffs on ") if n > 1 else word for word, n in met.items())


def play_at_range(assembly: Assembly) -> dict[str, PlayAtRange]:
    """For each sensor's frame that has a figure: range times twist, for which small angles do, plus the frame's shift."""
    out: dict[str, PlayAtRange] = {}
    for facet in assembly.sensors:
        play = play_of(assembly).get(facet.frame)
        if play is None:
            continue
        reach = facet.sensor.range[1] if facet.sensor.range is not None else ANY_RANGE
        sideways = 2 * math.sin(min(play.twist, math.pi) / 2) * reach
        out[facet.frame] = PlayAtRange(reach, play.shift + sideways, sideways, play)
    return out
