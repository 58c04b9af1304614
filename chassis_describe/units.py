"""Numbers and units as people write them, and their values in SI.

A bare number counts in the workshop unit of its kind (mm, g, degrees, N·m, rpm ...); text may name another unit:
``60 mm``, ``2.4 in``, ``1.57 rad``. Numbers follow YAML 1.2; forms that YAML tools read in different ways are refused
with a reason, because a silent 8 for ``010`` is worse than a question.

Factors: NIST Special Publication 811 (2008), Appendix B.8; those of the inch, foot, pound, pound-force and
kilogram-force are exact by definition.
"""
from __future__ import annotations

import math
import re
from collections.abc import Mapping

from chassis_describe.values import dataclass, field

#: What YAML 1.2 (core schema, 10.3.2) reads as a decimal number, without leading zeros (YAML 1.1 reads those as octal).
NUMBER = re.compile(r"[-+]?(?:(?:0|[1-9][0-9]*)(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?")
INTEGER = re.compile(r"[-+]?(?:0|[1-9][0-9]*)")
_SPACES = re.compile(r"[\s\u00a0\u2009\u202f]*")
#: No number or quantity that anybody writes is longer; the patterns below are not made for pages of text.
_LONGEST = 200
_BASED = re.compile(r"[-+]?0[xXoObB][0-9a-fA-F]")
_LOOKS_NUMERIC = re.compile(r"[-+−–]?[.,]?[0-9]")


class BadNumber(ValueError):
    """Text that is no number, or not one that every YAML tool reads alike. ``kind``: ``type`` or ``number``."""

    def __init__(self, kind: str, message: str, hint: str = "") -> None:
        self.kind, self.message, self.hint = kind, message, hint
        super().__init__(message)


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """One kind of quantity. ``units`` maps a unit to (numerator, denominator) of its SI value; ``bare`` is the unit of
    a bare number, ``usual`` the units to think of first when a value looks like a slip, ``example`` what to show."""

    name: str
    bare: str
    units: Mapping[str, tuple[float, float]]
    usual: tuple[str, ...]
    example: str
    other_names: Mapping[str, str] = field(default_factory=dict)
    per: Mapping[str, tuple[float, float]] = field(default_factory=dict)  # units of the inverse: SI value = up / (down · number)

    def inverse(self, unit: str) -> tuple[float, float] | None:
        """Numerator and denominator for a unit that says how long a step takes, such as ``s/60deg``, or None."""
        return self.per.get(_PER.get(tidy(unit), tidy(unit))) if self.per and unit else None

    def factor(self, unit: str) -> tuple[float, float] | None:
        """Numerator and denominator for a unit as written, or None."""
        found = self.units.get(unit)
        if found is None:
            plain = tidy(unit)
            found = self.units.get(self.other_names.get(plain, plain))
        return found


_TIDY = str.maketrans({"⋅": "·", "∙": "·", "•": "·", "*": "·", "μ": "µ", "º": "°", "˚": "°", "″": '"', "”": '"'})


def tidy(unit: str) -> str:
    """A unit with the spellings of its signs made one: ``N * m`` → ``N·m``, ``kg/m^3`` → ``kg/m³``."""
    unit = re.sub(r"\s*([·/^])\s*", r"\1", unit.translate(_TIDY).strip())
    return re.sub(r"\s+", "·", unit.replace("^2", "²").replace("^3", "³").replace("m3", "m³").replace("m2", "m²"))


_PI = math.pi
LENGTH = Kind(
    name="length", bare="mm", usual=("m", "mm", "cm", "in"), example="`60` (mm), `2.4 in` or `0.12 m`",
    units={"mm": (1, 1000), "cm": (1, 100), "m": (1, 1), "µm": (1, 1_000_000), "in": (254, 10_000),
           "ft": (3048, 10_000)},
    other_names={"um": "µm", '"': "in", "inch": "in", "inches": "in", "millimetre": "mm", "millimetres": "mm",
                 "centimetre": "cm", "centimetres": "cm", "metre": "m", "metres": "m", "meter": "m", "meters": "m",
                 "foot": "ft", "feet": "ft"})
ANGLE = Kind(
    name="angle", bare="deg", usual=("rad", "deg"), example="`90` (degrees) or `1.5708 rad`",
    units={"deg": (_PI, 180), "rad": (1, 1), "mrad": (1, 1000)},
    other_names={"°": "deg", "degree": "deg", "degrees": "deg", "radian": "rad", "radians": "rad"})
