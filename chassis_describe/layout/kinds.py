"""The kinds of values that a field can have: each reads a node strictly, and says itself in JSON Schema and in words.

A reader returns None after it has reported what is wrong; otherwise the value, in SI.
"""
from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from chassis_describe import units
from chassis_describe.layout import names
from chassis_describe.layout.nodes import Map, Node, Scalar, Seq
from chassis_describe.layout.reading import Path, Reading
from chassis_describe.units import BadNumber, Kind, shown

JSON = dict[str, Any]


class Type:
    """One kind of value. ``accepts`` finishes the sentence "write ..."; ``words`` is the cell of the manual's table."""

    accepts = "a value"
    words = "value"

    def read(self, node: Node, r: Reading, path: Path) -> Any:
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

    def read(self, node: Node, r: Reading, path: Path) -> float | None:
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

    def read(self, node: Node, r: Reading, path: Path) -> int | None:
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
        self.accepts = f"a {kind.name} such as {kind.example}"
        self.words = f"{kind.name}, {kind.bare}" if kind is not units.ANGLE else "angle, degrees"

    def fits(self, value: float) -> bool:
        """Whether an SI value is in the plausible range."""
        if self.low is None:
            return -self.high <= value <= self.high
        return self.low <= value <= self.high or (self.zero and value == 0.0)

    def read(self, node: Node, r: Reading, path: Path) -> float | None:
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

    def _implausible(self, value: float, node: Scalar, r: Reading, path: Path) -> None:
        text = shown(node.text.strip())
        if self.low is not None and value <= 0.0:
            least = "0 or more" if self.zero or self.low == 0.0 else "more than 0"
            r.fault("bad-value", f"`{text}` can't be: {self.what} is {least}", node, path)
            return
        digits, unit = units.split(node.text.strip())
        used = self.kind.factor(unit or self.kind.bare)
        guess = None
        for other in self.kind.usual:
            if self.kind.factor(other) != used and self.fits(units.quantity(f"{digits} {other}", self.kind)):
                guess = other
                break
        hint = f"if it is in {guess}, write `{shown(digits)} {guess}`" if guess else "check the digits and the unit"
        if not unit:
            hint += f"; a bare number is {'degrees' if self.kind is units.ANGLE else self.kind.bare}"
        r.fault("implausible", f"`{text}` is not plausible: {self.what} is {self.range_words}", node, path, hint=hint)

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
    known = sorted({*kind.units, *kind.other_names}, key=lambda u: (-len(u), u))
    spelled = "|".join(re.escape(u).replace("\\ ", " ").replace('\\"', '"').replace("\\/", "/") for u in known)
    spelled = spelled.replace("·", "\\s*[·*⋅]?\\s*").replace("²", "(?:²|\\^?2)").replace("³", "(?:³|\\^?3)")
    return rf"^\s*[-+]?(?:(?:0|[1-9][0-9]*)(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?\s*(?:{spelled})\s*$"


class Bool(Type):
    """``true`` or ``false``."""

    accepts = "`true` or `false`"
    words = "`true` or `false`"

    def read(self, node: Node, r: Reading, path: Path) -> bool | None:
        if type(node) is Scalar and node.plain and node.text in ("true", "false", "True", "False"):
            return node.text in ("true", "True")
        r.wrong(node, path, self.accepts)
        return None

    def schema(self) -> JSON:
        return {"type": "boolean"}


class Text(Type):
    """Text; with a ``pattern`` it has to match, ``say`` names what the pattern wants."""

    def __init__(self, words: str = "text", *, pattern: str | None = None, say: str = "a text",
                 code: str = "bad-value") -> None:
        self.words, self.accepts, self.code = words, say, code
        self.pattern = pattern
        self._matches = re.compile(pattern).fullmatch if pattern else None

    def read(self, node: Node, r: Reading, path: Path) -> str | None:
        if type(node) is not Scalar or node.is_null or not node.text.strip():
            r.wrong(node, path, self.accepts)
            return None
        if self._matches is not None and (len(node.text) > 300 or not self._matches(node.text)):
            r.fault(self.code, f"`{shown(node.text)}` is not accepted here", node, path, hint=f"write {self.accepts}")
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

    def read(self, node: Node, r: Reading, path: Path) -> str | None:
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

    def read(self, node: Node, r: Reading, path: Path) -> str | None:
        if type(node) is not Scalar or node.is_null:
            r.wrong(node, path, self.accepts)
            return None
        return node.text if self.good(node, r, path) else None

    def good(self, node: Scalar, r: Reading, path: Path) -> bool:
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

    def read(self, node: Node, r: Reading, path: Path) -> str | None:
        if type(node) is not Scalar or node.is_null:
            r.wrong(node, path, self.accepts)
            return None
        if node.text in self.options:
            return node.text
        from chassis_describe.layout.nodes import nearest
        near = nearest(node.text, self.options)
        r.fault("bad-value", f"`{shown(node.text)}` is not known here", node, path,
                hint=f"did you mean `{near}`? accepted: {self.accepts}" if near else f"accepted: {self.accepts}")
        return None

    def schema(self) -> JSON:
        return {"enum": list(self.options)}


