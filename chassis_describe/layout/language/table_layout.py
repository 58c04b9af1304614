"""The keys of placements, settings and of a whole file. One table for reader, schema and manual."""
from __future__ import annotations

from chassis_describe import units
from chassis_describe.layout.language.kinds import Bool, Choice, FreeText, Integer, Number, Quantity, Ref
from chassis_describe.layout.language.lists import ListOf, Vec
from chassis_describe.layout.language.record import EachOrOne, Field, Named, Record
from chassis_describe.layout.language.table_decks import DECK, DENSITY, HOLE_POINT, LATTICE, LATTICE_POINT, POSITION, RPY, TURN
from chassis_describe.layout.language.table_parts import AMOUNT, MASS, PART, TOPIC
from chassis_describe.layout.names import FRAME_PATTERN, NAMESPACE_PATTERN, PREFIX_PATTERN, PREFIX_WORDS, better_prefix

FRAME = FreeText("name of a frame", pattern=FRAME_PATTERN, say="a frame such as `laser_frame`: letters, digits and "
                 "underscores, no slash", code="bad-name")
DIRECTIONS = ("forward", "back", "left", "right")

_CORRECTION = (Field("xyz", Vec(POSITION, 3, example="[0.4, 0, -1.2]", words="`[x, y, z]`, mm"), "Shift.", default=(0, 0, 0)),
               Field("rpy", RPY, "Turns about fixed axes.", default=(0, 0, 0)))
NOMINAL = Record("nominal", "a nominal pose", _CORRECTION, doc="A sensor's frame in the base deck, as `frames` gave it.",
                 example="xyz: [60, 0, 30], rpy: [0, 15, 0]")