MASS = Kind(
    name="mass", bare="g", usual=("kg", "g"), example="`250` (g) or `1.2 kg`",
    units={"g": (1, 1000), "kg": (1, 1), "mg": (1, 1_000_000), "lb": (45359237, 100_000_000),
           "oz": (45359237, 1_600_000_000)},
    other_names={"gram": "g", "grams": "g", "kilogram": "kg", "kilograms": "kg", "lbs": "lb"})
TORQUE = Kind(
    name="torque", bare="N·m", usual=("mN·m", "N·m", "kgf·cm"), example="`0.8` (N·m), `80 N·cm` or `8 kgf·cm`",
    units={"N·m": (1, 1), "N·cm": (1, 100), "mN·m": (1, 1000), "kgf·cm": (980_665, 10_000_000),
           "gf·cm": (980_665, 10_000_000_000), "ozf·in": (45359237 * 980_665 * 254, 16 * 1e8 * 1e5 * 1e4),
           "lbf·in": (45359237 * 980_665 * 254, 1e8 * 1e5 * 1e4)},
    other_names={"Nm": "N·m", "Ncm": "N·cm", "mNm": "mN·m", "kg·cm": "kgf·cm", "kgcm": "kgf·cm", "oz·in": "ozf·in",
                 "lb·in": "lbf·in", "in·lb": "lbf·in", "in·oz": "ozf·in", "g·cm": "gf·cm"})
SPEED = Kind(
    name="rotational speed", bare="rpm", usual=("rad/s", "rpm"), example="`120` (rpm) or `12.6 rad/s`",
    units={"rpm": (_PI, 30), "rad/s": (1, 1), "deg/s": (_PI, 180), "rev/s": (2 * _PI, 1)},
    other_names={"°/s": "deg/s", "r/min": "rpm", "rev/min": "rpm"}, per={"s/60deg": (_PI, 3)})
FORCE = Kind(
    name="force", bare="N", usual=("N", "kgf"), example="`40` (N) or `4 kgf`",
    units={"N": (1, 1), "mN": (1, 1000), "kN": (1000, 1), "kgf": (980_665, 100_000), "lbf": (45359237 * 980_665, 1e8 * 1e5)},
    other_names={"newton": "N", "newtons": "N"})
VELOCITY = Kind(
    name="speed", bare="mm/s", usual=("mm/s", "m/s"), example="`20` (mm/s) or `0.02 m/s`",
    units={"mm/s": (1, 1000), "cm/s": (1, 100), "m/s": (1, 1), "mm/min": (1, 60_000), "in/s": (254, 10_000)})
FREQUENCY = Kind(
    name="frequency", bare="Hz", usual=("Hz", "rpm", "kHz"), example="`10` (Hz) or `600 rpm`",
    units={"Hz": (1, 1), "kHz": (1000, 1), "rpm": (1, 60)}, other_names={"fps": "Hz"})
DENSITY = Kind(
    name="density", bare="kg/m³", usual=("g/cm³", "kg/m³"), example="`1240` (kg/m³) or `1.24 g/cm³`",
    units={"kg/m³": (1, 1), "g/cm³": (1000, 1), "kg/dm³": (1000, 1)}, other_names={"g/cc": "g/cm³", "g/ml": "g/cm³"})
TURN_RATE = Kind(
    name="rate of turn", bare="deg/s", usual=("deg/s", "rad/s"), example="`0.1` (°/s) or `0.002 rad/s`",
    units={"deg/s": (_PI, 180), "rad/s": (1, 1), "mrad/s": (1, 1000), "deg/h": (_PI, 180 * 3600)},
    other_names={"°/s": "deg/s", "dps": "deg/s", "°/h": "deg/h"})
ACCELERATION = Kind(
    name="acceleration", bare="m/s²", usual=("m/s²", "mm/s²"), example="`0.02` (m/s²) or `20 mm/s²`",
    units={"m/s²": (1, 1), "mm/s²": (1, 1000), "cm/s²": (1, 100)})
