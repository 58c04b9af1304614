"""YAML text as a tree that still knows its lines, before anything is believed about it.

Scalars keep their text, so that the type of a field decides what it means: ``on``, ``no`` and ``3:7`` stay what the
user typed. Aliases share nodes, merge keys are carried out, duplicate keys are reported. The tree is built from the
parser's events, without recursion: depth and expanded size are bounded before anything deep exists.
"""
from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from typing import Any, Union

from chassis_describe.findings import Finding, finding
from chassis_describe.layout.syntax import syntax_finding
from chassis_describe.source import Mark
from chassis_describe.units import shown

MAX_BYTES = 4 * 1024 * 1024
MAX_DEPTH = 64
#: Nodes of a document with every alias counted as often as it stands: a plain file of 4 MiB can't have so many.
MAX_NODES = 2_000_000

#: So many faults are listed; then reading stops, and says so.
MAX_FAULTS = 10_000

_NULLS = frozenset(("", "~", "null", "Null", "NULL"))
_FORBIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\x80-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff]")

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


def mark_of(node: Node, path: tuple[str, ...] = ()) -> Mark:
    """The place of a node."""
    return Mark(node.file, node.line, node.column, path)


def nearest(name: str, known: Iterable[str]) -> str | None:
    """The known name that a misspelt one most probably means."""
    by_lower = {k.lower(): k for k in known}
    found = difflib.get_close_matches(name.lower()[:100], by_lower, n=1, cutoff=0.6)
    return by_lower[found[0]] if found else None


def decoded(data: bytes | str, file: str) -> tuple[str, list[Finding]]:
    """The text of a file: UTF-8, a byte order mark allowed, at most 4 MiB, no control characters."""
    if len(data) > MAX_BYTES:
        return "", [_refused(file, 1, 1, f"the file is larger than {MAX_BYTES // 1024 // 1024} MiB",
                             "a layout of ten thousand parts is smaller than 1 MiB; is this the right file?")]
    if isinstance(data, bytes):
        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError as error:
            before = data[: error.start].decode("utf-8", "replace")
            line, column = before.count("\n") + 1, len(before) - before.rfind("\n")
            return "", [_refused(file, line, column, f"not UTF-8 text (byte 0x{data[error.start]:02x})",
                                 "save the file as UTF-8")]
    else:
        text = data
    text = text[1:] if text.startswith("\ufeff") else text
    bad = _FORBIDDEN.search(text)
    if bad is not None:
        line = text.count("\n", 0, bad.start()) + 1
        column = bad.start() - text.rfind("\n", 0, bad.start())
        return "", [_refused(file, line, column, f"a control character (code {ord(bad.group()):#x})",
                             "delete it; is this a text file?")]
    if "\t" in text:
        text = _HARMLESS_TABS.sub(lambda found: found.group().replace("\t", " "), text)
    return text, []


def _refused(file: str, line: int, column: int, message: str, hint: str = "", path: tuple[str, ...] = ()) -> Finding:
    return finding("yaml-syntax", message, hint=hint, where=[Mark(file, line, column, path)])


def event_parser(text: str) -> Any:
    """A YAML parser on the text: libyaml's, or PyYAML's own where libyaml is missing."""
    try:
        from yaml.cyaml import CParser  # type: ignore[attr-defined]
    except ImportError:
        from yaml.parser import Parser
        from yaml.reader import Reader
        from yaml.scanner import Scanner

        class PurePython(Reader, Scanner, Parser):
            def __init__(self, stream: str) -> None:
                Reader.__init__(self, stream)
                Scanner.__init__(self)
                Parser.__init__(self)

        return PurePython(text)
    return CParser(text)


def compose(text: str, file: str, *, first_line: int = 1) -> tuple[Node | None, list[Finding]]:
    """The root node of one YAML document and what is wrong with its form. None when nothing can be made of it.

    ``first_line``: the line of the file that the text begins on.
    """
    from yaml.error import YAMLError

    composer = _Composer(file, first_line)
    try:
        composer.run(event_parser(text))
    except YAMLError as error:
        composer.findings.append(syntax_finding(error, text, file, first_line))
        return None, composer.findings
    except _Stop:
        return None, composer.findings
    return composer.root, composer.findings


