"""What depth cameras and layered lidars see of the robot itself, as points, and the boxes that take those points out.

A cloud that holds the robot stops it: Nav2's collision monitor counts points inside the outline. Rays are traced on the
true solids (see :mod:`chassis_describe.facts.sight`). Metres, in the root frame, unless said.
"""
from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import NamedTuple

import numpy as np

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.facts.footprint import footprint_of
from chassis_describe.facts.heights import heights_of
from chassis_describe.facts.kinds_of_sensor import is_cloud
from chassis_describe.facts.play import Play, play_of
from chassis_describe.facts.seen_moving import Bounds, bounds_of, joined, seen_moving
from chassis_describe.facts.sight import blockers_of, reach_of, scene_for, view_of
from chassis_describe.facts.sweep import carriers_of
from chassis_describe.facts.usual_sensors import WIDEST_IMAGE, pixels_of
from chassis_describe.space.pose import Pose, Vec3, from_rpy
from chassis_describe.space.sight.rays import cast, image_grid, layer
from chassis_describe.space.sight.scene import Array

#: Boxes that take the robot out of one cloud: each is a node of its own, so few.
MOST_BOXES = 3
#: What a box reaches beyond play, for the noise of the sensor: a few millimetres near by are common (from memory).
NOISE = 0.005
#: Where something is held by tape or straps there is no figure; this much stands for it (our choice).
UNKNOWN_PLAY = 0.005
#: Two boxes become one where that adds no more than this share of their own volume.
_ADDED = 0.3
#: Columns of rays through an image: of a standoff 5.5 mm wide 0.3 m away five rays meet it.
_COLUMNS = 320
#: Step of the rays around a layered lidar that states no number of samples (rad).
_STEP = math.radians(0.5)


class OwnBox(NamedTuple):
    """An upright box in the root frame around solids of these owners, padded."""

    low: Vec3
    high: Vec3
    owners: tuple[str, ...]

    @property
    def volume(self) -> float:
        return math.prod(b - a for a, b in zip(self.low, self.high))


class OwnCloud(NamedTuple):
    """``share``: of all points that the sensor could give, how many are the robot itself inside outline and band, and
    ``shares`` of them by owner, greatest first; ``boxes`` are empty where none is. ``padded_by``: most play counted for.
    ``moved_by``: joints that carry it, and ``moving``: owners that it sees in some position of theirs alone."""

    facet: SensorFacet
    share: float
    shares: tuple[tuple[str, float], ...]
    boxes: tuple[OwnBox, ...]
    padded_by: float
    moved_by: tuple[str, ...] = ()
    moving: tuple[str, ...] = ()


@kept
def own_clouds(assembly: Assembly) -> Mapping[str, OwnCloud]:
    """By frame, for every sensor that gives clouds."""
    return {f.frame: _own_cloud(assembly, f) for f in assembly.sensors if is_cloud(f)}


def rays_of(facet: SensorFacet) -> Array | None:
    """Rays (m, 3) that stand alike for the points of a depth camera or layered lidar; None where its view isn't known,
    or is a fisheye's."""
    sensor = facet.sensor
    if sensor.kind == "depth_camera":
        if sensor.fov is None or sensor.fov > WIDEST_IMAGE:
            return None
        width, height = pixels_of(facet)
        rows = max(2, round(_COLUMNS * height / width))
        return image_grid(sensor.fov, height / width, _COLUMNS, rows).reshape(-1, 3)
    if sensor.vertical is None:
        return None
    view = view_of(facet)
    count = max(8, math.ceil(view / _STEP))
    azimuths = (np.arange(count) + 0.5) / count * view - view / 2
    low, high = sensor.vertical
    elevations = [low + (high - low) * k / (sensor.layers - 1) for k in range(sensor.layers)]
    return np.vstack([layer(e, azimuths) for e in elevations])


