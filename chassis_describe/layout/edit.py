"""Changing one placement in the text of a layout, every other byte left as it is.

Values are replaced where they stand, number by number; keys that are not there are put in after the key that they
belong behind, in the style of the mapping. What would also change something else (a value behind an anchor that others
share) is refused with their names.
"""
from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import NamedTuple

from chassis_describe.layout.edit_guard import changed_paths
from chassis_describe.layout.edit_spans import Alias, Entries, Items, Span, Word, spans
from chassis_describe.layout.edit_words import holes_text, number_like, number_text, pair_text, unit_like
from chassis_describe.layout.nodes import decoded
from chassis_describe.source import UsageError

#: A new key comes after the last of these that stands already.
_ORDER = ("<<", "mirror_of", "part", "on", "face", "at", "screws", "turn", "points")
_BREAKS = "\r\n\x85\u2028\u2029"


@dataclass(frozen=True, kw_only=True)
class Wants:
    """What a placement is to say: only what is not None is written.

    ``at`` in holes, ``screws`` in the order in which they stand, ``turn`` in degrees, the others words.
    """

    at: tuple[Decimal, Decimal] | None = None
    screws: tuple[tuple[int, int], ...] | None = None
    turn: Decimal | None = None
    points: str | None = None
    on: str | None = None
    face: str | None = None

    def names(self) -> tuple[str, ...]:
        """The keys that are to be written, in the order of a placement."""
        return tuple(k for k in ("on", "face", "at", "screws", "turn", "points") if getattr(self, k) is not None)


class Splice(NamedTuple):
    """Characters ``start`` to ``end`` of a text, and what stands there instead."""

    start: int
    end: int
    text: str


def edited(data: bytes, file: str, name: str, wants: Wants) -> bytes:
    """The file with the placement ``name`` changed. Raises UsageError with the reason where that can't be done."""
    text, bom = _body(data, file)
    placement = own_placement(text, file, name)
    splices = _splices(text, placement, name, wants)
    new = _spliced(text, splices)
    _only_intended(text, new, file, name, wants)
    return (bom + new).encode("utf-8")


def written_keys(data: bytes, file: str, name: str) -> tuple[str, ...] | None:
    """The keys that stand in a file for a placement, ``<<`` among them; None where the file has no such placement."""
    text, _ = _body(data, file)
    found = _entry(text, name)
    if found is None:
        return None
    return tuple(k.text for k, _ in found.entries if isinstance(k, Word)) if isinstance(found, Entries) else ()


def _body(data: bytes, file: str) -> tuple[str, str]:
    text = data.decode("utf-8")
    bom = "\ufeff" if text.startswith("\ufeff") else ""
    return text[len(bom):], bom


def _parsed(text: str) -> Span | None:
    # The reader takes tabs before comments as spaces, one for one: places stay where they are.
    return spans(decoded(text, "")[0])


def _entry(text: str, name: str) -> Span | None:
    root = _parsed(text)
    section = root.find("placements") if isinstance(root, Entries) else None
    found = section[1].find(name) if section is not None and isinstance(section[1], Entries) else None
    return found[1] if found is not None else None


def own_placement(text: str, file: str, name: str) -> Entries:
    """The mapping of a placement as it stands in this text. Raises UsageError where it stands elsewhere."""
    found = _entry(text, name)
    if found is None:
        raise UsageError(f"`{name}` does not stand in {file} under a `placements:` of its own, but comes in by an alias or a "
                         "merge (`<<`); write it out to move it")
    if isinstance(found, Alias):
        raise UsageError(f"`{name}` is written as `*{found.name}`: moving it would move every other `*{found.name}` too; "
                         f"write `{name}: {{<<: *{found.name}}}` and it can be moved by itself")
    if not isinstance(found, Entries):
        raise UsageError(f"`{name}` in {file} is not a mapping")
    return found


# ------------------------------------------------------------------------------------------------------------- splices
def _splices(text: str, placement: Entries, name: str, wants: Wants) -> list[Splice]:
    out: list[Splice] = []
    added: list[tuple[str, str]] = []
    for key in wants.names():
        value = getattr(wants, key)
        found = placement.find(key)
        rival = placement.find("points" if key == "turn" else "turn" if key == "points" else "")
        if found is not None:
            out += _value(found[1], value, key, name)
        elif rival is not None:
            out.append(_word(rival[0], key, name))
            out += _whole(rival[1], _fresh(value), name)
        else:
            added.append((key, _fresh(value)))
    # Each new key is put behind its own place; those with one place follow one another.
    places: dict[int, list[tuple[str, str]]] = {}
    for key, words in added:
        places.setdefault(_behind(placement, key), []).append((key, words))
    for place, entries in places.items():
        out.append(_insertion(text, placement, place, entries, name))
    return sorted(out)


