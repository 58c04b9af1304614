"""Standing on the ground: contacts of balls and upright discs, the plane that carries them. Metres.

A roller's lowest point depends on which way is up: for the (not unit) normal m it lies at the height
h(m) = m·c - r·S(m), with S = |m| for a ball and |m - (m·a)a| for a disc about the axis a. The gradient of h is the lowest
point itself, so Newton's step towards a plane that touches three rollers is the plane through their lowest points.
"""
from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import combinations
from typing import Literal, NamedTuple

from chassis_describe.space.plane.hull import convex_hull, depth
from chassis_describe.space.pose import IDENTITY_ROTATION, Pose, Rotation, Vec3, unit
from chassis_describe.tolerances import ON_GROUND, SAME_LENGTH
from chassis_describe.values import dataclass

Vec2 = tuple[float, float]
_UP: Vec3 = (0.0, 0.0, 1.0)
_AHEAD: Vec3 = (1.0, 0.0, 0.0)
#: Newton's method has converged when slopes change by less (1e-12 of 5 m is far below ON_GROUND) …
_CONVERGED = 1e-14
#: … and a slope below this is none: rounding of sums of metres.
_NO_SLOPE = 1e-12
#: Faces that stand steeper than this (slope) are no ground: the robot would lie on its side.
_STEEP = 50.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Roller:
    """What can touch the ground: a ball (``axis`` None) or a wheel's mid-plane disc about ``axis``. Base frame."""

    name: str
    centre: Vec3
    radius: float
    axis: Vec3 | None = None

    def lowest(self, up: Vec3) -> Vec3:
        """The point furthest down; ``up`` need not be unit. A disc that lies flat touches all round: its middle."""
        x, y, z = up
        if self.axis is not None:
            a, b, c = unit(self.axis)
            along = x * a + y * b + z * c
            x, y, z = x - along * a, y - along * b, z - along * c
        n = math.sqrt(x * x + y * y + z * z)
        if n < 1e-12:
            return self.centre
        k = self.radius / n
        return (self.centre[0] - k * x, self.centre[1] - k * y, self.centre[2] - k * z)


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """``point`` is the roller's lowest point at rest (base frame); ``gap`` its height over the ground."""

    name: str
    point: Vec3
    gap: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Rest:
    """How the robot stands. ``base_in_ground``: pose of base_link in base_footprint (height, roll and pitch).

    ``status``: ``stable`` (one face), ``rocks`` (several, the least tilted taken), ``outside`` (none; the face nearest
    under the centre of mass), ``degenerate`` (fewer than three contacts not in line: taken level on the lowest).
    ``touching`` names the rollers on the plane; ``other_faces`` the names of further stable faces.
    """

    status: Literal["stable", "rocks", "outside", "degenerate"]
    base_in_ground: Pose
    normal: Vec3  # up, in the base frame
    contacts: tuple[Contact, ...]
    touching: tuple[str, ...]
    other_faces: tuple[tuple[str, ...], ...] = ()


class _Face(NamedTuple):
    """A plane that touches at least three rollers and lies under all. ``inside``: depth of the centre of mass's
    projection in the polygon of contacts (m), negative outside."""

    normal: Vec3
    level: float  # the plane is normal·p = level
    touching: tuple[int, ...]
    inside: float

    @property
    def tilt(self) -> float:
        return math.hypot(self.normal[0], self.normal[1])


def rest(rollers: Sequence[Roller], com: Vec3, forward: Vec3 = _AHEAD) -> Rest:
    """How a rigid robot on these rollers stands on a plane. Base frame; ``forward``: the base's own x.

    Stable faces are those of the lower hull whose own-normal projection of the centre of mass lies inside them (IAR,
    chapter locomotion, "static and dynamic stability"). Raises ValueError without rollers.
    """
    if not rollers:
        raise ValueError("nothing to stand on")
    faces = _faces(rollers, com)
    stable = sorted((f for f in faces if f.inside >= -ON_GROUND), key=lambda f: (round(f.tilt, 9), f.touching))
    if stable:
        return _standing("rocks" if len(stable) > 1 else "stable", rollers, stable[0], forward, stable[1:])
    if faces:
        nearest = min(faces, key=lambda f: (round(-f.inside, 9), round(f.tilt, 9), f.touching))
        return _standing("outside", rollers, nearest, forward, [])
    heights = [r.lowest(_UP)[2] for r in rollers]
    low = min(heights)
    touching = tuple(i for i, h in enumerate(heights) if h - low <= ON_GROUND)
    return _standing("degenerate", rollers, _Face(_UP, low, touching, 0.0), forward, [])


