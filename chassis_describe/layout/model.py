"""The layout as values: what the user wrote, checked for form, in SI. Nothing here knows where anything ends up.

Lengths are metres, angles radians, masses kilograms. Holes are ``(i, j)`` with i counting forward (+x), j left (+y).
"""
from __future__ import annotations

from collections.abc import Mapping
from typing import Literal, NamedTuple, Union

from chassis_describe.layout.described.model import Description, DescriptionSource
from chassis_describe.source import Mark
from chassis_describe.values import dataclass, field

Vec2 = tuple[float, float]
Vec3 = tuple[float, float, float]
Face = Literal["top", "under"]
Fixing = Literal["bolts", "adhesive", "strap"]
#: Hand of a mecanum wheel's rollers; ``across``: along the rim, so that an omnidirectional wheel rolls sideways.
Rollers = Literal["left", "right", "across"]
DriveKind = Literal["differential", "skid_steer", "mecanum", "omni", "ackermann"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Attitude:
    """A rotation as written: fixed-axis ``rpy`` (rad), or where two axes point in the parent's directions."""

    rpy: Vec3 = (0.0, 0.0, 0.0)
    axes: tuple[tuple[str, str], tuple[str, str]] | None = None  # (("z", "forward"), ("x", "up"))


# ---------------------------------------------------------------------------------------------------------------- shapes
@dataclass(frozen=True, slots=True, kw_only=True)
class RectangleShape:
    size: Vec2
    corner: float = 0.0
    centre: Vec2 = (0.0, 0.0)
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class CircleShape:
    diameter: float
    centre: Vec2 = (0.0, 0.0)
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class PolygonShape:
    """Simple polygon, at least three points, any winding; ``centre`` has been added to the points."""

    points: tuple[Vec2, ...]
    mark: Mark


OutlineShape = Union[RectangleShape, CircleShape, PolygonShape]


# ----------------------------------------------------------------------------------------------------------------- decks
@dataclass(frozen=True, slots=True, kw_only=True)
class Lattice:
    """Regular holes: pitch and hole diameter, screw name (``M3``), position of hole [0, 0] in the plane's coordinates."""

    pitch: float
    hole: float
    screw: str
    origin: Vec2 = (0.0, 0.0)
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class DrilledHole:
    """A hole off the lattice: round (``hole`` diameter) or a slot (``slot`` overall length and width, ``turn``)."""

    at: Vec2
    hole: float | None = None
    slot: Vec2 | None = None
    turn: float = 0.0
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class StandoffGroup:
    """Spacers of one length; ``holes`` are in the lattice of deck ``on``, the deck that they stand on (or hang from)."""

    length: float
    holes: tuple[Vec2, ...]
    on: str
    diameter: float
    material: str
    density: float
    mass: float | None = None
    thread: float  # depth of the thread at each end
    mark: Mark
    hole_marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stacked:
    """How a deck stands over (``above``) or hangs under (``below``) another, name ``deck``."""

    relation: Literal["above", "below"]
    deck: str
    standoffs: tuple[StandoffGroup, ...]
    shift: Vec2 = (0.0, 0.0)  # lattice coordinates of the other deck
    turn: float = 0.0
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class FixedTo:
    """A standing plate: pose of its frame in the other deck's frame."""

    deck: str
    xyz: Vec3 = (0.0, 0.0, 0.0)
    attitude: Attitude = Attitude()
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateFile:
    """What was read from the file in which a plate is drawn.

    ``name`` as written in the layout. ``size`` of its box along the deck's x and y (m). ``unit``: of the file's numbers, and
    whether the file names it. ``zero``: the place in the file, in its own unit, of hole [0, 0], or of the deck's (0, 0) where the
    file has no lattice. ``hole``: the diameter that the layout gives lattice holes. ``aside``: what was left aside, and how often.
    ``mended``: faults of the file that could be mended. ``doubt``: what looks like another lattice, and what to do about it.
    """

    name: str
    size: Vec2
    unit: str
    unit_said: bool
    zero: Vec2
    hole: float
    drilled: int
    slots: int
    cutouts: int
    aside: tuple[tuple[str, int], ...] = ()
    mended: tuple[str, ...] = ()
    doubt: tuple[str, str] | None = None
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Deck:
    """A plate. ``density`` is resolved (kg/m³); ``mass`` when weighed, which rescales. ``lattice`` None: no lattice.

    ``holes``: the only holes of the lattice that there can be, where a plate file says; None: wherever the plate has room.
    """

    name: str
    outline: OutlineShape
    cutouts: tuple[OutlineShape, ...] = ()
    thickness: float
    material: str | None = None
    density: float | None = None
    mass: float | None = None
    lattice: Lattice | None
    skip: tuple[tuple[int, int], ...] = ()
    skip_marks: tuple[Mark, ...] = ()
    drilled: tuple[DrilledHole, ...] = ()
    holes: frozenset[tuple[int, int]] | None = None
    file: PlateFile | None = None
    placing: Stacked | FixedTo | None = None
    note: str = ""
    mark: Mark
    marks: Mapping[str, Mark] = field(default_factory=dict)  # of each key that was written


# ----------------------------------------------------------------------------------------------------------------- parts
@dataclass(frozen=True, slots=True, kw_only=True)
class BoxForm:
    size: Vec3


@dataclass(frozen=True, slots=True, kw_only=True)
class CylinderForm:
    diameter: float
    length: float
    axis: Literal["x", "y", "z"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SphereForm:
    diameter: float


Form = Union[BoxForm, CylinderForm, SphereForm]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartBody:
    """One uniform solid of a part; ``at`` is its centre in part axes. ``moves_with``: ``seat``, ``seat.adjustment`` or
    ``swivel``, what it moves with."""

    form: Form
    at: Vec3 = (0.0, 0.0, 0.0)
    attitude: Attitude = Attitude()
    mass: float | None = None
    color: tuple[float, float, float, float] | None = None
    moves_with: str | None = None
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class PartPlate:
    """A flat plate on the base plane of a part, its sides along x and y: from z = 0 to ``thickness``. ``density`` is resolved;
    ``holes``: x, y, diameter of those that no bolt uses."""

    size: Vec2
    corner: float = 0.0
    centre: Vec2 = (0.0, 0.0)
    thickness: float
    material: str | None = None
    density: float | None = None
    holes: tuple[Vec3, ...] = ()
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class PartMesh:
    """Visual only; ``file`` is a resolved path on disk (or a ``package://`` address)."""

    file: str
    scale: Vec3 = (1.0, 1.0, 1.0)
    at: Vec3 = (0.0, 0.0, 0.0)
    attitude: Attitude = Attitude()
    moves_with: str | None = None
    color: tuple[float, float, float, float] | None = None
    mark: Mark


class ImuNoise(NamedTuple):
    """Standard deviations of an inertial unit: of each rate of turn (rad/s) and of each acceleration (m/s²)."""

    gyro: float
    accel: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensor:
    """A sensing origin in REP-103 axes. Fields that mean nothing for the kind are None."""

    name: str
    kind: Literal["lidar", "camera", "depth_camera", "ranger", "imu", "gnss", "contact"]
    at: Vec3 = (0.0, 0.0, 0.0)
    attitude: Attitude = Attitude()
    range: Vec2 | None = None
    rate: float | None = None
    topic: str | None = None
    driver_tf: bool = False
    fov: float | None = None  # horizontal, full; a ranger's full cone
    samples: int | None = None
    layers: int = 1
    vertical: Vec2 | None = None
    zero_beam: float = 0.0
    angles: Literal["symmetric", "positive"]
    resolution: tuple[int, int] | None = None
    radiation: Literal["ultrasound", "infrared"] | None = None
    noise: float | ImuNoise | None = None  # standard deviation of a distance (m), or of an imu's readings
    looks: Literal["floor", "ceiling"] | None = None
    moves_with: str | None = None
    link: str | None = None  # of the part's description: the link that is the sensor's frame
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Motor:
    """Stall torque (N·m) and no-load speed (rad/s); of a slide force (N) and speed (m/s)."""

    torque: float
    speed: float
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Follows:
    """Its value is ``times`` · the leader's + ``plus`` (SI). ``of`` is the leader at the end of the chain."""

    of: str
    times: float
    plus: float
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Adjustment:
    """One degree of freedom of a seat. Radians, of a slide metres; ``pivot`` in part coordinates, None: the seat's origin.

    ``by_hand`` ones are set before driving and baked in; ``driven`` ones (``motor``) and ``free`` ones move while the
    robot runs. One that ``follows`` has the motion of its leader, and range and rest that follow from it; its ``motor`` is
    the leader's, seen through the transmission. ``range`` None: a turn without stops.
    """

    name: str
    axis: Vec3
    kind: Literal["turn", "slide"] = "turn"
    motion: Literal["by_hand", "driven", "free"] = "by_hand"
    pivot: Vec3 | None = None
    range: Vec2 | None
    rest: float = 0.0
    motor: Motor | None = None
    follows: Follows | None = None
    mark: Mark

    @property
    def moves(self) -> bool:
        """Whether it moves while the robot runs."""
        return self.motion != "by_hand"


@dataclass(frozen=True, slots=True, kw_only=True)
class SeatBolt:
    """A fixing hole of a seat: ``hole`` diameter (through) or ``tapped`` depth. ``countersink``: diameter of a 90° countersink
    behind it, from where its screw comes then."""

    at: Vec2
    hole: float | None = None
    tapped: float | None = None
    countersink: float | None = None
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Seat:
    """``link``: of the part's description, whose axes it is given in; ``bare``: a link taken as a seat, nothing to bolt to."""

    name: str
    link: str | None = None
    bare: bool = False
    at: Vec3 = (0.0, 0.0, 0.0)
    attitude: Attitude = Attitude()
    lattice: Lattice | None = None
    bolts: tuple[SeatBolt, ...] = ()
    adjust: tuple[Adjustment, ...] = ()
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Shaft:
    """``axis`` is the direction out of the motor, a unit vector in part axes. ``moves_with`` as of a body."""

    name: str
    at: Vec3 = (0.0, 0.0, 0.0)
    axis: Vec3
    moves_with: str | None = None
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Wheel:
    """Origin of the part = wheel centre, part +y outward along the shaft. ``offset``: shaft point to mid-plane."""

    diameter: float
    width: float
    offset: float = 0.0
    friction: float
    rollers: Rollers | None = None
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Caster:
    """``kind`` ball: centre ``at``, ``diameter``. ``kind`` wheel: axle ``at`` when trailing, ``diameter``, ``width``."""

    kind: Literal["ball", "wheel"]
    diameter: float
    width: float | None = None
    trail: float = 0.0
    at: Vec3 = (0.0, 0.0, 0.0)
    friction: float
    mark: Mark

    @property
    def swivel(self) -> Vec3:
        """The point of the swivel axis, which is along part z, at the height of the axle, in part axes."""
        x, y, z = self.at
        return (x + self.trail, y, z)


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenInertia:
    """kg·m² about the centre of mass in part axes, URDF signs."""

    ixx: float
    iyy: float
    izz: float
    ixy: float = 0.0
    ixz: float = 0.0
    iyz: float = 0.0
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class BoltSlot:
    """A slot with round ends for one bolt: overall length and width, direction of its length in the part's plane (rad)."""

    length: float
    width: float
    turn: float = 0.0

    @property
    def reach(self) -> float:
        """How far its centre line goes to each side of its middle (m)."""
        return max((self.length - self.width) / 2, 0.0)


#: Keys that say where an entry comes from, and what one may do with it; nothing is worked out of them.
PROVENANCE = ("license", "source", "revision", "measured_by")


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A thing one can bolt on, after ``like`` was followed. Lengths and axes are the part's own."""

    name: str
    about: str = ""
    provenance: Mapping[str, str] = field(default_factory=dict)  # of PROVENANCE, what was written
    mass: float | None = None
    bodies: tuple[PartBody, ...] = ()
    plate: PartPlate | None = None  # among `bodies`, too
    meshes: tuple[PartMesh, ...] = ()
    com: Vec3 | None = None
    inertia: GivenInertia | None = None
    bolts: tuple[Vec2, ...] = ()  # of a slot: its middle
    bolt_slots: Mapping[int, BoltSlot] = field(default_factory=dict)  # by the bolt's number
    bolt_marks: tuple[Mark, ...] = ()
    bolt_hole: float | None = None  # None: the support's own lattice hole diameter
    tapped: float | None = None  # depth of the thread in the part, instead of a through hole
    screw: str | None = None  # None: the lattice's
    flange: float
    keep_clear: tuple[PartBody, ...] = ()
    sensors: tuple[Sensor, ...] = ()
    seats: Mapping[str, Seat] = field(default_factory=dict)
    shafts: Mapping[str, Shaft] = field(default_factory=dict)
    motor: Motor | None = None
    wheel: Wheel | None = None
    caster: Caster | None = None
    described: DescriptionSource | None = None
    description: Description | None = None  # of a placed part, expanded
    mark: Mark
    marks: Mapping[str, Mark] = field(default_factory=dict)

    @property
    def adjustments(self) -> tuple[Adjustment, ...]:
        """Every adjustment of its seats, in order."""
        return tuple(a for seat in self.seats.values() for a in seat.adjust)


# ------------------------------------------------------------------------------------------------------------ placements
@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """A measured pose of a sensor: its frame in the base deck when it was measured, and the correction in its own axes
    (m, rad, fixed axes)."""

    nominal_xyz: Vec3
    nominal_rpy: Vec3
    xyz: Vec3 = (0.0, 0.0, 0.0)
    rpy: Vec3 = (0.0, 0.0, 0.0)
    date: str = ""
    note: str = ""
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """One part in one place; ``mirror_of`` has been followed. ``support`` says what ``on`` resolved to.

    ``on`` is the deck or placement name; ``seat`` or ``shaft`` the name of the place on that placement. Exactly one of
    ``screws`` (with ``at`` None) and ``at`` is given for decks and seats; shafts have neither. ``points`` and ``turn``
    exclude one another, ``points`` with ``screws`` chooses.
    """

    name: str
    part: Part
    support: Literal["deck", "seat", "shaft"]
    on: str
    seat: str | None = None
    shaft: str | None = None
    face: Face
    at: Vec2 | None = (0.0, 0.0)
    screws: tuple[tuple[int, int], ...] | None = None
    screws_mark: Mark | None = None
    turn: float = 0.0
    points: Literal["forward", "back", "left", "right"] | None = None
    lift: float = 0.0
    spacer: str
    spacer_density: float
    offset: Vec3 = (0.0, 0.0, 0.0)
    settings: Mapping[str, float] = field(default_factory=dict)  # SI, by adjustment name, as written under `set`
    fixing: Fixing | None = None  # None: bolts where the part has bolts
    frames: Mapping[str, str] = field(default_factory=dict)  # sensor name → frame of its messages
    topics: Mapping[str, str] = field(default_factory=dict)
    calibrated: Mapping[str, Calibration] = field(default_factory=dict)  # by sensor
    mass: float | None = None
    note: str = ""
    mirror_of: str | None = None
    mark: Mark
    marks: Mapping[str, Mark] = field(default_factory=dict)


# -------------------------------------------------------------------------------------------------------------- settings
class Steered(NamedTuple):
    """An adjustment that steers, by its placement, seat and name."""

    placement: str
    seat: str
    adjustment: str
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    """Driven wheel placements: by side, front to rear; of an ``omni`` drive all around, counter-clockwise from the front.

    ``steer``: of an ``ackermann`` drive the left and the right adjustment that steer, or the one of a tricycle.
    """

    kind: DriveKind
    left: tuple[str, ...] = ()
    right: tuple[str, ...] = ()
    around: tuple[str, ...] = ()
    steer: tuple[Steered, ...] = ()
    mark: Mark

    @property
    def wheels(self) -> tuple[str, ...]:
        """Every driven wheel."""
        return (*self.left, *self.right, *self.around)


@dataclass(frozen=True, slots=True, kw_only=True)
class Maintainer:
    name: str
    email: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RosSettings:
    """How the robot meets ROS 2. ``hardware`` and those in ``hardware_of``, by placement, are plugin names of ros2_control;
    None, or not there: a placeholder, named as such. ``namespace``: without slashes at its ends; "" for none.
    ``slam_lidar``: the placement whose lidar maps; ``scan_from``: the one whose cloud gives a flat scan, or whose depth
    image, by ``scan_by``."""

    distro: Literal["humble", "jazzy", "kilted", "lyrical"]
    odometry: Literal["controller", "ekf"]
    control: Literal["ros2_control", "none"]
    simulation: Literal["files", "none"]
    hardware: str | None = None
    hardware_of: Mapping[str, str] = field(default_factory=dict)
    casters: Literal["still", "turning"]
    visual: Literal["mesh", "boxes"]
    prefix: str = ""
    namespace: str = ""
    slam_lidar: str | None = None
    scan_from: str | None = None
    scan_by: Literal["cloud", "depth_image"]
    maintainer: Maintainer | None = None
    license: str | None = None
    version: str
    marks: Mapping[str, Mark] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiver:
    """A finding that the builder accepts, with the reason."""

    finding: str
    of: tuple[str, ...]
    because: str
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Fasteners:
    """Which screws are at hand. ``washers`` None: where a plate is soft; ``lengths`` (m) empty: the standard's series."""

    head: Literal["socket", "button", "pan"]
    nut: Literal["plain", "lock"]
    washers: bool | None = None
    lengths: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class InputFile:
    """One file that was read: the path as named, and its bytes (for provenance and the copy in the package)."""

    path: str
    data: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class MeshFile:
    """One mesh that parts name. ``data`` is None where it can't be taken; ``fault`` then says why, to stand after its name.

    ``suffix``: of its format, in lower case with the dot.
    """

    path: str
    data: bytes | None = None
    suffix: str = ""
    fault: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class WorldFile:
    """The world to simulate in. ``form`` by its root element; ``data`` is None where it can't be taken, ``fault`` then says why."""

    path: str
    data: bytes | None = None
    form: Literal["sdf", "mjcf"] = "sdf"
    fault: str = ""
    mark: Mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """One robot as written. Mappings keep the order of the file. References resolve; the support graph is a tree."""

    robot: str
    lattice: Lattice
    decks: Mapping[str, Deck]
    placements: Mapping[str, Placement]
    drive: Drive | None = None
    ros: RosSettings
    weighed: float | None = None
    weighed_mark: Mark | None = None
    limits: Mapping[str, float]  # by their names, in the unit of the name
    waivers: tuple[Waiver, ...] = ()
    fasteners: Fasteners
    files: tuple[InputFile, ...] = ()  # the layout, overlays, then the user's catalogue files that were used, then plate files
    catalogue_paths: tuple[str, ...] = ()  # as written under `catalogue`, same order as the catalogue files in `files`
    plate_paths: tuple[str, ...] = ()  # of the plate files, the last of `files`
    meshes: Mapping[str, MeshFile] = field(default_factory=dict)  # of the placed parts, by path as in `PartMesh.file`
    world: WorldFile | None = None
    packages: Mapping[str, str] = field(default_factory=dict)  # ROS packages by name → folder
    mark: Mark

    @property
    def overlays(self) -> tuple[InputFile, ...]:
        """The files that were laid over the first."""
        return self.own_files[1:]

    @property
    def own_files(self) -> tuple[InputFile, ...]:
        """The first file and its overlays: ``files`` without part files and plates."""
        return self.files[:len(self.files) - len(self.catalogue_paths) - len(self.plate_paths)]

    @property
    def part_files(self) -> tuple[InputFile, ...]:
        """The files under `catalogue`, in the order of ``catalogue_paths``."""
        end = len(self.files) - len(self.plate_paths)
        return self.files[end - len(self.catalogue_paths):end]

    @property
    def base_deck(self) -> Deck:
        """The one deck without a placing key."""
        return next(d for d in self.decks.values() if d.placing is None)
