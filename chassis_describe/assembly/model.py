"""The assembled robot: frames, bodies, joints, and what senses, drives and carries. SI, REP-103.

Frame names here already carry the robot's prefix; ``owner``, ``placement`` and deck names never do.
"""
from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from chassis_describe.errors import never
from chassis_describe.layout.model import (
    Adjustment,
    Calibration,
    Deck,
    DriveKind,
    Face,
    Layout,
    Motor,
    Part,
    Placement,
    Rollers,
    Sensor,
)
from chassis_describe.source import Mark
from chassis_describe.space.mass import Inertial, combined
from chassis_describe.space.pose import Pose, Vec3, about_axis, translation
from chassis_describe.space.solids import Solid, extents
from chassis_describe.values import dataclass, field

if TYPE_CHECKING:
    from chassis_describe.space.ground.contact import Rest
    from chassis_describe.space.plate.plate import Plate

Vec2 = tuple[float, float]
Color = tuple[float, float, float, float]
JointType = Literal["fixed", "continuous", "revolute", "prismatic"]
Role = Literal["standoff", "spacer", "part", "wheel", "caster"]


class Body(NamedTuple):
    """One true solid on a link. ``role`` says what it is there for; ``pose`` is its centre frame in the link."""

    owner: str  # deck (standoffs: the deck that they stand on) or placement
    role: Role
    solid: Solid
    pose: Pose
    mass: float
    color: Color | None
    mark: Mark
    collides: bool = True  # a wheel's or caster's drawn bodies give way to its rolling solid
    visible: bool = True
    material: str | None = None  # of a standoff, as the layout names it


class MeshVisual(NamedTuple):
    """A mesh that is only looked at. ``file`` as in the part (a path on disk or ``package://``)."""

    owner: str
    file: str
    scale: Vec3
    pose: Pose
    color: Color | None
    mark: Mark


class Link(NamedTuple):
    """A frame with or without geometry. ``plate`` is the deck's true plate, from z = -thickness to 0 in the link.

    ``described``: its plain name in the description of its owner's part, where others describe it.
    """

    name: str
    owner: str  # "" for base_link and base_footprint
    bodies: tuple[Body, ...] = ()
    meshes: tuple[MeshVisual, ...] = ()
    plate: Plate | None = None
    inertial: Inertial | None = None
    mark: Mark | None = None
    described: str | None = None


class Mimic(NamedTuple):
    """The joint's value is ``times`` · the value of ``joint`` + ``plus`` (SI)."""

    joint: str
    times: float
    plus: float


class Joint(NamedTuple):
    """``pose`` is the child frame in the parent frame at joint value 0; ``value`` the one in force (rad, of a prismatic m).

    ``axis`` is in the child frame. ``lower`` and ``upper``: of revolute and prismatic ones. Effort N·m (N), velocity rad/s
    (m/s): from the motor's stall torque and no-load speed; None where nothing drives it. ``described``: the placement and
    the plain name in its part's description, where others describe it.
    """

    name: str
    type: JointType
    parent: str
    child: str
    pose: Pose
    axis: Vec3 = (0.0, 1.0, 0.0)
    effort: float | None = None
    velocity: float | None = None
    lower: float | None = None
    upper: float | None = None
    value: float = 0.0
    mimic: Mimic | None = None
    described: tuple[str, str] | None = None

    @property
    def placed(self) -> Pose:
        """The child frame in the parent frame at the value in force."""
        return self.at(self.value)

    def at(self, value: float) -> Pose:
        """The child frame in the parent frame at a value."""
        if self.type == "fixed" or value == 0.0:
            return self.pose
        if self.type == "continuous" or self.type == "revolute":
            return self.pose @ Pose(about_axis(self.axis, value))
        if self.type == "prismatic":
            x, y, z = self.axis
            return self.pose @ translation(value * x, value * y, value * z)
        raise never(self.type)


