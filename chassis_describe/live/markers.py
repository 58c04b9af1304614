"""What RViz can draw beside the robot: holes with their coordinates, footprint, support, centre of mass, what sensors see,
blocked sectors, findings where they are. Each marker is fixed to the frame that it belongs to. Metres."""
from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence

from geometry_msgs.msg import Point, Vector3
from std_msgs.msg import ColorRGBA, Header
from visualization_msgs.msg import Marker, MarkerArray

from chassis_describe.assembly.lattice import lattice_point
from chassis_describe.assembly.model import Assembly, SensorFacet
from chassis_describe.facts.bolting import holes_of
from chassis_describe.facts.footprint import circumscribed_radius
from chassis_describe.facts.sight import arcs_of, view_of
from chassis_describe.facts.standing import standing
from chassis_describe.facts.swept_outline import driving_outline
from chassis_describe.facts.usual_sensors import WIDEST_IMAGE, pixels_of
from chassis_describe.findings import Finding, Severity
from chassis_describe.space.plane.hull import convex_hull

Vec3 = tuple[float, float, float]
Colour = tuple[float, float, float, float]

#: Safe for the colour-blind (Okabe and Ito 2008), and told apart in grey by their lightness.
BLUE: Colour = (0.0, 0.45, 0.70, 0.9)
SKY: Colour = (0.34, 0.71, 0.91, 0.35)
OCHRE: Colour = (0.90, 0.62, 0.0, 0.9)
VERMILION: Colour = (0.84, 0.37, 0.0, 1.0)
GREY: Colour = (0.45, 0.45, 0.45, 0.9)
DARK: Colour = (0.1, 0.1, 0.1, 1.0)
#: On a deck with more holes only every fifth row and column is labelled: RViz draws each label as a texture of its own.
MOST_LABELS = 400
#: Height of the letters at holes and findings; width of lines; how far sensors' fields are drawn, of the robot's radius.
_SMALL, _LARGE, _LINE, _REACH = 0.006, 0.02, 0.002, 2.0
#: Step of drawn arcs (rad).
_STEP = math.radians(5.0)


def markers(assembly: Assembly, findings: Sequence[Finding]) -> MarkerArray:
    """Everything, after a marker that clears what was there before."""
    drawn = [Marker(header=Header(frame_id=assembly.base), action=Marker.DELETEALL)]
    numbers: dict[str, int] = {}
    for marker in (*_holes(assembly), *_ground(assembly), *_fields(assembly), *_findings(assembly, findings)):
        marker.id = numbers.get(marker.ns, 0)
        numbers[marker.ns] = marker.id + 1
        drawn.append(marker)
    return MarkerArray(markers=drawn)


# --------------------------------------------------------------------------------------------------------------- the parts
def _holes(assembly: Assembly) -> Iterator[Marker]:
    for name, facet in assembly.decks.items():
        lattice = facet.deck.lattice
        if lattice is None:
            continue
        holes = sorted(holes_of(assembly)[name].lattice_holes)
        if not holes:
            continue
        points = [(*lattice_point(lattice, hole), 0.0005) for hole in holes]
        yield _shape(f"holes {name}", facet.link, Marker.SPHERE_LIST, GREY, (lattice.hole, lattice.hole, 0.001), points)
        step = 1 if len(holes) <= MOST_LABELS else 5
        for (i, j), (x, y, _) in zip(holes, points):
            if i % step == 0 and j % step == 0:
                yield _text(f"coordinates {name}", facet.link, f"{i},{j}", (x, y, 0.004), DARK, min(_SMALL, lattice.pitch * 0.3))


def _ground(assembly: Assembly) -> Iterator[Marker]:
    outline = driving_outline(assembly)
    if outline:
        yield _line("footprint", assembly.root, BLUE, _closed((x, y, 0.0) for x, y in outline))
    stands = standing(assembly)
    if stands is not None:
        feet = convex_hull(stands.feet)
        if len(feet) > 2:
            yield _line("support polygon", assembly.root, OCHRE, _closed((x, y, 0.001) for x, y in feet))
    if assembly.inertial is not None:
        ball = _shape("centre of mass", assembly.base, Marker.SPHERE, OCHRE, (0.02, 0.02, 0.02), ())
        ball.pose.position = _point(assembly.inertial.com)
        yield ball


def _fields(assembly: Assembly) -> Iterator[Marker]:
    reach = _REACH * (circumscribed_radius(assembly) or 0.25)
    for facet in assembly.sensors:
        length = min(reach, facet.sensor.range[1]) if facet.sensor.range is not None else reach
        kind, fov = facet.sensor.kind, facet.sensor.fov
        if kind == "lidar":
            half = view_of(facet) / 2
            yield _line("fields of view", facet.frame, SKY, _sector(-half, half, length))
            for arc in arcs_of(assembly)[facet.frame]:
                yield _shape("blocked sectors", facet.frame, Marker.TRIANGLE_LIST, (*VERMILION[:3], 0.4), (1.0, 1.0, 1.0),
                             _fan(arc.start, arc.end, length))
        elif kind in ("camera", "depth_camera") and fov is not None and fov <= WIDEST_IMAGE:
            yield _pairs("fields of view", facet.frame, SKY, _pyramid(facet, fov, length))
        elif kind == "ranger" and fov is not None:
            yield _pairs("fields of view", facet.frame, SKY, _cone(fov / 2, length))


