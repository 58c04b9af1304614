"""The keys of parts: bodies, sensors, seats, shafts, wheels. One table for reader, schema and manual."""
from __future__ import annotations

import math

from chassis_describe import units
from chassis_describe.layout.language.directions import Axes, Axis, ColorValue
from chassis_describe.layout.language.kinds import Amount, Bool, Choice, FreeText, Integer, Number, Quantity, Ref
from chassis_describe.layout.language.lists import ListOf, OneOf, Vec
from chassis_describe.layout.language.record import Field, Named, Record
from chassis_describe.layout.language.table_decks import DENSITY, HOLE, OWN_LATTICE, RPY, SCREW, SLOT, TURN, XY, XYZ
from chassis_describe.layout.names import TOPIC_PATTERN

PART_SIZE = Quantity(units.LENGTH, 0.0005, 3.0, what="a size of a part")
MASS = Quantity(units.MASS, 1e-5, 200.0, what="the mass of a part")
DEPTH = Quantity(units.LENGTH, 0.0005, 0.100, what="the depth of a thread")
CONE = Quantity(units.ANGLE, math.radians(0.05), 2 * math.pi, what="a field of view")
MOMENT = Quantity(units.INERTIA, 1e-12, 1e4, what="a moment of inertia")
PRODUCT = Quantity(units.INERTIA, None, 1e4, what="a product of inertia")
REACH = Quantity(units.LENGTH, 0.0, 1000.0, what="the range of a sensor")

TOPIC = FreeText("name of a topic", pattern=TOPIC_PATTERN, say="a topic such as `scan` or `front/scan`", code="bad-name")

_RPY = Field("rpy", RPY, "Attitude: turns about the part's fixed x, y, z.", default=(0, 0, 0))
_AXES = Field("axes", Axes(), "Attitude by where two axes point, instead of `rpy`.")
_WITH = Ref("a seat of the part, or `seat.adjustment`", words="`seat` or `seat.adjustment`")

