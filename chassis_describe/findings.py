"""What the reader and the checker have to say, as data; the registry of codes from which the manual's table is made."""
from __future__ import annotations

from collections.abc import Iterable
from enum import Enum

from chassis_describe.source import Mark, file_as_said
from chassis_describe.values import dataclass


class Severity(str, Enum):
    """How much a finding matters; the exit code is 1 when one is an error."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, slots=True, kw_only=True)
class Code:
    """One code of the registry: its default severity and the sentence that the manual prints."""

    name: str
    severity: Severity
    says: str
    limit: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing to say. ``of`` names decks, placements or frames; ``measured`` and ``allowed`` are in ``unit``.

    ``where`` holds one mark for each thing that is involved, the place to edit first.
    """

    code: str
    severity: Severity
    message: str
    hint: str = ""
    where: tuple[Mark, ...] = ()
    of: tuple[str, ...] = ()
    measured: float | None = None
    allowed: float | None = None
    unit: str | None = None
    accepted: str | None = None

    def __str__(self) -> str:
        place = f"{self.where[0]._replace(file=file_as_said(self.where[0].file))}: " if self.where else ""
        path = f"{self.where[0].where}: " if self.where and self.where[0].path else ""
        hint = f" ({self.hint})" if self.hint else ""
        return f"{place}{self.severity.value}: {path}{self.message}{hint} [{self.code}]"


def finding(code: str, message: str, *, hint: str = "", where: Iterable[Mark | None] = (), of: Iterable[str] = (),
            measured: float | None = None, allowed: float | None = None, unit: str | None = None,
            severity: Severity | None = None) -> Finding:
    """Make a finding of a registered code; its default severity unless another is given. Raises KeyError if unknown."""
    return Finding(code=code, severity=severity or CODES[code].severity, message=message, hint=hint,
                   where=tuple(m for m in where if m is not None), of=tuple(of), measured=measured, allowed=allowed,
                   unit=unit)


def _table(rows: str) -> dict[str, Code]:
    out: dict[str, Code] = {}
    for row in rows.strip().splitlines():
        name, severity, limit, says = (cell.strip() for cell in row.split("|", 3))
        out[name] = Code(name=name, severity=Severity(severity), says=says, limit=limit or None)
    return out


