"""The outline of the robot on the ground (DEVELOPERS.md, "Footprint"): convex hull of everything, in base_footprint. Metres."""
from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly
from chassis_describe.facts.swing import swings_of
from chassis_describe.space.plane.hull import Vec2, convex_hull, inner_radius, outer_radius
from chassis_describe.space.plane.outline import on_grid, simplified, without_short_edges
from chassis_describe.space.pose import Pose
from chassis_describe.space.solids import Box, Cylinder, Hull, Solid, Sphere

#: Corners that a footprint may have.
MOST_POINTS = 16
#: Its corners stand on a grid of 1 mm (m).
GRID = 1e-3
#: An edge of it is at least this long (m): costmap cells are 10 mm and more.
SHORTEST_EDGE = 5e-3
#: Circles are bounded by tangents at so many points: 0.12 % of the radius further out at the corners between them.
_FACETS = 64


@kept
def footprint_of(assembly: Assembly) -> tuple[Vec2, ...]:
    """Counter-clockwise outline in base_footprint, at most 16 corners on whole millimetres, around everything, with no
    edge under 5 mm.

    Empty where the robot has no ground to stand on.
    """
    return written_outline(unrounded_hull(assembly))


def written_outline(hull: tuple[Vec2, ...]) -> tuple[Vec2, ...]:
    """A hull as it is written: few corners, whole millimetres, no short edges, outside it everywhere."""
    return without_short_edges(on_grid(simplified(hull, MOST_POINTS), GRID), SHORTEST_EDGE, GRID)


@kept
def unrounded_hull(assembly: Assembly) -> tuple[Vec2, ...]:
    """The convex hull before corners are dropped and rounded; curves bounded from outside, to 0.12 % of their radius."""
    if assembly.rest is None:
        return ()
    ground = assembly.rest.base_in_ground
    clouds: list[Any] = []
    solids: list[tuple[Solid, Pose]] = []
    for link in assembly.links:
        pose = ground @ assembly.poses[link.name]
        solids += [(body.solid, pose @ body.pose) for body in link.bodies]
        if link.plate is not None:
            flat = link.plate.outer_points(_FACETS)
            for z in (0.0, -link.plate.thickness):
                clouds.append(_projected(np.column_stack([flat, np.full(len(flat), z)]), pose))
    # The ring that a swivel caster sweeps counts, whichever way it happens to trail.
    solids += [(Cylinder(swing.reach, 0.0), ground @ swing.pose) for swing in swings_of(assembly)]
    clouds += _solid_points(solids, clouds)
    return convex_hull(_extremes(np.concatenate(clouds))) if clouds else ()


def under_a_plate(assembly: Assembly) -> bool:
    """Whether the origin of base_footprint lies well inside one plate's own hull, and so inside that of everything."""
    if assembly.rest is None:
        return False
    ground = assembly.rest.base_in_ground
    for link in assembly.links:
        if link.plate is not None:
            flat = link.plate.outer_points(_FACETS)
            frame = _frame(_projected(np.column_stack([flat, np.zeros(len(flat))]), ground @ assembly.poses[link.name]))
            if frame is not None and _inside(frame, np.zeros((1, 2)), 1e-9)[0]:
                return True
    return False


def circumscribed_radius(assembly: Assembly) -> float | None:
    """Distance (m) of the footprint's furthest corner from base_footprint's origin; None without ground."""
    return outer_radius(footprint_of(assembly)) if footprint_of(assembly) else None


def inscribed_radius(assembly: Assembly) -> float | None:
    """Distance (m) of the footprint's nearest edge; 0 when the origin is not inside, None without ground."""
    return inner_radius(footprint_of(assembly)) if footprint_of(assembly) else None


def _projected(points: Any, pose: Pose) -> Any:
    """Points (n, 3) in a frame → (n, 2) on the ground."""
    rows = np.array(pose.r).reshape(3, 3)[:2]
    return points @ rows.T + np.array(pose.t[:2])


def _ring() -> Any:
    """Corners (n, 2) of a polygon around the unit circle that touches it on both axes."""
    angles = (np.arange(_FACETS) + 0.5) * (2 * math.pi / _FACETS)
    return np.stack([np.cos(angles), np.sin(angles)], axis=1) / math.cos(math.pi / _FACETS)