def _findings(assembly: Assembly, findings: Sequence[Finding]) -> Iterator[Marker]:
    """Each at the first thing that it names; several in one place above one another."""
    heights: dict[str, int] = {}
    for item in findings:
        if item.severity is Severity.NOTE:
            continue
        frame = next((f for name in item.of for f in _frames(assembly, name)), assembly.base)
        number = heights.get(frame, 0)
        heights[frame] = number + 1
        colour = VERMILION if item.severity is Severity.ERROR else OCHRE
        yield _text("findings", frame, f"{item.severity.value}: {item.code}", (0.0, 0.0, 0.05 + 1.2 * _LARGE * number), colour,
                    _LARGE)


def _frames(assembly: Assembly, name: str) -> Iterator[str]:
    if name in assembly.decks:
        yield assembly.decks[name].link
    elif name in assembly.parts:
        yield assembly.parts[name].link
    elif name in assembly.poses:
        yield name


# -------------------------------------------------------------------------------------------------------------- their forms
def _sector(start: float, end: float, length: float) -> list[Vec3]:
    """The edge of a sector about z: out, along the arc, back; a full turn is a circle."""
    count = max(2, math.ceil((end - start) / _STEP) + 1)
    arc = [_at(start + (end - start) * k / (count - 1), length) for k in range(count)]
    return arc if end - start >= 2 * math.pi - 1e-6 else [(0.0, 0.0, 0.0), *arc, (0.0, 0.0, 0.0)]


def _fan(start: float, end: float, length: float) -> list[Vec3]:
    """The sector filled with triangles."""
    count = max(1, math.ceil((end - start) / _STEP))
    angles = [start + (end - start) * k / count for k in range(count + 1)]
    return [p for a, b in zip(angles, angles[1:]) for p in ((0.0, 0.0, 0.0), _at(a, length), _at(b, length))]


def _pyramid(facet: SensorFacet, fov: float, length: float) -> list[Vec3]:
    """Edges of an image's field, x forward: from the eye to the corners, and around them."""
    wide, high = pixels_of(facet)
    y = length * math.tan(fov / 2)
    z = y * high / wide
    corners = [(length, s * y, t * z) for s, t in ((1, 1), (-1, 1), (-1, -1), (1, -1))]
    return [p for k, c in enumerate(corners) for p in ((0.0, 0.0, 0.0), c, c, corners[(k + 1) % 4])]


def _cone(half: float, length: float) -> list[Vec3]:
    """Edges of a cone about x: four sides and its end."""
    count = 24
    ring = [(length * math.cos(half), length * math.sin(half) * math.cos(a), length * math.sin(half) * math.sin(a))
            for a in (2 * math.pi * k / count for k in range(count))]
    sides = [p for k in range(0, count, count // 4) for p in ((0.0, 0.0, 0.0), ring[k])]
    return sides + [p for k in range(count) for p in (ring[k], ring[(k + 1) % count])]


def _at(angle: float, length: float) -> Vec3:
    return (length * math.cos(angle), length * math.sin(angle), 0.0)


def _closed(points: Iterable[Vec3]) -> list[Vec3]:
    found = list(points)
    return [*found, found[0]]


# ------------------------------------------------------------------------------------------------------------- as messages
def _shape(namespace: str, frame: str, kind: int, colour: Colour, scale: Vec3, points: Iterable[Vec3]) -> Marker:
    r, g, b, a = colour
    marker = Marker(header=Header(frame_id=frame), ns=namespace, type=kind, action=Marker.ADD, frame_locked=True,
                    color=ColorRGBA(r=r, g=g, b=b, a=a), scale=Vector3(x=scale[0], y=scale[1], z=scale[2]),
                    points=[_point(p) for p in points])
    marker.pose.orientation.w = 1.0
    return marker


def _line(namespace: str, frame: str, colour: Colour, points: Iterable[Vec3]) -> Marker:
    return _shape(namespace, frame, Marker.LINE_STRIP, colour, (_LINE, 0.0, 0.0), points)


def _pairs(namespace: str, frame: str, colour: Colour, points: Iterable[Vec3]) -> Marker:
    return _shape(namespace, frame, Marker.LINE_LIST, colour, (_LINE, 0.0, 0.0), points)


def _text(namespace: str, frame: str, text: str, at: Vec3, colour: Colour, height: float) -> Marker:
    marker = _shape(namespace, frame, Marker.TEXT_VIEW_FACING, colour, (0.0, 0.0, height), ())
    marker.text, marker.pose.position = text, _point(at)
    return marker


def _point(at: Vec3) -> Point:
    return Point(x=float(at[0]), y=float(at[1]), z=float(at[2]))