CALIBRATED = Record(
    "calibrated", "a calibrated pose",
    (Field("nominal", NOMINAL, "Where the sensor's frame was in the base deck when it was measured.", required=True),
     *_CORRECTION,
     Field("date", FreeText(), "When it was measured."),
     Field("note", FreeText(), "How, and by whom.")),
    doc="A measured correction: the true frame is the nominal one, then this shift and turn in its own axes.",
    example="nominal: {…}, xyz: […], rpy: […]",
)
PLACEMENT = Record(
    "placement", "a placement",
    (
        Field("part", Ref("a part"), "Part, by its name in the catalogue; needed unless `mirror_of` is given.", required=False),
        Field("on", Ref("a deck, or a placement's seat or shaft",
                        words="deck, `placement`, `placement.seat` or `placement.shaft`"),
              "What it is fixed to, needed unless `mirror_of` is given; the name of a seat or shaft may be left out when "
              "there is just one."),
        Field("face", Choice("top", "under"), "Side of the deck.", default="top"),
        Field("at", LATTICE_POINT, "Lattice coordinates of the part's origin; fractions are allowed.",
              default=(0, 0)),
        Field("screws", ListOf(HOLE_POINT, least=2, words="list of `[i, j]`",
                               say="the holes of two or more bolts, like `[[1, 0], [2, 0]]`"),
              "Instead of `at` and `turn`: the lattice holes that the part's bolts use."),
        Field("turn", TURN, "Turn about the part's outward axis, counter-clockwise seen from outside.", default=0),
        Field("points", Choice(*DIRECTIONS), "On decks, instead of `turn`: where the part's x points."),
        Field("lift", Quantity(units.LENGTH, 0.00005, 1.0, zero=True, what="the height of a spacer"),
              "Height of the spacers between support and part.", default=0),
        Field("spacer", FreeText("name of a material", say="the name of a material"), "Material of the spacers.",
              default="nylon"),
        Field("offset", Vec(POSITION, 3, example="[0, 2.5, 0]", words="`[x, y, z]`, mm"),
              "What is truly off the lattice, along the support's axes.", default=(0, 0, 0)),
        Field("set", Named("an adjustment", AMOUNT, name=FreeText("name", pattern=r"[A-Za-z0-9_][A-Za-z0-9_.\-]*",
                                                                  say="the name of an adjustment", code="bad-name"),
                           words="adjustment → degrees, of a slide mm"),
              "Adjustments of the part, from the seat's zero; where driven and free ones start. Of a part with a `description`: "
              "its joints, by their names without prefix."),
        Field("fixing", Choice("bolts", "adhesive", "strap"), "What holds it.",
              otherwise="`bolts` where the part has bolts"),
        Field("frame", FRAME, "Frame that the sensor's messages carry, when the driver wants another than ours."),
        Field("frames", Named("a sensor", FRAME, words="sensor → frame"), "The same, by sensor."),
        Field("topic", TOPIC, "Topic of the sensor, when not the part's."),
        Field("topics", Named("a sensor", TOPIC, words="sensor → topic"), "The same, by sensor."),
        Field("calibrated", EachOrOne("a sensor", CALIBRATED), "Measured pose of the sensor, or by sensor."),
        Field("mass", MASS, "Weighed mass of this very part."),
        Field("note", FreeText(), "Free text for the drawings and the build sheet."),
        Field("mirror_of", Ref("a placement"), "Another placement that this one mirrors in the x–z plane "
              "of the deck or seat that carries it; keys that are given here win, `on` is taken over as it is."),
    ),
    not_both=[("screws", "at"), ("screws", "turn"), ("turn", "points"), ("frame", "frames"), ("topic", "topics")],
    extra_schema={"allOf": [{"anyOf": [{"required": ["part", "on"]}, {"required": ["mirror_of"]}]}]},
    doc="One part in one place.", example="part: lidar_d70, on: upper, at: [1, 0]",
)
DRIVE = Record(
    "drive", "the drive",
    (
        Field("kind", Choice("differential", "skid_steer", "mecanum", "omni", "ackermann"),
              "How it steers. `ackermann`: two driven wheels and one or two that steer.", required=True),
        *(Field(side, ListOf(Ref("a wheel placement"), least=1, words="list of placements",
                             say="a list of wheel placements, like `[wheel_left]`"),
                f"Driven wheels on the {side}, front to rear; of all kinds but `omni`.") for side in ("left", "right")),
        Field("wheels", ListOf(Ref("a wheel placement"), least=3, words="list of placements",
                               say="a list of three or more wheel placements, like `[wheel_1, wheel_2, wheel_3]`"),
              "Of `omni` the driven wheels, counter-clockwise from the front; their axles point outward at equal angles."),
        Field("steer", ListOf(Ref("a driven adjustment", words="`placement.seat.adjustment`"), least=1,
                              words="list of `placement.seat.adjustment`",
                              say="a list of one or two driven adjustments, like `[knuckle_left.hub.steer, "
                              "knuckle_right.hub.steer]`"),
              "Of `ackermann` the driven adjustments that carry the steered wheels, left and right, or one in the middle."),
    ),
    extra_schema={"allOf": [
        {"if": {"properties": {"kind": {"const": "omni"}}, "required": ["kind"]},
         "then": {"required": ["wheels"], "not": {"anyOf": [{"required": [k]} for k in ("left", "right", "steer")]}},
         "else": {"required": ["left", "right"], "not": {"required": ["wheels"]}}},
        {"if": {"properties": {"kind": {"const": "ackermann"}}, "required": ["kind"]},
         "then": {"required": ["steer"]}, "else": {"not": {"required": ["steer"]}}}]},
    doc="Driven wheels.", example="kind: differential, left: [wheel_left], right: [wheel_right]",
)
MAINTAINER = Record(
    "maintainer", "a maintainer",
    (Field("name", FreeText(), "Name of a person or group.", required=True),
     Field("email", FreeText("address", pattern=r"[^@\s]+@[^@\s]+\.[^@\s]+", say="an address like `club@example.org`"),
           "Address; package.xml wants one (REP-149).", required=True)),
)
PLUGIN = FreeText("plugin name", pattern=r"[A-Za-z_][A-Za-z0-9_]*(?:(?:/|::)[A-Za-z_][A-Za-z0-9_]*)+",
                  say="a plugin name like `my_package/MyHardware`")
