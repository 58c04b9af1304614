"""What a plane cuts out of solids, as angles seen from a point in it: which beams of a flat scan meet which solid.

All in the eye's axes: the plane is z = 0, the eye the origin, angles counter-clockwise from x (sensor_msgs/LaserScan).
A solid that the plane merely touches is not cut. Box sections are polygons, of cylinders ellipses cut by the end
planes, of spheres circles: the extreme angles are corners, tangent points and ends of chords in closed form, and where
a section reaches out of range, also its crossings with the circle of that radius. Sheets are cut as polygons.
"""
from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np

from chassis_describe.space.sight.scene import SKIN, Array, Scene, SolidGroup
from chassis_describe.space.sight.section_sheet import sheet_shadows
from chassis_describe.space.sight.turns import FULL

_CORNERS = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)], dtype=float)
_EDGES = np.array([(a, b) for a in range(8) for b in range(a + 1, 8) if np.abs(_CORNERS[a] - _CORNERS[b]).sum() == 2])


class Shade(NamedTuple):
    """Beams from ``start`` counter-clockwise over ``width`` (rad, up to 2π) meet solid ``which``."""

    start: float
    width: float
    which: int


def shadows(scene: Scene, reach: float = math.inf) -> list[Shade]:
    """The angles under which the plane z = 0 of the scene's frame meets each solid within ``reach`` of the origin.

    A solid around the origin takes the whole circle. Sheets may cast several shadows each.
    """
    out: list[Shade] = []
    inside = scene.holding()
    out += [Shade(*FULL, i) for i in inside]
    at_surface = sorted(set(scene.holding(depth=-SKIN)) - set(inside))
    for group, kind in zip(scene.groups, (_BOX, _CYLINDER, _SPHERE)):
        group = group.keep((kind.half_height(group) - np.abs(group.centre[:, 2]) > SKIN)
                           & (np.linalg.norm(group.centre, axis=1) - group.bound < reach)
                           & ~np.isin(group.which, inside))
        if not len(group.which):
            continue
        if at_surface:  # so that the origin is clear of them
            group = group._replace(half=group.half - 2 * SKIN * np.isin(group.which, at_surface)[:, None])
        far = np.hypot(group.centre[:, 0], group.centre[:, 1]) + group.bound > reach
        near = group.keep(~far)
        if len(near.which):
            out += _extremes(near.which, kind.points(near))
        for k in np.flatnonzero(far):
            out += _within(group.keep([k]), kind, reach)
    for hull in scene.hulls:
        z = hull.points[:, 2]
        if hull.which not in inside and z.min() < -SKIN and z.max() > SKIN:
            points = (hull.smaller(2 * SKIN) if hull.which in at_surface else hull).section(reach)
            if len(points):
                out += _extremes(np.array([hull.which]), points[None])
    for placed in scene.sheets:
        if placed.which not in inside:
            out += [Shade(start, width, placed.which) for start, width in sheet_shadows(placed, reach)]
    return sorted(out)


def _extremes(which: Array, points: Array) -> Iterator[Shade]:
    """Least and greatest angle of points (n, k, 2) of convex sections off the origin; nan: no point."""
    middle = np.nanmean(points, axis=1)
    x, y = middle[:, :1], middle[:, 1:]
    angles = np.arctan2(x * points[..., 1] - y * points[..., 0], x * points[..., 0] + y * points[..., 1])
    low, high = np.nanmin(angles, axis=1), np.nanmax(angles, axis=1)
    towards = np.arctan2(middle[:, 1], middle[:, 0])
    for i, start, width in zip(which.tolist(), (towards + low).tolist(), (high - low).tolist()):
        yield Shade(start, width, i)