INERTIA = Kind(
    name="moment of inertia", bare="kg·m²", usual=("g·mm²", "g·cm²", "kg·m²"),
    example="`1.2e-4` (kg·m²) or `1200 g·cm²`",
    units={"kg·m²": (1, 1), "g·cm²": (1, 10_000_000), "g·mm²": (1, 1_000_000_000), "kg·mm²": (1, 1_000_000),
           "kg·cm²": (1, 10_000)},
    other_names={"kgm²": "kg·m²", "gcm²": "g·cm²", "gmm²": "g·mm²", "kgmm²": "kg·mm²", "kgcm²": "kg·cm²"})

KINDS: tuple[Kind, ...] = (LENGTH, ANGLE, MASS, TORQUE, SPEED, FORCE, VELOCITY, FREQUENCY, DENSITY, TURN_RATE,
                           ACCELERATION, INERTIA)

#: Spellings of the step of a servo that data sheets have (tidied) → the one known.
_PER = {"s/60°": "s/60deg", "s/60·deg": "s/60deg", "s/60·°": "s/60deg", "sec/60deg": "s/60deg", "sec/60°": "s/60deg",
        "sec/60·deg": "s/60deg", "sec/60·°": "s/60deg", "s/60degrees": "s/60deg", "s/60·degrees": "s/60deg"}


#: Denominators that only move the decimal point.
_SHIFTS = {10.0 ** k: f"e-{k}" for k in range(1, 10)}


def number(text: str) -> float:
    """The finite number that ``text`` is. Raises :class:`BadNumber` with the reason and what to write instead."""
    if len(text) > _LONGEST:
        raise BadNumber("type", f"a number is due here, not a text of {len(text)} characters")
    if NUMBER.fullmatch(text):
        value = float(text)
        if math.isfinite(value):
            return value + 0.0  # never -0.0
        raise BadNumber("number", f"`{shown(text)}` is too large for a number")
    raise _why_not(text)


def integer(text: str) -> int:
    """The whole number that ``text`` is. Raises :class:`BadNumber`."""
    if INTEGER.fullmatch(text):
        if len(text) > 18:
            raise BadNumber("number", f"`{shown(text)}` is too large for a whole number")
        return int(text)
    if NUMBER.fullmatch(text):
        raise BadNumber("type", f"`{shown(text)}` is not a whole number", "write it without point or exponent")
    raise _why_not(text)


def split(text: str) -> tuple[str, str]:
    """The number and the unit of a quantity as written; the unit is empty for a bare number."""
    found = NUMBER.match(text) if len(text) <= _LONGEST else None
    if found is None:
        raise _why_not(text)
    end = found.end()
    rest = text[end:]
    if not rest:
        return text, ""
    if rest[0] in "0123456789_:,./eE" or rest.lstrip()[:1] in (":", ",", "/") or _BASED.match(text):
        raise _why_not(text)
    return text[:end], rest[_SPACES.match(rest).end():].rstrip()  # type: ignore[union-attr]


def quantity(text: str, kind: Kind, *, bare: str | None = None) -> float:
    """The SI value of a quantity as written. ``bare``: the unit of a bare number when not the workshop unit.

    Raises :class:`BadNumber` for text that is no number or a unit that the kind doesn't have.
    """
    digits, unit = split(text)
    value = number(digits)
    factor = kind.factor(unit or bare or kind.bare)
    per = kind.inverse(unit) if factor is None else None
    if per is not None:
        if value == 0.0:
            raise BadNumber("number", f"`{shown(text)}` would be an endless speed", "say how long it takes for 60 degrees")
        return per[0] / (per[1] * value) + 0.0
    if factor is None:
        raise _no_such_unit(unit, kind)
    up, down = factor
    shift = _SHIFTS.get(down) if up == 1 else None
    if shift is not None and "e" not in digits and "E" not in digits:
        return float(digits + shift) + 0.0  # moves the decimal point: 2.1 mm is 0.0021, not 0.0021000000000000003
    out = value * up / down + 0.0  # never -0.0
    if not math.isfinite(out):
        raise BadNumber("number", f"`{shown(text)}` is too large for a number")
    return out


def show(value: float, kind: Kind, unit: str | None = None) -> str:
    """An SI value in a unit of its kind (the workshop unit), with as few digits as say it."""
    unit = unit or kind.bare
    up, down = kind.units[unit]
    return f"{value * down / up:.6g} {unit}"


