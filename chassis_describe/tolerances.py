"""Every tolerance and bound of the package, with its meaning and the reason for its size. SI."""
from __future__ import annotations

#: Two lengths closer than this are one length (m). Far below a workshop's 0.01 mm, far above rounding at 5 m.
SAME_LENGTH = 1e-9
#: A contact point within this of the ground plane stands on it (m) (DEVELOPERS.md, "Rest").
ON_GROUND = 1e-6
#: A contact further off the ground than this at rest does not reach it (m): no floor is flatter, and tyres and decks give.
REACHED = 0.5e-3
#: Two angles closer than this are one angle (rad).
SAME_ANGLE = 1e-9
#: A wheel axis within this of base y is along it (rad). `1.5708 rad` typed for a right angle is 4e-6 off, and screws in their
#: holes let a motor twist a hundred times more than this.
ALONG_Y = 1e-4
#: Lattice coordinates closer than this to each other are one hole (in pitches).
SAME_HOLE = 1e-6
#: Triangle rule of principal moments may be broken by this share of the largest (an ideal lamina reaches equality).
TRIANGLE_RULE = 1e-9
#: Values below this are written as 0 (SI): what is left of sums of rounded products.
ZERO = 1e-15
#: A scrap of plate below this area (m²) is rounding, not a piece: a square micrometre.
SCRAP = 1e-12
#: Ends of curves in a plate file that are no further apart are one point (m): the workshop's 0.01 mm. Drawings that are written
#: with two decimals of a millimetre, or four of an inch, part ends by as much; a gap that somebody left is larger.
JOINED = 1e-5
#: A curve in a plate file and the chords that stand for it are no further apart (m): the workshop's 0.01 mm.
CHORD = 1e-5
#: A circle in a plate file is a hole of the lattice when its middle is within this of the lattice (m): a fifth of the play that an
#: M3 screw has in a 3.5 mm hole, more than four decimals of an inch or a cutter's own steps, and no hole that somebody moved.
ON_LATTICE = 5e-5
#: Two holes in a plate file whose diameters differ by no more are of one size (m).
SAME_DIAMETER = 2e-5

# Bounds: where no robot is, and where the work would grow past what a person waits for.

#: Holes of all decks of a file: a metre of plate drilled every 10 mm each way has 10 000.
MOST_HOLES = 12_000
#: Pairs of cutouts of a file whose boxes meet: a plate with 40 windows that all run into one another has 780.
MOST_CROSSINGS = 1_000
#: How much work goes into finding how deep things are in one another, or in spaces to be kept clear: a pair of boxes is PLAIN,
#: anything in a plate IN_PLATE, a tilted round body CURVED.
MOST_DEPTHS = 2_000
PLAIN = 2
IN_PLATE = 8
CURVED = 60
#: Pairs of screws in one hole that are looked at: a hole that a few parts share has a handful.
MOST_SHARED = 2_000
#: Places that are tried for room in all, for the hints of one check.
MOST_PLACES_TRIED = 400
#: Findings of one code that are told in full; the rest is counted. Nobody reads so many before mending the first.
MOST_TOLD = 40
#: Findings of one code, by their place in the file, for which a remedy is looked for: more than are told, since what the builder
#: accepts is told apart.
MOST_HINTED = 3 * MOST_TOLD
#: A sensor is where it was calibrated when its nominal frame is within this of the one noted then (m, rad): what is written
#: with two decimals of a millimetre or degree is the same place.
SAME_NOMINAL, SAME_NOMINAL_TURN = 1e-5 + 1e-12, 1.7453292519943296e-4 + 1e-12
#: Corners of all curves of a plate file, arcs and splines as chords: a plate of 12 000 holes and forty curved windows has 5 000.
MOST_CORNERS = 50_000
#: Curves of a plate file, those of blocks counted as often as they are placed.
MOST_CURVES = 20_000
