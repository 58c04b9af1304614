"""Units against published factors, and the numbers that YAML tools read in different ways.

NIST SP 811 (2008), Appendix B.8: inch, foot, pound, ounce, pound-force and kilogram-force are exact; the torque of
one ounce-force inch is printed there as 7.061 552 E-03 N·m. Angles: 180° = π rad. The rest are decimal prefixes.
"""
from __future__ import annotations

import math

import pytest

from chassis_describe import units
from chassis_describe.units import BadNumber, quantity


@pytest.mark.parametrize(("text", "kind", "value"), [
    ("60", units.LENGTH, 0.06), ("60 mm", units.LENGTH, 0.06), ("60mm", units.LENGTH, 0.06), ("6 cm", units.LENGTH, 0.06),
    ("0.06 m", units.LENGTH, 0.06), ("1 in", units.LENGTH, 0.0254), ('2.4"', units.LENGTH, 0.06096),
    ("1 ft", units.LENGTH, 0.3048), ("150 µm", units.LENGTH, 0.00015), ("150 um", units.LENGTH, 0.00015),
    ("1e-3 m", units.LENGTH, 0.001), ("-2.5e1", units.LENGTH, -0.025), ("3.5", units.LENGTH, 0.0035),
    ("250", units.MASS, 0.25), ("1.2 kg", units.MASS, 1.2), ("1 lb", units.MASS, 0.45359237),
    ("1 oz", units.MASS, 0.028349523125),
    ("180", units.ANGLE, math.pi), ("90°", units.ANGLE, math.pi / 2), ("90 deg", units.ANGLE, math.pi / 2),
    ("1.57 rad", units.ANGLE, 1.57), ("5 mrad", units.ANGLE, 0.005),
    ("0.8", units.TORQUE, 0.8), ("0.8 N·m", units.TORQUE, 0.8), ("0.8 Nm", units.TORQUE, 0.8),
    ("80 N*cm", units.TORQUE, 0.8), ("800 mN m", units.TORQUE, 0.8), ("1 kgf·cm", units.TORQUE, 0.0980665),
    ("10 kg·cm", units.TORQUE, 0.980665),
    ("30", units.SPEED, math.pi), ("60 rpm", units.SPEED, 2 * math.pi), ("1 rev/s", units.SPEED, 2 * math.pi),
    ("180 deg/s", units.SPEED, math.pi), ("12.5 rad/s", units.SPEED, 12.5),
    ("10", units.FREQUENCY, 10.0), ("600 rpm", units.FREQUENCY, 10.0), ("1 kHz", units.FREQUENCY, 1000.0),
    ("1240", units.DENSITY, 1240.0), ("1.24 g/cm3", units.DENSITY, 1240.0), ("1240 kg/m^3", units.DENSITY, 1240.0),
    ("1.5e-4", units.INERTIA, 1.5e-4), ("1500 g·cm²", units.INERTIA, 1.5e-4), ("150000 g*mm^2", units.INERTIA, 1.5e-4),
])
def test_published_factors(text: str, kind: units.Kind, value: float) -> None:
    assert quantity(text, kind) == pytest.approx(value, rel=1e-15)


def test_torque_of_an_ounce_force_inch() -> None:
    assert quantity("1 ozf·in", units.TORQUE) == pytest.approx(7.061552e-3, rel=1e-7)  # NIST SP 811, as printed
    assert quantity("1 lbf·in", units.TORQUE) == pytest.approx(1.129848e-1, rel=1e-6)  # NIST SP 811, as printed


def test_millimetres_are_the_decimal_number_that_was_written() -> None:
    """60 mm is 0.06, the float nearest to it, and not 0.060000000000000005 (IEEE 754: division is rounded right)."""
    for tenths in range(1, 20_000):
        text = f"{tenths / 10:.1f}"
        assert quantity(text, units.LENGTH) == float(f"{tenths}e-4")


@pytest.mark.parametrize(("text", "words"), [
    ("010", "leading zero"), ("08", "leading zero"), ("00.5", "leading zero"), ("3:7", "colon"), ("1:30:00", "colon"),
    ("1,5", "comma"), ("3,7 mm", "comma"), (".nan", "finite"), (".inf", "finite"), ("-.inf", "finite"),
    ("nan", "finite"), ("0x1F", "decimal"), ("0o17", "decimal"), ("0b11", "decimal"), ("1_000", "underscore"),
    ("1/4", "fraction"), ("1/4 in", "fraction"), ("1e999", "too large"), ("−5", "dash"), ("5 mm 3", "not a unit"),
    ("12 MM", "not a unit"), ("5 kg", "unit of mass"), ("5 parsecs", "not a unit"),
])
def test_numbers_that_are_refused_with_the_reason(text: str, words: str) -> None:
    with pytest.raises(BadNumber) as raised:
        quantity(text, units.LENGTH)
    assert words in raised.value.message
    assert raised.value.kind == "number"


@pytest.mark.parametrize("text", ["", "ten", "mm", "- 5", "--5", "1 + 1", "true", "[1]"])
def test_text_is_no_number(text: str) -> None:
    with pytest.raises(BadNumber) as raised:
        units.number(text)
    assert raised.value.kind == "type"


@pytest.mark.parametrize(("text", "value"), [
    ("1e-3", 1e-3), ("1e3", 1e3), ("1.e3", 1e3), (".5", 0.5), ("5.", 5.0), ("+3", 3.0), ("-0", 0.0), ("0", 0.0), ("1E5", 1e5)])
def test_numbers_of_yaml_1_2(text: str, value: float) -> None:
    """YAML 1.2.2, 10.3.2, core schema: these are numbers there, whatever YAML 1.1 made of them."""
    assert units.number(text) == value
    assert math.copysign(1.0, units.number(text)) == 1.0


@pytest.mark.parametrize(("text", "smells"), [
    ("1.57", True), ("1.5708", True), ("-3.14159", True), ("0.785", True), ("0.7854", True), ("2.094", True),
    ("0.524", True), ("6.283", True), ("1.05", False), ("0.79", False), ("90", False), ("1.5", False), ("2.5", False),
    ("0", False), ("3.0", False), ("10.25", False)])
def test_degrees_that_smell_of_radians(text: str, smells: bool) -> None:
    assert units.smells_of_radians(text) is smells


def test_bare_unit_of_the_command_line() -> None:
    assert quantity("0.04", units.LENGTH, bare="m") == 0.04
    assert quantity("40mm", units.LENGTH, bare="m") == 0.04