# ----------------------------------------------------------------------------------------------- points of the sections
def _box_points(group: SolidGroup) -> Array:
    """Where the 12 edges pass through the plane (n, 12, 2)."""
    corners = group.centre[:, None, :] + np.einsum("nij,nkj->nki", group.turn, _CORNERS * group.half[:, None, :])
    a, b = corners[:, _EDGES[:, 0]], corners[:, _EDGES[:, 1]]
    za, zb = a[..., 2], b[..., 2]
    crosses = (za < 0) != (zb < 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        s = np.where(crosses, za / (za - zb), np.nan)
    return np.asarray(a[..., :2] + s[..., None] * (b[..., :2] - a[..., :2]))


def _cylinder_points(group: SolidGroup) -> Array:
    """Chords of the end discs and the points where beams touch the side (n, 6, 2)."""
    c, axis, r, h = group.centre, group.turn[:, :, 2], group.half[:, 0], group.half[:, 2]
    points = np.full((len(r), 6, 2), np.nan)
    slope = np.hypot(axis[:, 0], axis[:, 1])
    with np.errstate(divide="ignore", invalid="ignore"):
        # The direction in an end disc that rises most, and the level one.
        level = np.stack([-axis[:, 1], axis[:, 0], np.zeros_like(slope)], axis=1) / slope[:, None]
        rising = np.cross(level, axis)
        rising *= np.sign(rising[:, 2:])
        for k, side in enumerate((-1.0, 1.0)):
            end = c + side * h[:, None] * axis
            up = -end[:, 2] / rising[:, 2]
            half_chord = np.sqrt(r**2 - up**2)
            for m, way in enumerate((-1.0, 1.0)):
                p = end + up[:, None] * rising + (way * half_chord)[:, None] * level
                points[:, 2 * k + m] = p[:, :2]
        for m, p in enumerate(_touching(c, axis, r)):
            along = np.einsum("ni,ni->n", p - c, axis)
            points[:, 4 + m] = np.where((np.abs(along) <= h)[:, None], p[:, :2], np.nan)
    return points


def _touching(c: Array, axis: Array, r: Array) -> Iterator[Array]:
    """Points (n, 3) of the plane where lines from the origin touch an endless cylinder; nan where there are none."""
    foot = c - np.einsum("ni,ni->n", c, axis)[:, None] * axis  # the axis' nearest point to the origin
    d = np.linalg.norm(foot, axis=1)
    out = -foot / d[:, None]  # from the axis towards the origin
    side = np.cross(axis, out)
    cosine = r / d  # of the angle at the axis between the origin and the touching line
    sine = np.sqrt(1 - cosine**2)
    for way in (-1.0, 1.0):
        on_line = c + r[:, None] * (cosine[:, None] * out + way * sine[:, None] * side)
        yield on_line - (on_line[:, 2] / axis[:, 2])[:, None] * axis


def _sphere_points(group: SolidGroup) -> Array:
    """Where beams touch the circle of the section (n, 2, 2)."""
    c = group.centre[:, :2]
    rho2 = group.half[:, 0] ** 2 - group.centre[:, 2] ** 2
    d2 = (c**2).sum(axis=1)
    tangent2 = np.maximum(d2 - rho2, 0.0)
    across = np.stack([-c[:, 1], c[:, 0]], axis=1)
    along = (tangent2 / d2)[:, None] * c
    aside = (np.sqrt(tangent2 * rho2) / d2)[:, None] * across
    return np.stack([along - aside, along + aside], axis=1)


# ------------------------------------------------------------------------------------- sections that reach out of range
def _within(one: SolidGroup, kind: _Kind, reach: float) -> Iterator[Shade]:
    """The part of one section that is within reach: what is left of its extreme points, and its crossings with the
    circle. Section and disc are convex, and seen from the middle an arc of the circle is extreme at its ends."""
    own = kind.points(one)[0]
    own = own[np.hypot(own[:, 0], own[:, 1]) <= reach]
    points = [*own.tolist(), *(p for p in kind.crossings(one, reach) if kind.holds(one, p))]
    if points:
        yield from _extremes(one.which, np.array([points]))


def _local(one: SolidGroup, point: tuple[float, float]) -> Array:
    """Distances along the solid's axes from its centre to a point of the plane (3,)."""
    return np.asarray(np.abs((np.array([*point, 0.0]) - one.centre[0]) @ one.turn[0]))


def _in_box(one: SolidGroup, point: tuple[float, float]) -> bool:
    return bool((_local(one, point) <= one.half[0] + SKIN).all())


def _in_cylinder(one: SolidGroup, point: tuple[float, float]) -> bool:
    x, y, z = _local(one, point)
    return bool(math.hypot(x, y) <= one.half[0, 0] + SKIN and z <= one.half[0, 2] + SKIN)


def _in_sphere(one: SolidGroup, point: tuple[float, float]) -> bool:
    return bool(np.linalg.norm(_local(one, point)) <= one.half[0, 0] + SKIN)


def _line_crossings(normal: Array, offset: float, reach: float) -> list[tuple[float, float]]:
    """Where the line normal·p = offset of the plane meets the circle of radius reach."""
    n = math.hypot(normal[0], normal[1])
    if n < 1e-12 or abs(offset) > n * reach:
        return []
    x, y, d = normal[0] / n, normal[1] / n, offset / n
    s = math.sqrt(reach * reach - d * d)
    return [(d * x - s * y, d * y + s * x), (d * x + s * y, d * y - s * x)]


def _box_crossings(one: SolidGroup, reach: float) -> list[tuple[float, float]]:
    out = []
    for k in range(3):
        normal = one.turn[0][:, k]
        for side in (-1.0, 1.0):
            out += _line_crossings(normal, float(normal @ one.centre[0] + side * one.half[0, k]), reach)
    return out


def _cylinder_crossings(one: SolidGroup, reach: float) -> list[tuple[float, float]]:
    c, axis, (r, _, h) = one.centre[0], one.turn[0][:, 2], one.half[0]
    out = []
    for side in (-1.0, 1.0):
        out += _line_crossings(axis, float(axis @ c + side * h), reach)
    # On the circle p = reach·(cos u, sin u): |p - c|² - ((p - c)·a)² = r² is a sum of harmonics of u up to the second,
    # five samples give its coefficients, and with z = exp(iu) it is a polynomial of degree four.
    u = 2 * math.pi * np.arange(5) / 5
    p = reach * np.stack([np.cos(u), np.sin(u), np.zeros(5)], axis=1) - c
    f = (p**2).sum(axis=1) - (p @ axis) ** 2 - r * r
    harmonics = np.fft.fft(f) / 5  # coefficients of exp(iku), k = 0, 1, 2, -2, -1
    harmonics[np.abs(harmonics) < 1e-14 * np.abs(harmonics).max()] = 0.0
    for root in np.roots(harmonics[[2, 1, 0, 4, 3]]):
        if abs(abs(root) - 1.0) < 1e-6:
            angle = math.atan2(root.imag, root.real)
            out.append((reach * math.cos(angle), reach * math.sin(angle)))
    return out


def _sphere_crossings(one: SolidGroup, reach: float) -> list[tuple[float, float]]:
    """Both circles: 2 c·p = reach² + |c|² - ρ²."""
    c = one.centre[0]
    rho2 = one.half[0, 0] ** 2 - c[2] ** 2
    return _line_crossings(2 * c[:2], float(reach * reach + c[0] ** 2 + c[1] ** 2 - rho2), reach)


class _Kind(NamedTuple):
    """How one kind of solid is cut."""

    half_height: Callable[[SolidGroup], Array]  # half extent along the plane's normal (n,)
    points: Callable[[SolidGroup], Array]  # among them the extreme ones of each section (n, k, 2)
    crossings: Callable[[SolidGroup, float], list[tuple[float, float]]]  # of one solid's surfaces with the circle of reach
    holds: Callable[[SolidGroup, tuple[float, float]], bool]  # whether one solid has a point of the plane, to SKIN


def _box_height(group: SolidGroup) -> Array:
    return np.asarray((np.abs(group.turn[:, 2, :]) * group.half).sum(axis=1))


def _cylinder_height(group: SolidGroup) -> Array:
    up = group.turn[:, 2, :]
    return np.asarray(np.abs(up[:, 2]) * group.half[:, 2] + group.half[:, 0] * np.hypot(up[:, 0], up[:, 1]))


def _sphere_height(group: SolidGroup) -> Array:
    return group.half[:, 0]


_BOX = _Kind(_box_height, _box_points, _box_crossings, _in_box)
_CYLINDER = _Kind(_cylinder_height, _cylinder_points, _cylinder_crossings, _in_cylinder)
_SPHERE = _Kind(_sphere_height, _sphere_points, _sphere_crossings, _in_sphere)