def _solid_points(solids: Sequence[tuple[Solid, Pose]], others: Sequence[Any]) -> list[Any]:
    """Points on the ground whose hull holds the solids, kind by kind, with ``others``; of round solids, which have many, only
    of those that reach out of the hull of all the rest."""
    out = [_projected(np.array(s.points), p) for s, p in solids if isinstance(s, Hull)]
    boxes = [(s, p) for s, p in solids if isinstance(s, Box) and not isinstance(s, Hull)]
    if boxes:
        signs = np.array([(x, y, z) for x in (-0.5, 0.5) for y in (-0.5, 0.5) for z in (-0.5, 0.5)])
        corners = signs[None] * np.array([s.size for s, _ in boxes])[:, None]
        out.append(_moved(corners, boxes))
    frame = _frame(np.concatenate([*others, *out])) if others or out else None
    ring = _ring()
    cylinders = _reaching_out([(s, p) for s, p in solids if isinstance(s, Cylinder)], frame,
                              lambda s: math.hypot(s.radius, s.length / 2))
    if cylinders:
        sizes = np.array([(s.radius, s.length / 2) for s, _ in cylinders])
        rim = np.concatenate([np.column_stack([ring, np.full(_FACETS, z)]) for z in (-1.0, 1.0)])
        out.append(_moved(rim[None] * sizes[:, None][..., [0, 0, 1]], cylinders))
    spheres = _reaching_out([(s, p) for s, p in solids if isinstance(s, Sphere)], frame, lambda s: s.radius)
    if spheres:
        middles = np.array([p.t[:2] for _, p in spheres])
        radii = np.array([s.radius for s, _ in spheres])
        out.append((middles[:, None] + ring[None] * radii[:, None, None]).reshape(-1, 2))
    return out


def _reaching_out(solids: list[tuple[Any, Pose]], frame: Any, radius: Callable[[Any], float]) -> list[tuple[Any, Pose]]:
    """Those whose ball about their middle is not well inside the frame: tangents of the others end inside it too."""
    if frame is None or not solids:
        return solids
    middles = np.array([p.t[:2] for _, p in solids])
    reach = np.array([radius(s) for s, _ in solids]) / math.cos(math.pi / _FACETS)
    return [solids[k] for k in np.flatnonzero(~_inside(frame, middles, reach + 1e-9)).tolist()]


def _moved(points: Any, solids: Sequence[tuple[Any, Pose]]) -> Any:
    """Points (k, n, 3) of k solids, on the ground (k·n, 2)."""
    turns = np.array([p.r for _, p in solids]).reshape(-1, 3, 3)[:, :2]
    shifts = np.array([p.t[:2] for _, p in solids])
    return (np.einsum("kij,knj->kni", turns, points) + shifts[:, None]).reshape(-1, 2)


def _extremes(points: Any) -> list[Vec2]:
    """The points that can be corners of the hull: none that lies well inside the polygon of the furthest ones (Akl and Toussaint
    1978)."""
    frame = _frame(points) if len(points) > 200 else None
    if frame is not None:
        points = points[~_inside(frame, points, 1e-12)]
    # Two routes to one corner may differ in the last bit, which would leave edges of no length.
    return sorted({(x, y) for x, y in (np.round(points, 12) + 0.0).tolist()})


def _frame(points: Any) -> Any:
    """Corners (n, 2) of the polygon of the points that are furthest in 32 directions, counter-clockwise; None where it has no
    inside."""
    angles = np.arange(32) * (2 * math.pi / 32)
    far = points[sorted(set(np.argmax(np.stack([np.cos(angles), np.sin(angles)]).T @ points.T, axis=1).tolist()))]
    frame = convex_hull(map(tuple, far.tolist()))
    return np.array(frame) if len(frame) > 2 else None


def _inside(frame: Any, points: Any, margin: Any) -> Any:
    """Which points are further than ``margin`` (a number, or one for each) inside the convex polygon."""
    sides = np.roll(frame, -1, axis=0) - frame
    normals = np.stack([-sides[:, 1], sides[:, 0]], axis=1) / np.hypot(sides[:, 0], sides[:, 1])[:, None]
    return ((points @ normals.T - (normals * frame).sum(axis=1)).min(axis=1)) > margin