def shown(text: str, most: int = 40) -> str:
    """Text for a message: on one line, and not longer than ``most`` characters."""
    text = " ".join("".join(c if c.isprintable() else " " for c in text[: 20 * most]).split())
    return text if len(text) <= most else text[: most - 1] + "…"


def _no_such_unit(unit: str, kind: Kind) -> BadNumber:
    known = ", ".join((*kind.units, *kind.per))
    plain = tidy(unit)
    near = next((u for u in (*kind.units, *kind.other_names) if u.lower() == plain.lower()), None)
    if near is not None:
        return BadNumber("number", f"`{shown(unit)}` is not a unit of {kind.name}", f"write `{near}`: case matters")
    other = next((k for k in KINDS if k is not kind and k.factor(unit) is not None), None)
    if other is not None:
        return BadNumber("number", f"`{shown(unit)}` is a unit of {other.name}; here a {kind.name} is due",
                         f"units of {kind.name}: {known}")
    return BadNumber("number", f"`{shown(unit)}` is not a unit of {kind.name}", f"known: {known}")


def _why_not(text: str) -> BadNumber:
    """The reason why text is no number, as somebody who typed it would want to hear it."""
    if len(text) > _LONGEST:
        return BadNumber("type", f"a number is due here, not a text of {len(text)} characters")
    t = text.strip()
    s = shown(t)
    low = t.lower().lstrip("+-")
    if low in (".nan", ".inf", "nan", "inf", "infinity"):
        return BadNumber("number", f"`{s}` is not a finite number", "leave the key out when there is no value")
    if t[:1] in "−–—" and _LOOKS_NUMERIC.match(t[1:] or ""):
        return BadNumber("number", f"`{s}` begins with a typographic dash", f"type a plain minus: `-{shown(t[1:])}`")
    if re.fullmatch(r"[-+]?0[0-7]*[0-9]+(\.[0-9]*)?\s*\S*", t) and not t.lstrip("+-").startswith(("0x", "0X")):
        bare = re.sub(r"^([-+]?)0+(?=[0-9])", r"\1", t)
        return BadNumber("number", f"`{s}` has a leading zero; some programs read that as octal",
                         f"write `{shown(bare)}`")
    if re.fullmatch(r"[-+]?0[xXoObB][0-9a-fA-F_]+", t):
        return BadNumber("number", f"`{s}` is not a decimal number", _decimal_hint(t))
    if re.fullmatch(r"[-+]?[0-9]+(:[0-9]+)+(\.[0-9]*)?", t):
        pair = t.replace(":", ", ")
        return BadNumber("number", f"`{s}` has a colon; some programs read that as minutes and seconds",
                         f"if a hole or a pair is meant write `[{pair}]`")
    if re.fullmatch(r"[-+]?[0-9]+,[0-9]+\s*\S*", t):
        return BadNumber("number", f"`{s}` has a comma", f"write `{shown(t.replace(',', '.', 1))}` for a decimal "
                         f"number, `[{shown(t.replace(',', ', '))}]` for two numbers")
    if re.fullmatch(r"[-+]?[0-9][0-9_]*_[0-9_]*(\.[0-9]*)?", t):
        return BadNumber("number", f"`{s}` has an underscore", f"write `{shown(t.replace('_', ''))}`")
    if re.fullmatch(r"[-+]?[0-9.]+\s*/\s*[0-9.]+\s*\S*", t):
        return BadNumber("number", f"`{s}` is a fraction", "write it as a decimal number, such as `0.25`")
    return BadNumber("type", f"a number is due here, not the text `{s}`")


def _decimal_hint(text: str) -> str:
    try:
        return f"write `{int(text.replace('_', ''), 0)}`"
    except ValueError:
        return "write it in decimal digits"


_RADIANS = [k * math.pi / 12 for k in range(1, 25)]


def smells_of_radians(digits: str) -> bool:
    """Whether a bare number of degrees is a rounded multiple of π/12 (π/4 from two decimals, others from three)."""
    whole, _, decimals = digits.lstrip("+-").partition(".")
    if len(decimals) < 2 or not decimals.isdigit() or not whole.isdigit():
        return False
    value = float(f"{whole}.{decimals}")
    step = 0.51 * 10.0 ** -len(decimals)
    for k, angle in enumerate(_RADIANS, start=1):
        if abs(value - angle) <= step and (len(decimals) >= 3 or (k % 3 == 0 and value >= 1)):
            return True
    return False
