"""What the robot looks like from above, from its right side and from its front. Millimetres in the view's own plane.

Views are in ground axes (base_footprint; base_link where nothing rolls). From above, forward is up; from the side, seen
from the robot's right, forward is to the right; from the front, the robot's left is on the right.
"""
from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Literal, NamedTuple

from chassis_describe.assembly.kept import kept
from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.drawings.views import mm_contour, mm_point
from chassis_describe.facts.footprint import footprint_of
from chassis_describe.facts.sight import arcs_of, view_of
from chassis_describe.facts.standing import standing
from chassis_describe.space.plane.hull import convex_hull
from chassis_describe.space.plane.silhouette import Shadow, shadow
from chassis_describe.space.plate.contours import Contour, Edge, cut_of
from chassis_describe.space.plate.shapes import Vec2
from chassis_describe.space.pose import IDENTITY, Pose, Vec3

Side = Literal["top", "side", "front"]
#: Rows: the page's right, the page's up, towards the viewer, in ground axes.
AXES: dict[Side, Pose] = {
    "top": Pose((0.0, -1.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0)),
    "side": Pose((1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, -1.0, 0.0)),
    "front": Pose((0.0, 1.0, 0.0, 0.0, 0.0, 1.0, 1.0, 0.0, 0.0)),
}


class ViewPiece(NamedTuple):
    """One body or plate: outlines, or one circle; ``role`` says how it is filled."""

    owner: str
    role: str
    contours: tuple[Contour, ...]
    circle: tuple[Vec2, float] | None
    nearest: float


class Eye(NamedTuple):
    """A sensor seen from above: its origin, the directions of its view's edges, and arcs that the robot blocks (rad, in the
    view's plane, counter-clockwise from the page's right)."""

    name: str
    kind: str
    at: Vec2
    rays: tuple[Vec2, ...]
    around: bool
    blocked: tuple[tuple[Vec2, ...], ...]
    blocked_deg: float


class HeightMark(NamedTuple):
    """A height over the ground (or over base_link) worth a mark: where it is, and its name."""

    at: Vec2
    name: str
    value: float


class TipMark(NamedTuple):
    """Over which edge the robot tips, and when."""

    middle: Vec2
    degrees: float
    over: str


class RobotView(NamedTuple):
    """One view. ``pieces`` from the furthest to the nearest; plane figures only from above, heights only in elevations."""

    side: Side
    pieces: tuple[ViewPiece, ...]
    bounds: tuple[float, float, float, float]
    com: Vec2 | None
    footprint: tuple[Vec2, ...]
    support: tuple[Vec2, ...]
    tips: tuple[TipMark, ...]
    eyes: tuple[Eye, ...]
    heights: tuple[HeightMark, ...]
    ground: bool


def ground_pose(assembly: Assembly) -> Pose:
    """base_link in the axes that the robot is drawn in."""
    return assembly.rest.base_in_ground if assembly.rest is not None else IDENTITY


@kept
def robot_views(assembly: Assembly) -> tuple[RobotView, RobotView, RobotView]:
    """From above, from the right, from the front."""
    return _view(assembly, "top"), _view(assembly, "side"), _view(assembly, "front")


def _view(assembly: Assembly, side: Side) -> RobotView:
    look = AXES[side] @ ground_pose(assembly)
    pieces = sorted(pieces_of(assembly, look), key=lambda p: p.nearest)
    xs, ys = zip(*(p for piece in pieces for p in corners_of(piece)))
    com = _flat(look.point(assembly.inertial.com)) if assembly.inertial is not None else None
    heights: tuple[HeightMark, ...] = ()
    footprint: tuple[Vec2, ...] = ()
    support: tuple[Vec2, ...] = ()
    tips: tuple[TipMark, ...] = ()
    eyes: tuple[Eye, ...] = ()
    stand = standing(assembly)
    if side == "top":
        up = AXES["top"]
        footprint = tuple(_flat(up.point((*p, 0.0))) for p in footprint_of(assembly))
        if stand is not None:
            feet = {n: _flat(up.point((*f, 0.0))) for n, f in zip(stand.touching, stand.feet)}
            support = convex_hull(feet.values())
            for tip in stand.tips:
                a, b = (stand.touching[k] for k in tip.ends)
                middle = ((feet[a][0] + feet[b][0]) / 2, (feet[a][1] + feet[b][1]) / 2)
                tips += (TipMark(middle, math.degrees(tip.angle), f"{a}, {b}"),)
        eyes = tuple(e for f in assembly.sensors if (e := _eye(assembly, f, look)) is not None)
    else:
        heights = tuple(_heights(assembly, look))
        ys = (*ys, 0.0) if assembly.rest is not None else ys
    return RobotView(side, tuple(pieces), (min(xs), min(ys), max(xs), max(ys)), com, footprint, support, tips, eyes, heights,
                     assembly.rest is not None)


