"""``parts NAME`` in words: what is said is compared with what a builder would measure on the part (by hand)."""
from __future__ import annotations

import pytest

from chassis_describe.layout.catalogue import builtin_names, builtin_part
from chassis_describe.reports.part_words import describe_part, direction


def words(name: str) -> str:
    part = builtin_part(name)
    assert part is not None
    return describe_part(part)


@pytest.mark.parametrize("name", builtin_names())
def test_every_part_can_be_described(name: str) -> None:
    text = words(name)
    lines = text.splitlines()
    assert lines[0].startswith(name + " - ")
    labels = [line[2:12].strip() for line in lines[1:]]
    assert labels[:3] == ["size", "mass", "axes"] and "fits" in labels
    assert text.isascii() or "·" in text
    assert not any(bad in text for bad in ("None", "nan", "inf ", "-0,", "e-0", "Vec", "{", "}"))


@pytest.mark.parametrize(("name", "said"), [
    ("gearmotor_d37", "230 g"),
    ("gearmotor_d37", "size        83 x 76 x 37 mm"),  # from the can's end at x -25 to the shaft's at 58
    ("gearmotor_d37", "out of the motor forward"),
    ("gearmotor_d37", "1.2 N·m stalled, 130 rpm"),
    ("gearmotor_d37", "at halves in j; turned by a quarter, at halves in i"),
    ("wheel_d80", "y outward along the shaft"),
    ("wheel_d80", "goes on a shaft"),
    ("wheel_mecanum_d100_left", "left-hand rollers"),
    ("ball_caster_h40", "40 mm from support to ground"),
    ("swivel_caster_h70", "trailing 25 mm"),
    ("ultrasonic_ranger", "x points up, z forward"),
    ("ultrasonic_ranger", "cone of 15 degrees, 0.02 to 4 m, 15 Hz, ultrasound"),
    ("lidar_d60_zero_back", "zero beam turned by 180 degrees, sees all round"),
    ("lidar_16_layers", "16 layers from -15 to 15 degrees"),
    ("lidar_front_half", "sees 270 degrees across"),
    ("upright_holder", "z points forward, x up"),
    ("leaning_holder", "z points forward, 10 degrees up"),
    ("tilting_holder", "set pitch: -45 to 60 degrees about the seat's left through [0, 0, 30]; positive turns its x down"),
    ("two_axis_holder", "positive turns its x left"),
    ("flat_holder", "lattice of 10 mm, holes of 3.2 mm"),
    ("battery_cradle_small", "no holes: strap or glue"),
    ("computer_small", "nowhere on a lattice of 20 mm"),
    ("stop_button", "80 x 80 x 80 mm around [0, 0, 92]"),
])
def test_said(name: str, said: str) -> None:
    assert said in words(name)


@pytest.mark.parametrize(("vector", "said"), [
    ((1, 0, 0), "forward"), ((0, -2, 0), "right"), ((0, 0, -1), "down"),
    ((0.9848077530122081, 0, 0.17364817766693033), "forward, 10 degrees up"),
    ((0, 1, -1), "left, 45 degrees down"),
    ((1, 1, 1), "along [0.577, 0.577, 0.577]"),
])
def test_directions_in_words(vector: tuple[float, float, float], said: str) -> None:
    assert direction(vector) in (said, "down, 45 degrees left" if said.startswith("left, 45") else said)
