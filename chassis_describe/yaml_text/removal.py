"""Entries taken out of a mapping in place, with what separates them from others and their own line's comment."""
from __future__ import annotations

from collections.abc import Collection

from chassis_describe.errors import UsageError
from chassis_describe.yaml_text.spans import Entries, Word
from chassis_describe.yaml_text.splice import Splice, line_end, line_start, open_ended


def removals(text: str, mapping: Entries, keys: Collection[str], name: str) -> list[Splice]:
    """What takes entries out of a mapping that keeps some. Raises UsageError where lines can't be taken out one by one."""
    gone = [isinstance(key, Word) and key.text in keys for key, _ in mapping.entries]
    if all(gone):
        raise UsageError(f"nothing would be left of `{name}`")
    return _in_flow(mapping, gone) if mapping.flow else _in_block(text, mapping, gone, name)


def _in_flow(mapping: Entries, gone: list[bool]) -> list[Splice]:
    """Each run of entries goes with the commas before it, or behind it where it comes first."""
    out: list[Splice] = []
    n = 0
    while n < len(gone):
        if not gone[n]:
            n += 1
            continue
        first = n
        while n < len(gone) and gone[n]:
            n += 1
        if first:
            out.append(Splice(mapping.entries[first - 1][1].end, mapping.entries[n - 1][1].end, ""))
        else:
            out.append(Splice(mapping.entries[first][0].start, mapping.entries[n][0].start, ""))
    return out


def _in_block(text: str, mapping: Entries, gone: list[bool], name: str) -> list[Splice]:
    """Whole lines, with the comments behind them."""
    out: list[Splice] = []
    for (key, value), goes in zip(mapping.entries, gone):
        if not goes:
            continue
        start, end = line_start(text, key.start), line_end(text, max(key.end, value.end))
        if text[start:key.start].strip(" ") or open_ended(value):
            raise UsageError(f"`{name}` is written in a way that no line can be taken from; write its keys in lines of their own")
        if text.startswith("\r\n", end):
            end += 2
        elif end < len(text):
            end += 1
        elif start:  # the file's last line has no end: the break before it goes
            start -= 2 if text.startswith("\r\n", start - 2) else 1
        out.append(Splice(start, end, ""))
    return out
