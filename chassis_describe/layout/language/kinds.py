"""The kinds of values that a field can have: each reads a node strictly, and says itself in JSON Schema and in words.

A reader returns None after it has reported what is wrong; otherwise the value, in SI.
"""
from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from chassis_describe import units
from chassis_describe.layout import names
from chassis_describe.layout.language.not_yet import called_here, not_in_this_version
from chassis_describe.layout.language.reading import KeyPath, Reading
from chassis_describe.units import BadNumber, Kind, shown
from chassis_describe.words import nearest
from chassis_describe.yaml_text.nodes import FORBIDDEN, Node, Scalar

JSON = dict[str, Any]


class Type:
    """One kind of value. ``accepts`` finishes the sentence "write ..."; ``words`` is the cell of the manual's table."""

    accepts = "a value"
    words = "value"

    def read(self, node: Node, r: Reading, path: KeyPath) -> Any:
        """The value, or None after a report."""
        raise NotImplementedError

    def schema(self) -> JSON:
        """JSON Schema of what is accepted."""
        raise NotImplementedError


class Number(Type):
    """A plain number without unit. Exclusive lower bound where ``above`` is given."""

    def __init__(self, low: float | None = None, high: float | None = None, *, above: float | None = None,
                 example: str = "0.5", instead: str = "") -> None:
        self.low, self.high, self.above = low, high, above
        self.instead = instead
        self.accepts = f"a number such as `{example}`"
        self.words = "number" + _bounds(low, high, above)

    def read(self, node: Node, r: Reading, path: KeyPath) -> float | None:
        if type(node) is not Scalar or not node.plain:
            r.wrong(node, path, self.accepts if not isinstance(node, Scalar) else f"{self.accepts} (without quotes)")
            return None
        try:
            value = units.number(node.text)
        except BadNumber as error:
            if error.kind == "type" and self.instead and re.match(r"[-+.0-9]", node.text):
                error.hint = self.instead
            r.number(error, node, path, self.accepts)
            return None
        low = self.above if self.above is not None else self.low
        if (low is not None and (value < low or (value == low and self.above is not None))) or (
                self.high is not None and value > self.high):
            r.fault("bad-value", f"`{shown(node.text)}` is out of range", node, path,
                    hint=f"accepted:{_bounds(self.low, self.high, self.above).replace(',', '', 1)}")
            return None
        return value

    def schema(self) -> JSON:
        out: JSON = {"type": "number"}
        if self.low is not None:
            out["minimum"] = self.low
        if self.above is not None:
            out["exclusiveMinimum"] = self.above
        if self.high is not None:
            out["maximum"] = self.high
        return out


def _bounds(low: float | None, high: float | None, above: float | None) -> str:
    if above is not None:
        return f", more than {above:.12g}" + (f", up to {high:.12g}" if high is not None else "")
    if low is not None and high is not None:
        return f", {low:.12g} to {high:.12g}"
    if low is not None:
        return f", {low:.12g} or more"
    return f", up to {high:.12g}" if high is not None else ""


class Integer(Type):
    """A whole number."""

    def __init__(self, low: int | None = None, high: int | None = None, *, example: str = "2") -> None:
        self.low, self.high = low, high
        self.accepts = f"a whole number such as `{example}`"
        self.words = "whole number" + _bounds(low, high, None)

    def read(self, node: Node, r: Reading, path: KeyPath) -> int | None:
        if type(node) is not Scalar or not node.plain:
            r.wrong(node, path, self.accepts)
            return None
        try:
            value = units.integer(node.text)
        except BadNumber as error:
            r.number(error, node, path, self.accepts)
            return None
        if (self.low is not None and value < self.low) or (self.high is not None and value > self.high):
            r.fault("bad-value", f"`{value}` is out of range", node, path,
                    hint=f"accepted:{_bounds(self.low, self.high, None).replace(',', '', 1)}")
            return None
        return value

    def schema(self) -> JSON:
        out: JSON = {"type": "integer"}
        if self.low is not None:
            out["minimum"] = self.low
        if self.high is not None:
            out["maximum"] = self.high
        return out


