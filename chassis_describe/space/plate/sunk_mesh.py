"""A plate with countersunk holes as a closed surface of triangles. Metres."""
from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from chassis_describe.space.plate.depth import Array
from chassis_describe.space.plate.mesh import face_loops, plate_mesh
from chassis_describe.space.plate.plate import Plate
from chassis_describe.space.plate.triangulate import triangulate
from chassis_describe.space.sunk import Sink

_NEAR = 1e-6


def sunk_mesh(plate: Plate, sinks: Sequence[Sink]) -> Array:
    """Triangles (n, 3, 3) in the plate frame, outward; each sink is about one of the plate's round holes, in its lower face.

    As ``plate_mesh``, but the ring of a sunk hole is wider in the lower face, and a ring of its own width stands between the cone
    and the cylinder above. Raises ValueError for a sink that is about no hole.
    """
    if not sinks:
        return plate_mesh(plate)
    loops = face_loops(plate)
    widened: list[Array] = []
    levels: list[Array | None] = []
    left = list(sinks)
    for loop in loops:
        middle = (loop.max(axis=0) + loop.min(axis=0)) / 2
        reach = float(np.hypot(*(loop - middle).T).max())
        sink = next((s for s in left if np.hypot(*(middle - s.at)) < _NEAR and abs(reach - s.hole / 2) < _NEAR), None)
        if sink is None:
            widened.append(loop)
            levels.append(None)
            continue
        left.remove(sink)
        wide = np.asarray(sink.at) + (loop - sink.at) * (sink.diameter / sink.hole)
        widened.append(wide.astype(np.float32).astype(float))
        levels.append(np.full(len(loop), -plate.thickness + sink.depth))
    if left:
        raise ValueError(f"a countersink at {left[0].at} is about no hole of the plate")
    base = float(np.float32(plate.thickness))
    top = _at(np.concatenate(loops), 0.0)
    bottom = _at(np.concatenate(widened), -base)
    over = np.array(triangulate([p.tolist() for p in loops]), dtype=np.int64).reshape(-1, 3)
    under = np.array(triangulate([p.tolist() for p in widened]), dtype=np.int64).reshape(-1, 3)
    sides: list[Array] = []
    for loop, wide, level in zip(loops, widened, levels):
        rings = [_at(wide, -base), *([] if level is None else [_at(loop, float(np.float32(level[0])))]), _at(loop, 0.0)]
        sides += [_band(low, high) for low, high in zip(rings, rings[1:])]
    return np.concatenate([top[over], bottom[under[:, ::-1]], *sides])


def _at(points: Array, z: float) -> Array:
    return np.concatenate([points, np.full((len(points), 1), z)], axis=1)


def _band(low: Array, high: Array) -> Array:
    """The wall between two rings of as many corners, seen from outside the material."""
    after_low, after_high = np.roll(low, -1, axis=0), np.roll(high, -1, axis=0)
    return np.concatenate([np.stack([low, after_low, after_high], axis=1), np.stack([low, after_high, high], axis=1)])
