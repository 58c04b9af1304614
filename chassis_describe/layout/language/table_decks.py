"""The keys of decks, lattices and outlines: the one table that reader, schema and manual share."""
from __future__ import annotations

import math

from chassis_describe import units
from chassis_describe.layout.language.directions import Axes
from chassis_describe.layout.language.kinds import Choice, FreeText, Integer, Number, Quantity, Ref
from chassis_describe.layout.language.lists import ListOf, OneOf, Vec
from chassis_describe.layout.language.record import Field, Record

POSITION = Quantity(units.LENGTH, None, 5.0, what="a position")
XY = Vec(POSITION, 2, example="[40, -20]", words="`[x, y]`, mm")
XYZ = Vec(POSITION, 3, example="[40, -20, 0]", words="`[x, y, z]`, mm")
TURN = Quantity(units.ANGLE, None, 2 * math.pi, what="an angle")
RPY = Vec(TURN, 3, example="[0, 15, 0]", words="`[roll, pitch, yaw]`, degrees")
HOLE = Quantity(units.LENGTH, 0.001, 0.020, what="the diameter of a hole")
SLOT = Vec(Quantity(units.LENGTH, 0.001, 1.0, what="a slot"), 2, example="[12, 3.5]", words="`[length, width]`, mm")
DENSITY = Quantity(units.DENSITY, 10.0, 25_000.0)
LATTICE_POINT = Vec(Number(-10_000, 10_000, example="1.5", instead="lattice coordinates count holes: no unit"), 2,
                    example="[1, 0]", words="`[i, j]`, holes")
HOLE_POINT = Vec(Integer(-10_000, 10_000), 2, example="[1, 0]", words="`[i, j]`, whole holes")

#: ISO 261 coarse threads that have clearance holes in ISO 273, with their nominal diameter in the name (mm).
SCREWS = ("M1.6", "M2", "M2.5", "M3", "M3.5", "M4", "M5", "M6", "M8", "M10", "M12")
SCREW = Choice(*SCREWS, words="`M3` …")

_LATTICE_FIELDS = (
    Field("pitch", Quantity(units.LENGTH, 0.002, 0.200, what="the pitch of a lattice"),
          "Distance from hole to hole, both ways.", default=20),
    Field("hole", HOLE, "Diameter of the holes.", default=3.5),
    Field("screw", SCREW, "Screw that the holes are for.", default="M3"),
)
LATTICE = Record("lattice", "the lattice of the robot", _LATTICE_FIELDS,
                 doc="The regular pattern of holes that decks have unless they say otherwise.")
OWN_LATTICE_RECORD = Record(
    "own_lattice", "a lattice",
    (*_LATTICE_FIELDS, Field("origin", XY, "Where hole [0, 0] lies in the coordinates of this deck or seat.",
                             default=(0, 0))),
    doc="A lattice of one deck or seat; keys that are left out are the robot's for a deck, "
        f"{', '.join(f'{f.default}' for f in _LATTICE_FIELDS[:-1])} and {_LATTICE_FIELDS[-1].default} for a seat.")
OWN_LATTICE = OneOf(words="lattice, or `none`", accepts="`none`, or a mapping like `{pitch: 10}`",
                    scalar=Choice("none"), mapping=OWN_LATTICE_RECORD)

SIDE = Quantity(units.LENGTH, 0.0005, 5.0, what="a side or diameter")
_SHAPE_FIELDS = (
    Field("rectangle", Vec(SIDE, 2, example="[240, 160]", words="`[x, y]`, mm"), "Side along x and side along y."),
    Field("circle", SIDE, "Diameter."),
    Field("polygon", ListOf(XY, least=3, whole=True, words="list of `[x, y]`, mm",
                            say="a list of at least three points like `[[0, 0], [80, 0], [80, 60]]`"),
          "Corners in order, either way round; the last joins the first."),
    Field("corner", Quantity(units.LENGTH, 1e-4, 2.5, zero=True, what="a corner radius"), "Radius of the corners of a rectangle.",
          default=0),
    Field("centre", XY, "Where the shape's centre (of a polygon: its [0, 0]) lies in deck coordinates.",
          default=(0, 0)),
)
SHAPE = Record("shape", "a shape", _SHAPE_FIELDS, one_of=[("rectangle", "circle", "polygon")],
               doc="Deck coordinates, mm: x forward, y left.", example="rectangle: [240, 160]")