class Vec(Type):
    """A list of a fixed number of values of one kind."""

    def __init__(self, item: Type, count: int, *, example: str, words: str = "", distinct: str = "") -> None:
        self.item, self.count = item, count
        self.accepts = f"a list of {('two', 'three')[count - 2] if count in (2, 3) else count} values like `{example}`"
        self.words = words or f"`{example}`"

    def read(self, node: Node, r: Reading, path: Path) -> tuple[Any, ...] | None:
        if type(node) is not Seq or len(node.items) != self.count:
            self.complain(node, r, path)
            return None
        read = self.item.read
        out = tuple([read(item, r, path) for item in node.items])
        return None if None in out else out

    def complain(self, node: Node, r: Reading, path: Path) -> None:
        """Report what is not such a list; text that looks like a pair gets the number's own hint."""
        if type(node) is Scalar and node.plain and re.match(r"[-+.0-9]", node.text):
            try:
                units.number(node.text)
            except BadNumber as error:
                if error.kind == "number":
                    r.fault("bad-number", error.message, node, path, hint=f"write {self.accepts}")
                    return
        r.wrong(node, path, self.accepts)

    def schema(self) -> JSON:
        return {"type": "array", "items": self.item.schema(), "minItems": self.count, "maxItems": self.count}


class ListOf(Type):
    """A list of any number of values; a tuple of (value, node) pairs, so that each keeps its place."""

    def __init__(self, item: Type, *, least: int = 0, words: str = "", say: str = "", key: str = "") -> None:
        self.item, self.least, self.key = item, least, key
        self.accepts = say or f"a list of {item.words}"
        self.words = words or f"list of {item.words}"

    def read(self, node: Node, r: Reading, path: Path) -> tuple[tuple[Any, Node], ...] | None:
        if type(node) is not Seq:
            r.wrong(node, path, self.accepts)
            return None
        if len(node.items) < self.least:
            r.fault("bad-value", f"{len(node.items) or 'no'} {'entry' if len(node.items) == 1 else 'entries'}, where "
                    f"at least {self.least} {'is' if self.least == 1 else 'are'} due", node, path,
                    hint=f"write {self.accepts}")
            return None
        out = []
        for number, item in enumerate(node.items, start=1):
            inner = path
            if type(item) is Map:
                named = item.items.get(self.key)
                named_so = named[1].text if named is not None and type(named[1]) is Scalar else ""
                inner = (*path, named_so or f"#{number}")
            value = self.item.read(item, r, inner)
            if value is not None:
                out.append((value, item))
        return tuple(out)

    def schema(self) -> JSON:
        out: JSON = {"type": "array", "items": self.item.schema()}
        if self.least:
            out["minItems"] = self.least
        return out


class OneOf(Type):
    """A list or a mapping or text: the kind of node decides which reader takes it."""

    def __init__(self, *, words: str, accepts: str, scalar: Type | None = None, seq: Type | None = None,
                 mapping: Type | None = None) -> None:
        self.scalar, self.seq, self.mapping = scalar, seq, mapping
        self.words, self.accepts = words, accepts

    def read(self, node: Node, r: Reading, path: Path) -> Any:
        chosen = self.mapping if type(node) is Map else self.seq if type(node) is Seq else self.scalar
        if chosen is None or (type(node) is Scalar and node.is_null):
            r.wrong(node, path, self.accepts)
            return None
        return chosen.read(node, r, path)

    def schema(self) -> JSON:
        return {"anyOf": [t.schema() for t in (self.scalar, self.seq, self.mapping) if t is not None]}


