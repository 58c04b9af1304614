"""Kinds of values that hold others: lists of a fixed number, lists of any number, one form or another."""
from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from chassis_describe import units
from chassis_describe.layout.language.kinds import JSON, Type
from chassis_describe.layout.language.reading import KeyPath, Reading
from chassis_describe.units import BadNumber
from chassis_describe.yaml_text.nodes import Map, Node, Scalar, Seq


class Vec(Type):
    """A list of a fixed number of values of one kind."""

    def __init__(self, item: Type, count: int, *, example: str, words: str = "") -> None:
        self.item, self.count = item, count
        self.accepts = f"a list of {('two', 'three')[count - 2] if count in (2, 3) else count} values like `{example}`"
        self.words = words or f"`{example}`"

    def read(self, node: Node, r: Reading, path: KeyPath) -> tuple[Any, ...] | None:
        if type(node) is not Seq or len(node.items) != self.count:
            self.complain(node, r, path)
            return None
        read = self.item.read
        out = tuple([read(item, r, path) for item in node.items])
        return None if None in out else out

    def complain(self, node: Node, r: Reading, path: KeyPath) -> None:
        """Report what is not such a list; text that looks like a pair gets the number's own hint."""
        if type(node) is Scalar and node.plain and re.match(r"[-+.0-9]", node.text):
            try:
                units.number(node.text)
            except BadNumber as error:
                if error.kind == "number":
                    r.fault("bad-number", error.message, node, path, hint=f"write {self.accepts}")
                    return
        split = (_after_comma(node.items) if type(node) is Seq and len(node.items) > self.count else "")
        r.wrong(node, path, self.accepts, hint=split)

    def schema(self) -> JSON:
        return {"type": "array", "items": self.item.schema(), "minItems": self.count, "maxItems": self.count}


def _after_comma(items: Sequence[Node]) -> str:
    """The hint for a list that is too long because a decimal comma split a number: ``[-4,5, 0]``."""
    first, second = items[:2]
    if isinstance(first, Scalar) and isinstance(second, Scalar) and re.fullmatch(r"[-+]?[0-9]+", first.text) and \
            re.fullmatch(r"[0-9]+", second.text):
        return f"a comma parts two entries; if a decimal number is meant, write `{first.text}.{second.text}`"
    return ""


class ListOf(Type):
    """A list of any number of values; a tuple of (value, node) pairs, so that each keeps its place.

    Faulty entries are left out after they were reported; with ``whole``, or when fewer than ``least`` are left, the list
    is faulty as a whole: what is left of it is not what was meant.
    """

    def __init__(self, item: Type, *, least: int = 0, words: str = "", say: str = "", key: str = "", whole: bool = False) -> None:
        self.item, self.least, self.key, self.whole = item, least, key, whole
        self.accepts = say or f"a list of {item.words}"
        self.words = words or f"list of {item.words}"

    def read(self, node: Node, r: Reading, path: KeyPath) -> tuple[tuple[Any, Node], ...] | None:
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
        return tuple(out) if len(out) >= (len(node.items) if self.whole else self.least) else None

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

    def read(self, node: Node, r: Reading, path: KeyPath) -> Any:
        chosen = self.mapping if type(node) is Map else self.seq if type(node) is Seq else self.scalar
        if chosen is None or (type(node) is Scalar and node.is_null):
            r.wrong(node, path, self.accepts)
            return None
        return chosen.read(node, r, path)

    def schema(self) -> JSON:
        return {"anyOf": [t.schema() for t in (self.scalar, self.seq, self.mapping) if t is not None]}
