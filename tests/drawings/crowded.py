"""Generated robots (invented): any number of parts, spread over three decks."""
from __future__ import annotations

import random

_PARTS = ("imu_board", "ultrasonic_ranger", "motor_driver", "battery_cradle_small", "lidar_d70", "camera_module", "leaning_holder")


def crowded(seed: int, parts: int = 60) -> str:
    """A layout of that many parts on three decks, at random places: it need not fit, it has to be drawn."""
    r = random.Random(seed)
    lines = ["layout: 1", f"robot: crowd_{seed}", "lattice: {pitch: 20, hole: 3.5, screw: M3}", "decks:",
             "  low: {outline: {rectangle: [400, 300], corner: 10}, thickness: 4, material: birch plywood}",
             "  mid: {outline: {circle: 320}, thickness: 3, material: acrylic, above: low, standoffs: "
             "[{length: 60, holes: [[-4, -4], [-4, 4], [4, 4], [4, -4]]}]}",
             "  high: {outline: {polygon: [[-120, -80], [140, -80], [140, 60], [0, 120], [-120, 60]]}, thickness: 3, "
             "material: PETG, above: mid, standoffs: [{length: 80, holes: [[-4, -2], [-4, 2], [4, 2]]}]}",
             "placements:",
             "  motor_left: {part: gearmotor_d37, on: low, face: under, at: [2.5, 5], points: left}",
             "  motor_right: {mirror_of: motor_left}",
             "  wheel_left: {part: wheel_d80, on: motor_left}",
             "  wheel_right: {part: wheel_d80, on: motor_right}",
             "  caster: {part: ball_caster_h40, on: low, face: under, at: [-7.5, 0], lift: 18.5}"]
    for k in range(parts - 5):
        deck = ("low", "mid", "high")[k % 3]
        face = "under" if r.random() < 0.3 else "top"
        at = [r.randint(-8, 8) / 2, r.randint(-6, 6) / 2]
        lines.append(f"  thing_with_a_name_{k}: {{part: {r.choice(_PARTS)}, on: {deck}, face: {face}, at: {at}, "
                     f"turn: {r.choice((0, 90, 180, 270, 30))}}}")
    lines.append("drive: {kind: differential, left: [wheel_left], right: [wheel_right]}")
    return "\n".join(lines) + "\n"