class DeckFacet(NamedTuple):
    """A deck in place."""

    deck: Deck
    link: str
    pose: Pose  # deck frame in base_link
    plate: Plate


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedPart:
    """A placement in place. ``part_in_link``: part axes in its own link (identity but for wheels).

    ``at`` and ``turn`` are what holds in the end (found from ``screws`` or ``points`` where those were written);
    ``seats`` are the poses of the part's seats, adjustments at their values in force, in part axes. ``at_zero``: part
    axes in base_link with everything that moves while the robot runs at its zero. ``moving``: the link of each adjustment
    that does. ``settings``: every adjustment's value in force (rad, of a slide m), of a description every joint's.
    ``described``: the links of its description, by plain name.
    """

    placement: Placement
    part: Part
    link: str
    pose: Pose  # part axes in base_link
    part_in_link: Pose
    at_zero: Pose
    part_in_support: Pose  # in the link that carries it
    support_link: str
    deck: str | None  # the deck it is bolted to directly
    face: Face | None
    at: Vec2 | None
    turn: float
    fixing: Literal["bolts", "adhesive", "strap", "shaft", "none"]
    seats: Mapping[str, Pose] = field(default_factory=dict)
    settings: Mapping[str, float] = field(default_factory=dict)
    moving: Mapping[str, str] = field(default_factory=dict)
    described: Mapping[str, str] = field(default_factory=dict)

    @property
    def name(self) -> str:
        return self.placement.name

    @property
    def mark(self) -> Mark:
        return self.placement.mark


class SensorFacet(NamedTuple):
    """A sensor in place. ``frame``: the link at the sensing origin (REP-103); ``message_frame``: what headers carry.

    ``optical_frame`` is None but for image sensors whose driver leaves the frames to us. ``nominal``: the pose as bolted,
    where the sensor was calibrated (``calibration``); ``pose`` has the correction unless it is ``stale``, measured in another
    place than that.
    """

    placement: str
    sensor: Sensor
    frame: str
    message_frame: str
    optical_frame: str | None
    topic: str | None
    pose: Pose  # sensor frame in base_link
    mark: Mark
    calibration: Calibration | None = None
    nominal: Pose | None = None
    stale: bool = False


class MovingFacet(NamedTuple):
    """An adjustment that moves while the robot runs, in place. ``value`` in force (rad, of a slide m).

    ``steers``: the controller of the drive moves it.
    """

    placement: str
    seat: str
    adjustment: Adjustment
    joint: str
    link: str
    value: float
    mark: Mark
    steers: bool = False


class WheelFacet(NamedTuple):
    """A wheel on a shaft. ``axis`` is the true outward shaft direction in base_link, ``centre`` the wheel's middle; both
    once more with everything that moves at its zero, where they differ if the wheel is steered."""

    placement: str
    link: str
    joint: str
    centre: Vec3
    axis: Vec3
    radius: float
    width: float
    friction: float
    rollers: Rollers | None
    motor: Motor | None
    motor_placement: str
    side: Literal["left", "right", "around"] | None  # in the drive (around: an omni drive's), None when it is not driven
    mark: Mark
    zero_axis: Vec3


class CasterFacet(NamedTuple):
    """A caster. ``centre``: the ball's, or the axle's of a swivel caster when trailing, in base_link; ``axis`` the axle."""

    placement: str
    link: str
    kind: Literal["ball", "wheel"]
    centre: Vec3
    axis: Vec3
    radius: float
    width: float
    friction: float
    mark: Mark


class SteeredFacet(NamedTuple):
    """An adjustment that steers, in place, everything at its zero. ``point``: where its axis meets the height of the driven
    axle, ``axis`` its direction, in base_link (m); ``wheels``: the placements that it carries."""

    moving: MovingFacet
    point: Vec3
    axis: Vec3
    wheels: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DriveFacet:
    """The driven wheels as a controller takes them (m, rad).

    ``left`` and ``right``: front to rear, ``wheel_separation`` between their mid-planes; ``wheel_base`` between first and
    last axle, the mean of both sides. Of an ``omni`` drive ``around``: counter-clockwise, their mean distance from the
    middle ``circle_radius`` and the direction of the first ``first_angle`` (from +x), which fits all of them best at equal
    angles. Of an ``ackermann`` drive ``steered``: left and right, or one; ``wheel_base`` and ``steer_track`` at their axes
    (positive, whichever axle is in front), ``wheel_separation`` at the driven wheels.
    """

    kind: DriveKind
    left: tuple[WheelFacet, ...] = ()
    right: tuple[WheelFacet, ...] = ()
    around: tuple[WheelFacet, ...] = ()
    steered: tuple[SteeredFacet, ...] = ()
    wheel_separation: float = 0.0
    wheel_radius: float
    wheel_base: float = 0.0
    steer_track: float = 0.0
    circle_radius: float = 0.0
    first_angle: float = 0.0

    @property
    def wheels(self) -> tuple[WheelFacet, ...]:
        """Every driven wheel: left ones, right ones, or all around."""
        return (*self.left, *self.right, *self.around)


