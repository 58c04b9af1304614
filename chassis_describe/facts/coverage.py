"""What some sensor sees around the robot, and what none does: the lowest and the highest height, by bearing and distance.

An obstacle is a thin upright pole on the ground, so far outside the outline along a bearing from the root's origin. A point
of it is seen where a sensor that measures distances (lidar, depth camera, ranger) has it in view and within range, and
nothing of the robot is in between. A lidar sees where one of its layers crosses the pole. Metres, in the root frame.
"""
from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.facts.footprint import footprint_of
from chassis_describe.facts.sight import reach_of, scene_for, view_of
from chassis_describe.facts.usual_sensors import WIDEST_IMAGE, pixels_of
from chassis_describe.space.plane.hull import Vec2
from chassis_describe.space.pose import Pose
from chassis_describe.space.sight.rays import cast
from chassis_describe.space.sight.scene import Array, Scene

#: Bearings (degrees, counter-clockwise from forward) and distances from the outline (m) that are looked at.
BEARINGS = tuple(range(0, 360, 5))
DISTANCES = (0.2, 0.5, 1.0)
#: How far a sensor is taken to see that states no range (m).
FAR = 10.0
#: Kinds that measure how far away something is.
MEASURING = ("lidar", "depth_camera", "ranger")
#: Points that are looked at of the part of a pole that is in view, evenly by angle from the eye: what hides less than a
#: 40th of the view may be missed. Then so many halvings of the step in which sight begins or ends: to under a millimetre.
_SAMPLES, _HALVINGS = 40, 8
#: An edge of a view counts as in it (rounding).
_EDGE = 1e-9

Heights = tuple[tuple[float | None, ...], ...]


class Coverage(NamedTuple):
    """``lowest[k][b]``, ``highest[k][b]``: at distance k and bearing b, the heights (m) between which some sensor sees
    something; None where nothing is seen."""

    lowest: Heights
    highest: Heights


def measures(assembly: Assembly) -> bool:
    """Whether some sensor measures distances."""
    return any(facet.sensor.kind in MEASURING for facet in assembly.sensors)


class _Eye(NamedTuple):
    """A sensor with the robot before it: ``pose`` in the root frame, ``scene`` in the sensor's axes."""

    facet: SensorFacet
    pose: Pose
    scene: Scene


@kept
def coverage_of(assembly: Assembly) -> Coverage | None:
    """None where there is no ground."""
    outline = footprint_of(assembly)
    if assembly.rest is None or len(outline) < 3:
        return None
    feet = np.array([foot(outline, bearing, away) for away in DISTANCES for bearing in BEARINGS])
    low, high = np.full(len(feet), np.inf), np.full(len(feet), -np.inf)
    into_root = assembly.poses[assembly.root].inverse()
    for facet in assembly.sensors:
        if facet.sensor.kind in MEASURING:
            lowest, highest = _seen_of(_Eye(facet, into_root @ facet.pose, scene_for(assembly, facet)), feet)
            low, high = np.fmin(low, lowest), np.fmax(high, highest)
    return Coverage(_rows(low), _rows(high))


def _rows(values: Array) -> Heights:
    return tuple(tuple(float(v) + 0.0 if math.isfinite(v) else None for v in row)
                 for row in values.reshape(len(DISTANCES), len(BEARINGS)))


def foot(outline: tuple[Vec2, ...], bearing: float, distance: float) -> Vec2:
    """Where a ray from the root's origin under that bearing (degrees) is this far past the outline."""
    dx, dy = math.cos(math.radians(bearing)), math.sin(math.radians(bearing))
    edge = 0.0
    for (ax, ay), (bx, by) in zip(outline, outline[1:] + outline[:1]):
        across = dx * (by - ay) - dy * (bx - ax)
        if abs(across) > 1e-12:
            along = (ax * (by - ay) - ay * (bx - ax)) / across
            part = (ax * dy - ay * dx) / across
            if along > 0 and -1e-9 <= part <= 1 + 1e-9:
                edge = max(edge, along)
    return (edge + distance) * dx, (edge + distance) * dy