def _own_cloud(assembly: Assembly, facet: SensorFacet) -> OwnCloud:
    bundle = rays_of(facet)
    nothing = OwnCloud(facet, 0.0, (), (), 0.0)
    if bundle is None or assembly.rest is None or not footprint_of(assembly):
        return nothing
    blockers = blockers_of(assembly)
    hits = cast(scene_for(assembly, facet), bundle, reach_of(facet))
    met = hits.which >= 0
    into_root = assembly.poses[assembly.root].inverse()
    points = _moved(bundle[met] * hits.distance[met, None], into_root @ facet.pose)
    which = hits.which[met]
    counted = points[:, 2] >= heights_of(assembly).clearance - NOISE
    shares: dict[str, float] = {}
    for i in sorted(set(which[counted].tolist())):
        owner = blockers.owners[i]
        shares[owner] = shares.get(owner, 0.0) + float((counted & (which == i)).sum()) / len(bundle)
    seen = {*which.tolist(), *_seen_with_play(assembly, facet, bundle[::3])}
    joints = tuple(joint.name for joint in carriers_of(assembly, facet.frame))
    then = seen_moving(assembly, facet, bundle)
    solids = {i: _bounds(assembly, i) for i in seen}
    solids |= {i: joined(solids.get(i), bounds) for i, bounds in then.items()}
    solids = dict(sorted(solids.items()))
    if not solids or (not shares and not _any_inside(assembly, solids.values())):
        return nothing
    only_then = tuple(dict.fromkeys(blockers.owners[i] for i in sorted(then) if blockers.owners[i] not in shares))
    links = {link.owner: link.name for link in reversed(assembly.links)}
    eye = (into_root @ facet.pose).t
    boxes, most = [], 0.0
    for i, (low, high) in solids.items():
        link = links.get(blockers.owners[i], "")
        corners = np.array([(x, y, z) for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])])
        origin = (into_root @ assembly.poses[link]).t if link in assembly.poses else low
        play = (_off(play_of(assembly)[facet.frame], _furthest(corners, eye))
                + _off(play_of(assembly).get(link), _furthest(corners, origin)))
        most = max(most, play)
        boxes.append(OwnBox(_three(v - play - NOISE for v in low), _three(v + play + NOISE for v in high),
                            (blockers.owners[i],)))
    return OwnCloud(facet, math.fsum(shares.values()), tuple(sorted(shares.items(), key=lambda s: (-s[1], s[0]))),
                    tuple(_rounded(b) for b in fewer(boxes)), most, joints, only_then)


def _seen_with_play(assembly: Assembly, facet: SensorFacet, rays: Array) -> set[int]:
    """Solids that come into view where the sensor stands twisted by the play of its mounting, about each of its axes."""
    play = play_of(assembly)[facet.frame]
    if play is None or play.free or play.twist == 0.0:
        return set()
    found: set[int] = set()
    for axis in range(3):
        for sign in (-1.0, 1.0):
            turn = [0.0, 0.0, 0.0]
            turn[axis] = sign * play.twist
            turned = facet._replace(pose=facet.pose @ Pose(from_rpy(*turn)))
            hits = cast(scene_for(assembly, turned), rays, reach_of(facet))
            found |= set(hits.which.tolist()) - {-1}
    return found


def _any_inside(assembly: Assembly, bounds: Iterable[Bounds]) -> bool:
    """Whether something reaches above the clearance, where the monitor counts."""
    return any(high[2] >= heights_of(assembly).clearance for _, high in bounds)


def _bounds(assembly: Assembly, which: int) -> Bounds:
    """Of a solid of the scene, in the root frame."""
    blockers = blockers_of(assembly)
    return bounds_of(blockers, which, assembly.poses[assembly.root].inverse() @ blockers.solids[which][1])


def _off(play: Play | None, arm: float) -> float:
    """How far a point on an arm can be off at most (m)."""
    if play is None or play.free:
        return UNKNOWN_PLAY
    return play.shift + 2 * math.sin(play.twist / 2) * arm


def _furthest(points: Array, origin: Vec3) -> float:
    return float(np.sqrt(((points - np.array(origin)) ** 2).sum(axis=1)).max())


def fewer(boxes: list[OwnBox]) -> tuple[OwnBox, ...]:
    """At most MOST_BOXES boxes that hold the given ones; of all pairs the one that adds least becomes one first."""
    left = list(boxes)
    while len(left) > 1:
        added, i, j = min((_joined(left[i], left[j]).volume - left[i].volume - left[j].volume, i, j)
                          for i in range(len(left)) for j in range(i))
        if len(left) <= MOST_BOXES and added > _ADDED * (left[i].volume + left[j].volume):
            break
        left[j] = _joined(left[i], left[j])
        del left[i]
    return tuple(sorted(left))


def _joined(a: OwnBox, b: OwnBox) -> OwnBox:
    return OwnBox(_three(min(p) for p in zip(a.low, b.low)), _three(max(p) for p in zip(a.high, b.high)),
                  tuple(dict.fromkeys((*a.owners, *b.owners))))


def _rounded(box: OwnBox) -> OwnBox:
    """Outward to whole millimetres."""
    return box._replace(low=_three(math.floor(v * 1e3) / 1e3 + 0.0 for v in box.low),
                        high=_three(math.ceil(v * 1e3) / 1e3 + 0.0 for v in box.high))


def _three(values: Iterable[float]) -> Vec3:
    x, y, z = values
    return x, y, z


def _moved(points: Array, pose: Pose) -> Array:
    moved: Array = points @ np.array(pose.r).reshape(3, 3).T + np.array(pose.t)
    return moved
