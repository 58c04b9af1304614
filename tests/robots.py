"""Robots that several tests and the benchmark use, written once, in named pieces of a layout. All invented."""
from __future__ import annotations

DRIVE = "drive: {kind: differential, left: [wheel_left], right: [wheel_right]}"


def layout(robot: str, *, decks: str, placements: str, parts: str = "", more: str = "") -> str:
    """A layout of its pieces: entries of ``parts``, ``decks`` and ``placements``, and whatever keys come after them."""
    entries = [f"layout: 1\nrobot: {robot}\n", f"parts:\n{parts.strip(chr(10))}\n" if parts else "",
               f"decks:\n{decks.strip(chr(10))}\n", f"placements:\n{placements.strip(chr(10))}\n", f"{more}\n" if more else ""]
    return "".join(entries)


def catalogue_drive(deck: str, at: str = "[0.5, 2]") -> str:
    """Two driven wheels of the catalogue under a deck: placements for ``DRIVE``. They reach 58.5 mm below its underside."""
    return f"""\
  motor_left:  {{part: gearmotor_d37, on: {deck}, face: under, at: {at}, points: left}}
  motor_right: {{mirror_of: motor_left}}
  wheel_left:  {{part: wheel_d80, on: motor_left}}
  wheel_right: {{part: wheel_d80, on: motor_right}}
"""


#: Decks and placements of a robot that stands on three balls, 40 mm under its deck, which is 4 mm thick: parts for
#: ``standing_on_three``.
FOOT = """\
  foot: {mass: 30, bolts: [[-10, 0], [10, 0]], caster: {ball: 20, at: [0, 0, 30]},
         bodies: [{cylinder: [16, 22], at: [0, 0, 11]}, {sphere: 20, at: [0, 0, 30]}]}
"""


def standing_on_three(robot: str, parts: str, placements: str) -> str:
    """A robot that rolls nowhere: a deck ``floor`` on three feet."""
    feet = """\
  foot_front: {part: foot, on: floor, face: under, at: [4.5, 0]}
  foot_left:  {part: foot, on: floor, face: under, at: [-4.5, 2]}
  foot_right: {part: foot, on: floor, face: under, at: [-4.5, -2]}
"""
    return layout(robot, parts=FOOT + parts, decks="  floor: {outline: {rectangle: [240, 160]}, thickness: 4, density: 700}",
                  placements=feet + placements)