LAYER = FreeText("name of a layer", say="the name of a layer")
OUTLINE = Record(
    "outline", "an outline",
    (
        *_SHAPE_FIELDS[:3],
        Field("file", FreeText("file name", say="the name of a DXF file"),
              "DXF file with the whole plate: outline, cutouts and holes. The path counts from the file that names it."),
        *_SHAPE_FIELDS[3:],
        Field("layer", OneOf(words="layer, or list of layers", accepts="the name of a layer, or a list like `[plate, holes]`",
                             scalar=LAYER, seq=ListOf(LAYER, least=1)), "Layers of the file to read.",
              otherwise="all that are shown, but `marks`, `countersinks` and `defpoints`"),
        Field("front", Choice("up", "down", "left", "right"), "Where the deck's front is on the page of the file.", default="up"),
        Field("seen_from", Choice("top", "under"), "Face of the plate that the file shows.", default="top"),
    ),
    one_of=[("rectangle", "circle", "polygon", "file")],
    doc="The outer edge of a plate, in deck coordinates (mm: x forward, y left); or a file with all of the plate.",
    example="rectangle: [240, 160]",
)
DRILLED = Record(
    "drilled", "a drilled hole",
    (
        Field("at", XY, "Centre of the hole in deck coordinates.", required=True),
        Field("hole", HOLE, "Diameter of a round hole."),
        Field("slot", SLOT, "Overall length and width of a slot with round ends."),
        Field("turn", TURN, "Direction of a slot's length, from the deck's x counter-clockwise.", default=0),
    ),
    one_of=[("hole", "slot")],
    doc="A hole off the lattice; bolts may use it.", example="at: [33, 0], hole: 4.5",
)
STANDOFFS = Record(
    "standoffs", "a group of standoffs",
    (
        Field("length", Quantity(units.LENGTH, 0.0005, 1.0, what="the length of a standoff"),
              "Distance that they keep between the decks.", required=True),
        Field("holes", ListOf(LATTICE_POINT, least=1, words="list of `[i, j]`",
                              say="a list of holes like `[[-3, -3], [-3, 3]]`"),
              "Holes that they stand on, in the lattice of the other deck.", required=True),
        Field("on", Ref("a deck"), "Deck that they stand on, when not the one named by `above` or `below`."),
        Field("diameter", Quantity(units.LENGTH, 0.001, 0.100, what="the diameter of a standoff"),
              "Outer diameter (of a hexagon: across flats).", default=5.5),
        Field("material", FreeText("name of a material", say="the name of a material"), "Material by name.",
              default="brass"),
        Field("mass", Quantity(units.MASS, 1e-5, 5.0), "Weighed mass of each one."),
        Field("thread", Quantity(units.LENGTH, 0.001, 0.100, what="the depth of a thread"), "Depth of the thread at each end.",
              default=6),
    ),
    doc="Spacers of one length between two decks.",
)
_STACKS = ("above", "below", "fixed_to")
DECK = Record(
    "deck", "a deck",
    (
        Field("outline", OUTLINE, "Outer edge of the plate, or a file in which it is drawn.", required=True),
        Field("cutouts", ListOf(SHAPE, words="list of shapes", say="a list of shapes like `[{circle: 24}]`"),
              "Windows and wells: the plate is the outline minus their union; they may cross the outline."),
        Field("thickness", Quantity(units.LENGTH, 0.0003, 0.050, what="the thickness of a plate"),
              "Thickness of the plate.", required=True),
        Field("material", FreeText("name of a material", say="the name of a material"),
              "Material by name; gives the density."),
        Field("density", DENSITY, "Density, when the material is not in the table or the plate is not solid."),
        Field("mass", Quantity(units.MASS, 1e-5, 200.0), "Weighed mass of the drilled plate; rescales the computed one."),
        Field("lattice", OWN_LATTICE, "What is different from the robot's lattice; `none` for a plate without.",
              otherwise="the robot's"),
        Field("skip", ListOf(HOLE_POINT, words="list of `[i, j]`", say="a list of holes like `[[0, 0], [1, 0]]`"),
              "Holes of the lattice that are not drilled."),
        Field("drilled", ListOf(DRILLED, words="list of drilled holes",
                                say="a list like `[{at: [33, 0], hole: 4.5}]`"), "Holes off the lattice."),
        Field("above", Ref("a deck"), "Deck that this one is stacked over."),
        Field("below", Ref("a deck"), "Deck that this one hangs under."),
        Field("standoffs", ListOf(STANDOFFS, least=1, words="list of standoff groups",
                                  say="a list like `[{length: 60, holes: [[-3, -3], [-3, 3], [3, 0]]}]`"),
              "What keeps the two decks apart; with `above` or `below`."),
        Field("shift", LATTICE_POINT, "Point of the other deck's lattice over which this deck's (0, 0) stands.",
              default=(0, 0)),
        Field("turn", TURN, "Turn about z, counter-clockwise from above.", default=0),
        Field("fixed_to", Ref("a deck"), "Deck that a standing plate is fixed to."),
        Field("xyz", XYZ, "Position of a standing plate's frame in the other deck's frame.", default=(0, 0, 0)),
        Field("rpy", RPY, "Attitude of a standing plate: turns about the other deck's fixed x, y, z.",
              default=(0, 0, 0)),
        Field("axes", Axes(), "Attitude by where two axes point, instead of `rpy`."),
        Field("note", FreeText(), "Free text for the drawings and the build sheet."),
    ),
    not_both=[_STACKS, ("rpy", "axes")],
    doc="A plate with a lattice of holes. Exactly one deck has none of `above`, `below`, `fixed_to`: the base deck.",
)