ROS = Record(
    "ros", "the ROS settings",
    (
        Field("distro", Choice("humble", "jazzy", "kilted", "lyrical"), "ROS 2 distribution to write for.",
              default="jazzy"),
        Field("odometry", Choice("controller", "ekf"), "Who publishes the transform from `odom` to the robot.",
              default="controller"),
        Field("control", Choice("ros2_control", "none"), "Whether to write controllers.", default="ros2_control"),
        Field("simulation", Choice("files", "none"), "Whether to write files for simulators.", default="files"),
        Field("hardware", PLUGIN, "Plugin of ros2_control for the hardware of the drive."),
        Field("hardware_of", Named("a placement", PLUGIN, words="placement → plugin name"),
              "Plugin of ros2_control for each placement that moves by motors of its own, such as a servo head."),
        Field("casters", Choice("still", "turning"),
              "Swivel casters in the description: `still`, drawn trailing, or on joints of their own.", default="still"),
        Field("visual", Choice("mesh", "boxes"), "How the package draws the robot: decks with their holes and every colour by "
              "meshes, or `boxes`: decks as boxes, and no meshes but those of described parts.", default="mesh"),
        Field("prefix", FreeText("text that ends in `_`", pattern=PREFIX_PATTERN, code="bad-name", say=PREFIX_WORDS,
                                 better=better_prefix), "Stands before every link, joint and frame."),
        Field("namespace", FreeText("ROS namespace", pattern=NAMESPACE_PATTERN, code="bad-name",
                                    say="a namespace such as `robot1`, without a slash before or behind it"),
              "ROS namespace of the robot's nodes, for several robots on one network; alone it also keeps their transforms "
              "apart, with a `prefix` they share `/tf`."),
        Field("slam_lidar", Ref("a placement"), "Which lidar maps and localises.",
              otherwise="the one with the widest free view"),
        Field("scan_from", Ref("a placement"), "Whose cloud (depth camera, lidar with layers) also gives a flat scan, which then "
              "maps and localises unless `slam_lidar` names a lidar.", otherwise="the widest view, where no flat lidar is there"),
        Field("scan_by", Choice("cloud", "depth_image"), "What of a depth camera that scan is made of: its cloud, whatever its "
              "attitude, or a few rows of its depth image, which costs less and is right for a level camera only.",
              default="cloud"),
        Field("maintainer", MAINTAINER, "Who keeps the description package."),
        Field("license", FreeText(say="the name of a license, like `Apache-2.0`"), "License of the description package."),
        Field("version", FreeText("`1.2.3`", pattern=r"(?:0|[1-9]\d*)\.(?:0|[1-9]\d*)\.(?:0|[1-9]\d*)",
                                  say="three numbers like `0.1.0`"), "Version of the description package.",
              default="0.1.0"),
    ),
    doc="How the robot meets ROS 2.",
)
#: Name, default in the unit of the name, and what it is.
_LIMITS: tuple[tuple[str, float, str], ...] = (
    ("edge_web", 1, "Least material between a used hole and an edge, in hole diameters"),
    ("overlap_mm", 0.1, "Overlap of two solids that is let pass"),
    ("wheel_gap_mm", 2, "Least gap around a wheel"),
    ("rest_tilt_deg", 0.5, "Most tilt at rest"),
    ("clearance_mm", 5, "Least height above the ground"),
    ("tip_angle_deg", 15, "Least angle at which it tips"),
    # a bag or a box on the floor: our choice
    ("blind_height_mm", 200, "Height of obstacles half a metre away that some sensor must see all round"),
)


def _limit(name: str, default: float, doc: str) -> Field:
    unit = {"mm": " in mm", "deg": " in degrees"}.get(name.rpartition("_")[2], "")
    return Field(name, Number(0, 1000, example=f"{default:g}", instead="a limit has the unit of its name: write "
                              "the number alone"), f"{doc}{unit}.", default=default)