class _Stop(Exception):
    """The document is refused as a whole; the finding has been added."""


class _Composer:
    """Builds the tree from events with a stack of open containers."""

    def __init__(self, file: str, first_line: int) -> None:
        self.file, self.offset = file, first_line
        self.root: Node | None = None
        self.findings: list[Finding] = []
        self.anchors: dict[str, Node] = {}
        self.with_anchor: dict[int, Node] = {}  # holds the nodes, so that no id is used twice
        self.open: list[Map | Seq] = []
        self.keys: list[Scalar | None] = []  # of each open container: the key that waits for its value
        self.merges: dict[int, list[tuple[Scalar, Node]]] = {}
        self.skipping: list[Map | Seq] = []  # keys that are not names, with what is in them

    def run(self, parser: Any) -> None:
        """Take all events."""
        from yaml import events as ev

        scalar, alias, document = ev.ScalarEvent, ev.AliasEvent, ev.DocumentStartEvent
        starts: dict[Any, type[Map] | type[Seq]] = {ev.MappingStartEvent: Map, ev.SequenceStartEvent: Seq}
        ends = (ev.MappingEndEvent, ev.SequenceEndEvent)
        stream_end = ev.StreamEndEvent
        file, offset, get, keys, opened = self.file, self.offset, parser.get_event, self.keys, self.open
        text_tags = (None, "tag:yaml.org,2002:str")
        documents = 0
        while True:
            event = get()
            kind = type(event)
            if kind is scalar:
                start = event.start_mark
                node = Scalar(event.value, not event.style, file, start.line + offset, start.column + 1)
                if event.tag not in text_tags:
                    self.tag(event.tag, node)
                if event.anchor is not None:
                    self.anchor(event.anchor, node)
                # The common cases of `add`, spelled out: this is where the time of a large file goes.
                if opened:
                    box = opened[-1]
                    if isinstance(box, Seq):
                        box.items.append(node)
                        box.size += 1
                        continue
                    key = keys[-1]
                    if key is None:
                        keys[-1] = node
                        box.size += 1
                        continue
                    name = key.text
                    if name != "<<" and name not in box.items and type(key) is Scalar:
                        box.items[name] = (key, node)
                        box.size += 1
                        keys[-1] = None
                        continue
                self.add(node)
            elif kind in starts:
                start = event.start_mark
                begun = starts[kind](file, start.line + offset, start.column + 1, bool(event.flow_style))
                if event.tag is not None:
                    self.tag(event.tag, begun)
                self.begin(begun, event.anchor)
            elif kind in ends:
                self.end()
            elif kind is alias:
                self.alias(event)
            elif kind is document:
                documents += 1
                if documents > 1:
                    start = event.start_mark
                    self.stop(start.line + offset, start.column + 1, "a second YAML document begins here",
                              "a layout is one document: remove the line `---`")
            elif kind is stream_end or event is None:
                return

    def stop(self, line: int, column: int, message: str, hint: str) -> None:
        self.findings.append(_refused(self.file, line, column, message, hint, self.path()))
        raise _Stop

    def path(self) -> tuple[str, ...]:
        """The names that lead to where the composer stands."""
        return tuple(key.text for key in self.keys if key is not None)

    def tag(self, tag: str, node: Node) -> None:
        short = tag.replace("tag:yaml.org,2002:", "!!")
        self.findings.append(_refused(self.file, node.line, node.column, f"`{shown(short)}` is a YAML tag, and a "
                                      "layout has none", "leave it out; a unit stands behind the number: `90 deg`",
                                      self.path()))

    def alias(self, event: Any) -> None:
        line, column, name = event.start_mark.line + self.offset, event.start_mark.column + 1, event.anchor
        target = self.anchors.get(name)
        if target is None:
            near = nearest(name, self.anchors)
            self.findings.append(_refused(
                self.file, line, column, f"`*{shown(name)}` stands for an anchor `&{shown(name)}` that is not above",
                f"did you mean `*{near}`?" if near else "quote the text when no alias is meant", self.path()))
            target = _Unknown(self.file, line, column)
        elif any(target is box for box in self.open):
            self.stop(line, column, f"`*{shown(name)}` stands inside what it stands for", "an alias can't contain itself")
        self.add(target)

    def begin(self, box: Map | Seq, anchor: str | None) -> None:
        if len(self.open) >= MAX_DEPTH:
            self.stop(box.line, box.column, f"nested deeper than {MAX_DEPTH} levels", "a layout needs about ten")
        if anchor is not None:
            self.anchor(anchor, box)
        self.open.append(box)
        self.keys.append(None)

    def end(self) -> None:
        box = self.open.pop()
        self.keys.pop()
        merges = self.merges.pop(id(box), None)
        if merges and type(box) is Map:
            for key, source in merges:
                self.merge(box, key, source)
        self.add(box)

    def add(self, node: Node) -> None:
        """Put a finished node into the open container, or make it the root."""
        if not self.open:
            self.root = node
            return
        box = self.open[-1]
        box.size += 1 if isinstance(node, Scalar) else node.size
        if box.size > MAX_NODES:
            self.stop(node.line, node.column, f"aliases blow this up to more than {MAX_NODES} values",
                      "write out what is meant, with fewer aliases of aliases")
        if isinstance(box, Seq):
            box.items.append(node)
            return
        key = self.keys[-1]
        if key is None:
            if not isinstance(node, Scalar):
                self.findings.append(_refused(self.file, node.line, node.column, "a key has to be a plain name, not "
                                              "a list or a mapping", "is a colon too much, or a quote missing?",
                                              self.path()))
                node = _Unknown(self.file, node.line, node.column)
            self.keys[-1] = node
            return
        self.keys[-1] = None
        if isinstance(node, (Map, Seq)) and not node.flow and not self.anchored(node):
            node.line, node.column = key.line, key.column  # a block is found by its key
        self.pair(box, key, node)

    def anchor(self, name: str, node: Node) -> None:
        """Remember what an anchor stands for; a later one of the same name takes its place (YAML 1.2, 7.1)."""
        self.anchors[name] = node
        self.with_anchor[id(node)] = node

    def anchored(self, node: Node) -> bool:
        """Whether a node has an anchor or came by an alias; then its place is where it was written first."""
        return id(node) in self.with_anchor

    def pair(self, box: Map, key: Scalar, node: Node) -> None:
        if type(key) is _Unknown:
            return
        name = key.text
        if name == "<<" and key.plain:
            self.merges.setdefault(id(box), []).append((key, node))
            if len(self.merges[id(box)]) > 1:
                self.duplicate(self.merges[id(box)][0][0], key)
            return
        first = box.items.get(name)
        if first is not None:
            self.duplicate(first[0], key)
            return
        box.items[name] = (key, node)

    def duplicate(self, first: Scalar, second: Scalar) -> None:
        if len(self.findings) >= MAX_FAULTS:
            self.stop(second.line, second.column, f"more than {MAX_FAULTS} faults; the rest is not read",
                      "mend the first ones")
        path = (*self.path(), second.text)
        self.findings.append(finding(
            "duplicate-key", f"`{shown(second.text)}` stands twice here, first in line {first.line}",
            hint="keep one of the two, or give one another name", where=[mark_of(second, path), mark_of(first, path)]))

    def merge(self, box: Map, key: Scalar, source: Node) -> None:
        sources = source.items if type(source) is Seq else [source]
        for item in sources:
            if type(item) is _Unknown:
                box.broken = True
                continue
            if type(item) is not Map:
                self.findings.append(finding(
                    "wrong-type", "`<<` takes over the keys of a mapping, or of a list of mappings",
                    hint="write `<<: *name` where `&name` marks a mapping",
                    where=[mark_of(key, (*self.path(), "<<"))]))
                continue
            for name, pair in item.items.items():
                box.items.setdefault(name, pair)


class _Unknown(Scalar):
    """Stands where an alias or a key could not be understood; it has been reported."""

    __slots__ = ()

    def __init__(self, file: str, line: int, column: int) -> None:
        super().__init__("", False, file, line, column)


def is_unknown(node: Node) -> bool:
    """Whether this node was reported already, so that nobody complains a second time."""
    return type(node) is _Unknown
