"""What lidars, cameras and rangers see of the robot itself and of the floor. SI, radians.

True solids count: bodies, wheels as their rolling cylinders, casters, standoffs, spacers, and plates without their
bolt holes but with their cutouts. A body nearer than a sensor's least range hides what is behind it all the same.
A lidar sees all but its own part; cameras and rangers see their own part too, less a case that their origin lies in
(which is a finding of its own).
"""
from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from functools import partial
from typing import TYPE_CHECKING, NamedTuple, Union

import numpy as np

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.facts.usual_sensors import WIDEST_IMAGE, pixels_of
from chassis_describe.space.pose import Pose
from chassis_describe.space.sight.floor import (
    FloorPoint,
    cone_on_floor,
    floor_arc,
    image_on_floor,
    lean,
    plane_on_floor,
    steepest_beam,
)
from chassis_describe.space.sight.rays import Hits, cast, cone_bundle, image, layer, way_out
from chassis_describe.space.sight.scene import Array, Scene, Sheet, scene_of
from chassis_describe.space.sight.section import shadows
from chassis_describe.space.sight.turns import TurnPiece, pieces

if TYPE_CHECKING:
    from chassis_describe.space.solids import Solid

#: Chords per circle of a plate's edge: off by r·1e-5 at most, 2 µm on a disc of 0.4 m.
_CHORDS = 720
#: Step of the rays of one layer of a 3D lidar (rad).
LAYER_STEP = math.radians(0.5)
#: Rings of the rays that fill a ranger's cone: what looks narrower than a 48th of its field of view may be missed.
CONE_RINGS = 24
#: Rays that look for the farthest point of a lidar's own case: a box's corner is met within 0.05 % of its distance.
CASE_RAYS = 7201


class Blockers(NamedTuple):
    """Solids in base_link; by index in the scene: whose each is, in words, and of which link."""

    scene: Scene
    solids: tuple[tuple[Union[Solid, Sheet], Pose], ...]
    owners: tuple[str, ...]
    words: tuple[str, ...]
    links: tuple[str, ...]

    def of(self, owner: str) -> list[int]:
        """Indices of one owner's solids."""
        return [i for i, name in enumerate(self.owners) if name == owner]


class Arc(NamedTuple):
    """Beams from ``start`` to ``end`` meet the robot; ``owners`` names decks and placements, ``words`` says what."""

    start: float
    end: float
    owners: tuple[str, ...]
    words: tuple[str, ...]


class Layer(NamedTuple):
    """One layer of a 3D lidar: its elevation and the share of its turn that the robot covers (0 … 1)."""

    elevation: float
    covered: float


class LidarView(NamedTuple):
    """``lean``: angle of the scan plane against level at rest; ``floor``: where it first meets the floor within range,
    over ``floor_arcs`` of the scan. None and empty without ground, for 3D lidars, and where no range is known.
    ``case``: how far its own bodies about the sensing origin reach in the scan plane (m), 0 where none is around it."""

    facet: SensorFacet
    arcs: tuple[Arc, ...]
    blocked: float
    layers: tuple[Layer, ...]
    lean: float | None
    floor: FloorPoint | None
    floor_arcs: tuple[TurnPiece, ...]
    case: float

    @property
    def covered(self) -> float:
        """Share of all layers of a 3D lidar that the robot covers."""
        return math.fsum(layer.covered for layer in self.layers) / len(self.layers) if self.layers else 0.0


class CameraView(NamedTuple):
    """``shares``: of the image, by owner, greatest first; ``nearest_floor``: distance along the floor (m)."""

    facet: SensorFacet
    covered: float | None
    shares: tuple[tuple[str, float], ...]
    nearest_floor: float | None


class RangerView(NamedTuple):
    """``meets``: distance to what the cone meets within range, by owner, nearest first."""

    facet: SensorFacet
    meets: tuple[tuple[str, float], ...]
    floor: FloorPoint | None


class Sight(NamedTuple):
    """By sensor frame."""

    lidars: Mapping[str, LidarView]
    cameras: Mapping[str, CameraView]
    rangers: Mapping[str, RangerView]


@kept
def blockers_of(assembly: Assembly) -> Blockers:
    """Everything that can stand in the way."""
    solids: list[tuple[Union[Solid, Sheet], Pose]] = []
    owners: list[str] = []
    words: list[str] = []
    links: list[str] = []
    for link in assembly.links:
        pose = assembly.poses[link.name]
        for body in link.bodies:
            if body.collides:
                solids.append((body.solid, pose @ body.pose))
                owners.append(body.owner)
                words.append(f"a standoff on {body.owner}" if body.role == "standoff" else body.owner)
                links.append(link.name)
        if link.plate is not None:
            plate = link.plate
            solids.append((Sheet(partial(plate.polygon, _CHORDS), plate.thickness, plate.outline.bounds), pose))
            owners.append(link.owner)
            words.append(f"the plate of {link.owner}")
            links.append(link.name)
    return Blockers(scene_of(solids), tuple(solids), tuple(owners), tuple(words), tuple(links))


