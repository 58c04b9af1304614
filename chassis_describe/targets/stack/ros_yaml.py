"""ROS parameter files: YAML that ROS's parser and other YAML tools read alike.

A double always has a point (``1.0``, ``1.0e-05``), an integer never; strings are double-quoted, so that ``123E5`` or
``007`` stay text; lists hold one type. rcl's parser: rcl_yaml_param_parser (ros2/rcl); it takes no list of mixed types
and no conversion from integer to double. YAML 1.1 floats need a point and a signed exponent.
"""
from __future__ import annotations

import json
import math
import re
from collections.abc import Sequence
from typing import Union

from chassis_describe.tolerances import ZERO

ParameterScalar = Union[bool, int, float, str]
Value = Union[ParameterScalar, Sequence[bool], Sequence[int], Sequence[float], Sequence[str]]

_PLAIN_KEY = re.compile(r"[A-Za-z_/][A-Za-z0-9_/]*\Z")
_NOT_PLAIN = frozenset({"y", "n", "yes", "no", "on", "off", "true", "false", "null"})


class Block:
    """A mapping under construction, in the order of its lines; remarks stand between its keys."""

    def __init__(self) -> None:
        self._entries: list[tuple[str | None, Block | Value, str]] = []

    def note(self, *lines: str) -> Block:
        """A remark on lines of its own."""
        self._entries.extend((None, line, "") for line in lines)
        return self

    def put(self, key: str, value: Value, remark: str = "") -> Block:
        """A parameter, with a remark behind it."""
        if any(key == k for k, _, _ in self._entries):
            raise ValueError(f"the key {key} stands twice in one block")
        self._entries.append((key, value, remark))
        return self

    def block(self, key: str) -> Block:
        """The mapping under ``key``, made on first use."""
        for known, value, _ in self._entries:
            if known == key:
                if not isinstance(value, Block):
                    raise ValueError(f"{key} is a value, not a block")
                return value
        inner = Block()
        self._entries.append((key, inner, ""))
        return inner

    def parameters(self, *node: str) -> Block:
        """The parameters of a node, named by its namespaces and name."""
        block = self
        for name in node:
            block = block.block(name)
        return block.block("ros__parameters")

    def __bool__(self) -> bool:
        return any(bool(value) if isinstance(value, Block) else True for key, value, _ in self._entries
                   if key is not None)

    def lines(self, depth: int = 0) -> list[str]:
        """The block as lines of YAML. Blocks without parameters are left out, their remarks too."""
        indent = "  " * depth
        out: list[str] = []
        for key, value, remark in self._entries:
            if key is None:
                assert isinstance(value, str)
                if value or out or not depth:  # a block below another begins without a blank line
                    out.append(f"{indent}# {_comment(value)}" if value else "")
            elif isinstance(value, Block):
                if value:
                    out.append(f"{indent}{_key(key)}:")
                    out.extend(value.lines(depth + 1))
            else:
                tail = f"  # {_comment(remark)}" if remark else ""
                out.append(f"{indent}{_key(key)}: {written(value)}{tail}")
        return out


def document(block: Block) -> str:
    """The file's text, ASCII, one newline at its end."""
    return "\n".join(block.lines()) + "\n"


def written(value: Value) -> str:
    """One value as text. Raises ValueError for what a parameter can't be: not finite, empty or mixed lists."""
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=True)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return double(value)
    kinds = {type(item) for item in value}
    if not kinds:
        raise ValueError("an empty list has no type: leave the parameter out")
    if len(kinds) > 1 or not kinds <= {bool, int, float, str}:
        raise ValueError(f"a parameter list holds one type, not {sorted(k.__name__ for k in kinds)}")
    return "[" + ", ".join(written(item) for item in value) + "]"


def double(value: float) -> str:
    """A double with a point, at most 12 significant digits; nothing under 1e-15, never ``-0.0``."""
    if not math.isfinite(value):
        raise ValueError(f"{value} can't be written as a number")
    if abs(value) < ZERO:
        return "0.0"
    text = format(value, ".12g")
    mantissa, e, exponent = text.partition("e")
    if "." not in mantissa:
        mantissa += ".0"
    return mantissa + (f"e{exponent}" if e else "")


def _key(name: str) -> str:
    return name if _PLAIN_KEY.match(name) and name.lower() not in _NOT_PLAIN else json.dumps(name, ensure_ascii=True)


def _comment(text: str) -> str:
    return text.encode("ascii", "replace").decode("ascii").replace("\n", " ").replace("\t", " ")