def _fresh(value: object) -> str:
    """A value that stands where none stood before."""
    if isinstance(value, Decimal):
        return number_text(value)
    if isinstance(value, tuple):
        return holes_text(value) if isinstance(value[0], tuple) else pair_text(value)
    return str(value)


def _value(node: Span, value: object, key: str, name: str) -> list[Splice]:
    """A value in place of another; lists number by number, so that what stands between them stays."""
    if isinstance(node, Word) and isinstance(value, Decimal):
        return [_word(node, unit_like(node.text, value) if key == "turn" else number_like(node.text, value), name)]
    if isinstance(node, Items) and isinstance(value, tuple) and len(node.items) == len(value):
        return [s for item, inner in zip(node.items, value)
                for s in _value(item, Decimal(inner) if isinstance(inner, int) else inner, key, name)]
    if isinstance(node, (Word, Alias)):
        return _whole(node, _fresh(value), name)
    raise UsageError(f"`{key}` of `{name}` is written in a way that can't be changed in place; write it as "
                     f"`{key}: {_fresh(value)}`")


def _whole(node: Span, words: str, name: str) -> list[Splice]:
    """Replace a scalar, or the alias that stood for a value: from now on this placement has its own."""
    if isinstance(node, Word):
        return [_word(node, words, name)]
    return [Splice(node.start, node.end, words)]


def _word(node: Word, words: str, name: str) -> Splice:
    if node.quote in ("|", ">"):
        raise UsageError(f"`{name}` has a value written as a block of text (`{node.quote}`), which can't be changed in "
                         f"place; write `{words}` on the line of its key")
    if node.text == words:
        return Splice(node.start, node.start, "")  # it says so already
    return Splice(node.start, node.end, f"{node.quote}{words}{node.quote}")


def _behind(placement: Entries, key: str) -> int:
    """The number of the entry that a new key comes after; -1: it comes first."""
    before = _ORDER[: _ORDER.index(key)]
    best = -1
    for number, (word, value) in enumerate(placement.entries):
        if isinstance(word, Word) and word.text in before and not _open_ended(value):
            best = number
    return best


def _open_ended(node: Span) -> bool:
    """Whether a value ends in a block of text, whose end is not on its last line."""
    if isinstance(node, Word):
        return node.quote in ("|", ">")
    if isinstance(node, Alias) or node.flow:
        return False
    last = node.entries[-1][1] if isinstance(node, Entries) else node.items[-1]
    return _open_ended(last)


def _insertion(text: str, placement: Entries, place: int, entries: Sequence[tuple[str, str]], name: str) -> Splice:
    first = placement.entries[max(place, 0)][0]
    quote = first.quote if isinstance(first, Word) and first.quote in ("'", '"') else ""
    words = [f"{quote}{key}{quote}: {value}" for key, value in entries]
    if placement.flow:
        if place < 0:
            return Splice(first.start, first.start, "".join(f"{w}, " for w in words))
        end = placement.entries[place][1].end
        return Splice(end, end, "".join(f", {w}" for w in words))
    start = _line_start(text, first.start)
    indent = text[start: first.start]
    if indent.strip(" "):
        raise UsageError(f"`{name}` is written in a way that no line can be added to; write its keys in lines of their own")
    if place < 0:
        line_end = _break_at(text, _line_end(text, first.start)) or _file_break(text)
        return Splice(start, start, "".join(f"{indent}{w}{line_end}" for w in words))
    end = _line_end(text, placement.entries[place][1].end)
    line_end = _break_at(text, end) or _file_break(text)
    return Splice(end, end, "".join(f"{line_end}{indent}{w}" for w in words))


def _line_start(text: str, place: int) -> int:
    while place and text[place - 1] not in _BREAKS:
        place -= 1
    return place


def _line_end(text: str, place: int) -> int:
    while place < len(text) and text[place] not in _BREAKS:
        place += 1
    return place


def _break_at(text: str, place: int) -> str:
    return "\r\n" if text.startswith("\r\n", place) else text[place: place + 1]


def _file_break(text: str) -> str:
    return _break_at(text, _line_end(text, 0)) or "\n"


def _spliced(text: str, splices: Sequence[Splice]) -> str:
    for splice in sorted(splices, reverse=True):
        text = text[: splice.start] + splice.text + text[splice.end:]
    return text


# --------------------------------------------------------------------------------------------------------------- guard
def _only_intended(old: str, new: str, file: str, name: str, wants: Wants) -> None:
    """Refuse when the new text says something else anywhere but in the keys that were to change."""
    meant = {("placements", name, key) for key in (*wants.names(), "turn", "points")}
    others: Mapping[str, None] = {
        " > ".join(path[:2]): None for path in changed_paths(old, new, file)
        if path[:3] not in meant}
    if others:
        raise UsageError(f"moving `{name}` would change {', '.join(others)} too, by an anchor that they share; give "
                         f"`{name}` values of its own first")