def _seen_of(eye: _Eye, feet: Array) -> tuple[Array, Array]:
    """Lowest and highest height (m) of each pole (n, 2) that one sensor sees; NaN where it sees nothing of it."""
    foot, up = _local(eye, np.column_stack([feet, np.zeros(len(feet))])), np.array(eye.pose.r[6:9])
    elevations = _elevations(eye.facet)
    if elevations is not None and abs(up[2]) > 1e-6:
        heights = np.hstack([_on_layer(foot, up, e) for e in elevations])
        seen = _sees(eye, feet, heights)
        return _ends(heights, seen)
    heights = _by_angle(foot, up, *_span(eye.facet, foot, up))
    seen = _sees(eye, feet, heights)
    low, high = _ends(heights, seen)
    return _halved(eye, feet, heights, seen, low, -1), _halved(eye, feet, heights, seen, high, 1)


def _ends(heights: Array, seen: Array) -> tuple[Array, Array]:
    some = seen.any(axis=1)
    return (np.where(some, np.where(seen, heights, np.inf).min(axis=1), np.nan),
            np.where(some, np.where(seen, heights, -np.inf).max(axis=1), np.nan))


def _halved(eye: _Eye, feet: Array, heights: Array, seen: Array, end: Array, way: int) -> Array:
    """The end of what is seen, found between the last sample that is seen and the next one, which is not."""
    rows = np.flatnonzero(seen.any(axis=1))
    at = seen[rows].argmax(axis=1) if way < 0 else seen.shape[1] - 1 - seen[rows, ::-1].argmax(axis=1)
    inner = (at + way >= 0) & (at + way < seen.shape[1])
    rows, at = rows[inner], at[inner]
    good, bad = heights[rows, at], heights[rows, at + way]
    for _ in range(_HALVINGS):
        middle = (good + bad) / 2
        fine = _sees(eye, feet[rows], middle[:, None])[:, 0]
        good, bad = np.where(fine, middle, good), np.where(fine, bad, middle)
    out: Array = end.copy()
    out[rows] = good
    return out


def _local(eye: _Eye, points: Array) -> Array:
    """Points (n, 3) of the root frame, in the sensor's axes."""
    moved: Array = (points - np.array(eye.pose.t)) @ np.array(eye.pose.r).reshape(3, 3)
    return moved


def _sees(eye: _Eye, feet: Array, heights: Array) -> Array:
    """Which points of the poles (n, 2) at those heights (n, k) are in view and range, and not hidden by the robot."""
    points = _local(eye, np.column_stack([np.repeat(feet, heights.shape[1], axis=0), heights.ravel()]))
    away = np.sqrt((points**2).sum(axis=1))
    near = eye.facet.sensor.range[0] if eye.facet.sensor.range is not None else 0.0
    with np.errstate(invalid="ignore"):
        seen = (heights.ravel() >= -_EDGE) & (away >= near - _EDGE) & (away <= _reach(eye.facet) + _EDGE) & (away > _EDGE)
    seen &= _in_view(eye.facet, points)
    some = np.flatnonzero(seen)
    if len(some):
        seen[some] = cast(eye.scene, points[some] / away[some, None]).distance >= away[some]
    return np.asarray(seen.reshape(heights.shape))


def _reach(facet: SensorFacet) -> float:
    reach = reach_of(facet)
    return reach if math.isfinite(reach) else FAR


def _in_view(facet: SensorFacet, points: Array) -> Array:
    """Which points, in the sensor's axes, lie in its field of view; of a lidar, at its azimuths: layers cross there."""
    x, y, z = points.T
    with np.errstate(invalid="ignore"):
        if facet.sensor.kind == "lidar":
            seen = np.abs(np.arctan2(y, x)) <= view_of(facet) / 2 + _EDGE
        elif facet.sensor.kind == "ranger":
            seen = np.arctan2(np.hypot(y, z), x) <= (facet.sensor.fov or 0.0) / 2 + _EDGE
        else:
            seen = (np.array(_walls(facet)) @ points.T >= -_EDGE).all(axis=0) & (x > 0)
    return np.asarray(seen)


def _walls(facet: SensorFacet) -> list[tuple[float, float, float]]:
    """Inward normals of the four sides of an image's pyramid; of a fisheye, which is not judged, nothing is inside."""
    fov = facet.sensor.fov
    if fov is None or fov > WIDEST_IMAGE:
        return [(1.0, 0.0, 0.0), (-1.0, 0.0, 0.0)]
    width, height = pixels_of(facet)
    across = math.tan(fov / 2)
    rise = across * height / width
    return [(across, 1.0, 0.0), (across, -1.0, 0.0), (rise, 0.0, 1.0), (rise, 0.0, -1.0)]