def _standing(status: Literal["stable", "rocks", "outside", "degenerate"], rollers: Sequence[Roller], face: _Face,
              forward: Vec3, others: Iterable[_Face]) -> Rest:
    n = face.normal
    points = [r.lowest(n) for r in rollers]
    gaps = [0.0 if i in face.touching else _dot(n, p) - face.level for i, p in enumerate(points)]
    return Rest(
        status=status, base_in_ground=Pose(ground_rotation(n, forward), (0.0, 0.0, 0.0 - face.level)), normal=n,
        contacts=tuple(Contact(name=r.name, point=p, gap=g) for r, p, g in zip(rollers, points, gaps)),
        touching=tuple(rollers[i].name for i in face.touching),
        other_faces=tuple(tuple(rollers[i].name for i in f.touching) for f in others))


def ground_rotation(normal: Vec3, forward: Vec3 = _AHEAD) -> Rotation:
    """Base axes in ground axes: z the unit normal, x ``forward`` laid on the ground. Roll and pitch, no yaw."""
    if normal == _UP and forward == _AHEAD:
        return IDENTITY_ROTATION
    nx, ny, nz = normal
    if forward == _AHEAD:  # Ry(pitch)·Rx(roll) in closed form: its zeros are exact
        cp, sp = math.hypot(ny, nz), 0.0 - nx
        cr, sr = (nz / cp, ny / cp) if cp > 0 else (1.0, 0.0)
        return (cp, sp * sr + 0.0, sp * cr + 0.0, 0.0, cr, 0.0 - sr, 0.0 - sp, cp * sr + 0.0, cp * cr)
    along = _dot(normal, forward)
    x = unit((forward[0] - along * nx, forward[1] - along * ny, forward[2] - along * nz))
    y = (ny * x[2] - nz * x[1], nz * x[0] - nx * x[2], nx * x[1] - ny * x[0])
    return (*x, *y, *normal)


# ----------------------------------------------------------------------------------------------------------------- faces
def _faces(rollers: Sequence[Roller], com: Vec3) -> list[_Face]:
    """The faces of the lower hull, each once, however many rollers touch it."""
    found: list[_Face] = []
    for triple in combinations(range(len(rollers)), 3):
        if any(set(triple) <= set(f.touching) for f in found):
            continue  # a further triple of a face that is known
        normal = _touching_plane([rollers[i] for i in triple])
        if normal is None:
            continue
        points = [r.lowest(normal) for r in rollers]
        heights = [_dot(normal, p) for p in points]
        first = heights[triple[0]]
        level = first + sum(heights[i] - first for i in triple) / 3  # exact where all are equal
        if min(heights) < level - ON_GROUND:
            continue
        touching = tuple(i for i, h in enumerate(heights) if h <= level + ON_GROUND)
        found.append(_Face(normal, level, touching, _depth_in(normal, [points[i] for i in touching], com)))
    # Triples of contacts that lie in one plane to a micrometre may differ in what they count in: the fullest one stays.
    return [f for f in found if not any(set(f.touching) < set(g.touching) for g in found)]


def _depth_in(normal: Vec3, points: Iterable[Vec3], com: Vec3) -> float:
    to_ground = ground_rotation(normal)
    return depth(convex_hull(_on_ground(to_ground, p) for p in points), _on_ground(to_ground, com))


def _on_ground(r: Rotation, p: Vec3) -> Vec2:
    return (r[0] * p[0] + r[1] * p[1] + r[2] * p[2], r[3] * p[0] + r[4] * p[1] + r[5] * p[2])


def _touching_plane(three: Sequence[Roller]) -> Vec3 | None:
    """Upward normal of the plane under three rollers that touches each; None where there is none or they are in line."""
    heights = [r.lowest(_UP)[2] for r in three]
    level = max(heights) - min(heights) <= SAME_LENGTH
    sx, sy = 0.0, 0.0
    for step in range(60):
        p, q, r = (roller.lowest((sx, sy, 1.0)) for roller in three)
        ax, ay, az = q[0] - p[0], q[1] - p[1], q[2] - p[2]
        bx, by, bz = r[0] - p[0], r[1] - p[1], r[2] - p[2]
        double = ax * by - ay * bx
        longest = max(math.hypot(ax, ay), math.hypot(bx, by), math.hypot(ax - bx, ay - by))
        if abs(double) <= ON_GROUND * longest:
            return None
        if level:
            return _UP
        nx, ny = (az * by - ay * bz) / -double, (ax * bz - az * bx) / -double
        if math.hypot(nx, ny) > _STEEP:
            return None
        change = math.hypot(nx - sx, ny - sy)
        # Newton converges at once for rollers of one size; discs under a steep plane may need smaller steps.
        damp = 1.0 if step < 20 else 0.5
        sx, sy = sx + damp * (nx - sx), sy + damp * (ny - sy)
        if change <= _CONVERGED * max(1.0, math.hypot(sx, sy)):
            sx, sy = (0.0 if abs(s) < _NO_SLOPE else s for s in (sx, sy))
            return unit((sx, sy, 1.0))
    return None


def _dot(a: Vec3, b: Vec3) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