LIMIT = Record("limits", "the limits", [_limit(*row) for row in _LIMITS], doc="What the check measures against.")
ACCEPT = Record(
    "accept", "an accepted finding",
    (
        Field("finding", Ref("a finding of the check"), "Code of the finding.", required=True),
        Field("of", ListOf(Ref("a deck, placement or frame"), least=1, words="list of names",
                           say="a list of names like `[lidar, mast]`"), "What it is about.", required=True),
        Field("because", FreeText(say="the reason, in words"), "Why it is accepted.", required=True),
    ),
    doc="A finding that the builder knows and accepts.",
)
CHECKS = Record(
    "checks", "the check settings",
    (Field("limits", LIMIT, "Limits, by name."),
     Field("accept", ListOf(ACCEPT, words="list of accepted findings",
                            say="a list like `[{finding: view-blocked, of: [lidar], because: the mast is needed}]`"),
           "Findings that are accepted, each with the reason.")),
)
SIMULATION = Record(
    "simulation", "the simulation settings",
    (Field("world", FreeText("file name", say="the name of a world file"),
           "World to simulate in, beside this file: SDF for Gazebo, or MJCF for MuJoCo. Systems that the robot needs and it lacks "
           "are added to the copy in the package.", otherwise="an empty floor"),),
    doc="Where the robot is simulated.", example="world: corridor.sdf",
)
FASTENERS = Record(
    "fasteners", "the fasteners",
    (
        Field("head", Choice("socket", "button", "pan"), "Kind of screw head: ISO 4762, ISO 7380-1, ISO 7045.",
              default="socket"),
        Field("nut", Choice("plain", "lock"), "Kind of nut: ISO 4032, or ISO 7040 with a plastic insert.", default="plain"),
        Field("washers", Bool(), "Washers (ISO 7089) under every head and nut, or under none.",
              otherwise="under those that press on wood or plastic"),
        Field("lengths", ListOf(Quantity(units.LENGTH, 0.001, 0.3, what="the length of a screw"), least=1,
                                words="list of lengths, mm", say="a list of lengths like `[8, 10, 12, 16]`"),
              "Lengths that are at hand.",
              otherwise="the standard's"),
    ),
    doc="Which screws, nuts and washers the build sheet chooses from.", example="head: button, nut: lock, lengths: [8, 10, 12, 16]",
)
MATERIALS = Named("a material", DENSITY, name=FreeText(), words="name → kg/m³")
PARTS = Named("a part", PART, words="name → part")
LAYOUT = Record(
    "layout", "a layout",
    (
        Field("layout", Integer(example="1"), "Version of the layout language: 1.", required=True, example="1"),
        Field("robot", Ref("the robot", words="name"), "Name of the robot; the package is `<robot>_description`.",
              required=True, example="my_robot"),
        Field("lattice", LATTICE, "Lattice of every deck that says nothing else."),
        Field("catalogue", ListOf(FreeText("file name", say="the name of a part file"), words="list of file names",
                                  say="a list of part files like `[club_parts.yaml]`"),
              "Further part files, relative to this one; searched after `parts`, before the built-in catalogue."),
        Field("parts", PARTS, "Parts of this robot alone."),
        Field("materials", MATERIALS, "Densities of further materials."),
        Field("packages", Named("a package", FreeText(say="the folder of the package, relative to this file"),
                                words="package → folder"),
              "Folders of ROS packages that descriptions are in, for those that are not below AMENT_PREFIX_PATH."),
        Field("decks", Named("a deck", DECK, reserved=True, words="name → deck", least=1), "Decks by name.",
              required=True),
        Field("placements", Named("a placement", PLACEMENT, reserved=True, words="name → placement"),
              "One part in one place, by name."),
        Field("drive", DRIVE, "Driven wheels."),
        Field("ros", ROS, "How the robot meets ROS 2."),
        Field("simulation", SIMULATION, "Where the robot is simulated."),
        Field("weighed", Quantity(units.MASS, 0.001, 5000.0, what="the mass of a robot"),
              "Mass of the finished robot on a scale."),
        Field("fasteners", FASTENERS, "Screws, nuts and washers for the build sheet."),
        Field("checks", CHECKS, "Limits of the check, and findings that are accepted."),
    ),
    doc="One robot, as it was bolted.",
)
CATALOGUE = Record(
    "catalogue", "a part file",
    (Field("parts", PARTS, "Parts by name.", required=True),
     Field("materials", MATERIALS, "Densities of further materials.")),
    doc="Parts that several robots share.",
)
