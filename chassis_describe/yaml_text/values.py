"""Values in any YAML file of the user's, found by the keys that lead to them and replaced in place.

Made for parameter files that others wrote: keys of any form (``/**``), the same key nested in itself, anchors, comments anywhere,
block and flow style, any line ends. Every byte but those of the value itself stays; what can't be done so is refused with
the reason.
"""
from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from decimal import Decimal
from typing import Union

from chassis_describe.errors import UsageError
from chassis_describe.units import shown
from chassis_describe.yaml_text.guard import changed_paths
from chassis_describe.yaml_text.nodes import decoded
from chassis_describe.yaml_text.spans import Alias, Entries, Items, Span, Word, spans
from chassis_describe.yaml_text.spelling import number_like, text_like
from chassis_describe.yaml_text.splice import Splice, spliced, word_splice

#: Keys of mappings, and numbers of entries of lists (from 0).
Path = tuple[Union[str, int], ...]
#: A float is written with a point, as ROS wants a parameter of type double; an int or a Decimal with what it needs.
Value = Union[str, bool, int, float, Decimal, Sequence["Value"]]


def tree_of(data: bytes, file: str) -> tuple[str, Span | None]:
    """The text of a file, and its values with their places in it. Raises UsageError for a file that can't be edited."""
    text = _text(data, file)
    return text, _root(text, file)


def with_values(data: bytes, file: str, values: Mapping[Path, Value], *, along: Collection[Path] = ()) -> bytes:
    """The file with these values at these paths, all of which have to be there, and nothing else changed.

    ``along``: paths that are meant to change too, because they take their values from these by an anchor. Lists are replaced
    number by number, so what stands between them stays; one that grows or shrinks does so at its end. Raises UsageError with the
    reason where a value can't be replaced in place, or something else would change with it.
    """
    text = _text(data, file)
    root = _root(text, file)
    splices = []
    for path, value in values.items():
        node = value_at(root, file, path)
        if node is None:
            raise UsageError(f"{file} has no `{words_of(path)}`")
        splices += _splices(text, node, value, f"{file}: `{words_of(path)}`")
    new = spliced(text, splices)
    meant = {tuple(map(_step, path)) for path in (*values, *along)}
    others = dict.fromkeys(words_of(path) for path in changed_paths(text, new, file)
                           if not any(path[:count] in meant for count in range(len(path) + 1)))
    if others:
        raise UsageError(f"{file}: {', '.join(f'`{words_of(p)}`' for p in values)} can't be changed alone: {', '.join(others)} "
                         "would change too, by an anchor that they share; write the value out where the alias stands")
    bom = b"\xef\xbb\xbf" if data.startswith(b"\xef\xbb\xbf") else b""
    return bom + new.encode("utf-8")


def words_of(path: Sequence[str | int]) -> str:
    """``controller_server > ros__parameters > max_x``."""
    return " > ".join(shown(str(_step(step))) for step in path)


def _step(step: str | int) -> str:
    return f"[{step}]" if isinstance(step, int) else step


def _text(data: bytes, file: str) -> str:
    _, faults = decoded(data, file)
    if faults:
        raise UsageError(f"{faults[0].where[0]}: {faults[0].message}")
    return data.decode("utf-8-sig")


def _root(text: str, file: str) -> Span | None:
    from yaml.error import YAMLError

    try:
        return spans(decoded(text, file)[0])
    except YAMLError as error:
        mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
        place = f":{mark.line + 1}:{mark.column + 1}" if mark is not None else ""
        raise UsageError(f"{file}{place}: this is not YAML: {getattr(error, 'problem', None) or error}") from None
    except ValueError as error:
        raise UsageError(f"{file}: {error}") from None


