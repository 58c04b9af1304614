"""YAML text as a tree that knows where each of its nodes begins and ends, so that one can be replaced in place.

The reader's own tree forgets ends, anchors and merges, because nobody but an editor needs them. Positions count
characters of the text without its byte order mark.
"""
from __future__ import annotations

import re
from typing import Any, NamedTuple, Union

from chassis_describe.yaml_text.compose import event_parser
from chassis_describe.yaml_text.nodes import MAX_DEPTH

_PROPERTY = re.compile(r"&[^\s,\[\]{}]+|!(?:<[^>]*>|[^\s,\[\]{}]*)")
_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\r\n]*)*")


class Word(NamedTuple):
    """A scalar. ``quote``: the quote that it stands in, ``""`` when plain, ``|`` or ``>`` for a block of text."""

    start: int
    end: int
    text: str
    quote: str
    anchor: str | None


class Alias(NamedTuple):
    """``*name``."""

    start: int
    end: int
    name: str


class Items(NamedTuple):
    """A list."""

    start: int
    end: int
    flow: bool
    items: list[Span]
    anchor: str | None


class Entries(NamedTuple):
    """A mapping: keys with their values, in the order of the file, merge keys (``<<``) among them."""

    start: int
    end: int
    flow: bool
    entries: list[tuple[Span, Span]]
    anchor: str | None

    def find(self, name: str) -> tuple[Word, Span] | None:
        """The entry of that key, written here (not merged in)."""
        for key, value in self.entries:
            if isinstance(key, Word) and key.text == name:
                return key, value
        return None


Span = Union[Word, Alias, Items, Entries]


def spans(text: str) -> Span | None:
    """The root of one YAML document. Raises yaml's own errors, and ValueError for what is more or deeper than we take."""
    from yaml import events as ev

    parser = event_parser(text)
    documents = 0
    stack: list[tuple[int, bool, str | None, bool, list[Span]]] = []
    root: Span | None = None
    while True:
        event: Any = parser.get_event()
        kind = type(event)
        if event is None or kind is ev.StreamEndEvent:
            return root
        node: Span | None = None
        if kind is ev.DocumentStartEvent:
            documents += 1
            if documents > 1:
                raise ValueError(f"a second YAML document begins in line {event.start_mark.line + 1} (`---`); only files of one "
                                 "document are edited")
        elif kind is ev.ScalarEvent:
            start, end = _begin(text, event), event.end_mark.index
            node = Word(start, end, event.value, event.style or "", event.anchor)
        elif kind is ev.AliasEvent:
            node = Alias(event.start_mark.index, event.end_mark.index, event.anchor)
        elif kind in (ev.MappingStartEvent, ev.SequenceStartEvent):
            if len(stack) >= MAX_DEPTH:
                raise ValueError(f"nested deeper than {MAX_DEPTH} levels in line {event.start_mark.line + 1}")
            stack.append((_begin(text, event), bool(event.flow_style), event.anchor,
                          kind is ev.MappingStartEvent, []))
        elif kind in (ev.MappingEndEvent, ev.SequenceEndEvent):
            start, flow, anchor, is_map, inside = stack.pop()
            # A block has no closing mark: it ends where the last thing in it ends.
            end = event.end_mark.index if flow or not inside else inside[-1].end
            node = (Entries(start, end, flow, list(zip(inside[::2], inside[1::2])), anchor) if is_map
                    else Items(start, end, flow, inside, anchor))
        if node is not None:
            if stack:
                stack[-1][4].append(node)
            else:
                root = node


def _begin(text: str, event: Any) -> int:
    """Where a node itself begins, behind its anchor and its tag, which stand in either order."""
    from yaml.events import ScalarEvent

    start: int = event.start_mark.index
    end: int = event.end_mark.index
    if event.anchor is None and event.tag is None:
        return start
    while (found := _PROPERTY.match(text, start)) is not None:
        start = _BLANK.match(text, found.end()).end()  # type: ignore[union-attr]
    # An empty scalar ends with its properties; what comes behind the blanks is somebody else's.
    return min(start, end) if isinstance(event, ScalarEvent) else start