def _elevations(facet: SensorFacet) -> list[float] | None:
    """The layers of a lidar (rad); None of what fills its view, and of a lidar that doesn't say where its layers are."""
    sensor = facet.sensor
    if sensor.kind != "lidar":
        return None
    if sensor.layers == 1:
        return [0.0]
    if sensor.vertical is None:
        return [0.0]
    low, high = sensor.vertical
    return [low + (high - low) * k / (sensor.layers - 1) for k in range(sensor.layers)]


def _on_layer(foot: Array, up: Array, elevation: float) -> Array:
    """Heights (n, 2) at which poles cross one layer, a cone about z of that elevation; NaN where they don't.

    z² cos²e = (x² + y²) sin²e with the sign of e, on foot + h·up; the level layer is a plane.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        if abs(elevation) < 1e-12:
            once = -foot[:, 2] / up[2]
            return np.column_stack([once, once])
        c2, s2 = math.cos(elevation)**2, math.sin(elevation)**2
        weights = np.array([-s2, -s2, c2])
        roots = _roots(float(weights @ up**2), foot @ (weights * up), foot**2 @ weights)
        z = foot[:, 2, None] + roots * up[2]
        return np.where(z * elevation > 0, roots, np.nan)


def _roots(a: float, b: Array, c: Array) -> Array:
    """Both solutions (n, 2) of a·h² + 2 b·h + c = 0; NaN where there is none."""
    with np.errstate(divide="ignore", invalid="ignore"):
        if abs(a) < 1e-12:
            return np.column_stack([-c / (2 * b), np.full(len(c), np.nan)])
        root: Array = np.sqrt(b * b - a * c)
        return np.column_stack([(-b - root) / a, (-b + root) / a])


def _span(facet: SensorFacet, foot: Array, up: Array) -> tuple[Array, Array]:
    """Between which heights each pole is in view and reach; NaN where it is not. A view is convex, so it is one
    span; where a wide upright scan's isn't, what is between is told by the samples."""
    reach = _reach(facet)
    bounds = [_roots(1.0, foot @ up, (foot**2).sum(axis=1) - reach**2), np.zeros((len(foot), 1))]
    if facet.sensor.kind == "ranger":
        c2 = math.cos((facet.sensor.fov or 0.0) / 2)**2
        weights = np.array([1 - c2, -c2, -c2])
        bounds.append(_roots(float(weights @ up**2), foot @ (weights * up), foot**2 @ weights))
    elif facet.sensor.kind == "lidar":  # a scan plane that stands upright: all of a pole that stands in it
        inside = np.abs(foot[:, 2]) <= 1e-6
        half = view_of(facet) / 2
        edges = [np.array((-math.sin(edge), math.cos(edge), 0.0)) for edge in (half, -half)]
        with np.errstate(divide="ignore", invalid="ignore"):
            bounds += [np.where(inside, -(foot @ edge) / (up @ edge), np.nan)[:, None] for edge in edges]
    else:
        with np.errstate(divide="ignore", invalid="ignore"):
            bounds += [(-(foot @ wall) / (up @ wall))[:, None] for wall in map(np.array, _walls(facet)) if abs(up @ wall) > 1e-12]
    marks = np.sort(np.hstack(bounds), axis=1)  # NaN last
    middles = (marks[:, :-1] + marks[:, 1:]) / 2
    points = foot[:, None] + middles[..., None] * up
    flat = points.reshape(-1, 3)
    inside = (_in_view(facet, flat) & (np.sqrt((flat**2).sum(axis=1)) <= reach)).reshape(middles.shape) & (middles > 0)
    if facet.sensor.kind == "lidar":
        inside &= np.abs(points[..., 2]) <= 1e-6
    low = np.where(inside, marks[:, :-1], np.inf).min(axis=1)
    high = np.where(inside, marks[:, 1:], -np.inf).max(axis=1)
    none = ~inside.any(axis=1)
    return np.where(none, np.nan, low), np.where(none, np.nan, high)


def _by_angle(foot: Array, up: Array, low: Array, high: Array) -> Array:
    """Heights (n, _SAMPLES) from low to high, evenly by the angle under which the eye sees them."""
    nearest = -(foot @ up)
    aside = np.maximum(np.sqrt(((foot + nearest[:, None] * up) ** 2).sum(axis=1)), 1e-6)
    start, end = np.arctan((low - nearest) / aside), np.arctan((high - nearest) / aside)
    steps = np.linspace(0.0, 1.0, _SAMPLES)
    heights = nearest[:, None] + aside[:, None] * np.tan(start[:, None] + (end - start)[:, None] * steps)
    heights[:, 0], heights[:, -1] = low, high
    return np.asarray(heights)