class Quantity(Type):
    """A number in the workshop unit or text with a unit, within what such a robot can have.

    ``low`` and ``high`` are the plausible range in SI: outside it the value is refused as a probable slip of unit.
    With ``low`` None the value has a sign and ``high`` bounds its size; ``zero`` lets 0 pass under ``low``.
    """

    def __init__(self, kind: Kind, low: float | None, high: float, *, zero: bool = False, what: str = "") -> None:
        self.kind, self.low, self.high, self.zero = kind, low, high, zero
        self.what = what or f"a {kind.name}"
        self.accepts = f"{'an' if kind.name[0] in 'aeiou' else 'a'} {kind.name} such as {kind.example}"
        self.words = f"{kind.name}, {kind.bare}" if kind is not units.ANGLE else "angle, degrees"

    def fits(self, value: float) -> bool:
        """Whether an SI value is in the plausible range."""
        if self.low is None:
            return -self.high <= value <= self.high
        return self.low <= value <= self.high or (self.zero and value == 0.0)

    def read(self, node: Node, r: Reading, path: KeyPath) -> float | None:
        if type(node) is not Scalar:
            r.wrong(node, path, self.accepts)
            return None
        text = node.text
        if not node.plain and units.NUMBER.fullmatch(text.strip()):
            r.fault("wrong-type", f"the number `{shown(text)}` stands in quotes", node, path,
                    hint=f"write `{shown(text.strip())}` without quotes, or add the unit")
            return None
        try:
            value = units.quantity(text if node.plain else text.strip(), self.kind)
        except BadNumber as error:
            r.number(error, node, path, self.accepts)
            return None
        if not self.fits(value):
            self._implausible(value, node, r, path)
            return None
        if self.kind is units.ANGLE and units.smells_of_radians(text):
            r.fault("implausible", f"`{shown(text)}` looks like radians, and a bare number is degrees", node, path,
                    hint=f"write `{shown(text)} rad`, or `{shown(text)} deg` if degrees are meant")
            return None
        return value

    def _implausible(self, value: float, node: Scalar, r: Reading, path: KeyPath) -> None:
        text = shown(node.text.strip())
        if self.low is not None and value <= 0.0:
            least = "0 or more" if self.zero or self.low == 0.0 else "more than 0"
            r.fault("bad-value", f"`{text}` can't be: {self.what} is {least}", node, path)
            return
        digits, unit = units.split(node.text.strip())
        used = self.kind.factor(unit or self.kind.bare)
        guess = None
        for other in self.kind.usual:
            if self.kind.factor(other) != used and self._would_fit(f"{digits} {other}"):
                guess = other
                break
        hint = f"if it is in {guess}, write `{shown(digits)} {guess}`" if guess else "check the digits and the unit"
        if not unit:
            hint += f"; a bare number is {'degrees' if self.kind is units.ANGLE else self.kind.bare}"
        r.fault("implausible", f"`{text}` is not plausible: {self.what} is {self.range_words}", node, path, hint=hint)

    def _would_fit(self, text: str) -> bool:
        try:
            return self.fits(units.quantity(text, self.kind))
        except BadNumber:  # in that unit it is no finite number any more
            return False

    @property
    def range_words(self) -> str:
        """The plausible range in words."""
        high = _shown(self.high, self.kind)
        if self.low is None:
            return f"at most {high} in size"
        if self.low == 0.0:
            return f"0 to {high}"
        return f"{_shown(self.low, self.kind)} to {high}" + (", or 0" if self.zero else "")

    def schema(self) -> JSON:
        up, down = self.kind.units[self.kind.bare]
        scale = down / up
        bare: JSON = {"type": "number", "maximum": float(f"{self.high * scale:.9g}")}
        if self.low is None:
            bare["minimum"] = -bare["maximum"]
        elif self.zero or self.low == 0.0:
            bare["minimum"] = 0
        else:
            bare["minimum"] = float(f"{self.low * scale:.9g}")
        return {"anyOf": [bare, {"type": "string", "pattern": _with_unit(self.kind)}],
                "description": f"{self.accepts}; plausible: {self.range_words}"}


def _shown(value: float, kind: Kind) -> str:
    """A bound in the workshop unit, or in metres or kilograms where that reads better."""
    large = {"mm": "m", "g": "kg"}.get(kind.bare)
    return units.show(value, kind, large if large is not None and value >= 1.0 else None)


def _with_unit(kind: Kind) -> str:
    known = sorted({*kind.units, *kind.other_names, *kind.per}, key=lambda u: (-len(u), u))
    spelled = "|".join(re.escape(u).replace("\\ ", " ").replace('\\"', '"').replace("\\/", "/") for u in known)
    spelled = spelled.replace("·", "\\s*[·*⋅]?\\s*").replace("²", "(?:²|\\^?2)").replace("³", "(?:³|\\^?3)")
    return rf"^\s*[-+]?(?:(?:0|[1-9][0-9]*)(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?\s*(?:{spelled})\s*$"


class Amount(Type):
    """A number or quantity whose kind another key decides (a turn or a slide): kept as written, read when both are known."""

    def __init__(self, *options: Quantity, words: str) -> None:
        self.options, self.words = options, words
        self.accepts = " or ".join(o.accepts for o in options)

    def read(self, node: Node, r: Reading, path: KeyPath) -> tuple[Scalar, KeyPath] | None:
        if type(node) is not Scalar or node.is_null:
            r.wrong(node, path, self.accepts)
            return None
        return node, path

    def schema(self) -> JSON:
        inner = [o.schema() for o in self.options]
        return {"anyOf": [form for one in inner for form in one["anyOf"]],
                "description": "; ".join(one["description"] for one in inner)}


