"""What a ROS parameter file says, node by node, with the place where each value really is written.

Aliases and merges (``<<``) are followed, so a value that is written once and used five times is five parameters at one place.
Nodes: rcl_yaml_param_parser (ros2/rcl) joins the keys above ``ros__parameters`` by slashes; dots join the names below.
"""
from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator
from typing import NamedTuple, Union

from chassis_describe.errors import UsageError
from chassis_describe.yaml_text.nodes import MAX_DEPTH
from chassis_describe.yaml_text.spans import Alias, Entries, Items, Span, Word
from chassis_describe.yaml_text.values import Path, tree_of

PARAMETERS = "ros__parameters"

#: Values that a file may hold once its aliases are followed: a file of 4 MiB has room for fewer that are written out.
_MOST_STEPS = 500_000


class Parameter(NamedTuple):
    """``path``: as the file reads in the end; ``written``: where the value stands. ``line`` counts from 1. ``twice``: its key
    stands twice in one mapping."""

    path: tuple[str, ...]
    written: Path
    node: str
    name: str
    value: Union[Word, Items]
    line: int
    twice: bool = False

    @property
    def leaf(self) -> str:
        """The last name."""
        return self.name.rsplit(".", 1)[-1]

    @property
    def above(self) -> str:
        """The names before the last, with their dot."""
        return self.name[: len(self.name) - len(self.leaf)]


def parameters(data: bytes, file: str) -> tuple[Parameter, ...]:
    """Every parameter of every node, in the order of the file. Raises UsageError for what can't be read."""
    text, root = tree_of(data, file)
    if root is None:
        return ()
    reader = _ParameterReader(text, file)
    reader.settle(root, (), {})
    return tuple(reader.walk(root, (), None))


class _ParameterReader:
    def __init__(self, text: str, file: str) -> None:
        self.text, self.file = text, file
        self.meant: dict[int, Span] = {}  # where an alias begins → what it stands for
        self.place: dict[int, Path] = {}  # where a value begins → the path at which it is written
        self.steps = 0
        self.line_starts = [0, *(found.end() for found in re.finditer("\n", text))]
        self.known: dict[int, dict[str, tuple[Span, int, bool]]] = {}  # mappings that others take over, each read once

    def settle(self, node: Span, path: Path, anchors: dict[str, Span]) -> None:
        """Note what every alias stands for, in the order of the file: an anchor may be given anew."""
        if isinstance(node, Alias):
            if node.name not in anchors:
                raise UsageError(f"{self.file}:{self.line(node)}: nothing is marked `&{node.name}` before this `*{node.name}`")
            self.meant[node.start] = anchors[node.name]
            return
        if node.anchor is not None:
            anchors[node.anchor] = node
        self.place[id(node)] = path
        if isinstance(node, Items):
            for number, item in enumerate(node.items):
                self.settle(item, (*path, number), anchors)
        elif isinstance(node, Entries):
            for key, value in node.entries:
                self.settle(key, (*path, ""), anchors)
                self.settle(value, (*path, key.text if isinstance(key, Word) else ""), anchors)

    def line(self, node: Span) -> int:
        return bisect_right(self.line_starts, node.start)

    def real(self, node: Span) -> Span:
        return self.meant[node.start] if isinstance(node, Alias) else node

    def walk(self, node: Span, path: tuple[str, ...], inside: int | None) -> Iterator[Parameter]:
        """``inside``: how many keys lead to ``ros__parameters``, None above it."""
        self.steps += 1
        if self.steps > _MOST_STEPS or len(path) > MAX_DEPTH:
            raise UsageError(f"{self.file}: its aliases lead to more than can be read, or into themselves")
        node = self.real(node)
        if isinstance(node, Entries):
            for name, (value, line, twice) in self.entries(node, 0).items():
                here = inside if inside is not None else len(path) if name == PARAMETERS else None
                last = self.real(value)
                if isinstance(last, Entries):
                    yield from self.walk(last, (*path, name), here)
                elif inside is not None:
                    node_name = "/" + "/".join(part.strip("/") for part in path[:inside])
                    yield Parameter((*path, name), self.place[id(last)], node_name, ".".join((*path[inside + 1:], name)),
                                    last, line, twice)  # type: ignore[arg-type]

    def entries(self, node: Entries, depth: int) -> dict[str, tuple[Span, int, bool]]:
        """Keys of a mapping, those that it takes over by ``<<`` behind its own (YAML's merge key type, 2005)."""
        if id(node) in self.known:
            return self.known[id(node)]
        own: dict[str, tuple[Span, int, bool]] = {}
        merged: list[Span] = []
        for key, value in node.entries:
            word = self.real(key)
            if not isinstance(word, Word):
                continue
            if word.text == "<<" and not word.quote:
                into = self.real(value)
                merged += into.items if isinstance(into, Items) else [into]
            else:
                own[word.text] = (value, self.line(key), word.text in own)
        if merged and depth > MAX_DEPTH:
            raise UsageError(f"{self.file}: a merge (`<<`) leads into itself")
        for source in merged:
            source = self.real(source)
            if isinstance(source, Entries):
                for name, entry in self.entries(source, depth + 1).items():
                    own.setdefault(name, entry)
        self.known[id(node)] = own
        return own