def value_at(node: Span | None, file: str, path: Path) -> Span | None:
    """The value at a path of a tree that `tree_of` has read, None where there is none. Raises UsageError where the path leads
    through an alias or a merge, whose value stands elsewhere and is others' too."""
    for depth, step in enumerate(path):
        here = words_of(path[:depth]) or "the file"
        if isinstance(node, Alias):
            raise UsageError(f"{file}: `{here}` is written as `*{node.name}`, whose values stand elsewhere; change them there")
        if isinstance(step, int):
            node = node.items[step] if isinstance(node, Items) and 0 <= step < len(node.items) else None
        elif isinstance(node, Entries):
            same = [value for key, value in node.entries if isinstance(key, Word) and key.text == step]
            if len(same) > 1:
                raise UsageError(f"{file}: `{words_of(path[: depth + 1])}` stands {len(same)} times; keep one of them")
            if not same and any(isinstance(k, Word) and k.text == "<<" and not k.quote for k, _ in node.entries):
                raise UsageError(f"{file}: `{words_of(path[: depth + 1])}` does not stand there itself, and `{here}` takes values "
                                 "over by `<<`; write it out there")
            node = same[0] if same else None
        else:
            node = None
        if node is None:
            return None
    return node


def _splices(text: str, node: Span, value: Value, where: str) -> list[Splice]:
    if isinstance(node, Alias):
        raise UsageError(f"{where} is written as `*{node.name}`; write the value out there")
    if isinstance(node, Word):
        if not isinstance(value, (str, bool, int, float, Decimal)):
            raise UsageError(f"{where} is one value, and a list is due; write it as a list")
        return [_word(text, node, _spelt(node, value, where), where)]
    if isinstance(node, Items) and not isinstance(value, (str, bool, int, float, Decimal)):
        tail = [_resized(text, node, value, where)] if len(node.items) != len(value) else []
        return [s for item, inner in zip(node.items, value) for s in _splices(text, item, inner, where)] + tail
    raise UsageError(f"{where} is {'a mapping' if isinstance(node, Entries) else 'a list'}, where a single value is due")


def _resized(text: str, node: Items, value: Sequence[Value], where: str) -> Splice:
    """The end of a list that is too long or too short: what is too much goes, what is missing is put behind the last as the
    others stand behind one another."""
    due = f"{where} is a list of {len(node.items)}, and {len(value)} are due; write a list of {len(value)}"
    if len(node.items) < 2 or len(value) < 1 or not all(isinstance(item, Word) for item in node.items):
        raise UsageError(due)
    if len(value) < len(node.items):
        start, end = node.items[len(value) - 1].end, node.items[-1].end
        if "#" in text[start:end]:
            raise UsageError(f"{due} (there are comments among those that would go)")
        return Splice(start, end, "")
    between, last = text[node.items[-2].end: node.items[-1].start], node.items[-1]
    if "#" in between:
        if not node.flow:
            raise UsageError(f"{due} (there are comments between its last entries)")
        between = ", "
    assert isinstance(last, Word)
    more = [_spelt(last._replace(anchor=None), inner, where) for inner in value[len(node.items):]
            if isinstance(inner, (str, bool, int, float, Decimal))]
    return Splice(last.end, last.end, "".join(between + words for words in more))


def _word(text: str, node: Word, words: str, where: str) -> Splice:
    if node.start == node.end:  # nothing stands behind the colon or the dash
        before = text[node.start - 1: node.start]
        return Splice(node.start, node.end, words if before in (" ", "\t", "") else f" {words}")
    if node.quote in ("|", ">"):
        raise UsageError(f"{where} is a block of text (`{node.quote}`); write it on the line of its key")
    return Splice(node.start, node.end, words)


def _spelt(node: Word, value: str | bool | float | Decimal, where: str) -> str:
    """The value as the one before was spelt; the same bytes where it says the same already."""
    if isinstance(value, str):
        return text_like(node.quote, value)
    if isinstance(value, bool):
        words = "true" if value else "false"
    elif isinstance(value, float):
        if not math.isfinite(value):
            raise UsageError(f"{where}: {value} is no number to write")
        words = number_like(node.text, Decimal(repr(value)))
        if "." not in words and "e" not in words.lower():
            words += ".0"
    else:
        words = number_like(node.text, Decimal(value))
    return words if not node.quote else word_splice(node, words, where).text or f"{node.quote}{words}{node.quote}"