class HoleRef(NamedTuple):
    """A hole that something uses: lattice hole ``[i, j]`` or drilled hole number; centre in the deck's (or seat's) plane."""

    on: str  # deck name, or "placement.seat"
    hole: tuple[int, int] | int
    centre: Vec2
    diameter: float
    exists: bool
    half: Vec2 = (0.0, 0.0)  # of a slot: from its middle to the end of its centre line


@dataclass(frozen=True, slots=True, kw_only=True)
class BoltUse:
    """One bolt of a placement (or one screw of a standoff): where it stands and the hole nearest to it.

    ``at`` in the coordinates of the deck or seat plane, metres; ``distance`` from the centre line of that hole;
    ``clearance`` is c, see ``facts/play.py``. ``slides``: how far the screw can go at most along the slot of its support,
    and along the part's own (vectors of the plane). ``hole`` is None where the support has no holes at all.
    """

    user: str  # placement name, or the deck that stands on the standoff
    kind: Literal["part", "standoff"]
    index: int
    deck: str | None
    face: Face | None
    at: Vec2
    hole: HoleRef | None
    distance: float
    clearance: float
    screw: str
    mark: Mark
    slides: tuple[Vec2, Vec2] = ((0.0, 0.0), (0.0, 0.0))


@dataclass(frozen=True)
class Assembly:
    """One robot, put together: a record of what is where. What follows from it is in ``facts/``."""

    layout: Layout
    prefix: str
    root: str
    base: str  # the name of base_link
    links: tuple[Link, ...]
    joints: tuple[Joint, ...]
    poses: Mapping[str, Pose]  # every frame in base_link, in tree order from the root
    decks: Mapping[str, DeckFacet]
    parts: Mapping[str, PlacedPart]
    sensors: tuple[SensorFacet, ...]
    wheels: tuple[WheelFacet, ...]
    casters: tuple[CasterFacet, ...]
    moving: tuple[MovingFacet, ...]
    drive: DriveFacet | None
    inertial: Inertial | None  # whole robot, in base_link
    rest: Rest | None  # None without wheels and casters
    #: What `kept` functions have worked out of it.
    kept: dict[object, Any] = field(default_factory=dict, compare=False, repr=False)

    @property
    def robot(self) -> str:
        return self.layout.robot

    @cached_property
    def link_of(self) -> Mapping[str, Link]:
        """Links by name."""
        return {link.name: link for link in self.links}

    def as_one(self, placement: str) -> Link:
        """A placement as one link, what moves on it at its value in force: bodies, meshes and sum in its own link's axes."""
        placed = self.parts[placement]
        own = self.link_of[placed.link]
        if not placed.moving and not placed.described:
            return own
        into = self.poses[own.name].inverse()
        parts = [(self.link_of[name], into @ self.poses[name]) for name in (*placed.moving.values(), *placed.described.values())]
        return own._replace(
            bodies=(*own.bodies, *(b._replace(pose=pose @ b.pose) for link, pose in parts for b in link.bodies)),
            meshes=(*own.meshes, *(m._replace(pose=pose @ m.pose) for link, pose in parts for m in link.meshes)),
            inertial=combined([*([own.inertial] if own.inertial else []),
                               *(link.inertial.moved(pose) for link, pose in parts if link.inertial)]))


def bounds(bodies: Sequence[Body]) -> tuple[Vec3, Vec3]:
    """Axis-aligned bounds (m) of solids in the axes that their poses are given in."""
    spans = [extents(b.solid, b.pose) for b in bodies]
    low = tuple(min(a[k] for a, _ in spans) for k in range(3))
    high = tuple(max(b[k] for _, b in spans) for k in range(3))
    return low, high  # type: ignore[return-value]