def pieces_of(assembly: Assembly, look: Pose, owners: Iterable[str] | None = None) -> Iterable[ViewPiece]:
    """Every body and plate as ``look`` (base_link → view: right, up, towards the viewer) shows it; of some owners only."""
    wanted = None if owners is None else set(owners)
    for link in assembly.links:
        if wanted is not None and link.owner not in wanted:
            continue
        pose = look @ assembly.poses[link.name]
        for body in link.bodies:
            if body.visible:
                yield piece_of(link.owner, body.role, shadow(body.solid, pose @ body.pose))
        if link.plate is not None:
            yield _plate(assembly, link.owner, pose)


def piece_of(owner: str, role: str, seen: Shadow) -> ViewPiece:
    """A solid's shadow as a piece."""
    if seen.circle is not None:
        return ViewPiece(owner, role, (), (mm_point(seen.circle[0]), seen.circle[1] * 1e3), seen.top)
    points = [mm_point(p) for p in seen.points]
    edges = tuple(Edge(a, b) for a, b in zip(points, [*points[1:], *points[:1]]))
    return ViewPiece(owner, role, (edges,), None, seen.top)


def _plate(assembly: Assembly, name: str, pose: Pose) -> ViewPiece:
    plate = assembly.decks[name].plate
    if abs(pose.z_axis[2]) > 1 - 1e-9 and abs(abs(pose.r[0]) + abs(pose.r[1]) - 1) < 1e-9:
        cut = cut_of(plate)
        contours = tuple(_turned(mm_contour(c), pose) for c in (*cut.outer, *cut.inner))
        return ViewPiece(name, "plate", contours, None, pose.t[2])
    flat = plate.outer_points().tolist()
    points = [pose.point((x, y, z)) for x, y in flat for z in (0.0, -plate.thickness)]
    hull = [mm_point(p) for p in convex_hull((x, y) for x, y, _ in points)]
    edges = tuple(Edge(a, b) for a, b in zip(hull, [*hull[1:], *hull[:1]]))
    return ViewPiece(name, "plate", (edges,), None, max(z for _, _, z in points))


def _turned(contour: Contour, pose: Pose) -> Contour:
    """A contour (mm) of a plane that lies square in the view (quarter turns and mirror images), in the view's plane."""
    def put(p: Vec2) -> Vec2:
        x, y, _ = Pose(pose.r, (pose.t[0] * 1e3, pose.t[1] * 1e3, 0.0)).point((*p, 0.0))
        return (round(x, 6) + 0.0, round(y, 6) + 0.0)

    mirrored = pose.r[0] * pose.r[4] - pose.r[1] * pose.r[3] < 0
    return tuple(Edge(put(e.start), put(e.end), put(e.centre) if e.centre else None, e.left != mirrored) for e in contour)


def corners_of(piece: ViewPiece) -> Iterable[Vec2]:
    """Points that bound a piece."""
    if piece.circle is not None:
        (x, y), r = piece.circle
        return [(x - r, y - r), (x + r, y + r)]
    return [e.start for c in piece.contours for e in c]


def _flat(p: Vec3) -> Vec2:
    return mm_point((p[0], p[1]))


def _eye(assembly: Assembly, facet: SensorFacet, look: Pose) -> Eye | None:
    sensor = facet.sensor
    if sensor.kind not in ("lidar", "camera", "depth_camera", "ranger"):
        return None
    pose = look @ facet.pose
    view = view_of(facet) if sensor.kind == "lidar" or sensor.fov is not None else 0.0
    around = view > 2 * math.pi - 1e-6
    rays = () if around or view == 0 else _fan(pose, -view / 2, view / 2)
    arcs = arcs_of(assembly).get(facet.frame, ()) if sensor.kind == "lidar" else ()
    blocked = tuple(_fan(pose, arc.start, arc.end) for arc in arcs)
    degrees = math.degrees(math.fsum(arc.end - arc.start for arc in arcs))
    name = facet.placement if len(assembly.parts[facet.placement].part.sensors) == 1 else f"{facet.placement}.{sensor.name}"
    return Eye(name, sensor.kind, _flat(pose.t), rays, around, blocked, degrees)


def _fan(pose: Pose, start: float, end: float) -> tuple[Vec2, ...]:
    """Directions of beams in the view, 3 degrees apart at most; a beam straight at the viewer has none."""
    count = max(1, math.ceil((end - start) / math.radians(3)))
    out: list[Vec2] = []
    for k in range(count + 1):
        a = start + (end - start) * k / count
        x, y, _ = pose.vector((math.cos(a), math.sin(a), 0.0))
        length = math.hypot(x, y)
        if length > 0.05:
            out.append((x / length, y / length))
    return tuple(out)


def _heights(assembly: Assembly, look: Pose) -> Iterable[HeightMark]:
    for name, facet in assembly.decks.items():
        x, y, _ = (look @ facet.pose).t
        if abs((look @ facet.pose).z_axis[1]) > 0.99:
            yield HeightMark(mm_point((x, y)), f"{name} top", y * 1e3)
    for sensor in assembly.sensors:
        at = look.point(sensor.pose.t)
        yield HeightMark(_flat(at), sensor.placement if len(assembly.parts[sensor.placement].part.sensors) == 1
                     else f"{sensor.placement}.{sensor.sensor.name}", at[1] * 1e3)
    if assembly.inertial is not None:
        at = look.point(assembly.inertial.com)
        yield HeightMark(_flat(at), "centre of mass", at[1] * 1e3)
