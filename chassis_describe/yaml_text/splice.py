"""Splices: pieces of a YAML text that are replaced in place, every other byte left as it is."""
from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import NamedTuple

from chassis_describe.errors import UsageError
from chassis_describe.yaml_text.spans import Alias, Entries, Items, Span, Word
from chassis_describe.yaml_text.spelling import holes_text, number_like, number_text, pair_text, unit_like

_BREAKS = "\r\n\x85\u2028\u2029"


class Splice(NamedTuple):
    """Characters ``start`` to ``end`` of a text, and what stands there instead."""

    start: int
    end: int
    text: str


def fresh(value: object) -> str:
    """A value that stands where none stood before."""
    if isinstance(value, Decimal):
        return number_text(value)
    if isinstance(value, tuple):
        return holes_text(value) if isinstance(value[0], tuple) else pair_text(value)
    return str(value)


def value_splices(node: Span, value: object, key: str, name: str) -> list[Splice]:
    """A value in place of another; lists number by number, so that what stands between them stays."""
    if isinstance(node, Word) and isinstance(value, Decimal):
        return [word_splice(node, unit_like(node.text, value) if key == "turn" else number_like(node.text, value), name)]
    if isinstance(node, Items) and isinstance(value, tuple) and len(node.items) == len(value):
        return [s for item, inner in zip(node.items, value)
                for s in value_splices(item, Decimal(inner) if isinstance(inner, int) else inner, key, name)]
    if isinstance(node, (Word, Alias)):
        return whole_splice(node, fresh(value), name)
    raise UsageError(f"`{key}` of `{name}` is written in a way that can't be changed in place; write it as "
                     f"`{key}: {fresh(value)}`")


def whole_splice(node: Span, words: str, name: str) -> list[Splice]:
    """Replace a scalar, or the alias that stood for a value: from now on this placement has its own."""
    if isinstance(node, Word):
        return [word_splice(node, words, name)]
    return [Splice(node.start, node.end, words)]


def word_splice(node: Word, words: str, name: str) -> Splice:
    if node.quote in ("|", ">"):
        raise UsageError(f"`{name}` has a value written as a block of text (`{node.quote}`), which can't be changed in "
                         f"place; write `{words}` on the line of its key")
    if node.text == words:
        return Splice(node.start, node.start, "")  # it says so already
    return Splice(node.start, node.end, f"{node.quote}{words}{node.quote}")


def open_ended(node: Span) -> bool:
    """Whether a value ends in a block of text, whose end is not on its last line."""
    if isinstance(node, Word):
        return node.quote in ("|", ">")
    if isinstance(node, Alias) or node.flow:
        return False
    last = node.entries[-1][1] if isinstance(node, Entries) else node.items[-1]
    return open_ended(last)


def insertion(text: str, placement: Entries, place: int, entries: Sequence[tuple[str, str]], name: str) -> Splice:
    first = placement.entries[max(place, 0)][0]
    quote = first.quote if isinstance(first, Word) and first.quote in ("'", '"') else ""
    words = [f"{quote}{key}{quote}: {value}" for key, value in entries]
    if placement.flow:
        if place < 0:
            return Splice(first.start, first.start, "".join(f"{w}, " for w in words))
        end = placement.entries[place][1].end
        return Splice(end, end, "".join(f", {w}" for w in words))
    start = line_start(text, first.start)
    indent = text[start: first.start]
    if indent.strip(" "):
        raise UsageError(f"`{name}` is written in a way that no line can be added to; write its keys in lines of their own")
    if place < 0:
        close = _break_at(text, line_end(text, first.start)) or _file_break(text)
        return Splice(start, start, "".join(f"{indent}{w}{close}" for w in words))
    end = line_end(text, placement.entries[place][1].end)
    close = _break_at(text, end) or _file_break(text)
    return Splice(end, end, "".join(f"{close}{indent}{w}" for w in words))


def item_behind(text: str, items: Items, words: str) -> Splice:
    """One more item at the end of a list that has some."""
    end = items.items[-1].end
    if items.flow:
        return Splice(end, end, f", {words}")
    first = items.items[0].start
    start = line_start(text, first)
    lead = text[start:first]
    if lead.strip(" ") != "-" or open_ended(items.items[-1]):
        raise UsageError(f"a list is written in a way that nothing can be added to; add {words} by hand")
    close = line_end(text, end)
    return Splice(close, close, f"{_break_at(text, close) or _file_break(text)}{lead}{words}")


def line_start(text: str, place: int) -> int:
    while place and text[place - 1] not in _BREAKS:
        place -= 1
    return place


def line_end(text: str, place: int) -> int:
    while place < len(text) and text[place] not in _BREAKS:
        place += 1
    return place


def _break_at(text: str, place: int) -> str:
    return "\r\n" if text.startswith("\r\n", place) else text[place: place + 1]


def _file_break(text: str) -> str:
    return _break_at(text, line_end(text, 0)) or "\n"


def spliced(text: str, splices: Sequence[Splice]) -> str:
    for splice in sorted(splices, reverse=True):
        text = text[: splice.start] + splice.text + text[splice.end:]
    return text