BODY = Record(
    "body", "a body",
    (
        Field("box", Vec(PART_SIZE, 3, example="[40, 30, 12]", words="`[x, y, z]`, mm"), "Sides of a box."),
        Field("cylinder", Vec(PART_SIZE, 2, example="[37, 60]", words="`[diameter, length]`, mm"),
              "Diameter and length of a cylinder."),
        Field("sphere", PART_SIZE, "Diameter of a sphere."),
        Field("mesh", FreeText("file name", say="the name of a mesh file"),
              "Mesh for the eye only: an STL, OBJ, COLLADA (`.dae`) or one-file glTF beside this file, of at most 64 MiB, or a "
              "`package://…` address; beside at least one solid."),
        Field("axis", Choice("x", "y", "z"), "Axis of a cylinder.", default="z"),
        Field("scale", OneOf(words="number or `[x, y, z]`", accepts="a number like `0.001`, or three",
                             scalar=Number(above=0, high=1e6, example="0.001"),
                             seq=Vec(Number(above=0, high=1e6), 3, example="[0.001, 0.001, 0.001]")),
              "Factor from the units of a mesh to metres.", default=1),
        Field("at", XYZ, "Centre of the body (origin of a mesh) in part axes.", default=(0, 0, 0)),
        _RPY, _AXES,
        Field("mass", MASS, "Mass of this body; the rest of the part's is shared by volume."),
        Field("color", ColorValue(), "Colour in drawings and viewers."),
        Field("with", Ref("a seat of the part", words="`seat`, `seat.adjustment` or `swivel`"),
              "Moves with all adjustments of that seat, or with that one and those before it; of a swivel caster: with the fork."),
    ),
    one_of=[("box", "cylinder", "sphere", "mesh")], not_both=[("rpy", "axes")],
)
GIVEN_INERTIA = Record(
    "inertia", "an inertia",
    (
        *(Field(n, MOMENT, f"Moment about the {n[-1]} axis.", required=True) for n in ("ixx", "iyy", "izz")),
        *(Field(n, PRODUCT, f"Product of inertia, −∫{n[1]}{n[2]} dm.", default=0) for n in ("ixy", "ixz", "iyz")),
    ),
    doc="Measured, about the centre of mass in part axes; refused when no body can have it.",
)
#: Which keys each kind of sensor has beside the common ones.
SENSOR_KEYS: dict[str, tuple[str, ...]] = {
    "lidar": ("range", "fov", "samples", "layers", "vertical", "zero_beam", "angles", "noise"),
    "camera": ("range", "fov", "resolution", "looks"),
    "depth_camera": ("range", "fov", "resolution", "looks", "noise"),
    "ranger": ("range", "fov", "radiation", "looks", "noise"),
    "imu": ("noise",), "gnss": (), "contact": (),
}
SENSOR_OWN_KEYS = frozenset(key for keys in SENSOR_KEYS.values() for key in keys)
IMU_NOISE = Record(
    "imu_noise", "the noise of an imu",
    (Field("gyro", Quantity(units.TURN_RATE, 0.0, 1.0, what="the noise of a gyroscope"), "Standard deviation of each rate of turn.",
           default=0),
     Field("accel", Quantity(units.ACCELERATION, 0.0, 10.0, what="the noise of an accelerometer"),
           "Standard deviation of each acceleration.", default=0)),
    example="gyro: 0.1, accel: 0.02",
)
SENSOR = Record(
    "sensor", "a sensor",
    (
        Field("kind", Choice(*SENSOR_KEYS), "What kind of sensor it is.", required=True),
        Field("at", XYZ, "Sensing origin in part axes: scan plane, optical centre, mouth of the cone.",
              default=(0, 0, 0)),
        _RPY, _AXES,
        Field("range", Vec(REACH, 2, example="[150 mm, 12 m]", words="`[min, max]`, mm"),
              "Nearest and furthest distance that it measures (lidar, ranger, cameras)."),
        Field("rate", Quantity(units.FREQUENCY, 0.001, 100_000.0), "Measurements per second."),
        Field("topic", TOPIC, "Topic of its messages."),
        Field("driver_tf", Bool(), "The driver publishes the frames below this one, so we don't.", default=False),
        Field("fov", CONE, "Field of view: horizontal and full; of a ranger the full cone.", otherwise="360 for a lidar"),
        Field("samples", Integer(1, 1_000_000, example="720"), "Lidar: beams per turn or field of view, of one layer."),
        Field("layers", Integer(1, 1024, example="16"), "Lidar: number of layers.", default=1),
        Field("vertical", Vec(Quantity(units.ANGLE, None, math.pi / 2, what="an elevation"), 2, example="[-15, 15]",
                              words="`[low, high]`, degrees"), "Lidar of several layers: lowest and highest."),
        Field("zero_beam", TURN, "Lidar: further turn of the sensing frame about its own z, to its zero beam.",
              default=0),
        Field("angles", Choice("symmetric", "positive"),
              "Lidar: the driver counts angles from −π to π, or from 0 to 2π.", default="symmetric"),
        Field("resolution", Vec(Integer(1, 100_000, example="640"), 2, example="[640, 480]",
                                words="`[width, height]`, pixels"), "Cameras: size of the image."),
        Field("radiation", Choice("ultrasound", "infrared"), "Ranger: what it sends out."),
        Field("noise", OneOf(words="length, mm; of an imu mapping: the noise of an imu",
                             accepts="a standard deviation such as `5` (mm), of an imu `{gyro: 0.1, accel: 0.02}`",
                             scalar=Quantity(units.LENGTH, 5e-5, 1.0, zero=True, what="the noise of a distance"),
                             mapping=IMU_NOISE),
              "Standard deviation of what it measures, for simulators: of each distance of a lidar, ranger or depth camera; of an "
              "imu by what it measures.", otherwise="none"),
        Field("looks", Choice("floor", "ceiling"), "Cameras, ranger: what it is meant to look at, when that does not lie ahead; "
              "the check then sees to that instead of warning of it."),
        Field("with", _WITH, "Moves with that seat, or with that adjustment and those before it."),
        Field("link", Ref("a link of the description", words="link"), "Of a part with a `description`, instead of `at`: the link "
              "that is at the sensing origin (optical axes where its name ends in `optical_frame`); none of ours is written."),
    ),
    not_both=[("rpy", "axes"), ("link", "at"), ("link", "rpy"), ("link", "axes"), ("link", "with"), ("link", "zero_beam")],
    doc="A sensing origin in REP-103 axes: x forward, out of the sensor; y left; z up.",
)
#: How far a slide goes from its zero, and how fast and how hard motors push.
TRAVEL = Quantity(units.LENGTH, None, 2.0, what="the travel of a slide")
TORQUE = Quantity(units.TORQUE, 1e-5, 10_000.0)
FORCE = Quantity(units.FORCE, 1e-3, 100_000.0)
TURNS_PER_TIME = Quantity(units.SPEED, 0.01, 20_000.0)
TRAVEL_PER_TIME = Quantity(units.VELOCITY, 1e-5, 20.0)
AMOUNT = Amount(TURN, TRAVEL, words="degrees, of a slide mm")
ADJUSTMENT_MOTOR = Record(
    "adjustment_motor", "the motor of an adjustment",
    (Field("torque", TORQUE, "Stall torque at the axis, of a turn."),
     Field("force", FORCE, "Most force along the axis, of a slide."),
     Field("speed", Amount(TURNS_PER_TIME, TRAVEL_PER_TIME, words="rotational speed, rpm; of a slide mm/s"),
           "Speed without load; `0.12 s/60deg` is taken, too.", required=True)),
    one_of=[("torque", "force")], example="torque: 1.2, speed: 60",
)
FOLLOWS = Record(
    "follows", "what an adjustment follows",
    (Field("of", Ref("an adjustment of the part", words="name"), "The adjustment that leads.", required=True),
     Field("times", Number(-1e6, 1e6, example="-1"), "Its own degrees or mm, for each degree or mm of the leader.", default=1),
     Field("plus", AMOUNT, "What is added to that.", default=0)),
    example="of: left, times: -1",
)
ADJUSTMENT = Record(
    "adjustment", "an adjustment",
    (
        Field("name", Ref("the adjustment", words="name"), "Name to set it by.", required=True),
        Field("axis", Axis(), "Axis that it turns about, or direction that it slides in, in the seat's axes at zero.",
              required=True),
        Field("kind", Choice("turn", "slide"), "What it does.", default="turn"),
        Field("motion", Choice("by_hand", "driven", "free"),
              "What moves it: `by_hand` before driving; `driven`, a motor; `free`, a hinge or spring that nothing commands.",
              default="by_hand"),
        Field("pivot", XYZ, "Point of the axis, in part coordinates.", otherwise="the seat's origin"),
        Field("range", OneOf(words="`[low, high]`, degrees (of a slide mm), or `endless`",
                             accepts="two values like `[-30, 30]`, or `endless`", scalar=Choice("endless"),
                             seq=Vec(AMOUNT, 2, example="[-30, 30]")),
              "How far it goes; `endless` for a turn without stops. Needed unless it follows another."),
        Field("rest", AMOUNT, "Where it is when not set.", default=0),
        Field("motor", ADJUSTMENT_MOTOR, "What drives it; a driven one needs it."),
        Field("follows", FOLLOWS, "Moves with another adjustment of the part, as the second finger of a gripper does."),
    ),
    doc="What can move on a part: a turn or a slide, set by hand before driving, or moved while the robot runs.",
)
BOLT_RECORD = Record(
    "bolt", "a bolt in a slot",
    (Field("at", XY, "Middle of the slot, in the base plane.", required=True),
     Field("slot", SLOT, "Overall length and width of the slot, which has round ends.", required=True),
     Field("turn", TURN, "Direction of the slot's length, from the part's x counter-clockwise.", default=0)),
    doc="A slot in the part: its bolt may stand anywhere along it.", example="at: [20, 0], slot: [14, 3.4], turn: 90",
)
BOLT = OneOf(words="`[x, y]`, mm", accepts="a position like `[20, 0]`, or `{at: [20, 0], slot: [14, 3.4]}`", seq=XY,
             mapping=BOLT_RECORD)
