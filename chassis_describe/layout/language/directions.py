"""Kinds of values that say a direction, an attitude or a colour."""
from __future__ import annotations

import re
from collections.abc import Mapping

from chassis_describe.layout.language.kinds import JSON, Number, Type
from chassis_describe.layout.language.lists import Vec
from chassis_describe.layout.language.reading import KeyPath, Reading
from chassis_describe.units import shown
from chassis_describe.yaml_text.nodes import Map, Node, Scalar, Seq

_AXIS_WORDS: Mapping[str, tuple[float, float, float]] = {
    "forward": (1.0, 0.0, 0.0), "back": (-1.0, 0.0, 0.0), "left": (0.0, 1.0, 0.0), "right": (0.0, -1.0, 0.0),
    "up": (0.0, 0.0, 1.0), "down": (0.0, 0.0, -1.0), "x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}
DIRECTIONS = ("forward", "back", "left", "right", "up", "down")


class Axis(Type):
    """A direction: a word, or a vector of any length; read as a unit vector."""

    accepts = "a direction: `forward`, `back`, `left`, `right`, `up`, `down`, or a vector like `[0, 1, 0]`"
    words = "`forward` … `down`, `x`, `y`, `z` or `[x, y, z]`"
    _vector = Vec(Number(), 3, example="[0, 1, 0]")

    def read(self, node: Node, r: Reading, path: KeyPath) -> tuple[float, float, float] | None:
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

    def read(self, node: Node, r: Reading, path: KeyPath) -> tuple[tuple[str, str], tuple[str, str]] | None:
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


class ColorValue(Type):
    """A colour word, ``"#rrggbb"`` (``"#rrggbbaa"``) in quotes, or three or four numbers from 0 to 1."""

    accepts = f"a colour: {', '.join(COLORS)}; `\"#ff8800\"` in quotes; or `[0.9, 0.5, 0.1]`"
    words = "colour word, `\"#rrggbb\"` or `[r, g, b]`"
    _part = Number(0, 1, example="0.5")

    def read(self, node: Node, r: Reading, path: KeyPath) -> tuple[float, float, float, float] | None:
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