#: Codes of the reader (always errors unless said) and of the check. One row: code | severity | limit | sentence.
CODES: dict[str, Code] = _table("""
yaml-syntax          | error   |              | the text is not YAML, or uses something that a layout refuses (tabs, alias bombs, more than 4 MiB or 64 levels)
duplicate-key        | error   |              | one key stands twice in the same mapping
unknown-key          | error   |              | a key that nobody reads; the nearest known one is named
missing-key          | error   |              | a key that is required is missing
wrong-type           | error   |              | a value of the wrong kind: text for a number, a list of the wrong length
bad-number           | error   |              | text that YAML tools read in different ways: leading zeros, colons, decimal commas, not finite
bad-value            | error   |              | a value of the right kind that is not allowed here
bad-name             | error   |              | a name that ROS, TF or a consumer would refuse, or that is reserved
unknown-name         | error   |              | a deck, part, seat, shaft, material, adjustment or sensor that does not exist; the nearest is named
meaningless-key      | error   |              | a key that means nothing in this place, such as a lift on a shaft
tree                 | error   |              | supports that form a loop, no base deck, or more than one
plate-file           | error   |              | a plate file that is not there, can't be read, or whose curves are not one plate: open, drawn twice, crossing, several outer ones
implausible          | warning |              | a value that no such robot has: probably a slip of unit (an error in the reader, a warning in the check)
bolt-off-hole        | error   |              | a bolt that is further from every hole than its play
hole-absent          | error   |              | a bolt or standoff at a lattice point where the plate has no hole
hole-taken           | error   |              | two users of one hole from the same face (a note when one screw serves both faces)
hole-near-edge       | warning | edge_web     | a used hole with too little material between it and an edge or cutout
head-over-edge       | warning |              | a screw head or nut that overhangs an edge or cutout
screw-too-big        | error   |              | the screw does not pass the hole (a note when the hole is wider than ISO 273 coarse)
not-fixed            | warning |              | nothing holds the part
turns-freely         | warning |              | one bolt only: the part can turn
bodies-overlap       | error   | overlap_mm   | two solids of different parts, decks or standoffs interpenetrate
clear-space-taken    | warning |              | something stands in the space that a part needs for hands, plugs or cables
range-blocked        | warning |              | something is in the way of what a motor or a hinge moves, within its range
wheel-rubs           | warning | wheel_gap_mm | something but its own motor is too near a wheel
caster-swing-blocked | warning |              | something stands in the ring that a swivel caster sweeps
few-contacts         | error   |              | fewer than three ground contacts that are not in line
rests-tilted         | warning | rest_tilt_deg | the robot rests tilted
rocks                | warning |              | the robot has two stable faces to stand on (a note where they are within 0.5 mm: a floor and tyres give that)
contact-lifted       | warning |              | a wheel or caster that does not reach the ground (an error for a driven wheel)
low-clearance        | warning | clearance_mm | something besides wheels and casters is too near the ground (an error when it is below it)
outside-support      | error   |              | the centre of mass lies outside the support polygon
tips-early           | warning | tip_angle_deg | the robot tips over at a small angle
axle-skewed          | error   |              | a wheel axis that is not along base y
axles-staggered      | warning |              | a wheel stands further forward than its partner on the other side
axles-unlike         | warning |              | left and right wheels differ in radius or height (an error when they are listed on the wrong side or rear first)
wheel-not-driven     | warning |              | a wheel on a motor that no `drive` names
rollers-wrong        | error   |              | roller hands of mecanum wheels that don't form the pattern that the controller assumes
omni-uneven          | error   |              | wheels of an omni drive that don't stand at equal angles and distances, axles outward, listed counter-clockwise
steer-axis           | error   |              | a steering axis that is not upright, or where a positive value steers to the right
steer-unlike         | warning |              | steered wheels that are not mirror images of each other, or a single one off the middle
view-blocked         | warning |              | the robot cuts a lidar's scan plane (an error over 180 degrees)
scan-tilted          | warning |              | a 2D scan plane that is not level at rest
scan-hits-floor      | warning |              | a scan plane that meets the floor within range
camera-sees-robot    | warning |              | a camera sees much of the robot itself
odometry-missing     | warning |              | the filter for odometry has neither a drive nor an imu to fuse
scan-asymmetric-inverted | warning |          | the lidar for mapping hangs upside down with angles that slam_toolbox turns round wrongly
depth-scan-wrong     | warning |              | a scan is asked of a depth image whose rows are not level, move, or hold the robot itself
blind-sector         | note    | blind_height_mm | around the robot are directions in which no sensor that measures distances sees low obstacles
cloud-sees-robot     | note    |              | a depth camera or layered lidar has points on the robot itself, which the compiled filter takes out
cone-hits-robot      | warning |              | a ranger's cone meets the robot
cone-hits-floor      | warning |              | a ranger's cone meets the floor within its range
range-inside-case    | warning |              | a lidar's nearest distance lies inside its own case
looks-elsewhere      | warning |              | a camera or ranger that looks at the ceiling, a GNSS antenna that does not face the sky, or a sensor that does not see what its `looks` says
calibration-stale    | warning |              | a sensor is not where it was calibrated: the correction is not applied
calibration-beyond-play | warning |           | a calibration moves a sensor further than the play of its screws: another hole?
origin-inside-body   | warning |              | a sensing origin lies inside a solid that it has to look through
mass-missing         | error   |              | something with geometry but no mass
inertia-impossible   | error   |              | an inertia that no body can have
weighed-differs      | warning |              | the weighed mass and the sum of the parts differ
base-outside-footprint | error |              | the base origin is not inside the footprint
plate-read           | note    |              | what was read of a plate file: its size and unit, holes, windows, and what was left aside
plate-lattice        | note    |              | a plate file without holes on the deck's lattice, or with holes of another size (a warning when its holes look like another lattice)
deck-in-pieces       | error   |              | the cutouts of a deck cut it into several pieces
world-missing        | error   |              | the world to simulate in that is not there, can't be read, or is neither SDF nor MJCF
part-twice           | note    |              | two part files define one name; the first one is taken
mesh-missing         | error   |              | a mesh of a part that is not there, can't be read, or is none of the formats that are taken
skip-without-hole    | note    |              | a `skip` of a lattice point that has no hole anyway
drilled-off-plate    | note    |              | a drilled hole or slot that lies off the plate, or is cut by an edge or cutout
frame-clash          | error   |              | two frames of one name
accept-unused        | warning |              | a waiver that matches nothing
""")