SEAT_BOLT_RECORD = Record(
    "seat_bolt", "a fixing hole of a seat",
    (Field("at", XY, "Position on the seat.", required=True),
     Field("hole", HOLE, "Diameter of a through hole."), Field("tapped", DEPTH, "Depth of a thread.")),
    not_both=[("hole", "tapped")],
)
SEAT_BOLT = OneOf(words="`[x, y]`, mm", accepts="a position like `[20, 0]`", seq=XY, mapping=SEAT_BOLT_RECORD)
SEAT = Record(
    "seat", "a seat",
    (
        Field("link", Ref("a link of the description", words="link"),
              "Of a part with a `description`: the link that the seat is in; `at` and attitude then count in its axes."),
        Field("at", XYZ, "Origin of the seat in part axes.", default=(0, 0, 0)),
        Field("rpy", RPY, "Attitude of the seat: its z points away from the part.", default=(0, 0, 0)),
        _AXES,
        Field("lattice", OWN_LATTICE, "Lattice of the seat.", default="none"),
        Field("bolts", ListOf(SEAT_BOLT, least=1, words="list of `[x, y]`, mm",
                              say="a list of positions like `[[-20, 0], [20, 0]]`"),
              "Fixing holes of the seat, in its plane; each `[x, y]` or `{at: [x, y], hole: d}`."),
        Field("hole", HOLE, "Diameter of those fixing holes, when they go through."),
        Field("tapped", DEPTH, "Depth of those fixing holes, when they are threads."),
        Field("countersink", Quantity(units.LENGTH, 0.001, 0.040, what="the diameter of a countersink"),
              "Diameter of 90° countersinks behind those holes: the screws come from behind, their heads flush."),
        Field("adjust", ListOf(ADJUSTMENT, words="list of adjustments", key="name",
                               say="a list like `[{name: pitch, axis: left, range: [-30, 30]}]`"),
              "What can be set or moves, in order from the part outwards."),
    ),
    not_both=[("rpy", "axes"), ("hole", "tapped"), ("tapped", "countersink")],
    doc="A place on a part where another part can be fixed.",
)
PLATE_HOLE = Record(
    "plate_hole", "a hole of a part's plate",
    (Field("at", XY, "Its middle, in part axes.", required=True), Field("hole", HOLE, "Diameter.", required=True)),
    doc="A hole that no bolt of the part uses, such as one that leaves the head of another screw free.",
    example="at: [20, 0], hole: 8",
)
PLATE = Record(
    "part_plate", "the plate of a part",
    (
        Field("rectangle", Vec(PART_SIZE, 2, example="[80, 60]", words="`[x, y]`, mm"), "Side along x and side along y.",
              required=True),
        Field("corner", Quantity(units.LENGTH, 1e-4, 1.5, zero=True, what="a corner radius"), "Radius of its corners.", default=0),
        Field("centre", XY, "Where its middle lies, in part axes.", default=(0, 0)),
        Field("thickness", Quantity(units.LENGTH, 0.0003, 0.050, what="the thickness of a plate"),
              "Thickness, up from the base plane.", required=True),
        Field("material", FreeText("name of a material", say="the name of a material"), "Material by name; gives the density."),
        Field("density", DENSITY, "Density, when the material is not in the table or the plate is not solid."),
        Field("holes", ListOf(PLATE_HOLE, words="list of holes", say="a list like `[{at: [20, 0], hole: 8}]`"),
              "Further holes, beside those of bolts and seats."),
        Field("color", ColorValue(), "Colour in drawings and viewers."),
    ),
    doc="A flat plate on the base plane. It is a body of the part, and `flange` is its thickness; its mass is worked out, less the "
        "part's bolt holes and those of seats on its face. `draw` on the part's file gives its DXF, template and STL.",
    example="rectangle: [80, 60], thickness: 4, material: birch plywood",
)
DESCRIPTION = Record(
    "description", "a description of its own",
    (
        Field("file", FreeText("file name", say="the name of a URDF or xacro file"),
              "URDF or xacro: a path beside this file, or a `package://…` address.", required=True),
        Field("macro", FreeText("name of a macro", pattern=r"[A-Za-z_][A-Za-z0-9_\-]*",
                                    say="the name of a macro, without `xacro:`"),
              "Of a xacro: the macro to call; without it the file is expanded as it is, with `arguments` for its `xacro:arg`."),
        Field("arguments", Named("an argument", FreeText(say="a text; `{prefix}` and `{frame}` are replaced in it"),
                                 name=FreeText("argument", pattern=r"[A-Za-z_][A-Za-z0-9_]*", say="the name of an argument"),
                                 words="argument → text"),
              "What it is called with; in it `{prefix}` stands for the robot's prefix, the placement's name and `_`, `{frame}` for "
              "the placement's link."),
        Field("root", Ref("a link of the description", words="link"), "Its link that lies on the part's origin.",
              otherwise="its only root"),
    ),
    doc="URDF or xacro that others wrote for this part, such as an arm; it takes the place of `bodies`.",
    example="file: package://little_arm_description/urdf/arm_macro.xacro, macro: little_arm",
)
SHAFT = Record(
    "shaft", "a shaft",
    (Field("at", XYZ, "Point on the shaft that a wheel's `offset` counts from.", default=(0, 0, 0)),
     Field("axis", Axis(), "Direction out of the motor.", required=True),
     Field("with", _WITH, "Moves with that seat, or with that adjustment and those before it (a steered hub).")),
)
MOTOR = Record(
    "motor", "a motor",
    (Field("torque", TORQUE, "Stall torque at the shaft.", required=True),
     Field("speed", TURNS_PER_TIME, "Speed of the shaft without load.", required=True)),
)
# Default frictions are common practice: rubber 0.6 to 1, a polished ball little.
WHEEL = Record(
    "wheel", "a wheel",
    (
        Field("diameter", Quantity(units.LENGTH, 0.010, 1.0, what="the diameter of a wheel"), "Diameter of the tread.",
              required=True),
        Field("width", Quantity(units.LENGTH, 0.0005, 0.5, what="the width of a wheel"), "Width of the tread.", required=True),
        Field("offset", Quantity(units.LENGTH, None, 0.5, what="the offset of a wheel"),
              "From the shaft's point to the wheel's mid-plane, along the shaft.", default=0),
        Field("friction", Number(0, 10, example="0.9"), "Friction coefficient on the floor, for simulators.", default=0.8),
        Field("rollers", Choice("left", "right", "across"), "Hand of the rollers of a mecanum wheel: `left` belongs to the "
              "front left and rear right, `right` to the other two. There the rollers on top of the wheel point towards the "
              "robot's middle. `across`: along the rim, of an omnidirectional wheel."),
    ),
    doc="The part's origin is the wheel's centre, its +y points outward along the shaft.",
)
CASTER = Record(
    "caster", "a caster",
    (
        Field("ball", Quantity(units.LENGTH, 0.002, 0.3, what="the diameter of a ball"), "Diameter of a ball."),
        Field("wheel", Vec(Quantity(units.LENGTH, 0.002, 0.5, what="a size of a caster wheel"), 2, example="[40, 18]",
                           words="`[diameter, width]`, mm"), "Diameter and width of a swivel wheel."),
        Field("trail", Quantity(units.LENGTH, 0.0, 0.3, what="the trail of a caster"),
              "Distance from the swivel axis to the wheel's axle.", default=0),
        Field("at", XYZ, "Centre of the ball, or of the wheel's axle when trailing.", default=(0, 0, 0)),
        Field("friction", Number(0, 10, example="0.1"), "Friction coefficient on the floor, for simulators.", default=0.1),
    ),
    one_of=[("ball", "wheel")],
)
PART = Record(
    "part", "a part",
    (
        Field("about", FreeText(), "One line that says what it is."),
        Field("license", FreeText(), "Under which terms the entry may be passed on, such as an SPDX name."),
        Field("source", FreeText(), "Where its figures come from: a data sheet, a drawing, a caliper."),
        Field("revision", FreeText(), "Which make or revision of the thing, or of the entry."),
        Field("measured_by", FreeText(), "Who measured it."),
        Field("like", Ref("a part"), "Another part whose keys are taken where not given here."),
        Field("mass", MASS, "Mass; shared among the bodies by volume unless a body states its own."),
        Field("bodies", ListOf(BODY, words="list of bodies", say="a list like `[{box: [40, 30, 12], at: [0, 0, 6]}]`"),
              "Uniform solids that it is made of."),
        Field("plate", PLATE, "A flat plate that it is cut from; a body too."),
        Field("com", XYZ, "Measured centre of mass, instead of the computed one."),
        Field("inertia", GIVEN_INERTIA, "Measured inertia, instead of the computed one."),
        Field("bolts", ListOf(BOLT, words="list of `[x, y]`, mm", say="a list of positions like `[[-20, 0], [20, 0]]`"),
              "Bolts, in the base plane; a slot is `{at: [x, y], slot: [length, width], turn: 0}`."),
        Field("bolt_hole", HOLE, "Diameter of the part's through holes.", otherwise="the lattice's hole"),
        Field("tapped", DEPTH, "Depth of threads in the part, instead of through holes."),
        Field("screw", SCREW, "Screw.", otherwise="the lattice's"),
        Field("flange", Quantity(units.LENGTH, 1e-4, 0.100, zero=True, what="the thickness of a flange"),
              "Thickness under the screw head.", default=3),
        Field("keep_clear", ListOf(BODY, words="list of bodies",
                                   say="a list like `[{box: [30, 20, 20], at: [50, 0, 10]}]`"),
              "Empty space that hands, plugs and cables need."),
        Field("sensors", Named("a sensor", SENSOR), "Sensors by name."),
        Field("seats", Named("a seat", SEAT), "Seats by name."),
        Field("shafts", Named("a shaft", SHAFT), "Shafts by name."),
        Field("motor", MOTOR, "What drives the shafts."),
        Field("description", DESCRIPTION, "A description of its own that is merged in, instead of bodies."),
        Field("wheel", WHEEL, "Makes the part a wheel; without bodies it is that cylinder."),
        Field("caster", CASTER, "Makes the part a caster."),
    ),
    not_both=[("bolt_hole", "tapped"), ("wheel", "caster")],
    doc="Part axes: origin in the base plane that touches the support, z away from it, x the part's own forward.",
)
