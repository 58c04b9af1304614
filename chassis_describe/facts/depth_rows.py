"""Rows of a depth image that make a flat scan, and what speaks against it: how the camera stands decides.

A row of pixels read as a scan takes the camera for level: ranges and bearings are those in the plane of the optical axis and
the rows. Of a level camera every row is right, and rows away from the axis look at other heights, more so further away.
Metres, radians, in the root frame unless said.
"""
from __future__ import annotations

import math
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.facts.heights import HEADROOM, heights_of
from chassis_describe.facts.play import tip_of
from chassis_describe.facts.sight import blockers_of, scene_for
from chassis_describe.facts.sweep import carriers_of
from chassis_describe.facts.usual_sensors import WIDEST_IMAGE
from chassis_describe.space.sight.rays import cast
from chassis_describe.space.sight.scene import Array

#: How far rows are followed where the camera states no range (m): the default of common converters.
FAR = 10.0
#: A camera that leans more than this is not level (rad): ranges come out 4 mm a metre wrong there (our choice).
MOST_LEAN = math.radians(5.0)
#: Columns of rays across the image.
_COLUMNS = 161


class DepthRows(NamedTuple):
    """``far``: the end of the range. ``height``: so many rows about the optical axis stay within the heights of obstacles up to
    there, 1 at least; ``low``, ``high``: the heights that they reach there. ``lean`` of rows and axis against level. ``leaves``:
    how far away the middle row leaves those heights, None where it doesn't; ``downward``: below. ``tip``: how far the play of the
    mounting can tip it; ``floor``: from where on the lowest row then meets the floor, None beyond the range. ``moved_by``: joints
    between it and the robot; ``owners``: what of the robot is in those rows."""

    facet: SensorFacet
    far: float
    height: int
    low: float
    high: float
    lean: float
    leaves: float | None
    downward: bool
    tip: float
    floor: float | None
    moved_by: tuple[str, ...]
    owners: tuple[str, ...]

    @property
    def fits(self) -> bool:
        """Whether the rows make a scan that is right."""
        return self.lean <= MOST_LEAN and self.leaves is None and not self.moved_by and not self.owners


class _LevelEye(NamedTuple):
    """Height of the camera, its axes' rises (x ahead, y left, z up of the image), how far it sees, tangents across the image,
    and pixels of its focal length, infinite where they aren't known."""

    height: float
    rise: tuple[float, float, float]
    far: float
    across: Array
    focal: float

    def slopes(self, above: float) -> Array:
        """Rise for each metre of range along the row so many pixels above the axis, by column."""
        x, y, z = self.rise
        rises: Array = (x + y * self.across + z * above / self.focal) / np.hypot(1.0, self.across)
        return rises


@kept
def depth_rows_of(assembly: Assembly) -> Mapping[str, DepthRows]:
    """By frame, for every depth camera whose view is known, on a robot that stands on the ground."""
    if assembly.rest is None:
        return {}
    return {f.frame: _rows(assembly, f) for f in assembly.sensors
            if f.sensor.kind == "depth_camera" and f.sensor.fov is not None and f.sensor.fov <= WIDEST_IMAGE}


def _rows(assembly: Assembly, facet: SensorFacet) -> DepthRows:
    assert facet.sensor.fov is not None
    pose = assembly.poses[assembly.root].inverse() @ facet.pose
    edge, far = math.tan(facet.sensor.fov / 2), facet.sensor.range[1] if facet.sensor.range is not None else FAR
    pixels = facet.sensor.resolution
    eye = _LevelEye(pose.t[2], (pose.r[6], pose.r[7], pose.r[8]), far, np.linspace(-edge, edge, _COLUMNS),
               pixels[0] / 2 / edge if pixels is not None else math.inf)
    clearance, top, _ = heights_of(assembly)
    count, most = 1, pixels[1] - 2 if pixels is not None else 1
    while count < most and _within(eye, count + 1, clearance, top + HEADROOM):
        count += 1
    low, high = _reached(eye, count)
    middle = eye.slopes(0.0)
    leaves, downward = min((_until(eye.height - clearance, -float(middle.min())), True),
                           (_until(top + HEADROOM - eye.height, float(middle.max())), False))
    tip = tip_of(assembly, facet.placement, assembly.poses[assembly.root].inverse().r[6:9]) or 0.0
    floor = _until(eye.height, math.sin(min(tip, math.pi / 2)) - min(float(eye.slopes(v).min()) for v in _pixels(count)))
    lean = math.acos(min(1.0, abs(eye.rise[2])))
    return DepthRows(facet, far, count, low, high, lean, leaves if leaves < far else None, downward,
                     tip, floor if tip and floor < far else None, tuple(joint.name for joint in carriers_of(assembly, facet.frame)),
                     _owners(assembly, facet, eye, count))


def _pixels(count: int) -> tuple[float, float]:
    """How far the outermost rows of so many reach from the optical axis, upward, to their pixels' edges below: which row comes
    first is rounded up the image, so they lie higher than about the axis."""
    return -(count - 1) / 2, count / 2 + 1


def _reached(eye: _LevelEye, count: int) -> tuple[float, float]:
    ends = [eye.height + eye.far * eye.slopes(v) for v in _pixels(count)]
    return min(float(e.min()) for e in ends), max(float(e.max()) for e in ends)


def _within(eye: _LevelEye, count: int, low: float, high: float) -> bool:
    """Whether those rows stay between two heights to the end of the range; they go straight, so the end decides."""
    least, most = _reached(eye, count)
    return low <= least and most <= high


def _until(room: float, slope: float) -> float:
    """How far it is until something that falls so much a metre has used the room up."""
    if room <= 0.0:
        return 0.0
    return room / slope if slope > 0.0 else math.inf


def _owners(assembly: Assembly, facet: SensorFacet, eye: _LevelEye, count: int) -> tuple[str, ...]:
    """What of the robot those rows hold, from the least range on."""
    near = facet.sensor.range[0] if facet.sensor.range is not None else 0.0
    steps = sorted({*np.linspace(*_pixels(count), 9).tolist()}) if math.isfinite(eye.focal) else [0.0]
    rays = np.array([(1.0, y, v / eye.focal) for v in steps for y in eye.across])
    flat = np.hypot(1.0, rays[:, 1])
    length = np.sqrt((rays**2).sum(axis=1))
    hits = cast(scene_for(assembly, facet), rays / length[:, None], eye.far)
    found = (hits.which >= 0) & (hits.distance * flat / length >= near)
    owners = blockers_of(assembly).owners
    return tuple(dict.fromkeys(owners[i] for i in hits.which[found].tolist()))