class Bool(Type):
    """``true`` or ``false``."""

    accepts = "`true` or `false`"
    words = "`true` or `false`"

    def read(self, node: Node, r: Reading, path: KeyPath) -> bool | None:
        if type(node) is Scalar and node.plain and node.text in ("true", "false", "True", "False"):
            return node.text in ("true", "True")
        r.wrong(node, path, self.accepts)
        return None

    def schema(self) -> JSON:
        return {"type": "boolean"}


class FreeText(Type):
    """Text; with a ``pattern`` it has to match, ``say`` names what it wants, ``better`` makes a text that does."""

    def __init__(self, words: str = "text", *, pattern: str | None = None, say: str = "a text",
                 code: str = "bad-value", better: Callable[[str], str] | None = None) -> None:
        self.words, self.accepts, self.code, self.better = words, say, code, better
        self.pattern = pattern
        self._matches = re.compile(pattern).fullmatch if pattern else None

    def read(self, node: Node, r: Reading, path: KeyPath) -> str | None:
        if type(node) is not Scalar or node.is_null or not node.text.strip():
            r.wrong(node, path, self.accepts)
            return None
        bad = FORBIDDEN.search(node.text)  # by an escape in quotes: as it stands in the file it would not have been read
        if bad is not None:
            r.fault("bad-value", f"a control character (code {ord(bad.group()):#x}) is in this text", node, path,
                    hint="leave the escape out")
            return None
        if self._matches is not None and (len(node.text) > 300 or not self._matches(node.text)):
            r.fault(self.code, f"`{shown(node.text)}` is not accepted here", node, path,
                    hint=f"write {f'`{self.better(node.text[:300])}`: ' if self.better else ''}{self.accepts}")
            return None
        return node.text

    def schema(self) -> JSON:
        if self.pattern:
            return {"type": "string", "pattern": f"^(?:{self.pattern})$"}
        return {"type": ["string", "number", "boolean"]}  # the reader takes the text of a bare number, too


class Ref(Type):
    """The name of something in the layout; whether it exists is asked when everything has been read."""

    def __init__(self, thing: str, words: str | None = None) -> None:
        self.thing, self.accepts, self.words = thing, f"the name of {thing}", words or f"name of {thing}"

    def read(self, node: Node, r: Reading, path: KeyPath) -> str | None:
        if type(node) is not Scalar or node.is_null or not node.text.strip():
            r.wrong(node, path, self.accepts)
            return None
        return node.text

    def schema(self) -> JSON:
        return {"type": "string"}


class Name(Type):
    """A new name, in the form that ROS and TF take everywhere."""

    def __init__(self, thing: str, *, reserved: bool = False) -> None:
        self.thing, self.reserved = thing, reserved
        self.accepts = "a name such as `lidar_front`"
        self.words = "name"

    def read(self, node: Node, r: Reading, path: KeyPath) -> str | None:
        if type(node) is not Scalar or node.is_null:
            r.wrong(node, path, self.accepts)
            return None
        return node.text if self.good(node, r, path) else None

    def good(self, node: Scalar, r: Reading, path: KeyPath) -> bool:
        """Whether the name can be taken; reports when not."""
        slip = names.slip(node.text, node.plain, reserved=self.reserved)
        if slip is not None:
            r.fault("bad-name", f"`{shown(node.text)}` can't be the name of {self.thing}: {slip[0]}", node, path,
                    hint=slip[1])
        return slip is None

    def schema(self) -> JSON:
        return {"type": "string", "pattern": names.PATTERN}


class Choice(Type):
    """One of a few words."""

    def __init__(self, *options: str, words: str | None = None) -> None:
        self.options = dict.fromkeys(options)
        listed = [f"`{o}`" for o in options]
        self.accepts = listed[0] if len(listed) == 1 else f"{', '.join(listed[:-1])} or {listed[-1]}"
        self.words = words or ", ".join(listed)

    def read(self, node: Node, r: Reading, path: KeyPath) -> str | None:
        if type(node) is not Scalar or node.is_null:
            r.wrong(node, path, self.accepts)
            return None
        if node.text in self.options:
            return node.text
        if missing := not_in_this_version(node.text, self.options):
            r.fault("bad-value", f"`{shown(node.text)}` is not known here", node, path, hint=f"{missing}; accepted: {self.accepts}")
            return None
        near = called_here(node.text, self.options) or nearest(node.text, self.options)
        r.fault("bad-value", f"`{shown(node.text)}` is not known here", node, path,
                hint=f"did you mean `{near}`? accepted: {self.accepts}" if near else f"accepted: {self.accepts}")
        return None

    def schema(self) -> JSON:
        return {"enum": list(self.options)}