@kept
def arcs_of(assembly: Assembly) -> Mapping[str, tuple[Arc, ...]]:
    """By lidar frame, the arcs of its scan plane that the robot cuts, in the frame's own angles -π … π, in order.

    The plane is z = 0 of the frame (of a 3D lidar: the level one, if it has it in view). Within range and field of
    view, which is centred on the zero beam. Padded by half a beam step, fov / samples, where ``samples`` is known.
    """
    return {f.frame: _arcs(blockers_of(assembly), f) for f in assembly.sensors if f.sensor.kind == "lidar"}


def arcs_all_round(assembly: Assembly, facet: SensorFacet) -> tuple[Arc, ...]:
    """The same for one lidar, as if it looked all round with beams as far apart as they are."""
    return _arcs(blockers_of(assembly), facet, all_round=True)


def _arcs(blockers: Blockers, facet: SensorFacet, *, all_round: bool = False) -> tuple[Arc, ...]:
    sensor = facet.sensor
    if sensor.layers > 1 and sensor.vertical is not None and not sensor.vertical[0] <= 0.0 <= sensor.vertical[1]:
        return ()
    view = view_of(facet)
    scene = blockers.scene.seen_from(facet.pose, blockers.of(facet.placement))
    pad = view / sensor.samples / 2 if sensor.samples else 0.0
    found = pieces(((s.start, s.width, s.which) for s in shadows(scene, reach_of(facet))),
                   2 * math.pi if all_round else view, pad)
    return tuple(Arc(p.start, p.end, _distinct(blockers.owners[i] for i in p.owners),
                     _distinct(blockers.words[i] for i in p.owners)) for p in found)


@kept
def lidars_of(assembly: Assembly) -> Mapping[str, LidarView]:
    """What every lidar sees, which is worked out much sooner than what cameras see."""
    return {f.frame: _lidar(assembly, f) for f in assembly.sensors if f.sensor.kind == "lidar"}


@kept
def sight_of(assembly: Assembly) -> Sight:
    """What every lidar, camera and ranger sees."""
    cameras, rangers = ([f for f in assembly.sensors if f.sensor.kind in kinds]
                        for kinds in (("camera", "depth_camera"), ("ranger",)))
    return Sight(lidars_of(assembly), {f.frame: _camera(assembly, f) for f in cameras},
                 {f.frame: _ranger(assembly, f) for f in rangers})


def _lidar(assembly: Assembly, facet: SensorFacet) -> LidarView:
    arcs = arcs_of(assembly)[facet.frame]
    sensor = facet.sensor
    layers: tuple[Layer, ...] = ()
    leaning = floor = None
    floor_arcs: tuple[TurnPiece, ...] = ()
    if sensor.layers > 1 and sensor.vertical is not None:
        layers = _layers(blockers_of(assembly), facet)
    elif assembly.rest is not None:
        eye = assembly.rest.base_in_ground @ facet.pose
        leaning = lean(eye)
        if sensor.range is not None:
            half = floor_arc(eye, sensor.range[1])
            floor_arcs = tuple(pieces([(steepest_beam(eye) - half, 2 * half, 0)], view_of(facet))) if half else ()
            floor = plane_on_floor(eye, view_of(facet)) if floor_arcs else None
    return LidarView(facet, arcs, math.fsum(a.end - a.start for a in arcs), layers, leaning, floor, floor_arcs,
                     _case(blockers_of(assembly), facet))


def _case(blockers: Blockers, facet: SensorFacet) -> float:
    others = [i for i, name in enumerate(blockers.owners) if name != facet.placement]
    own = blockers.scene.seen_from(facet.pose, others)
    azimuths = np.linspace(-view_of(facet) / 2, view_of(facet) / 2, CASE_RAYS)
    return float(way_out(own, layer(0.0, azimuths)).max(initial=0.0))


