"""Numbers and lists as they are written back into a user's file, in the user's own spelling as far as it goes."""
from __future__ import annotations

import json
import re
from collections.abc import Sequence
from decimal import Decimal

_WRITTEN = re.compile(r"([-+]?)(\d*)(\.?)(\d*)(?:([eE])([-+]?\d+))?")


def number_text(value: Decimal) -> str:
    """A number with as few digits as say it: ``1``, ``-0.5``."""
    if not value:
        return "0"
    text = format(value.normalize(), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def number_like(old: str, value: Decimal) -> str:
    """A number spelt as the one that it replaces: its sign, its decimals (``1.0`` becomes ``3.0``), its exponent.

    Moves by whole holes there and back give the old spelling again; ``1`` moved by a half and back is ``1``.
    """
    plain = number_text(value)
    found = _WRITTEN.fullmatch(old)
    if found is None or not (found[2] or found[4]):
        return plain
    if Decimal(old) == value:
        return old  # -0, 00.5 and all
    sign, whole, point, decimals, mark, exponent = found.groups()
    if mark:
        mantissa = value.scaleb(-int(exponent))
        if not mantissa or abs(mantissa.adjusted()) > 12:
            return plain
        return _decimals(_sign(number_text(mantissa), sign), point, decimals) + mark + exponent
    old_value = Decimal(old)
    if point and (old_value == old_value.to_integral_value()) == (value == value.to_integral_value()):
        plain = _decimals(plain, point, decimals)
        if not whole and plain.lstrip("-").startswith("0."):
            plain = plain.replace("0.", ".", 1)
    return _sign(plain, sign)


_PLAIN = re.compile(r"[A-Za-z_./][A-Za-z0-9_./-]*")
#: What YAML 1.1 or 1.2 reads as something else than text, in any case (10.3.2; 1.1: bool, null).
_NO_TEXT = frozenset(("y", "yes", "n", "no", "true", "false", "on", "off", "null", ".inf", ".nan", ".", "..", "~"))


def text_like(quote: str, value: str) -> str:
    """A text in the quotes that the one before stood in, where it can stand in them."""
    if quote == "'" and value.isprintable():
        return "'" + value.replace("'", "''") + "'"
    if quote == "" and _PLAIN.fullmatch(value) and value.lower() not in _NO_TEXT and not re.match(r"\.?[0-9]", value):
        return value
    return json.dumps(value, ensure_ascii=False)  # JSON's strings are YAML's (YAML 1.2, 1.3)


def _sign(text: str, sign: str) -> str:
    return f"+{text}" if sign == "+" and not text.startswith("-") else text


def _decimals(text: str, point: str, decimals: str) -> str:
    """At least as many decimals as stood there before."""
    if not point:
        return text
    whole, _, tail = text.partition(".")
    return f"{whole}.{tail.ljust(len(decimals), '0')}"


def pair_text(pair: Sequence[Decimal | int]) -> str:
    """``[1, 0.5]``."""
    return f"[{', '.join(number_text(Decimal(v)) for v in pair)}]"


def holes_text(holes: Sequence[Sequence[int]]) -> str:
    """``[[1, 0], [2, 0]]``."""
    return f"[{', '.join(pair_text(h) for h in holes)}]"


def unit_like(old: str, degrees: Decimal) -> str:
    """An angle in degrees in place of one that may have had a unit: ``90 deg`` becomes ``45 deg``."""
    found = re.match(r"[-+.\deE]+", old)
    unit = old[found.end():] if found else ""
    if not unit.strip():
        return number_like(old, degrees)
    if unit.strip().lower().startswith("deg") or unit.strip() == "°":
        return number_like(old[: found.end()], degrees) + unit  # type: ignore[union-attr]
    return f"{number_text(degrees)} deg"
