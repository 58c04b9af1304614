"""The layout that ``new`` writes: a small robot that stands, drives and looks, to be changed into one's own."""
from __future__ import annotations

from chassis_describe.errors import UsageError
from chassis_describe.layout.names import slip

_TEXT = """\
# {name}: change this into your robot. Millimetres, degrees and grams, unless a unit stands beside a number.
# Next: chassis_describe check {name}.yaml     what is wrong, and the key figures
#       chassis_describe holes {name}.yaml     which hole is where, and who uses it
#       chassis_describe parts       {gap}     what can be bolted on; `parts NAME` describes one
layout: 1
robot: {name}

# Hole [0, 0] is at a deck's centre; i counts holes forward, j to the left. Holes that an edge would cut are not there.
lattice: {{pitch: 20, hole: 3.5, screw: M3}}

decks:
  lower:
    outline: {{rectangle: [240, 160], corner: 12}}
    thickness: 4
    material: birch plywood

placements:
  # Under the deck. A part whose screws straddle a hole sits at .5; the right side mirrors the left.
  motor_left:  {{part: gearmotor_d37, on: lower, face: under, at: [0.5, 2], points: left}}
  motor_right: {{mirror_of: motor_left}}
  wheel_left:  {{part: wheel_d80, on: motor_left}}
  wheel_right: {{part: wheel_d80, on: motor_right}}
  caster:      {{part: ball_caster_h40, on: lower, face: under, at: [-4.5, 0], lift: 18.5}}  # spacers make it level

  # On the deck.
  cradle:      {{part: battery_cradle_small, on: lower, at: [-3, 0], points: left}}
  battery:     {{part: battery_small, on: cradle, fixing: strap}}
  lidar:       {{part: lidar_d70, on: lower, at: [3, 0], lift: 5, frame: laser_frame}}  # sees over the battery

drive: {{kind: differential, left: [wheel_left], right: [wheel_right]}}
"""


def starter(name: str) -> str:
    """The text of ``NAME.yaml``. Raises UsageError when the name could not be a robot's."""
    fault = slip(name, plain=True)
    if fault is not None:
        why, instead = fault
        raise UsageError(f"`{name}` can't be a robot's name: {why}; {instead}")
    return _TEXT.format(name=name, gap=" " * len(name))