def _layers(blockers: Blockers, facet: SensorFacet) -> tuple[Layer, ...]:
    """Layers evenly spaced from lowest to highest; rays LAYER_STEP apart."""
    assert facet.sensor.vertical is not None
    view, n = view_of(facet), facet.sensor.layers
    low, high = facet.sensor.vertical
    count = max(1, math.ceil(view / LAYER_STEP))
    azimuths = (np.arange(count) + 0.5) / count * view - view / 2
    elevations = [low + (high - low) * k / (n - 1) for k in range(n)]
    scene = blockers.scene.seen_from(facet.pose, blockers.of(facet.placement))
    met = cast(scene, np.vstack([layer(e, azimuths) for e in elevations]), reach_of(facet)).which >= 0
    return tuple(Layer(e, c) for e, c in zip(elevations, met.reshape(n, count).mean(axis=1).tolist()))


def _camera(assembly: Assembly, facet: SensorFacet) -> CameraView:
    sensor = facet.sensor
    if sensor.fov is None or sensor.fov > WIDEST_IMAGE:
        return CameraView(facet, None, (), None)
    width, height = pixels_of(facet)
    scene = scene_for(assembly, facet)
    seen = image(scene, sensor.fov, height / width, reach_of(facet))
    owner = blockers_of(assembly).owners
    shares: dict[str, float] = {}
    for i in _met(seen.hits):
        shares[owner[i]] = shares.get(owner[i], 0.0) + float(seen.share[seen.hits.which == i].sum())
    nearest: float | None = None
    if assembly.rest is not None:
        eye = assembly.rest.base_in_ground @ facet.pose
        point = image_on_floor(eye, sensor.fov, height / width)
        if point is not None and cast(scene, np.array([point.direction]), point.away).which[0] < 0:
            nearest = point.along if point.away <= reach_of(facet) else None
        elif point is not None:  # the robot hides it: the nearest of the rays that get by, to the image's resolution
            nearest = _nearest_free(eye, seen.rays, seen.hits.distance, reach_of(facet))
    return CameraView(facet, math.fsum(shares.values()), tuple(sorted(shares.items(), key=lambda s: -s[1])), nearest)


def _nearest_free(eye: Pose, rays: Array, distance: Array, reach: float) -> float | None:
    """The least distance along the floor of rays that meet the floor before anything else, and within reach."""
    r = np.array(eye.r).reshape(3, 3)
    out = rays @ r.T
    out = out[sinking := out[:, 2] < -1e-9]
    away = eye.t[2] / -out[:, 2]
    free = (away < distance[sinking]) & (away <= reach) & (away > 0)
    along = (away * np.hypot(out[:, 0], out[:, 1]))[free]
    return float(along.min()) if len(along) else None


def _ranger(assembly: Assembly, facet: SensorFacet) -> RangerView:
    sensor = facet.sensor
    if sensor.fov is None:
        return RangerView(facet, (), None)
    reach = reach_of(facet)
    hits = cast(scene_for(assembly, facet), cone_bundle(sensor.fov / 2, CONE_RINGS), reach)
    meets: dict[str, float] = {}
    for i in _met(hits):
        name = blockers_of(assembly).owners[i]
        meets[name] = min(meets.get(name, math.inf), float(hits.distance[hits.which == i].min()))
    floor = None
    if assembly.rest is not None:
        floor = cone_on_floor(assembly.rest.base_in_ground @ facet.pose, sensor.fov / 2)
    return RangerView(facet, tuple(sorted(meets.items(), key=lambda m: m[1])),
                      floor if floor is not None and floor.away <= reach else None)


def scene_for(assembly: Assembly, facet: SensorFacet) -> Scene:
    """The robot in the sensor's axes, as that sensor sees it: without its own part (a lidar), or less those of its own
    bodies that its origin lies in (a camera or ranger)."""
    return blockers_of(assembly).scene.seen_from(facet.pose, left_out_of(assembly, facet))


def left_out_of(assembly: Assembly, facet: SensorFacet) -> set[int]:
    """Indices of the solids of its own part that a sensor is taken not to see."""
    blockers = blockers_of(assembly)
    own = set(blockers.of(facet.placement))
    return own if facet.sensor.kind == "lidar" else own & set(blockers.scene.seen_from(facet.pose).holding())


def _met(hits: Hits) -> list[int]:
    """Indices of the solids that some ray meets."""
    return sorted(set(hits.which.tolist()) - {-1})


def reach_of(facet: SensorFacet) -> float:
    """How far the sensor sees (m); infinite where its range isn't given."""
    return facet.sensor.range[1] if facet.sensor.range is not None else math.inf


def view_of(facet: SensorFacet) -> float:
    """The horizontal field of view (rad), a whole turn where none is given."""
    return min(facet.sensor.fov or 2 * math.pi, 2 * math.pi)


def _distinct(names: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(names))
