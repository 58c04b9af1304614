"""A file's text as a tree of nodes that still know their lines.

Scalars keep their text, so that the type of a field decides what it means: ``on``, ``no`` and ``3:7`` stay what the
user typed.
"""
from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any, Union

from chassis_describe.findings import Finding, finding
from chassis_describe.inputs import TEXT_BYTES
from chassis_describe.source import Mark

MAX_BYTES = TEXT_BYTES
MAX_DEPTH = 64
#: Nodes of a document with every alias counted as often as it stands: a plain file of 4 MiB can't have so many.
MAX_NODES = 2_000_000

#: So many faults are listed; then reading stops, and says so.
MAX_FAULTS = 10_000

_NULLS = frozenset(("", "~", "null", "Null", "NULL"))
#: Characters that no text here holds: terminals obey some of them, XML 1.0 (2.2) has no place for most, UTF-8 none for others.
FORBIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\x80-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff]")

#: White space alone on a line, or before a comment: YAML 1.2 lets tabs stand there, the parsers don't.
_HARMLESS_TABS = re.compile(r"^[ \t]*\t[ \t]*(?=#|\r?$)", re.MULTILINE)


class Scalar:
    """One scalar: its text, and whether it stood without quotes."""

    __slots__ = ("column", "file", "line", "plain", "text")

    def __init__(self, text: str, plain: bool, file: str, line: int, column: int) -> None:
        self.text, self.plain, self.file, self.line, self.column = text, plain, file, line, column

    @property
    def is_null(self) -> bool:
        return self.plain and self.text in _NULLS


class Map:
    """A mapping: name → (key, value), in file order. ``flow`` when written in braces.

    ``broken``: keys are missing that could not be taken over from elsewhere, which has been reported.
    """

    __slots__ = ("broken", "column", "file", "flow", "items", "line", "size")

    def __init__(self, file: str, line: int, column: int, flow: bool = False) -> None:
        self.items: dict[str, tuple[Scalar, Node]] = {}
        self.broken = False
        self.file, self.line, self.column, self.flow, self.size = file, line, column, flow, 1


class Seq:
    """A list. ``flow`` when written in brackets."""

    __slots__ = ("column", "file", "flow", "items", "line", "size")

    def __init__(self, file: str, line: int, column: int, flow: bool = False) -> None:
        self.items: list[Node] = []
        self.file, self.line, self.column, self.flow, self.size = file, line, column, flow, 1


Node = Union[Scalar, Map, Seq]


def written(value: str | float | bool | Sequence[Any]) -> Node:
    """The node that a value written by hand would give; in no file."""
    if isinstance(value, str):
        return Scalar(value, False, "", 0, 0)
    if isinstance(value, (bool, int, float)):
        return Scalar(str(value).lower(), True, "", 0, 0)
    out = Seq("", 0, 0, flow=True)
    out.items.extend(written(item) for item in value)
    return out


def mark_of(node: Node, path: tuple[str, ...] = ()) -> Mark:
    """The place of a node."""
    return Mark(node.file, node.line, node.column, path)


def decoded(data: bytes | str, file: str) -> tuple[str, list[Finding]]:
    """The text of a file: UTF-8, a byte order mark allowed, at most 4 MiB, no control characters."""
    if len(data) > MAX_BYTES:
        return "", [refused(file, 1, 1, f"the file is larger than {MAX_BYTES // 1024 // 1024} MiB",
                             "a layout of ten thousand parts is smaller than 1 MiB; is this the right file?")]
    if isinstance(data, bytes):
        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError as error:
            before = data[: error.start].decode("utf-8", "replace")
            line, column = before.count("\n") + 1, len(before) - before.rfind("\n")
            return "", [refused(file, line, column, f"not UTF-8 text (byte 0x{data[error.start]:02x})",
                                 "save the file as UTF-8")]
    else:
        text = data
    text = text[1:] if text.startswith("\ufeff") else text
    bad = FORBIDDEN.search(text)
    if bad is not None:
        line = text.count("\n", 0, bad.start()) + 1
        column = bad.start() - text.rfind("\n", 0, bad.start())
        return "", [refused(file, line, column, f"a control character (code {ord(bad.group()):#x})",
                             "delete it; is this a text file?")]
    if "\t" in text:
        text = _HARMLESS_TABS.sub(lambda found: found.group().replace("\t", " "), text)
    return text, []


def refused(file: str, line: int, column: int, message: str, hint: str = "", path: tuple[str, ...] = ()) -> Finding:
    return finding("yaml-syntax", message, hint=hint, where=[Mark(file, line, column, path)])


class Unknown(Scalar):
    """Stands where an alias or a key could not be understood; it has been reported."""

    __slots__ = ()

    def __init__(self, file: str, line: int, column: int) -> None:
        super().__init__("", False, file, line, column)


def is_unknown(node: Node) -> bool:
    """Whether this node was reported already, so that nobody complains a second time."""
    return type(node) is Unknown
