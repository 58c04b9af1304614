"""YAML text → tree, before anything is believed about it.

Aliases share nodes, merge keys are carried out, duplicate keys are reported. The tree is built from the parser's
events, without recursion: depth and expanded size are bounded before anything deep exists.
"""
from __future__ import annotations

from typing import Any

from chassis_describe.findings import Finding, finding
from chassis_describe.units import shown
from chassis_describe.words import nearest
from chassis_describe.yaml_text.nodes import (
    MAX_DEPTH,
    MAX_FAULTS,
    MAX_NODES,
    Map,
    Node,
    Scalar,
    Seq,
    Unknown,
    mark_of,
    refused,
)
from chassis_describe.yaml_text.syntax import syntax_finding


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
        self.findings.append(refused(self.file, line, column, message, hint, self.path()))
        raise _Stop

    def path(self) -> tuple[str, ...]:
        """The names that lead to where the composer stands."""
        return tuple(key.text for key in self.keys if key is not None)

    def tag(self, tag: str, node: Node) -> None:
        short = tag.replace("tag:yaml.org,2002:", "!!")
        self.findings.append(refused(self.file, node.line, node.column, f"`{shown(short)}` is a YAML tag, and a "
                                      "layout has none", "leave it out; a unit stands behind the number: `90 deg`",
                                      self.path()))

    def alias(self, event: Any) -> None:
        line, column, name = event.start_mark.line + self.offset, event.start_mark.column + 1, event.anchor
        target = self.anchors.get(name)
        if target is None:
            near = nearest(name, self.anchors)
            self.findings.append(refused(
                self.file, line, column, f"`*{shown(name)}` stands for an anchor `&{shown(name)}` that is not above",
                f"did you mean `*{near}`?" if near else "quote the text when no alias is meant", self.path()))
            target = Unknown(self.file, line, column)
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
                self.findings.append(refused(self.file, node.line, node.column, "a key has to be a plain name, not "
                                              "a list or a mapping", "is a colon too much, or a quote missing?",
                                              self.path()))
                node = Unknown(self.file, node.line, node.column)
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
        if type(key) is Unknown:
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
            if type(item) is Unknown:
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