_AXIS_WORDS: Mapping[str, tuple[float, float, float]] = {
    "forward": (1.0, 0.0, 0.0), "back": (-1.0, 0.0, 0.0), "left": (0.0, 1.0, 0.0), "right": (0.0, -1.0, 0.0),
    "up": (0.0, 0.0, 1.0), "down": (0.0, 0.0, -1.0), "x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}
DIRECTIONS = ("forward", "back", "left", "right", "up", "down")


class Axis(Type):
    """A direction: a word, or a vector of any length; read as a unit vector."""

    accepts = "a direction: `forward`, `back`, `left`, `right`, `up`, `down`, or a vector like `[0, 1, 0]`"
    words = "`forward` … `down`, `x`, `y`, `z` or `[x, y, z]`"
    _vector = Vec(Number(), 3, example="[0, 1, 0]")

    def read(self, node: Node, r: Reading, path: Path) -> tuple[float, float, float] | None:
        if type(node) is Scalar:
            word = _AXIS_WORDS.get(node.text)
            if word is None:
                r.fault("bad-value" if not node.is_null else "wrong-type", f"`{shown(node.text)}` is no direction",
                        node, path, hint=f"write {self.accepts}")
            return word
        if type(node) is not Seq:
            r.wrong(node, path, self.accepts)
            return None
        value: tuple[float, float, float] | None = self._vector.read(node, r, path)
        if value is None:
            return None
        x, y, z = value
        biggest = max(abs(x), abs(y), abs(z))
        if biggest == 0.0:
            r.fault("bad-value", "a direction can't be zero in all three", node, path, hint=f"write {self.accepts}")
            return None
        x, y, z = x / biggest, y / biggest, z / biggest  # no overflow in the squares
        size = (x * x + y * y + z * z) ** 0.5
        return (x / size, y / size, z / size)

    def schema(self) -> JSON:
        return {"anyOf": [{"enum": list(_AXIS_WORDS)}, self._vector.schema()]}


class Axes(Type):
    """A rotation by where two axes point: ``{z: forward, x: up}``."""

    accepts = "two axes with directions at right angles, like `{z: forward, x: up}`"
    words = "`{z: forward, x: up}`"

    def read(self, node: Node, r: Reading, path: Path) -> tuple[tuple[str, str], tuple[str, str]] | None:
        if type(node) is not Map:
            r.wrong(node, path, self.accepts)
            return None
        pairs: list[tuple[str, str]] = []
        good = True
        for name, (key, value) in node.items.items():
            if name not in ("x", "y", "z"):
                r.unknown("unknown-key", "an axis", name, ("x", "y", "z"), key, (*path, name))
                good = False
            elif type(value) is not Scalar or value.text not in DIRECTIONS:
                r.fault("bad-value" if type(value) is Scalar and not value.is_null else "wrong-type",
                        "an axis points in one of six directions", value, (*path, name),
                        hint=f"write one of {', '.join(DIRECTIONS)}")
                good = False
            else:
                pairs.append((name, value.text))
        if not good:
            return None
        if len(pairs) != 2:
            r.fault("bad-value", f"{len(pairs)} ax{'is' if len(pairs) == 1 else 'es'} given; two decide a rotation",
                    node, path, hint=f"write {self.accepts}")
            return None
        a, b = (_AXIS_WORDS[direction] for _, direction in pairs)
        if sum(p * q for p, q in zip(a, b)) != 0.0:
            r.fault("bad-value", f"`{pairs[0][1]}` and `{pairs[1][1]}` lie in one line, and {pairs[0][0]} and "
                    f"{pairs[1][0]} are at right angles", node, path, hint=f"write {self.accepts}")
            return None
        return (pairs[0], pairs[1])

    def schema(self) -> JSON:
        return {"type": "object", "additionalProperties": False, "minProperties": 2, "maxProperties": 2,
                "properties": {axis: {"enum": list(DIRECTIONS),
                                      "description": f"Where {axis} points, in the parent's directions."}
                               for axis in "xyz"}}


COLORS: Mapping[str, tuple[float, float, float, float]] = {
    "black": (0.08, 0.08, 0.08, 1.0), "white": (0.95, 0.95, 0.95, 1.0), "grey": (0.5, 0.5, 0.5, 1.0),
    "silver": (0.75, 0.75, 0.78, 1.0), "red": (0.8, 0.1, 0.1, 1.0), "green": (0.1, 0.55, 0.2, 1.0),
    "blue": (0.1, 0.25, 0.7, 1.0), "yellow": (0.95, 0.8, 0.1, 1.0), "orange": (0.95, 0.5, 0.1, 1.0),
    "brown": (0.45, 0.3, 0.15, 1.0), "wood": (0.8, 0.65, 0.45, 1.0), "brass": (0.78, 0.65, 0.3, 1.0)}
_HEX = re.compile(r"#([0-9a-fA-F]{2})([0-9a-fA-F]{2})([0-9a-fA-F]{2})([0-9a-fA-F]{2})?")


class Color(Type):
    """A colour word, ``"#rrggbb"`` (``"#rrggbbaa"``) in quotes, or three or four numbers from 0 to 1."""

    accepts = f"a colour: {', '.join(COLORS)}; `\"#ff8800\"` in quotes; or `[0.9, 0.5, 0.1]`"
    words = "colour word, `\"#rrggbb\"` or `[r, g, b]`"
    _part = Number(0, 1, example="0.5")

    def read(self, node: Node, r: Reading, path: Path) -> tuple[float, float, float, float] | None:
        if type(node) is Seq and len(node.items) in (3, 4):
            values = [self._part.read(item, r, path) for item in node.items]
            if None in values:
                return None
            return tuple([*values, 1.0][:4])  # type: ignore[return-value]
        if type(node) is Scalar and not node.is_null:
            text = "grey" if node.text == "gray" else node.text
            if text in COLORS:
                return COLORS[text]
            found = _HEX.fullmatch(text)
            if found:
                return tuple(int(h, 16) / 255 if h else 1.0 for h in found.groups())  # type: ignore[return-value]
            r.fault("bad-value", f"`{shown(text)}` is no colour", node, path, hint=f"write {self.accepts}")
            return None
        r.wrong(node, path, self.accepts)
        return None

    def schema(self) -> JSON:
        return {"anyOf": [{"enum": [*COLORS, "gray"]},
                          {"type": "string", "pattern": "^#(?:[0-9a-fA-F]{6}|[0-9a-fA-F]{8})$"},
                          {"type": "array", "items": self._part.schema(), "minItems": 3, "maxItems": 4}]}


def choices(options: Sequence[str]) -> Choice:
    """One of the words of a sequence."""
    return Choice(*options)
